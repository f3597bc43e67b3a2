"""Sparse LU along a tape, for eight variants of one pattern at a time.

Nodes are in elimination order; the reference is one node more, so that no stamp has to ask for it. Values lie row after row, each row by column; the place
behind the last takes what belongs to the reference. See network.Net for the arrays of the pattern.
"""

from __future__ import annotations

from halfsplit.solver.compiled.devices import inner
from halfsplit.solver.compiled.lanes import any_of, least, load, store, where

GMIN = 1e-12


@inner
def copy(to, source):
    """Take over all rows of lanes."""
    for i in range(to.shape[0]):
        store(to, i, load(source, i))


@inner
def put_back(to, mask, source):
    """Take over the rows of lanes in the lanes of a mask."""
    for i in range(to.shape[0]):
        store(to, i, where(mask, load(source, i), load(to, i)))


@inner
def empty(to, mask):
    """Nothing in the lanes of a mask."""
    for i in range(to.shape[0]):
        store(to, i, where(mask, 0.0, load(to, i)))


@inner
def row(a, dinv, begin, end, net):
    """Eliminate one row with the rows above it, for its values begin to end."""
    for e in range(begin, end):
        k = net.col[e]
        f = load(a, e) * load(dinv, k)
        store(a, e, f)
        p = net.diag[k] + 1
        for u in range(net.optr[e], net.optr[e + 1]):
            t = net.tgt[u]
            store(a, t, load(a, t) - f * load(a, p))
            p += 1


@inner
def solve_many(a, dinv, x, many, net):
    """x (nodes * many, WIDTH), column by column of each node, becomes the solutions of all its columns."""
    n = net.diag.shape[0]
    for i in range(n):
        for e in range(net.rowptr[i], net.diag[i]):
            f = load(a, e)
            k = many * net.col[e]
            for c in range(many):
                store(x, many * i + c, load(x, many * i + c) - f * load(x, k + c))
    for i in range(n - 1, -1, -1):
        for e in range(net.diag[i] + 1, net.rowptr[i + 1]):
            f = load(a, e)
            k = many * net.col[e]
            for c in range(many):
                store(x, many * i + c, load(x, many * i + c) - f * load(x, k + c))
        f = load(dinv, i)
        for c in range(many):
            store(x, many * i + c, load(x, many * i + c) * f)


@inner
def pair(a, pos, k, g):
    """Stamp a conductance between two nodes, its places in row k of pos (elements, 4)."""
    store(a, pos[k, 0], load(a, pos[k, 0]) + g)
    store(a, pos[k, 1], load(a, pos[k, 1]) - g)
    store(a, pos[k, 2], load(a, pos[k, 2]) - g)
    store(a, pos[k, 3], load(a, pos[k, 3]) + g)


@inner
def put(b, ends, k, amps):
    """Add amps that flow into the first node of element k and out of the second."""
    p, q = ends[k, 0], ends[k, 1]
    store(b, p, load(b, p) + amps)
    store(b, q, load(b, q) - amps)


@inner
def linear(alin, net, lot, cap_g, coil_g):
    """Fill alin with everything linear."""
    alin[:] = 0.0
    for i in range(net.diag.shape[0]):
        store(alin, net.diag[i], GMIN)
    for e in range(net.lin_n.shape[0]):
        g = load(lot.lin_g, e)
        for i in range(4):
            gw = g * load(lot.lin_w[e], i)
            if any_of(gw * gw > 0.0):
                for j in range(4):
                    at = net.lin_pos[e, 4 * i + j]
                    store(alin, at, load(alin, at) + gw * load(lot.lin_w[e], j))
    for e in range(net.cap_n.shape[0]):
        pair(alin, net.cap_pos, e, load(cap_g, e))
    for e in range(net.coil_n.shape[0]):
        pair(alin, net.coil_pos, e, load(coil_g, e))
    for e in range(net.src_n.shape[0]):
        pair(alin, net.src_pos, e, load(lot.src_g, e))


@inner
def companions(net, lot, h, cap_g, coil_g):
    """What capacitors and coils are over a step of effective length h [s]."""
    for e in range(net.cap_n.shape[0]):
        store(cap_g, e, 1.0 / (load(lot.cap_r, e) + h / load(lot.cap_c, e)))
    for e in range(net.coil_n.shape[0]):
        store(coil_g, e, least(1e3, 1.0 / (load(lot.coil_r, e) + load(lot.coil_l, e) / h)))


@inner
def drive_charges(b, state, net, lot, cap_g, coil_g, h):
    """Add what capacitors and coils in this state (volts, then amps) drive into the nodes over a step of effective length h [s]."""
    nc = net.cap_n.shape[0]
    for e in range(nc):
        put(b, net.cap_n, e, load(cap_g, e) * load(state, e))
    for e in range(net.coil_n.shape[0]):
        put(b, net.coil_n, e, -load(coil_g, e) * load(lot.coil_l, e) / h * load(state, nc + e))


@inner
def carry_charges(state, v, net, lot, cap_g, coil_g, h):
    """Take capacitors and coils (volts, then amps) to the end of a step of effective length h [s], the nodes being at v there."""
    nc = net.cap_n.shape[0]
    for e in range(nc):
        d = load(v, net.cap_n[e, 0]) - load(v, net.cap_n[e, 1])
        old = load(state, e)
        store(state, e, old + h / load(lot.cap_c, e) * load(cap_g, e) * (d - old))
    for e in range(net.coil_n.shape[0]):
        d = load(v, net.coil_n[e, 0]) - load(v, net.coil_n[e, 1])
        old = load(state, nc + e)
        store(state, nc + e, load(coil_g, e) * (d + load(lot.coil_l, e) / h * old))


@inner
def lead(net, alin, dinv):
    """Eliminate the nodes that no device and no meter touches; they come first, and stand once a variant."""
    for i in range(net.diag.shape[0]):
        row(alin, dinv, net.rowptr[i], net.mid[i], net)
        if i < net.lead[0]:
            store(dinv, i, 1.0 / load(alin, net.diag[i]))
