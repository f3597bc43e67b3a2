"""Small signals: impedances between nodes of a network whose device slopes are fixed, and these slopes averaged over a solved cycle."""

from __future__ import annotations

import numpy as np
from numba import njit

from halfsplit.solver.compiled.devices import LATCH, TERMINALS, VT, device, diode, inner
from halfsplit.solver.compiled.elimination import GMIN
from halfsplit.solver.compiled.lanes import WIDTH, any_of, load, store, take_next, where


@inner
def _stamp(a, pos, weights, y):
    for i in range(4):
        yw = y * weights[i]
        if yw != 0.0:
            for j in range(4):
                a[pos[4 * i + j]] += yw * weights[j]


@inner
def _branch(a, pos, y):
    a[pos[0]] += y
    a[pos[1]] -= y
    a[pos[2]] -= y
    a[pos[3]] += y


@inner
def _fill(a, net, lin_w, lin_g, cap_y, coil_y, src_y, slopes):
    a[:] = 0.0
    for i in range(net.diag.shape[0]):
        a[net.diag[i]] = GMIN
    for e in range(net.lin_n.shape[0]):
        _stamp(a, net.lin_pos[e], lin_w[e], lin_g[e])
    for e in range(net.cap_n.shape[0]):
        _branch(a, net.cap_pos[e], cap_y[e])
    for e in range(net.coil_n.shape[0]):
        _branch(a, net.coil_pos[e], coil_y[e])
    for e in range(net.src_n.shape[0]):
        _branch(a, net.src_pos[e], src_y[e])
    for k in range(net.dev_n.shape[0]):
        for t in range(5):
            for u in range(5):
                a[net.dev_pos[k, 5 * t + u]] += slopes[k, t, u]


@inner
def _factor(a, dinv, net):
    """LU in place."""
    for i in range(net.diag.shape[0]):
        for e in range(net.rowptr[i], net.diag[i]):
            k = net.col[e]
            f = a[e] * dinv[k]
            a[e] = f
            p = net.diag[k] + 1
            for u in range(net.optr[e], net.optr[e + 1]):
                a[net.tgt[u]] -= f * a[p]
                p += 1
        dinv[i] = 1.0 / a[net.diag[i]]


@inner
def _solve(a, dinv, x, net):
    """x becomes the solution."""
    n = net.diag.shape[0]
    for i in range(n):
        s = x[i]
        for e in range(net.rowptr[i], net.diag[i]):
            s -= a[e] * x[net.col[e]]
        x[i] = s
    for i in range(n - 1, -1, -1):
        s = x[i]
        for e in range(net.diag[i] + 1, net.rowptr[i + 1]):
            s -= a[e] * x[net.col[e]]
        x[i] = s * dinv[i]


@njit(cache=True, nogil=True, error_model="numpy")
def spots_batch(queue, count, z, ends, net, lin_w, lin_g, cap_y, coil_y, src_y, slopes):
    """Impedance between pairs of nodes (ends) with all values fixed: z (batch, pairs) [ohm]; cap_y, coil_y and src_y complex,
    slopes (batch, devices, 5, 5). For groups of eight variants that queue (1,) gives, up to count."""
    n = net.diag.shape[0]
    a = np.zeros(net.col.shape[0] + 1, np.complex128)
    dinv = np.zeros(n, np.complex128)
    x = np.zeros(n + 1, np.complex128)
    while True:
        group = take_next(queue)
        if group >= count:
            break
        for q in range(WIDTH * group, min(WIDTH * (group + 1), z.shape[0])):
            extra = 0.0
            for _ in range(2):
                _fill(a, net, lin_w[q], lin_g[q], cap_y[q], coil_y[q], src_y[q], slopes[q])
                for i in range(n):
                    a[net.diag[i]] += extra
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
                z[q, p] = x[ends[p, 0]] - x[ends[p, 1]]


@njit(cache=True, nogil=True, error_model="numpy")
def slopes_batch(queue, count, waves, net, dev_p, slopes, stride):
    """Device slopes averaged over every stride-th step of a solved cycle: slopes (batch, devices, 5, 5) [S].
    For groups of eight variants that queue (1,) gives, up to count."""
    batch, n, steps = waves.shape
    cur, jac, v, own = np.zeros((5, WIDTH)), np.zeros((25, WIDTH)), np.zeros((5, WIDTH)), np.zeros((4, WIDTH))
    mem, total = np.zeros((2, WIDTH)), np.zeros((25, WIDTH))
    share = stride / steps
    while True:
        group = take_next(queue)
        if group >= count:
            break
        for k in range(net.dev_k.shape[0]):
            kind = net.dev_k[k]
            if kind == LATCH:
                continue  # taken as blocking: while it conducts, what it feeds is stiff with or without it
            ends = TERMINALS[kind]
            total[:] = 0.0
            mem[:] = 0.0
            jac[:] = 0.0
            for w in range(WIDTH):
                for i in range(4):
                    own[i, w] = dev_p[min(WIDTH * group + w, batch - 1), k, i]
            for m in range(0, steps, stride):
                for t in range(ends):
                    i = net.dev_n[k, t]
                    for w in range(WIDTH):
                        v[t, w] = waves[min(WIDTH * group + w, batch - 1), i, m] if i < n else 0.0
                if kind == 0:
                    vd, nvt, bv = load(v, 0) - load(v, 1), load(own, 1), load(own, 2)
                    conducts = (vd > -40.0 * nvt) | ((bv > 0.0) & (vd < 60.0 * VT - bv))
                    if any_of(conducts):
                        _, g, _, _ = diode(vd, load(own, 0), nvt, bv, vd)
                        store(total, 0, load(total, 0) + where(conducts, g, 0.0))
                    continue
                for _ in range(20):  # until the limited volts have caught up
                    if not any_of(device(kind, v, own, mem, cur, jac)):
                        break
                for j in range(5 * ends):
                    store(total, j, load(total, j) + load(jac, j))
            for w in range(min(WIDTH, batch - WIDTH * group)):
                out = slopes[WIDTH * group + w, k]
                if kind == 0:
                    g = share * total[0, w]
                    out[0, 0] = out[1, 1] = g
                    out[0, 1] = out[1, 0] = -g
                else:
                    for t in range(ends):
                        for u in range(ends):
                            out[t, u] = share * total[5 * t + u, w]
