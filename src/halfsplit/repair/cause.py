"""After a part is convicted: what could have killed it, what to check before fitting, and whether the new one would die too.

The answer is never "cleared for power": a cause is open until somebody has cleared it, and no row of a table does that.
"""

from __future__ import annotations

import re
from collections.abc import Collection
from dataclasses import dataclass, field

from halfsplit.circuit.model import Part
from halfsplit.parts import FAMILIES
from halfsplit.repair.cause_table import ALONE_PLACES, KILLED_PLACES, TABLE, Killing

STATUS = "cause open"
POWER = "not cleared for power"
WRONG_CHECKS = (
    "what belongs there: its twin, the board's print, the arithmetic of the place",
    "what its forerunner died of, which nobody may have looked for",
    "what the wrong one has overloaded since",
)


@dataclass(frozen=True)
class Cause:
    """again: odds that the new part dies soon if the checks are skipped, least and most; None where nothing is known.

    alone: True, of a kind that dies of age by itself (a plausible root); False, of a kind that is killed (keep looking);
    None, neither is known. rows: what the dead part was taken for.
    """

    killers: tuple[str, ...]
    checks: tuple[str, ...]
    again: tuple[float, float] | None
    alone: bool | None
    rows: tuple[str, ...]
    status: str = field(default=STATUS, init=False)
    power: str = field(default=POWER, init=False)

    def text(self, ref: str) -> str:
        """Three sentences for the ticket."""
        by = (
            "A wrong part killed nothing of itself."
            if self.checks == WRONG_CHECKS
            else f"Usual killers: {', '.join(self.killers)}."
            if self.killers
            else "The table names no killer: ask what current or volts did this."
        )
        odds = "not known" if self.again is None else _percent(self.again)
        kind = {True: "It may have died of age by itself.", False: "Its kind is killed by another: keep looking.", None: ""}[
            self.alone
        ]
        check = f"Check first: {'; '.join(self.checks)}. A new one dies again: {odds}."
        return f"{ref}: {self.status}, {self.power}. {by} {check} {kind}".rstrip()


def _percent(again: tuple[float, float]) -> str:
    low, high = (f"{100 * odds:.0f}" for odds in again)
    return f"{low} %" if low == high else f"{low} to {high} %"


def _words(text: str) -> list[str]:
    return [
        word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word
        for word in re.findall(r"[a-z0-9]+", text.lower())
    ]


def _said(part: Part, looks: Collection[str]) -> list[list[str]]:
    """What the part is called, each name apart, so that a phrase can't straddle two of them."""
    return [_words(text) for text in (part.family, part.place or "", part.words, *sorted(part.tags), *sorted(looks))]


def _has(phrase: str, said: list[list[str]]) -> bool:
    want = _words(phrase)
    return any(words[i : i + len(want)] == want for words in said for i in range(len(words) - len(want) + 1))


def _way_fits(row: Killing, way: str, kind: str) -> bool:
    base = re.sub(r"-?\d+$", "", way.lower())
    return (
        not row.ways
        or base in row.ways
        or kind in row.ways
        or any(base.endswith(f"-{w}") or base.startswith(f"{w}-") for w in row.ways)
    )


def rows_for(part: Part, way: str, *, kind: str = "", looks: Collection[str] = ()) -> tuple[Killing, ...]:
    """The rows that fit best: all of them where nothing tells them apart.

    Parameters: part, dead; way, name of the way it failed; kind "open"|"short"|"drift" where known; looks, signs seen on it.
    """
    said = _said(part, looks)
    families = {part.family, "fuse"} if _has("fusible", said) else {part.family}  # an open fusible resistor is a blown fuse
    score: dict[int, int] = {}
    for row in TABLE:
        if row.families and not families & set(row.families):
            continue
        matched = sum(_has(place, said) for place in row.places)
        if (matched or (row.generic and part.family not in row.placed)) and _way_fits(row, way, kind):
            score[row.number] = matched
    best = max(score.values(), default=0)
    return tuple(row for row in TABLE if score.get(row.number) == best)


def _alone(part: Part, looks: Collection[str]) -> bool | None:
    said = _said(part, looks)
    if any(_has(word, said) for word in KILLED_PLACES):
        return False
    if any(_has(word, said) for word in ALONE_PLACES):
        return True
    return FAMILIES[part.family].dies_alone if part.family in FAMILIES else None


def cause_text(part: Part, way: str, *, kind: str = "", looks: Collection[str] = ()) -> Cause:
    """What killed this part, as far as the trade's table goes.

    Returns: Cause, always open. Where several rows fit equally well, their killers and checks together and the widest odds;
    where none fits, what the family's own file names as killers, without odds.
    """
    if kind == "wrong":
        return Cause((), WRONG_CHECKS, None, None, ("wrong part fitted",))
    rows = rows_for(part, way, kind=kind, looks=looks)
    family = FAMILIES.get(part.family)
    killers = tuple(dict.fromkeys(killer for row in rows for killer in row.killers)) or (family.killers if family else ())
    checks = tuple(dict.fromkeys(check for row in rows for check in row.checks))
    again = (min(row.again[0] for row in rows), max(row.again[1] for row in rows)) if rows else None
    return Cause(
        killers=killers,
        checks=checks or ("what current or volts did this, where they came from, and whether that source is still there",),
        again=again,
        alone=_alone(part, looks),
        rows=tuple(row.dead for row in rows),
    )
