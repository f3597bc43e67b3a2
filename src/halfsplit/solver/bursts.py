"""A hiccup followed: what the board does from the moment a converter starts until it falls back.

Neither steady state of a set that hiccups is what a meter holds as MAX: the running one is never reached (a rail pulled down by an overload), or
it would lie past the volts at which the chip stops (an open loop). The burst between them is run step by step, with the modes held.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Circuit, Part
from halfsplit.parts import family_of
from halfsplit.solver.network import Array, Network, build_network
from halfsplit.solver.state import RUNS, STEPS, Periodic, Probe, rows_of
from halfsplit.solver.threads import spread

MOST_CYCLES = 40  # a start that lasts longer has long reached what the running state shows
PARTS = 10  # looks in one mains cycle of a meter that holds extremes

Falls = Callable[[Any, NDArray[np.int64]], NDArray[np.bool_]]
LONGEST = 60.0  # of a wait [s]: nobody stands by any longer
DRAINING = 25  # mains cycles that a latch beside the chip may take to drain its supply and let go; where it holds on, nothing starts again


@dataclass(frozen=True)
class Bursts:
    """shown (rows, nodes, looks) [V]: what a peak hold sees, means over a tenth of a mains cycle (2 ms), at each look of the burst (NaN after its end), then
    at the beginning and at the end of the wait. seconds (rows,): how long it ran.

    wait (rows,): how long it waits for its next start [s]; mean (rows, nodes): over burst and wait [V].
    """

    shown: Array
    seconds: Array
    wait: Array
    mean: Array

    @property
    def period(self) -> Array:
        """From start to start (rows,) [s]."""
        return self.seconds + self.wait


@dataclass(frozen=True)
class Supply:
    """What has to be charged before a chip starts again. plus, minus: its nodes (-1: the reference); rows (rows,): whose it is; low, high (rows,): volts
    from which it comes up after a stop, and at which it starts [V]."""

    plus: int
    minus: int
    rows: NDArray[np.bool_]
    low: Array
    high: Array


@dataclass(frozen=True)
class Waiting:
    """The same rows waiting. settled (rows, nodes): mean volts if it waited for ever [V]."""

    network: Network
    settled: Array
    supplies: tuple[Supply, ...]


def one_cycle(network: Network, state: Array, volts: Array) -> tuple[Array, Array]:
    """Run every row through one mains cycle from state (batch, states), beginning the search at volts (batch, nodes).

    Returns the state at its end and the waves (batch, nodes, steps) [V].
    """
    from halfsplit.solver.compiled.shooting import periodic_batch

    batch = network.batch
    end, wave, cycles = state.copy(), np.zeros((batch, network.size, STEPS)), np.zeros(batch, np.int64)
    wave[:, :, -1] = volts
    minv, chord = np.zeros((batch, state.shape[1], state.shape[1])), np.zeros(batch, bool)
    net, values = network.pattern.net, network.values
    spread(periodic_batch, np.arange(batch), batch, end, wave, cycles, network.hertz, net, values, 1, minv, chord, 0, True)
    return end, wave


def follow(network: Network, state: Array, volts: Array, falls: Falls, waiting: Waiting) -> Bursts:
    """Run rows from state until they fall back, and on until they start again.

    falls(wave, rows) -> (rows, steps): where in these waves it would leave its running state.
    """
    batch, each, nodes = network.batch, STEPS // PARTS, network.size
    pieces: list[Array] = []  # means over a tenth of a cycle
    steps, total = np.zeros(batch), np.zeros((batch, nodes))
    end_state, end_volts = state.copy(), volts.copy()
    left = np.arange(batch)
    for _ in range(MOST_CYCLES):
        state, wave = one_cycle(network.take(left), state, volts)
        hit = falls(wave, left)
        fell = hit.any(1)
        first = np.where(fell, hit.argmax(1) + 1, STEPS)
        mean = wave.reshape(len(left), nodes, PARTS, each).mean(3)
        over = np.arange(PARTS) * each >= first[:, None]
        piece = np.full((batch, nodes, PARTS), np.nan)
        piece[left] = np.where(over[:, None, :], np.nan, mean)
        pieces.append(piece)
        total[left] += np.where((np.arange(STEPS) < first[:, None])[:, None, :], wave, 0.0).sum(2)
        steps[left] += first
        end_state[left], end_volts[left] = state, wave[:, :, -1]
        state, volts, left = state[~fell], wave[~fell, :, -1], left[~fell]
        if not len(left):
            break
    seconds = steps / (STEPS * network.hertz)
    wait, area, first, last = _wait(waiting, end_state, end_volts)
    mean = (total / (STEPS * network.hertz) + area) / (seconds + wait)[:, None]
    shown = np.concatenate([*pieces, first[:, :, None], last[:, :, None]], 2)
    return Bursts(shown, seconds, wait, mean)


def _wait(waiting: Waiting, state: Array, volts: Array) -> tuple[Array, Array, Array, Array]:
    """How long it waits (rows,) [s], what every node's volts add up to meanwhile (rows, nodes) [Vs], and what they are at first and in the end
    (rows, nodes) [V].

    A supply that is left above its lower volts (the chip stopped for another reason) is drained to them in no time. Two cycles are run, and more where
    it still falls (a latch of the board pulls it down and lets go once it starves); from the last on, supplies charge as evenly as they do there, and every
    node dies away to where it settles as it does there.
    """
    network, cycle = waiting.network, 1.0 / waiting.network.hertz
    state = state.copy()
    caps = network.pattern.net.cap_n
    for s in waiting.supplies:
        held = [k for k in range(caps.shape[0]) if {_node(network, caps[k, 0]), _node(network, caps[k, 1])} == {s.plus, s.minus}]
        for k in held:
            sign = 1.0 if _node(network, caps[k, 0]) == s.plus else -1.0
            state[:, k] = np.where(s.rows, sign * np.minimum(sign * state[:, k], s.low), state[:, k])
    state, one = one_cycle(network, state, volts)
    state, two = one_cycle(network, state, one[:, :, -1])
    done, early = np.full(network.batch, 2), cycle * (one.mean(2) + two.mean(2))
    falling = np.flatnonzero(_falling(waiting, one, two))
    for _ in range(DRAINING):
        if not len(falling):
            break
        some, wave = one_cycle(network.take(falling), state[falling], two[falling, :, -1])
        one[falling], two[falling], state[falling] = two[falling], wave, some
        done[falling] += 1
        early[falling] += cycle * wave.mean(2)
        falling = falling[_falling(waiting, one, two)[falling]]
    wait = np.zeros(network.batch)
    ends = []
    for s in waiting.supplies:
        before, now = (_between(w[:, :, -1], s) for w in (one, two))
        gain = (now - before) / cycle
        need = np.where(gain > (s.high - s.low) / LONGEST, (s.high - now) / np.maximum(gain, 1e-9), LONGEST)
        wait = np.where(s.rows, np.maximum(wait, need), wait)
        ends.append(now)
    rest = np.clip(wait, 0.0, LONGEST)[:, None]
    first, second = one.mean(2), two.mean(2)
    gap = second - waiting.settled
    was = first - waiting.settled
    ratio = np.clip(gap / np.where(np.abs(was) > 1e-6, was, 1e-6), 1e-6, 0.999999)
    tau = -cycle / np.log(ratio)
    left = np.exp(-rest / tau)
    area, last = waiting.settled * rest + gap * tau * (1.0 - left), waiting.settled + gap * left
    for s, now in zip(waiting.supplies, ends, strict=True):
        if s.plus >= 0:
            under = 0.0 if s.minus < 0 else last[:, s.minus]
            mean_under = 0.0 if s.minus < 0 else area[:, s.minus]
            ramp = rest[:, 0] * 0.5 * (now + s.high) + mean_under
            area[:, s.plus] = np.where(s.rows, ramp, area[:, s.plus])
            last[:, s.plus] = np.where(s.rows, s.high + under, last[:, s.plus])
    return rest[:, 0] + done * cycle, area + early, first, last


def _falling(waiting: Waiting, before: Array, now: Array) -> NDArray[np.bool_]:
    """Rows with a supply that ends this cycle lower than the last (rows,)."""
    out = np.zeros(len(now), bool)
    for s in waiting.supplies:
        out |= s.rows & (_between(now[:, :, -1], s) < _between(before[:, :, -1], s))
    return out


def _node(network: Network, at: int) -> int:
    """Number of a node as the nets have it: what the compiled loops write for the reference is -1 there."""
    return -1 if at >= network.size else int(at)


def _between(x: Array, s: Supply) -> Array:
    return np.asarray((x[:, s.plus] if s.plus >= 0 else 0.0) - (x[:, s.minus] if s.minus >= 0 else 0.0))


def bursts_of(
    circuit: Circuit,
    modal: list[Part],
    vals: Mapping[str, Mapping[str, Array]],
    modes: Mapping[str, Array],
    batch: int,
    now: tuple[Array, Array],
    other: Mapping[int, Array],
    before: Mapping[int, tuple[Array, dict[str, float]]],
    ok: NDArray[np.bool_],
) -> tuple[NDArray[np.int64], Bursts | None]:
    """Follow what hiccups: rows whose two states differ in a part that runs in one and waits in the other. Returns rows, burst.

    now: waves and states of the batch as they ended; other, before: the wave, and state and modes, of the second state of some rows.
    """
    wave, state = now
    chips = [p for p in modal if family_of(p).mode.falls is not None]  # type: ignore[union-attr]
    rows, begin, idle = [], [], []
    running: dict[str, list[float]] = {p.ref: [] for p in modal}
    resting: dict[str, list[float]] = {p.ref: [] for p in modal}
    for q in sorted(other):
        old_state, old = before[q]
        new = {ref: float(m[q]) for ref, m in modes.items()}
        runs = {new[p.ref] == RUNS for p in chips if (new[p.ref] == RUNS) != (old[p.ref] == RUNS)}
        if not ok[q] or len(runs) != 1:
            continue
        first_waits = runs == {False}
        rows.append(q)
        begin.append(state[q] if first_waits else old_state)
        idle.append(wave[q] if first_waits else other[q])
        for ref in running:
            running[ref].append((old if first_waits else new)[ref])
            resting[ref].append((new if first_waits else old)[ref])
    if not rows:
        return np.zeros(0, np.int64), None
    at = np.array(rows, np.int64)

    def in_modes(wanted: Mapping[str, list[float]]) -> dict[str, dict[str, Array]]:
        own = {ref: {k: rows_of(x, at, batch) for k, x in v.items()} for ref, v in vals.items()}
        for part in modal:
            own[part.ref][family_of(part).mode.param] = np.array(wanted[part.ref])  # type: ignore[union-attr]
        return own

    on, off = in_modes(running), in_modes(resting)
    network, waiting = (build_network(circuit, own, len(at), powered=True) for own in (on, off))
    cycles = [p for p in chips if np.any(np.asarray(running[p.ref]) != np.asarray(resting[p.ref]))]
    changes = {p.ref: np.asarray(running[p.ref]) != np.asarray(resting[p.ref]) for p in cycles}

    def falls(waves: Array, some: NDArray[np.int64]) -> NDArray[np.bool_]:
        hit = np.zeros((len(some), STEPS), bool)
        there = Periodic(network, waves, state[:0], state[:0], ok[:0])
        for part in cycles:
            values = {k: rows_of(x, some, len(at)) for k, x in on[part.ref].items()}
            stops = family_of(part).mode.falls(Probe(there, circuit, part, on), values)  # type: ignore[union-attr, misc]
            hit |= stops & changes[part.ref][some, None]
        return hit

    supplies = []
    for part in cycles:
        plus, minus, span = family_of(part).mode.supply  # type: ignore[union-attr, misc]
        low, high = (np.broadcast_to(x, len(at)) for x in span(off[part.ref]))
        nets = waiting.nets
        supplies.append(Supply(nets[part.pins[plus]], nets[part.pins[minus]], changes[part.ref], low, high))
    rest = np.array(idle)
    return at, follow(network, np.array(begin), rest[:, :, -1], falls, Waiting(waiting, rest.mean(2), tuple(supplies)))
