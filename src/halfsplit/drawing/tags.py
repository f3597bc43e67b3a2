"""Names of nets on the drawing: where one fits without touching anything, and where a tag may be hung."""

from __future__ import annotations

from collections.abc import Mapping

from halfsplit.drawing.model import Cell, DrawnPart, Flag, Rect, Return, Text, Wire
from halfsplit.drawing.turned import text_rect
from halfsplit.parts.symbols import Point


def _meet(a: Rect, b: Rect) -> bool:
    return a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]


def net_texts(
    parts: tuple[DrawnPart, ...], wires: tuple[Wire, ...], returns: tuple[Return, ...], flags: tuple[Flag, ...], flagged: set[str]
) -> tuple[Text, ...]:
    """A name over the longest lying run that has room for it; joints without a name of their own stay without."""
    taken: list[Rect] = [p.body for p in parts]
    taken += [text_rect(t) for p in parts for t in p.texts]
    taken += [(r.foot[0] - 1, r.foot[1], r.foot[0] + 1, r.foot[1] + 1.3) for r in returns]
    for p in parts:
        cx, cy = (p.body[0] + p.body[2]) / 2, (p.body[1] + p.body[3]) / 2
        for x, y in p.pins.values():
            taken.append((min(x, cx) if y == cy else x - 0.1, min(y, cy), max(x, cx) if y == cy else x + 0.1, max(y, cy)))
    for w in wires:
        taken += [(x0 - 0.1, y0 - 0.1, x1 + 0.1, y1 + 0.1) for x0, y0, x1, y1 in w.segments]
    out: list[Text] = []
    for w in wires:
        if "/" in w.net or w.net in flagged or w.net in ("L", "N"):
            continue
        runs = sorted((s for s in w.segments if s[1] == s[3]), key=lambda s: (s[0] - s[2], s))
        text = next((t for s in runs for t in _over(s, w.net) if not any(_meet(text_rect(t), r) for r in taken)), None)
        if text is not None:
            out.append(text)
            taken.append(text_rect(text))
    return tuple(out)


def _over(run: tuple[int, int, int, int], words: str) -> list[Text]:
    """Places above a run, then below, from the left."""
    out = []
    for dy in (-0.45, 1.15):
        for x in range(run[0], max(run[0] + 1, run[2]), 1):
            t = Text(x + 0.3, run[1] + dy, words, "net")
            if text_rect(t)[2] <= run[2]:
                out.append(t)
    return out


def good_places(
    parts: tuple[DrawnPart, ...],
    wires: tuple[Wire, ...],
    nets: Mapping[tuple[str, str], str],
    pins: Mapping[tuple[str, str], Cell],
) -> dict[str, tuple[Point, ...]]:
    """Net -> middles of its runs, longest first, then its pins."""
    found: dict[str, list[Point]] = {}
    for w in wires:
        runs = sorted(w.segments, key=lambda s: (s[0] - s[2] + s[1] - s[3], s))
        found[w.net] = [((x0 + x1) / 2, (y0 + y1) / 2) for x0, y0, x1, y1 in runs[:4]]
    for key, at in pins.items():
        found.setdefault(nets[key], []).append((float(at[0]), float(at[1])))
    return {net: tuple(dict.fromkeys(places)) for net, places in found.items()}
