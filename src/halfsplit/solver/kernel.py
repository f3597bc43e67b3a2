"""The compiled inner loops: sparse elimination by tape, device equations, Newton steps, one mains cycle, one cold reading.

Everything that costs clarity for speed lives in this file. Scalar per variant, parallel over variants.
A device's current and slopes are evaluated at the *limited* junction volts, and "was limited" forbids convergence
(a limited device agrees with its own linear prediction by construction).
"""

from __future__ import annotations

from math import exp, log, sin

import numpy as np
from numba import njit, prange

VT = 0.02585
GMIN = 1e-12
EXPMAX = 80.0


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
def _device(kind, v, p, mem, cur, jac):
    """Fill cur (5,) and jac (5, 5) at volts v (5,); mem (2,) keeps limited junction volts. Returns was_limited."""
    for i in range(5):
        cur[i] = 0.0
        for j in range(5):
            jac[i, j] = 0.0
    limited = False
    if kind == 0:  # junction a k
        isat = p[0]
        nvt = p[1]
        bv = p[2]
        vd = v[0] - v[1]
        if isat <= 0.0 and bv <= 0.0:
            return False
        vcrit = nvt * log(nvt / (1.4142 * max(isat, 1e-30)))
        vl = vd
        if bv > 0.0 and vd < -bv + 0.2:
            vz, lim = _limit(-vd - bv, -mem[0] - bv, VT, 0.1)
            vl = -(vz + bv)
            limited = lim
        elif vd > 0.0:
            vl, limited = _limit(vd, mem[0], nvt, vcrit)
        mem[0] = vl
        i, g = _junction(vl, isat, nvt)
        if bv > 0.0:
            x = -(vl + bv) / VT
            if x > -60.0:
                if x > EXPMAX:
                    x = EXPMAX
                e = 5e-3 * exp(x)
                i -= e
                g += e / VT
        i += g * (vd - vl)
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
    return False


@njit(cache=True, error_model="numpy")
def _factor(a, piv, div, div_row, div_col, ptr, tgt, src):
    """In-place LU along the tape."""
    for d in range(div.shape[0]):
        p = a[piv[d]]
        f = a[div[d]] / p
        a[div[d]] = f
        for u in range(ptr[d], ptr[d + 1]):
            a[tgt[u]] -= f * a[src[u]]


@njit(cache=True, error_model="numpy")
def _solve(a, b, div, div_row, div_col, uptr, uidx, ucol, diag):
    """b becomes the solution (in elimination order)."""
    for d in range(div.shape[0]):
        b[div_row[d]] -= a[div[d]] * b[div_col[d]]
    for k in range(diag.shape[0] - 1, -1, -1):
        s = b[k]
        for u in range(uptr[k], uptr[k + 1]):
            s -= a[uidx[u]] * b[ucol[u]]
        b[k] = s / a[diag[k]]


@njit(cache=True, error_model="numpy")
def _linear(a, pos, lin_n, lin_w, lin_g, cap_n, cap_g, coil_n, coil_g, src_n, src_g):
    """Fill a with everything linear. Node -1 is the reference."""
    for i in range(a.shape[0]):
        a[i] = 0.0
    n = pos.shape[0]
    for i in range(n):
        a[pos[i, i]] = GMIN
    for e in range(lin_n.shape[0]):
        for i in range(4):
            ni = lin_n[e, i]
            if ni < 0:
                continue
            for j in range(4):
                nj = lin_n[e, j]
                if nj >= 0:
                    a[pos[ni, nj]] += lin_g[e] * lin_w[e, i] * lin_w[e, j]
    for e in range(cap_n.shape[0]):
        _pair(a, pos, cap_n[e, 0], cap_n[e, 1], cap_g[e])
    for e in range(coil_n.shape[0]):
        _pair(a, pos, coil_n[e, 0], coil_n[e, 1], coil_g[e])
    for e in range(src_n.shape[0]):
        _pair(a, pos, src_n[e, 0], src_n[e, 1], src_g[e])


@njit(cache=True, error_model="numpy")
def _pair(a, pos, i, j, g):
    if i >= 0:
        a[pos[i, i]] += g
        if j >= 0:
            a[pos[i, j]] -= g
            a[pos[j, i]] -= g
    if j >= 0:
        a[pos[j, j]] += g


@njit(cache=True, error_model="numpy")
def _put(b, i, j, amps):
    if i >= 0:
        b[i] += amps
    if j >= 0:
        b[j] -= amps


@njit(cache=True, error_model="numpy")
def _newton(v, alin, blin, a, b, pos, dev_k, dev_n, dev_p, mem, cur, jac, vt5, tape, max_iter, care):
    """Solve the step in place of v; care below 1 shortens every step. Returns iterations, negative when it did not converge."""
    piv, div, div_row, div_col, ptr, tgt, src, uptr, uidx, ucol, diag = tape
    n = v.shape[0]
    last = np.zeros(n)
    late = 0
    for it in range(max_iter):
        for i in range(alin.shape[0]):
            a[i] = alin[i]
        for i in range(n):
            b[i] = blin[i]
        limited = False
        for k in range(dev_k.shape[0]):
            for t in range(5):
                nt = dev_n[k, t]
                vt5[t] = v[nt] if nt >= 0 else 0.0
            if _device(dev_k[k], vt5, dev_p[k], mem[k], cur, jac):
                limited = True
            for t in range(5):
                nt = dev_n[k, t]
                if nt < 0:
                    continue
                rhs = -cur[t]
                for u in range(5):
                    if jac[t, u] != 0.0:
                        rhs += jac[t, u] * vt5[u]
                        nu = dev_n[k, u]
                        if nu >= 0:
                            a[pos[nt, nu]] += jac[t, u]
                b[nt] += rhs
        _factor(a, piv, div, div_row, div_col, ptr, tgt, src)
        _solve(a, b, div, div_row, div_col, uptr, uidx, ucol, diag)
        worst = 0.0
        turns = 0
        # the reach shrinks: where a device has no slope on one side of a kink, full steps would jump over it for ever
        reach = 400.0 if it < 5 else max(400.0 * 0.65 ** (it - 4 - late), 0.02)
        # uneven damping breaks the two-step circles that kinked devices fall into
        k4 = it - late
        damp = care * (1.0 if k4 < 9 or k4 % 4 == 0 else (0.5 if k4 % 4 < 3 else 0.25))
        for i in range(n):
            d = b[i] - v[i]
            if not (d == d):
                return -1
            scale = abs(d) / (5e-5 + 2e-6 * abs(b[i]))
            if scale > worst:
                worst = scale
            if scale > 1.0 and d * last[i] < 0.0:
                turns += 1
            last[i] = d
            if d > reach:
                d = reach
            elif d < -reach:
                d = -reach
            v[i] += damp * d
        if turns == 0 and it > 4:
            late += 1  # one-way progress, as down the tail of an exponential, is no circle: it needs no damping
        # a net that a fault left floating on gigohms wanders by rounding; that is not a failure
        if not limited and (worst < 1.0 or (it > 30 and worst < 300.0)):
            return it + 1
    return -max_iter


@njit(cache=True, error_model="numpy")
def _cycle(
    state, wave, hertz, steps, sens, mono, pos, tape, lin_n, lin_w, lin_g, cap_n, cap_c, cap_r, coil_n, coil_l, coil_r,
    src_n, src_dc, src_pk, src_g, dev_k, dev_n, dev_p, mem, v,
):
    """Run one mains cycle from state (caps then coils); fills wave (steps, nodes) and, if sens, mono (d end / d start).

    Returns the number of time steps whose Newton loop failed."""
    piv, div, div_row, div_col, ptr, tgt, src, uptr, uidx, ucol, diag = tape
    n = pos.shape[0]
    nc = cap_n.shape[0]
    nl = coil_n.shape[0]
    ns = nc + nl
    h = 1.0 / (hertz * steps)
    size = 0
    for i in range(n):
        for j in range(n):
            if pos[i, j] >= size:
                size = pos[i, j] + 1
    alin = np.empty(size)
    a = np.empty(size)
    blin = np.empty(n)
    b = np.empty(n)
    cap_g = np.empty(nc)
    coil_g = np.empty(nl)
    for e in range(nc):
        cap_g[e] = 1.0 / (cap_r[e] + h / cap_c[e])
    for e in range(nl):
        coil_g[e] = 1.0 / (coil_r[e] + coil_l[e] / h)
        if coil_g[e] > 1e3:
            coil_g[e] = 1e3
    _linear(alin, pos, lin_n, lin_w, lin_g, cap_n, cap_g, coil_n, coil_g, src_n, src_g)
    cur = np.empty(5)
    jac = np.empty((5, 5))
    vt5 = np.empty(5)
    failed = 0
    v_before = v.copy()
    mem_before = mem.copy()
    if sens:
        for i in range(ns):
            for j in range(ns):
                mono[i, j] = 1.0 if i == j else 0.0
    rhs = np.empty(n)
    for m in range(steps):
        t = (m + 1) * h
        s = sin(2.0 * np.pi * hertz * t)
        for i in range(n):
            blin[i] = 0.0
        for e in range(src_n.shape[0]):
            _put(blin, src_n[e, 0], src_n[e, 1], src_g[e] * (src_dc[e] + src_pk[e] * s))
        for e in range(nc):
            _put(blin, cap_n[e, 0], cap_n[e, 1], cap_g[e] * state[e])
        for e in range(nl):
            _put(blin, coil_n[e, 0], coil_n[e, 1], -coil_g[e] * coil_l[e] / h * state[nc + e])
        v_before[:] = v
        mem_before[:] = mem
        bad = _newton(v, alin, blin, a, b, pos, dev_k, dev_n, dev_p, mem, cur, jac, vt5, tape, 80, 1.0) < 0
        if bad:
            # once more from the step before, in small steps: kinked devices circle at full ones
            v[:] = v_before
            mem[:] = mem_before
            bad = _newton(v, alin, blin, a, b, pos, dev_k, dev_n, dev_p, mem, cur, jac, vt5, tape, 240, 0.3) < 0
        if bad:
            # and once from nothing: where the step before lies on the far side of a kink, the way from zero is often clear
            for i in range(n):
                v[i] = 0.0
            for k in range(dev_k.shape[0]):
                mem[k, 0] = 0.0
                mem[k, 1] = 0.0
            bad = _newton(v, alin, blin, a, b, pos, dev_k, dev_n, dev_p, mem, cur, jac, vt5, tape, 200, 0.6) < 0
        if bad:
            failed += 1
            for i in range(n):
                if not (abs(v[i]) < 1e5):
                    v[i] = 0.0
        if sens and not bad:
            for col in range(ns):
                for i in range(n):
                    rhs[i] = 0.0
                for e in range(nc):
                    _put(rhs, cap_n[e, 0], cap_n[e, 1], cap_g[e] * mono[e, col])
                for e in range(nl):
                    _put(rhs, coil_n[e, 0], coil_n[e, 1], -coil_g[e] * coil_l[e] / h * mono[nc + e, col])
                _solve(a, rhs, div, div_row, div_col, uptr, uidx, ucol, diag)
                for e in range(nc):
                    d = (rhs[cap_n[e, 0]] if cap_n[e, 0] >= 0 else 0.0) - (rhs[cap_n[e, 1]] if cap_n[e, 1] >= 0 else 0.0)
                    mono[e, col] += h / cap_c[e] * cap_g[e] * (d - mono[e, col])
                for e in range(nl):
                    d = (rhs[coil_n[e, 0]] if coil_n[e, 0] >= 0 else 0.0) - (rhs[coil_n[e, 1]] if coil_n[e, 1] >= 0 else 0.0)
                    mono[nc + e, col] = coil_g[e] * (d + coil_l[e] / h * mono[nc + e, col])
        for e in range(nc):
            d = (v[cap_n[e, 0]] if cap_n[e, 0] >= 0 else 0.0) - (v[cap_n[e, 1]] if cap_n[e, 1] >= 0 else 0.0)
            state[e] += h / cap_c[e] * cap_g[e] * (d - state[e])
        for e in range(nl):
            d = (v[coil_n[e, 0]] if coil_n[e, 0] >= 0 else 0.0) - (v[coil_n[e, 1]] if coil_n[e, 1] >= 0 else 0.0)
            state[nc + e] = coil_g[e] * (d + coil_l[e] / h * state[nc + e])
        for i in range(n):
            wave[m, i] = v[i]
    return failed


@njit(cache=True, error_model="numpy")
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


@njit(cache=True, error_model="numpy")
def _periodic(
    state, wave, hertz, steps, pos, tape, lin_n, lin_w, lin_g, cap_n, cap_c, cap_r, coil_n, coil_l, coil_r,
    src_n, src_dc, src_pk, src_g, dev_k, dev_n, dev_p, warm, minv, use_chord, max_cycles,
):
    """Shoot to the mains-periodic state from `state`. Returns cycles used, negative when unresolved.

    minv gets (I - M)^-1 of the last full iteration. Stops on the size of the Newton update, not on the residual:
    a dead rail with a time constant of minutes has a tiny residual long before it has settled.
    """
    ns = state.shape[0]
    n = pos.shape[0]
    mem = np.zeros((dev_k.shape[0], 2))
    v = np.zeros(n)
    mono = np.zeros((ns, ns))
    end = state.copy()
    cycles = 0
    args = (pos, tape, lin_n, lin_w, lin_g, cap_n, cap_c, cap_r, coil_n, coil_l, coil_r, src_n, src_dc, src_pk, src_g, dev_k, dev_n, dev_p, mem, v)
    for _ in range(warm):
        _cycle(end, wave, hertz, steps, False, mono, *args)
        cycles += 1
    for i in range(ns):
        if not (abs(end[i]) < 1e4):
            end[i] = 0.0
        state[i] = end[i]
    safe = state.copy()
    best = 1e300
    step = np.zeros(ns)
    chord = use_chord
    for k in range(max_cycles):
        for i in range(ns):
            end[i] = state[i]
        failed = _cycle(end, wave, hertz, steps, not chord, mono, *args)
        cycles += 1
        res = end - state
        if not chord:
            _inverse(mono, minv)
        for i in range(ns):
            step[i] = 0.0
            for j in range(ns):
                step[i] += minv[i, j] * res[j]
        worst = 0.0
        for i in range(ns):
            lim = 60.0 + 0.5 * abs(state[i])
            if not (step[i] == step[i]):
                step[i] = res[i]
            size = abs(step[i]) / (2e-3 + 5e-4 * abs(state[i])) if i < cap_n.shape[0] else abs(step[i]) / (2e-5 + 1e-3 * abs(state[i]))
            if size > worst:
                worst = size
            if step[i] > lim:
                step[i] = lim
            elif step[i] < -lim:
                step[i] = -lim
        if worst < 1.0:
            # one step of the hundred that missed its tolerance moves no display; more of them are no solution
            return cycles if failed <= 1 else -cycles
        if chord and k > 8:
            chord = False
        damp = 1.0
        if k > 10 and worst > 0.9 * best:
            damp = 0.5 if k % 2 == 0 else 0.15
        if worst < best:
            best = worst
        for i in range(ns):
            state[i] += damp * step[i]
        if k > 0 and k % 12 == 11:
            # shooting is going round in circles: let the circuit itself move for some cycles, from where it last moved by itself
            for i in range(ns):
                state[i] = safe[i]
            for _q in range(8 if k < 12 else 40):
                _cycle(state, wave, hertz, steps, False, mono, *args)
                cycles += 1
            for i in range(ns):
                if not (abs(state[i]) < 1e4):
                    state[i] = 0.0
                safe[i] = state[i]
            best = 1e300
    return -cycles


@njit(cache=True, parallel=True, error_model="numpy")
def periodic_batch(
    states, waves, cycles, hertz, steps, pos, tape, lin_n, lin_w, lin_g, cap_n, cap_c, cap_r, coil_n, coil_l, coil_r,
    src_n, src_dc, src_pk, src_g, dev_k, dev_n, dev_p, warm, minvs, use_chord, max_cycles,
):
    """periodic state of every variant; arrays have the batch axis first. cycles (batch,) negative = unresolved."""
    for q in prange(states.shape[0]):
        cycles[q] = _periodic(
            states[q], waves[q], hertz, steps, pos, tape, lin_n, lin_w[q], lin_g[q], cap_n, cap_c[q], cap_r[q], coil_n, coil_l[q], coil_r[q],
            src_n, src_dc[q], src_pk[q], src_g[q], dev_k, dev_n, dev_p[q], warm, minvs[q], use_chord, max_cycles,
        )


@njit(cache=True, error_model="numpy")
def _cold(
    red, black, volts, ohms, times, out, pos, tape, lin_n, lin_w, lin_g, cap_n, cap_c, cap_r, coil_n, coil_l, coil_r,
    src_n, src_g, dev_k, dev_n, dev_p,
):
    """Volts across red-black of a dead circuit when a test source (volts behind ohms) is put on, at each of times.

    All capacitors start empty. Steps grow geometrically; from the second on they are backward differences of second order
    (one of first order reads a charging capacitor several per cent off). Returns failed steps."""
    piv, div, div_row, div_col, ptr, tgt, src, uptr, uidx, ucol, diag = tape
    n = pos.shape[0]
    nc = cap_n.shape[0]
    nl = coil_n.shape[0]
    size = 0
    for i in range(n):
        for j in range(n):
            if pos[i, j] >= size:
                size = pos[i, j] + 1
    alin = np.empty(size)
    a = np.empty(size)
    blin = np.empty(n)
    b = np.empty(n)
    cap_g = np.empty(nc)
    coil_g = np.empty(nl)
    vc = np.zeros(nc)
    il = np.zeros(nl)
    vc1 = np.zeros(nc)  # one step earlier
    il1 = np.zeros(nl)
    v = np.zeros(n)
    mem = np.zeros((dev_k.shape[0], 2))
    cur = np.empty(5)
    jac = np.empty((5, 5))
    vt5 = np.empty(5)
    failed = 0
    t = 0.0
    wish = 2e-3
    before = 0.0
    w = 0
    gm = 1.0 / ohms
    while w < times.shape[0]:
        left = times[w] - t
        h = left if wish >= left - 1e-9 else (0.5 * left if 2.0 * wish > left else wish)
        q = h / before if before > 0.0 else 0.0
        a0 = (1.0 + 2.0 * q) / (1.0 + q)
        near = (1.0 + q) / a0  # the state that the step starts from: near x last - far x the one before
        far = q * q / (1.0 + q) / a0
        for e in range(nc):
            old = vc[e]
            vc[e] = near * old - far * vc1[e]
            vc1[e] = old
        for e in range(nl):
            old = il[e]
            il[e] = near * old - far * il1[e]
            il1[e] = old
        before = h
        h /= a0
        for e in range(nc):
            cap_g[e] = 1.0 / (cap_r[e] + h / cap_c[e])
        for e in range(nl):
            coil_g[e] = min(1e3, 1.0 / (coil_r[e] + coil_l[e] / h))
        _linear(alin, pos, lin_n, lin_w, lin_g, cap_n, cap_g, coil_n, coil_g, src_n, src_g)
        _pair(alin, pos, red, black, gm)
        for i in range(n):
            blin[i] = 0.0
        _put(blin, red, black, gm * volts)
        for e in range(nc):
            _put(blin, cap_n[e, 0], cap_n[e, 1], cap_g[e] * vc[e])
        for e in range(nl):
            _put(blin, coil_n[e, 0], coil_n[e, 1], -coil_g[e] * coil_l[e] / h * il[e])
        if _newton(v, alin, blin, a, b, pos, dev_k, dev_n, dev_p, mem, cur, jac, vt5, tape, 80, 1.0) < 0:
            failed += 1
        for e in range(nc):
            d = (v[cap_n[e, 0]] if cap_n[e, 0] >= 0 else 0.0) - (v[cap_n[e, 1]] if cap_n[e, 1] >= 0 else 0.0)
            vc[e] += h / cap_c[e] * cap_g[e] * (d - vc[e])
        for e in range(nl):
            d = (v[coil_n[e, 0]] if coil_n[e, 0] >= 0 else 0.0) - (v[coil_n[e, 1]] if coil_n[e, 1] >= 0 else 0.0)
            il[e] = coil_g[e] * (d + coil_l[e] / h * il[e])
        t += before
        if t > times[w] - 1e-9:
            out[w] = (v[red] if red >= 0 else 0.0) - (v[black] if black >= 0 else 0.0)
            w += 1
        wish = 1.25 * before
    return failed


@njit(cache=True, error_model="numpy")
def _ohms(red, black, voc, ranges, times, shown, args):
    """Autoranging ohms: shown (times,) [ohm], inf above the top range. Returns failed steps."""
    out = np.empty(times.shape[0])
    k = 2
    failed = 0
    seen = np.zeros(ranges.shape[0])
    last = times.shape[0] - 1
    for _ in range(8):
        failed = _cold(red, black, voc, ranges[k], times, out, *args)
        x = out[last]
        r = ranges[k] * x / max(voc - x, 1e-9)
        seen[k] = 1.0
        if r > ranges[k] * 1.02 and k + 1 < ranges.shape[0] and seen[k + 1] == 0.0:
            k += 1
        elif r < 0.09 * ranges[k] and k > 0 and seen[k - 1] == 0.0:
            k -= 1
        else:
            break
    for w in range(times.shape[0]):
        r = ranges[k] * out[w] / max(voc - out[w], 1e-12)
        shown[w] = np.inf if r > ranges[ranges.shape[0] - 1] * 1.02 else max(r, 0.0)
    return failed


@njit(cache=True, parallel=True, error_model="numpy")
def cold_batch(
    variant, red, black, diode, voc, ranges, dvolts, dohms, dlimit, times, shown, failed,
    pos, tape, lin_n, lin_w, lin_g, cap_n, cap_c, cap_r, coil_n, coil_l, coil_r, src_n, src_g, dev_k, dev_n, dev_p,
):
    """Cold readings: one per job (variant[j], red[j], black[j]); diode[j] 1 = diode test [V], 0 = ohms. shown (jobs, times)."""
    for j in prange(variant.shape[0]):
        q = variant[j]
        args = (
            pos, tape, lin_n, lin_w[q], lin_g[q], cap_n, cap_c[q], cap_r[q], coil_n, coil_l[q], coil_r[q], src_n, src_g[q], dev_k, dev_n, dev_p[q],
        )
        if diode[j] == 1:
            failed[j] = _cold(red[j], black[j], dvolts, dohms, times, shown[j], *args)
            for w in range(times.shape[0]):
                if shown[j, w] > dlimit:
                    shown[j, w] = np.inf
        else:
            failed[j] = _ohms(red[j], black[j], voc, ranges, times, shown[j], args)


@njit(cache=True, parallel=True, error_model="numpy")
def slopes_batch(waves, dev_k, dev_n, dev_p, slopes):
    """Device slopes averaged over a solved cycle: slopes (batch, devices, 5, 5) [S]."""
    for q in prange(waves.shape[0]):
        cur = np.empty(5)
        jac = np.empty((5, 5))
        v = np.empty(5)
        mem = np.zeros(2)
        steps = waves.shape[1]
        for m in range(steps):
            for k in range(dev_k.shape[0]):
                for t in range(5):
                    nt = dev_n[k, t]
                    v[t] = waves[q, m, nt] if nt >= 0 else 0.0
                s = dev_p[q, k, 0] if dev_k[k] == 1 else 1.0
                if dev_k[k] == 1:
                    mem[0] = s * (v[1] - v[2])
                    mem[1] = s * (v[1] - v[0])
                else:
                    mem[0] = v[0] - v[1]
                _device(dev_k[k], v, dev_p[q, k], mem, cur, jac)
                for i in range(5):
                    for j in range(5):
                        slopes[q, k, i, j] += jac[i, j] / steps
