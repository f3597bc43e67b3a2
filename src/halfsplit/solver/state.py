"""What a powered solution is: waveforms over one mains cycle, what a meter shows of them, and what a family may look at to decide its mode."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Circuit, Part
from halfsplit.solver.cold import ESR_HERTZ, impedance
from halfsplit.solver.looking import conducts
from halfsplit.solver.network import Array, Network, PartValues, Pattern, build_network, pulsed
from halfsplit.solver.starts import Start, Visit

if TYPE_CHECKING:
    from halfsplit.solver.bursts import Bursts

STEPS = 100
RUNS = 1.0  # the mode of a chip that drives


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

    @property
    def pulsed(self) -> bool:
        """Whether something on the board fires latching parts by pulses."""
        return pulsed(self.circuit)

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
    state of these rows. burst: the rows of these that hiccup, followed from their start until they fall back; bursting: which they are.
    timed (batch,): from try to try of what restarts by a timer of its own [s]; NaN of all else.
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
    bursting: NDArray[np.int64] = field(default_factory=lambda: np.zeros(0, np.int64))
    burst: Bursts | None = None
    timed: Array | None = None

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
            low, mean, high = self._display(red, black)
            out = mean if function == "v" else high if function == "max" else low
        return np.where(self.ok, out, np.nan)

    def _display(self, red: str, black: str) -> tuple[Array, Array, Array]:
        """Least, mean and most that a DC display shows between two nets (batch,) [V]: waiting and running, or what was reached of that."""
        one, two = self._pair(red, black, _mean)
        low, mean, high = np.minimum(one, two), 0.5 * (one + two), np.maximum(one, two)
        if self.burst is not None:
            nets, at = self.solved.network.nets, self.bursting

            def between(x: Array) -> Array:
                i, j = nets[red], nets[black]
                return np.asarray((x[:, i] if i >= 0 else 0.0 * x[:, 0]) - (x[:, j] if j >= 0 else 0.0 * x[:, 0]))

            shown = between(self.burst.shown)
            low[at], mean[at], high[at] = np.nanmin(shown, 1), between(self.burst.mean), np.nanmax(shown, 1)
        return low, mean, high

    def period(self) -> Array:
        """From start to start (batch,) [s]; inf of what stands still, NaN where it is not known: what pulses and was not followed (a relay
        that chatters, a micro that starts again and again)."""
        out = np.where(self.pulsing, np.nan if self.timed is None else self.timed, np.inf)
        if self.burst is not None:
            out[self.bursting] = self.burst.period
        return np.where(self.ok, out, np.nan)

    def valley(self, red: str, black: str) -> Array:
        """Lowest instantaneous volts of a DC rail (batch,) [V]."""
        one, two = self._pair(red, black, lambda x: np.asarray(x.min(1)))
        return np.where(self.ok, np.minimum(one, two), np.nan)

    def pulses(self, red: str, black: str, function: str = "v") -> NDArray[np.bool_]:
        """Where the display between two nets would not stand still: it wanders by more than 5 % and 50 mV (batch,)."""
        if not len(self.other):
            return np.zeros(len(self.ok), bool)
        a, b = self._pair(red, black, lambda x: np.asarray(x.std(1))) if function == "ac" else self._display(red, black)[::2]
        return np.asarray(np.abs(a - b) > 0.05 * np.maximum(np.abs(a), np.abs(b)) + 0.05)

    def peak(self, red: str, black: str) -> Array:
        """Largest instantaneous volts either way (batch,) [V]."""
        one, two = self._pair(red, black, lambda x: np.asarray(np.abs(x).max(1)))
        return np.where(self.ok, np.maximum(one, two), np.nan)


def _mean(wave: Array) -> Array:
    return np.asarray(wave.mean(1))


def rows_of(x: Array, rows: NDArray[np.int64], batch: int) -> Array:
    x = np.asarray(x, float)
    return x[rows] if x.shape == (batch,) else x
