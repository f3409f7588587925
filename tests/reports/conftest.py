"""One thread for the small matrices, as `strikeline.bootstrap` sets it for the program."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from threadpoolctl import threadpool_limits


@pytest.fixture(scope="package", autouse=True)
def one_thread() -> Iterator[None]:
    """Keep BLAS to one thread."""
    with threadpool_limits(limits=1, user_api="blas"):
        yield
