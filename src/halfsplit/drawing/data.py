"""A drawing as plain data, for a page that lays its own things over it."""

from __future__ import annotations

from typing import Any

from halfsplit.drawing.model import Drawing
from halfsplit.drawing.svg import SCALE


def to_data(drawing: Drawing) -> dict[str, Any]:
    """JSON-able, in the units of the SVG: size, parts, pins, nets, boundary, hot boxes."""

    def at(p: tuple[float, float]) -> list[float]:
        return [round(p[0] * SCALE, 1), round(p[1] * SCALE, 1)]

    def box(r: tuple[float, float, float, float]) -> list[float]:
        return [*at((r[0], r[1])), round((r[2] - r[0]) * SCALE, 1), round((r[3] - r[1]) * SCALE, 1)]

    return {
        "size": box(drawing.box),
        "parts": {p.ref: {"box": box(p.body), "words": p.words, "assumed": p.assumed, "side": p.side} for p in drawing.parts},
        "pins": {p.ref: {pin: at(c) for pin, c in p.pins.items()} for p in drawing.parts},
        "nets": {net: {"at": [at(p) for p in places]} for net, places in drawing.names.items()},
        "boundary": None if drawing.boundary is None else drawing.boundary * SCALE,
        "hot": [box(drawing.hot_box)],
    }
