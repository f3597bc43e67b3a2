"""Powered readings: the mains-periodic steady state of a batch, with discrete modes settled outside Newton."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Circuit, Part
from halfsplit.parts import family_of
from halfsplit.solver.cold import ESR_HERTZ, impedance
from halfsplit.solver.network import REFERENCE, Array, Network, PartValues, Pattern, build_network
from halfsplit.solver.starts import Start, Visit, near, with_visits
from halfsplit.solver.threads import spread

STEPS = 100
MAX_FLIPS = 7
WARM_CYCLES = 9  # what does not settle so soon from a neighbour's state does so sooner from nothing


@dataclass(frozen=True)
class Periodic:
    """wave (batch, steps, nodes) [V] over one cycle; ok (batch,) false where unresolved.

    For warm starts: state, capacitor volts and coil amps at the cycle's start (batch, states), and minv, (I - M)^-1 of the sensitivities M
    of the end to the start (batch, states, states).
    """

    network: Network
    wave: Array
    state: Array
    minv: Array
    ok: NDArray[np.bool_]

    def as_start(self, pattern: Pattern) -> Start:
        """Every row as a place to begin from, for networks of some pattern; volts only count where that is the same."""
        volts = self.wave[:, -1] if pattern is self.network.pattern else np.zeros((len(self.ok), len(pattern.tape.order)))
        return Start(self.state, self.minv, volts, np.zeros(len(self.ok), bool))

    def volts(self, net: str) -> Array:
        """Waveform of a net against the reference (batch, steps) [V]."""
        at = self.network.nets[net]
        return np.zeros(self.wave.shape[:2]) if at < 0 else self.wave[:, :, at]


@dataclass(frozen=True)
class Probe:
    """What a family may look at to decide its mode: the waveforms of its own pins (batch, steps) [V]."""

    solved: Periodic
    circuit: Circuit
    part: Part
    values: PartValues

    def volts(self, plus: str, minus: str) -> Array:
        """Waveform between two of its pins (batch, steps) [V]."""
        return self.solved.volts(self.part.pins[plus]) - self.solved.volts(self.part.pins[minus])

    def looking_out(self, plus: str, minus: str, apart: Mapping[str, float], hertz: float = ESR_HERTZ) -> Array:
        """Size of what its pins see at hertz, dead, junctions blocking, its own values replaced by `apart` (batch,) [ohm]."""
        values = dict(self.values)
        values[self.part.ref] = {**values[self.part.ref], **{k: np.asarray(x) for k, x in apart.items()}}
        network = build_network(self.circuit, values, len(self.solved.ok), powered=False)
        return np.abs(impedance(network, hertz, [(self.part.pins[plus], self.part.pins[minus])])[:, 0])


@dataclass(frozen=True)
class Powered:
    """Settled powered state of a batch. mean and the rest are reached through `reading`.

    pulsing (batch,): no mode is stable, the display will not stand still; other holds the second state of these rows.
    ok (batch,): false where no periodic state was found (the reading cannot be said). reasons: text per bad row.
    visits: how each row stood in every pattern of modes that it went through, by the bytes of these.
    """

    solved: Periodic
    other: Array
    pulsing: NDArray[np.bool_]
    ok: NDArray[np.bool_]
    modes: dict[str, Array]
    reasons: dict[int, str]
    visits: dict[bytes, Visit] = field(default_factory=dict)

    def _pair(self, red: str, black: str, wave: Array) -> Array:
        nets = self.solved.network.nets
        a = wave[:, :, nets[red]] if nets[red] >= 0 else 0.0
        b = wave[:, :, nets[black]] if nets[black] >= 0 else 0.0
        return np.asarray(a - b + np.zeros(wave.shape[:2]))

    def reading(self, red: str, black: str, function: str) -> Array:
        """What an unloaded meter shows between two nets: v, ac, max or min (batch,) [V]; NaN where unresolved."""
        one = self._pair(red, black, self.solved.wave)
        two = self._pair(red, black, self.other)
        if function == "v":
            out = 0.5 * (one.mean(1) + two.mean(1))
        elif function == "ac":
            out = np.sqrt(0.5 * (one.var(1) + two.var(1)))
        elif function == "max":
            out = np.maximum(one.mean(1), two.mean(1))
        else:
            out = np.minimum(one.mean(1), two.mean(1))
        return np.where(self.ok, out, np.nan)

    def valley(self, red: str, black: str) -> Array:
        """Lowest instantaneous volts of a DC rail (batch,) [V]."""
        one, two = (self._pair(red, black, w).min(1) for w in (self.solved.wave, self.other))
        return np.where(self.ok, np.minimum(one, two), np.nan)

    def pulses(self, red: str, black: str, function: str = "v") -> NDArray[np.bool_]:
        """Where the display between two nets would not stand still: it wanders by more than 5 % and 50 mV (batch,)."""
        one, two = (self._pair(red, black, w) for w in (self.solved.wave, self.other))
        a, b = (one.std(1), two.std(1)) if function == "ac" else (one.mean(1), two.mean(1))
        return np.asarray(np.abs(a - b) > 0.05 * np.maximum(np.abs(a), np.abs(b)) + 0.05)

    def peak(self, red: str, black: str) -> Array:
        """Largest instantaneous volts either way (batch,) [V]."""
        one, two = (np.abs(self._pair(red, black, w)).max(1) for w in (self.solved.wave, self.other))
        return np.where(self.ok, np.maximum(one, two), np.nan)


def solve_periodic(network: Network, start: Start | None = None) -> Periodic:
    """Shoot every row of the batch to its periodic state, from `start` or from nothing; where that fails, once more from nothing."""
    # compiled code is loaded only when something is to be solved
    from halfsplit.solver.compiled.shooting import periodic_batch

    batch = network.batch
    begin = _nothing(network) if start is None else start
    state, minv = begin.state.copy(), begin.minv.copy()
    wave, cycles = np.zeros((batch, STEPS, network.size)), np.zeros(batch, np.int64)
    wave[:, -1] = begin.volts
    warm, limit = (4, 40) if start is None else (0, WARM_CYCLES)
    net, values = network.pattern.net, network.values
    spread(periodic_batch, batch, batch, state, wave, cycles, network.hertz, net, values, warm, minv, begin.known, limit)
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
        keys = [_key(modes, q) for q in active]
        return near(
            own, keys, start.visits, at[active], {} if units is None else units.visits, None if unit is None else unit[active]
        )

    network = build_network(circuit, vals, batch, powered=True)
    everyone = np.arange(batch)
    first_start = None if start is None else begin(start.solved.as_start(network.pattern).take(at), everyone)
    periodic = solve_periodic(network, first_start)
    now_at = periodic.as_start(network.pattern)
    wave, state, minv, ok = periodic.wave, periodic.state, periodic.minv, periodic.ok.copy()
    good = np.flatnonzero(ok)
    visits = with_visits({}, [_key(modes, q) for q in good], good, now_at.take(good))
    other, pulsing = wave.copy(), np.zeros(batch, bool)
    seen: list[dict[bytes, int]] = [{_key(modes, q): 0} for q in range(batch)]
    active = everyone
    for turn in range(1, MAX_FLIPS + 1):
        now = {ref: m[active] for ref, m in modes.items()}
        part_vals = {ref: {k: _rows(x, active, batch) for k, x in v.items()} for ref, v in vals.items()}
        solved = replace(periodic, wave=wave[active], state=state[active], minv=minv[active], ok=ok[active])
        new = _settle(circuit, modal, solved, part_vals, now)
        changed = np.zeros(len(active), bool)
        for part in modal:
            # an overload may have no periodic state at all before its fuse goes: latching modes also go by an unsettled cycle
            counts = ok[active] | family_of(part).mode.latching  # type: ignore[union-attr]
            changed |= (new[part.ref] != now[part.ref]) & counts
        active, new = active[changed], {ref: m[changed] for ref, m in new.items()}
        if not len(active):
            break
        for ref in modes:
            modes[ref][active] = new[ref]
        back = np.asarray([_key(modes, q) in seen[q] for q in active]) | (turn == MAX_FLIPS)
        for q in active:
            seen[q].setdefault(_key(modes, q), turn)
        vals_now = {ref: {k: _rows(x, active, batch) for k, x in v.items()} for ref, v in vals.items()}
        for part in modal:
            mode = family_of(part).mode
            vals_now[part.ref][mode.param] = modes[part.ref][active]  # type: ignore[union-attr]
            vals[part.ref][mode.param] = modes[part.ref]  # type: ignore[union-attr]
        part_net = build_network(circuit, vals_now, len(active), powered=True)
        own = Start(state[active], minv[active], wave[active, -1], np.zeros(len(active), bool))
        again = solve_periodic(part_net, begin(own, active))
        other[active] = np.where(back[:, None, None], wave[active], again.wave)
        wave[active], state[active], minv[active], ok[active] = again.wave, again.state, again.minv, again.ok
        good = np.flatnonzero(again.ok)
        visits = with_visits(
            visits, [_key(modes, q) for q in active[good]], active[good], again.as_start(network.pattern).take(good)
        )
        pulsing[active[back]] = True
        active = active[~back]
    other[~pulsing] = wave[~pulsing]
    reasons = {int(q): "no mains-periodic state found" for q in np.flatnonzero(~ok)}
    # what a meter's own ohms do to a reading depends on the modes as they ended
    for part in modal:
        vals[part.ref][family_of(part).mode.param] = modes[part.ref]  # type: ignore[union-attr]
    settled = build_network(circuit, vals, batch, powered=True)
    return Powered(
        replace(periodic, network=settled, wave=wave, state=state, minv=minv, ok=ok),
        other,
        pulsing,
        ok,
        modes,
        reasons,
        visits,
    )


def _rows(x: Array, rows: NDArray[np.int64], batch: int) -> Array:
    x = np.asarray(x, float)
    return x[rows] if x.shape == (batch,) else x


def _key(modes: dict[str, Array], row: int | np.integer[Any]) -> bytes:
    return bytes(int(m[row]) for m in modes.values())


def _settle(circuit: Circuit, modal: list[Part], solved: Periodic, values: PartValues, now: dict[str, Array]) -> dict[str, Array]:
    """The modes that the solved waveforms ask for. Latching ones (blown fuses) go first and alone, as they do on the bench."""
    wanted, latched = {}, {}
    for part in modal:
        mode = family_of(part).mode
        assert mode is not None
        probe = Probe(solved, circuit, part, values)
        want = np.asarray(mode.settle(probe, values[part.ref], now[part.ref]), float)
        if mode.latching:
            want = np.maximum(want, now[part.ref])
            latched[part.ref] = want
        wanted[part.ref] = want
    hit = np.zeros(len(solved.ok), bool)
    for ref, want in latched.items():
        hit |= want != now[ref]
    return {ref: np.where(hit & (ref not in latched), now[ref], want) for ref, want in wanted.items()}


__all__ = ["Periodic", "Powered", "Probe", "REFERENCE", "solve_periodic", "solve_powered"]
