"""From plan to places: arrays for the compiled loop, where it starts, and no two parts on each other at the end."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.circuit.model import Circuit
from halfsplit.drawing.anneal import Now, Task, settle
from halfsplit.drawing.apart import set_apart
from halfsplit.drawing.items import Item, Place, Standing, items_of
from halfsplit.drawing.nets import Plan

EDGE = 3.0  # clear ground on each side of the boundary
SPARE = 2.5  # paper for wires: this many times the ground of the parts
WIDE = 2.9  # wanted width to height
MOVES = 80000  # trials for a drawing
BEND, BEND_RAIL = 4.0, 8.0
WAYS = {"l": 0, "r": 1, "u": 2, "d": 3}


def places(circuit: Circuit, plan: Plan, stands: tuple[Standing, ...], kept: Mapping[str, Place]) -> list[dict[str, Place]]:
    """Where each part may stand, ref -> x, y, turn: one proposal or a few. Parts in kept stay there."""
    items = items_of(circuit, plan, stands, kept)
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
        task = _task(plan, items, high)
        ahead = min(1.0, n / 24) * (0.1 + 0.9 * free.mean())
        tries = []
        for seed in range(1 if kept else _starts(n)):  # small drawings have time for more than one try
            found = (xs.copy(), ys.copy(), ts.copy())
            settle(task, _room(task), *found, free, int(MOVES * ahead / _starts(n) ** 0.5), 4.0 if kept else 14.0, 0.25, seed)
            tries.append(found)
    else:
        top, tries = 0, [(xs, ys, ts)]
    out = []
    for xs, ys, ts in tries:
        ys += top
        set_apart(items, xs, ys, ts, free)
        out.append(
            {
                ref: (int(xs[i]) + dx, int(ys[i]) + dy, turn)
                for i, item in enumerate(items)
                for ref, dx, dy, turn in item.ways[int(ts[i])].members
            }
        )
    return out


def _starts(items: int) -> int:
    return 4 if items <= 28 else 2 if items <= 40 else 1


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
