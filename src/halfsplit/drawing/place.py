"""From plan to places: arrays for the compiled loop, where it starts, and no two parts on each other at the end."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from halfsplit.circuit.model import Circuit
from halfsplit.drawing.anneal import Now, Task, settle
from halfsplit.drawing.front import front_end
from halfsplit.drawing.model import Rect
from halfsplit.drawing.nets import Plan
from halfsplit.drawing.turned import Shape, joined, moved, stand
from halfsplit.drawing.words import label_lines
from halfsplit.parts.symbols import Leg

EDGE = 3.0  # clear ground on each side of the boundary
SPARE = 2.5  # paper for wires: this many times the ground of the parts
WIDE = 2.9  # wanted width to height
MOVES, MOVES_LESS, MOVES_LEAST = 90000, 500, 55000  # trials: fewer, because dearer, with many parts
BEND, BEND_RAIL = 4.0, 8.0
WAYS = {"l": 0, "r": 1, "u": 2, "d": 3}
_SIDE = {"hot": -1, "across": 0, "cold": 1}
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
    c = 0.0 if len(shape.legs) == 2 else 1.2 * order + (10.0 if len(shape.legs) == 3 and order > 3 else 0.0)
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
class Item:
    """What moves as one: a part, or the way in from the plug. ways: each with its price, ground, legs and members (ref, x, y, turn)."""

    side: int
    pull: float
    ways: tuple[Way, ...]


@dataclass(frozen=True)
class Way:
    price: float
    hold: Rect
    middle: int
    legs: Mapping[tuple[str, str], Leg]
    members: tuple[tuple[str, int, int, int], ...]
    grounds: tuple[Rect, ...] = ()  # of each member, where there are several


def places(circuit: Circuit, plan: Plan, stands: tuple[Standing, ...], kept: Mapping[str, Place]) -> dict[str, Place]:
    """Where each part stands: ref -> x, y, turn. Parts in kept stay there."""
    items = _items(circuit, plan, stands, kept)
    n = len(items)
    high = _height(plan, stands)
    xs, ys, ts = _start(circuit, plan, items, high)
    free = np.ones(n, np.bool_)
    for i, item in enumerate(items):
        ref = item.ways[0].members[0][0]
        if ref in kept:
            x, y, turn = kept[ref]
            xs[i], ys[i], ts[i] = x, y, next(k for k, way in enumerate(item.ways) if way.members[0][3] == turn)
            free[i] = False
    if kept:
        _beside(circuit, plan, items, kept, free, xs, ys)
    if free.any() and n > 1:
        top = ys[~free].min() if not free.all() else 0
        ys -= top
        high = max(high, float(ys.max()) + 8) if kept else high
        moves = int(max(MOVES - MOVES_LESS * n, MOVES_LEAST) * (0.1 + 0.9 * free.mean()) * min(1.0, n / 8))
        task = _task(plan, items, high)
        settle(task, _room(task), xs, ys, ts, free, moves, 4.0 if kept else 14.0, 0.25, 7)
        ys += top
    _apart(items, xs, ys, ts, free)
    return {
        ref: (int(xs[i]) + dx, int(ys[i]) + dy, turn)
        for i, item in enumerate(items)
        for ref, dx, dy, turn in item.ways[int(ts[i])].members
    }


def _items(circuit: Circuit, plan: Plan, stands: tuple[Standing, ...], kept: Mapping[str, Place]) -> tuple[Item, ...]:
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
        out.append(Item(_SIDE[plan.sides[ref]] if plan.isolated else 2, 0.2, (way,)))
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
        out.append(Item(_SIDE[plan.sides[s.ref]] if plan.isolated else 2, 0.5 if end < 0 else -0.1 * end, ways))
    return tuple(out)


def _height(plan: Plan, stands: tuple[Standing, ...]) -> float:
    """Height of paper that gives a drawing of a good shape."""
    ground = sum(
        (s.shapes[0].hold[2] - s.shapes[0].hold[0] + 1) * (s.shapes[0].hold[3] - s.shapes[0].hold[1] + 1) for s in stands
    )
    across = sum(s.shapes[0].hold[3] - s.shapes[0].hold[1] + 2 for s in stands if plan.isolated and plan.sides[s.ref] == "across")
    return max(14.0, math.sqrt(SPARE * ground / WIDE), across)


def _task(plan: Plan, items: tuple[Item, ...], high: float) -> Task:
    """The arrays the compiled loop reads."""
    n, most = len(items), max(len(i.ways) for i in items)
    hold = np.zeros((n, most, 4))
    price = np.full((n, most), 1e6)
    middle = np.zeros((n, most), np.int64)
    first = [0]
    wired = {key: k for k, keys in enumerate(plan.wired.values()) for key in keys}
    net_of: list[int] = []
    offs: list[Any] = []
    ways: list[Any] = []
    own = np.zeros((len(plan.wired), n), np.bool_)
    for i, item in enumerate(items):
        for t, way in enumerate(item.ways):
            hold[i, t], price[i, t], middle[i, t] = way.hold, way.price, way.middle
        for key in item.ways[0].legs:
            if key not in wired:
                continue
            net_of.append(wired[key])
            own[wired[key], i] = len(item.ways[0].members) > 1
            off, out = np.zeros((most, 2), np.int64), np.zeros(most, np.int64)
            for t, way in enumerate(item.ways):
                leg = way.legs[key]
                off[t], out[t] = (leg.x, leg.y), WAYS[leg.out]
            offs.append(off)
            ways.append(out)
        first.append(len(net_of))
    order = sorted(range(len(net_of)), key=lambda p: net_of[p])
    start = np.searchsorted([net_of[p] for p in order], np.arange(len(plan.wired) + 1)).astype(np.int64)
    return Task(
        turns=np.array([len(i.ways) for i in items], np.int64),
        hold=hold,
        middle=middle,
        first=np.array(first, np.int64),
        offs=np.array(offs, np.int64).reshape(len(offs), most, 2),
        outs=np.array(ways, np.int64).reshape(len(ways), most),
        net=np.array(net_of, np.int64),
        pins=np.array(order, np.int64),
        start=start,
        bend=np.array([BEND_RAIL if net in plan.rails else BEND for net in plan.wired]),
        own=own,
        side=np.array([i.side for i in items], np.int64),
        stand=price,
        pull=np.array([i.pull for i in items]),
        high=float(high),
        edge=EDGE,
        inner=np.array([g for item in items for g in item.ways[0].grounds]).reshape(-1, 4),
        plug=next((i for i, item in enumerate(items) if any(plan.symbols[m[0]].end < 0 for m in item.ways[0].members)), -1),
    )


def _room(a: Task) -> Now:
    """Working room of the loop."""
    pins, nets = a.net.size, a.start.size - 1
    px, py, pd, dx = (np.zeros(pins, np.int64) for _ in range(4))
    ty, xa, xb, ya, yb, mine = (np.zeros(nets, np.int64) for _ in range(6))
    return Now(np.zeros((a.turns.size, 4)), px, py, pd, dx, ty, xa, xb, ya, yb, np.zeros(nets), mine)


def _start(circuit: Circuit, plan: Plan, items: tuple[Item, ...], high: float) -> tuple[Any, Any, Any]:
    """Columns by distance from the plug; hot ones end at the boundary, cold ones begin there."""
    far = {p.ref: min((plan.far.get(net, 50) for net in p.pins.values()), default=0) for p in circuit.parts}
    last = max(
        (far[i.ways[0].members[0][0]] for i in items if i.side in (-1, 2) and far[i.ways[0].members[0][0]] < 50), default=0
    )
    filled: dict[tuple[int, int], float] = {}
    xs, ys, ts = (np.zeros(len(items), np.int64) for _ in range(3))
    for i, item in enumerate(items):
        step = min(far[item.ways[0].members[0][0]], last + 12)
        t = int(np.argmin([w.price for w in item.ways]))
        way = item.ways[t]
        x = 0
        if item.side in (-1, 2):
            x = -12 * (last - step) - 14 - (int(way.hold[2]) if len(way.members) > 1 else 0)
        elif item.side == 1:
            x = 10 + 12 * max(0, step - 4)
        y = filled.get((item.side, x), 0.0) - math.floor(way.hold[1]) + 1
        if y + way.hold[3] > high:
            y = -math.floor(way.hold[1])
        filled[item.side, x] = y + way.hold[3]
        xs[i], ys[i], ts[i] = x if item.side else -way.middle, y, t
    return xs, ys, ts


def _beside(
    circuit: Circuit, plan: Plan, items: tuple[Item, ...], kept: Mapping[str, Place], free: Any, xs: Any, ys: Any
) -> None:
    """A new part begins beside a kept one that it hangs on."""
    where: dict[str, Place] = {}
    parts = circuit.names
    for p in circuit.parts:
        if p.ref in kept:
            for pin, net in p.pins.items():
                if (p.ref, pin) not in plan.returned:
                    where.setdefault(net, kept[p.ref])
    for i, item in enumerate(items):
        near = next((where[net] for net in parts[item.ways[0].members[0][0]].pins.values() if net in where), None)
        if free[i] and near is not None:
            xs[i] = near[0] if item.side else xs[i]
            ys[i] = near[1]


def _apart(items: tuple[Item, ...], xs: Any, ys: Any, ts: Any, free: Any) -> None:
    """What still lies on another part moves to the nearest free ground of its side."""
    done: list[Rect] = []

    def ground(i: int, x: int, y: int) -> Rect:
        h = items[i].ways[int(ts[i])].hold
        return h[0] + x - 0.5, h[1] + y - 0.5, h[2] + x + 0.5, h[3] + y + 0.5

    def clear(r: Rect, side: int) -> bool:
        if (side == -1 and r[2] > -EDGE + 1.5) or (side == 1 and r[0] < EDGE - 1.5):
            return False
        return not any(r[0] < q[2] and q[0] < r[2] and r[1] < q[3] and q[1] < r[3] for q in done)

    for i in sorted(range(len(items)), key=lambda i: (bool(free[i]), -_area(items[i].ways[int(ts[i])].hold))):
        if free[i]:
            x0, y0, side = int(xs[i]), int(ys[i]), items[i].side
            radius = 0
            while True:
                found = next(((x0 + a, y0 + b) for a, b in _ring(radius, side) if clear(ground(i, x0 + a, y0 + b), side)), None)
                if found is not None:
                    break
                radius += 1
            xs[i], ys[i] = found
        done.append(ground(i, int(xs[i]), int(ys[i])))


def _area(r: Rect) -> float:
    return (r[2] - r[0]) * (r[3] - r[1])


def _ring(radius: int, side: int) -> list[tuple[int, int]]:
    """Steps of one length, straight ones first. Parts across the boundary only move along it."""
    if radius == 0:
        return [(0, 0)]
    steps = [(0, -radius), (0, radius)]
    if side != 0:
        steps += [(a, b) for k in range(1, radius + 1) for b in (radius - k, k - radius) for a in (-k, k)]
    return steps
