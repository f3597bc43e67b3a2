"""Wires between pins that stand fixed: net after net through the maze, pushing others aside where there is no other way."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from halfsplit.drawing.maze import find
from halfsplit.drawing.model import Cell, Rect, Segment

MARGIN = 8  # free paper around, so that a wire can always go round outside
NEAR_BODY, TEXT, CLAIM = 5, 70, 60
TRIES = 6  # how often a net may be pushed aside


@dataclass(frozen=True)
class Obstacles:
    """What wires must not touch. blocked: bodies. owned: point -> net (pins, feet). claims: points before pins -> net."""

    blocked: frozenset[Cell]
    owned: Mapping[Cell, str]
    claims: Mapping[Cell, str]
    wordy: tuple[Rect, ...]


@dataclass
class Routed:
    """Edges by net, and the groups of pins that no wire could join."""

    segments: dict[str, tuple[Segment, ...]] = field(default_factory=dict)
    dots: dict[str, tuple[Cell, ...]] = field(default_factory=dict)
    apart: dict[str, list[list[Cell]]] = field(default_factory=dict)

    def untidy(self, wordy: Sequence[Rect]) -> float:
        """How far from a tidy drawing: runs, crossings, wires through words, length, flags."""
        runs = [(net, s) for net, segments in self.segments.items() for s in segments]
        lying = [(net, s) for net, s in runs if s[1] == s[3]]
        standing = [(net, s) for net, s in runs if s[0] == s[2]]
        cross = sum(n != m and a[0] < b[0] < a[2] and b[1] < a[1] < b[3] for n, a in lying for m, b in standing)
        through = sum(s[0] < r[2] and s[2] > r[0] and s[1] < r[3] and s[3] > r[1] for _, s in runs for r in wordy)
        long = sum(s[2] - s[0] + s[3] - s[1] for _, s in runs)
        return len(runs) + 1.5 * cross + 4 * through + 0.04 * long + 20 * len(self.apart)


class _Grid:
    """The paper while wires are laid."""

    def __init__(self, nets: Mapping[str, Sequence[Cell]], stuff: Obstacles) -> None:
        self.ids = {net: k + 1 for k, net in enumerate(dict.fromkeys([*nets, *stuff.owned.values()]))}
        self.names = {k: net for net, k in self.ids.items()}
        cells = [*stuff.blocked, *stuff.owned]
        self.left = min(x for x, _ in cells) - MARGIN
        self.top = min(y for _, y in cells) - MARGIN
        self.wide = max(x for x, _ in cells) - self.left + MARGIN + 1
        self.high = max(y for _, y in cells) - self.top + MARGIN + 1
        shape = (self.high, self.wide)
        self.owner, self.he, self.ve = (np.zeros(shape, np.int64) for _ in range(3))
        soft = np.zeros(shape, np.int64)
        for x, y in stuff.blocked:
            soft[y - self.top - 1 : y - self.top + 2, x - self.left - 1 : x - self.left + 2] = NEAR_BODY
        for r in stuff.wordy:
            a, b = math.ceil(r[0] - 0.3 - self.left), math.floor(r[2] + 0.3 - self.left)
            c, d = math.ceil(r[1] - self.top), math.floor(r[3] - self.top)
            soft[max(c, 0) : d + 1, max(a, 0) : b + 1] = TEXT
        for x, y in stuff.blocked:
            self.owner[y - self.top, x - self.left] = -1
        for (x, y), net in stuff.owned.items():
            self.owner[y - self.top, x - self.left] = self.ids[net]
        self.soft = soft
        self.claims = {(x - self.left, y - self.top): self.ids[net] for (x, y), net in stuff.claims.items() if net in self.ids}
        room = self.high * self.wide * 4
        self.cost, self.back, self.stamp = (np.zeros(room, np.int64) for _ in range(3))
        self.heap_f, self.heap_s = (np.zeros(room * 2 + 64, np.int64) for _ in range(2))
        self.mark = 0

    def local(self, cell: Cell) -> Cell:
        return cell[0] - self.left, cell[1] - self.top

    def path(self, net: int, sources: list[Cell], targets: list[Cell], force: bool) -> list[Cell]:
        self.mark += 1
        own = [c for c, n in self.claims.items() if n == net]
        for x, y in own:
            self.soft[y, x] -= CLAIM
        found = find(
            net,
            np.array(sources, np.int64),
            np.array(targets, np.int64),
            self.owner,
            self.soft,
            self.he,
            self.ve,
            force,
            self.cost,
            self.back,
            self.stamp,
            self.mark,
            self.heap_f,
            self.heap_s,
        )
        for x, y in own:
            self.soft[y, x] += CLAIM
        return [(int(x), int(y)) for x, y in found]

    def claim_all(self) -> None:
        for x, y in self.claims:
            self.soft[y, x] += CLAIM

    def lay(self, net: int, path: list[Cell]) -> None:
        for (x0, y0), (x1, y1) in zip(path, path[1:]):
            if y0 == y1:
                self.he[y0, min(x0, x1)] = net
            else:
                self.ve[min(y0, y1), x0] = net

    def clear(self, net: int) -> None:
        self.he[self.he == net] = 0
        self.ve[self.ve == net] = 0

    def touched(self, net: int, path: list[Cell]) -> set[int]:
        """Nets that the path doesn't merely cross."""
        out: set[int] = set()
        for k, (x, y) in enumerate(path):
            around = (int(self.he[y, x]), int(self.he[y, x - 1]), int(self.ve[y, x]), int(self.ve[y - 1, x]))
            foreign = {n for n in around if n not in (0, net)}
            if not foreign:
                continue
            straight = 0 < k < len(path) - 1 and (path[k - 1][0] == path[k + 1][0] or path[k - 1][1] == path[k + 1][1])
            lying = straight and path[k - 1][1] == path[k + 1][1]
            ours, theirs = (around[:2], around[2:]) if lying else (around[2:], around[:2])
            clean = straight and not ({*ours} - {0, net}) and theirs[0] == theirs[1]
            if not clean:
                out |= foreign
        return out


def route(nets: Mapping[str, Sequence[Cell]], stuff: Obstacles, passes: int = 2) -> Routed:
    """Wires for all nets of two pins or more."""
    out = Routed()
    todo = {net: list(dict.fromkeys(pins)) for net, pins in nets.items()}
    todo = {net: pins for net, pins in todo.items() if len(pins) > 1}
    if not todo:
        return out
    grid = _Grid(nets, stuff)
    grid.claim_all()
    order = sorted(todo, key=lambda net: (_span(todo[net]), net))
    pins = {net: [grid.local(c) for c in cells] for net, cells in todo.items()}
    failed = [net for net in order if not _wire(grid, grid.ids[net], pins[net], False)]
    pushed: dict[str, int] = {}
    while failed:
        net = failed.pop(0)
        if pushed.get(net, 0) > TRIES:
            _wire(grid, grid.ids[net], pins[net], False)
            continue
        pushed[net] = pushed.get(net, 0) + 1
        if _wire(grid, grid.ids[net], pins[net], False):
            continue
        moved: set[int] = set()
        _wire(grid, grid.ids[net], pins[net], True, moved)
        failed += [grid.names[m] for m in sorted(moved) if grid.names[m] not in failed]
    for _ in range(passes):
        for net in reversed(order):
            _again(grid, grid.ids[net], pins[net])
    for net in order:
        _collect(grid, net, pins[net], out)
    return out


def _span(cells: Sequence[Cell]) -> int:
    xs, ys = [c[0] for c in cells], [c[1] for c in cells]
    return max(xs) - min(xs) + max(ys) - min(ys)


def _wire(grid: _Grid, net: int, pins: list[Cell], force: bool, moved: set[int] | None = None) -> bool:
    """Join all pins of a net from new. False: some could not be joined (the others are)."""
    grid.clear(net)
    trunk = _trunk(pins)
    tree, rest = [trunk[0]], [*trunk[1:], *(c for c in pins if c not in trunk)]
    ahead = len(trunk) - 1  # the rail first, then what hangs on it
    whole = True
    while rest:
        path = grid.path(net, tree, rest[:1] if ahead > 0 else rest, force)
        ahead -= 1
        if not path:
            whole = False
            tree.append(rest.pop(0))  # an island of its own; the others try both
            continue
        if moved is not None:
            hit = grid.touched(net, path)
            for other in hit:
                grid.clear(other)
            moved |= hit
        grid.lay(net, path)
        seen = set(tree)
        tree += [c for c in path if c not in seen]
        on = set(path)
        rest = [c for c in rest if c not in on]
    return whole


def _trunk(pins: list[Cell]) -> list[Cell]:
    """The pins at the height that most of them share, from the left; one pin where all differ."""
    heights = [y for _, y in pins]
    y = max(dict.fromkeys(heights), key=heights.count)
    return sorted(c for c in pins if c[1] == y)


def _again(grid: _Grid, net: int, pins: list[Cell]) -> None:
    """Lay a net anew with all others in place; keep the old way where the new one joins less."""
    he, ve = grid.he == net, grid.ve == net
    if not _wire(grid, net, pins, False):
        grid.clear(net)
        grid.he[he] = net
        grid.ve[ve] = net


def _collect(grid: _Grid, net: str, pins: list[Cell], out: Routed) -> None:
    """Runs, junction dots and what is not joined, from the edges of a net."""
    k = grid.ids[net]
    lying = {(int(x), int(y)) for y, x in zip(*np.nonzero(grid.he == k))}
    standing = {(int(x), int(y)) for y, x in zip(*np.nonzero(grid.ve == k))}
    degree: dict[Cell, int] = {}
    up: dict[Cell, Cell] = {}

    def root(c: Cell) -> Cell:
        while up.setdefault(c, c) != c:
            up[c] = up[up[c]]
            c = up[c]
        return c

    for edges, (dx, dy) in ((lying, (1, 0)), (standing, (0, 1))):
        for x, y in edges:
            for c in ((x, y), (x + dx, y + dy)):
                degree[c] = degree.get(c, 0) + 1
            up[root((x, y))] = root((x + dx, y + dy))
    runs = [*_runs(lying, (1, 0)), *_runs(standing, (0, 1))]
    here = set(pins)
    dots = sorted(c for c, n in degree.items() if n + (c in here) > 2)
    a, b = grid.left, grid.top
    out.segments[net] = tuple((x0 + a, y0 + b, x1 + a, y1 + b) for x0, y0, x1, y1 in sorted(runs))
    out.dots[net] = tuple((x + a, y + b) for x, y in dots)
    groups: dict[Cell, list[Cell]] = {}
    for c in pins:
        groups.setdefault(root(c), []).append((c[0] + a, c[1] + b))
    if len(groups) > 1:
        out.apart[net] = list(groups.values())


def _runs(edges: set[Cell], way: Cell) -> list[Segment]:
    """Longest straight pieces."""
    out: list[Segment] = []
    dx, dy = way
    for x, y in edges:
        if (x - dx, y - dy) in edges:
            continue
        ex, ey = x, y
        while (ex, ey) in edges:
            ex, ey = ex + dx, ey + dy
        out.append((x, y, ex, ey))
    return out
