"""What is placed: parts in all their ways of standing, each with its price; the way in from the plug as one piece."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from halfsplit.circuit.model import Circuit
from halfsplit.drawing.front import front_end
from halfsplit.drawing.model import Rect
from halfsplit.drawing.nets import Plan
from halfsplit.drawing.turned import Shape, joined, moved, stand
from halfsplit.drawing.words import label_lines
from halfsplit.parts.symbols import Leg

SIDE = {"hot": -1, "across": 0, "cold": 1}
Place = tuple[int, int, int]  # x, y, turn


@dataclass(frozen=True)
class Standing:
    """A part's ways of standing, with the price of each."""

    ref: str
    shapes: tuple[Shape, ...]
    prices: tuple[float, ...]

    def of_turn(self, turn: int) -> Shape | None:
        return next((s for s in self.shapes if s.turn == turn), None)


def standings(circuit: Circuit, plan: Plan) -> tuple[Standing, ...]:
    """Every part in every way it may stand."""
    out = []
    for part in circuit.parts:
        symbol = plan.symbols[part.ref]
        returned = frozenset(pin for pin in symbol.legs if (part.ref, pin) in plan.returned)
        across = plan.isolated and plan.sides[part.ref] == "across"
        shapes = tuple(stand(symbol, turn, label_lines(part), returned, across) for turn in symbol.turns)
        prices = [_price(part.pins, s, symbol.through, plan, across, i) for i, s in enumerate(shapes)]
        out.append(Standing(part.ref, shapes, tuple(prices)))
    return tuple(out)


def _price(
    pins: Mapping[str, str], shape: Shape, through: tuple[tuple[str, str], ...], plan: Plan, across: bool, order: int
) -> float:
    """How a technician likes this way of standing: return signs hang down, a line runs from plug to load, hot legs left."""
    c = 0.0 if len(shape.legs) == 2 else 1.2 * order + (10.0 if order > 3 else 0.0)
    two = len(shape.legs) == 2
    lying = two and all(leg.out in "lr" for leg in shape.legs.values())
    for pin in shape.feet:
        out = shape.legs[pin].out
        c += {"d": 0.0, "l": 20.0, "r": 20.0, "u": 40.0}[out]
    for a, b in through:
        if a not in pins or b not in pins or a not in shape.legs or b not in shape.legs:
            continue
        ends = [shape.legs[a], shape.legs[b]]
        if shape.feet.keys() & {a, b}:
            continue
        if two and not lying:
            c += 9.0
        first, last = plan.far.get(pins[a], 99), plan.far.get(pins[b], 99)
        if first != last and (ends[0].x > ends[1].x) == (first < last) and ends[0].x != ends[1].x:
            c += 6.0
    middle = (shape.body[1] + shape.body[3]) / 2
    c += sum(3.0 for pin, leg in shape.legs.items() if pin.endswith("+") and leg.y > middle and len(shape.legs) < 5)  # plus up
    if across:
        hot = [leg.x for pin, leg in shape.legs.items() if plan.islands[pins[pin]] == "hot"]
        cold = [leg.x for pin, leg in shape.legs.items() if plan.islands[pins[pin]] != "hot"]
        c += 200.0 if max(hot) >= min(cold) else 0.0
    return c


@dataclass(frozen=True)
class Way:
    """One way an item may stand: its price, the ground it needs, its legs and its members (ref, x, y, turn)."""

    price: float
    hold: Rect
    middle: int
    legs: Mapping[tuple[str, str], Leg]
    members: tuple[tuple[str, int, int, int], ...]
    grounds: tuple[Rect, ...] = ()  # of each member, where there are several


@dataclass(frozen=True)
class Item:
    """What moves as one: a part, or the way in from the plug. side: -1 hot, 0 across, 1 cold, 2 anywhere. pull: wish to the left."""

    side: int
    pull: float
    ways: tuple[Way, ...]


def items_of(circuit: Circuit, plan: Plan, stands: tuple[Standing, ...], kept: Mapping[str, Place]) -> tuple[Item, ...]:
    shapes = {s.ref: s.shapes for s in stands}
    front = front_end(circuit, plan, shapes)
    if len(front) < 2 or any(ref in kept for ref, *_ in front):
        front = ()
    inside = {ref for ref, *_ in front}
    out: list[Item] = []
    if front:
        hold = front[0][3].hold
        legs: dict[tuple[str, str], Leg] = {}
        for ref, x, y, shape in front:
            hold = joined(hold, moved(shape.hold, x, y))
            legs |= {(ref, pin): Leg(leg.x + x, leg.y + y, leg.out) for pin, leg in shape.legs.items()}
        ref, x, _, shape = front[-1]  # where the last one stands across the boundary, all of it is held there
        middle = x + round((shape.body[0] + shape.body[2]) / 2)
        members = tuple((ref, x, y, shape.turn) for ref, x, y, shape in front)
        way = Way(0.0, hold, middle, legs, members, tuple(moved(shape.hold, x, y) for _, x, y, shape in front))
        out.append(Item(SIDE[plan.sides[ref]] if plan.isolated else 2, 0.2, (way,)))
    for s in stands:
        if s.ref in inside:
            continue
        ways = tuple(
            Way(
                price,
                shape.hold,
                round((shape.body[0] + shape.body[2]) / 2),
                {(s.ref, pin): leg for pin, leg in shape.legs.items()},
                ((s.ref, 0, 0, shape.turn),),
            )
            for shape, price in zip(s.shapes, s.prices)
        )
        end = plan.symbols[s.ref].end
        out.append(Item(SIDE[plan.sides[s.ref]] if plan.isolated else 2, 0.5 if end < 0 else -0.1 * end, ways))
    return tuple(out)
