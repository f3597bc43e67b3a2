"""Cold readings of eight variants at a time: what a meter drives through a dead, discharged circuit, with time."""

from __future__ import annotations

import numpy as np
from numba import njit

from halfsplit.solver.compiled.devices import inner, rooms
from halfsplit.solver.compiled.elimination import (
    carry_charges,
    companions,
    copy,
    drive_charges,
    empty,
    lead,
    linear,
    pair,
    put,
)
from halfsplit.solver.compiled.lanes import WIDTH, absolute, any_of, load, nobody, splat, store, take_next, where
from halfsplit.solver.compiled.newton import newton, room, seat, workspace

TURNS = 8  # changes of range before the one at hand is taken


@rooms
def _prepared(grid, net, lot, work):
    """The linear part without the meter, lead nodes eliminated: (steps + 2, values) for every step of a cold reading (grid: its
    effective length, what it takes of the state before and of the one before that, 1 where a time to read at is reached), then
    with the capacitors empty, then with them out of the way; and what capacitors and coils are in each."""
    steps = grid.shape[0]
    nc = net.cap_n.shape[0]
    kept = np.empty((steps + 2, work.alin.shape[0], WIDTH))
    cap_g, coil_g = np.empty((steps + 2, nc, WIDTH)), np.empty((steps + 2, net.coil_n.shape[0], WIDTH))
    for m in range(steps + 2):
        companions(net, lot, grid[m, 0] if m < steps else 1e9, cap_g[m], coil_g[m])
        for e in range(nc):
            if m == steps:
                store(cap_g[m], e, 1.0 / (load(lot.cap_r, e) + 1e-6 / load(lot.cap_c, e)))
            elif m > steps:
                store(cap_g[m], e, 0.0)
        linear(kept[m], net, lot, cap_g[m], coil_g[m])
        lead(net, kept[m], work.dinv)
    return kept, cap_g, coil_g


@inner
def _volts(ends, pos, ohms, volts, mask, moves, grid, out, kept, v, mixed, states, lot, net, work, cap_g, coil_g):
    """Volts that a meter (volts behind ohms) sees across two nodes of a dead circuit, at each of the times, in the lanes of the mask.

    First with every capacitor charged, then with all of them empty: where both are the same, no moment between shows anything else
    (what a source behind ohms drives through resistors and capacitors only ever rises). Else, or where it is known that it
    `moves`, step by step from empty capacitors, in backward differences of second order (those of first order read a charging capacitor several
    per cent off). grid, kept, cap_g, coil_g: see _prepared. Returns the lanes where a step failed, and those where it moves.
    """
    charges = net.cap_n.shape[0] + net.coil_n.shape[0]
    steps = grid.shape[0]
    missed = nobody()
    high = splat(0.0)
    w = 0
    todo = mask
    h = 1.0
    for m in range(-2, steps):
        active = todo if m >= 0 else mask & ~moves
        if not any_of(active):
            continue
        at = m if m >= 0 else steps + 2 + m  # of kept
        if m <= 0:
            v[:] = 0.0
            work.mem[:] = 0.0
            work.fits[0] = False
            states[:] = 0.0
        mixed[:] = 0.0
        if m >= 0:
            h, near, far = grid[m, 0], grid[m, 1], grid[m, 2]
            for e in range(charges):
                old = load(states, e)
                store(states, e, near * old - far * load(states, charges + e))
                store(states, charges + e, old)
            drive_charges(mixed, states, net, lot, cap_g[m], coil_g[m], h)
        copy(work.alin, kept[at])
        pair(work.alin, pos, 0, 1.0 / ohms)
        work.fits[1] = False
        put(mixed, ends, 0, volts / ohms)
        bad = active
        for attempt in range(3):
            if attempt > 0:  # once more from nothing, in small steps
                empty(v, bad)
                empty(work.mem, bad)
                work.fits[0] = False
            good = newton(
                v, mixed, lot, net, work, bad, nobody(), 80 if attempt == 0 else 240, 1.0 if attempt == 0 else 0.6 / attempt
            )
            bad = bad & ~good
            if not any_of(bad):
                break
        shown = load(v, ends[0, 0]) - load(v, ends[0, 1])
        if m == -2:
            high = where(bad, np.nan, shown)
            continue
        if m == -1:
            same = active & ~bad & (absolute(high - shown) <= 2e-4 * absolute(high))
            for t in range(out.shape[0]):
                store(out, t, where(same, high, load(out, t)))
            todo = mask & ~same
            continue
        missed = missed | bad
        if any_of(bad):
            empty(v, bad)
            empty(work.mem, bad)
            work.fits[0] = False
        carry_charges(states, v, net, lot, cap_g[m], coil_g[m], h)
        if grid[m, 3] > 0.0:
            store(out, w, where(active, shown, load(out, w)))
            w += 1
    return missed, todo


@njit(cache=True, nogil=True, error_model="numpy")
def cold_batch(queue, count, wanted, ends, pos, diode, volts, ranges, limit, grid, shown, failed, net, values):
    """Cold readings of the groups of eight variants that queue (1,) gives, up to count; other threads may take from it as well.

    wanted (batch, columns): whether a reading is asked of a variant. ends (columns, 1, 2), red first, pos (columns, 1, 4): its nodes and the places of these in
    the network. diode (columns,): diode test, else autoranging ohms, on a range that the last time fits. volts (2,): open-circuit volts of the ohms and the
    diode test. ranges: of the ohms test, then the ohms behind the diode test. limit: volts above which that shows nothing.
    shown (batch, columns, times): ohms or volts, inf above the top range; failed (batch, columns). grid: see _prepared.
    """
    batch, columns, times = shown.shape
    top = ranges.shape[0] - 2
    n = net.diag.shape[0]
    lot, work = room(net), workspace(net)
    v, mixed = np.zeros((n + 1, WIDTH)), np.zeros((n + 1, WIDTH))
    states = np.zeros((2 * (net.cap_n.shape[0] + net.coil_n.shape[0]), WIDTH))
    out, ohms, ask, moving = np.empty((times, WIDTH)), np.empty((1, WIDTH)), np.empty((1, WIDTH)), np.empty((1, WIDTH))
    miss = np.empty((1, WIDTH))
    at = np.zeros(WIDTH, np.int64)
    seen = np.zeros((WIDTH, top + 2), np.bool_)
    while True:
        group = take_next(queue)
        if group >= count:
            break
        for w in range(WIDTH):
            seat(lot, values, min(WIDTH * group + w, batch - 1), w)
        kept, cap_g, coil_g = _prepared(grid, net, lot, work)
        for j in range(columns):
            some = False
            for w in range(WIDTH):
                q = WIDTH * group + w
                ask[0, w] = 1.0 if q < batch and wanted[q, j] else 0.0
                some = some or ask[0, w] > 0.5
                at[w] = top + 1 if diode[j] else 2
            if not some:
                continue
            seen[:] = False
            moving[:] = 0.0
            out[:] = 0.0
            for _ in range(TURNS):
                for w in range(WIDTH):
                    ohms[0, w] = ranges[at[w]]
                mask = load(ask, 0) > 0.5
                bad, moves = _volts(
                    ends[j],
                    pos[j],
                    load(ohms, 0),
                    volts[1] if diode[j] else volts[0],
                    mask,
                    mask & (load(moving, 0) > 0.5),
                    grid,
                    out,
                    kept,
                    v,
                    mixed,
                    states,
                    lot,
                    net,
                    work,
                    cap_g,
                    coil_g,
                )
                store(moving, 0, where(moves, 1.0, load(moving, 0)))
                store(miss, 0, where(bad, 1.0, 0.0))
                again = False
                for w in range(WIDTH):
                    if ask[0, w] < 0.5:
                        continue
                    q, k = WIDTH * group + w, at[w]
                    failed[q, j] = miss[0, w] > 0.5
                    seen[w, k] = True
                    x = out[times - 1, w]
                    if diode[j]:
                        for t in range(times):
                            shown[q, j, t] = out[t, w] if out[t, w] <= limit else np.inf
                        ask[0, w] = 0.0
                        continue
                    r = ranges[k] * x / max(volts[0] - x, 1e-9)
                    for t in range(times):
                        full = ranges[k] * out[t, w] / max(volts[0] - out[t, w], 1e-12)
                        shown[q, j, t] = max(full, 0.0) if full <= ranges[top] * 1.02 else np.inf
                    if r > ranges[k] * 1.02 and k < top and not seen[w, k + 1]:
                        at[w] = k + 1
                        again = True
                    elif r < 0.09 * ranges[k] and k > 0 and not seen[w, k - 1]:
                        at[w] = k - 1
                        again = True
                    else:
                        ask[0, w] = 0.0
                if not again:
                    break
