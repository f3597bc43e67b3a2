"""A drawing as SVG: classes only, so that a page gives it its colours; alone it brings a style for print."""

from __future__ import annotations

from xml.sax.saxutils import escape, quoteattr

from halfsplit.drawing.model import Drawing, DrawnPart, Flag, Rect, Return, Text, Wire
from halfsplit.drawing.turned import STEP, WIDE
from halfsplit.parts.symbols import Mark, Point

SCALE = 10.0  # SVG units a grid step
PRINT = """
.sheet { color: #10181a; background: #ffffff; font-family: "B612", "DejaVu Sans", "Liberation Sans", sans-serif; }
.ground { fill: #ffffff; }
.wire, .stroke, .lead { fill: none; stroke: currentColor; stroke-width: 1.3; stroke-linecap: round; stroke-linejoin: round; }
.dashed, .assumed .stroke { stroke-dasharray: 3.5 2.2; }
.dashed { stroke-width: 0.9; }
.filled, .dot { fill: currentColor; stroke: none; }
text { fill: currentColor; font-size: 10px; }
.ref { font-weight: 700; font-size: 11px; }
.value { font-size: 10px; }
.pin-name { font-size: 9px; }
.net { font-size: 9px; fill: #1f4f86; }
.side { font-weight: 700; font-size: 11px; }
.title { font-weight: 700; font-size: 14px; }
.hatch { stroke: #10181a; stroke-width: 0.5; opacity: 0.16; }
.hot-ground { opacity: 1; }
.boundary { stroke: #b07a00; stroke-width: 2.4; stroke-dasharray: 9 6; fill: none; }
.boundary-word { fill: #8a5f00; font-weight: 700; font-size: 10px; }
.flag { fill: none; stroke: currentColor; stroke-width: 1; }
"""


def to_svg(drawing: Drawing, *, standalone: bool = False) -> str:
    """The drawing. standalone: with a style of its own, on white, and a line that says what it is."""
    left, top, right, bottom = (round(v * SCALE, 1) for v in drawing.box)
    head = 26.0 if standalone else 0.0
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" class="sheet" role="img" viewBox="{_n(left)} {_n(top - head)} {_n(right - left)} '
        f'{_n(bottom - top + head)}" width="{_n(right - left)}" height="{_n(bottom - top + head)}">',
        f"<title>{escape(_clean(drawing.title))}</title>",
        _hatch_pattern(),
    ]
    if standalone:
        out.insert(2, f"<style>{escape(PRINT)}</style>")
        out.append(
            f'<rect class="ground" x="{_n(left)}" y="{_n(top - head)}" width="{_n(right - left)}" height="{_n(bottom - top + head)}"/>'
        )
        out.append(f'<text class="title" x="{_n(left + 12)}" y="{_n(top - 8)}">{escape(_clean(drawing.title))}</text>')
    out += _sides(drawing)
    out += [_wire(w) for w in drawing.wires]
    out += [_return(r) for r in drawing.returns]
    out += [_part(p) for p in drawing.parts]
    out += [_dot(w, x, y) for w in drawing.wires for x, y in w.dots]
    out += [_flag(f) for f in drawing.flags]
    out += [_text(t) for t in drawing.texts]
    out.append("</svg>")
    return "\n".join(out) + "\n"


def _n(v: float) -> str:
    """A number as short as it can be."""
    return f"{round(v, 2):g}" if abs(v) < 1e5 else f"{v:.1f}"


def _clean(words: str) -> str:
    """Without the control characters that no XML may hold."""
    return "".join(
        c if c in "\t\n" or (c >= " " and not "\ud800" <= c <= "\udfff" and c not in "\ufffe\uffff") else "\ufffd" for c in words
    )


def _p(p: Point | tuple[int, int]) -> str:
    return f"{_n(p[0] * SCALE)} {_n(p[1] * SCALE)}"


def _hatch_pattern() -> str:
    return (
        '<defs><pattern id="hot-hatch" width="9" height="9" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<path class="hatch" d="M0 0V9"/></pattern></defs>'
    )


def _sides(d: Drawing) -> list[str]:
    """Hatch on the hot ground, the boundary, and what each side is."""
    left, top, right, bottom = d.hot_box
    out = [
        f'<rect class="hot-ground" fill="url(#hot-hatch)" x="{_n(left * SCALE)}" y="{_n(top * SCALE)}" '
        f'width="{_n((right - left) * SCALE)}" height="{_n((bottom - top) * SCALE)}"/>',
    ]
    if not d.parts:
        return []
    if d.boundary is None:
        return [*out, _text(Text(left + 1, top + 1.5, "HOT: all of it tied to mains", "side"))]
    x = float(d.boundary)
    out.append(f'<path class="boundary" d="M{_p((x, top))}L{_p((x, bottom))}"/>')
    out.append(
        f'<text class="boundary-word" text-anchor="end" x="{_n(x * SCALE - 5)}" y="{_n((bottom - 0.6) * SCALE)}">boundary</text>'
    )
    out.append(_text(Text(x - 1, top + 1.5, "HOT SIDE: tied to mains", "side", "end")))
    out.append(_text(Text(x + 1, top + 1.5, "COLD SIDE: claimed isolated", "side")))
    return out


def _wire(w: Wire) -> str:
    path = "".join(f"M{_p((x0, y0))}L{_p((x1, y1))}" for x0, y0, x1, y1 in w.segments)
    return f'<path class="wire" data-net={quoteattr(_clean(w.net))} d="{path}"/>'


def _dot(w: Wire, x: int, y: int) -> str:
    return f'<circle class="dot" data-net={quoteattr(_clean(w.net))} cx="{_n(x * SCALE)}" cy="{_n(y * SCALE)}" r="2.6"/>'


def _text(t: Text) -> str:
    anchor = "" if t.anchor == "start" else f' text-anchor="{t.anchor}"'
    net = f" data-net={quoteattr(_clean(t.words))}" if t.role == "net" else ""
    return f'<text class="{t.role}"{net}{anchor} x="{_n(t.x * SCALE)}" y="{_n(t.y * SCALE)}">{escape(_clean(t.words))}</text>'


def _part(p: DrawnPart) -> str:
    kind = "part assumed" if p.assumed else "part"
    marks = "".join(_mark(m, set(p.pins.values())) for m in p.marks)
    words = "".join(_text(t) for t in p.texts)
    tip = f"<title>{escape(_clean(p.ref + ' ' + p.words))}</title>"
    return f'<g class="{kind}" data-ref={quoteattr(_clean(p.ref))} data-side="{p.side}">{tip}{_ground(p.body)}{marks}{words}</g>'


def _ground(r: Rect) -> str:
    """What is pressed or coloured behind the part."""
    return (
        f'<rect class="body" fill="none" x="{_n(r[0] * SCALE - 3)}" y="{_n(r[1] * SCALE - 3)}" '
        f'width="{_n((r[2] - r[0]) * SCALE + 6)}" height="{_n((r[3] - r[1]) * SCALE + 6)}" rx="4"/>'
    )


def _mark(m: Mark, pins: set[tuple[int, int]]) -> str:
    if m.kind == "round":
        return f'<circle class="stroke" cx="{_n(m.points[0][0] * SCALE)}" cy="{_n(m.points[0][1] * SCALE)}" r="{_n(m.size * SCALE)}"/>'
    if m.kind == "spot":
        return f'<circle class="filled" cx="{_n(m.points[0][0] * SCALE)}" cy="{_n(m.points[0][1] * SCALE)}" r="{_n(m.size * SCALE)}"/>'
    if m.kind == "text":
        anchor = "" if m.anchor == "start" else f' text-anchor="{m.anchor}"'
        x, y = m.points[0]
        return f'<text class="pin-name"{anchor} x="{_n(x * SCALE)}" y="{_n(y * SCALE)}">{escape(_clean(m.words))}</text>'
    close = "Z" if m.kind in ("area", "fill") else ""
    kind = {"line": "stroke", "area": "stroke", "fill": "filled", "dash": "stroke dashed"}[m.kind]
    if m.kind == "line" and len(m.points) < 5 and any(p in pins for p in m.points):
        kind = "lead"  # never dashed, or the wire would seem broken
    return f'<path class="{kind}" d="M{"L".join(_p(p) for p in m.points)}{close}"/>'


def _return(r: Return) -> str:
    """Hot: open triangle. Isolated: a bar. Earth: three bars, each shorter."""
    x, y = r.foot
    lead = f"M{_p(r.at)}L{_p(r.foot)}" if r.at != r.foot else ""
    bars = {
        "hot": f"M{_p((x, y))}L{_p((x, y + 0.4))}M{_p((x - 0.7, y + 0.4))}L{_p((x + 0.7, y + 0.4))}L{_p((x, y + 1.2))}Z",
        "cold": f"M{_p((x, y))}L{_p((x, y + 0.5))}M{_p((x - 0.8, y + 0.5))}L{_p((x + 0.8, y + 0.5))}"
        f"M{_p((x - 0.8, y + 0.65))}L{_p((x + 0.8, y + 0.65))}",
        "earth": f"M{_p((x, y))}L{_p((x, y + 0.4))}M{_p((x - 0.8, y + 0.4))}L{_p((x + 0.8, y + 0.4))}"
        f"M{_p((x - 0.5, y + 0.75))}L{_p((x + 0.5, y + 0.75))}M{_p((x - 0.2, y + 1.1))}L{_p((x + 0.2, y + 1.1))}",
    }[r.kind]
    words = _text(Text(x + 0.9, y + 1.3, r.words, "net")) if r.words else ""
    return f'<g class="return {r.kind}" data-net={quoteattr(_clean(r.net))}><path class="stroke" d="{lead}{bars}"/>{words}</g>'


def _flag(f: Flag) -> str:
    """A net's name in a small arrow at the pin."""
    x, y = f.at
    dx, dy = STEP[f.out]
    long = WIDE["net"] * len(f.net) + 0.8
    if dx:
        ex = x + dx * long
        shape = (
            f"M{_p((x, y))}L{_p((x + dx * 0.4, y - 0.6))}L{_p((ex, y - 0.6))}L{_p((ex, y + 0.6))}L{_p((x + dx * 0.4, y + 0.6))}Z"
        )
        words = Text(x + dx * (long + 0.4) / 2, y + 0.3, f.net, "net", "middle")
    else:
        ey = y + dy * 1.6
        half = long / 2
        shape = f"M{_p((x, y))}L{_p((x - half, y + dy * 0.4))}L{_p((x - half, ey))}L{_p((x + half, ey))}L{_p((x + half, y + dy * 0.4))}Z"
        words = Text(x, y + dy * 1.0 + 0.3, f.net, "net", "middle")
    return f'<g class="flag-group" data-net={quoteattr(_clean(f.net))}><path class="flag" d="{shape}"/>{_text(words)}</g>'
