"""The tool's own table, falsified: what a model that is one per cent off does to its odds. Only in this process, and only while asked for.

Every cell that a row moves is multiplied by (1 + 0.012 n) and, where it is volts, gets 20 mV n more; two moved cells in a hundred are
a quarter off. Cells that a row does not move share one error a column. n is normal, fixed by seed, column and row.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from typing import Any

import numpy as np

from halfsplit.diagnosis import build
from halfsplit.diagnosis.outlook import Outlook

GAIN, VOLTS, SPOILT, BY = 0.012, 0.020, 0.02, 0.25
VOLT_FUNCTIONS = frozenset({"v", "ac", "max", "min"})


def falsified(outlook: Outlook, seed: int) -> Outlook:
    """The same table with its errors. Row 0 is the healthy one; infinite and unknown cells stay as they are."""
    value = np.array(outlook.value)
    names = [zlib.crc32(f"{r.part} {r.way}".encode()) for r in outlook.rows]
    for j, column in enumerate(outlook.columns):
        healthy = outlook.value[0, j]
        with np.errstate(invalid="ignore"):
            moved = ~np.array([np.array_equal(outlook.value[r, j], healthy, equal_nan=True) for r in range(len(names))])
        key = zlib.crc32(column.key.encode())
        shared = np.random.default_rng([seed, key]).standard_normal(2)
        floor = VOLTS if column.function in VOLT_FUNCTIONS else 0.0
        value[~moved, j] = healthy * (1.0 + GAIN * shared[0]) + floor * shared[1]
        for r in np.flatnonzero(moved):
            rng = np.random.default_rng([seed, key, names[r]])
            gain, shift = rng.standard_normal(2)
            spoil = 1.0 + BY * (1.0 if rng.random() < 0.5 else -1.0) if rng.random() < SPOILT else 1.0
            value[r, j] = outlook.value[r, j] * (1.0 + GAIN * gain) * spoil + floor * shift
    return replace(outlook, value=value)


@contextmanager
def perturbed(seed: int) -> Iterator[None]:
    """The job's table comes out falsified within this block."""
    plain = build.join

    def join(*args: Any, **more: Any) -> Outlook:
        return falsified(plain(*args, **more), seed)

    build.join = join
    try:
        yield
    finally:
        build.join = plain
