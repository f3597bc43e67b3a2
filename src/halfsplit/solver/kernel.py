"""The compiled inner loops: sparse elimination by tape, device equations, Newton steps, one mains cycle, one cold reading.

Everything that costs clarity for speed lives in this file. Scalar per variant; the batches run over variants lo to hi, without holding up other threads. What is costly is done as seldom
as can be: what touches no device is eliminated once a variant, devices are linearised anew only where a slope moved, and then only the rows
that hang on these are eliminated anew.
A device's current and slopes are evaluated at the *limited* junction volts, and "was limited" forbids convergence
(a limited device agrees with its own linear prediction by construction).
"""

from __future__ import annotations

from math import exp, log, sin

import numpy as np
from numba import njit

# Functions that only compiled code calls need no door from Python; making these doors would take a third of the compile time.
_inner = njit(cache=True, error_model="numpy", no_cpython_wrapper=True, no_cfunc_wrapper=True)

VT = 0.02585
GMIN = 1e-12
EXPMAX = 80.0
TERMINALS = np.array([2, 3, 4, 4, 3, 3, 2, 4, 2, 5, 2, 3])  # of each kind of device
BYPASS = 0.008  # a device whose volts moved by less, in thermal volts, is carried by its slopes: 0.8 % of its current, 0.1 % where they are stale
NEWS, NEWS_FLOOR = (
    1e-4,
    1e-14,
)  # a device that carries what was foretold to this share and floor [A] is no news; a dead rail hangs on picoamps
TRIES, CARE = (
    np.array([40, 30, 240, 200]),
    np.array([1.0, 1.0, 0.3, 0.6]),
)  # attempts at a step: iterations, share of every step taken
SLOPE_MOVED = 0.1  # a device is linearised anew when a slope of it moved by more than this share


@njit(cache=True, error_model="numpy")
def _limit(vnew, vold, nvt, vcrit):
    """Junction limiting after the usual logarithmic rule; returns (volts, was_limited)."""
    if vnew > vcrit and abs(vnew - vold) > 2.0 * nvt:
        if vold > 0.0:
            arg = 1.0 + (vnew - vold) / nvt
            v = vold + nvt * log(arg) if arg > 0.0 else vcrit
        else:
            v = nvt * log(vnew / nvt) if vnew > nvt else vnew
        return v, True
    return vnew, False


@njit(cache=True, error_model="numpy")
def _junction(v, isat, nvt):
    """Current and slope of an exponential junction; exactly zero when isat is zero."""
    if isat <= 0.0:
        return 0.0, 0.0
    x = v / nvt
    if x < -40.0:
        return -isat, 0.0
    if x > EXPMAX:
        e = exp(EXPMAX)
        return isat * (e * (1.0 + x - EXPMAX) - 1.0), isat * e / nvt
    e = exp(x)
    return isat * (e - 1.0), isat * e / nvt


@njit(cache=True, error_model="numpy")
def _soft(x, w):
    """Smooth max(x, 0) of width w, and its slope."""
    z = x / w
    if z > 30.0:
        return x, 1.0
    if z < -30.0:
        return 0.0, 0.0
    e = exp(z)
    return w * log(1.0 + e), e / (1.0 + e)


@njit(cache=True, error_model="numpy")
def _clip01(x, w):
    """Smooth clip of x to 0..1, and its slope."""
    a, da = _soft(x, w)
    b, db = _soft(x - 1.0, w)
    return a - b, da - db


@njit(cache=True, error_model="numpy")
def _diode(vd, isat, nvt, bv, mem):
    """Junction with or without breakdown at vd, last limited at mem: current at vd, slope, limited volts, was_limited."""
    vl = vd
    limited = False
    if bv > 0.0 and vd < -bv + 0.2:
        vz, limited = _limit(-vd - bv, -mem - bv, VT, 0.1)
        vl = -(vz + bv)
    elif vd > 0.0 and abs(vd - mem) > 2.0 * nvt:
        vl, limited = _limit(vd, mem, nvt, nvt * log(nvt / (1.4142 * max(isat, 1e-30))))
    i, g = _junction(vl, isat, nvt)
    if bv > 0.0:
        x = -(vl + bv) / VT
        if x > -60.0:
            e = 5e-3 * exp(min(x, EXPMAX))
            i -= e
            g += e / VT
    return i + g * (vd - vl), g, vl, limited


@njit(cache=True, error_model="numpy")
def _device(kind, v, p, mem, cur, jac):
    """Fill cur (5,) and jac (5, 5) at volts v (5,); mem (2,) keeps limited junction volts. Returns was_limited."""
    ends = TERMINALS[kind]
    for i in range(ends):
        cur[i] = 0.0
        for j in range(ends):
            jac[i, j] = 0.0
    limited = False
    if kind == 0:  # junction a k
        if p[0] <= 0.0 and p[2] <= 0.0:
            return False
        i, g, mem[0], limited = _diode(v[0] - v[1], p[0], p[1], p[2], mem[0])
        cur[0] = i
        cur[1] = -i
        jac[0, 0] = g
        jac[0, 1] = -g
        jac[1, 0] = -g
        jac[1, 1] = g
        return limited
    if kind == 1:  # transistor c b e
        s = p[0]
        isat = 1e-14
        vcrit = 0.7
        vbe, l1 = _limit(s * (v[1] - v[2]), mem[0], VT, vcrit)
        vbc, l2 = _limit(s * (v[1] - v[0]), mem[1], VT, vcrit)
        mem[0] = vbe
        mem[1] = vbc
        f, gf = _junction(vbe, isat, VT)
        r, gr = _junction(vbc, isat, VT)
        f += gf * (s * (v[1] - v[2]) - vbe)
        r += gr * (s * (v[1] - v[0]) - vbc)
        bf = p[1]
        br = 2.0
        base = p[2]
        path = p[3]
        if path <= 0.0:  # collector (or base) off: nothing but the base-emitter junction, as it stands with a free collector
            r = 0.0
            gr = 0.0
            bf = bf * (br + 1.0) / (bf + br + 1.0)
        ib = base * (f / bf + r / br)
        it = path * (f - r)
        ic = it - base * r / br
        cur[0] = s * ic
        cur[1] = s * ib
        cur[2] = -s * (ic + ib)
        dic_f = path * gf
        dic_r = -path * gr - base * gr / br
        dib_f = base * gf / bf
        dib_r = base * gr / br
        jac[0, 1] = dic_f + dic_r
        jac[0, 2] = -dic_f
        jac[0, 0] = -dic_r
        jac[1, 1] = dib_f + dib_r
        jac[1, 2] = -dib_f
        jac[1, 0] = -dib_r
        for j in range(3):
            jac[2, j] = -(jac[0, j] + jac[1, j])
        return l1 or l2
    if kind == 2:  # chopper d g s core
        u = (v[1] - v[2] - 0.3) / 2.7
        ul, limited = _limit(u, mem[0], 0.01, 0.03)
        mem[0] = ul
        x, dx = _clip01(ul, 0.01)
        x += dx * (u - ul)
        dx /= 2.7
        watts = p[0]
        vm = p[1]
        vds = v[0] - v[2]
        den = vds * vds + 900.0
        shape = vds / den
        dshape = (900.0 - vds * vds) / (den * den)
        i = watts * x * shape
        di_v = watts * x * dshape
        di_x = watts * shape * dx
        vc = v[3]
        got = vds * vds / den if vds > 0.0 else 0.0
        dgot = 2.0 * vds * 900.0 / (den * den) if vds > 0.0 else 0.0
        vcp = max(vc, 0.0)
        cden = vcp * vcp + vm * vm
        # start-up floor: at zero core volts the stage still pushes a current, or it would never rise
        cs = (vcp + vm) / cden
        dcs = (cden - (vcp + vm) * 2.0 * vcp) / (cden * cden) if vc > 0.0 else 0.0
        k = 0.85 * watts * x * got
        ic = k * cs
        cur[0] = i
        cur[2] = -i
        jac[0, 0] = di_v
        jac[0, 2] = -di_v - di_x
        jac[0, 1] = di_x
        for j in range(3):
            jac[2, j] = -jac[0, j]
        cur[3] = -ic
        dk_x = 0.85 * watts * got * dx * cs
        dk_v = 0.85 * watts * x * dgot * cs
        jac[3, 0] = -dk_v
        jac[3, 1] = -dk_x
        jac[3, 2] = dk_v + dk_x
        jac[3, 3] = -k * dcs
        return limited
    if kind == 3:  # opto a k c e
        nvt = 1.9 * VT
        isat = p[1] * 1e-2 / exp(1.15 / nvt)
        vd = v[0] - v[1]
        vl, limited = _limit(vd, mem[0], nvt, 1.0)
        mem[0] = vl
        i, g = _junction(vl, isat, nvt)
        i += g * (vd - vl)
        cur[0] = i
        cur[1] = -i
        jac[0, 0] = g
        jac[0, 1] = -g
        jac[1, 0] = -g
        jac[1, 1] = g
        vce = v[2] - v[3]
        if vce > 0.0:
            e = exp(-vce / 0.1)
            sat = 1.0 - e
            dsat = e / 0.1
        else:
            sat = vce / 0.1
            dsat = 1.0 / 0.1
            if sat < -0.05:
                sat = -0.05
                dsat = 0.0
        ip = max(i, 0.0)
        ct = p[0]
        cur[2] = ct * ip * sat
        cur[3] = -cur[2]
        gi = ct * g * sat if i > 0.0 else 0.0
        gv = ct * ip * dsat
        jac[2, 0] = gi
        jac[2, 1] = -gi
        jac[2, 2] = gv
        jac[2, 3] = -gv
        for j in range(4):
            jac[3, j] = -jac[2, j]
        return limited
    if kind == 4:  # shunt k a r
        x = p[1] * 1.5 * (v[2] - v[1] - p[0])
        a, da = _soft(x, 1e-3)
        b, db = _soft(x - 0.1, 1e-3)
        y = a - b
        dy = (da - db) * p[1] * 1.5
        vk = v[0] - v[1] - 1.9
        if vk > 0.0:
            e = exp(-vk / 0.05)
            s = 1.0 - e
            ds = e / 0.05
        else:
            s = 0.0
            ds = 1.0 / 0.05 if vk > -0.02 else 0.0
        cur[0] = y * s
        cur[1] = -cur[0]
        jac[0, 0] = y * ds
        jac[0, 2] = dy * s
        jac[0, 1] = -jac[0, 0] - jac[0, 2]
        for j in range(3):
            jac[1, j] = -jac[0, j]
        return False
    if kind == 5:  # regulator in out gnd
        s = 1.0 if p[0] >= 0.0 else -1.0
        vset = abs(p[0])
        vi = s * (v[0] - v[2])
        vo = s * (v[1] - v[2])
        head, dhead = _soft(vi - p[1], 0.05)
        over, dover = _soft(head - vset, 0.01)
        target = head - over
        dt = dhead * (1.0 - dover)
        lim = 1.5 * p[2]
        ask = target - vo
        # coming out of cut-off it is limited like a junction: its slope jumps from nothing to 20 S within millivolts;
        # well past its current limit it asks no more, or the limiting would creep on for ever where nothing changes
        full = 0.05 * lim + 0.06
        al, limited = _limit(min(ask, full), min(mem[0], full), 4e-3, 0.02)
        mem[0] = al
        x, dx = _clip01(al / (0.05 * lim), 4e-3 / (0.05 * lim))
        g = dx / 0.05
        i = lim * x + g * (ask - al)
        # nothing runs uphill: without this the soft corner would draw milliamps out of a dead input
        up = vi - vo
        fall = exp(-up / 0.05) if up > 0.0 else 0.0
        sat = 1.0 - fall if up > 0.0 else 0.0
        dsat = i * fall / 0.05
        i *= sat
        g *= sat
        if vi > 0.0:
            q = vi / vset
            if q > 1.0:
                iq = p[3]
                dq = 0.0
            else:
                iq = p[3] * q
                dq = p[3] / vset
        else:
            iq = 0.0
            dq = 0.0
        cur[0] = s * (i + iq)
        cur[1] = -s * i
        cur[2] = -s * iq
        jac[0, 0] = g * dt + dsat + dq
        jac[0, 1] = -g - dsat
        jac[0, 2] = -(jac[0, 0] + jac[0, 1])
        jac[1, 0] = -g * dt - dsat
        jac[1, 1] = g + dsat
        jac[1, 2] = -(jac[1, 0] + jac[1, 1])
        jac[2, 0] = -dq
        jac[2, 2] = dq
        return limited
    if kind == 6:  # load a b
        x = (v[0] - v[1] - p[2]) / (0.6 * p[1])
        if x < 0.0 and p[2] > 0.0:
            i = 0.0
            g = 1e-9
        elif x > 20.0:
            i = p[0]
            g = 0.0
        elif x < 0.0:
            i = p[0] * x
            g = p[0] / (0.6 * p[1])
        else:
            x8 = x * x * x * x * x * x * x * x
            root = (1.0 + x8) ** 0.125
            i = p[0] * x / root
            g = p[0] / root / (1.0 + x8) / (0.6 * p[1])
        cur[0] = i
        cur[1] = -i
        jac[0, 0] = g
        jac[0, 1] = -g
        jac[1, 0] = -g
        jac[1, 1] = g
        return False
    if kind == 7:  # driver gate gnd fb sense
        on = max(p[0], 0.0)
        d, dd = _clip01((v[2] - v[1] - 0.8) / 2.4, 0.01)
        dd /= 2.4
        trip = p[1]
        z = (v[3] - v[1] - trip) / (0.04 * trip)
        z = min(max(z, -50.0), 50.0)
        t = 1.0 / (1.0 + exp(z))
        dt2 = -t * (1.0 - t) / (0.04 * trip)
        g = 0.1 if p[0] >= 0.0 else 1e-5  # unplugged the gate pin is free; off but powered it is held low
        want = 3.0 * d * t * on
        i = g * (v[0] - v[1] - want)
        a = g * 3.0 * on * dd * t
        b = g * 3.0 * on * d * dt2
        cur[0] = i
        cur[1] = -i
        jac[0, 0] = g
        jac[0, 2] = -a
        jac[0, 3] = -b
        jac[0, 1] = -g + a + b
        for j in range(4):
            jac[1, j] = -jac[0, j]
        return False
    if kind == 8:  # clamp a b
        vd = v[0] - v[1]
        w = 0.02 * p[0]
        vl = vd
        x = (abs(vd) - p[0]) / w
        if x > 8.0:
            x = 8.0
        e = 1e-3 * p[1] * exp(x)
        sgn = 1.0 if vd >= 0.0 else -1.0
        g = e / w
        i = sgn * e + (g * (vd - sgn * (p[0] + 8.0 * w)) if abs(vd) > p[0] + 8.0 * w else 0.0)
        cur[0] = i
        cur[1] = -i
        jac[0, 0] = g
        jac[0, 1] = -g
        jac[1, 0] = -g
        jac[1, 1] = g
        return False
    if kind == 9:  # amplifier in+ in- out v+ v-
        # where it would jump over its balance, or out of its headroom, it is looked at right there: beyond both nothing has a slope
        vd = v[0] - v[1]
        vl = 0.0 if vd * mem[0] < 0.0 else vd
        us = v[3] - p[1] - v[2]
        ul = 0.0 if us < 0.0 < mem[1] else us
        limited = vl != vd or ul != us
        mem[0] = vl
        mem[1] = ul
        x = 1.0 / (1.0 + exp(-min(max(vl / 1e-3, -40.0), 40.0)))
        dx = x * (1.0 - x) / 1e-3
        s, ds = _soft(ul, 0.05)
        fall = exp(-s / 0.5)
        up = p[0] * p[2] * (1.0 - fall)
        dup = p[0] * p[2] * fall / 0.5 * ds
        uk = v[2] - v[4]
        if uk > 0.0:
            fall = exp(-uk / 0.5)
            down = p[0] * p[3] * (1.0 - fall)
            ddown = p[0] * p[3] * fall / 0.5
        else:
            down = p[0] * p[3] * uk / 0.5
            ddown = p[0] * p[3] / 0.5
        cur[3] = x * up + dx * up * (vd - vl) + x * dup * (us - ul)
        cur[4] = -(1.0 - x) * down + dx * down * (vd - vl)
        cur[2] = -cur[3] - cur[4]
        jac[3, 0] = dx * up
        jac[3, 1] = -dx * up
        jac[3, 2] = -x * dup
        jac[3, 3] = x * dup
        jac[4, 0] = dx * down
        jac[4, 1] = -dx * down
        jac[4, 2] = -(1.0 - x) * ddown
        jac[4, 4] = (1.0 - x) * ddown
        for j in range(5):
            jac[2, j] = -(jac[3, j] + jac[4, j])
        return limited
    if kind == 10:  # constant power a b
        x = (v[0] - v[1]) / (0.5 * p[1])
        x4 = x * x * x * x
        if x4 < 1e-3:
            i = x * x * x * (1.0 - 0.5 * x4)
            g = x * x * (3.0 - 3.5 * x4)
        else:
            e = exp(-min(x4, EXPMAX))
            i = (1.0 - e) / x
            g = 4.0 * x * x * e - (1.0 - e) / (x * x)
        i *= p[0] / (0.5 * p[1])
        g *= p[0] / (0.25 * p[1] * p[1])
        cur[0] = i
        cur[1] = -i
        jac[0, 0] = g
        jac[0, 1] = -g
        jac[1, 0] = -g
        jac[1, 1] = g
        return False
    if kind == 11:  # field-effect transistor d g s
        s = p[0]
        f, df = _soft(s * (v[1] - v[2]) - p[1], 2.0 * VT)
        r, dr = _soft(s * (v[1] - v[0]) - p[1], 2.0 * VT)
        cur[0] = s * 0.5 * p[2] * (f * f - r * r)
        cur[2] = -cur[0]
        gf = p[2] * f * df
        gr = p[2] * r * dr
        jac[0, 0] = gr
        jac[0, 1] = gf - gr
        jac[0, 2] = -gf
        for j in range(3):
            jac[2, j] = -jac[0, j]
        return False
    return False


# A network as the functions below take it is a tuple of arrays that don't depend on values (network.Pattern.arrays). Nodes are in elimination
# order; the reference is one node more, so that no stamp has to ask for it. Values lie row after row, each row by column.
#   rowptr, col, diag: where each row begins, the column of each value, the place of each diagonal
#   mid: first value of a row that isn't in the column of a lead node; optr, tgt: what eliminating with a value changes
#   lead (1,): how many nodes are touched by no device and no meter; they come first and are eliminated once for all
#   lin_n, lin_pos, cap_n, cap_pos, coil_n, coil_pos, src_n, src_pos, dev_k, dev_n, dev_pos: ends of each element and places of its stamp


@_inner
def _row(a, dinv, begin, end, col, diag, optr, tgt):
    """Eliminate one row with the rows above it, for its values begin to end."""
    for e in range(begin, end):
        k = col[e]
        f = a[e] * dinv[k]
        a[e] = f
        p = diag[k] + 1
        for u in range(optr[e], optr[e + 1]):
            a[tgt[u]] -= f * a[p]
            p += 1


@_inner
def _factor(a, dinv, net):
    """LU of all rows in place."""
    rowptr, col, diag, _mid, optr, tgt = net[:6]
    for i in range(diag.shape[0]):
        _row(a, dinv, rowptr[i], diag[i], col, diag, optr, tgt)
        dinv[i] = 1.0 / a[diag[i]]


@_inner
def _solve(a, dinv, x, net):
    """x becomes the solution."""
    rowptr, col, diag = net[:3]
    n = diag.shape[0]
    for i in range(n):
        s = x[i]
        for e in range(rowptr[i], diag[i]):
            s -= a[e] * x[col[e]]
        x[i] = s
    for i in range(n - 1, -1, -1):
        s = x[i]
        for e in range(diag[i] + 1, rowptr[i + 1]):
            s -= a[e] * x[col[e]]
        x[i] = s * dinv[i]


@_inner
def _solve_many(a, dinv, x, net):
    """x (nodes, columns) becomes the solutions of all its columns; the inner loops run along them."""
    rowptr, col, diag = net[:3]
    n = diag.shape[0]
    many = x.shape[1]
    for i in range(n):
        for e in range(rowptr[i], diag[i]):
            f = a[e]
            k = col[e]
            for c in range(many):
                x[i, c] -= f * x[k, c]
    for i in range(n - 1, -1, -1):
        for e in range(diag[i] + 1, rowptr[i + 1]):
            f = a[e]
            k = col[e]
            for c in range(many):
                x[i, c] -= f * x[k, c]
        f = dinv[i]
        for c in range(many):
            x[i, c] *= f


@_inner
def _linear(alin, net, lin_w, lin_g, cap_g, coil_g, src_g):
    """Fill alin with everything linear; the last place takes what belongs to the reference."""
    diag, lin_n, lin_pos, cap_pos, coil_pos, src_pos = net[2], net[7], net[8], net[10], net[12], net[14]
    alin[:] = 0.0
    for i in range(diag.shape[0]):
        alin[diag[i]] = GMIN
    for e in range(lin_n.shape[0]):
        for i in range(4):
            gw = lin_g[e] * lin_w[e, i]
            if gw != 0.0:
                for j in range(4):
                    alin[lin_pos[e, 4 * i + j]] += gw * lin_w[e, j]
    for e in range(cap_pos.shape[0]):
        _pair(alin, cap_pos[e], cap_g[e])
    for e in range(coil_pos.shape[0]):
        _pair(alin, coil_pos[e], coil_g[e])
    for e in range(src_pos.shape[0]):
        _pair(alin, src_pos[e], src_g[e])


@_inner
def _pair(a, pos, g):
    a[pos[0]] += g
    a[pos[1]] -= g
    a[pos[2]] -= g
    a[pos[3]] += g


@_inner
def _put(b, ends, amps):
    b[ends[0]] += amps
    b[ends[1]] -= amps


@_inner
def _workspace(net):
    """Room for one variant: alin, a, dinv, redo, x, base, seen, last, slope, drive, sums, mem, cur, jac, vt5, flags, at, blin_before.

    alin: linear part, lead nodes eliminated. a: the same with devices, eliminated. seen: volts at which the devices were last looked at.
    slope, drive, sums: their slopes, what they drive beside these, and that summed by node. flags: slopes fit the last solution; a fits both.
    at: volts at which each device was last looked at. blin_before: what drove the step before.
    """
    diag, dev_k = net[2], net[15]
    n, nd, size = diag.shape[0], dev_k.shape[0], net[1].shape[0]
    return (
        np.zeros(size + 1), np.zeros(size + 1), np.zeros(n), np.zeros(n + 1, np.bool_), np.zeros(n + 1), np.zeros(n), np.zeros(n + 1), np.zeros(n),
        np.zeros((nd, 5, 5)), np.zeros((nd, 5)), np.zeros(n + 1), np.zeros((nd, 2)), np.zeros(5), np.zeros((5, 5)), np.zeros(5), np.zeros(2, np.bool_),
        np.zeros((nd, 5)), np.zeros(n + 1),
    )  # fmt: skip


@_inner
def _refresh(net, work):
    """Eliminate the lead nodes of a freshly filled alin."""
    rowptr, col, diag, mid, optr, tgt, lead = net[:7]
    alin, a, dinv = work[:3]
    for i in range(diag.shape[0]):
        _row(alin, dinv, rowptr[i], mid[i], col, diag, optr, tgt)
        if i < lead[0]:
            dinv[i] = 1.0 / alin[diag[i]]
    a[:] = alin
    work[15][1] = False


@_inner
def _rebuild(net, work):
    """Eliminate anew the marked rows and all that hang on them, with the slopes as they are."""
    rowptr, col, diag, mid, optr, tgt, lead = net[:7]
    dev_k, dev_n, dev_pos = net[15:18]
    alin, a, dinv, redo = work[:4]
    slope = work[8]
    n = diag.shape[0]
    for i in range(lead[0], n):
        if not redo[i]:
            for e in range(mid[i], diag[i]):
                if redo[col[e]]:
                    redo[i] = True
                    break
        if redo[i]:
            for e in range(rowptr[i], rowptr[i + 1]):
                a[e] = alin[e]
    for k in range(dev_k.shape[0]):
        if dev_k[k] == 0:
            g = slope[k, 0, 0]
            if g != 0.0:
                if redo[dev_n[k, 0]]:
                    a[dev_pos[k, 0]] += g
                    a[dev_pos[k, 1]] -= g
                if redo[dev_n[k, 1]]:
                    a[dev_pos[k, 5]] -= g
                    a[dev_pos[k, 6]] += g
            continue
        ends = TERMINALS[dev_k[k]]
        for t in range(ends):
            i = dev_n[k, t]
            if redo[i]:
                for u in range(ends):
                    a[dev_pos[k, 5 * t + u]] += slope[k, t, u]
    for i in range(lead[0], n):
        if redo[i]:
            _row(a, dinv, mid[i], diag[i], col, diag, optr, tgt)
            dinv[i] = 1.0 / a[diag[i]]
            redo[i] = False
    work[15][1] = True


@_inner
def _look(v, dev_p, net, work, anew):
    """Look at every device at volts v and take over what changed; anew: all slopes, else only those that moved.
    Returns 0 where nothing changed, 1 where something did, 2 where a device was limited.

    A device whose volts hardly moved since it was looked at is left as it is, and so is one that carries what its slopes foretold."""
    diag, lead, dev_k, dev_n = net[2], net[6], net[15], net[16]
    redo, seen, slope, drive, sums, mem, cur, jac, vt5 = (
        work[3],
        work[6],
        work[8],
        work[9],
        work[10],
        work[11],
        work[12],
        work[13],
        work[14],
    )
    at, flags = work[16], work[15]
    n = diag.shape[0]
    found = 0
    sums[:] = 0.0
    for k in range(dev_k.shape[0]):
        kind = dev_k[k]
        if kind == 0:
            p = dev_n[k, 0]
            q = dev_n[k, 1]
            vd = v[p] - v[q]
            nvt = dev_p[k, 1]
            bv = dev_p[k, 2]
            g = slope[k, 0, 0]
            if anew or abs(vd - at[k, 0]) > BYPASS * nvt:
                blocks = vd < -40.0 * nvt and (bv <= 0.0 or vd > -bv + 60.0 * VT)
                if blocks and g == 0.0 and not anew:
                    mem[k, 0] = vd
                elif dev_p[k, 0] > 0.0 or bv > 0.0:
                    i, gnew, mem[k, 0], lim = _diode(vd, dev_p[k, 0], nvt, bv, mem[k, 0])
                    at[k, 0] = 1e30 if lim else vd
                    if lim or anew or abs(g * vd - drive[k, 0] - i) > NEWS * abs(i) + NEWS_FLOOR:
                        found = 2 if lim or found == 2 else 1
                        if lim or anew or abs(gnew - g) > SLOPE_MOVED * gnew + 1e-13:
                            g = gnew
                            slope[k, 0, 0] = g
                            redo[p] = True  # the reference has a mark of its own, which nobody reads
                            redo[q] = True
                            flags[1] = False
                        drive[k, 0] = g * vd - i
            sums[p] += drive[k, 0]
            sums[q] -= drive[k, 0]
            continue
        ends = TERMINALS[kind]
        moved = anew
        for t in range(ends):
            vt5[t] = v[dev_n[k, t]]
            far = (
                vt5[t] - at[k, t] if t == 3 else vt5[t] - vt5[0] - (at[k, t] - at[k, 0])
            )  # the fourth may count against the reference
            moved = moved or abs(far) > BYPASS * VT
        if moved:
            lim = _device(kind, vt5, dev_p[k], mem[k], cur, jac)
            news = lim or anew
            for t in range(ends):
                at[k, t] = 1e30 * (t + 1) if lim else vt5[t]
                s = -cur[t] - drive[k, t]
                for u in range(ends):
                    s += slope[k, t, u] * vt5[u]
                news = news or abs(s) > NEWS * abs(cur[t]) + NEWS_FLOOR
            if news:
                found = 2 if lim or found == 2 else 1
                change = lim or anew
                for t in range(ends):
                    if not change:
                        for u in range(ends):
                            if abs(jac[t, u] - slope[k, t, u]) > SLOPE_MOVED * abs(jac[t, u]) + 1e-13:
                                change = True
                for t in range(ends):
                    if change:
                        redo[dev_n[k, t]] = True
                        flags[1] = False
                        for u in range(ends):
                            slope[k, t, u] = jac[t, u]
                    s = -cur[t]
                    for u in range(ends):
                        s += slope[k, t, u] * vt5[u]
                    drive[k, t] = s
        for t in range(ends):
            sums[dev_n[k, t]] += drive[k, t]
    for i in range(lead[0], n):
        seen[i] = v[i]
    return found


@_inner
def _lead_volts(v, base, net, work):
    """Volts of the lead nodes, once those of all others stand."""
    rowptr, col, diag, lead = net[0], net[1], net[2], net[6]
    alin = work[0]
    for i in range(lead[0] - 1, -1, -1):
        s = base[i]
        for e in range(diag[i] + 1, rowptr[i + 1]):
            s -= alin[e] * v[col[e]]
        v[i] = s / alin[diag[i]]  # of this very alin: a cold reading keeps one for each of its steps
    work[15][0] = True


@_inner
def _newton(v, blin, dev_p, net, work, max_iter, care):
    """Solve the step in place of v; care below 1 shortens every step. Returns iterations, negative when it did not converge.

    The first solution takes the slopes of the devices as they were; then only devices whose slopes moved are linearised anew. What they
    carry is always their true current, so stale slopes cost iterations, not accuracy.
    """
    rowptr, col, diag, mid, _optr, _tgt, lead_of = net[:7]
    alin, a, dinv, redo, x, base, seen, last = work[:8]
    sums, flags = work[10], work[15]
    n = diag.shape[0]
    lead = lead_of[0]
    for i in range(n):
        s = blin[i]
        for e in range(rowptr[i], mid[i]):
            s -= alin[e] * base[col[e]]
        base[i] = s
        last[i] = 0.0
    late = 0
    whole = False
    reuse = flags[0]
    for it in range(max_iter):
        limited = False
        if it > 0 or not reuse:
            found = _look(v, dev_p, net, work, it > 7 or not reuse)
            limited = found == 2
            if found == 0 and whole:  # no device saw anything new: the last solution stands
                _lead_volts(v, base, net, work)
                return it + 1
            reuse = True
        if not flags[1]:
            if it == 0:
                for i in range(lead, n):
                    redo[i] = True
            _rebuild(net, work)
        for i in range(lead, n):
            s = base[i] + sums[i]
            for e in range(mid[i], diag[i]):
                s -= a[e] * x[col[e]]
            x[i] = s
        worst = 0.0
        turns = 0
        whole = True
        # the reach shrinks: where a device has no slope on one side of a kink, full steps would jump over it for ever
        reach = 400.0 if it < 5 else max(400.0 * 0.65 ** (it - 4 - late), 0.02)
        # uneven damping breaks the two-step circles that kinked devices fall into
        k4 = it - late
        damp = care * (1.0 if k4 < 9 or k4 % 4 == 0 else (0.5 if k4 % 4 < 3 else 0.25))
        for i in range(n - 1, lead - 1, -1):
            s = x[i]
            for e in range(diag[i] + 1, rowptr[i + 1]):
                s -= a[e] * x[col[e]]
            s *= dinv[i]
            x[i] = s
            d = s - v[i]
            if not (d == d):
                flags[0] = False
                return -1
            # measured from where the devices were last looked at: what lies within the tolerance of that is no news to them
            scale = abs(s - seen[i]) / (5e-5 + 2e-6 * abs(s))
            if scale > worst:
                worst = scale
            if scale > 1.0 and d * last[i] < 0.0:
                turns += 1
            last[i] = d
            if d > reach:
                d = reach
                whole = False
            elif d < -reach:
                d = -reach
                whole = False
            v[i] += damp * d
        whole = whole and damp == 1.0
        if turns == 0 and it > 4:
            late += 1  # one-way progress, as down the tail of an exponential, is no circle: it needs no damping
        # a net that a fault left floating on gigohms wanders by rounding; that is not a failure
        if not limited and (worst < 1.0 or (it > 30 and worst < 300.0)):
            for i in range(lead, n):
                v[i] = x[i]
            _lead_volts(v, base, net, work)
            return it + 1
    flags[0] = False
    return -max_iter


@_inner
def _companions(cap_c, cap_r, coil_l, coil_r, h, cap_g, coil_g):
    """What capacitors and coils are over a step of effective length h."""
    for e in range(cap_g.shape[0]):
        cap_g[e] = 1.0 / (cap_r[e] + h / cap_c[e])
    for e in range(coil_g.shape[0]):
        coil_g[e] = min(1e3, 1.0 / (coil_r[e] + coil_l[e] / h))


@_inner
def _cycle(state, wave, hertz, mono, cap_g, coil_g, v, net, work, cap_c, coil_l, src_dc, src_pk, src_g, dev_p):
    """Run one mains cycle from state (caps then coils); fills wave (steps, nodes) and takes every column of mono (states, any) from a small
    change of the start to what becomes of it at the end.
    Backward Euler: at this step it has the ripple of a rectifier to 1 %, differences of second order lack 5 % where diodes switch.
    Returns steps that missed their tolerance."""
    cap_n, coil_n, src_n = net[9], net[11], net[13]
    n = net[2].shape[0]
    nc = cap_n.shape[0]
    nl = coil_n.shape[0]
    ns = nc + nl
    steps = wave.shape[0]
    h = 1.0 / (hertz * steps)
    a, dinv, mem, flags = work[1], work[2], work[11], work[15]
    v_before = np.empty(n + 1)
    mem_before = np.empty(mem.shape)
    blin = np.empty(n + 1)
    blin_before = work[17]
    mixed = np.empty(n + 1)
    many = mono.shape[1]
    rhs = np.empty((n + 1, many))
    failed = 0
    for m in range(steps):
        s = sin(2.0 * np.pi * (m + 1) / steps)
        blin[:] = 0.0
        for e in range(src_n.shape[0]):
            _put(blin, src_n[e], src_g[e] * (src_dc[e] + src_pk[e] * s))
        for e in range(nc):
            _put(blin, cap_n[e], cap_g[e] * state[e])
        for e in range(nl):
            _put(blin, coil_n[e], -coil_g[e] * coil_l[e] / h * state[nc + e])
        v_before[:] = v
        mem_before[:] = mem
        bad = True
        for attempt in range(4 if failed < 8 else 1):  # where so many steps fail, nothing is periodic: no time for more
            # first straight; then from the step before with the drive moved over piece by piece; then in small steps, for kinked devices
            # circle at full ones; and once from nothing: where the step before lies on the far side of a kink, that way is often clear
            if attempt > 0:
                if attempt < 3:
                    v[:] = v_before
                    mem[:] = mem_before
                else:
                    v[:] = 0.0
                    mem[:] = 0.0
            pieces = 8 if attempt == 1 else 1
            for piece in range(1, pieces + 1):
                for i in range(n):
                    mixed[i] = blin[i] if piece == pieces else blin_before[i] + piece / pieces * (blin[i] - blin_before[i])
                bad = _newton(v, mixed, dev_p, net, work, TRIES[attempt], CARE[attempt]) < 0
            if not bad:
                break
        if bad:  # it stays where it was: half-way volts could be anything, and blow a fuse
            failed += 1
            v[:] = v_before
            mem[:] = mem_before
            flags[0] = False
        blin_before[:] = blin
        rhs[:] = 0.0
        for e in range(ns):
            if e < nc:
                p, q, g = cap_n[e, 0], cap_n[e, 1], cap_g[e]
            else:
                p, q, g = coil_n[e - nc, 0], coil_n[e - nc, 1], -coil_g[e - nc] * coil_l[e - nc] / h
            for c in range(many):
                rhs[p, c] += g * mono[e, c]
                rhs[q, c] -= g * mono[e, c]
        _solve_many(a, dinv, rhs, net)
        rhs[n, :] = 0.0
        for e in range(nc):
            f = h / cap_c[e] * cap_g[e]
            for c in range(many):
                mono[e, c] += f * (rhs[cap_n[e, 0], c] - rhs[cap_n[e, 1], c] - mono[e, c])
        for e in range(nl):
            for c in range(many):
                mono[nc + e, c] = coil_g[e] * (rhs[coil_n[e, 0], c] - rhs[coil_n[e, 1], c] + coil_l[e] / h * mono[nc + e, c])
        for e in range(nc):
            d = v[cap_n[e, 0]] - v[cap_n[e, 1]]
            state[e] += h / cap_c[e] * cap_g[e] * (d - state[e])
        for e in range(nl):
            d = v[coil_n[e, 0]] - v[coil_n[e, 1]]
            state[nc + e] = coil_g[e] * (d + coil_l[e] / h * state[nc + e])
        for i in range(n):
            wave[m, i] = v[i]
    return failed


@_inner
def _inverse(m, out):
    """out = (I - m)^-1 by Gauss-Jordan with pivoting; a direction that never decays gets a plain step instead."""
    n = m.shape[0]
    a = np.zeros((n, n))
    for i in range(n):
        for j in range(n):
            a[i, j] = (1.0 if i == j else 0.0) - m[i, j]
            out[i, j] = 1.0 if i == j else 0.0
    for k in range(n):
        p = k
        for i in range(k + 1, n):
            if abs(a[i, k]) > abs(a[p, k]):
                p = i
        if p != k:
            for j in range(n):
                a[k, j], a[p, j] = a[p, j], a[k, j]
                out[k, j], out[p, j] = out[p, j], out[k, j]
        if abs(a[k, k]) < 1e-10:
            a[k, k] = 1.0
        f = 1.0 / a[k, k]
        for j in range(n):
            a[k, j] *= f
            out[k, j] *= f
        for i in range(n):
            if i != k and a[i, k] != 0.0:
                g = a[i, k]
                for j in range(n):
                    a[i, j] -= g * a[k, j]
                    out[i, j] -= g * out[k, j]


@_inner
def _unlimit(v, dev_p, net, work):
    """Let the memory of every device catch up with volts v."""
    for _ in range(60):
        if _look(v, dev_p, net, work, True) < 2:
            break


@_inner
def _periodic(
    state,
    wave,
    hertz,
    net,
    lin_w,
    lin_g,
    cap_c,
    cap_r,
    coil_l,
    coil_r,
    src_dc,
    src_pk,
    src_g,
    dev_p,
    warm,
    minv,
    use_chord,
    max_cycles,
):
    """Shoot to the mains-periodic state from `state`. Returns cycles used, negative when unresolved.

    wave holds in its last step the volts to begin from. minv gets (I - M)^-1 of the last full iteration. Stops on the size of the Newton update, not on the residual:
    a dead rail with a time constant of minutes has a tiny residual long before it has settled.
    """
    ns = state.shape[0]
    n = net[2].shape[0]
    nc = cap_c.shape[0]
    v = np.zeros(n + 1)
    v[:n] = wave[-1]
    mono = np.zeros((ns, ns))
    lite = np.zeros((ns, 1))  # the sensitivity to one change of all states together: enough to see whether minv still holds
    cap_g = np.empty(nc)
    coil_g = np.empty(coil_l.shape[0])
    _companions(cap_c, cap_r, coil_l, coil_r, 1.0 / (hertz * wave.shape[0]), cap_g, coil_g)
    work = _workspace(net)
    _linear(work[0], net, lin_w, lin_g, cap_g, coil_g, src_g)
    _refresh(net, work)
    _unlimit(v, dev_p, net, work)
    end = state.copy()
    safe = state.copy()
    best = 1e300
    was = 1e300
    step = np.zeros(ns)
    chord = use_chord
    k = 0  # Newton steps so far
    free = warm  # cycles in which the circuit moves by itself
    for cycles in range(1, 1000):
        end[:] = state
        full = not chord and free == 0
        change = mono if full else lite
        for i in range(ns):
            for j in range(change.shape[1]):
                change[i, j] = 1.0 if i == j or not full else 0.0
        failed = _cycle(end, wave, hertz, change, cap_g, coil_g, v, net, work, cap_c, coil_l, src_dc, src_pk, src_g, dev_p)
        if free > 0:
            for i in range(ns):
                state[i] = end[i] if abs(end[i]) < 1e4 else 0.0
            safe[:] = state
            free -= 1
            continue
        if not chord:
            _inverse(mono, minv)
        worst = 0.0
        wild = False
        for i in range(ns):
            step[i] = 0.0
            for j in range(ns):
                step[i] += minv[i, j] * (end[j] - state[j])
            lim = 60.0 + 0.5 * abs(state[i])
            if not (step[i] == step[i]):
                step[i] = end[i] - state[i]
            size = abs(step[i]) / (2e-3 + 5e-4 * abs(state[i])) if i < nc else abs(step[i]) / (2e-5 + 1e-3 * abs(state[i]))
            worst = max(worst, size)
            wild = wild or abs(step[i]) > lim
            step[i] = min(max(step[i], -lim), lim)
        holds = True
        if chord and worst < 1.0:
            for i in range(ns):
                told = 0.0
                for j in range(ns):
                    told += minv[i, j] * (1.0 - lite[j, 0])
                holds = holds and abs(told - 1.0) < 0.5
        if not holds:
            # the circuit got slower than minv knows (a rail fell dead, say): a small step means nothing
            chord = False
            continue
        # a Newton step leaves next to nothing to go, a chord step up to a fifth of itself; the second such step in a row counts
        if worst < (0.3 if chord and was >= 1.0 else 1.0):
            # one step of the hundred that missed its tolerance moves no display; more of them are no solution
            return cycles if failed <= 1 else -cycles
        if chord and (wild or worst > 0.5 * was):
            # these sensitivities are of no use here: a rail whose leak they took for next to nothing would be thrown off by volts
            chord = False
            continue
        # those of an earlier cycle, or of a neighbour, serve as long as they bring it forward quickly
        chord = worst < 0.2 * was
        was = worst
        damp = 1.0
        if k > 10 and worst > 0.9 * best:
            damp = 0.5 if k % 2 == 0 else 0.15
        best = min(best, worst)
        for i in range(ns):
            state[i] += damp * step[i]
        k += 1
        if k == max_cycles:
            return -cycles
        if k % 12 == 0:
            # shooting is going round in circles: let the circuit itself move for some cycles, from where it last moved by itself
            state[:] = safe
            free = 8 if k == 12 else 40
            best = 1e300
            was = 1e300
            chord = False
    return -1000


@njit(cache=True, nogil=True, error_model="numpy")
def periodic_batch(
    lo,
    hi,
    states,
    waves,
    cycles,
    hertz,
    net,
    lin_w,
    lin_g,
    cap_c,
    cap_r,
    coil_l,
    coil_r,
    src_dc,
    src_pk,
    src_g,
    dev_p,
    warm,
    minvs,
    use_chord,
    max_cycles,
):
    """Periodic state of every variant; arrays have the batch axis first, waves hold in their last step the volts to begin from. cycles (batch,) negative = unresolved."""
    for q in range(lo, hi):
        cycles[q] = _periodic(
            states[q],
            waves[q],
            hertz,
            net,
            lin_w[q],
            lin_g[q],
            cap_c[q],
            cap_r[q],
            coil_l[q],
            coil_r[q],
            src_dc[q],
            src_pk[q],
            src_g[q],
            dev_p[q],
            warm,
            minvs[q],
            use_chord[q],
            max_cycles,
        )


@_inner
def _volts(ends, pos, ohms, volts, moves, grid, out, kept, v, mixed, dev_p, net, work, cap_g, coil_g, cap_c, coil_l):
    """Volts that a meter (volts behind ohms) sees across two nodes of a dead circuit, at each of the times.

    First with every capacitor charged, then with all of them empty: where both are the same, no moment between shows anything else
    (what a source behind ohms drives through resistors and capacitors only ever rises). Else, or where it is known that it
    `moves`, step by step from empty capacitors, in backward differences of second order (those of first order read a charging capacitor several
    per cent off). grid, kept, cap_g, coil_g: see _prepared. Returns failed steps, whether it moves.
    """
    cap_n, coil_n = net[9], net[11]
    nc = cap_n.shape[0]
    nl = coil_n.shape[0]
    steps = grid.shape[0]
    alin, mem, flags = work[0], work[11], work[15]
    x = np.zeros(nc + nl)
    x1 = np.zeros(nc + nl)  # one step earlier
    failed = 0
    w = 0
    high = 0.0
    for m in range(0 if moves else -2, steps):
        row = m if m >= 0 else steps + 2 + m  # of kept
        if m <= 0:
            v[:] = 0.0
            mem[:] = 0.0
            flags[0] = False
        mixed[:] = 0.0
        if m >= 0:
            h, near, far = grid[m, 0], grid[m, 1], grid[m, 2]
            for e in range(nc + nl):
                old = x[e]
                x[e] = near * old - far * x1[e]
                x1[e] = old
            for e in range(nc):
                _put(mixed, cap_n[e], cap_g[m, e] * x[e])
            for e in range(nl):
                _put(mixed, coil_n[e], -coil_g[m, e] * coil_l[e] / h * x[nc + e])
        alin[:] = kept[row]
        _pair(alin, pos, 1.0 / ohms)
        flags[1] = False
        _put(mixed, ends, volts / ohms)
        bad = True
        for attempt in range(3):
            if attempt > 0:  # once more from nothing, in small steps
                v[:] = 0.0
                mem[:] = 0.0
                flags[0] = False
            bad = _newton(v, mixed, dev_p, net, work, 80 if attempt == 0 else 240, 1.0 if attempt == 0 else 0.6 / attempt) < 0
            if not bad:
                break
        shown = v[ends[0]] - v[ends[1]]
        if m < 0:
            if m == -1 and not bad and abs(high - shown) <= 2e-4 * abs(high):
                out[:] = high
                return 0, False
            high = np.nan if bad else shown
            continue
        if bad:
            failed += 1
            v[:] = 0.0
            mem[:] = 0.0
        for e in range(nc):
            x[e] += h / cap_c[e] * cap_g[m, e] * (v[cap_n[e, 0]] - v[cap_n[e, 1]] - x[e])
        for e in range(nl):
            x[nc + e] = coil_g[m, e] * (v[coil_n[e, 0]] - v[coil_n[e, 1]] + coil_l[e] / h * x[nc + e])
        if grid[m, 3] > 0.0:
            out[w] = shown
            w += 1
    return failed, True


@_inner
def _prepared(grid, net, work, lin_w, lin_g, cap_c, cap_r, coil_l, coil_r, src_g):
    """The linear part of one variant without the meter, lead nodes eliminated: (steps + 2, values) for every step of a cold reading (grid: its
    effective length, what it takes of the state before and of the one before that, 1 where a time to read at is reached), then
    with the capacitors empty, then with them out of the way; and what capacitors and coils are in each."""
    steps = grid.shape[0]
    kept = np.empty((steps + 2, work[0].shape[0]))
    cap_g = np.empty((steps + 2, cap_c.shape[0]))
    coil_g = np.empty((steps + 2, coil_l.shape[0]))
    for m in range(steps + 2):
        h = grid[m, 0] if m < steps else 1e9
        _companions(cap_c, cap_r, coil_l, coil_r, h, cap_g[m], coil_g[m])
        for e in range(cap_c.shape[0]):
            if m == steps:
                cap_g[m, e] = 1.0 / (cap_r[e] + 1e-6 / cap_c[e])
            elif m > steps:
                cap_g[m, e] = 0.0
        _linear(work[0], net, lin_w, lin_g, cap_g[m], coil_g[m], src_g)
        _refresh(net, work)
        kept[m] = work[0]
    return kept, cap_g, coil_g


@njit(cache=True, nogil=True, error_model="numpy")
def cold_batch(
    lo,
    hi,
    begin,
    ends,
    pos,
    diode,
    voc,
    ranges,
    dvolts,
    dohms,
    dlimit,
    grid,
    shown,
    failed,
    net,
    lin_w,
    lin_g,
    cap_c,
    cap_r,
    coil_l,
    coil_r,
    src_g,
    dev_p,
):
    """Cold readings of every variant q: jobs begin[q] to begin[q + 1], each with the nodes it is read across (ends, red first) and the places of
    these in the network (pos); diode[j] 1 = diode test [V], 0 = autoranging ohms, on a range that the last time fits. shown (jobs, times):
    ohms or volts, inf above the top range. grid: see _prepared."""
    top = ranges.shape[0] - 1
    out = np.empty(shown.shape[1])
    seen = np.zeros(ranges.shape[0])
    v = np.zeros(net[2].shape[0] + 1)
    blin = np.zeros(net[2].shape[0] + 1)
    for q in range(lo, hi):
        if begin[q + 1] == begin[q]:
            continue
        work = _workspace(net)
        kept, cap_g, coil_g = _prepared(grid, net, work, lin_w[q], lin_g[q], cap_c[q], cap_r[q], coil_l[q], coil_r[q], src_g[q])
        for j in range(begin[q], begin[q + 1]):
            seen[:] = 0.0
            k = 2
            moves = False
            for _ in range(8):
                ohms = dohms if diode[j] == 1 else ranges[k]
                volts = dvolts if diode[j] == 1 else voc
                failed[j], moves = _volts(
                    ends[j],
                    pos[j],
                    ohms,
                    volts,
                    moves,
                    grid,
                    out,
                    kept,
                    v,
                    blin,
                    dev_p[q],
                    net,
                    work,
                    cap_g,
                    coil_g,
                    cap_c[q],
                    coil_l[q],
                )
                x = out[-1]
                r = ohms * x / max(volts - x, 1e-9)
                seen[k] = 1.0
                if diode[j] == 1:
                    break
                if r > ranges[k] * 1.02 and k < top and seen[k + 1] == 0.0:
                    k += 1
                elif r < 0.09 * ranges[k] and k > 0 and seen[k - 1] == 0.0:
                    k -= 1
                else:
                    break
            for w in range(shown.shape[1]):
                r = ranges[k] * out[w] / max(voc - out[w], 1e-12)
                if diode[j] == 1:
                    shown[j, w] = out[w] if out[w] <= dlimit else np.inf
                else:
                    shown[j, w] = max(r, 0.0) if r <= ranges[top] * 1.02 else np.inf


@_inner
def _spots(z, ends, net, lin_w, lin_g, cap_y, coil_y, src_y, slopes):
    """Impedance between pairs of nodes of one variant."""
    diag, dev_n, dev_pos = net[2], net[16], net[17]
    n = diag.shape[0]
    a = np.zeros(net[1].shape[0] + 1, np.complex128)
    dinv = np.zeros(n, np.complex128)
    x = np.zeros(n + 1, np.complex128)
    extra = 0.0
    for _ in range(2):
        _linear(a, net, lin_w, lin_g, cap_y, coil_y, src_y)
        for k in range(dev_n.shape[0]):
            for t in range(5):
                for u in range(5):
                    a[dev_pos[k, 5 * t + u]] += slopes[k, t, u]
        for i in range(n):
            a[diag[i]] += extra
        _factor(a, dinv, net)
        good = True
        for i in range(n):
            good = good and abs(dinv[i]) < 1e15
        if good:
            break
        extra = 1e-9  # a row whose slopes happen to cancel is moved off by a nanosiemens
    for p in range(ends.shape[0]):
        x[:] = 0.0
        x[ends[p, 0]] += 1.0
        x[ends[p, 1]] -= 1.0
        x[n] = 0.0
        _solve(a, dinv, x, net)
        z[p] = x[ends[p, 0]] - x[ends[p, 1]]


@njit(cache=True, nogil=True, error_model="numpy")
def spots_batch(lo, hi, z, ends, net, lin_w, lin_g, cap_y, coil_y, src_y, slopes):
    """Impedance between pairs of nodes (ends) with all values fixed: z (batch, pairs) [ohm]; cap_y, coil_y and src_y complex,
    slopes (batch, devices, 5, 5)."""
    for q in range(lo, hi):
        _spots(z[q], ends, net, lin_w[q], lin_g[q], cap_y[q], coil_y[q], src_y[q], slopes[q])


@_inner
def _slopes(wave, net, dev_p, slopes, stride):
    """Device slopes of one variant, averaged over every stride-th step."""
    dev_k, dev_n = net[15], net[16]
    n = net[2].shape[0]
    cur = np.empty(5)
    jac = np.zeros((5, 5))
    v = np.zeros(5)
    mem = np.zeros(2)
    share = stride / wave.shape[0]
    for k in range(dev_k.shape[0]):
        kind = dev_k[k]
        p = dev_p[k]
        ends = TERMINALS[kind]
        s = p[0] if kind == 1 else 1.0
        for m in range(0, wave.shape[0], stride):
            for t in range(ends):
                v[t] = wave[m, dev_n[k, t]] if dev_n[k, t] < n else 0.0
            if kind == 0:
                if p[0] > 0.0 or p[2] > 0.0:
                    vd = v[0] - v[1]
                    if not (vd < -40.0 * p[1] and (p[2] <= 0.0 or vd > -p[2] + 60.0 * VT)):
                        g = share * _diode(vd, p[0], p[1], p[2], vd)[1]
                        slopes[k, 0, 0] += g
                        slopes[k, 1, 1] += g
                        slopes[k, 0, 1] -= g
                        slopes[k, 1, 0] -= g
                continue
            mem[0] = s * (v[1] - v[2]) if kind == 1 else v[0] - v[1]
            mem[1] = s * (v[1] - v[0])
            _device(kind, v, p, mem, cur, jac)
            for i in range(ends):
                for j in range(ends):
                    slopes[k, i, j] += share * jac[i, j]


@njit(cache=True, nogil=True, error_model="numpy")
def slopes_batch(lo, hi, waves, net, dev_p, slopes, stride):
    """Device slopes averaged over every stride-th step of a solved cycle: slopes (batch, devices, 5, 5) [S]."""
    for q in range(lo, hi):
        _slopes(waves[q], net, dev_p[q], slopes[q], stride)
