"""Symbolic elimination: from the pattern of a network to the integer tape that the compiled loops follow."""

from __future__ import annotations

from collections.abc import Set
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Ints = NDArray[np.int64]


@dataclass(frozen=True)
class Tape:
    """order: node at each elimination place. pos (n + 1, n + 1): index of an entry among the values, in elimination order; the place
    behind the last value where there is none or where the reference, node n, has a part in it.
    arrays: rowptr, col, diag, mid, optr, tgt, lead, see network.Net."""

    order: tuple[int, ...]
    pos: Ints
    arrays: tuple[Ints, ...]

    @property
    def count(self) -> int:
        """How many values the network has."""
        return int(self.arrays[1].shape[0])


def make_tape(size: int, pairs: Set[tuple[int, int]], late: Set[int] = frozenset()) -> Tape:
    """Tape for a pattern symmetric in structure, by least degree; pairs are (i, j) node numbers with i != j.

    late: nodes that are eliminated after all others, because what is stamped on them changes while the rest stays.
    """
    fill: list[set[int]] = [set() for _ in range(size)]
    for i, j in pairs:
        fill[i].add(j)
        fill[j].add(i)
    alive, order = set(range(size)), []
    lead = size - len(late)
    while alive:
        ready = alive - late or alive
        k = min(ready, key=lambda i: (len(fill[i] & alive), i))
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
    return Tape(tuple(order), *_arrays(size, sorted(entries), lead))


def _arrays(size: int, entries: list[tuple[int, int]], lead: int) -> tuple[Ints, tuple[Ints, ...]]:
    pos = np.full((size + 1, size + 1), len(entries), np.int64)
    at = {entry: k for k, entry in enumerate(entries)}
    for (i, j), k in at.items():
        pos[i, j] = k
    right: list[list[int]] = [[] for _ in range(size)]
    for i, j in entries:
        if j > i:
            right[i].append(j)
    target_ptr, target = [0], []
    for i, k in entries:
        if k < i:
            target += [at[i, j] for j in right[k]]
        target_ptr.append(len(target))
    rowptr = np.searchsorted([i for i, _ in entries], np.arange(size + 1))
    diag = [at[i, i] for i in range(size)]
    mid = [next(e for e in range(rowptr[i], diag[i] + 1) if entries[e][1] >= min(lead, i)) for i in range(size)]
    parts = (rowptr, [j for _, j in entries], diag, mid, target_ptr, target, [lead])
    return pos, tuple(np.asarray(x, np.int64) for x in parts)
