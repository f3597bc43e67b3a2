"""Rows: every part times every way it fails, and nothing wrong; with priors and with values drawn for them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from halfsplit.circuit.model import Circuit, Part
from halfsplit.diagnosis.outlook import Row
from halfsplit.parts import family_of
from halfsplit.parts.base import Array, Param, Way

NOTHING_WRONG = 0.004  # of a set that was brought in as faulty (bench estimate)
GOLDEN = 0.618  # by which the severities of two faults are turned against each other
INSIDE = 0.92  # of units that lie within their marking (bench estimate: not all parts of an old set still do)
OUTSIDE = 0.6  # how far beyond the marking the last of the others lie, as a share of it (bench estimate)
ASSUMED_SHARE = 0.35  # an assumed value lies within this power of the family's broad factor


@dataclass(frozen=True)
class Suspect:
    """One row with what makes it: the part and its way of failing; both None for the healthy row. also: what failed beside it."""

    row: Row
    part: Part | None
    way: Way | None
    also: tuple[tuple[Part, Way], ...] = ()

    @property
    def faults(self) -> tuple[tuple[Part, Way], ...]:
        """Everything that has failed, root first where that is known."""
        return () if self.part is None or self.way is None else ((self.part, self.way), *self.also)


def both(one: Suspect, other: Suspect) -> Suspect:
    """Two faults at once as one explanation, which has no odds among the single ones."""
    row = replace(one.row, way=f"{one.row.way}, {other.row.part} {other.row.way}", prior=0.0)
    return Suspect(row, one.part, one.way, (*one.also, *other.faults))


def suspects(
    circuit: Circuit, factors: Mapping[tuple[str, str], float] | None = None, healthy: float = NOTHING_WRONG
) -> tuple[Suspect, ...]:
    """Every explanation of a single fault. factors: (ref, way) -> multiplier from the symptom. Row 0 is nothing wrong.

    Rates are normalised over parts first and only then shared among the ways, so that a part is not suspected for being well modelled.
    """
    factors = factors or {}
    rated = [(p, family_of(p)) for p in circuit.parts]
    total = sum(f.rate for _, f in rated) or 1.0
    out = [Suspect(Row("", "nothing wrong", healthy, "all readings as they should be"), None, None)]
    for part, family in rated:
        shares = sum(w.share for w in family.ways) or 1.0
        for way in family.ways:
            prior = (1.0 - healthy) * family.rate / total * way.share / shares * factors.get((part.ref, way.name), 1.0)
            out.append(Suspect(Row(part.ref, way.name, prior, way.why), part, way))
    return tuple(out)


def nominal(part: Part) -> dict[str, Array]:
    """Every parameter of a part at its written or default value, scalars."""
    values = {
        p.name: np.asarray(float(part.values.get(p.name, part.ratings.get(p.name, p.default)))) for p in family_of(part).params
    }
    for tag in part.tags & values.keys():
        values[tag] = np.asarray(1.0)
    return values


def as_marked(part: Part, count: int) -> dict[str, Array]:
    """The same for so many units (count,)."""
    return {name: np.full(count, float(x)) for name, x in nominal(part).items()}


NOT_THERE, STANDS = 1e12, 1e9  # ohms of a resistor that isn't there, and watts that it stands: it never parts


def not_there(ref: str, a: str, b: str) -> Part:
    """A resistor beside the sheet, between nets a and b, that does nothing until it is given ohms."""
    return Part(ref, "resistor", {"a": a, "b": b}, {"ohms": NOT_THERE, "watts": STANDS})


def draw_values(
    circuit: Circuit, count: int, rng: np.random.Generator, *, nominal_first: bool = True
) -> dict[str, dict[str, Array]]:
    """One draw is one unit: every parameter of every part (count,), spread over quantiles; draw 0 nominal if wanted."""
    return {part.ref: _draw_part(part, count, rng, nominal_first) for part in circuit.parts}


def _draw_part(part: Part, count: int, rng: np.random.Generator, nominal_first: bool) -> dict[str, Array]:
    base = nominal(part)
    out = {}
    for param in family_of(part).params:
        x = base[param.name]
        width = _width(part, param)
        if width <= 0.0 or x == 0.0:
            out[param.name] = np.full(count, float(x))
            continue
        u = (rng.permutation(count) + rng.random(count)) / count
        factor = np.exp(width * _within(2.0 * u - 1.0))
        if nominal_first:
            factor[0] = 1.0
        out[param.name] = x * factor
    return out


def _within(q: Array) -> Array:
    """Where in its tolerance a unit lies, from its place q (-1..1) among all: even inside the marking, and a few aged out of it."""
    out = np.abs(q) - INSIDE
    return np.asarray(np.sign(q) * np.where(out <= 0.0, np.abs(q) / INSIDE, 1.0 + OUTSIDE * out / (1.0 - INSIDE)))


def _width(part: Part, param: Param) -> float:
    """Half-width of the log-uniform spread: the tolerance printed on the part, else that of its family; its broad factor where only assumed."""
    printed = part.ratings.get("tolerance") if param.name == family_of(part).main_value else None
    known = float(np.log1p(param.tol if printed is None else printed))
    if param.name not in part.doubts and "part" not in part.doubts:
        return known
    return max(known, ASSUMED_SHARE * float(np.log(param.broad)))


def severities(count: int, rng: np.random.Generator) -> Array:
    """Severity of a fault per draw, (count,) in 0..1: one from each of count equal quantiles; draw 0 is the middle one."""
    u = (rng.permutation(count) + 0.5) / count
    u[0] = 0.5
    return np.asarray(u)


def failed_values(suspect: Suspect, values: Mapping[str, Mapping[str, Array]], u: Array) -> dict[str, dict[str, Array]]:
    """Values of all parts when this suspect is the fault, at severity u (batch,); a second fault goes its own way."""
    out = {ref: dict(v) for ref, v in values.items()}
    for k, (part, way) in enumerate(suspect.faults):
        if part.ref in out:
            out[part.ref].update(way.change(out[part.ref], (u + k * GOLDEN) % 1.0))
    return out
