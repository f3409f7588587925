from __future__ import annotations

import math
import os
import subprocess
import sys
import textwrap
import time
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path

import pytest

from strikeline.measured import Measured
from strikeline.workshop.second_pair import SecondPair


def test_calls_run_in_another_process_and_bring_their_results() -> None:
    with SecondPair() as second:
        assert second.run(os.getpid) != os.getpid()
        assert second.run(partial(math.hypot, 3.0, 4.0)) == 5.0
        assert second.run(partial(Measured, 2.0, 0.1)) == Measured(2.0, 0.1)


def test_an_error_comes_back_as_the_same_error() -> None:
    with SecondPair() as second:
        with pytest.raises(ValueError, match=r"math domain error|nonnegative"):
            second.run(partial(math.sqrt, -1.0))
        assert second.is_there


def test_what_is_printed_over_there_does_not_fall_among_the_answers() -> None:
    with SecondPair() as second:
        second.run(partial(print, "hello", flush=True))
        assert second.run(partial(math.hypot, 3.0, 4.0)) == 5.0


def test_when_the_other_process_dies_calls_run_here() -> None:
    with SecondPair() as second:
        away = second.run(os.getpid)
        os.kill(away, 9)
        assert second.run(os.getpid) == os.getpid()
        assert not second.is_there


def test_two_threads_have_calls_there_and_each_gets_its_own_answer() -> None:
    with SecondPair() as second, ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(lambda n: second.run(partial(pow, n, 2)), range(200)))
        assert answers == [n * n for n in range(200)]
        assert second.is_there


def test_when_the_other_process_dies_a_call_that_waited_there_runs_here_too() -> None:
    with SecondPair() as second, ThreadPoolExecutor(2) as pool:
        away = second.run(os.getpid)
        first = pool.submit(second.run, partial(time.sleep, 0.2))
        waiting = pool.submit(second.run, os.getpid)
        os.kill(away, 9)
        assert first.result(timeout=10.0) is None
        assert waiting.result(timeout=10.0) == os.getpid()


def test_what_cannot_be_sent_over_runs_here() -> None:
    with SecondPair() as second:
        assert second.run(lambda: os.getpid()) == os.getpid()  # noqa: PLW0108  (a lambda cannot be pickled)


def test_after_leaving_nothing_is_left_behind() -> None:
    with SecondPair() as second:
        away = second.run(os.getpid)
    assert not Path(f"/proc/{away}").exists()


def test_a_script_without_a_guarded_main_part_is_not_run_again(tmp_path: Path) -> None:
    script = tmp_path / "three_lines.py"
    script.write_text(
        textwrap.dedent(
            """
            import os
            from strikeline.workshop.second_pair import SecondPair
            print("started")
            with SecondPair() as second:
                print("away" if second.run(os.getpid) != os.getpid() else "here")
            """
        )
    )
    done = subprocess.run([sys.executable, script], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["started", "away"]
