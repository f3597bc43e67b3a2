"""Faults that come and go: every fault stands twice in the outlook, as always there and as coming and going.

A reading taken while the set worked ("ok") shows a fault that comes and goes as a healthy set would; one taken while it failed
("bad") shows it as it is; one of which nobody said how the set was shows either, the same throughout the readings of the dead
set and throughout those of the set that is on. So a good reading while the set works clears what would always be there, and
nothing that comes and goes. Nothing is solved for this: the values of both are in the outlook already.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import product

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.outlook import Column, Outlook, Row
from halfsplit.diagnosis.posterior import healthy_row
from halfsplit.diagnosis.suspects import Suspect
from halfsplit.errors import InputError
from halfsplit.parts import family_of
from halfsplit.parts.base import Array

OK, BAD = "ok", "bad"
NOW_AND_THEN = " now and then"
SHORTS = 0.1  # a short or a weld seldom lets go again: share against that of an open of the same part (bench estimate)
# What a mark says by itself (bench estimates): a set that works while it is looked at has nothing that is always there, unless
# nobody has yet asked it for what it can't do; and one seen to fail has something wrong.
STEADY_ALL_THE_SAME = 0.2  # owners say "sometimes" of what is always there, but shows only at times
WORKS_ALL_THE_SAME = 0.1
FAILS_ALL_THE_SAME = 0.02

Bools = NDArray[np.bool_]


def shares(suspects: Sequence[Suspect]) -> Array:
    """(rows,) of the faults of each row that of it comes and goes: moved or warmed (family), less for shorts. 0 for the healthy row."""
    out = np.zeros(len(suspects))
    for i, suspect in enumerate(suspects):
        if suspect.part is not None and suspect.way is not None:
            family = family_of(suspect.part)
            share = 1.0 - (1.0 - family.shaken) * (1.0 - family.heated)
            out[i] = share * (SHORTS if suspect.way.kind == "short" else 1.0)
    return out


@dataclass(frozen=True)
class Spread:
    """An outlook with its faults that come and go beside those that are always there.

    origin (R,): the plain row that each row is made of; the first ones are the plain rows themselves. comes (R,): it comes and goes.
    plain: how many columns stand for readings taken as the set is now; those after them were read under another mark.
    """

    outlook: Outlook
    origin: NDArray[np.int64]
    comes: Bools
    plain: int

    def together(self, odds: Array) -> Array:
        """(plain rows,) odds of each fault, always there or not; odds (R,)."""
        count = int(self.origin.max()) + 1
        return np.asarray(np.bincount(self.origin, weights=odds[: len(self.origin)], minlength=count), dtype=np.float64)

    def coming(self, odds: Array) -> Array:
        """(plain rows,) odds that it is there and comes and goes; odds (R,)."""
        return self.together(odds[: len(self.origin)] * self.comes)


def spread(
    outlook: Outlook, share: Array, mark: str | None, read: Sequence[tuple[int, str | None]], *, said: bool = False
) -> tuple[Spread, tuple[int, ...]]:
    """Put the rows that come and go beside the plain ones.

    Parameters
    ----------
    outlook : of single faults, with a healthy row. share (rows,): of each row's prior that comes and goes.
    mark : "ok", "bad" or None, how the set is now: the columns stand for readings taken so. read: (column, its mark) of each
        reading taken. said: the complaint says that it comes and goes; the odds that anything is wrong stay what they were.

    Returns the spread and, for each reading, its column there. Raises InputError without a healthy row, or with more than singles.
    """
    healthy = healthy_row(outlook.rows)
    if healthy is None or outlook.singles != len(outlook.rows):
        raise InputError('faults that come and go need an outlook of single faults with the row "nothing wrong"')
    others = tuple(dict.fromkeys((c, m) for c, m in read if m != mark))
    taken = [(j, mark) for j in range(len(outlook.columns))] + list(others)
    columns = tuple(
        _marked(outlook.columns[c], m if m != mark else None, k >= len(outlook.columns)) for k, (c, m) in enumerate(taken)
    )
    index = [c for c, _ in taken]
    some = np.flatnonzero(share > 0)
    unsaid = _unsaid(outlook.columns, mark, read)
    shown = [
        _shown(outlook.columns, taken, dict(zip(unsaid, said, strict=True)))
        for said in product((False, True), repeat=len(unsaid))
    ]
    origin = np.concatenate([np.arange(len(outlook.rows)), *[some for _ in shown]]).astype(np.int64)
    value, pulsing = outlook.value[:, index], outlook.pulsing[:, index]
    copies = [np.where(own[None, :, None], value[some], value[healthy][None]) for own in shown]
    moving = [np.where(own[None, :], pulsing[some], pulsing[healthy][None]) for own in shown]
    always, comes = _split(outlook, share, STEADY_ALL_THE_SAME if said else 1.0, healthy)
    rows = [_part_of(row, float(s), "") for row, s in zip(outlook.rows, always, strict=True)]
    rows += [_part_of(outlook.rows[i], float(comes[i]) / len(shown), NOW_AND_THEN) for _ in shown for i in some]
    wide = replace(
        outlook,
        rows=tuple(rows),
        columns=columns,
        value=np.concatenate([value, *copies]),
        pulsing=np.concatenate([pulsing, *moving]),
        kills=None if outlook.kills is None else outlook.kills[np.ix_(origin, origin)],
    )
    copied = np.arange(len(origin)) >= len(outlook.rows)
    place = {pair: len(outlook.columns) + k for k, pair in enumerate(others)}
    return Spread(wide, origin, copied, len(outlook.columns)), tuple(place.get((c, m), c) for c, m in read)


def _split(outlook: Outlook, share: Array, steady: float, healthy: int) -> tuple[Array, Array]:
    """(rows,) twice: what of each prior is always there, and what comes and goes. steady: how likely what was said is of a fault that
    is always there, against one that comes and goes; the faults together keep their odds."""
    prior = np.array([row.prior for row in outlook.rows])
    faulty = np.arange(len(prior)) != healthy
    always = (1.0 - share) * steady
    weight = prior * (always + share)
    scale = float(prior[faulty].sum() / max(float(weight[faulty].sum()), 1e-300))
    return np.where(faulty, always * scale, 1.0), share * scale


def _unsaid(columns: Sequence[Column], mark: str | None, read: Sequence[tuple[int, str | None]]) -> list[bool]:
    """Dead (False) or on (True): where readings were taken, or would be now, without a word on how the set was."""
    return [False, True] if mark is None else sorted({columns[c].live for c, m in read if m is None})


def _shown(columns: Sequence[Column], taken: Sequence[tuple[int, str | None]], said: dict[bool, bool]) -> Bools:
    """(columns,) where a fault that comes and goes is there; said: dead or on -> whether it is while nobody says."""
    return np.array([m == BAD or (m is None and said.get(columns[c].live, False)) for c, m in taken], dtype=np.bool_)


def _marked(column: Column, mark: str | None, other: bool) -> Column:
    """A column of another mark has a key of its own; the reading is the same."""
    return replace(column, key=f"{column.key}|{mark or 'unsaid'}") if other else column


def _part_of(row: Row, share: float, tail: str) -> Row:
    unheard = None if row.unheard is None else row.unheard * share
    return replace(row, way=row.way + tail, prior=row.prior * share, unheard=unheard)


def mark_odds(made: Spread, marks: Collection[str]) -> Array:
    """(R,) log odds of each row from what the marks say by themselves: ok against what is always there, bad against nothing wrong."""
    out = np.zeros(len(made.origin))
    healthy = healthy_row(made.outlook.rows)
    if OK in marks:
        out[~made.comes] = np.log(WORKS_ALL_THE_SAME)
        out[healthy] = 0.0
    if BAD in marks:
        out[healthy] += np.log(FAILS_ALL_THE_SAME)
    return out


def while_failing(made: Spread, columns: Sequence[int]) -> Outlook:
    """The same rows with these columns only, as they will show the moment the fault is there."""
    at = np.ix_(made.origin, np.asarray(columns, dtype=np.int64))
    picked = tuple(made.outlook.columns[c] for c in columns)
    return Outlook(made.outlook.rows, picked, made.outlook.value[at], made.outlook.pulsing[at])
