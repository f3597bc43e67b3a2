"""Doors from Python to the lanes of the compiled loops, for tests only."""

from __future__ import annotations

import numpy as np
from numba import njit

from halfsplit.solver.compiled import lanes as L
from halfsplit.solver.compiled.devices import diode
from halfsplit.solver.compiled.elimination import companions, copy, lead, linear
from halfsplit.solver.compiled.newton import newton, room, seat, workspace
from halfsplit.solver.compiled.shooting import drive


@njit
def _diode(rows, out):
    i, _, limit, limited = diode(L.load(rows, 0), L.load(rows, 1), L.load(rows, 2), L.load(rows, 3), L.load(rows, 4))
    L.store(out, 0, i)
    L.store(out, 1, limit)
    L.store(out, 2, L.where(limited, 1.0, 0.0))


def diode_at(volts: float, isat: float, nvt: float, *, mem: float, breakdown: float = 0.0) -> tuple[float, float, bool]:
    """(amps, limited volts, was limited) of a junction that was last limited at mem."""
    rows, out = np.repeat(np.array([[volts], [isat], [nvt], [breakdown], [mem]]), L.WIDTH, axis=1), np.zeros((3, L.WIDTH))
    _diode(rows, out)
    assert np.ptp(out, axis=1).max() == 0.0  # the same in every lane
    return float(out[0, 0]), float(out[1, 0]), bool(out[2, 0])


@njit
def functions(x, out):
    """e^x, ln x, floor, |x| and the square root of every row of x (rows, WIDTH) into out (5, rows, WIDTH)."""
    for i in range(x.shape[0]):
        a = L.load(x, i)
        L.store(out[0], i, L.exponential(a))
        L.store(out[1], i, L.logarithm(L.absolute(a)))
        L.store(out[2], i, L.whole(a))
        L.store(out[3], i, L.absolute(-a))
        L.store(out[4], i, L.root(L.absolute(a)))


@njit
def chosen(x, y, out):
    """Arithmetic and choices of lanes x and y (2, WIDTH): out (6, WIDTH)."""
    a, b = L.load(x, 0), L.load(y, 0)
    less, same = a < b, a == b
    L.store(out, 0, L.where(less, a, b))
    L.store(out, 1, L.where(~less & ~same, 1.0, 0.0))
    L.store(out, 2, 2.0 * a - b / 4.0 + 1)
    L.store(out, 3, L.least(a, b))
    L.store(out, 4, L.most(a, 0.5))
    L.store(out, 5, L.splat(7.0))
    return L.any_of(less), L.any_of(less & same), L.any_of(L.nobody()), L.any_of(less | (a >= b))


@njit
def tickets(queue, many):
    """The next numbers of a queue; a name that is used again keeps its own value (which inlining once lost)."""
    out = np.zeros(many, np.int64)
    who = np.full(many, -1)
    q = 0
    for k in range(many):
        q = L.take_next(queue)
        if q >= many - 1:
            q = 0
        else:
            who[k] = q
        out[k] = q
    for k in range(many):
        q = who[k]
        if q < 0:
            continue
        out[k] += 100 * q
    return out


@njit
def _converges(net, values, hertz, limit):
    lot, work = room(net), workspace(net)
    for w in range(L.WIDTH):
        seat(lot, values, 0, w)
    n = net.diag.shape[0]
    v, blin = np.zeros((n + 1, L.WIDTH)), np.zeros((n + 1, L.WIDTH))
    cap_g, coil_g = np.zeros((net.cap_n.shape[0], L.WIDTH)), np.zeros((net.coil_n.shape[0], L.WIDTH))
    state = np.zeros((cap_g.shape[0] + coil_g.shape[0], L.WIDTH))
    h = 0.01 / hertz
    companions(net, lot, h, cap_g, coil_g)
    linear(work.alin, net, lot, cap_g, coil_g)
    lead(net, work.alin, work.dinv)
    copy(work.a, work.alin)
    drive(blin, state, net, lot, cap_g, coil_g, h, 0.7)
    everyone = L.load(v, 0) < 1.0
    done = newton(v, blin, lot, net, work, everyone, L.nobody(), limit, 1.0)
    return not L.any_of(everyone & ~done)


def passes(net, values, hertz: float) -> int:
    """Newton iterations until a step from empty capacitors converges, at 0.7 of the mains peak; 1000 where it doesn't."""
    return next((k for k in range(1, 240) if _converges(net, values, hertz, k)), 1000)
