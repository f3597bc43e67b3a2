"""Where the parts stand: many small moves, kept when the drawing gets better. Compiled.

The price of a drawing: length of wire, bends, wires across parts and each other, parts on each other or on the wrong side.
Each net is priced as one lying trunk with a standing drop to each pin, the way rails are drawn. One file, because what is compiled is kept
file by file and would go on using the old version of a changed neighbour.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numba import njit

LEFT, RIGHT, UP, DOWN = 0, 1, 2, 3
AWAY = 9.0  # a wire that starts in the wrong direction
CORNER = 2.0  # where a trunk ends in a standing part
CROSS = 4.0
ALONG = 7.0  # two trunks on one line
OVER = 9.0  # a wire across a part
LAP = 14.0  # a part on another


class Task(NamedTuple):
    """What doesn't change. By item i, its way of standing t, pin p, net n.

    turns[i]: ways of standing. hold[i, t]: ground needed. middle[i, t]: where an item across the boundary is cut.
    first[i]: its first pin. offs[p, t], outs[p, t]: place and direction of a pin. net[p]; pins, start: net -> its pins.
    bend[n]: price of a bend. own[n, i]: the net runs inside the item. side[i]: -1 hot, 0 across, 1 cold, 2 anywhere.
    stand[i, t]: price of the way of standing. pull[i]: wish to the left. high: of the paper. edge: clear of the boundary. plug: the item with the
    plug, which wants to stand left of all; -1: none. inner: ground of each part inside it.
    """

    turns: Any
    hold: Any
    middle: Any
    first: Any
    offs: Any
    outs: Any
    net: Any
    pins: Any
    start: Any
    bend: Any
    own: Any
    side: Any
    stand: Any
    pull: Any
    high: float
    edge: float
    plug: int
    inner: Any


class Now(NamedTuple):
    """Where everything is: rect[i]; px, py, pd[p]; of each net its trunk's height ty, its box, its price; dx[p]: where a drop stands."""

    rect: Any
    px: Any
    py: Any
    pd: Any
    dx: Any
    ty: Any
    xa: Any
    xb: Any
    ya: Any
    yb: Any
    price: Any
    mine: Any


@njit(cache=True, inline="always")  # calls are dear: all the arrays go with them
def _trunk(a, n, ty, lo, hi, s):
    """Price of a net with its trunk at one height."""
    cost = float(hi - lo)
    at_lo, at_hi = 0, 0
    for k in range(a.start[n], a.start[n + 1]):
        p = a.pins[k]
        d = s.py[p] - ty
        cost += abs(d)
        way = s.pd[p]
        if way == UP or way == DOWN:
            if (d < 0) if way == UP else (d > 0):
                cost += AWAY
            at_lo += s.px[p] == lo
            at_hi += s.px[p] == hi
        else:
            if d != 0:
                cost += a.bend[n]
            if hi > lo and ((way == LEFT and s.px[p] == lo) or (way == RIGHT and s.px[p] == hi)):
                cost += AWAY
    if hi > lo:  # the wire turns at an end of the trunk, unless two standing pins meet there
        cost += CORNER * ((at_lo == 1) + (at_hi == 1))
    return cost


@njit(cache=True)
def _lay(a, n, s):
    """Choose the trunk's height; note where the net runs; its price."""
    b, e = a.start[n], a.start[n + 1]
    if e - b < 2:
        s.xa[n], s.xb[n], s.ya[n], s.yb[n] = 0, -1, 0, -1
        s.price[n] = 0.0
        return
    lo, hi, low, deep = 1 << 30, -(1 << 30), 1 << 30, -(1 << 30)
    for k in range(b, e):
        x, y = s.px[a.pins[k]], s.py[a.pins[k]]
        lo, hi, low, deep = min(lo, x), max(hi, x), min(low, y), max(deep, y)
    best, at = 1e18, 0
    for k in range(b, e):
        if e - b > 7 and (k - b) % 3 and k != e - 1:
            continue
        y = s.py[a.pins[k]]
        c = _trunk(a, n, y, lo, hi, s)
        if c < best:
            best, at = c, y
    for k in range(b, e):
        p = a.pins[k]
        x = s.px[p]
        if s.py[p] != at:
            if s.pd[p] == LEFT:
                x -= 1
            elif s.pd[p] == RIGHT:
                x += 1
        s.dx[p] = x
        lo, hi = min(lo, x), max(hi, x)
    s.ty[n], s.xa[n], s.xb[n], s.ya[n], s.yb[n], s.price[n] = at, lo, hi, low, deep, best


@njit(cache=True, inline="always")
def _over(a, n, i, s):
    """Wires of a net across an item's ground."""
    x0, y0, x1, y1 = s.rect[i, 0], s.rect[i, 1], s.rect[i, 2], s.rect[i, 3]
    if s.xa[n] >= x1 or s.xb[n] <= x0 or s.ya[n] >= y1 or s.yb[n] <= y0 or s.xb[n] < s.xa[n]:
        return 0.0
    if not a.own[n, i]:
        return _over_rect(a, n, x0, y0, x1, y1, s)
    c = 0.0
    x, y = x0 - a.hold[i, 0, 0], y0 - a.hold[i, 0, 1]
    for k in range(a.inner.shape[0]):
        c += _over_rect(a, n, a.inner[k, 0] + x, a.inner[k, 1] + y, a.inner[k, 2] + x, a.inner[k, 3] + y, s)
    return c


@njit(cache=True, inline="always")
def _over_rect(a, n, x0, y0, x1, y1, s):
    """Wires of a net across some ground."""
    c = 0.0
    t = s.ty[n]
    if y0 < t < y1 and s.xa[n] < x1 and s.xb[n] > x0:
        c += OVER + 0.3 * (min(s.xb[n], x1) - max(s.xa[n], x0))
    for k in range(a.start[n], a.start[n + 1]):
        p = a.pins[k]
        if x0 < s.dx[p] < x1:
            lo, hi = min(s.py[p], t), max(s.py[p], t)
            if lo < y1 and hi > y0:
                c += OVER + 0.3 * (min(hi, y1) - max(lo, y0))
    return c


@njit(cache=True, inline="always")
def _cross(a, n, m, s):
    """Crossings of two nets, and trunks on one line."""
    if s.xa[n] > s.xb[m] or s.xa[m] > s.xb[n] or s.ya[n] > s.yb[m] or s.ya[m] > s.yb[n] or s.xb[n] < s.xa[n] or s.xb[m] < s.xa[m]:
        return 0.0
    c = 0.0
    if s.ty[n] == s.ty[m]:
        c += ALONG
    for turn in range(2):
        u, v = (m, n) if turn else (n, m)
        t = s.ty[v]
        for k in range(a.start[u], a.start[u + 1]):
            p = a.pins[k]
            lo, hi = min(s.py[p], s.ty[u]), max(s.py[p], s.ty[u])
            if lo < hi and lo <= t <= hi and s.xa[v] <= s.dx[p] <= s.xb[v]:
                c += CROSS
    return c


@njit(cache=True, inline="always")  # calls are dear: all the arrays go with them
def _lap(i, j, rect, gap):
    w = min(rect[i, 2], rect[j, 2]) - max(rect[i, 0], rect[j, 0]) + gap
    h = min(rect[i, 3], rect[j, 3]) - max(rect[i, 1], rect[j, 1]) + gap
    if w > 0 and h > 0:
        return LAP + 3.0 * min(w, h) + 0.2 * w * h
    return 0.0


@njit(cache=True, inline="always")  # calls are dear: all the arrays go with them
def _place(a, i, x, y, t, s):
    for k in range(4):
        s.rect[i, k] = a.hold[i, t, k] + (x if k % 2 == 0 else y)
    for p in range(a.first[i], a.first[i + 1]):
        s.px[p] = x + a.offs[p, t, 0]
        s.py[p] = y + a.offs[p, t, 1]
        s.pd[p] = a.outs[p, t]


@njit(cache=True, inline="always")  # calls are dear: all the arrays go with them
def _alone(a, i, x, t, s):
    """What the item's own place and way of standing cost."""
    c = a.stand[i, t] + a.pull[i] * x + 0.04 * abs(x)
    r0, r1, r2, r3 = s.rect[i, 0], s.rect[i, 1], s.rect[i, 2], s.rect[i, 3]
    if a.plug >= 0 and r0 < s.rect[a.plug, 0]:
        c += 3.0 * (s.rect[a.plug, 0] - r0)
    if r1 < 0:
        c -= 3.0 * r1
    if r3 > a.high:
        c += 3.0 * (r3 - a.high)
    if a.side[i] == -1 and r2 > -a.edge:
        c += 30.0 + 6.0 * (r2 + a.edge)
    if a.side[i] == 1 and r0 < a.edge:
        c += 30.0 + 6.0 * (a.edge - r0)
    return c


@njit(cache=True)
def _around(a, i, x, t, gap, s, limit):
    """Everything in the price that item i, placed already, has to do with. Stops early above the limit."""
    c = _alone(a, i, x, t, s)
    for j in range(a.turns.size):
        if j != i:
            c += _lap(i, j, s.rect, gap)
    for p in range(a.first[i], a.first[i + 1]):
        n = a.net[p]
        if s.mine[n] == 0:
            s.mine[n] = 1
            c += s.price[n]
    if c < limit:
        for p in range(a.first[i], a.first[i + 1]):
            n = a.net[p]
            if s.mine[n] != 1:
                continue
            s.mine[n] = 2
            x0, x1, y0, y1 = s.xa[n], s.xb[n], s.ya[n], s.yb[n]
            if x1 < x0:
                continue
            for j in range(a.turns.size):  # looked at here first, because the calls are dear
                if x0 < s.rect[j, 2] and x1 > s.rect[j, 0] and y0 < s.rect[j, 3] and y1 > s.rect[j, 1]:
                    c += _over(a, n, j, s)
            for m in range(s.ty.size):
                if m != n and x0 <= s.xb[m] and s.xa[m] <= x1 and y0 <= s.yb[m] and s.ya[m] <= y1 and (s.mine[m] == 0 or m < n):
                    c += _cross(a, n, m, s)
        x0, y0, x1, y1 = s.rect[i, 0], s.rect[i, 1], s.rect[i, 2], s.rect[i, 3]
        for m in range(s.ty.size):
            if s.mine[m] == 0 and s.xa[m] < x1 and s.xb[m] > x0 and s.ya[m] < y1 and s.yb[m] > y0:
                c += _over(a, m, i, s)
    for p in range(a.first[i], a.first[i + 1]):
        s.mine[a.net[p]] = 0
    return c


@njit(cache=True)
def _move(a, i, x, y, t, s):
    """Place an item and lay its nets anew."""
    _place(a, i, x, y, t, s)
    for p in range(a.first[i], a.first[i + 1]):
        n = a.net[p]
        if s.mine[n] == 0:
            s.mine[n] = 1
            _lay(a, n, s)
    for p in range(a.first[i], a.first[i + 1]):
        s.mine[a.net[p]] = 0


@njit(cache=True)
def _whole(a, xs, ys, ts, gap, s):
    """The price of the whole drawing, everything placed anew."""
    c = 0.0
    for i in range(xs.size):
        _place(a, i, xs[i], ys[i], ts[i], s)
        c += _alone(a, i, xs[i], ts[i], s)
    for i in range(xs.size):
        for j in range(i):
            c += _lap(i, j, s.rect, gap)
    for n in range(s.ty.size):
        _lay(a, n, s)
        c += s.price[n]
    for n in range(s.ty.size):
        for j in range(xs.size):
            c += _over(a, n, j, s)
        for m in range(n):
            c += _cross(a, n, m, s)
    return c


@njit(cache=True)
def _many(a, xs, ys, ts, free, x, y, heat, gap, s):
    """Open or close a gap: everything beyond a line, or in one row, moves together."""
    keep_x, keep_y = xs.copy(), ys.copy()
    lying = np.random.random() < 0.6
    by = np.random.randint(1, 6) * (1 if np.random.random() < 0.5 else -1)
    kind = np.random.randint(3)
    old = _whole(a, xs, ys, ts, gap, s)
    for i in range(xs.size):
        if not free[i]:
            continue
        if lying and a.side[i] != 0:
            out = abs(ys[i] - y) < 4 if kind == 0 else (xs[i] <= x if x < 0 else xs[i] >= x)
            if out and (a.side[i] == 2 or (xs[i] < 0) == (x < 0)):
                xs[i] += by
        elif not lying and (ys[i] >= y if kind else abs(ys[i] - y) < 2):
            ys[i] += by
    new = _whole(a, xs, ys, ts, gap, s)
    if new > old and np.random.random() >= np.exp(-(new - old) / heat):
        xs[:] = keep_x
        ys[:] = keep_y
        _whole(a, xs, ys, ts, gap, s)


@njit(cache=True)
def _join(a, i, x, y, t, s):
    """A place where one pin of the item meets or faces another pin of its net."""
    p = a.first[i] + np.random.randint(a.first[i + 1] - a.first[i])
    n = a.net[p]
    q = a.pins[a.start[n] + np.random.randint(a.start[n + 1] - a.start[n])]
    if a.first[i] <= q < a.first[i + 1]:
        return x, y, t
    if np.random.random() < 0.3:
        t = np.random.randint(a.turns[i])
    kind = np.random.random()
    if kind < 0.4:
        return x, s.py[q] - a.offs[p, t, 1], t
    if kind < 0.55:
        return s.px[q] - a.offs[p, t, 0], y, t
    off = np.random.randint(0, 12) if kind < 0.9 else np.random.randint(0, 3)
    x, y = s.px[q] - a.offs[p, t, 0], s.py[q] - a.offs[p, t, 1]
    way = a.outs[p, t]
    if way == LEFT:
        return x + off, y, t
    if way == RIGHT:
        return x - off, y, t
    if np.random.random() < 0.5:
        return x, y + (off // 3 if way == UP else -(off // 3)), t
    return x + (off if np.random.random() < 0.5 else -off), y, t


@njit(cache=True)
def _polish(a, xs, ys, ts, movable, s):
    """Small steps and straightenings of single items, as long as they help."""
    for _ in range(4):
        better = False
        for i in movable:
            for p in range(a.first[i] - 1, a.first[i + 1]):
                tries = 12 if p < a.first[i] else a.start[a.net[p] + 1] - a.start[a.net[p]]
                for k in range(tries):
                    for lying in range(2):
                        x, y, t = xs[i], ys[i], ts[i]
                        nx, ny = x, y
                        if p < a.first[i]:
                            by = k - 6 if k < 6 else k - 5
                            nx, ny = (x + by, y) if lying else (x, y + by)
                        else:
                            q = a.pins[a.start[a.net[p]] + k]
                            if a.first[i] <= q < a.first[i + 1]:
                                continue
                            nx, ny = (s.px[q] - a.offs[p, t, 0], y) if lying else (x, s.py[q] - a.offs[p, t, 1])
                        if a.side[i] == 0:
                            nx = x
                        if nx == x and ny == y:
                            continue
                        limit = _around(a, i, x, t, 1.5, s, 1e300) - 0.01
                        _move(a, i, nx, ny, t, s)
                        if _around(a, i, nx, t, 1.5, s, limit) < limit:
                            xs[i], ys[i] = nx, ny
                            better = True
                        else:
                            _move(a, i, x, y, t, s)
        if not better:
            return


@njit(cache=True)
def settle(a, s, xs, ys, ts, free, moves, hot, cool, seed):
    """Move the free items; xs, ys, ts are changed in place. hot, cool: first and last willingness to make it worse. Returns the price."""
    np.random.seed(seed)
    movable = np.nonzero(free)[0]
    _whole(a, xs, ys, ts, 1.5, s)
    for step in range(moves):
        heat = hot * (cool / hot) ** (step / moves)
        gap = 0.5 + 1.0 * min(1.0, 1.5 * step / moves)
        i = movable[np.random.randint(movable.size)]
        x, y, t = xs[i], ys[i], ts[i]
        nx, ny, nt = x, y, t
        what = np.random.random()
        some = a.first[i + 1] > a.first[i]
        if what < 0.35 or not some:
            far = max(1, int(14 * (1 - step / moves)))
            nx += np.random.randint(-far, far + 1)
            ny += np.random.randint(-far, far + 1) if np.random.random() < 0.7 else 0
        elif what < 0.85:
            nx, ny, nt = _join(a, i, x, y, t, s)
        elif what < 0.93:
            nt = np.random.randint(a.turns[i])
            p = a.first[i] + np.random.randint(a.first[i + 1] - a.first[i])
            nx = x + a.offs[p, t, 0] - a.offs[p, nt, 0]
            ny = y + a.offs[p, t, 1] - a.offs[p, nt, 1]
        elif what < 0.99:
            j = movable[np.random.randint(movable.size)]
            if j == i or a.side[j] != a.side[i]:
                continue
            nx, ny = xs[j], ys[j]
            ox, oy = (-a.middle[j, ts[j]] if a.side[j] == 0 else x), y
            if a.side[i] == 0:
                nx = -a.middle[i, nt]
            allowed = -heat * np.log(np.random.random() + 1e-300)
            jx, jy = xs[j], ys[j]
            old = _around(a, i, x, t, gap, s, 1e300)
            _move(a, i, nx, ny, nt, s)
            mid = _around(a, i, nx, nt, gap, s, 1e300)
            old += _around(a, j, jx, ts[j], gap, s, 1e300)
            _move(a, j, ox, oy, ts[j], s)
            if mid + _around(a, j, ox, ts[j], gap, s, 1e300) <= old + allowed:
                xs[i], ys[i], xs[j], ys[j] = nx, ny, ox, oy
            else:
                _move(a, j, jx, jy, ts[j], s)
                _move(a, i, x, y, t, s)
            continue
        else:
            _many(a, xs, ys, ts, free, x, y, heat, gap, s)
            continue
        if a.side[i] == 0:
            nx = -a.middle[i, nt]
        if nx == x and ny == y and nt == t:
            continue
        limit = _around(a, i, x, t, gap, s, 1e300) - heat * np.log(np.random.random() + 1e-300)
        _move(a, i, nx, ny, nt, s)
        if _around(a, i, nx, nt, gap, s, limit) <= limit:
            xs[i], ys[i], ts[i] = nx, ny, nt
        else:
            _move(a, i, x, y, t, s)
    _polish(a, xs, ys, ts, movable, s)
    return _whole(a, xs, ys, ts, 1.5, s)
