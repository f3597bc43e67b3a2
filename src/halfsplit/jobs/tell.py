"""What to trace or identify next, in the minutes that readings are counted in, and what the readings make of values nobody could read."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from halfsplit.circuit.model import Circuit, Part
from halfsplit.diagnosis.sizes import OWN, size_shown
from halfsplit.diagnosis.tracing import connection_gain, value_gain, value_guess
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import Weighed
from halfsplit.parts import family_of
from halfsplit.units_codes import series

READ_MINUTES = 0.5  # bands or print of one part, with a lamp and a lens (bench estimate)
TRACE_MINUTES = 2.0  # one net from part to part (bench estimate)
FIND_MINUTES = 1.0  # the part that sits in a place, and its print (bench estimate)
ASK_FROM = 1.0  # minutes it has to save before it is asked for
OTHER_SIZE = 0.2  # that a part of a starting sheet is of quite another size on this board (bench estimate)
MOST = 6  # things that are told of at once
LEAST_RATE = 0.02  # bits a minute that reading on is worth at least; below it readings end
SERIES = (("E6", 3.0), ("E12", 2.0), ("E24", 1.0))  # how much commoner their values are on a board (bench estimate)
_PREFIXES = (("M", 1e6), ("k", 1e3), ("", 1.0), ("m", 1e-3), ("u", 1e-6), ("n", 1e-9), ("p", 1e-12))
TWIN = 3.0  # how much likelier a value is that stands on the sheet already, on a part of the same kind (bench estimate)


@dataclass(frozen=True)
class Unknown:
    """One thing nobody has seen. kind: value, place (assumed part) or connection. param: of value. type: the line to enter."""

    kind: str
    ref: str
    param: str
    minutes: float
    do: str
    type: str

    @property
    def key(self) -> str:
        return f"tell:{self.kind}:{self.ref}:{self.param}"


def unknowns(circuit: Circuit) -> tuple[Unknown, ...]:
    """Doubted values, assumed parts that nobody has bound, and assumed connections."""
    out: list[Unknown] = []
    for part in circuit.parts:
        family = family_of(part)
        if family.outlet:
            continue
        if part.assumed:
            like = f"{next(iter(family.letters), 'X')}5 {part.place} {_example(part)}".strip()
            out.append(Unknown("place", part.ref, "", FIND_MINUTES, f"Find {part.ref} and read it; type it like `{like}`.", ""))
            continue
        line = f"{part.ref} {part.place} " if part.place else f"parts: {part.ref} {family.name} "
        names = [p.name for p in family.params if p.name in part.doubts]
        out += [
            Unknown(
                "value", part.ref, name, READ_MINUTES, f"Read the {name} on {part.ref} (bands, print); type `{line}...`.", line
            )
            for name in names
        ]
        loose = [pin for pin, net in part.pins.items() if f"pin:{pin}" in part.doubts or net == part.loose(pin)]
        if loose or "part" in part.doubts:
            legs = f"{part.ref}.{', '.join(loose)}" if loose else part.ref
            out.append(
                Unknown("connection", part.ref, "", TRACE_MINUTES, f"Trace {legs}: from where to where; type the way.", "way ")
            )
    return tuple(out)


def _example(part: Part) -> str:
    family = family_of(part)
    value = part.values.get(family.main_value or "")
    unit = next((p.unit for p in family.params if p.name == family.main_value), "")
    return "" if value is None else _short(value, unit)


def _short(value: float, unit: str) -> str:
    """As it is printed on parts and typed: 47k, 4.7u."""
    sign, size = ("-" if value < 0 else ""), abs(value)
    prefix, scale = next(((p, s) for p, s in _PREFIXES if size >= s * 0.9999), ("p", 1e-12))
    ohms = "R" if unit == "ohm" and not prefix else ""
    return f"{sign}{size / scale:.3g}{prefix}{ohms or ('' if unit in ('ohm', 'F') else unit)}"


def to_trace(weighed: Weighed, table: Table, rate: float) -> list[dict[str, Any]]:
    """What would save minutes, best first. rate: bits a minute of the best reading there is."""
    circuit, post = table.circuit, weighed.post
    rate = max(rate, LEAST_RATE)
    read = {n for r in post.readings for n in (weighed.outlook.columns[r.column].red, weighed.outlook.columns[r.column].black)}
    things = unknowns(circuit)
    unseen = [u for u in things if u.kind != "value"]
    sized = _read_sizes(weighed, circuit)
    out: list[tuple[float, dict[str, Any]]] = []
    for thing in things:
        part = circuit.part(thing.ref)
        if thing.kind == "value":
            gain = value_gain(post, table.drawn, part.ref, thing.param)
        else:
            nets = frozenset(part.pins.values()) - set(circuit.grounds.values())
            near = [u for u in unseen if nets & read & set(circuit.part(u.ref).pins.values())]
            gain = connection_gain(weighed.outlook, post, nets, max(len(near), 1))
            gain = max(gain, _size_gain(weighed, table, part, sized.get(part.ref, ()))) if thing.kind == "place" else gain
        saves = gain / rate - thing.minutes
        if saves >= ASK_FROM:
            out.append(
                (
                    saves,
                    {
                        "what": f"{thing.ref} {thing.param}".strip(),
                        "kind": thing.kind,
                        "text": thing.do,
                        "type": thing.type,
                        "minutes": thing.minutes,
                        "gain": round(gain, 3),
                        "saves": round(saves, 1),
                        "key": thing.key,
                    },
                )
            )
    return [told for _, told in sorted(out, key=lambda x: -x[0])[:MOST]]


def _size_gain(weighed: Weighed, table: Table, part: Part, factors: Sequence[float]) -> float:
    """What the print on an assumed part would tell [bit]: what looks like drift may be another size, and nothing wrong with it.

    Read across and found of another size, everything that hangs on it is predicted for the wrong one: what nothing explains may come
    of that, too. factors: what was read of its own value, as shares of the size assumed; inf for OL.
    """
    rows = [
        i
        for i, s in enumerate(table.suspects)
        if s.part is not None and s.part.ref == part.ref and s.way and s.way.kind == "drift"
    ]
    priors = sum(s.row.prior for s in table.suspects)
    more = sum(float(weighed.post.row_odds[i]) - table.suspects[i].row.prior / priors for i in rows)
    chance = min(0.5, sum(float(weighed.post.row_odds[i]) for i in rows)) if factors else OTHER_SIZE * more
    if any(abs(math.log(f)) > OWN for f in factors if 0 < f < math.inf):
        chance = min(0.5, chance + weighed.post.not_on_sheet)
    return -(chance * math.log2(chance) + (1 - chance) * math.log2(1 - chance)) if chance > 0 else 0.0


def _read_sizes(weighed: Weighed, circuit: Circuit) -> dict[str, list[float]]:
    """Part -> what was read of its own value, as shares of the size assumed."""
    out: dict[str, list[float]] = {}
    for reading in weighed.post.readings:
        if reading.sized is not None:
            part = size_shown(circuit, weighed.outlook.columns[reading.column], reading.sized)
            if part is not None:
                out.setdefault(part.ref, []).append(reading.value / reading.sized)
    return out


LOOK_MINUTES = 0.5  # to look for the marks of another topology (bench estimate)


def may_wait(card: Mapping[str, Any]) -> bool:
    """Whether a card gives way to a look at the board: a round on a dead set, or an end that convicted nobody."""
    return card.get("kind") == "round" or (
        card.get("kind") == "end" and card.get("verdict") not in ("convicted", "nothing found")
    )


def tell_card(weighed: Weighed, table: Table, rate: float, asked: set[str]) -> dict[str, Any] | None:
    """The one thing to look at that saves most, as a card; each is asked for once. asked grows."""
    once = f"tell at {len(weighed.post.readings)} readings"
    if once in asked:
        return None
    thing = next((t for t in to_trace(weighed, table, rate) if t["key"] not in asked), None)
    if thing is None:
        return None
    asked |= {thing["key"], once}
    text = f"{thing['text']} It saves about {thing['saves']:.0f} min of readings; `card` goes on without."
    return {
        "kind": "act",
        "do": "tell",
        "about": thing["what"],
        "text": text,
        "type": thing["type"],
        "minutes": thing["minutes"],
        "hazard": "H0",
        "confirm": [],
    }


def start_card(line: str, text: str, asked: set[str]) -> dict[str, Any] | None:
    """Another starting sheet that the readings fit better, as a card, once each: look first, then type it. asked grows."""
    key = f"start {line}"
    if key in asked:
        return None
    asked.add(key)
    return {
        "kind": "act",
        "do": "tell",
        "about": "start",
        "text": f"{text} `card` goes on without.",
        "type": f"start: {line}",
        "minutes": LOOK_MINUTES,
        "hazard": "H0",
        "confirm": [],
    }


def guessed_values(weighed: Weighed, table: Table) -> list[dict[str, Any]]:
    """Doubted values as the readings have them: best, eight in ten between low and high, and a line for the bench."""
    out = []
    for part in table.circuit.parts:
        family = family_of(part)
        param = next((p for p in family.params if p.name == family.main_value), None)
        if part.assumed or param is None or param.name not in part.doubts:
            continue
        x = table.drawn.healthy[part.ref][param.name]
        twins = {q.values[param.name] for q in table.circuit.parts if _known_twin(q, part, param.name)}
        guess = value_guess(
            weighed.post, table.drawn, part.ref, param.name, standard_values(float(x.min()), float(x.max()), twins)
        )
        if guess is None:
            continue
        best, low, high = (_short(v, param.unit) for v in (guess.best, guess.low, guess.high))
        text = f"{part.ref} probably {best} ({low} to {high})" if guess.told > 0.1 else f"{part.ref}: the readings don't say"
        out.append(
            {"part": part.ref, "value": guess.best, "low": guess.low, "high": guess.high, "unit": param.unit, "text": text}
        )
    return out


def _known_twin(other: Part, part: Part, name: str) -> bool:
    return (
        other.ref != part.ref
        and other.family == part.family
        and name in other.values
        and not other.assumed
        and name not in other.doubts
    )


def standard_values(low: float, high: float, twins: Iterable[float] = ()) -> dict[float, float]:
    """Values of the E-series from low to high with their weights; a twin's value counts more. SI units."""
    out: dict[float, float] = {}
    if not 0 < low <= high:
        return out
    for decade in range(math.floor(math.log10(low)) - 1, math.floor(math.log10(high)) + 1):
        for name, weight in SERIES:
            for x in series(name):
                value = float(f"{x!r}e{decade}")
                if low * 0.9 <= value <= high * 1.1:
                    out[value] = max(out.get(value, 0.0), weight)
    for value in twins:
        near = next((v for v in out if abs(v / value - 1) < 1e-6), value)
        if low * 0.9 <= value <= high * 1.1:
            out[near] = TWIN * out.get(near, 1.0)
    return out
