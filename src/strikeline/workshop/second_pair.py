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
from types import TracebackType
from typing import BinaryIO, Self, TypeVar

R = TypeVar("R")


class SecondPair:
    """Another process that runs one call at a time; without it, or if it fails, calls run right here.

    Ctrl-C reaches only the process that the user sees. The helper ends by itself when that one does.
    """

    def __init__(self) -> None:
        program = f"import sys; sys.path[:] = {sys.path!r}; from {__name__} import serve; serve()"
        environment = {**os.environ, "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}
        self._process: subprocess.Popen[bytes] | None = None
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
        if self._process is None or self._process.stdin is None or self._process.stdout is None:
            return call()
        try:
            pickle.dump(call, self._process.stdin, protocol=pickle.HIGHEST_PROTOCOL)
            self._process.stdin.flush()
            succeeded, result = pickle.load(self._process.stdout)  # noqa: S301  (from our own process)
        except (OSError, EOFError, pickle.PickleError, AttributeError, ImportError):
            self.leave()
            return call()
        if not succeeded:
            raise result
        return result  # type: ignore[no-any-return]  # what `call` returned, by the protocol of `serve`

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
