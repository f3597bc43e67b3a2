"""Powered readings: the mains-periodic steady state of a batch, with discrete modes settled outside Newton."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Circuit, Part
from halfsplit.parts import family_of
from halfsplit.solver.bursts import bursts_of
from halfsplit.solver.network import REFERENCE, Array, Network, PartValues, build_network
from halfsplit.solver.starts import Start, near, with_visits
from halfsplit.solver.state import RUNS, STEPS, Periodic, Powered, Probe, rows_of
from halfsplit.solver.threads import spread

MAX_FLIPS = 7
WARM_CYCLES = 9  # what does not settle so soon from a neighbour's state does so sooner from nothing


def solve_periodic(network: Network, start: Start | None = None) -> Periodic:
    """Shoot every row of the batch to its periodic state, from `start` or from nothing; where that fails, once more from nothing."""
    # compiled code is loaded only when something is to be solved
    from halfsplit.solver.compiled.shooting import periodic_batch

    batch = network.batch
    begin = _nothing(network) if start is None else start
    state, minv = begin.state.copy(), begin.minv.copy()
    wave, cycles = np.zeros((batch, network.size, STEPS)), np.zeros(batch, np.int64)
    wave[:, :, -1] = begin.volts
    warm, limit = (4, 40) if start is None else (0, WARM_CYCLES)
    net, values = network.pattern.net, network.values
    chord = begin.known
    for thorough in (False, True):
        # first those that get along with a neighbour's sensitivities, then what is left
        left = np.flatnonzero(chord if not thorough else cycles == 0)
        if len(left):
            spread(
                periodic_batch,
                left,
                len(left),
                state,
                wave,
                cycles,
                network.hertz,
                net,
                values,
                warm,
                minv,
                chord,
                limit,
                thorough,
            )
        chord = np.zeros(batch, bool)
    bad = np.flatnonzero(cycles < 0)
    if len(bad) and start is not None:
        again = solve_periodic(network.take(bad))
        state[bad], wave[bad], minv[bad] = again.state, again.wave, again.minv
        cycles[bad] = np.where(again.ok, 1, -1)
    return Periodic(network, wave, state, minv, cycles > 0)


def _nothing(network: Network) -> Start:
    """All capacitors empty."""
    batch, ns = network.batch, network.caps[0].shape[1] + network.coils[0].shape[1]
    state, volts = np.zeros((batch, ns)), np.zeros((batch, network.size))
    return Start(state, np.zeros((batch, ns, ns)), volts, np.zeros(batch, bool))


def _modal(circuit: Circuit) -> list[Part]:
    return [p for p in circuit.parts if family_of(p).mode is not None]


def solve_powered(
    circuit: Circuit,
    values: PartValues,
    batch: int,
    *,
    start: Powered | None = None,
    rows: NDArray[np.int64] | None = None,
    units: Powered | None = None,
    unit: NDArray[np.int64] | None = None,
    switched_on: bool = False,
    pressed: bool = False,
) -> Powered:
    """Settle modes: solve, ask each modal part, flip, solve again the rows that flipped.

    start: where the numbers begin, row rows[i] of it for row i; its modes are taken over as well unless the set is `switched_on` afresh, with
    all at rest (what would go on running need not start: a supply without its start-up resistor). units: healthy sets, number 0 of nominal
    values, unit[i] with the tolerances of row i. pressed: a control was pressed on it once it stood.
    A row whose modes come back to an earlier pattern has no stable state: it pulses between the two.
    """
    modal = _modal(circuit)
    vals = {ref: dict(v) for ref, v in values.items()}
    at = np.arange(batch) if rows is None else rows
    modes = {}
    for part in modal:
        mode = family_of(part).mode
        assert mode is not None  # _modal keeps only these
        first = np.full(batch, mode.charged if pressed and mode.charged is not None else mode.start)
        if start is not None and not switched_on and not mode.latching:
            first = start.modes[part.ref][at].copy()
        modes[part.ref] = first
        vals[part.ref][mode.param] = first

    def begin(own: Start, active: NDArray[np.int64]) -> Start:
        """Where rows begin in the modes that they are in now."""
        if start is None:
            return own
        return near(
            own,
            _keys(modes, active),
            start.visits,
            at[active],
            {} if units is None else units.visits,
            None if unit is None else unit[active],
        )

    network = build_network(circuit, vals, batch, powered=True)
    everyone = np.arange(batch)
    first_start = None if start is None else begin(start.solved.as_start(network.pattern).take(at), everyone)
    periodic = solve_periodic(network, first_start)
    now_at = periodic.as_start(network.pattern)
    wave, state, minv, ok = periodic.wave, periodic.state, periodic.minv, periodic.ok.copy()
    good = np.flatnonzero(ok)
    visits = with_visits({}, _keys(modes, good), good, now_at.take(good))
    other: dict[int, Array] = {}
    before: dict[int, tuple[Array, dict[str, float]]] = {}  # the state and modes of that
    seen = [{key} for key in _keys(modes, everyone)]
    active = everyone
    for turn in range(1, MAX_FLIPS + 1):
        now = {ref: m[active] for ref, m in modes.items()}
        part_vals = {ref: {k: rows_of(x, active, batch) for k, x in v.items()} for ref, v in vals.items()}
        new = _settle(circuit, modal, periodic, part_vals, now, active)
        changed = np.zeros(len(active), bool)
        for part in modal:
            # an overload may have no periodic state at all before its fuse goes: latching modes also go by an unsettled cycle
            counts = ok[active] | family_of(part).mode.latching  # type: ignore[union-attr]
            changed |= (new[part.ref] != now[part.ref]) & counts
        active, new = active[changed], {ref: m[changed] for ref, m in new.items()}
        if not len(active):
            break
        was = {ref: m.copy() for ref, m in modes.items()}
        for ref in modes:
            modes[ref][active] = new[ref]
        keys = _keys(modes, active)
        back = np.asarray([key in seen[q] for key, q in zip(keys, active, strict=True)]) | (turn == MAX_FLIPS)
        for key, q in zip(keys, active, strict=True):
            seen[q].add(key)
        vals_now = {ref: {k: rows_of(x, active, batch) for k, x in v.items()} for ref, v in vals.items()}
        for part in modal:
            mode = family_of(part).mode
            vals_now[part.ref][mode.param] = modes[part.ref][active]  # type: ignore[union-attr]
            vals[part.ref][mode.param] = modes[part.ref]  # type: ignore[union-attr]
        part_net = build_network(circuit, vals_now, len(active), powered=True)
        own = Start(state[active], minv[active], wave[active, :, -1], np.zeros(len(active), bool))
        again = solve_periodic(part_net, begin(own, active))
        other |= {int(q): wave[q].copy() for q in active[back]}
        before |= {int(q): (state[q].copy(), {ref: float(m[q]) for ref, m in was.items()}) for q in active[back]}
        wave[active], state[active], minv[active], ok[active] = again.wave, again.state, again.minv, again.ok
        good = np.flatnonzero(again.ok)
        visits = with_visits(visits, [keys[k] for k in good], active[good], again.as_start(network.pattern).take(good))
        active = active[~back]
    pulsing = np.isin(everyone, list(other))
    reasons = {int(q): "no mains-periodic state found" for q in np.flatnonzero(~ok)}
    # what a meter's own ohms do to a reading depends on the modes as they ended
    for part in modal:
        vals[part.ref][family_of(part).mode.param] = modes[part.ref]  # type: ignore[union-attr]
    settled = build_network(circuit, vals, batch, powered=True)
    bursting, burst = bursts_of(circuit, modal, vals, modes, batch, (wave, state), other, before, ok)
    timed = _timed(modal, vals, modes, batch, {q: was for q, (_, was) in before.items()})
    return Powered(
        replace(periodic, network=settled, wave=wave, state=state, minv=minv, ok=ok),
        np.stack([other[q] for q in sorted(other)]) if other else np.zeros((0, *wave.shape[1:])),
        pulsing,
        ok,
        modes,
        reasons,
        visits,
        bursting,
        burst,
        timed,
    )


def _timed(
    modal: list[Part], values: PartValues, modes: Mapping[str, Array], batch: int, before: Mapping[int, Mapping[str, float]]
) -> Array:
    """(batch,) [s] from try to try of rows that pulse by the timer of a chip, the slowest where there are several; NaN of all else."""
    out = np.full(batch, np.nan)
    for part in modal:
        pauses = family_of(part).mode.pauses  # type: ignore[union-attr]
        if pauses is not None:
            seconds = np.broadcast_to(values[part.ref][pauses[1]], batch)
            rows = [q for q, was in before.items() if {was[part.ref], float(modes[part.ref][q])} >= {pauses[0], RUNS}]
            out[rows] = np.fmax(out[rows], seconds[rows])
    return out


def _keys(modes: Mapping[str, Array], rows: NDArray[np.int64]) -> list[bytes]:
    """The pattern of modes of every one of some rows."""
    table = np.zeros((len(rows), len(modes)), np.uint8)
    for k, mode in enumerate(modes.values()):
        table[:, k] = mode[rows]
    return [row.tobytes() for row in table]


def _settle(
    circuit: Circuit, modal: list[Part], solved: Periodic, values: PartValues, now: dict[str, Array], rows: NDArray[np.int64]
) -> dict[str, Array]:
    """The modes that the solved waveforms of some rows ask for, whose values these are. Latching ones (blown fuses) go first and alone, as they do on
    the bench."""
    wanted, latched = {}, {}
    for part in modal:
        mode = family_of(part).mode
        assert mode is not None
        probe = Probe(solved, circuit, part, values, rows)
        want = np.asarray(mode.settle(probe, values[part.ref], now[part.ref]), float)
        if mode.latching:
            want = np.maximum(want, now[part.ref])
            latched[part.ref] = want
        wanted[part.ref] = want
    hit = np.zeros(len(rows), bool)
    for ref, want in latched.items():
        hit |= want != now[ref]
    return {ref: np.where(hit & (ref not in latched), now[ref], want) for ref, want in wanted.items()}


__all__ = ["Periodic", "Powered", "Probe", "REFERENCE", "solve_periodic", "solve_powered"]
