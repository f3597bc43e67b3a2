"""One solution of a nonlinear network, for eight variants at a time.

What is costly is done as seldom as can be: what touches no device is eliminated once a variant, devices are linearised anew only where a slope moved in some
lane, and then only the rows that hang on these are eliminated anew. Every lane goes its own way: one that has converged, or failed, stands still.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from halfsplit.solver.compiled.devices import CLOSED, LATCH, TERMINALS, VT, device, diode, inner, rooms
from halfsplit.solver.compiled.elimination import row
from halfsplit.solver.compiled.lanes import WIDTH, absolute, any_of, least, load, most, nobody, splat, store, where, whole
from halfsplit.solver.network import Array, Values

BYPASS = 0.008  # a device whose volts moved by less, in thermal volts, is carried by its slopes: 0.8 % of its current, 0.1 % where they are stale
NEWS, NEWS_FLOOR = (
    1e-4,
    1e-14,
)  # a device that carries what was foretold to this share and floor [A] is no news; a dead rail hangs on picoamps
SLOPE_MOVED = 0.1  # a device is linearised anew when a slope of it moved by more than this share
FEW = 12  # iterations for a lane of which little is hoped; the others wait for it


class Work(NamedTuple):
    """Room for eight variants. Lanes are last.

    alin: linear part, lead nodes eliminated. a: the same with devices, eliminated; dinv: one over its diagonal. redo (nodes + 1,): rows to eliminate
    anew. x, base, seen, last: a solution, what drives it beside the devices, volts at which they were last looked at, the step before.
    slope (devices, 25), drive (devices, 5), sums: slopes of the devices, what they drive beside these, and that summed by node. mem: limited junction volts.
    at: volts at which each device was last looked at. cur, jac, volts, own: one device. fits: [slopes fit the last solution, a fits the slopes].
    """

    alin: Array
    a: Array
    dinv: Array
    redo: NDArray[np.bool_]
    x: Array
    base: Array
    seen: Array
    last: Array
    slope: Array
    drive: Array
    sums: Array
    mem: Array
    at: Array
    cur: Array
    jac: Array
    volts: Array
    own: Array
    blin: Array
    mixed: Array
    v_before: Array
    mem_before: Array
    fits: NDArray[np.bool_]


@rooms
def workspace(net):
    """Fresh room for eight variants."""
    n, nd, size = net.diag.shape[0], net.dev_k.shape[0], net.col.shape[0]
    return Work(
        np.zeros((size + 1, WIDTH)),
        np.zeros((size + 1, WIDTH)),
        np.zeros((n, WIDTH)),
        np.zeros(n + 1, np.bool_),
        np.zeros((n + 1, WIDTH)),
        np.zeros((n + 1, WIDTH)),
        np.zeros((n + 1, WIDTH)),
        np.zeros((n, WIDTH)),
        np.zeros((nd, 25, WIDTH)),
        np.zeros((nd, 5, WIDTH)),
        np.zeros((n + 1, WIDTH)),
        np.zeros((2 * nd, WIDTH)),
        np.zeros((nd, 5, WIDTH)),
        np.zeros((5, WIDTH)),
        np.zeros((25, WIDTH)),
        np.zeros((5, WIDTH)),
        np.zeros((2, WIDTH)),
        np.zeros((n + 1, WIDTH)),
        np.zeros((n + 1, WIDTH)),
        np.zeros((n + 1, WIDTH)),
        np.zeros((2 * nd, WIDTH)),
        np.zeros(2, np.bool_),
    )


@rooms
def room(net):
    """Room for the part values of eight variants: as those of a batch, but elements first and lanes last."""
    nc, nl, ns = net.cap_n.shape[0], net.coil_n.shape[0], net.src_n.shape[0]
    ne, nd = net.lin_n.shape[0], net.dev_k.shape[0]
    return Values(
        np.zeros((ne, 4, WIDTH)),
        np.zeros((ne, WIDTH)),
        np.zeros((nc, WIDTH)),
        np.zeros((nc, WIDTH)),
        np.zeros((nl, WIDTH)),
        np.zeros((nl, WIDTH)),
        np.zeros((ns, WIDTH)),
        np.zeros((ns, WIDTH)),
        np.zeros((ns, WIDTH)),
        np.zeros((nd, 6, WIDTH)),  # the last two: how a latch stands
    )


@inner
def seat(lot, values, q, w):
    """Put the part values of variant q into lane w."""
    for e in range(lot.lin_g.shape[0]):
        lot.lin_g[e, w] = values.lin_g[q, e]
        for i in range(4):
            lot.lin_w[e, i, w] = values.lin_w[q, e, i]
    for e in range(lot.cap_c.shape[0]):
        lot.cap_c[e, w] = values.cap_c[q, e]
        lot.cap_r[e, w] = values.cap_r[q, e]
    for e in range(lot.coil_l.shape[0]):
        lot.coil_l[e, w] = values.coil_l[q, e]
        lot.coil_r[e, w] = values.coil_r[q, e]
    for e in range(lot.src_g.shape[0]):
        lot.src_dc[e, w] = values.src_dc[q, e]
        lot.src_pk[e, w] = values.src_pk[q, e]
        lot.src_g[e, w] = values.src_g[q, e]
    for e in range(lot.dev_p.shape[0]):
        for i in range(4):
            lot.dev_p[e, i, w] = values.dev_p[q, e, i]
        lot.dev_p[e, 4, w] = lot.dev_p[e, 5, w] = 0.0


@inner
def rebuild(net, work):
    """Eliminate anew the marked rows and all that hang on them, with the slopes as they are."""
    a, alin, redo, slope = work.a, work.alin, work.redo, work.slope
    n = net.diag.shape[0]
    for i in range(net.lead[0], n):
        if not redo[i]:
            for e in range(net.mid[i], net.diag[i]):
                if redo[net.col[e]]:
                    redo[i] = True
                    break
        if redo[i]:
            for e in range(net.rowptr[i], net.rowptr[i + 1]):
                store(a, e, load(alin, e))
    for k in range(net.dev_k.shape[0]):
        ends = 2 if net.dev_k[k] == LATCH else TERMINALS[net.dev_k[k]]
        own = slope[k]
        for t in range(ends):
            if redo[net.dev_n[k, t]]:
                for u in range(ends):
                    at = net.dev_pos[k, 5 * t + u]
                    store(a, at, load(a, at) + load(own, 5 * t + u))
    for i in range(net.lead[0], n):
        if redo[i]:
            row(a, work.dinv, net.mid[i], net.diag[i], net)
            store(work.dinv, i, 1.0 / load(a, net.diag[i]))
            redo[i] = False
    work.fits[1] = True


@inner
def _look_at_junction(k, v, lot, net, work, anew):
    """See look: of one junction."""
    p, q = net.dev_n[k, 0], net.dev_n[k, 1]
    own, at, mem, drive = lot.dev_p[k], work.at[k], work.mem, work.drive[k]
    vd = load(v, p) - load(v, q)
    nvt, bv = load(own, 1), load(own, 2)
    moved = absolute(vd - load(at, 0)) > BYPASS * nvt
    none = nobody()
    if not anew:
        if not any_of(moved):
            return none, none
        g = load(work.slope[k], 0)
        # far on the blocking side there is nothing to see
        busy = moved & ~((g == 0.0) & (vd < -40.0 * nvt) & ((bv <= 0.0) | (vd > 60.0 * VT - bv)))
        if not any_of(busy):
            store(mem, 2 * k, where(moved, vd, load(mem, 2 * k)))
            return none, none
    else:
        moved = ~none
    g = load(work.slope[k], 0)
    i, fresh, limit, lim = diode(vd, load(own, 0), nvt, bv, load(mem, 2 * k))
    told = load(drive, 0)
    news = moved & (lim | (absolute(g * vd - told - i) > NEWS * absolute(i) + NEWS_FLOOR))
    if anew:
        news = moved
    store(mem, 2 * k, where(moved, limit, load(mem, 2 * k)))
    store(at, 0, where(moved, where(lim, 1e30, vd), load(at, 0)))
    if any_of(news):
        if anew or any_of(news & (lim | (absolute(fresh - g) > SLOPE_MOVED * fresh + 1e-13))):
            g = where(news, fresh, g)
            own = work.slope[k]
            store(own, 0, g)
            store(own, 1, -g)
            store(own, 5, -g)
            store(own, 6, g)
            work.redo[p] = True  # the reference has a mark of its own, which nobody reads
            work.redo[q] = True
            work.fits[1] = False
        store(drive, 0, where(news, g * vd - i, told))
    return news, news & lim


@inner
def _look_at_latch(k, lot, net, work):
    """Take over how a latch stands: closed it is ohms and the volts that it drops, blocking it is nothing."""
    slope, own = work.slope[k], lot.dev_p[k]
    g = CLOSED * absolute(load(own, 4))
    store(slope, 0, g)
    store(slope, 1, -g)
    store(slope, 5, -g)
    store(slope, 6, g)
    store(work.drive[k], 0, g * load(own, 5))
    work.redo[net.dev_n[k, 0]] = True
    work.redo[net.dev_n[k, 1]] = True
    work.fits[1] = False


@inner
def _look_at_device(k, v, lot, net, work, anew):
    """See look: of one device of more than a junction."""
    ends = TERMINALS[net.dev_k[k]]
    volts, at, drive, slope = work.volts, work.at[k], work.drive[k], work.slope[k]
    v0 = load(v, net.dev_n[k, 0])
    at0 = load(at, 0)
    moved = none = nobody()
    for t in range(ends):
        vt = load(v, net.dev_n[k, t])
        store(volts, t, vt)
        far = vt - load(at, t)
        if t != 3:  # the fourth may count against the reference
            far = far - (v0 - at0)
        moved = moved | (absolute(far) > BYPASS * VT)
    if anew:
        moved = ~none
    elif not any_of(moved):
        return none, none
    cur, jac, own, mem = work.cur, work.jac, work.own, work.mem
    store(own, 0, load(mem, 2 * k))
    store(own, 1, load(mem, 2 * k + 1))
    lim = device(net.dev_k[k], volts, lot.dev_p[k], own, cur, jac) & moved
    store(mem, 2 * k, where(moved, load(own, 0), load(mem, 2 * k)))
    store(mem, 2 * k + 1, where(moved, load(own, 1), load(mem, 2 * k + 1)))
    news = moved if anew else lim
    for t in range(ends):
        store(at, t, where(moved, where(lim, 1e30 * (t + 1), load(volts, t)), load(at, t)))
        if not anew:
            s = -load(cur, t) - load(drive, t)
            for u in range(ends):
                s = s + load(slope, 5 * t + u) * load(volts, u)
            news = news | (moved & (absolute(s) > NEWS * absolute(load(cur, t)) + NEWS_FLOOR))
    if not any_of(news):
        return none, none
    change = news if anew else lim
    if not anew:
        for t in range(ends):
            for u in range(ends):
                j = load(jac, 5 * t + u)
                change = change | (news & (absolute(j - load(slope, 5 * t + u)) > SLOPE_MOVED * absolute(j) + 1e-13))
    change_any = any_of(change)
    for t in range(ends):
        s = -load(cur, t)
        if change_any:
            work.redo[net.dev_n[k, t]] = True
            work.fits[1] = False
            for u in range(ends):
                store(slope, 5 * t + u, where(news, load(jac, 5 * t + u), load(slope, 5 * t + u)))
        for u in range(ends):
            s = s + load(slope, 5 * t + u) * load(volts, u)
        store(drive, t, where(news, s, load(drive, t)))
    return news, lim


@inner
def look(v, lot, net, work, anew):
    """Look at every device at volts v and take over what changed; anew: all slopes, else only those that moved.
    Returns the lanes in which something changed, and those in which a device was limited.

    A device whose volts hardly moved since it was looked at is left as it is, and so is one that carries what its slopes foretold."""
    sums = work.sums
    sums[:] = 0.0
    news = limited = nobody()
    for k in range(net.dev_k.shape[0]):
        drive = work.drive[k]
        if net.dev_k[k] == 0 or net.dev_k[k] == LATCH:
            found = lim = nobody()
            if net.dev_k[k] == 0:
                found, lim = _look_at_junction(k, v, lot, net, work, anew)
            elif anew:
                _look_at_latch(k, lot, net, work)
            d = load(drive, 0)
            p, q = net.dev_n[k, 0], net.dev_n[k, 1]
            store(sums, p, load(sums, p) + d)
            store(sums, q, load(sums, q) - d)
        else:
            found, lim = _look_at_device(k, v, lot, net, work, anew)
            for t in range(TERMINALS[net.dev_k[k]]):
                p = net.dev_n[k, t]
                store(sums, p, load(sums, p) + load(drive, t))
        news = news | found
        limited = limited | lim
    for i in range(net.lead[0], net.diag.shape[0]):
        store(work.seen, i, load(v, i))
    return news, limited


@inner
def lead_volts(v, net, work):
    """Volts of the lead nodes, once those of all others stand."""
    alin = work.alin
    for i in range(net.lead[0] - 1, -1, -1):
        s = load(work.base, i)
        for e in range(net.diag[i] + 1, net.rowptr[i + 1]):
            s = s - load(alin, e) * load(v, net.col[e])
        store(v, i, s / load(alin, net.diag[i]))  # of this very alin: a cold reading keeps one for each of its steps
    work.fits[0] = True


@inner
def newton(v, blin, lot, net, work, mask, weary, max_iter, care):
    """Solve the step in place of v in the lanes of the mask; care below 1 shortens every step. Returns the lanes that converged.
    Those of `weary` are given a few iterations only.

    The first solution takes the slopes of the devices as they were; then only devices whose slopes moved are linearised anew. What they
    carry is always their true current, so stale slopes cost iterations, not accuracy.
    """
    alin, a, dinv, x, base, last = work.alin, work.a, work.dinv, work.x, work.base, work.last
    n, first = net.diag.shape[0], net.lead[0]
    for i in range(n):
        s = load(blin, i)
        for e in range(net.rowptr[i], net.mid[i]):
            s = s - load(alin, e) * load(base, net.col[e])
        store(base, i, s)
        store(last, i, 0.0)
    alive = mask
    done = nobody()
    complete = nobody()  # lanes whose last step was taken whole
    late = splat(0.0)
    reach = splat(400.0)
    reuse = work.fits[0]
    for it in range(max_iter):
        limited = nobody()
        if it > 0 or not reuse:
            news, limited = look(v, lot, net, work, it > 7 or not reuse)
            still = alive & complete & ~news  # no device saw anything new: the last solution stands
            done = done | still
            alive = alive & ~still
            if not any_of(alive):
                break
            reuse = True
        if not work.fits[1]:
            if it == 0:
                work.redo[first:] = True
            rebuild(net, work)
        for i in range(first, n):
            s = load(base, i) + load(work.sums, i)
            for e in range(net.mid[i], net.diag[i]):
                s = s - load(a, e) * load(x, net.col[e])
            store(x, i, s)
        worst = splat(0.0)
        turns = broken = short = nobody()
        # the reach shrinks: where a device has no slope on one side of a kink, full steps would jump over it for ever;
        # uneven damping breaks the two-step circles that kinked devices fall into
        damp = splat(care)
        if it >= 5:
            k4 = it - late
            phase = k4 - 4.0 * whole(0.25 * k4)
            damp = where((k4 < 9.0) | (phase < 0.5), care, where(phase < 2.5, 0.5 * care, 0.25 * care))
        for i in range(n - 1, first - 1, -1):
            s = load(x, i)
            for e in range(net.diag[i] + 1, net.rowptr[i + 1]):
                s = s - load(a, e) * load(x, net.col[e])
            s = s * load(dinv, i)
            store(x, i, s)
            old = load(v, i)
            d = s - old
            broken = broken | ~(d == d)
            # measured from where the devices were last looked at: what lies within the tolerance of that is no news to them
            scale = absolute(s - load(work.seen, i)) / (5e-5 + 2e-6 * absolute(s))
            worst = most(worst, scale)
            turns = turns | ((scale > 1.0) & (d * load(last, i) < 0.0))
            store(last, i, d)
            short = short | (absolute(d) > reach)
            store(v, i, where(alive, old + damp * most(least(d, reach), -reach), old))
        alive = alive & ~broken
        complete = ~short & (damp == 1.0)
        if it >= 4:
            # one-way progress, as down the tail of an exponential, is no circle: it needs no damping
            oneway = ~turns if it > 4 else nobody()
            late = late + where(oneway, 1.0, 0.0)
            reach = where(oneway, reach, most(0.65 * reach, 0.02))
        # a net that a fault left floating on gigohms wanders by rounding; that is not a failure
        close = worst < (1.0 if it <= 30 else 300.0)
        there = alive & close & ~limited
        if any_of(there):
            for i in range(first, n):
                store(v, i, where(there, load(x, i), load(v, i)))
            done = done | there
            alive = alive & ~there
        if it == FEW:
            alive = alive & ~weary
        if not any_of(alive):
            break
    lead_volts(v, net, work)
    if any_of(mask & ~done):
        work.fits[0] = False
    return done


@inner
def unlimit(v, lot, net, work):
    """Let the memory of every device catch up with volts v."""
    for _ in range(60):
        _, limited = look(v, lot, net, work, True)
        if not any_of(limited):
            break
