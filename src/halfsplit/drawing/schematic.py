"""A circuit becomes a drawing: plan, places, wires, words."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from halfsplit.circuit.model import Circuit, Part
from halfsplit.drawing.items import Place, Standing, standings
from halfsplit.drawing.model import Cell, Drawing, DrawnPart, Flag, Rect, Return, Text, Wire
from halfsplit.drawing.nets import Plan, plan_of
from halfsplit.drawing.place import places
from halfsplit.drawing.route import Obstacles, Routed, route
from halfsplit.drawing.tags import good_places, net_texts
from halfsplit.drawing.turned import STEP, Shape, joined, moved, text_rect, turned_mark
from halfsplit.drawing.words import value_words
from halfsplit.parts import family_of
from halfsplit.parts.symbols import Mark

Pins = Mapping[tuple[str, str], Cell]
PAPER = 2.0  # free edge around all that is drawn


def draw(circuit: Circuit, kept: Mapping[str, Mapping[str, Any]] | None = None) -> Drawing:
    """The schematic of a circuit.

    Parameters: kept, places from before (placement_of); parts in it stay exactly there unless the sheet has
    turned them into something that can't stand there: another family, or the other side of the boundary.
    """
    title = f"{circuit.unit.words}, {circuit.unit.volts:g} V {circuit.unit.hertz:g} Hz"
    if not circuit.parts:
        return Drawing(title, (0.0, 0.0, 20.0, 8.0), (), (), (), (), (), None, {})
    plan = plan_of(circuit)
    stands = standings(circuit, plan)
    proposals = [
        _wired(circuit, plan, {s.ref: _shape(s, where[s.ref]) for s in stands}, where)
        for where in places(circuit, plan, stands, _still_good(circuit, plan, stands, kept or {}))
    ]
    _, where, shapes, pins, routed = min(proposals, key=lambda found: found[0])
    return _assemble(title, circuit, plan, shapes, where, pins, routed)


def _wired(
    circuit: Circuit, plan: Plan, shapes: Mapping[str, Shape], where: Mapping[str, Place]
) -> tuple[float, Mapping[str, Place], Mapping[str, Shape], Pins, Routed]:
    """Wires between parts that stand: how untidy it came out, and all of it."""
    pins = {
        (ref, pin): (where[ref][0] + leg.x, where[ref][1] + leg.y) for ref, s in shapes.items() for pin, leg in s.legs.items()
    }
    stuff = _obstacles(circuit, plan, shapes, where, pins)
    routed = route({net: [pins[key] for key in keys] for net, keys in plan.wired.items()}, stuff)
    return routed.untidy(stuff.wordy), where, shapes, pins, routed


def placement_of(drawing: Drawing) -> dict[str, dict[str, int]]:
    """Where every part stands: plain data to keep, and to give to draw again."""
    return {p.ref: {"x": p.x, "y": p.y, "turn": p.turn} for p in drawing.parts}


def _shape(s: Standing, place: Place) -> Shape:
    return next(shape for shape in s.shapes if shape.turn == place[2])


def _still_good(
    circuit: Circuit, plan: Plan, stands: tuple[Standing, ...], kept: Mapping[str, Mapping[str, Any]]
) -> dict[str, Place]:
    """The kept places that can be kept: on the right side of the boundary, not on each other."""
    out: dict[str, Place] = {}
    taken: set[Cell] = set()
    for s in stands:
        try:
            x, y, turn = (int(kept[s.ref][k]) for k in ("x", "y", "turn"))
        except (KeyError, TypeError, ValueError):
            continue
        shape = s.of_turn(turn)
        if shape is None:
            continue
        left, right = x + shape.body[0], x + shape.body[2]
        side = plan.sides[s.ref]
        if plan.isolated and (
            (side == "hot" and right > 0) or (side == "cold" and left < 0) or (side == "across" and not left < 0 < right)
        ):
            continue
        ground = {(x + a, y + b) for a, b in shape.blocked} | {(x + leg.x, y + leg.y) for leg in shape.legs.values()}
        if ground & taken:
            continue
        taken |= ground
        out[s.ref] = (x, y, turn)
    return out


def _obstacles(circuit: Circuit, plan: Plan, shapes: Mapping[str, Shape], where: Mapping[str, Place], pins: Pins) -> Obstacles:
    blocked: set[Cell] = set()
    owned: dict[Cell, str] = {}
    claims: dict[Cell, str] = {}
    wordy: list[Rect] = []
    for part in circuit.parts:
        shape, (x, y, _) = shapes[part.ref], where[part.ref]
        blocked |= {(x + a, y + b) for a, b in shape.blocked}
        wordy += [moved(text_rect(t), x, y) for t in shape.texts]
        for pin, leg in shape.legs.items():
            net = part.pins[pin]
            owned[x + leg.x, y + leg.y] = net
            dx, dy = STEP[leg.out]
            claims[x + leg.x + dx, y + leg.y + dy] = net
            if pin in shape.feet:
                fx, fy = shape.feet[pin]
                owned[x + fx, y + fy] = net
    return Obstacles(
        frozenset(blocked - set(owned)),
        owned,
        {c: n for c, n in claims.items() if c not in blocked and c not in owned},
        tuple(wordy),
    )


def _assemble(
    title: str,
    circuit: Circuit,
    plan: Plan,
    shapes: Mapping[str, Shape],
    where: Mapping[str, Place],
    pins: Pins,
    routed: Routed,
) -> Drawing:
    parts = tuple(_drawn(p, plan, shapes[p.ref], where[p.ref]) for p in circuit.parts)
    wires = tuple(Wire(net, routed.segments[net], routed.dots[net]) for net in routed.segments if routed.segments[net])
    nets = {(p.ref, pin): net for p in circuit.parts for pin, net in p.pins.items()}
    returns = tuple(_return(plan, shapes, where, key, nets[key], pins[key]) for key in plan.returned)
    outs = {pins[p.ref, pin]: leg.out for p in circuit.parts for pin, leg in shapes[p.ref].legs.items()}
    flags = tuple(Flag(net, group[0], outs[group[0]]) for net, groups in routed.apart.items() for group in groups)
    texts = net_texts(parts, wires, returns, flags, set(routed.apart))
    box = _box(parts, wires, returns, texts)
    names = good_places(parts, wires, nets, pins)
    boundary = 0 if plan.isolated else None
    return Drawing(title, box, parts, wires, returns, flags, texts, boundary, names)


def _mark(mark: Mark, place: Place) -> Mark:
    x, y, turn = place
    m = turned_mark(mark, turn)
    return Mark(m.kind, tuple((a + x, b + y) for a, b in m.points), m.size, m.words, m.anchor)


def _drawn(part: Part, plan: Plan, shape: Shape, place: Place) -> DrawnPart:
    x, y, turn = place
    return DrawnPart(
        part.ref,
        x,
        y,
        turn,
        moved(shape.body, x, y),
        {pin: (x + leg.x, y + leg.y) for pin, leg in shape.legs.items()},
        tuple(_mark(m, place) for m in plan.symbols[part.ref].marks),
        tuple(Text(t.x + x, t.y + y, t.words, t.role, t.anchor) for t in shape.texts),
        " ".join(w for w in (part.family, value_words(part)) if w),
        (part.assumed and not family_of(part).outlet) or "part" in part.doubts,
        plan.sides[part.ref],
    )


def _return(
    plan: Plan, shapes: Mapping[str, Shape], where: Mapping[str, Place], key: tuple[str, str], net: str, at: Cell
) -> Return:
    kind, words = plan.returned[key]
    x, y, _ = where[key[0]]
    fx, fy = shapes[key[0]].feet[key[1]]
    return Return(net, kind, at, (x + fx, y + fy), words)


def _box(parts: tuple[DrawnPart, ...], wires: tuple[Wire, ...], returns: tuple[Return, ...], texts: tuple[Text, ...]) -> Rect:
    box = parts[0].body
    for p in parts:
        box = joined(box, p.body)
        for x, y in p.pins.values():
            box = joined(box, (x, y, x, y))
        for t in p.texts:
            box = joined(box, text_rect(t))
    for w in wires:
        for x0, y0, x1, y1 in w.segments:
            box = joined(box, (x0, y0, x1, y1))
    for r in returns:
        box = joined(box, (r.foot[0] - 1, r.foot[1], r.foot[0] + 1, r.foot[1] + 1.5))
    for t in texts:
        box = joined(box, text_rect(t))
    return box[0] - PAPER, box[1] - PAPER - 2, box[2] + PAPER, box[3] + PAPER
