"""Where the parts stand: many small moves, kept when the drawing gets better. Compiled.

The price of a drawing: length of wire, bends, wires across parts and each other, parts on each other or on the wrong side.
Each net is priced as one lying trunk with a standing drop to each pin, the way rails are drawn.
"""

from __future__ import annotations

import numpy as np
from numba import njit

LEFT, RIGHT, UP, DOWN = 0, 1, 2, 3
BEND = 4.0
AWAY = 9.0  # a wire that starts in the wrong direction
CROSS = 2.5
ALONG = 7.0  # two trunks on one line
OVER = 4.0  # a wire across a part
LAP = 14.0


@njit(cache=True)
def _trunk(n, ty, pins, start, px, py, pd):
    """Price of a net with its trunk at one height."""
    a, b = start[n], start[n + 1]
    lo, hi = 1 << 30, -(1 << 30)
    for k in range(a, b):
        x = px[pins[k]]
        lo, hi = min(lo, x), max(hi, x)
    cost = float(hi - lo)
    for k in range(a, b):
        p = pins[k]
        d = py[p] - ty
        cost += abs(d)
        way = pd[p]
        if way == UP:
            if d < 0:
                cost += AWAY
        elif way == DOWN:
            if d > 0:
                cost += AWAY
        else:
            if d != 0:
                cost += BEND
            if way == LEFT and px[p] == lo and hi > lo:
                cost += AWAY
            if way == RIGHT and px[p] == hi and hi > lo:
                cost += AWAY
    return cost


@njit(cache=True)
def _lay(n, pins, start, px, py, pd, ty, xa, xb, dx):
    """Choose the trunk's height; note where the net runs; its price."""
    a, b = start[n], start[n + 1]
    if b - a < 2:
        ty[n] = 1 << 29
        xa[n], xb[n] = 0, -1
        for k in range(a, b):
            dx[pins[k]] = px[pins[k]]
        return 0.0
    best, at = 1e18, 0
    for k in range(a, b):
        if b - a > 7 and (k - a) % 3 and k != b - 1:
            continue
        y = py[pins[k]]
        c = _trunk(n, y, pins, start, px, py, pd)
        if c < best:
            best, at = c, y
    ty[n] = at
    lo, hi = 1 << 30, -(1 << 30)
    for k in range(a, b):
        p = pins[k]
        x = px[p]
        if py[p] != at:
            if pd[p] == LEFT:
                x -= 1
            elif pd[p] == RIGHT:
                x += 1
        dx[p] = x
        lo, hi = min(lo, x), max(hi, x)
    xa[n], xb[n] = lo, hi
    return best


@njit(cache=True)
def _net_over_part(n, i, pins, start, py, ty, xa, xb, dx, rect):
    """Wires of a net across a part's ground."""
    x0, y0, x1, y1 = rect[i, 0], rect[i, 1], rect[i, 2], rect[i, 3]
    c = 0.0
    t = ty[n]
    if y0 < t < y1 and xa[n] < x1 and xb[n] > x0:
        c += OVER + 0.3 * (min(xb[n], x1) - max(xa[n], x0))
    for k in range(start[n], start[n + 1]):
        p = pins[k]
        x = dx[p]
        if x0 < x < x1:
            lo, hi = min(py[p], t), max(py[p], t)
            if lo < y1 and hi > y0:
                c += OVER + 0.3 * (min(hi, y1) - max(lo, y0))
    return c


@njit(cache=True)
def _nets_cross(n, m, pins, start, py, ty, xa, xb, dx):
    """Crossings of two nets, and trunks on one line."""
    if xb[n] < xa[n] or xb[m] < xa[m]:
        return 0.0
    c = 0.0
    if ty[n] == ty[m] and xa[n] <= xb[m] and xa[m] <= xb[n]:
        c += ALONG
    for a, b in ((n, m), (m, n)):
        t = ty[b]
        for k in range(start[a], start[a + 1]):
            p = pins[k]
            lo, hi = min(py[p], ty[a]), max(py[p], ty[a])
            if lo <= t <= hi and xa[b] <= dx[p] <= xb[b] and lo < hi:
                c += CROSS
    return c


@njit(cache=True)
def _lap(i, j, rect, gap):
    w = min(rect[i, 2], rect[j, 2]) - max(rect[i, 0], rect[j, 0]) + gap
    h = min(rect[i, 3], rect[j, 3]) - max(rect[i, 1], rect[j, 1]) + gap
    if w > 0 and h > 0:
        return LAP + 3.0 * min(w, h) + 0.2 * w * h
    return 0.0


@njit(cache=True)
def _own(i, x, y, t, rect, side, stand, pull, high, edge):
    """What the part's own place and way of standing cost."""
    c = stand[i, t] + pull[i] * x
    if rect[i, 1] < 0:
        c -= 2.0 * rect[i, 1]
    if rect[i, 3] > high:
        c += 2.0 * (rect[i, 3] - high)
    if side[i] == -1 and rect[i, 2] > -edge:
        c += 30.0 + 6.0 * (rect[i, 2] + edge)
    if side[i] == 1 and rect[i, 0] < edge:
        c += 30.0 + 6.0 * (edge - rect[i, 0])
    return c + 0.004 * abs(x)


@njit(cache=True)
def _set(i, x, y, t, hold, first, offs, ways, rect, px, py, pd):
    for k in range(4):
        rect[i, k] = hold[i, t, k] + (x if k % 2 == 0 else y)
    for p in range(first[i], first[i + 1]):
        px[p] = x + offs[p, t, 0]
        py[p] = y + offs[p, t, 1]
        pd[p] = ways[p, t]


@njit(cache=True)
def _around(i, x, y, t, count, nets, gap, hold, first, offs, ways, net, pins, start, side, stand, pull, high, edge, rect, px, py, pd, ty, xa, xb, dx, mine):
    """Everything in the price that part i has to do with; lays its nets anew."""
    _set(i, x, y, t, hold, first, offs, ways, rect, px, py, pd)
    c = _own(i, x, y, t, rect, side, stand, pull, high, edge)
    for j in range(count):
        if j != i:
            c += _lap(i, j, rect, gap)
    for p in range(first[i], first[i + 1]):
        n = net[p]
        if mine[n] == 0:
            mine[n] = 1
            c += _lay(n, pins, start, px, py, pd, ty, xa, xb, dx)
    for p in range(first[i], first[i + 1]):
        n = net[p]
        if mine[n] != 1:
            continue
        mine[n] = 2
        for j in range(count):
            c += _net_over_part(n, j, pins, start, py, ty, xa, xb, dx, rect)
        for m in range(nets):
            if m != n and (mine[m] == 0 or m < n):
                c += _nets_cross(n, m, pins, start, py, ty, xa, xb, dx)
    for m in range(nets):
        if mine[m] == 0:
            c += _net_over_part(m, i, pins, start, py, ty, xa, xb, dx, rect)
    for p in range(first[i], first[i + 1]):
        mine[net[p]] = 0
    return c


@njit(cache=True)
def settle(xs, ys, ts, free, turns, hold, middle, first, offs, ways, net, pins, start, side, stand, pull, high, edge, moves, hot, cool, seed):
    """Move the free parts; xs, ys, ts are changed in place.

    turns: ways of standing of each part. hold[i, t]: ground needed. middle[i, t]: where a part across the boundary is cut.
    first: part -> its first pin. net: pin -> net. pins, start: net -> its pins. hot, cool: first and last willingness.
    """
    np.random.seed(seed)
    count, nets = xs.size, start.size - 1
    movable = np.nonzero(free)[0]
    if movable.size == 0:
        return
    rect = np.zeros((count, 4))
    px = np.zeros(net.size, np.int64)
    py = np.zeros(net.size, np.int64)
    pd = np.zeros(net.size, np.int64)
    dx = np.zeros(net.size, np.int64)
    ty = np.zeros(nets, np.int64)
    xa = np.zeros(nets, np.int64)
    xb = np.zeros(nets, np.int64)
    mine = np.zeros(nets, np.int64)
    for i in range(count):
        _set(i, xs[i], ys[i], ts[i], hold, first, offs, ways, rect, px, py, pd)
    for n in range(nets):
        _lay(n, pins, start, px, py, pd, ty, xa, xb, dx)
    for step in range(moves):
        heat = hot * (cool / hot) ** (step / moves)
        gap = 0.5 + 1.0 * min(1.0, 1.5 * step / moves)
        i = movable[np.random.randint(movable.size)]
        x, y, t = xs[i], ys[i], ts[i]
        nx, ny, nt = x, y, t
        j = -1
        what = np.random.random()
        pin_count = first[i + 1] - first[i]
        if what < 0.34:
            far = max(1, int(14 * (1 - step / moves)))
            nx += np.random.randint(-far, far + 1)
            ny += np.random.randint(-far, far + 1) if np.random.random() < 0.7 else 0
        elif what < 0.80 and pin_count:
            p = first[i] + np.random.randint(pin_count)
            n = net[p]
            size = start[n + 1] - start[n]
            if size < 2:
                continue
            q = pins[start[n] + np.random.randint(size)]
            if first[i] <= q < first[i + 1]:
                continue
            if np.random.random() < 0.3 and turns[i] > 1:
                nt = np.random.randint(turns[i])
            kind = np.random.random()
            if kind < 0.4:
                ny = py[q] - offs[p, nt, 1]
            elif kind < 0.55:
                nx = px[q] - offs[p, nt, 0]
            else:
                way = ways[p, nt]
                off = np.random.randint(0, 12) if kind < 0.9 else np.random.randint(0, 3)
                nx, ny = px[q] - offs[p, nt, 0], py[q] - offs[p, nt, 1]
                if way == LEFT:
                    nx += off
                elif way == RIGHT:
                    nx -= off
                elif np.random.random() < 0.5:
                    ny += off // 3 if way == UP else -(off // 3)
                else:
                    nx += off if np.random.random() < 0.5 else -off
        elif what < 0.88 and turns[i] > 1:
            nt = np.random.randint(turns[i])
            if pin_count:
                p = first[i] + np.random.randint(pin_count)
                nx = x + offs[p, t, 0] - offs[p, nt, 0]
                ny = y + offs[p, t, 1] - offs[p, nt, 1]
        elif what < 0.96:
            j = movable[np.random.randint(movable.size)]
            if j == i or side[j] != side[i]:
                continue
            nx, ny = xs[j], ys[j]
        else:
            # open or close a gap: everything on one side of a line moves together
            _gap_move(xs, ys, ts, free, side, x, y, heat, count, nets, gap, hold, first, offs, ways, net, pins, start, stand, pull, high, edge, rect, px, py, pd, ty, xa, xb, dx)
            continue
        if side[i] == 0:
            nx = -middle[i, nt]
        args = (count, nets, gap, hold, first, offs, ways, net, pins, start, side, stand, pull, high, edge, rect, px, py, pd, ty, xa, xb, dx, mine)
        if j >= 0:
            old = _around(i, x, y, t, *args)
            _around(i, nx, ny, nt, *args)
            mid = _around(i, nx, ny, nt, *args)
            old2 = _around(j, xs[j], ys[j], ts[j], *args)
            jx = -middle[j, ts[j]] if side[j] == 0 else x
            new2 = _around(j, jx, y, ts[j], *args)
            if new2 - old2 + mid - old <= 0 or np.random.random() < np.exp(-(new2 - old2 + mid - old) / heat):
                xs[i], ys[i], ts[i] = nx, ny, nt
                xs[j], ys[j] = jx, y
            else:
                _around(j, xs[j], ys[j], ts[j], *args)
                _around(i, x, y, t, *args)
            continue
        if nx == x and ny == y and nt == t:
            continue
        old = _around(i, x, y, t, *args)
        new = _around(i, nx, ny, nt, *args)
        if new <= old or np.random.random() < np.exp(-(new - old) / heat):
            xs[i], ys[i], ts[i] = nx, ny, nt
        else:
            _around(i, x, y, t, *args)


@njit(cache=True)
def _whole(xs, ys, ts, count, nets, gap, hold, first, offs, ways, net, pins, start, side, stand, pull, high, edge, rect, px, py, pd, ty, xa, xb, dx):
    """The price of the whole drawing."""
    c = 0.0
    for i in range(count):
        _set(i, xs[i], ys[i], ts[i], hold, first, offs, ways, rect, px, py, pd)
        c += _own(i, xs[i], ys[i], ts[i], rect, side, stand, pull, high, edge)
    for i in range(count):
        for j in range(i):
            c += _lap(i, j, rect, gap)
    for n in range(nets):
        c += _lay(n, pins, start, px, py, pd, ty, xa, xb, dx)
    for n in range(nets):
        for j in range(count):
            c += _net_over_part(n, j, pins, start, py, ty, xa, xb, dx, rect)
        for m in range(n):
            c += _nets_cross(n, m, pins, start, py, ty, xa, xb, dx)
    return c


@njit(cache=True)
def _gap_move(xs, ys, ts, free, side, x, y, heat, count, nets, gap, hold, first, offs, ways, net, pins, start, stand, pull, high, edge, rect, px, py, pd, ty, xa, xb, dx):
    keep_x, keep_y = xs.copy(), ys.copy()
    lying = np.random.random() < 0.6
    by = np.random.randint(1, 5) * (1 if np.random.random() < 0.5 else -1)
    kind = np.random.randint(3)
    old = _whole(xs, ys, ts, count, nets, gap, hold, first, offs, ways, net, pins, start, side, stand, pull, high, edge, rect, px, py, pd, ty, xa, xb, dx)
    for i in range(count):
        if not free[i]:
            continue
        if lying:
            # away from the boundary or the plug outward; or one row only
            if side[i] == 0:
                continue
            out = xs[i] <= x if x < 0 else xs[i] >= x
            if kind == 0:
                out = abs(ys[i] - y) < 4
            if out and (side[i] == 2 or (xs[i] < 0) == (x < 0)):
                xs[i] += by
        else:
            out = ys[i] >= y if kind else abs(ys[i] - y) < 2
            if out:
                ys[i] += by
    new = _whole(xs, ys, ts, count, nets, gap, hold, first, offs, ways, net, pins, start, side, stand, pull, high, edge, rect, px, py, pd, ty, xa, xb, dx)
    if new > old and np.random.random() >= np.exp(-(new - old) / heat):
        xs[:] = keep_x
        ys[:] = keep_y
        _whole(xs, ys, ts, count, nets, gap, hold, first, offs, ways, net, pins, start, side, stand, pull, high, edge, rect, px, py, pd, ty, xa, xb, dx)
