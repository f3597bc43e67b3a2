"""What latches within a mains cycle: a diac that breaks over, a triac that it fires, both until their current ceases.

How they stand is held while a step is solved and looked at behind it; where something fires or ceases, the step is solved once more. A step is
0.2 ms and firing takes microseconds, so the moment counts by its share of the step: a triac that fires in it drops what it blocked for that share.
What a diac does to a gate is looked at in a moment of its own (FLASH), in which capacitors hold their volts.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from halfsplit.solver.compiled.devices import CLOSED, LATCH, NEVER, inner, rooms
from halfsplit.solver.compiled.lanes import WIDTH, absolute, any_of, least, load, most, nobody, splat, store, where

Array = NDArray[np.float64]
FLASH = 1e-6  # [s] of the dump of a timing capacitor, some microseconds long
TURNS = 3  # how often a step is solved again: what fires, what that fires, what ceases for it


class Flash(NamedTuple):
    """Room for the moment in which something fires. short, dinv, cap_g, coil_g: linear part and companions for FLASH; v, state: the board in that moment.
    alin, b: of the step, while it is put aside. before (nodes + 1,): the end of the step before. turned (devices,): what turned in this step
    already. moment (1,): share of the step at which something fired, -1 for not."""

    short: Array
    alin: Array
    dinv: Array
    cap_g: Array
    coil_g: Array
    v: Array
    b: Array
    state: Array
    before: Array
    turned: Array
    moment: Array


@rooms
def flash_room(net):
    """Fresh room for eight variants."""
    n, size, nc, nl = net.diag.shape[0], net.col.shape[0], net.cap_n.shape[0], net.coil_n.shape[0]
    return Flash(
        np.zeros((size + 1, WIDTH)),
        np.zeros((size + 1, WIDTH)),
        np.zeros((n, WIDTH)),
        np.zeros((nc, WIDTH)),
        np.zeros((nl, WIDTH)),
        np.zeros((n + 1, WIDTH)),
        np.zeros((n + 1, WIDTH)),
        np.zeros((nc + nl, WIDTH)),
        np.zeros((n + 1, WIDTH)),
        np.zeros((net.dev_k.shape[0], WIDTH)),
        np.zeros((1, WIDTH)),
    )


@inner
def latching(net, lot):
    """The lanes in which something may latch."""
    out = nobody()
    for k in range(net.dev_k.shape[0]):
        if net.dev_k[k] == LATCH:
            out = out | (load(lot.dev_p[k], 0) < NEVER)
    return out


@inner
def latches_in(net, lot, w):
    """Whether something may latch in lane w."""
    for k in range(net.dev_k.shape[0]):
        if net.dev_k[k] == LATCH and lot.dev_p[k, 0, w] < NEVER:
            return True
    return False


@inner
def stand(net, lot, work):
    """At the beginning of a step: what fired in the last one now drops its volts for the whole of it."""
    for k in range(net.dev_k.shape[0]):
        if net.dev_k[k] == LATCH:
            own = lot.dev_p[k]
            drops = load(own, 4) * load(own, 2)
            if any_of(absolute(load(own, 5) - drops) > 0.0):
                store(own, 5, drops)
                work.fits[0] = False


@inner
def _gate(k, v, net):
    return load(v, net.dev_n[k, 2]) - load(v, net.dev_n[k, 3])


@inner
def _fire(k, v, which, own, net, flash):
    """Let a latch conduct in some lanes, from the moment of these on. v: the board as it blocked."""
    across = load(v, net.dev_n[k, 0]) - load(v, net.dev_n[k, 1])
    way = where(across > 0.0, 1.0, -1.0)
    keep, moment = load(own, 2), load(flash.moment, 0)
    store(own, 4, where(which, way, load(own, 4)))
    store(own, 5, where(which, where(keep > 0.0, way * keep, moment * across), load(own, 5)))
    store(flash.turned, k, where(which, 1.0, load(flash.turned, k)))


@inner
def _may(k, v, own, net, flash):
    """The lanes in which a latch blocks and needn't: not lost that way, and not turned in this step."""
    across = load(v, net.dev_n[k, 0]) - load(v, net.dev_n[k, 1])
    lost = load(own, 3)
    idle = (absolute(load(own, 4)) < 0.5) & (load(flash.turned, k) < 0.5)
    return idle & (lost * across <= 0.0)


@inner
def turn(v, net, lot, flash, mask):
    """Look at every latch of the lanes of the mask at the end of a step, v as it was solved. Returns those in which one fired, those in which one ceased."""
    fired = ceased = nobody()
    for k in range(net.dev_k.shape[0]):
        if net.dev_k[k] != LATCH:
            continue
        own = lot.dev_p[k]
        fires, gate = load(own, 0), _gate(k, v, net)
        driven = absolute(gate) > fires
        # conducting: until the current falls under its holding one or turns; one that is still driven goes on the other way
        way = load(own, 4)
        amps = CLOSED * (load(v, net.dev_n[k, 0]) - load(v, net.dev_n[k, 1]) - load(own, 5))
        short = mask & (absolute(way) > 0.5) & (load(flash.turned, k) < 0.5) & (amps * way < load(own, 1))
        back = short & driven & (load(own, 2) <= 0.0) & (load(own, 3) * way >= 0.0)
        stop = short & ~back
        store(own, 4, where(stop, 0.0, where(back & (amps * way < 0.0), -way, way)))
        store(own, 5, where(stop, 0.0, load(own, 5)))
        store(flash.turned, k, where(stop, 1.0, load(flash.turned, k)))
        ceased = ceased | stop
        hit = mask & driven & _may(k, v, own, net, flash)
        if any_of(hit):
            was = where(gate > 0.0, 1.0, -1.0) * _gate(k, flash.before, net)
            share = most(least((fires - was) / most(absolute(gate) - was, 1e-9), 1.0), 0.0)
            moment = load(flash.moment, 0)
            store(flash.moment, 0, where(hit & (moment < 0.0), share, moment))
            _fire(k, v, hit, own, net, flash)
            fired = fired | hit
    return fired, ceased


@inner
def follow(v, net, lot, flash, mask):
    """Fire what is driven in the moment that flash.v shows, in the lanes of the mask. v: the board as it blocked."""
    for k in range(net.dev_k.shape[0]):
        if net.dev_k[k] == LATCH:
            own = lot.dev_p[k]
            _fire(k, v, mask & (absolute(_gate(k, flash.v, net)) > load(own, 0)) & _may(k, v, own, net, flash), own, net, flash)


@inner
def rest(flash):
    """Nothing has turned in this step yet."""
    flash.turned[:] = 0.0
    store(flash.moment, 0, splat(-1.0))
