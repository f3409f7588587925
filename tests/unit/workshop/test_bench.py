from __future__ import annotations

import threading
import time
from functools import partial

import pytest

from strikeline.workshop.bench import N_WAITING, N_WORKERS, Bench


def test_results_come_back_under_their_numbers() -> None:
    done: dict[int, int] = {}
    with Bench(done) as bench:
        for number in range(50):
            bench.take(number, partial(pow, number, 2))
    assert done == {number: number * number for number in range(50)}


def test_no_more_calls_are_held_than_the_queue_allows() -> None:
    gate, begun = threading.Event(), []
    with Bench[bool]({}) as bench:

        def fill() -> None:
            for number in range(20):
                bench.take(number, gate.wait)
                begun.append(number)

        feeder = threading.Thread(target=fill)
        feeder.start()
        deadline = time.monotonic() + 5.0
        while len(begun) < N_WORKERS + N_WAITING and time.monotonic() < deadline:
            time.sleep(0.001)
        time.sleep(0.05)
        held = len(begun)
        gate.set()
        feeder.join()
    assert held == N_WORKERS + N_WAITING


def test_an_error_in_a_call_reaches_the_caller() -> None:
    def fail() -> int:
        raise ValueError("a broken string")

    with pytest.raises(ValueError, match="a broken string"), Bench[int]({}) as bench:
        bench.take(0, fail)


def test_an_interruption_keeps_what_was_finished_and_drops_what_had_not_begun() -> None:
    done: dict[int, int] = {}
    begun: list[int] = []

    def call(number: int) -> int:
        begun.append(number)
        time.sleep(0.02)
        return number

    def stop_in_the_middle() -> None:
        with Bench(done) as bench:
            for number in range(N_WORKERS + N_WAITING):
                bench.take(number, partial(call, number))
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        stop_in_the_middle()
    assert sorted(done) == sorted(begun)
    assert len(begun) < N_WORKERS + N_WAITING
