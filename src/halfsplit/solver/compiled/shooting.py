"""The mains-periodic state of every variant: eight at a time run through the cycle, and one that has settled makes room for the next."""

from __future__ import annotations

from math import sin
from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from halfsplit.solver.compiled.devices import inner, rooms
from halfsplit.solver.compiled.elimination import (
    carry_charges,
    companions,
    copy,
    drive_charges,
    empty,
    lead,
    linear,
    put,
    put_back,
    solve_many,
)
from halfsplit.solver.compiled.lanes import WIDTH, any_of, load, nobody, store, take_next, where
from halfsplit.solver.compiled.latches import FLASH, TURNS, flash_room, follow, latches_in, latching, rest, stand, turn
from halfsplit.solver.compiled.newton import newton, room, seat, unlimit, workspace

Array = NDArray[np.float64]
TRIES, CARE = (
    np.array([40, 30, 240, 200]),
    np.array([1.0, 1.0, 0.3, 0.6]),
)  # attempts at a step: iterations, share of every step taken
PIECE = 64  # variants that a thread takes at a time
CUTS = 5  # how often a step that went too far is halved
STRIKES = 4  # cycles in which what latches moves by itself first: how it stood isn't part of a start
HOPELESS = 8  # where so many steps of a cycle fail, nothing is periodic: no time for more attempts, nor for long ones


class Hunt(NamedTuple):
    """Where each of the eight lanes is in its search. who: variant, -1 for none. chord: minv of before serves. free: cycles in which
    it moves by itself. newtons, cycles: so far. best, was: smallest and last step. safe: state where it last moved by itself.
    eager: the last step was taken with sensitivities of its own place, back. cuts: how often it was halved since."""

    who: NDArray[np.int64]
    chord: NDArray[np.bool_]
    free: NDArray[np.int64]
    newtons: NDArray[np.int64]
    cycles: NDArray[np.int64]
    best: Array
    was: Array
    safe: Array
    eager: NDArray[np.bool_]
    back: Array
    cuts: NDArray[np.int64]


@inner
def drive(blin, state, net, lot, cap_g, coil_g, h, s):
    """What sources, capacitors and coils drive into the nodes in a step, the mains being at s of its peak."""
    blin[:] = 0.0
    for e in range(net.src_n.shape[0]):
        put(blin, net.src_n, e, load(lot.src_g, e) * (load(lot.src_dc, e) + load(lot.src_pk, e) * s))
    drive_charges(blin, state, net, lot, cap_g, coil_g, h)


@inner
def _carry(mono, many, rhs, net, lot, work, cap_g, coil_g, h):
    """Take every column of mono (states * many) from a small change at the start of a step to what becomes of it."""
    nc, nl = net.cap_n.shape[0], net.coil_n.shape[0]
    n = net.diag.shape[0]
    rhs[: many * (net.diag.shape[0] + 1)] = 0.0
    for e in range(nc + nl):
        if e < nc:
            p, q = many * net.cap_n[e, 0], many * net.cap_n[e, 1]
            g = load(cap_g, e)
        else:
            p, q = many * net.coil_n[e - nc, 0], many * net.coil_n[e - nc, 1]
            g = -load(coil_g, e - nc) * load(lot.coil_l, e - nc) / h
        for c in range(many):
            amps = g * load(mono, many * e + c)
            store(rhs, p + c, load(rhs, p + c) + amps)
            store(rhs, q + c, load(rhs, q + c) - amps)
    solve_many(work.a, work.dinv, rhs, many, net)
    for c in range(many):
        store(rhs, many * n + c, 0.0)
    for e in range(nc):
        f = h / load(lot.cap_c, e) * load(cap_g, e)
        p, q = many * net.cap_n[e, 0], many * net.cap_n[e, 1]
        for c in range(many):
            old = load(mono, many * e + c)
            store(mono, many * e + c, old + f * (load(rhs, p + c) - load(rhs, q + c) - old))
    for e in range(nl):
        p, q = many * net.coil_n[e, 0], many * net.coil_n[e, 1]
        g = load(coil_g, e)
        back = load(lot.coil_l, e) / h
        for c in range(many):
            old = load(mono, many * (nc + e) + c)
            store(mono, many * (nc + e) + c, g * (load(rhs, p + c) - load(rhs, q + c) + back * old))


@inner
def _step(v, before, lot, net, work, mask, failed):
    """One step in time, tried again in other ways where a lane misses it. Returns the lanes that missed it for good; these stay where they were."""
    blin, mixed, v_before, mem_before = work.blin, work.mixed, work.v_before, work.mem_before
    copy(v_before, v)
    copy(mem_before, work.mem)
    bad = mask
    weary = load(failed, 0) >= HOPELESS
    for attempt in range(4):
        # first straight; then from the step before with the drive moved over piece by piece; then in small steps, for kinked devices
        # circle at full ones; and once from nothing: where the step before lies on the far side of a kink, that way is often clear
        if attempt > 0:
            again = bad & ~weary
            if not any_of(again):
                break
            if attempt < 3:
                put_back(v, again, v_before)
                put_back(work.mem, again, mem_before)
            else:
                empty(v, again)
                empty(work.mem, again)
        else:
            again = bad
        good = again
        pieces = 8 if attempt == 1 else 1
        for piece in range(1, pieces + 1):
            share = piece / pieces
            for i in range(v.shape[0]):
                old = load(before, i)
                store(mixed, i, old + share * (load(blin, i) - old) if piece < pieces else load(blin, i))
            good = newton(v, mixed, lot, net, work, again, weary, TRIES[attempt], CARE[attempt])
        bad = bad & ~good
        if not any_of(bad):
            return bad
    # half-way volts could be anything, and blow a fuse
    put_back(v, bad, v_before)
    put_back(work.mem, bad, mem_before)
    work.fits[0] = False
    return bad


@inner
def _flash(v, state, phase, h, cap_g, coil_g, lot, net, work, flash):
    """Make ready for the moment after something fired at the end of a step: capacitors and coils as they stand there unfired."""
    copy(flash.state, state)
    carry_charges(flash.state, v, net, lot, cap_g, coil_g, h)
    copy(flash.alin, work.alin)
    copy(work.alin, flash.short)
    copy(flash.b, work.blin)
    work.fits[:] = False
    drive(work.blin, flash.state, net, lot, flash.cap_g, flash.coil_g, FLASH, phase)
    copy(flash.v, v)


@inner
def _back(lot, net, work, flash):
    """The step itself again."""
    copy(work.alin, flash.alin)
    copy(work.blin, flash.b)
    work.fits[:] = False


@inner
def _cycle(state, wave, steps, hertz, mono, many, rhs, cap_g, coil_g, v, before, lot, net, work, flash, mask, failed):
    """Run the lanes of the mask through one mains cycle from state (caps then coils); fills wave (steps * nodes) and carries mono along.
    Backward Euler: at this step it has the ripple of a rectifier to 1 %, differences of second order lack 5 % where diodes switch.
    failed (1, WIDTH) counts steps that missed their tolerance."""
    n = net.diag.shape[0]
    h = 1.0 / (hertz * steps)
    blin = work.blin
    failed[:] = 0.0
    latch = latching(net, lot) & mask
    latches = any_of(latch)
    for m in range(steps):
        phase = sin(2.0 * np.pi * (m + 1) / steps)
        drive(blin, state, net, lot, cap_g, coil_g, h, phase)
        if latches:
            stand(net, lot, work)
            rest(flash)
            copy(flash.before, v)
        # one call of _step for all that is solved: from a second one on the compiler would no longer build it in
        bad = nobody()
        again = fired = mask
        at, looks = v, False
        for _ in range(2 * TURNS + 2):
            missed = _step(at, before, lot, net, work, fired if looks else again, failed)
            if looks:
                _back(lot, net, work, flash)
                follow(v, net, lot, flash, fired & ~missed)
                at, looks = v, False
                continue
            bad = bad | missed
            if not latches:
                break
            fired, ceased = turn(v, net, lot, flash, latch & ~bad)
            again = fired | ceased
            if not any_of(again):
                break
            work.fits[0] = False
            if any_of(fired):
                _flash(v, state, phase, h, cap_g, coil_g, lot, net, work, flash)
                at, looks = flash.v, True
        store(failed, 0, load(failed, 0) + where(bad, 1.0, 0.0))
        copy(before, blin)
        _carry(mono, many, rhs, net, lot, work, cap_g, coil_g, h)
        carry_charges(state, v, net, lot, cap_g, coil_g, h)
        for i in range(n):
            store(wave, m * n + i, load(v, i))


@rooms
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


@inner
def _measure(w, state, end, nc, minv, step):
    """Newton step of lane w by the sensitivities minv: its size, 1 being what the search stops at, and whether it is wild."""
    ns = state.shape[0]
    worst = 0.0
    wild = False
    for i in range(ns):
        x = 0.0
        for j in range(ns):
            x += minv[i, j] * (end[j, w] - state[j, w])
        if not (x == x):
            x = end[i, w] - state[i, w]
        lim = 60.0 + 0.5 * abs(state[i, w])
        size = abs(x) / (1e-3 + 3e-4 * abs(state[i, w])) if i < nc else abs(x) / (2e-5 + 1e-3 * abs(state[i, w]))
        worst = max(worst, size)
        wild = wild or abs(x) > lim
        step[i] = min(max(x, -lim), lim)
    return worst, wild


@inner
def _holds(w, mono, many, minv):
    """Whether minv still is what lane w is like, by the sensitivity to one change of all states together (mono summed over its columns).

    Where the circuit got slower than minv knows (a rail fell dead, say), a small step means nothing."""
    ns = minv.shape[0]
    for i in range(ns):
        told = 0.0
        for j in range(ns):
            lite = 0.0
            for c in range(many):
                lite += mono[many * j + c, w]
            told += minv[i, j] * (1.0 - lite)
        if abs(told - 1.0) >= 0.5:
            return False
    return True


@rooms
def _think(hunt, w, state, end, mono, many, nc, failed, minv, max_cycles):
    """What follows for lane w from the cycle it just ran, from state to end: 0 go on, 1 settled, -1 given up.
    minv: (I - M)^-1 of its own. The first nc states are capacitors.

    Stops on the size of the Newton update, not on the residual: a dead rail with a time constant of minutes has a tiny residual long before
    it has settled.
    """
    ns = state.shape[0]
    hunt.cycles[w] += 1
    if hunt.cycles[w] >= 1000:
        return -1
    if hunt.free[w] > 0:
        for i in range(ns):
            state[i, w] = end[i, w] if abs(end[i, w]) < 1e4 else 0.0
            hunt.safe[i, w] = state[i, w]
        hunt.free[w] -= 1
        return 1 if max_cycles == 0 and hunt.free[w] == 0 else 0
    # one step of the hundred that missed its tolerance moves no display; more of them are no solution
    verdict = 1 if failed <= 1.0 else -1
    step = np.zeros(ns)
    worst, wild = _measure(w, state, end, nc, minv, step)
    was = hunt.was[w]
    if hunt.eager[w] and worst > was and hunt.cuts[w] < CUTS:
        # measured by the sensitivities that the last step was taken with, it went too far: back by half of it
        for i in range(ns):
            state[i, w] = 0.5 * (state[i, w] + hunt.back[i, w])
        hunt.cuts[w] += 1
        return 0
    hunt.cuts[w] = 0
    if hunt.chord[w]:
        # a chord step leaves up to a fifth of itself to go, a Newton step next to nothing; the second such step in a row counts
        if worst < 1.0 and not _holds(w, mono, many, minv):
            hunt.chord[w] = False
        elif worst < (0.3 if was >= 1.0 else 1.0):
            return verdict
        elif wild or worst > 0.5 * was:
            # these sensitivities are of no use here: a rail whose leak they took for next to nothing would be thrown off by volts
            hunt.chord[w] = False
        if not hunt.chord[w] and many < ns:
            return 0
    hunt.eager[w] = not hunt.chord[w]
    if hunt.eager[w]:
        m = np.empty((ns, ns))
        for i in range(ns):
            for j in range(ns):
                m[i, j] = mono[many * i + j, w]
        _inverse(m, minv)
        worst, wild = _measure(w, state, end, nc, minv, step)
        if worst < 1.0:
            return verdict
    # those of an earlier cycle, or of a neighbour, serve as long as they bring it forward quickly
    hunt.chord[w] = worst < 0.2 * was
    hunt.was[w] = worst
    k = hunt.newtons[w]
    damp = 1.0
    if k > 10 and worst > 0.9 * hunt.best[w]:
        damp = 0.5 if k % 2 == 0 else 0.15
    hunt.best[w] = min(hunt.best[w], worst)
    for i in range(ns):
        hunt.back[i, w] = state[i, w]
        state[i, w] += damp * step[i]
    hunt.newtons[w] = k + 1
    if k + 1 == max_cycles:
        return -1
    if (k + 1) % 12 == 0:
        # shooting is going round in circles: let the circuit itself move for some cycles, from where it last moved by itself
        for i in range(ns):
            state[i, w] = hunt.safe[i, w]
        hunt.free[w] = 8 if k + 1 == 12 else 40
        hunt.best[w] = hunt.was[w] = 1e300
        hunt.chord[w] = hunt.eager[w] = False
    return 0


@njit(cache=True, nogil=True, error_model="numpy")
def periodic_batch(queue, order, states, waves, cycles, hertz, net, values, warm, minvs, use_chord, max_cycles, thorough):
    """Periodic state of the variants `order`, piece by piece as queue (1,) gives them; other threads may take from it as well.

    Arrays have the batch axis first; waves (batch, nodes, steps) hold in their last step the volts to begin from. minvs gets (I - M)^-1 of the
    last full iteration. cycles (batch,): cycles used, negative = unresolved. warm: cycles in which all move by themselves first;
    with max_cycles 0 nothing follows these.
    thorough: else a variant that needs its own sensitivities is put back where it stands, with cycles 0: carrying them along doubles
    the work of all eight lanes, so those that need them had better sit together.
    """
    n, nc = net.diag.shape[0], net.cap_n.shape[0]
    ns, steps = states.shape[1], waves.shape[2]
    lot, work, flash = room(net), workspace(net), flash_room(net)
    cap_g, coil_g = np.empty((nc, WIDTH)), np.empty((ns - nc, WIDTH))
    v, before, wave = np.zeros((n + 1, WIDTH)), np.zeros((n + 1, WIDTH)), np.zeros((steps * n, WIDTH))
    state, end = np.zeros((ns, WIDTH)), np.zeros((ns, WIDTH))
    full, lite, rhs = np.zeros((ns * ns, WIDTH)), np.zeros((ns, WIDTH)), np.zeros(((n + 1) * max(ns, 1), WIDTH))
    failed, alive = np.zeros((1, WIDTH)), np.zeros((1, WIDTH))
    hunt = Hunt(
        np.full(WIDTH, -1),
        np.zeros(WIDTH, np.bool_),
        np.zeros(WIDTH, np.int64),
        np.zeros(WIDTH, np.int64),
        np.zeros(WIDTH, np.int64),
        np.zeros(WIDTH),
        np.zeros(WIDTH),
        np.zeros((ns, WIDTH)),
        np.zeros(WIDTH, np.bool_),
        np.zeros((ns, WIDTH)),
        np.zeros(WIDTH, np.int64),
    )
    while True:
        # who sits beside whom follows from the order alone, whatever the threads: or an answer would differ in its seventh digit from run to run
        coming = PIECE * take_next(queue)
        stop = min(coming + PIECE, order.shape[0])
        if coming >= stop:
            break
        seated = False
        while True:
            fresh = False
            for w in range(WIDTH):
                if hunt.who[w] >= 0:
                    continue
                if coming >= stop:
                    if seated:
                        continue
                    q = order[stop - 1]  # a lane that nobody wants still needs values that can be divided by
                else:
                    q = order[coming]
                    coming += 1
                    hunt.who[w] = q
                    alive[0, w] = 1.0
                    fresh = True
                seat(lot, values, q, w)
                for i in range(n):
                    v[i, w] = waves[q, i, steps - 1]
                    before[i, w] = 0.0
                for i in range(ns):
                    state[i, w] = states[q, i]
                    hunt.safe[i, w] = states[q, i]
                work.mem[:, w] = 0.0
                hunt.chord[w], hunt.free[w], hunt.newtons[w], hunt.cycles[w] = use_chord[q], warm, 0, 0
                if max_cycles > 0 and latches_in(net, lot, w):
                    hunt.free[w] = max(warm, STRIKES)
                hunt.best[w] = hunt.was[w] = 1e300
                hunt.eager[w], hunt.cuts[w] = False, 0
            seated = True
            mask = load(alive, 0) > 0.5
            if not any_of(mask):
                break
            if fresh:
                if any_of(latching(net, lot)):
                    companions(net, lot, FLASH, flash.cap_g, flash.coil_g)
                    linear(flash.short, net, lot, flash.cap_g, flash.coil_g)
                    lead(net, flash.short, flash.dinv)
                companions(net, lot, 1.0 / (hertz * steps), cap_g, coil_g)
                linear(work.alin, net, lot, cap_g, coil_g)
                lead(net, work.alin, work.dinv)
                copy(work.a, work.alin)
                work.fits[:] = False
                unlimit(v, lot, net, work)
            copy(end, state)
            whole = False
            for w in range(WIDTH):
                whole = whole or (hunt.who[w] >= 0 and hunt.free[w] == 0 and not hunt.chord[w])
            many, mono = (ns, full) if whole else (1, lite)
            mono[:] = 0.0 if whole else 1.0
            if whole:
                for i in range(ns):
                    store(mono, ns * i + i, 1.0)
            _cycle(end, wave, steps, hertz, mono, many, rhs, cap_g, coil_g, v, before, lot, net, work, flash, mask, failed)
            for w in range(WIDTH):
                q = hunt.who[w]
                if q < 0:
                    continue
                verdict = _think(hunt, w, state, end, mono, many, nc, failed[0, w], minvs[q], max_cycles)
                put_back = not thorough and verdict == 0 and hunt.free[w] == 0 and not hunt.chord[w]
                if verdict != 0 or put_back:
                    cycles[q] = verdict * hunt.cycles[w]
                    for i in range(ns):
                        states[q, i] = state[i, w]
                    for i in range(n):
                        for m in range(steps):
                            waves[q, i, m] = wave[m * n + i, w]
                    hunt.who[w] = -1
                    alive[0, w] = 0.0
