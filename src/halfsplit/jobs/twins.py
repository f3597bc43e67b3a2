"""The good twin in a job: which of its readings count, and what they make of the drawn units. It proves nothing of this set's state."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from halfsplit.diagnosis import build
from halfsplit.diagnosis.outlook import Column, Outlook, Reading
from halfsplit.diagnosis.scale import MeterAccuracy, scale_of
from halfsplit.diagnosis.twin import units_like
from halfsplit.jobs.standing import Standing, Taken
from halfsplit.jobs.table import Table
from halfsplit.parts.base import Array

ALIVE = "the good one is not this set: nothing here says whether it is dead; read its own capacitors before ohms there"


def twin_readings(s: Standing) -> tuple[Taken, ...]:
    """Every reading of the good one, as if it had been taken here: those typed while `twin` was on, and the second value of a line."""
    beside = tuple(
        replace(t, entry=replace(t.entry, value=t.entry.twin, value2=None, lo=None, hi=None, max=None, min=None, twin=None))
        for t in s.readings
        if t.entry.twin is not None
    )
    return (*beside, *s.of_twin)


def like_the_twin(
    outlook: Outlook, table: Table, good: Sequence[tuple[Reading, Taken]], meter: MeterAccuracy
) -> tuple[Array | None, list[str]]:
    """Log weights of the drawn units (draws,), None without a twin; and a warning for each reading that no drawn unit shows.

    A drawing without question marks has nothing to learn from a twin: its units are tolerances only.
    """
    if not good:
        return None, []
    apart = np.array([_tolerance(outlook.columns[r.column], table, t) for r, t in good])
    found = units_like(outlook, [r for r, _ in good], apart, meter=meter)
    if found is None:
        return None, []
    unlike = [
        f"line {good[j][1].line}: the good one shows {good[j][1].entry.shown or good[j][0].value} at {good[j][1].entry.where}, and no set "
        "that this sheet allows does: is it the same place, is it good, is the sheet right? It counts for nothing"
        for j in found.unlike
    ]
    doubts = any(part.doubts for part in table.circuit.parts)
    return (found.units if doubts and len(found.unlike) < len(good) else None), unlike


def _tolerance(column: Column, table: Table, taken: Taken) -> float:
    """What tolerances alone make of this reading on a healthy set whose values are known: standard deviation on the scale."""
    known = table.circuit.with_parts(tuple(replace(p, doubts=frozenset()) for p in table.circuit.parts))
    one = build.draw(known, table.suspects[:1], times=1)
    condition = taken.condition
    here = taken.acts.on(condition.stands(known))
    x = build.block_of(known, here, one, condition, [column]).value[0, 0]
    z = scale_of(column).forward(x[np.isfinite(x)])
    return float(np.std(z)) if len(z) else 0.0
