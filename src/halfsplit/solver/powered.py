"""Powered readings: the mains-periodic steady state of a batch, with discrete modes settled outside Newton."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Circuit, Part
from halfsplit.parts import family_of
from halfsplit.solver.cold import ESR_HERTZ, impedance
from halfsplit.solver.looking import conducts
from halfsplit.solver.network import REFERENCE, Array, Network, PartValues, Pattern, build_network
from halfsplit.solver.starts import Start, Visit, near, with_visits
from halfsplit.solver.threads import spread

STEPS = 100
MAX_FLIPS = 7
WARM_CYCLES = 9  # what does not settle so soon from a neighbour's state does so sooner from nothing


@dataclass(frozen=True)
class Periodic:
    """wave (batch, nodes, steps) [V] over one cycle; ok (batch,) false where unresolved.

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
        volts = self.wave[:, :, -1] if pattern is self.network.pattern else np.zeros((len(self.ok), len(pattern.tape.order)))
        return Start(self.state, self.minv, volts, np.zeros(len(self.ok), bool))

    def volts(self, net: str) -> Array:
        """Waveform of a net against the reference (batch, steps) [V]."""
        at = self.network.nets[net]
        return np.zeros(self.wave.shape[::2]) if at < 0 else self.wave[:, at]


@dataclass(frozen=True)
class Probe:
    """What a family may look at to decide its mode: the waveforms of its own pins (batch, steps) [V].

    rows: of the solved batch, those that the values are of; all without."""

    solved: Periodic
    circuit: Circuit
    part: Part
    values: PartValues
    rows: NDArray[np.int64] | None = None

    def volts(self, plus: str, minus: str) -> Array:
        """Waveform between two of its pins (batch, steps) [V]."""
        one, two = (self.solved.volts(self.part.pins[pin]) for pin in (plus, minus))
        return one - two if self.rows is None else one[self.rows] - two[self.rows]

    def looking_out(self, plus: str, minus: str, apart: Mapping[str, float], hertz: float = ESR_HERTZ) -> Array:
        """Size of what its pins see at hertz, dead, junctions blocking, its own values replaced by `apart` (batch,) [ohm]."""
        values = dict(self.values)
        values[self.part.ref] = {**values[self.part.ref], **{k: np.asarray(x) for k, x in apart.items()}}
        batch = len(self.solved.ok if self.rows is None else self.rows)
        network = build_network(self.circuit, values, batch, powered=False)
        return np.abs(impedance(network, hertz, [(self.part.pins[plus], self.part.pins[minus])])[:, 0])


    def conducts(self, a: str, k: str) -> NDArray[np.bool_]:
        """Whether a junction lies forwards from one of its pins to another, as a freewheel diode does (batch,)."""
        batch = len(self.solved.ok if self.rows is None else self.rows)
        network = build_network(self.circuit, self.values, batch, powered=False)
        return conducts(network, self.part.pins[a], self.part.pins[k])


@dataclass(frozen=True)
class Powered:
    """Settled powered state of a batch. mean and the rest are reached through `reading`.

    pulsing (batch,): no mode is stable, the display will not stand still; other (pulsing rows, nodes, steps) [V] holds the second
    state of these rows.
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

    def _pair(self, red: str, black: str, reduce: Callable[[Array], Array]) -> tuple[Array, Array]:
        """Something of the waveform between two nets, in either state (batch,); the same where it doesn't pulse."""
        nets = self.solved.network.nets
        i, j = nets[red], nets[black]

        def of(wave: Array) -> Array:
            zero = np.zeros((len(wave), wave.shape[2]))
            return reduce((wave[:, i] if i >= 0 else zero) - (wave[:, j] if j >= 0 else zero))

        one = of(self.solved.wave)
        two = one
        if len(self.other):
            two = one.copy()
            two[self.pulsing] = of(self.other)
        return one, two

    def reading(self, red: str, black: str, function: str) -> Array:
        """What an unloaded meter shows between two nets: v, ac, max or min (batch,) [V]; NaN where unresolved."""
        if function == "ac":
            one, two = self._pair(red, black, lambda x: np.asarray(x.var(1)))
            out = np.sqrt(0.5 * (one + two))
        else:
            one, two = self._pair(red, black, _mean)
            out = 0.5 * (one + two) if function == "v" else np.maximum(one, two) if function == "max" else np.minimum(one, two)
        return np.where(self.ok, out, np.nan)

    def valley(self, red: str, black: str) -> Array:
        """Lowest instantaneous volts of a DC rail (batch,) [V]."""
        one, two = self._pair(red, black, lambda x: np.asarray(x.min(1)))
        return np.where(self.ok, np.minimum(one, two), np.nan)

    def pulses(self, red: str, black: str, function: str = "v") -> NDArray[np.bool_]:
        """Where the display between two nets would not stand still: it wanders by more than 5 % and 50 mV (batch,)."""
        if not len(self.other):
            return np.zeros(len(self.ok), bool)
        a, b = self._pair(red, black, (lambda x: np.asarray(x.std(1))) if function == "ac" else _mean)
        return np.asarray(np.abs(a - b) > 0.05 * np.maximum(np.abs(a), np.abs(b)) + 0.05)

    def peak(self, red: str, black: str) -> Array:
        """Largest instantaneous volts either way (batch,) [V]."""
        one, two = self._pair(red, black, lambda x: np.asarray(np.abs(x).max(1)))
        return np.where(self.ok, np.maximum(one, two), np.nan)


def _mean(wave: Array) -> Array:
    return np.asarray(wave.mean(1))


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
    seen = [{key} for key in _keys(modes, everyone)]
    active = everyone
    for turn in range(1, MAX_FLIPS + 1):
        now = {ref: m[active] for ref, m in modes.items()}
        part_vals = {ref: {k: _rows(x, active, batch) for k, x in v.items()} for ref, v in vals.items()}
        new = _settle(circuit, modal, periodic, part_vals, now, active)
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
        keys = _keys(modes, active)
        back = np.asarray([key in seen[q] for key, q in zip(keys, active, strict=True)]) | (turn == MAX_FLIPS)
        for key, q in zip(keys, active, strict=True):
            seen[q].add(key)
        vals_now = {ref: {k: _rows(x, active, batch) for k, x in v.items()} for ref, v in vals.items()}
        for part in modal:
            mode = family_of(part).mode
            vals_now[part.ref][mode.param] = modes[part.ref][active]  # type: ignore[union-attr]
            vals[part.ref][mode.param] = modes[part.ref]  # type: ignore[union-attr]
        part_net = build_network(circuit, vals_now, len(active), powered=True)
        own = Start(state[active], minv[active], wave[active, :, -1], np.zeros(len(active), bool))
        again = solve_periodic(part_net, begin(own, active))
        other |= {int(q): wave[q].copy() for q in active[back]}
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
    return Powered(
        replace(periodic, network=settled, wave=wave, state=state, minv=minv, ok=ok),
        np.stack([other[q] for q in sorted(other)]) if other else np.zeros((0, *wave.shape[1:])),
        pulsing,
        ok,
        modes,
        reasons,
        visits,
    )


def _rows(x: Array, rows: NDArray[np.int64], batch: int) -> Array:
    x = np.asarray(x, float)
    return x[rows] if x.shape == (batch,) else x


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
