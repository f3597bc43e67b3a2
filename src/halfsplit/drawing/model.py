"""A drawing as frozen data: everything in grid steps, y down, the boundary at x = 0."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from halfsplit.parts.symbols import Mark, Point

Cell = tuple[int, int]
Rect = tuple[float, float, float, float]  # left, top, right, bottom
Segment = tuple[int, int, int, int]  # x0, y0, x1, y1; lying or standing


@dataclass(frozen=True)
class Text:
    """Words at a place. role: "ref" | "value" | "net" | "side". anchor: "start" | "middle" | "end"."""

    x: float
    y: float
    words: str
    role: str
    anchor: str = "start"


@dataclass(frozen=True)
class DrawnPart:
    """One part. turn: how it stands (see symbols.Symbol.turns). pins: where wires meet it."""

    ref: str
    x: int
    y: int
    turn: int
    body: Rect
    pins: Mapping[str, Cell]
    marks: tuple[Mark, ...]
    texts: tuple[Text, ...]
    words: str
    assumed: bool
    side: str  # "hot" | "cold" | "across"


@dataclass(frozen=True)
class Return:
    """The small sign of a 0 V net at a pin. kind: "hot" | "cold" | "earth"; words where a kind has several nets."""

    net: str
    kind: str
    at: Cell  # the pin
    foot: Cell  # where the sign hangs
    words: str = ""


@dataclass(frozen=True)
class Flag:
    """A net's name at a pin, in place of a wire: flags of one name belong together."""

    net: str
    at: Cell
    out: str


@dataclass(frozen=True)
class Wire:
    """All copper of one net that is drawn as wires."""

    net: str
    segments: tuple[Segment, ...]
    dots: tuple[Cell, ...]


@dataclass(frozen=True)
class Drawing:
    """The whole schematic. box: all that is drawn. boundary: x of the line between hot and cold, None where nothing is isolated."""

    title: str
    box: Rect
    parts: tuple[DrawnPart, ...]
    wires: tuple[Wire, ...]
    returns: tuple[Return, ...]
    flags: tuple[Flag, ...]
    texts: tuple[Text, ...]
    boundary: int | None
    names: Mapping[str, tuple[Point, ...]]  # net -> good places for a tag, best first

    @property
    def hot_box(self) -> Rect:
        """The ground that is tied to the mains: all of it, or what is left of the boundary."""
        left, top, right, bottom = self.box
        return (left, top, right if self.boundary is None else float(self.boundary), bottom)
