"""Faults that come and go, as a job says it: whether to think of them at all, and what marks, provoking and good starts say."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from halfsplit.circuit.model import Circuit, Part
from halfsplit.diagnosis.cycles import quiet
from halfsplit.diagnosis.intake import comes_and_goes
from halfsplit.diagnosis.intermittent import BAD, OK, Spread, mark_odds
from halfsplit.diagnosis.provoking import MOVES, WARMS, Provoked, provoked_odds
from halfsplit.diagnosis.suspects import Suspect
from halfsplit.jobs.standing import Standing, Taken
from halfsplit.parts.base import Array


def thinks_of_it(s: Standing, circuit: Circuit) -> bool:
    """The complaint says so, or a mark, a try to provoke it or good starts were typed. Else nothing changes at all."""
    marked = s.mark is not None or any(t.entry.mark for t in s.readings) or any(look.mark for _, look in s.looks)
    return marked or bool(s.provoked or s.cycles) or comes_and_goes(circuit.symptom)


def said_odds(
    s: Standing, made: Spread, suspects: tuple[Suspect, ...], circuit: Circuit, after: float = -math.inf, before: float = math.inf
) -> Array:
    """(rows of the spread,) log odds from what was said between two lines: marks, provoking, good starts."""
    readings = [t for t in s.readings if after < t.line < before]
    looks = [look for line, look in s.looks if after < line < before]
    cycles = sum(c.count for line, c in s.cycles if after < line < before)
    marks = {t.entry.mark for t in readings if t.power == "on"} | {look.mark for look in looks} | ({OK} if cycles else set())
    tries = [_tried(e.how, e.parts, e.nets, e.changed, circuit) for line, e in s.provoked if after < line < before]
    tries += _after_words(readings, circuit)
    odds = mark_odds(made, [m for m in marks if m])
    steady, coming = provoked_odds(suspects, circuit.parts, tries)
    odds += np.where(made.comes, coming[made.origin], steady[made.origin])
    if cycles:
        odds[made.comes] += math.log(quiet(cycles))
    return odds


def good_cycles(s: Standing) -> int:
    """Good starts in a row since the last part was fitted, or the fault was last seen."""
    since = max((line for line, _ in s.fitted), default=-1)
    bad = [t.line for t in s.readings if t.entry.mark == BAD] + [line for line, look in s.looks if look.mark == BAD]
    return sum(c.count for line, c in s.cycles if line > max([since, *bad]))


def _tried(how: str, parts: tuple[str, ...], nets: tuple[str, ...], changed: bool, circuit: Circuit) -> Provoked:
    known = circuit.names
    return Provoked(how, tuple(known[p].ref for p in parts if p in known), nets, changed)


def _after_words(readings: list[Taken], circuit: Circuit) -> list[Provoked]:
    """`bad: TH1 119ac after tap K1`, once the reading or look before it was marked too: the fault came, went or stayed with it."""
    out, last = [], None
    for taken in readings:
        e = taken.entry
        how, *where = e.after.lower().split() if e.after else [""]
        names: Mapping[str, Part] = {name.lower(): part for name, part in circuit.names.items()}
        refs = tuple(names[w.rstrip(",")].ref for w in where if w.rstrip(",") in names)
        nets = tuple(n for n in circuit.nets if n.lower() in where and n.lower() not in names)
        if how in (*MOVES, *WARMS) and (refs or nets) and e.mark and last:
            out.append(Provoked(how, refs, nets, e.mark != last))
        last = e.mark or last
    return out
