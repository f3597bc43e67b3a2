"""Reads the netlist back from what is drawn, the way an eye does. Shares nothing with the router.

Lines join where their ends meet, where a dot lies on both, and at pins; signs of one kind and flags of one name are one net.
"""

from __future__ import annotations

from collections import defaultdict
from itertools import combinations
from typing import Any


class _Groups:
    def __init__(self) -> None:
        self.up: dict[Any, Any] = {}

    def root(self, a: Any) -> Any:
        self.up.setdefault(a, a)
        while self.up[a] != a:
            a = self.up[a]
        return a

    def join(self, a: Any, b: Any) -> None:
        self.up[self.root(a)] = self.root(b)


def on(point: tuple[float, float], s: tuple[float, float, float, float]) -> bool:
    x, y = point
    return min(s[0], s[2]) <= x <= max(s[0], s[2]) and min(s[1], s[3]) <= y <= max(s[1], s[3])


def ends(s: tuple[float, float, float, float]) -> tuple[tuple[float, float], tuple[float, float]]:
    return (s[0], s[1]), (s[2], s[3])


def lines_of(drawing: Any) -> list[tuple[float, float, float, float]]:
    lines = [s for w in drawing.wires for s in w.segments]
    return lines + [(*r.at, *r.foot) for r in drawing.returns if r.at != r.foot]


def nets_drawn(drawing: Any) -> set[frozenset[tuple[str, str]]]:
    """Sets of pins that are one net to the eye."""
    g = _Groups()
    lines = lines_of(drawing)
    dots = {d for w in drawing.wires for d in w.dots}
    by_end: dict[tuple[float, float], list[int]] = defaultdict(list)
    for k, s in enumerate(lines):
        for e in ends(s):
            by_end[e].append(k)
    for same in by_end.values():
        for a, b in zip(same, same[1:]):
            g.join(("line", a), ("line", b))
    for d in dots:
        here = [k for k, s in enumerate(lines) if on(d, s)]
        for a, b in zip(here, here[1:]):
            g.join(("line", a), ("line", b))
    pins = {(p.ref, pin): at for p in drawing.parts for pin, at in p.pins.items()}
    at_place: dict[tuple[float, float], list[tuple[str, str]]] = defaultdict(list)
    for key, at in pins.items():
        g.root(("pin", *key))
        at_place[at].append(key)
        for k in by_end.get(at, []):
            g.join(("pin", *key), ("line", k))
        if at in dots:
            for k, s in enumerate(lines):
                if on(at, s):
                    g.join(("pin", *key), ("line", k))
    for same_pins in at_place.values():
        for a, b in zip(same_pins, same_pins[1:]):
            g.join(("pin", *a), ("pin", *b))
    for r in drawing.returns:
        for key in at_place[r.at]:
            g.join(("pin", *key), ("sign", r.kind, r.words))
        for k in by_end.get(r.foot, []):
            g.join(("line", k), ("sign", r.kind, r.words))
    for f in drawing.flags:
        for key in at_place[f.at]:
            g.join(("pin", *key), ("flag", f.net))
    found: dict[Any, set[tuple[str, str]]] = defaultdict(set)
    for key in pins:
        found[g.root(("pin", *key))].add(key)
    return {frozenset(v) for v in found.values()}


def nets_wanted(circuit: Any, drawing: Any) -> set[frozenset[tuple[str, str]]]:
    """The same from the circuit, of the pins that are drawn."""
    drawn = {(p.ref, pin) for p in drawing.parts for pin in p.pins}
    found: dict[str, set[tuple[str, str]]] = defaultdict(set)
    for p in circuit.parts:
        for pin, net in p.pins.items():
            if (p.ref, pin) in drawn:
                found[net].add((p.ref, pin))
    return {frozenset(v) for v in found.values()}


def faults(drawing: Any) -> list[str]:
    """What would mislead the eye: lines of two nets on each other or ending on each other, a wire on a body or a foreign pin."""
    out = []
    owned = [(w.net, s) for w in drawing.wires for s in w.segments]
    owned += [(r.net, (*r.at, *r.foot)) for r in drawing.returns if r.at != r.foot]
    for (n, a), (m, b) in combinations(owned, 2):
        if n == m:
            continue
        for p, q in ((a, b), (b, a)):
            if any(on(e, q) for e in ends(p)):
                out.append(f"{n} {p} ends on {m} {q}")
        lying_a, lying_b = a[1] == a[3], b[1] == b[3]
        if lying_a == lying_b and a[1 if lying_a else 0] == b[1 if lying_a else 0]:
            k = 0 if lying_a else 1
            if min(max(a[k], a[k + 2]), max(b[k], b[k + 2])) > max(min(a[k], a[k + 2]), min(b[k], b[k + 2])):
                out.append(f"{n} {a} runs along {m} {b}")
    dots = {d: w.net for w in drawing.wires for d in w.dots}
    for n, s in owned:
        out += [f"dot of {m} on {n} at {d}" for d, m in dots.items() if m != n and on(d, s)]
    wires = [(w.net, s) for w in drawing.wires for s in w.segments]
    for p in drawing.parts:
        x0, y0, x1, y1 = p.body
        for n, s in wires:
            if s[0] < x1 and s[2] > x0 and s[1] < y1 and s[3] > y0:
                out.append(f"{n} {s} runs through {p.ref}")
    for r in drawing.returns:
        x, y = r.foot
        for n, s in wires:
            if s[0] < x + 0.8 and s[2] > x - 0.8 and s[1] < y + 1.2 and s[3] > y + 0.3:
                out.append(f"{n} {s} runs through the return sign at {r.foot}")
    return out


def bodies_apart(drawing: Any) -> list[str]:
    """Parts that lie on each other."""
    out = []
    for p, q in combinations(drawing.parts, 2):
        a, b = p.body, q.body
        if a[0] < b[2] and b[0] < a[2] and a[1] < b[3] and b[1] < a[3]:
            out.append(f"{p.ref} on {q.ref}")
    return out
