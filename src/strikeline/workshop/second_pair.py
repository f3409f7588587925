"""A second pair of hands: another Python process that runs calls, so that both cores of a small machine work.

Threads do not suffice: the measures are many small array operations, and between them Python's lock lets only one
thread go on. `multiprocessing` is not used because it runs the caller's own program again in each new process, which
goes wrong for a script without a guarded main part; a library must not demand one.
"""

from __future__ import annotations

import os
import pickle
import signal
import subprocess
import sys
from collections.abc import Callable
from contextlib import suppress
from threading import Lock
from types import TracebackType
from typing import IO, Any, BinaryIO, Self, TypeVar

R = TypeVar("R")


class SecondPair:
    """Another process that runs one call at a time; without it, or if it fails, calls run right here.

    Two threads may have calls there: the second call then lies in the pipe when the first is done, and the other
    process goes on with it at once, however long the first thread must wait for Python's lock to take its result.

    Ctrl-C reaches only the process that the user sees. The helper ends by itself when that one does.
    """

    def __init__(self) -> None:
        program = f"import sys; sys.path[:] = {sys.path!r}; from {__name__} import serve; serve()"
        environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        self._process: subprocess.Popen[bytes] | None = None
        self._way_there, self._way_back = Lock(), Lock()
        with suppress(OSError):
            self._process = subprocess.Popen(  # noqa: S603  (this Python and a program of our own)
                [sys.executable, "-c", program],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env=environment,
                start_new_session=True,
            )

    @property
    def is_there(self) -> bool:
        """Whether calls go to the other process."""
        return self._process is not None

    def run(self, call: Callable[[], R]) -> R:
        """Return what the call returns, or raise what it raises.

        Parameters
        ----------
        call : callable
            A `functools.partial` of a module's function; it and its result must bear pickling.
        """
        process = self._process
        if process is None or process.stdin is None or process.stdout is None:
            return call()
        try:
            succeeded, result = self._exchange(call, process.stdin, process.stdout)
        except (OSError, ValueError, EOFError, pickle.PickleError, AttributeError, ImportError):
            self.leave()
            return call()
        if not succeeded:
            raise result
        return result  # type: ignore[no-any-return]  # what `call` returned, by the protocol of `serve`

    def _exchange(self, call: Callable[[], R], there: IO[bytes], back: IO[bytes]) -> tuple[bool, Any]:
        """Send a call and return its answer; answers come back in the order in which calls went out."""
        with self._way_there:
            pickle.dump(call, there, protocol=pickle.HIGHEST_PROTOCOL)
            there.flush()
            self._way_back.acquire()  # before the next call may go out
        try:
            return pickle.load(back)  # type: ignore[no-any-return]  # noqa: S301  (from our own process)
        finally:
            self._way_back.release()

    def leave(self) -> None:
        """Send the other process home."""
        process, self._process = self._process, None
        if process is None:
            return
        process.kill()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with suppress(OSError):
                    pipe.close()
        process.wait()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.leave()


def serve() -> None:
    """Run calls from standard input and give their results on standard output, until the input ends."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)  # whatever is printed must not fall among the answers
    with suppress(EOFError, BrokenPipeError):
        while True:
            _answer(pickle.load(sys.stdin.buffer), answers)  # noqa: S301  (from the process that started this one)


def _answer(call: Callable[[], object], answers: BinaryIO) -> None:
    try:
        answer = (True, call())
    except Exception as error:
        answer = (False, error)
    pickle.dump(answer, answers, protocol=pickle.HIGHEST_PROTOCOL)
    answers.flush()
