"""Batches over several threads: the compiled loops run without Python's lock, each taking the next piece of work from one queue."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray


class Batch(Protocol):
    """A compiled loop over what queue gives."""

    def __call__(self, queue: NDArray[np.int64], work: Any, /, *arrays: Any) -> None: ...


def spread(batch: Batch, work: Any, variants: int, *arrays: Any) -> None:
    """Run a loop over pieces of work (how many, or which), which hold so many variants, on as many threads as numba is allowed."""
    from numba import get_num_threads

    from halfsplit.solver.compiled.lanes import WIDTH

    queue = np.zeros(1, np.int64)
    threads = min(get_num_threads(), -(-variants // (2 * WIDTH)))
    if threads <= 1:
        batch(queue, work, *arrays)
        return
    with ThreadPoolExecutor(threads) as pool:
        for one in [pool.submit(batch, queue, work, *arrays) for _ in range(threads)]:
            one.result()


def groups(variants: int) -> int:
    """How many groups of variants side by side."""
    from halfsplit.solver.compiled.lanes import WIDTH  # compiled code is loaded only when something is to be solved

    return -(-variants // WIDTH)
