"""Symbolic elimination: from the pattern of a network to the integer tape that the kernel follows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Tape:
    """order: node at each elimination place. pos (n, n): index of an entry among the values, -1 where none; in elimination order.
    arrays: what the kernel takes, see kernel._factor and kernel._solve."""

    order: tuple[int, ...]
    pos: Ints
    arrays: tuple[Ints, ...]


def make_tape(size: int, pairs: set[tuple[int, int]]) -> Tape:
    """Tape for a pattern symmetric in structure, by least degree; pairs are (i, j) node numbers with i != j."""
    near: list[set[int]] = [set() for _ in range(size)]
    for i, j in pairs:
        near[i].add(j)
        near[j].add(i)
    alive, order = set(range(size)), []
    fill = [set(s) for s in near]
    while alive:
        k = min(alive, key=lambda i: (len(fill[i] & alive), i))
        alive.discard(k)
        order.append(k)
        rest = fill[k] & alive
        for i in rest:
            fill[i] |= rest - {i}
    place = {node: i for i, node in enumerate(order)}
    entries: set[tuple[int, int]] = {(i, i) for i in range(size)}
    for node, others in enumerate(fill):
        for other in others:
            entries |= {(place[node], place[other]), (place[other], place[node])}
    return Tape(tuple(order), *_arrays(size, entries))


def _arrays(size: int, entries: set[tuple[int, int]]) -> tuple[Ints, tuple[Ints, ...]]:
    pos = np.full((size, size), -1, np.int64)
    for k, (i, j) in enumerate(sorted(entries)):
        pos[i, j] = k
    piv, div, row, col, ptr, tgt, src = [], [], [], [], [0], [], []
    for k in range(size):
        right = [j for j in range(k + 1, size) if pos[k, j] >= 0]
        for i in range(k + 1, size):
            if pos[i, k] < 0:
                continue
            piv.append(pos[k, k])
            div.append(pos[i, k])
            row.append(i)
            col.append(k)
            for j in right:
                tgt.append(pos[i, j])
                src.append(pos[k, j])
            ptr.append(len(tgt))
    uptr, uidx, ucol = [0], [], []
    for k in range(size):
        for j in range(k + 1, size):
            if pos[k, j] >= 0:
                uidx.append(pos[k, j])
                ucol.append(j)
        uptr.append(len(uidx))
    diag = [pos[k, k] for k in range(size)]
    arrays = tuple(np.asarray(x, np.int64) for x in (piv, div, row, col, ptr, tgt, src, uptr, uidx, ucol, diag))
    return pos, arrays
