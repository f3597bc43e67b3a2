"""Symbols turned and mirrored: legs, body, marks, and where the part's words go."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from halfsplit.drawing.model import Cell, Rect, Text
from halfsplit.parts.symbols import Leg, Mark, Point, Symbol

_QUARTER = {"l": "u", "u": "r", "r": "d", "d": "l"}
_MIRROR = {"l": "r", "r": "l", "u": "u", "d": "d"}
STEP = {"l": (-1, 0), "r": (1, 0), "u": (0, -1), "d": (0, 1)}
WIDE = {"ref": 0.76, "value": 0.66, "net": 0.58, "side": 0.78}  # of one character, in grid steps
HIGH = 1.25  # of a line of text


def turned_point(p: tuple[float, float], turn: int) -> Point:
    x, y = (-p[0], p[1]) if turn >= 4 else p
    for _ in range(turn % 4):
        x, y = -y, x
    return x, y


def turned_leg(leg: Leg, turn: int) -> Leg:
    x, y = turned_point((leg.x, leg.y), turn)
    out = _MIRROR[leg.out] if turn >= 4 else leg.out
    for _ in range(turn % 4):
        out = _QUARTER[out]
    return Leg(int(x), int(y), out)


def turned_rect(r: Rect, turn: int) -> Rect:
    (ax, ay), (bx, by) = turned_point((r[0], r[1]), turn), turned_point((r[2], r[3]), turn)
    return min(ax, bx), min(ay, by), max(ax, bx), max(ay, by)


def turned_mark(mark: Mark, turn: int) -> Mark:
    """The stroke turned; words stay upright, at their turned place."""
    if mark.kind != "text":
        return replace(mark, points=tuple(turned_point(p, turn) for p in mark.points))
    x, y = mark.points[0]
    tx, ty = turned_point((x, y - 0.4), turn)
    anchor = mark.anchor
    if turn % 4 in (1, 3):
        anchor = "middle"
    elif (turn in (2, 4)) and anchor != "middle":
        anchor = {"start": "end", "end": "start"}[anchor]
    return replace(mark, points=((tx, ty + 0.4),), anchor=anchor)


@dataclass(frozen=True)
class Shape:
    """A part in one way of standing, about its own origin. hold: all ground it needs, words and return signs with it.

    feet: pin -> where its return sign hangs. blocked: grid points no wire may touch.
    """

    turn: int
    legs: Mapping[str, Leg]
    body: Rect
    texts: tuple[Text, ...]
    feet: Mapping[str, Cell]
    hold: Rect
    blocked: frozenset[Cell]
    wordy: Rect | None


def text_rect(t: Text) -> Rect:
    """Ground that a text covers."""
    wide = WIDE[t.role] * len(t.words)
    left = {"start": t.x, "middle": t.x - wide / 2, "end": t.x - wide}[t.anchor]
    return left, t.y - 0.94, left + wide, t.y + 0.29


def joined(a: Rect, b: Rect) -> Rect:
    return min(a[0], b[0]), min(a[1], b[1]), max(a[2], b[2]), max(a[3], b[3])


def moved(r: Rect, x: float, y: float) -> Rect:
    return r[0] + x, r[1] + y, r[2] + x, r[3] + y


def stand(symbol: Symbol, turn: int, lines: tuple[tuple[str, str], ...], returned: frozenset[str], across: bool = False) -> Shape:
    """One way of standing. lines: (role, words) of the label. returned: pins that get a return sign."""
    legs = {p: turned_leg(leg, turn) for p, leg in symbol.legs.items()}
    body = turned_rect(symbol.body, turn)
    feet = {p: _foot(legs[p]) for p in legs if p in returned}
    texts = _label(legs, body, lines, across)
    hold = body
    for leg in legs.values():
        hold = joined(hold, (leg.x, leg.y, leg.x, leg.y))
    for fx, fy in feet.values():
        hold = joined(hold, (fx - 0.9, fy, fx + 0.9, fy + 1.2))
    wordy: Rect | None = None
    for t in texts:
        wordy = text_rect(t) if wordy is None else joined(wordy, text_rect(t))
    if wordy is not None:
        hold = joined(hold, wordy)
    return Shape(turn, legs, body, texts, feet, hold, _blocked(legs, body, feet), wordy)


def _foot(leg: Leg) -> Cell:
    dx, dy = STEP[leg.out]
    return (leg.x, leg.y) if leg.out == "d" else (leg.x + dx, leg.y + dy)


def _blocked(legs: Mapping[str, Leg], body: Rect, feet: Mapping[str, Cell]) -> frozenset[Cell]:
    """Every grid point of the body, the leads, and the return signs, but not the pins themselves."""
    pins = {(leg.x, leg.y) for leg in legs.values()}
    out = {
        (x, y)
        for x in range(math.ceil(body[0]), math.floor(body[2]) + 1)
        for y in range(math.ceil(body[1]), math.floor(body[3]) + 1)
    }
    for leg in legs.values():
        dx, dy = STEP[leg.out]
        x, y = leg.x - dx, leg.y - dy
        while not (body[0] <= x <= body[2] and body[1] <= y <= body[3]) and abs(x - leg.x) + abs(y - leg.y) < 7:
            out.add((x, y))
            x, y = x - dx, y - dy
    for fx, fy in feet.values():
        out |= {(fx + i, fy + j) for i in (-1, 0, 1) for j in (0, 1) if (j or not i)}
    return frozenset(out - pins)


def _label(legs: Mapping[str, Leg], body: Rect, lines: tuple[tuple[str, str], ...], across: bool) -> tuple[Text, ...]:
    """The words beside the body, on a side that no leg uses."""
    outs = {leg.out for leg in legs.values()}
    high = HIGH * len(lines)
    if across:  # clear of the boundary, which cuts the part in the middle
        if "u" in outs:
            return tuple(
                Text(body[2] + 0.5, (body[1] + body[3] - high) / 2 + HIGH * i + 0.95, w, role)
                for i, (role, w) in enumerate(lines)
            )
        x = round((body[0] + body[2]) / 2) + 0.6
        return tuple(Text(x, body[1] - 0.5 - HIGH * (len(lines) - 1 - i), w, role) for i, (role, w) in enumerate(lines))
    if "u" not in outs and not ("l" not in outs and "r" not in outs):
        return tuple(
            Text((body[0] + body[2]) / 2, body[1] - 0.5 - HIGH * (len(lines) - 1 - i), w, role, "middle")
            for i, (role, w) in enumerate(lines)
        )
    middle = (body[1] + body[3]) / 2
    if "r" not in outs or "l" not in outs:
        right = "r" not in outs
        x, anchor = (body[2] + 0.5, "start") if right else (body[0] - 0.5, "end")
        return tuple(Text(x, middle - high / 2 + HIGH * i + 0.95, w, role, anchor) for i, (role, w) in enumerate(lines))
    tops = [leg.x for leg in legs.values() if leg.out == "u"]
    x = max(tops, default=body[2]) + 0.6
    return tuple(Text(x, body[1] - 0.1 - HIGH * (len(lines) - 1 - i), w, role) for i, (role, w) in enumerate(lines))
