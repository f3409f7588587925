"""A bench with two places: calls go out in order, wait in a short queue, and come back by number."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor
from queue import SimpleQueue
from types import TracebackType
from typing import Final, Generic, Self, TypeVar

from strikeline.workshop.second_pair import SecondPair

N_WORKERS: Final = 2
"""Two, for the two cores of a small laptop: this process and a second pair of hands."""
N_WAITING: Final = 4
"""Calls that may wait: each holds one strike of up to 12 s, so the queue bounds the memory."""

R = TypeVar("R")


class Bench(Generic[R]):
    """Runs calls in two places at once while the caller's thread goes on reading.

    Leaving the ``with`` block normally waits for every call; leaving it by an exception drops what has not begun and
    keeps the results of what was finished.

    Parameters
    ----------
    done : dict of int to R
        Where results go, by the number given to `take`.
    second : SecondPair, optional
        The second place, where the next call already waits; without it both are threads of this process.
    tell : callable, optional
        Called from the caller's thread as ``tell(n_done)`` when a result has come back.
    """

    def __init__(
        self, done: dict[int, R], *, second: SecondPair | None = None, tell: Callable[[int], None] | None = None
    ) -> None:
        self.done = done
        places = [None] * N_WORKERS if second is None else [second, None, second]
        self._places: SimpleQueue[SecondPair | None] = SimpleQueue()
        for place in places:
            self._places.put(place)
        self._tell = tell
        self._most = len(places) + N_WAITING
        self._pool = ThreadPoolExecutor(len(places), thread_name_prefix="bench")
        self._out: deque[tuple[int, Future[R]]] = deque()

    def take(self, number: int, call: Callable[[], R]) -> None:
        """Hand in one call; waits while the queue is full. Raises what an earlier call raised."""
        while len(self._out) >= self._most:
            self._collect()
        self._out.append((number, self._pool.submit(self._run, call)))

    def _run(self, call: Callable[[], R]) -> R:
        place = self._places.get()
        try:
            return call() if place is None else place.run(call)
        finally:
            self._places.put(place)

    def finish(self) -> None:
        """Wait for every call."""
        while self._out:
            self._collect()

    def _collect(self) -> None:
        number, future = self._out[0]
        self.done[number] = future.result()
        self._out.popleft()
        if self._tell is not None:
            self._tell(len(self.done))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if kind is None:
            self.finish()
            self._pool.shutdown()
            return
        self._pool.shutdown(cancel_futures=True)
        for number, future in self._out:
            if not future.cancelled() and future.exception() is None:
                self.done[number] = future.result()
