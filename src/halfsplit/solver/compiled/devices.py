"""Equations of the nonlinear devices, for eight variants at a time. They are those of docs/families.md.

A device's current and slopes are taken at the *limited* junction volts, and "was limited" forbids convergence
(a limited device agrees with its own linear prediction by construction).
"""

from __future__ import annotations

import numpy as np
from numba import njit

from halfsplit.solver.compiled.lanes import (
    absolute,
    any_of,
    exponential,
    least,
    load,
    logarithm,
    most,
    nobody,
    root,
    splat,
    store,
    where,
)

# Functions that only compiled code calls need no door from Python; making these doors would take a third of the compile time.
rooms = njit(cache=True, error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True)
# Those that make no arrays don't count references either: counting is atomic, and took two thirds of the time.
inner = njit(cache=True, error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True, _nrt=False)

VT = 0.02585
EXPMAX = 80.0
LIT = 1e4  # of an opto's transistor: 0.2 V of saturation where a twentieth of its current is asked for (makers' limit, recalled)
# Of each kind of device but a latch, which has two and a gate that carries nothing: with a table of sixteen the compiler makes every loop over terminals a
# third slower (measured).
TERMINALS = np.array([2, 3, 4, 4, 3, 3, 2, 4, 2, 5, 2, 3, 4, 5, 5])
LATCH, NEVER = 15, 1e9  # see parts/stamper.py
CLOSED = 20.0  # a latch that conducts [S]


@inner
def _limit(vnew, vold, nvt, vcrit):
    """Junction limiting after the usual logarithmic rule; returns (volts, was_limited)."""
    hot = (vnew > vcrit) & (absolute(vnew - vold) > 2.0 * nvt)
    if not any_of(hot):
        return vnew, hot
    arg = 1.0 + (vnew - vold) / nvt
    up = where(arg > 0.0, vold + nvt * logarithm(arg), vcrit)
    away = where(vnew > nvt, nvt * logarithm(vnew / nvt), vnew)
    return where(hot, where(vold > 0.0, up, away), vnew), hot


@inner
def _junction(v, isat, nvt):
    """Current and slope of an exponential junction; exactly zero when isat is zero."""
    x = v / nvt
    e = exponential(least(x, EXPMAX))
    i = isat * (where(x > EXPMAX, e * (1.0 + x - EXPMAX), e) - 1.0)
    low = x < -40.0
    return where(low, -isat, i), where(low, 0.0, isat * e / nvt)


@inner
def _soft(x, w):
    """Smooth max(x, 0) of width w, and its slope."""
    z = x / w
    e = exponential(most(least(z, 30.0), -31.0))
    up, down = z > 30.0, z < -30.0
    return where(up, x, where(down, 0.0, w * logarithm(1.0 + e))), where(up, 1.0, where(down, 0.0, e / (1.0 + e)))


@inner
def _clip01(x, w):
    """Smooth clip of x to 0..1, and its slope."""
    a, da = _soft(x, w)
    b, db = _soft(x - 1.0, w)
    return a - b, da - db


@inner
def diode(vd, isat, nvt, bv, mem):
    """Junction with or without breakdown (bv > 0) at vd, last limited at mem: current at vd, slope, limited volts, was_limited."""
    breaks = bv > 0.0
    deep = breaks & (vd < 0.2 - bv)
    far = (isat > 0.0) & (vd > 0.0) & (absolute(vd - mem) > 2.0 * nvt) & ~deep
    vl = vd
    limited = far & deep
    if any_of(deep):
        vz, limited = _limit(-vd - bv, -mem - bv, VT, splat(0.1))
        limited = limited & deep
        vl = where(deep, -(vz + bv), vl)
    if any_of(far):
        vf, lim = _limit(vd, mem, nvt, nvt * logarithm(nvt / (1.4142 * most(isat, 1e-30))))
        vl = where(far, vf, vl)
        limited = limited | (lim & far)
    i, g = _junction(vl, isat, nvt)
    x = -(vl + bv) / VT
    near = breaks & (x > -60.0)
    if any_of(near):
        e = where(near, 5e-3 * exponential(least(x, EXPMAX)), 0.0)
        i = i - e
        g = g + e / VT
    return i + g * (vd - vl), g, vl, limited


@inner
def _across(cur, jac, i, g):
    """Two terminals: i from the first to the second, g its slope."""
    store(cur, 0, i)
    store(cur, 1, -i)
    store(jac, 0, g)
    store(jac, 1, -g)
    store(jac, 5, -g)
    store(jac, 6, g)


@inner
def _transistor(v, p, mem, cur, jac):
    """c b e; p: sign, gain, base, path."""
    s, base, path = load(p, 0), load(p, 2), load(p, 3)
    isat, br = splat(1e-14), 2.0
    be, bc = s * (load(v, 1) - load(v, 2)), s * (load(v, 1) - load(v, 0))
    # a junction that an open leg took out of play carries nothing, and must not hold up the others by being limited
    off = path <= 0.0
    gone = off & (base <= 0.0)
    vbe, l1 = _limit(be, where(gone, be, load(mem, 0)), splat(VT), splat(0.7))
    vbc, l2 = _limit(bc, where(off, bc, load(mem, 1)), splat(VT), splat(0.7))
    store(mem, 0, vbe)
    store(mem, 1, vbc)
    f, gf = _junction(vbe, isat, splat(VT))
    r, gr = _junction(vbc, isat, splat(VT))
    f = f + gf * (be - vbe)
    r = r + gr * (bc - vbc)
    bf = load(p, 1)
    # collector (or base) off: nothing but the base-emitter junction, as it stands with a free collector
    r = where(off, 0.0, r)
    gr = where(off, 0.0, gr)
    bf = where(off, bf * (br + 1.0) / (bf + br + 1.0), bf)
    ib = base * (f / bf + r / br)
    ic = path * (f - r) - base * r / br
    store(cur, 0, s * ic)
    store(cur, 1, s * ib)
    store(cur, 2, -s * (ic + ib))
    dic_f = path * gf
    dic_r = -path * gr - base * gr / br
    dib_f = base * gf / bf
    dib_r = base * gr / br
    store(jac, 0, -dic_r)
    store(jac, 1, dic_f + dic_r)
    store(jac, 2, -dic_f)
    store(jac, 5, -dib_r)
    store(jac, 6, dib_f + dib_r)
    store(jac, 7, -dib_f)
    for j in range(3):
        store(jac, 10 + j, -(load(jac, j) + load(jac, 5 + j)))
    return l1 | l2


@inner
def _chopper(v, p, mem, cur, jac):
    """d g s core; p: watts, knee."""
    watts, vm = load(p, 0), load(p, 1)
    u = (load(v, 1) - load(v, 2) - 0.3) / 2.7
    ul, limited = _limit(u, load(mem, 0), splat(0.01), splat(0.03))
    store(mem, 0, ul)
    x, dx = _clip01(ul, 0.01)
    x = x + dx * (u - ul)
    dx = dx / 2.7
    vds = load(v, 0) - load(v, 2)
    den = vds * vds + 900.0
    shape = vds / den
    dshape = (900.0 - vds * vds) / (den * den)
    di_v = watts * x * dshape
    di_x = watts * shape * dx
    ahead = vds > 0.0
    got = where(ahead, vds * vds / den, 0.0)
    dgot = where(ahead, 2.0 * vds * 900.0 / (den * den), 0.0)
    vc = load(v, 3)
    vcp = most(vc, 0.0)
    cden = vcp * vcp + vm * vm
    # start-up floor: at zero core volts the stage still pushes a current, or it would never rise
    cs = (vcp + vm) / cden
    dcs = where(vc > 0.0, (cden - (vcp + vm) * 2.0 * vcp) / (cden * cden), 0.0)
    k = 0.85 * watts * x * got
    i = watts * x * shape
    store(cur, 0, i)
    store(cur, 1, 0.0)
    store(cur, 2, -i)
    store(cur, 3, -(k * cs))
    dk_x = 0.85 * watts * got * dx * cs
    dk_v = 0.85 * watts * x * dgot * cs
    store(jac, 0, di_v)
    store(jac, 1, di_x)
    store(jac, 2, -di_v - di_x)
    store(jac, 3, 0.0)
    for j in range(4):
        store(jac, 5 + j, 0.0)
        store(jac, 10 + j, -load(jac, j))
    store(jac, 15, -dk_v)
    store(jac, 16, -dk_x)
    store(jac, 17, dk_v + dk_x)
    store(jac, 18, -(k * dcs))
    return limited


@inner
def _opto(v, p, mem, cur, jac):
    """a k c e; p: ctr, led."""
    ct = load(p, 0)
    nvt = 1.9 * VT
    isat = load(p, 1) * 1e-2 / exponential(splat(1.15 / nvt))
    vd = load(v, 0) - load(v, 1)
    vl, limited = _limit(vd, where(isat > 0.0, load(mem, 0), vd), splat(nvt), splat(1.0))
    store(mem, 0, vl)
    i, g = _junction(vl, isat, splat(nvt))
    i = i + g * (vd - vl)
    # as of a transistor whose base current is the light: K base charges have to be made good before it carries anything
    vce = load(v, 2) - load(v, 3)
    e = exponential(-most(vce, 0.0) / VT)
    den = 1.0 + LIT * e
    flat = 1.0 / (VT * (1.0 + LIT))
    ahead = vce > 0.0
    sat = where(ahead, (1.0 - e) / den, vce * flat)
    dsat = where(ahead, e * (1.0 + LIT) / (VT * den * den), flat)
    lit = i > 0.0
    ip = where(lit, i, 0.0)
    c = ct * ip * sat
    gi = where(lit, ct * g * sat, 0.0)
    gv = ct * ip * dsat
    for j in range(20):
        store(jac, j, 0.0)
    _across(cur, jac, i, g)
    store(cur, 2, c)
    store(cur, 3, -c)
    store(jac, 10, gi)
    store(jac, 11, -gi)
    store(jac, 12, gv)
    store(jac, 13, -gv)
    for j in range(4):
        store(jac, 15 + j, -load(jac, 10 + j))
    return limited


@inner
def _shunt(v, p, mem, cur, jac):
    """k a r; p: volts, scale."""
    steep = load(p, 1) * 1.5
    x = steep * (load(v, 2) - load(v, 1) - load(p, 0))
    # coming out of cut-off it is limited like a junction, and well past its full current it asks no more (see _regulator)
    xl, limited = _limit(least(x, 0.13), least(load(mem, 1), 0.13), splat(4e-3), splat(0.02))
    store(mem, 1, xl)
    a, da = _soft(xl, 1e-3)
    b, db = _soft(xl - 0.1, 1e-3)
    y = a - b + (da - db) * (x - xl)
    dy = (da - db) * steep
    vk = load(v, 0) - load(v, 1) - 1.9
    # out of the flat, where it has no slope, a step falls far below the corner; it is halted there once, or it would circle for ever
    halted = (vk < 0.0) & (load(mem, 0) > 0.0)
    vl = where(halted, 0.0, vk)
    store(mem, 0, vl)
    ahead = vl > 0.0
    e = exponential(-most(vl, 0.0) / 0.05)
    ds = where(ahead, e / 0.05, where(vl > -0.02, 20.0, 0.0))
    s = where(ahead, 1.0 - e, 0.0) + ds * (vk - vl)
    store(cur, 0, y * s)
    store(cur, 1, -(y * s))
    store(cur, 2, 0.0)
    store(jac, 0, y * ds)
    store(jac, 1, -(y * ds) - dy * s)
    store(jac, 2, dy * s)
    for j in range(3):
        store(jac, 5 + j, -load(jac, j))
        store(jac, 10 + j, 0.0)
    return halted | limited


@inner
def _regulator(v, p, mem, cur, jac):
    """in out gnd; p: volts (negative: a negative type), drop, amps, quiescent."""
    s = where(load(p, 0) >= 0.0, 1.0, -1.0)
    vset = absolute(load(p, 0))
    vi, vo = s * (load(v, 0) - load(v, 2)), s * (load(v, 1) - load(v, 2))
    head, dhead = _soft(vi - load(p, 1), 0.05)
    over, dover = _soft(head - vset, 0.01)
    dt = dhead * (1.0 - dover)
    lim = 1.5 * load(p, 2)
    ask = head - over - vo
    # coming out of cut-off it is limited like a junction: its slope jumps from nothing to 20 S within millivolts;
    # well past its current limit it asks no more, or the limiting would creep on for ever where nothing changes
    full = 0.05 * lim + 0.06
    al, limited = _limit(least(ask, full), least(load(mem, 0), full), splat(4e-3), splat(0.02))
    store(mem, 0, al)
    x, dx = _clip01(al / (0.05 * lim), 4e-3 / (0.05 * lim))
    g = dx / 0.05
    i = lim * x + g * (ask - al)
    # under its dropout it gives nothing: without this its soft corners would hold a dead rail at 35 mV
    share = head / (head + 3e-4)
    there = share * share
    dfade = 2.0 * i * share * 3e-4 / ((head + 3e-4) * (head + 3e-4)) * dhead
    i = i * there
    g = g * there
    # nothing runs uphill: without this the soft corner would draw milliamps out of a dead input
    up = vi - vo
    ahead = up > 0.0
    fall = where(ahead, exponential(-most(up, 0.0) / 0.05), 0.0)
    sat = where(ahead, 1.0 - fall, 0.0)
    dsat = i * fall / 0.05
    i = i * sat
    g = g * sat
    dfade = dfade * sat
    iq0 = load(p, 3)
    q = vi / vset
    part = (vi > 0.0) & (q <= 1.0)
    iq = where(vi > 0.0, where(q > 1.0, iq0, iq0 * q), 0.0)
    dq = where(part, iq0 / vset, 0.0)
    store(cur, 0, s * (i + iq))
    store(cur, 1, -(s * i))
    store(cur, 2, -(s * iq))
    a, b = g * dt + dfade + dsat + dq, -g - dsat
    store(jac, 0, a)
    store(jac, 1, b)
    store(jac, 2, -(a + b))
    c, d = -(g * dt) - dfade - dsat, g + dsat
    store(jac, 5, c)
    store(jac, 6, d)
    store(jac, 7, -(c + d))
    store(jac, 10, -dq)
    store(jac, 11, 0.0)
    store(jac, 12, dq)
    return limited


@inner
def _load(v, p, mem, cur, jac):
    """a b; p: amps, volts, above."""
    amps, wide, above = load(p, 0), 0.6 * load(p, 1), load(p, 2)
    x = (load(v, 0) - load(v, 1) - above) / wide
    y = most(least(x, 20.0), 0.0)
    x8 = y * y
    x8 = x8 * x8
    x8 = x8 * x8
    bend = root(root(root(1.0 + x8)))
    i = amps * y / bend
    g = amps / bend / (1.0 + x8) / wide
    none, back, full = (x < 0.0) & (above > 0.0), x < 0.0, x > 20.0
    i = where(full, amps, where(none, 0.0, where(back, amps * x, i)))
    g = where(full, 0.0, where(none, 1e-9, where(back, amps / wide, g)))
    _across(cur, jac, i, g)
    return nobody()


@inner
def _driver(v, p, mem, cur, jac):
    """gate gnd fb sense; p: on (-1 unplugged), trip, fb volts of no drive, fb volts from there to full drive (negative: drives below)."""
    state, trip, low, span = load(p, 0), load(p, 1), load(p, 2), load(p, 3)
    on = most(state, 0.0)
    d, dd = _clip01((load(v, 2) - load(v, 1) - low) / span, 0.01)
    dd = dd / span
    z = most(least((load(v, 3) - load(v, 1) - trip) / (0.04 * trip), 50.0), -50.0)
    t = 1.0 / (1.0 + exponential(z))
    dt = -(t * (1.0 - t)) / (0.04 * trip)
    g = where(state >= 0.0, 0.1, 1e-5)  # unplugged the gate pin is free; off but powered it is held low
    i = g * (load(v, 0) - load(v, 1) - 3.0 * d * t * on)
    a = g * 3.0 * on * dd * t
    b = g * 3.0 * on * d * dt
    store(cur, 0, i)
    store(cur, 1, -i)
    store(cur, 2, 0.0)
    store(cur, 3, 0.0)
    store(jac, 0, g)
    store(jac, 1, a + b - g)
    store(jac, 2, -a)
    store(jac, 3, -b)
    for j in range(4):
        store(jac, 5 + j, -load(jac, j))
        store(jac, 10 + j, 0.0)
        store(jac, 15 + j, 0.0)
    return nobody()


@inner
def _clamp(v, p, mem, cur, jac):
    """a b; p: volts, scale."""
    volts = load(p, 0)
    vd = load(v, 0) - load(v, 1)
    w = 0.02 * volts
    x = (absolute(vd) - volts) / w
    e = 1e-3 * load(p, 1) * exponential(least(x, 8.0))
    sign = where(vd >= 0.0, 1.0, -1.0)
    g = e / w
    i = sign * e + where(x > 8.0, g * (vd - sign * (volts + 8.0 * w)), 0.0)
    _across(cur, jac, i, g)
    return nobody()


@inner
def _amplifier(v, p, mem, cur, jac):
    """in+ in- out v+ v-; p: amps' share, headroom, source amps, sink amps."""
    share, full_up, full_down = load(p, 0), load(p, 2), load(p, 3)
    # where it would jump over its balance, or out of its headroom, it is looked at right there: beyond both nothing has a slope
    vd = load(v, 0) - load(v, 1)
    over = vd * load(mem, 0) < 0.0
    vl = where(over, 0.0, vd)
    us = load(v, 3) - load(p, 1) - load(v, 2)
    out = (us < 0.0) & (load(mem, 1) > 0.0)
    ul = where(out, 0.0, us)
    store(mem, 0, vl)
    store(mem, 1, ul)
    x = 1.0 / (1.0 + exponential(-most(least(vl / 1e-3, 40.0), -40.0)))
    dx = x * (1.0 - x) / 1e-3
    s, ds = _soft(ul, 0.05)
    fall = exponential(-s / 0.5)
    up = share * full_up * (1.0 - fall)
    dup = share * full_up * fall / 0.5 * ds
    uk = load(v, 2) - load(v, 4)
    ahead = uk > 0.0
    fall = exponential(-most(uk, 0.0) / 0.5)
    down = share * full_down * where(ahead, 1.0 - fall, uk / 0.5)
    ddown = share * full_down / 0.5 * where(ahead, fall, 1.0)
    high = x * up + dx * up * (vd - vl) + x * dup * (us - ul)
    low = dx * down * (vd - vl) - (1.0 - x) * down
    for j in range(25):
        store(jac, j, 0.0)
    store(cur, 0, 0.0)
    store(cur, 1, 0.0)
    store(cur, 2, -(high + low))
    store(cur, 3, high)
    store(cur, 4, low)
    store(jac, 15, dx * up)
    store(jac, 16, -(dx * up))
    store(jac, 17, -(x * dup))
    store(jac, 18, x * dup)
    store(jac, 20, dx * down)
    store(jac, 21, -(dx * down))
    store(jac, 22, -((1.0 - x) * ddown))
    store(jac, 24, (1.0 - x) * ddown)
    for j in range(5):
        store(jac, 10 + j, -(load(jac, 15 + j) + load(jac, 20 + j)))
    return over | out


@inner
def _constant_power(v, p, mem, cur, jac):
    """a b; p: watts, volts."""
    watts, half = load(p, 0), 0.5 * load(p, 1)
    x = (load(v, 0) - load(v, 1)) / half
    x4 = x * x * x * x
    low = x4 < 1e-3
    safe = where(low, 1.0, x)
    e = exponential(-least(x4, EXPMAX))
    i = where(low, x * x * x * (1.0 - 0.5 * x4), (1.0 - e) / safe)
    g = where(low, x * x * (3.0 - 3.5 * x4), 4.0 * x * x * e - (1.0 - e) / (safe * safe))
    _across(cur, jac, i * watts / half, g * watts / (half * half))
    return nobody()


@inner
def _field_effect(v, p, mem, cur, jac):
    """d g s; p: sign, threshold, A/V^2."""
    s, threshold, k = load(p, 0), load(p, 1), load(p, 2)
    f, df = _soft(s * (load(v, 1) - load(v, 2)) - threshold, 2.0 * VT)
    r, dr = _soft(s * (load(v, 1) - load(v, 0)) - threshold, 2.0 * VT)
    i = s * 0.5 * k * (f * f - r * r)
    gf, gr = k * f * df, k * r * dr
    store(cur, 0, i)
    store(cur, 1, 0.0)
    store(cur, 2, -i)
    store(jac, 0, gr)
    store(jac, 1, gf - gr)
    store(jac, 2, -gf)
    for j in range(3):
        store(jac, 5 + j, 0.0)
        store(jac, 10 + j, -load(jac, j))
    return nobody()


@inner
def _converter(v, p, mem, cur, jac):
    """in in- out out-; p: volts, drop, amps, efficiency. The output of a regulator (see there), its input drawn as power."""
    vset, efficiency = load(p, 0), load(p, 3)
    vi, vo = load(v, 0) - load(v, 1), load(v, 2) - load(v, 3)
    head, dhead = _soft(vi - load(p, 1), 0.05)
    over, dover = _soft(head - vset, 0.01)
    dt = dhead * (1.0 - dover)
    lim = 1.5 * load(p, 2)
    ask = head - over - vo
    full = 0.05 * lim + 0.06
    al, limited = _limit(least(ask, full), least(load(mem, 0), full), splat(4e-3), splat(0.02))
    store(mem, 0, al)
    x, dx = _clip01(al / (0.05 * lim), 4e-3 / (0.05 * lim))
    g = dx / 0.05
    i = lim * x + g * (ask - al)
    share = head / (head + 3e-4)
    there = share * share
    dfade = 2.0 * i * share * 3e-4 / ((head + 3e-4) * (head + 3e-4)) * dhead
    i = i * there
    g = g * there
    # amps in for amps out: the ratio of the volts over the efficiency, round the corner at one
    low = most(vi, 0.1)
    q = most(vo, 0.0) / (efficiency * low)
    q8 = most(least(q, 20.0), 0.0)
    q8 = q8 * q8
    q8 = q8 * q8
    q8 = q8 * q8
    bend = root(root(root(1.0 + q8)))
    k = q / bend
    dk = 1.0 / bend / (1.0 + q8)
    dk_i = where(vi > 0.1, -dk * q / low, 0.0)
    dk_o = where(vo > 0.0, dk / (efficiency * low), 0.0)
    di, do = g * dt + dfade, -g
    a, b = k * di + i * dk_i, k * do + i * dk_o
    store(cur, 0, k * i)
    store(cur, 1, -(k * i))
    store(cur, 2, -i)
    store(cur, 3, i)
    store(jac, 0, a)
    store(jac, 1, -a)
    store(jac, 2, b)
    store(jac, 3, -b)
    store(jac, 10, -di)
    store(jac, 11, di)
    store(jac, 12, -do)
    store(jac, 13, do)
    for j in range(4):
        store(jac, 5 + j, -load(jac, j))
        store(jac, 15 + j, -load(jac, 10 + j))
    return limited


@inner
def _mover(v, p, mem, cur, jac):
    """d g s o r; p: siemens, efficiency, knee and top of o against r."""
    siemens, share, knee, top = load(p, 0), load(p, 1), load(p, 2), load(p, 3)
    u = (load(v, 1) - load(v, 2) - 0.3) / 2.7
    ul, limited = _limit(u, load(mem, 0), splat(0.01), splat(0.03))
    store(mem, 0, ul)
    x, dx = _clip01(ul, 0.01)
    x = x + dx * (u - ul)
    dx = dx / 2.7
    vo = load(v, 3) - load(v, 4)
    f, df = _clip01((top - vo) / (0.1 * top), 0.01)
    df = -df / (0.1 * top)
    vi = load(v, 0) - load(v, 2)
    ahead = vi > 0.0
    vi = where(ahead, vi, 0.0)
    i = siemens * x * f * vi
    di_v = where(ahead, siemens * x * f, 0.0)
    di_x = siemens * dx * f * vi
    di_o = siemens * x * df * vi
    # at zero output volts it still pushes a current, or it would never rise
    vp = most(vo, 0.0)
    den = vp * vp + knee * knee
    c = (vp + knee) / den
    dc = where(vo > 0.0, (den - (vp + knee) * 2.0 * vp) / (den * den), 0.0)
    k = share * vi * c
    out = k * i
    dk_v = share * c * (i + vi * di_v)
    dk_x = k * di_x
    dk_o = k * di_o + share * vi * i * dc
    store(cur, 0, i)
    store(cur, 1, 0.0)
    store(cur, 2, -i)
    store(cur, 3, -out)
    store(cur, 4, out)
    for j in range(25):
        store(jac, j, 0.0)
    store(jac, 0, di_v)
    store(jac, 1, di_x)
    store(jac, 2, -di_v - di_x)
    store(jac, 3, di_o)
    store(jac, 4, -di_o)
    store(jac, 15, -dk_v)
    store(jac, 16, -dk_x)
    store(jac, 17, dk_v + dk_x)
    store(jac, 18, -dk_o)
    store(jac, 19, dk_o)
    for j in range(5):
        store(jac, 10 + j, -load(jac, j))
        store(jac, 20 + j, -load(jac, 15 + j))
    return limited


@inner
def _cell(v, p, mem, cur, jac):
    """d s r and two more; p: amps, reference, limit, boost. A switch (d to s) and its freewheel diode (d to r) with the coil at d, averaged: the share
    D = (r - d)/(r - s) of the coil's amps goes to s, the rest to r. Buck: more terminals gnd and one unused; reference is held by (s - gnd)/D,
    limit by r - d. Boost: feedback and over-volt pin, both against s."""
    amps, reference, limit = load(p, 0), load(p, 1), load(p, 2)
    boost = load(p, 3) > 0.5
    vd, vs, vr = load(v, 0), load(v, 1), load(v, 2)
    wide = vr - vs
    w = most(wide, 1.0)
    q = (vr - vd) / w
    share, dq = _clip01(q, 0.01)
    bent = where(wide > 1.0, dq * q / w, 0.0)
    share_d, share_s, share_r = -dq / w, bent, dq / w - bent
    part = where(boost, 1.0, share + 2e-4)
    x = where(boost, load(v, 3) - vs, vs - load(v, 3))
    one = where(boost, 0.0, x / (part * part))  # how the division moves what is held
    # all or nothing within three hundredths of the reference, and half a hundredth of the limit
    per = -1.0 / (0.03 * reference)
    ya = (reference - x / part) * -per
    back = where(boost, load(v, 4) - vs, vr - vd)
    per_b = -1.0 / (0.005 * limit)
    yb = (limit - back) * -per_b
    la, lim_a = _limit(least(ya, 1.15), least(load(mem, 0), 1.15), splat(0.04), splat(0.1))
    lb, lim_b = _limit(least(yb, 1.15), least(load(mem, 1), 1.15), splat(0.04), splat(0.1))
    store(mem, 0, la)
    store(mem, 1, lb)
    fa, ga = _clip01(la, 0.03)
    fb, gb = _clip01(lb, 0.03)
    fa = fa + ga * (least(ya, 1.15) - la)
    fb = fb + gb * (least(yb, 1.15) - lb)
    room = vd - vs
    ahead = room > 0.0
    fall = where(ahead, exponential(-most(room, 0.0) / 8.0), 1.0)
    h, dh = 1.0 - fall, where(ahead, fall / 8.0, 0.0)
    i = amps * fa * fb * h
    on_a, on_b, on_h = amps * ga * fb * h, amps * fa * gb * h, amps * fa * fb * dh
    # slopes of ya and yb to each terminal
    a_d, a_s, a_r = -per * one * share_d, per * where(boost, -1.0, 1.0 / part) - per * one * share_s, -per * one * share_r
    a_3 = per * where(boost, 1.0, -1.0 / part)
    b_d, b_s = where(boost, 0.0, -per_b), where(boost, -per_b, 0.0)
    b_r, b_4 = where(boost, 0.0, per_b), where(boost, per_b, 0.0)
    g_d = on_a * a_d + on_b * b_d + on_h
    g_s = on_a * a_s + on_b * b_s - on_h
    g_r = on_a * a_r + on_b * b_r
    g_3, g_4 = on_a * a_3, on_b * b_4
    for j in range(25):
        store(jac, j, 0.0)
    store(cur, 0, i)
    store(cur, 1, -(share * i))
    store(cur, 2, -((1.0 - share) * i))
    store(cur, 3, 0.0)
    store(cur, 4, 0.0)
    store(jac, 0, g_d)
    store(jac, 1, g_s)
    store(jac, 2, g_r)
    store(jac, 3, g_3)
    store(jac, 4, g_4)
    store(jac, 5, -(share * g_d) - i * share_d)
    store(jac, 6, -(share * g_s) - i * share_s)
    store(jac, 7, -(share * g_r) - i * share_r)
    store(jac, 8, -(share * g_3))
    store(jac, 9, -(share * g_4))
    for j in range(5):
        store(jac, 10 + j, -(load(jac, j) + load(jac, 5 + j)))
    return lim_a | lim_b


@inner
def device(kind, v, p, mem, cur, jac):
    """Fill cur (5, WIDTH) and jac (25, WIDTH, terminal by terminal) at volts v (5, WIDTH); p (4, WIDTH): its numbers, mem (2, WIDTH) keeps limited
    junction volts. Returns the lanes that were limited. Junctions, kind 0, are looked at by `diode`; latches stand still while a step is solved."""
    if kind == 1:
        return _transistor(v, p, mem, cur, jac)
    if kind == 2:
        return _chopper(v, p, mem, cur, jac)
    if kind == 3:
        return _opto(v, p, mem, cur, jac)
    if kind == 4:
        return _shunt(v, p, mem, cur, jac)
    if kind == 5:
        return _regulator(v, p, mem, cur, jac)
    if kind == 6:
        return _load(v, p, mem, cur, jac)
    if kind == 7:
        return _driver(v, p, mem, cur, jac)
    if kind == 8:
        return _clamp(v, p, mem, cur, jac)
    if kind == 9:
        return _amplifier(v, p, mem, cur, jac)
    if kind == 10:
        return _constant_power(v, p, mem, cur, jac)
    if kind == 12:
        return _converter(v, p, mem, cur, jac)
    if kind == 13:
        return _mover(v, p, mem, cur, jac)
    if kind == 14:
        return _cell(v, p, mem, cur, jac)
    return _field_effect(v, p, mem, cur, jac)
