"""The way of one wire over the grid, compiled: cheapest path from what is already joined to the next pin.

False joins can't happen: a wire may meet another net only where that one runs straight, and must cross it straight.
"""

from __future__ import annotations

import numpy as np
from numba import njit

STEP, BEND, CROSS, PUSH = 10, 28, 24, 700
DX = np.array([1, -1, 0, 0])
DY = np.array([0, 0, 1, -1])


@njit(cache=True)
def _edge(he, ve, x, y, d):
    """Net on the edge that leaves a point in one direction; 0: none."""
    if d == 0:
        return he[y, x]
    if d == 1:
        return he[y, x - 1]
    if d == 2:
        return ve[y, x]
    return ve[y - 1, x]


@njit(cache=True)
def _foreign(he, ve, x, y, net):
    """0: no other net here; 1: one runs through lying; 2: standing; 3: it ends or turns here."""
    lying = 0
    standing = 0
    for d in range(4):
        m = _edge(he, ve, x, y, d)
        if m != 0 and m != net:
            if d < 2:
                lying += 1
            else:
                standing += 1
    if lying == 0 and standing == 0:
        return 0
    if lying == 2 and standing == 0 and he[y, x] == he[y, x - 1]:
        return 1
    if standing == 2 and lying == 0 and ve[y, x] == ve[y - 1, x]:
        return 2
    return 3


@njit(cache=True)
def _push(heap_f, heap_s, size, f, s):
    i = size
    heap_f[i], heap_s[i] = f, s
    while i > 0:
        up = (i - 1) >> 1
        if heap_f[up] <= heap_f[i]:
            break
        heap_f[up], heap_f[i] = heap_f[i], heap_f[up]
        heap_s[up], heap_s[i] = heap_s[i], heap_s[up]
        i = up
    return size + 1


@njit(cache=True)
def _pop(heap_f, heap_s, size):
    f, s = heap_f[0], heap_s[0]
    size -= 1
    heap_f[0], heap_s[0] = heap_f[size], heap_s[size]
    i = 0
    while True:
        c = 2 * i + 1
        if c >= size:
            break
        if c + 1 < size and heap_f[c + 1] < heap_f[c]:
            c += 1
        if heap_f[i] <= heap_f[c]:
            break
        heap_f[c], heap_f[i] = heap_f[i], heap_f[c]
        heap_s[c], heap_s[i] = heap_s[i], heap_s[c]
        i = c
    return f, s, size


@njit(cache=True)
def find(net, sources, targets, owner, soft, he, ve, force, cost, back, stamp, mark, heap_f, heap_s):
    """Path as an array of points from a target back to a source; empty: none.

    owner: -1 nobody may enter, 0 free, else only this net. soft: extra price of each point. he, ve: net on each edge.
    force: other wires may be pushed aside. cost, back, stamp: working room by point and direction; mark: the present stamp.
    """
    high, wide = owner.shape
    x_lo, x_hi, y_lo, y_hi = 1 << 30, -1, 1 << 30, -1
    goal = {np.int64(-1)}
    for k in range(targets.shape[0]):
        x, y = targets[k]
        goal.add(np.int64(y * wide + x))
        x_lo, x_hi = min(x_lo, x), max(x_hi, x)
        y_lo, y_hi = min(y_lo, y), max(y_hi, y)
    size = 0
    limit = heap_f.size - 8
    for k in range(sources.shape[0]):
        x, y = sources[k]
        if _foreign(he, ve, x, y, net) != 0 and not force:
            continue
        h = STEP * (max(0, x_lo - x, x - x_hi) + max(0, y_lo - y, y - y_hi))
        for d in range(4):
            s = (y * wide + x) * 4 + d
            cost[s], back[s], stamp[s] = 0, -1, mark
            size = _push(heap_f, heap_s, size, h, s)
    while size > 0:
        f, s, size = _pop(heap_f, heap_s, size)
        point, d = s >> 2, s & 3
        x, y = point % wide, point // wide
        g = cost[s]
        if f > g + STEP * (max(0, x_lo - x, x - x_hi) + max(0, y_lo - y, y - y_hi)):
            continue
        here = _foreign(he, ve, x, y, net)
        if point in goal and (here == 0 or force):
            out = np.zeros((4096, 2), np.int64)
            count = 0
            while s >= 0 and count < 4096:
                p = s >> 2
                out[count, 0], out[count, 1] = p % wide, p // wide
                count += 1
                s = back[s]
            return out[:count]
        for e in range(4):
            if e != d and here != 0 and not force and back[s] >= 0:
                continue
            if back[s] >= 0 and (e ^ 1) == d:
                continue
            if back[s] < 0 and e != d:
                continue
            nx, ny = x + DX[e], y + DY[e]
            if nx < 1 or ny < 1 or nx >= wide - 1 or ny >= high - 1:
                continue
            o = owner[ny, nx]
            if o != 0 and o != net:
                continue
            c = g + STEP + soft[ny, nx]
            m = _edge(he, ve, x, y, e)
            if m != 0 and m != net:
                if not force:
                    continue
                c += PUSH
            if e != d:
                c += BEND
                if here != 0:
                    c += PUSH
            there = _foreign(he, ve, nx, ny, net)
            if there != 0:
                if (there == 1 and e >= 2) or (there == 2 and e < 2):
                    c += CROSS
                elif force:
                    c += PUSH
                else:
                    continue
            ns = (ny * wide + nx) * 4 + e
            if stamp[ns] != mark or c < cost[ns]:
                cost[ns], back[ns], stamp[ns] = c, s, mark
                if size < limit:
                    size = _push(
                        heap_f, heap_s, size, c + STEP * (max(0, x_lo - nx, nx - x_hi) + max(0, y_lo - ny, ny - y_hi)), ns
                    )
    return np.zeros((0, 2), np.int64)
