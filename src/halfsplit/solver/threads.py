"""Batches over several threads: the compiled loops run without Python's lock, each on some of the variants."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any, Protocol

PIECE = 8  # variants that a thread takes at a time; some cost a hundred times what others do


class Batch(Protocol):
    """A compiled loop over variants lo to hi."""

    def __call__(self, lo: int, hi: int, *arrays: Any) -> None: ...


def spread(batch: Batch, count: int, *arrays: Any) -> None:
    """Run a loop over all `count` variants, on as many threads as numba is allowed."""
    from numba import get_num_threads

    threads = min(get_num_threads(), -(-count // PIECE))
    if threads <= 1:
        batch(0, count, *arrays)
        return
    with ThreadPoolExecutor(threads) as pool:
        done = [pool.submit(batch, lo, min(lo + PIECE, count), *arrays) for lo in range(0, count, PIECE)]
        for one in done:
            one.result()
