"""A reliability plot as SVG: what was claimed across, what held upwards, one dot a bin with its two-sigma bar."""

from __future__ import annotations

import math
from collections.abc import Sequence
from html import escape

from perf.isolation.scoring import Bin

SIZE, LEFT, TOP, PLOT = 420, 56, 34, 330
INK, GREY, LINE, DOT = "#222", "#888", "#ccc", "#1f5fa8"


def wilson(held: float, count: int, z: float = 2.0) -> tuple[float, float]:
    """Two-sigma interval of a share (Wilson 1927), sound also for few claims and shares near 0 and 1."""
    middle = (held + z * z / (2 * count)) / (1 + z * z / count)
    half = z / (1 + z * z / count) * math.sqrt(held * (1 - held) / count + z * z / (4 * count * count))
    return max(0.0, middle - half), min(1.0, middle + half)


def _x(v: float) -> float:
    return LEFT + PLOT * v


def _y(v: float) -> float:
    return TOP + PLOT * (1.0 - v)


def _text(
    x: float, y: float, words: str, *, anchor: str = "middle", size: int = 12, ink: str = INK, turn: bool = False, halo: bool = False
) -> str:
    more = ' stroke="white" stroke-width="4" paint-order="stroke"' if halo else ""
    turned = f' transform="rotate(-90 {x:.1f} {y:.1f})"' if turn else ""
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" font-size="{size}" fill="{ink}"{turned}{more}>{escape(words)}</text>'


def _line(x1: float, y1: float, x2: float, y2: float, ink: str, width: float = 1.0, more: str = "") -> str:
    return f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" stroke="{ink}" stroke-width="{width}"{more}/>'


def reliability_svg(bins: Sequence[Bin], title: str) -> str:
    """The whole picture; empty bins are left out."""
    out = [f'<svg xmlns="http://www.w3.org/2000/svg" width="{SIZE}" height="{SIZE + 10}" font-family="sans-serif">',
           f'<rect width="{SIZE}" height="{SIZE + 10}" fill="white"/>', _text(LEFT + PLOT / 2, 20, f"claimed and held: {title}", size=14)]
    for tick in (0.0, 0.2, 0.4, 0.6, 0.8, 1.0):
        out += [_line(_x(tick), _y(0), _x(tick), _y(1), LINE), _line(_x(0), _y(tick), _x(1), _y(tick), LINE),
                _text(_x(tick), _y(0) + 16, f"{100 * tick:.0f}"), _text(_x(0) - 6, _y(tick) + 4, f"{100 * tick:.0f}", anchor="end")]
    out += [_line(_x(0), _y(0), _x(1), _y(1), GREY, 1.0, ' stroke-dasharray="5 4"'),
            _text(LEFT + PLOT / 2, _y(0) + 36, "claimed, %"), _text(16, TOP + PLOT / 2, "held, %", turn=True),
            _text(SIZE - 6, _y(0) + 52, "bars: two sigma; numbers: claims", anchor="end", size=10, ink=GREY)]
    full = [b for b in bins if b.count]
    out += [_line(_x(a.mean), _y(a.held), _x(b.mean), _y(b.held), DOT, 1.5) for a, b in zip(full, full[1:])]
    for b in full:
        low, high = wilson(b.held, b.count)
        out += [_line(_x(b.mean), _y(low), _x(b.mean), _y(high), DOT, 1.5),
                f'<circle cx="{_x(b.mean):.1f}" cy="{_y(b.held):.1f}" r="4" fill="{DOT}"/>',
                _text(_x(b.mean) - 8, _y(b.held) + 4, str(b.count), anchor="end", size=10, ink=GREY, halo=True)]
    return "\n".join([*out, "</svg>", ""])
