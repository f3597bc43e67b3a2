"""What a part looks like on a drawing: shapes after IEC 60617, in grid steps, with the places of the legs.

A family names its symbol; it knows nothing of paper. A family without one is drawn as a box with named legs.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

Point = tuple[float, float]
LENGTH = 6  # of every two-legged part, and the distance of every pair of legs: so pairs of wires run on straight


@dataclass(frozen=True)
class Mark:
    """One stroke. kind: "line" | "fill" (closed, filled) | "area" (closed, not filled) | "dash" | "round" | "text"."""

    kind: str
    points: tuple[Point, ...]
    size: float = 0.0  # radius of a round
    words: str = ""
    anchor: str = "middle"


@dataclass(frozen=True)
class Leg:
    """Where a wire meets the part, on the grid, and which way it goes on: "l" "r" "u" "d"."""

    x: int
    y: int
    out: str


@dataclass(frozen=True)
class Symbol:
    """A fixed shape. body: box around it without the leads (left, top, right, bottom).

    through: pairs of legs a line runs through, so they like to lie along it. turns: ways it may stand, 0-3 quarter turns
    clockwise, 4-7 the same of its mirror image; the first ones are liked best. inner: pins that no real part has as a leg.
    end: -1 begins the drawing on the left, 1 likes the right end.
    """

    legs: Mapping[str, Leg]
    body: tuple[float, float, float, float]
    marks: tuple[Mark, ...]
    through: tuple[tuple[str, str], ...] = ()
    turns: tuple[int, ...] = (0, 1, 2, 3)
    inner: tuple[str, ...] = ()
    end: int = 0


@dataclass(frozen=True)
class Box:
    """A box with named legs. left, right: which legs stand where, from the top; others go to the right. words: inside."""

    left: tuple[str, ...] = ()
    right: tuple[str, ...] = ()
    words: str = ""
    inner: tuple[str, ...] = ()
    end: int = 0
    through: tuple[tuple[str, str], ...] = field(default=())


def line(*points: Point) -> Mark:
    return Mark("line", points)


def area(*points: Point) -> Mark:
    return Mark("area", points)


def solid(*points: Point) -> Mark:
    return Mark("fill", points)


def dash(*points: Point) -> Mark:
    return Mark("dash", points)


def ring(x: float, y: float, r: float) -> Mark:
    return Mark("round", ((x, y),), r)


def word(x: float, y: float, words: str, anchor: str = "middle") -> Mark:
    return Mark("text", ((x, y),), words=words, anchor=anchor)


def rect(x0: float, y0: float, x1: float, y1: float) -> Mark:
    return area((x0, y0), (x1, y0), (x1, y1), (x0, y1))


def arrow(x0: float, y0: float, x1: float, y1: float, head: float = 0.55) -> tuple[Mark, ...]:
    """A line with a filled head at its second end."""
    long = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
    ux, uy = (x1 - x0) / long, (y1 - y0) / long
    bx, by = x1 - head * ux, y1 - head * uy
    return line((x0, y0), (bx, by)), solid(
        (x1, y1), (bx - 0.4 * head * uy, by + 0.4 * head * ux), (bx + 0.4 * head * uy, by - 0.4 * head * ux)
    )


def bumps(x0: float, x1: float, y: float, count: int, up: float) -> tuple[Point, ...]:
    """Half rounds from x0 to x1: a winding."""
    from math import cos, pi, sin

    r = (x1 - x0) / (2 * count)
    return tuple(
        (round(x0 + r * (2 * i + 1) - r * cos(pi * k / 8), 3), round(y - up * abs(r) * sin(pi * k / 8), 3))
        for i in range(count)
        for k in range(9)
    )


def _stood(points: Iterable[Point]) -> tuple[Point, ...]:
    return tuple((y, x) for x, y in points)


def winding(x: float, y0: float, y1: float, count: int, side: float) -> Mark:
    """A standing winding whose bumps look to one side."""
    return Mark("line", _stood(bumps(y0, y1, x, count, -side)))


def _leads(a: float, b: float) -> tuple[Mark, ...]:
    return line((0, 0), (a, 0)), line((b, 0), (LENGTH, 0))


def two(
    pins: tuple[str, str],
    marks: tuple[Mark, ...],
    *,
    start: float = 1.5,
    end: float = 4.5,
    half: float = 1.0,
    along: bool = False,
    stop: int = 0,
) -> Symbol:
    """A part with two legs, lying: first leg left. along: it likes to lie in a line, plug to load."""
    legs = {pins[0]: Leg(0, 0, "l"), pins[1]: Leg(LENGTH, 0, "r")}
    return Symbol(legs, (start, -half, end, half), (*_leads(start, end), *marks), (pins,) if along else (), end=stop)


def renamed(symbol: Symbol, names: Mapping[str, str]) -> Symbol:
    """The same shape with other names at its legs."""
    return replace(
        symbol,
        legs={names.get(k, k): leg for k, leg in symbol.legs.items()},
        through=tuple((names.get(a, a), names.get(b, b)) for a, b in symbol.through),
    )


AB = ("a", "b")
PLUS_MINUS = ("+", "-")
_BODY = rect(1.5, -0.6, 4.5, 0.6)
_SLANT = (line((1.7, 1.3), (2.3, 1.3), (4.3, -1.3)),)
_FUSE_LINE = line((1.5, 0), (4.5, 0))

RESISTOR = two(AB, (_BODY,))
TRIMMER = Symbol(
    {"a": Leg(0, 0, "l"), "b": Leg(LENGTH, 0, "r"), "w": Leg(3, 3, "d")},
    (1.5, -0.6, 4.5, 0.6),
    (*_leads(1.5, 4.5), _BODY, *arrow(3, 3, 3, 0.6)),
    through=(("a", "b"),),
    turns=(0, 1, 2, 3, 4, 5, 6, 7),
)
FUSIBLE = two(AB, (_BODY, line((1.5, 0), (2.4, 0)), line((3.6, 0), (4.5, 0))), along=True)
CUT_OFF_RESISTOR = two(AB, (_BODY, word(3, 0.4, "ϑ")), along=True)
FUSE = two(AB, (_BODY, _FUSE_LINE), along=True)
THERMAL_LINK = two(AB, (_BODY, _FUSE_LINE, word(3, 1.7, "ϑ")), along=True, half=1.4)
NTC = two(AB, (_BODY, *_SLANT, word(1.0, 2.4, "−ϑ")), along=True, half=1.4)
PTC = two(AB, (_BODY, *_SLANT, word(1.0, 2.4, "+ϑ")), along=True, half=1.4)
VARISTOR = two(AB, (_BODY, *_SLANT, word(1.0, 2.4, "U")), half=1.4)
_PLATES = (line((2.65, -1.3), (2.65, 1.3)), line((3.35, -1.3), (3.35, 1.3)))
CAPACITOR = two(AB, _PLATES, start=2.65, end=3.35, half=1.3)
POLAR_CAPACITOR = two(
    PLUS_MINUS, (*_PLATES, line((1.5, 1), (2.3, 1)), line((1.9, 0.6), (1.9, 1.4))), start=2.65, end=3.35, half=1.4
)
INDUCTOR = two(AB, (Mark("line", bumps(1, 5, 0, 4, 1.0)),), start=1, end=5, half=0.6, along=True)
_TRIANGLE = area((2, -1), (2, 1), (4, 0))
_THROUGH = line((2, 0), (4, 0))
_BAR = line((4, -1), (4, 1))
AK = ("a", "k")
DIODE = two(AK, (_TRIANGLE, _THROUGH, _BAR), start=2, end=4)
ZENER = two(AK, (_TRIANGLE, _THROUGH, line((4.5, -1), (4, -1), (4, 1))), start=2, end=4)
SUPPRESSOR = two(AK, (_TRIANGLE, _THROUGH, line((4.5, -1), (4, -1), (4, 1), (3.5, 1))), start=2, end=4)
LED = two(
    AK, (_TRIANGLE, _THROUGH, _BAR, *arrow(3, -1.1, 3.9, -2.1, 0.5), *arrow(3.9, -0.9, 4.8, -1.9, 0.5)), start=2, end=4, half=2.2
)
_CONTACT = (line((2, 0), (4.1, -1.2)),)
SWITCH = two(AB, _CONTACT, start=2, end=4, half=1.2, along=True)
STAT = two(AB, (*_CONTACT, word(3, 1.3, "ϑ")), start=2, end=4, half=1.3, along=True)
CORD = two(AB, (line((2, 0), (4, 0)), ring(3, 0, 0.7)), start=2, end=4, half=0.7, along=True)
CONNECTOR = two(
    AB, (line((2.2, -0.8), (3, 0), (2.2, 0.8)), line((2.9, -0.8), (3.7, 0), (2.9, 0.8))), start=3, end=3.7, half=0.8, along=True
)
JOINT = two(AB, (ring(3, 0, 0.45),), start=2.55, end=3.45, half=0.6, along=True)
HEATER = two(AB, (rect(1.2, -0.7, 4.8, 0.7), *(line((x, -0.7), (x, 0.7)) for x in (2.1, 3.0, 3.9))), start=1.2, end=4.8, stop=1)
MOTOR = two(AB, (ring(3, 0, 1.6), word(3, 0.4, "M")), start=1.4, end=4.6, half=1.6, stop=1)
LAMP = two(
    AB,
    (ring(3, 0, 1.4), line((2.01, -0.99), (3.99, 0.99)), line((2.01, 0.99), (3.99, -0.99))),
    start=1.6,
    end=4.4,
    half=1.4,
    stop=1,
)
BATTERY = two(
    PLUS_MINUS,
    (
        line((2.2, -1.4), (2.2, 1.4)),
        line((2.7, -0.7), (2.7, 0.7)),
        line((3.3, -1.4), (3.3, 1.4)),
        line((3.8, -0.7), (3.8, 0.7)),
        line((1.1, 1), (1.7, 1)),
        line((1.4, 0.7), (1.4, 1.3)),
    ),
    start=2.2,
    end=3.8,
    half=1.4,
    stop=1,
)
_SQUARE = rect(1.2, -1.6, 4.8, 1.6)
LOAD = two(PLUS_MINUS, (_SQUARE, *arrow(2.0, 0, 4.0, 0)), start=1.2, end=4.8, half=1.6, stop=1)
RESISTIVE_LOAD = two(PLUS_MINUS, (_SQUARE, rect(2.1, -0.5, 3.9, 0.5)), start=1.2, end=4.8, half=1.6, stop=1)
POWER_LOAD = two(
    PLUS_MINUS,
    (_SQUARE, line((1.2, 1.6), (4.8, -1.6)), word(2.3, -0.4, "="), word(3.7, 1.2, "=")),
    start=1.2,
    end=4.8,
    half=1.6,
    stop=1,
)

MAINS = Symbol(
    {"L": Leg(0, 0, "r"), "N": Leg(0, LENGTH, "r")},
    (-2, -0.5, -0.1, LENGTH + 0.5),
    (ring(-0.4, 0, 0.4), ring(-0.4, LENGTH, 0.4), word(-1.5, 0.4, "L"), word(-1.5, LENGTH + 0.4, "N"), word(-1.4, 3.5, "∼")),
    turns=(0,),
    end=-1,
)
CHOKE = Symbol(
    {"a1": Leg(0, 0, "l"), "a2": Leg(6, 0, "r"), "b1": Leg(0, 6, "l"), "b2": Leg(6, 6, "r")},
    (1, -0.5, 5, 6.5),
    (
        Mark("line", ((0, 0), *bumps(1, 5, 0, 4, 1.0), (6, 0))),
        Mark("line", ((0, 6), *bumps(1, 5, 6, 4, -1.0), (6, 6))),
        line((1, 2.8), (5, 2.8)),
        line((1, 3.2), (5, 3.2)),
    ),
    (("a1", "a2"), ("b1", "b2")),
    turns=(0, 4),
)
TRANSFORMER = Symbol(
    {"p1": Leg(0, 0, "l"), "p2": Leg(0, 6, "l"), "s1": Leg(6, 0, "r"), "s2": Leg(6, 6, "r")},
    (1, -0.2, 5, 6.2),
    (
        line((0, 0), (1.8, 0)),
        winding(1.8, 0, 6, 5, 1),
        line((1.8, 6), (0, 6)),
        line((6, 0), (4.2, 0)),
        winding(4.2, 0, 6, 5, -1),
        line((4.2, 6), (6, 6)),
        line((2.8, 0), (2.8, 6)),
        line((3.2, 0), (3.2, 6)),
    ),
    turns=(0, 4),
)
SPLIT_TRANSFORMER = Symbol(
    {"p1": Leg(0, 0, "l"), "p2": Leg(0, 12, "l"), "s1": Leg(6, 0, "r"), "ct": Leg(6, 6, "r"), "s2": Leg(6, 12, "r")},
    (1, -0.2, 5, 12.2),
    (
        line((0, 0), (1.8, 0)),
        winding(1.8, 0, 12, 9, 1),
        line((1.8, 12), (0, 12)),
        line((6, 0), (4.2, 0)),
        winding(4.2, 0, 6, 5, -1),
        line((4.2, 6), (6, 6)),
        winding(4.2, 6, 12, 5, -1),
        line((4.2, 12), (6, 12)),
        line((2.8, 0), (2.8, 12)),
        line((3.2, 0), (3.2, 12)),
    ),
    turns=(0, 4),
)
FLYBACK = Symbol(
    {
        "p+": Leg(0, 0, "l"),
        "p-": Leg(0, 6, "l"),
        "a+": Leg(0, 9, "l"),
        "a-": Leg(0, 13, "l"),
        "s+": Leg(6, 0, "r"),
        "s-": Leg(6, 6, "r"),
    },
    (1, -0.2, 5, 13.2),
    (
        line((0, 0), (1.8, 0)),
        winding(1.8, 0, 6, 5, 1),
        line((1.8, 6), (0, 6)),
        line((0, 9), (1.8, 9)),
        winding(1.8, 9, 13, 4, 1),
        line((1.8, 13), (0, 13)),
        line((6, 0), (4.2, 0)),
        winding(4.2, 0, 6, 5, -1),
        line((4.2, 6), (6, 6)),
        line((2.8, 0), (2.8, 13)),
        line((3.2, 0), (3.2, 13)),
        *(Mark("spot", (p,), 0.18) for p in ((1.1, 5.4), (1.1, 9.6), (4.9, 0.6))),
    ),
    turns=(0, 4),
    inner=("core",),
)

PLAIN_FLYBACK = Symbol(
    {"p+": Leg(0, 0, "l"), "p-": Leg(0, 6, "l"), "s+": Leg(6, 0, "r"), "s-": Leg(6, 6, "r")},
    (1, -0.2, 5, 6.2),
    (
        *TRANSFORMER.marks,
        *(Mark("spot", (p,), 0.18) for p in ((1.1, 5.4), (4.9, 0.6))),
    ),
    turns=(0, 4),
    inner=("core",),
)


def _diode_at(x0: float, y0: float, x1: float, y1: float) -> tuple[Mark, ...]:
    """A small diode in the middle of a line, anode at the first end."""
    mx, my, dx, dy = (x0 + x1) / 2, (y0 + y1) / 2, x1 - x0, y1 - y0
    long = (dx * dx + dy * dy) ** 0.5
    ux, uy = 0.5 * dx / long, 0.5 * dy / long
    return (
        line((x0, y0), (x1, y1)),
        solid((mx - ux - uy, my - uy + ux), (mx - ux + uy, my - uy - ux), (mx + ux, my + uy)),
        line((mx + ux - uy, my + uy + ux), (mx + ux + uy, my + uy - ux)),
    )


BRIDGE = Symbol(
    {"~1": Leg(0, 0, "l"), "~2": Leg(0, 6, "l"), "+": Leg(8, 0, "r"), "-": Leg(8, 6, "r")},
    (0.5, -0.5, 7.5, 7),
    (
        line((0, 0), (4, 0), (4, 0.6)),
        line((0, 6), (4, 6), (4, 5.4)),
        line((6.4, 3), (7, 3), (7, 0), (8, 0)),
        line((1.6, 3), (1, 3), (1, 6.8), (7, 6.8), (7, 6), (8, 6)),
        *_diode_at(4, 0.6, 6.4, 3),
        *_diode_at(4, 5.4, 6.4, 3),
        *_diode_at(1.6, 3, 4, 0.6),
        *_diode_at(1.6, 3, 4, 5.4),
        word(7.6, -0.7, "+"),
        word(7.6, 5.5, "−"),
    ),
    turns=(0,),
)


def transistor(pins: tuple[str, str, str], marks: tuple[Mark, ...]) -> Symbol:
    """Three legs: control left, the other two above and below."""
    b, c, e = pins
    legs = {b: Leg(0, 0, "l"), c: Leg(4, -3, "u"), e: Leg(4, 3, "d")}
    return Symbol(legs, (1, -2, 5.1, 2), (line((0, 0), (2.2, 0)), *marks), turns=(0, 4, 6, 2, 1, 3, 5, 7))


_ENVELOPE = ring(3.1, 0, 2.0)
_BASE = line((2.2, -1.2), (2.2, 1.2))
_COLLECTOR = line((2.2, -0.5), (4, -1.5), (4, -3))
NPN = transistor(("b", "c", "e"), (_ENVELOPE, _BASE, _COLLECTOR, *arrow(2.2, 0.5, 4, 1.5, 0.8), line((4, 1.5), (4, 3))))
PNP = transistor(("b", "c", "e"), (_ENVELOPE, _BASE, _COLLECTOR, *arrow(4, 1.5, 2.2, 0.5, 0.8), line((4, 1.5), (4, 3))))
_CHANNEL = (
    line((2.2, -1.2), (2.2, 1.2)),
    line((2.6, -1.5), (2.6, -0.7)),
    line((2.6, -0.4), (2.6, 0.4)),
    line((2.6, 0.7), (2.6, 1.5)),
    line((2.6, -1.1), (4, -1.1), (4, -3)),
    line((2.6, 1.1), (4, 1.1), (4, 3)),
    line((4, 0), (4, 1.1)),
)
N_FET = transistor(("g", "d", "s"), (_ENVELOPE, *_CHANNEL, *arrow(4, 0, 2.65, 0, 0.7)))
P_FET = transistor(("g", "d", "s"), (_ENVELOPE, *_CHANNEL, *arrow(2.65, 0, 4, 0, 0.7)))
SWITCH_FET = replace(N_FET, inner=("core",))
_GATED = (1, 5, 3, 7, 0, 4, 2, 6)
THYRISTOR = Symbol(
    {"a": Leg(0, 0, "l"), "k": Leg(6, 0, "r"), "g": Leg(5, 3, "d")},
    (2, -1, 4.2, 1),
    (*_leads(2, 4), _TRIANGLE, _BAR, line((4, 0.5), (5, 1.5), (5, 3))),
    turns=_GATED,
)
TRIAC = Symbol(
    {"t2": Leg(0, 0, "l"), "t1": Leg(6, 0, "r"), "g": Leg(5, 3, "d")},
    (2, -1.6, 4.2, 1.6),
    (
        *_leads(2, 4),
        area((2, -1.5), (2, -0.1), (4, -0.8)),
        area((4, 0.1), (4, 1.5), (2, 0.8)),
        line((2, -1.6), (2, 1.6)),
        line((4, -1.6), (4, 1.6)),
        line((4, 1), (5, 2), (5, 3)),
    ),
    turns=_GATED,
)
DIAC = two(
    AB,
    (area((2, -1.5), (2, -0.1), (4, -0.8)), area((4, 0.1), (4, 1.5), (2, 0.8)), line((2, -1.6), (2, 1.6)), line((4, -1.6), (4, 1.6))),
    start=2,
    end=4,
    half=1.6,
)
REFERENCE = Symbol(
    {"a": Leg(0, 0, "l"), "k": Leg(6, 0, "r"), "r": Leg(3, 3, "d")},
    (2, -1, 4, 1),
    (*_leads(2, 4), _TRIANGLE, _THROUGH, line((4.5, -1), (4, -1), (4, 1), (3.5, 1)), line((3, 0.5), (3, 3))),
    turns=(3, 7, 0, 1, 2, 4, 5, 6),
)


def regulator(third: str) -> Symbol:
    """A three-legged regulator: in on the left, out on the right, the third below."""
    return Symbol(
        {"in": Leg(0, 0, "l"), "out": Leg(9, 0, "r"), third: Leg(4, 4, "d")},
        (1, -1.5, 8, 3),
        (
            line((0, 0), (1, 0)),
            line((8, 0), (9, 0)),
            line((4, 3), (4, 4)),
            rect(1, -1.5, 8, 3),
            word(1.3, 0.4, "in", "start"),
            word(7.7, 0.4, "out", "end"),
            word(4, 2.6, third),
        ),
        (("in", "out"),),
        turns=(0, 4),
    )


AMPLIFIER = Symbol(
    {"in+": Leg(0, 0, "l"), "in-": Leg(0, 4, "l"), "out": Leg(8, 2, "r"), "v+": Leg(4, -2, "u"), "v-": Leg(4, 6, "d")},
    (1, -1.6, 7, 5.6),
    (
        area((1, -1.6), (1, 5.6), (7, 2)),
        line((0, 0), (1, 0)),
        line((0, 4), (1, 4)),
        line((7, 2), (8, 2)),
        line((4, -2), (4, 0.2)),
        line((4, 6), (4, 3.8)),
        word(1.8, 0.4, "+"),
        word(1.8, 4.4, "−"),
    ),
    turns=(0, 4, 6, 2),
)
_LAMP_SIDE = (
    rect(1, -1, 7, 7),
    line((0, 0), (2.2, 0), (2.2, 2.4)),
    area((1.4, 2.4), (3.0, 2.4), (2.2, 3.8)),
    line((1.4, 3.8), (3.0, 3.8)),
    line((2.2, 3.8), (2.2, 6), (0, 6)),
    *arrow(3.3, 2.4, 4.5, 2.4, 0.5),
    *arrow(3.3, 3.6, 4.5, 3.6, 0.5),
)
_OPTO_LEGS = {"a": Leg(0, 0, "l"), "k": Leg(0, 6, "l")}
OPTO = Symbol(
    {**_OPTO_LEGS, "c": Leg(8, 0, "r"), "e": Leg(8, 6, "r")},
    (1, -1, 7, 7),
    (
        *_LAMP_SIDE,
        line((4.9, 1.8), (4.9, 4.2)),
        line((4.9, 2.6), (6, 1.6), (6, 0), (8, 0)),
        *arrow(4.9, 3.4, 6, 4.4, 0.7),
        line((6, 4.4), (6, 6), (8, 6)),
    ),
    turns=(0, 4, 6, 2),
)
OPTO_TRIAC = Symbol(
    {**_OPTO_LEGS, "t2": Leg(8, 0, "r"), "t1": Leg(8, 6, "r")},
    (1, -1, 7, 7),
    (
        *_LAMP_SIDE,
        line((8, 0), (5.8, 0), (5.8, 2.4)),
        area((4.9, 2.4), (5.9, 2.4), (5.4, 3.8)),
        area((5.7, 3.8), (6.7, 3.8), (6.2, 2.4)),
        line((4.9, 2.4), (6.7, 2.4)),
        line((4.9, 3.8), (6.7, 3.8)),
        line((5.8, 3.8), (5.8, 6), (8, 6)),
    ),
    turns=(0, 4, 6, 2),
)
_COIL = (rect(-1.3, 2.1, 1.3, 3.9), line((0, 0), (0, 2.1)), line((0, 3.9), (0, 6)), line((-1.3, 3.9), (1.3, 2.1)))
_COIL_LEGS = {"c+": Leg(0, 0, "u"), "c-": Leg(0, 6, "d")}
RELAY = Symbol(
    {**_COIL_LEGS, "com": Leg(6, 0, "u"), "no": Leg(6, 6, "d")},
    (-1.3, 1, 6.5, 5),
    (*_COIL, line((6, 0), (6, 1.8)), line((6, 1.8), (4.6, 4.1)), line((6, 4), (6, 6)), dash((1.3, 3), (5.3, 3))),
    (("com", "no"),),
    turns=(0, 4, 6, 2, 3, 7, 1, 5),
)
CHANGEOVER = Symbol(
    {**_COIL_LEGS, "com": Leg(6, 0, "u"), "no": Leg(5, 6, "d"), "nc": Leg(8, 6, "d")},
    (-1.3, 1, 8, 5),
    (
        *_COIL,
        line((6, 0), (6, 1.5)),
        line((6, 1.5), (7, 4.2)),
        line((5, 6), (5, 4)),
        line((8, 6), (8, 4), (6.8, 4)),
        dash((1.3, 3), (6.5, 3)),
    ),
    turns=(0, 4, 6, 2),
)


def boxed(box: Box, pins: Iterable[str]) -> Symbol:
    """The box of a part with just these legs."""
    names = [p for p in pins if p not in box.inner]
    left = [p for p in box.left if p in names]
    right = [p for p in box.right if p in names]
    for name in names:
        if name not in left and name not in right:
            (right if box.left or len(right) < len(left) else left).append(name)
    wide = int(
        max((len(a) + len(b) for a in left or [""] for b in right or [""]), default=0) * 0.62 + max(2.5, 0.62 * len(box.words))
    )
    wide = max(wide, 5) + 2
    rows = max(len(left), len(right), 1)
    legs = {p: Leg(0, 2 * i, "l") for i, p in enumerate(left)} | {p: Leg(wide, 2 * i, "r") for i, p in enumerate(right)}
    marks = [rect(1, -1.5, wide - 1, 2 * rows - 0.5)]
    for name, leg in legs.items():
        inside = 1 if leg.out == "l" else wide - 1
        marks += [
            line((leg.x, leg.y), (inside, leg.y)),
            word(inside + (0.3 if leg.out == "l" else -0.3), leg.y + 0.4, name, "start" if leg.out == "l" else "end"),
        ]
    return Symbol(legs, (1, -1.5, wide - 1, 2 * rows - 0.5), tuple(marks), box.through, turns=(0,), inner=box.inner, end=box.end)


def shape_of(symbol: Symbol | Box | None, pins: Iterable[str]) -> Symbol:
    """The shape of a part with these pins: its family's symbol, or a box where that has not all the legs."""
    names = list(pins)
    if isinstance(symbol, Symbol) and all(p in symbol.legs or p in symbol.inner for p in names):
        return replace(symbol, legs={p: leg for p, leg in symbol.legs.items() if p in names})
    return boxed(symbol if isinstance(symbol, Box) else Box(), names)
