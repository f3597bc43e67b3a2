"""Which columns tell one and the same thing: the same places read again the other way round, or after a plug was pulled that changes nothing."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.columns import ALONE
from halfsplit.diagnosis.outlook import Column, Outlook
from halfsplit.diagnosis.scale import Array, scale_of

EITHER_WAY = frozenset({"r", "c", "esr", "ac"})  # functions whose leads may be swapped in a circuit without junctions
SAME = 0.02  # on the scale: means of a row this near are one prediction

Fact = tuple[str, Collection[str], str, str]


def fact_of(column: Column) -> Fact:
    """What a column is about: function, places, the part that is read out of circuit, and the state while powered. How the
    drawing is off there is shared by all columns of one fact."""
    places: Collection[str] = (column.red, column.black)
    alone = (column.part or "") if column.state.startswith(ALONE) else ""
    live = column.state if column.live else ""
    if column.function == "every":
        return (column.function, (), "", "")  # wherever it is watched, and whatever is plugged in: it is the chip that is drawn too slow
    return (column.function, frozenset(places) if column.function in EITHER_WAY else places, alone, live)


def numbered(columns: Sequence[Column]) -> NDArray[np.int64]:
    """(n,) a number for each column; columns of one fact have the same."""
    seen: dict[Fact, int] = {}
    return np.array([seen.setdefault(fact_of(c), len(seen)) for c in columns], dtype=np.int64)


def fresh(outlook: Outlook, rows: Sequence[int] | NDArray[np.int64], columns: Sequence[int], known: Sequence[int]) -> list[int]:
    """Columns that are not one fact, with one prediction in each of these rows, with a known column or an earlier one of them."""
    at = np.asarray(rows, dtype=np.int64)
    every = [*known, *columns]
    facts = [fact_of(outlook.columns[c]) for c in every]
    times = Counter(facts)
    have: dict[Fact, list[Array]] = {}
    out = []
    for k, (c, fact) in enumerate(zip(every, facts, strict=True)):
        others = have.setdefault(fact, [])
        means = _means(outlook, at, c) if times[fact] > 1 else np.zeros(0)  # alone of its fact: nothing to compare
        if k < len(known):
            others.append(means)
        elif not any(_one(means, x) for x in others):
            out.append(c)
            others.append(means)
    return out


def _means(outlook: Outlook, rows: NDArray[np.int64], column: int) -> Array:
    """(rows,) mean on the scale over the draws that show a number; inf where most show OL, NaN where nothing can be said."""
    x = outlook.value[rows, column]
    finite = np.isfinite(x)
    z = np.where(finite, scale_of(outlook.columns[column]).forward(np.where(finite, x, 0.0)), 0.0)
    count = finite.sum(axis=1)
    mean = z.sum(axis=1) / np.maximum(count, 1)
    return np.asarray(np.where(2 * count >= x.shape[1], mean, np.where(np.isinf(x).any(axis=1), np.inf, np.nan)))


def _one(a: Array, b: Array) -> bool:
    with np.errstate(invalid="ignore"):
        near = np.abs(a - b) <= SAME
    return bool((near | (a == b) | (np.isnan(a) & np.isnan(b))).all())
