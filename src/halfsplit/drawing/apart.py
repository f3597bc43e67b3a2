"""No two parts on each other: what still lies on another moves to the nearest free ground."""

from __future__ import annotations

from typing import Any

from halfsplit.drawing.items import Item
from halfsplit.drawing.model import Rect

CLEAR = 1.5  # of the boundary


def set_apart(items: tuple[Item, ...], xs: Any, ys: Any, ts: Any, free: Any) -> None:
    """What still lies on another part moves to the nearest free ground of its side."""
    done: list[Rect] = []

    def ground(i: int, x: int, y: int) -> Rect:
        h = items[i].ways[int(ts[i])].hold
        return h[0] + x - 0.5, h[1] + y - 0.5, h[2] + x + 0.5, h[3] + y + 0.5

    def clear(r: Rect, side: int) -> bool:
        if (side == -1 and r[2] > -CLEAR) or (side == 1 and r[0] < CLEAR):
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
