"""The few element kinds that every part is built from. A family's stamp calls these; the solver reads the record.

Parameters are arrays (batch,) or scalars; nodes are net names, and names starting with "~" are inner nodes of one part.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

# Kinds of nonlinear device; numbers are shared with the compiled loops (solver/compiled/devices.py).
JUNCTION: Final = 0
TRANSISTOR: Final = 1
CHOPPER: Final = 2
OPTO: Final = 3
SHUNT: Final = 4
REGULATOR: Final = 5
LOAD: Final = 6
DRIVER: Final = 7
CLAMP: Final = 8
AMPLIFIER: Final = 9
POWER: Final = 10
FIELD: Final = 11
CONVERTER: Final = 12
MOVER: Final = 13
CELL: Final = 14
LATCH: Final = 15
NEVER: Final = 1e9  # volts at which a latch that nothing may fire would fire [V]
VT: Final = 0.02585  # thermal voltage at 300 K [V]


@dataclass
class Element:
    """nodes: net names; numbers: one array (batch,) or scalar per parameter."""

    nodes: tuple[str, ...]
    numbers: tuple[Array, ...]
    weights: tuple[Array, ...] = ()
    kind: int = -1


@dataclass
class Stamper:
    """Collects the elements of one circuit. prefix: the part now stamping, for its inner nodes. pulsed: some part of it fires others by pulses."""

    powered: bool = True
    prefix: str = ""
    pulsed: bool = False
    linear: list[Element] = field(default_factory=list)
    caps: list[Element] = field(default_factory=list)
    coils: list[Element] = field(default_factory=list)
    sources: list[Element] = field(default_factory=list)
    devices: list[Element] = field(default_factory=list)

    def inner(self, name: str) -> str:
        """A node inside this part that no probe can reach."""
        return f"~{self.prefix}.{name}"

    def resistor(self, a: str, b: str, ohms: ArrayLike) -> None:
        """Resistance between two nodes [ohm]."""
        self.linear.append(Element((a, b), (1.0 / np.asarray(ohms, float),), (np.array(1.0), np.array(-1.0))))

    def ideal(self, port: tuple[str, str], winding: tuple[str, str], ratio: ArrayLike, ohms: ArrayLike) -> None:
        """Ideal transformer port:winding with volts(winding) = ratio x volts(port), behind ohms on the winding side.

        One conductance along the vector (ratio, -ratio, -1, 1): the current that flows in the winding is
        (ratio x port - winding)/ohms, and ratio times that is drawn from the port, so no power is made.
        """
        r = np.asarray(ratio, float)
        g = 1.0 / np.asarray(ohms, float)
        self.linear.append(Element((*port, *winding), (g,), (r, -r, np.array(-1.0), np.array(1.0))))

    def capacitor(self, a: str, b: str, farads: ArrayLike, esr: ArrayLike = 1e-3) -> None:
        """Capacitance with its series resistance [F, ohm]."""
        self.caps.append(Element((a, b), (np.asarray(farads, float), np.asarray(esr, float))))

    def coil(self, a: str, b: str, henry: ArrayLike, ohms: ArrayLike) -> None:
        """Inductance with its series resistance [H, ohm]."""
        self.coils.append(Element((a, b), (np.asarray(henry, float), np.asarray(ohms, float))))

    def source(self, a: str, b: str, *, dc: ArrayLike = 0.0, peak: ArrayLike = 0.0, ohms: ArrayLike) -> None:
        """dc + peak x sin(mains) volts from b to a behind ohms [V, V, ohm]."""
        self.sources.append(Element((a, b), (np.asarray(dc, float), np.asarray(peak, float), 1.0 / np.asarray(ohms, float))))

    def junction(self, a: str, k: str, *, isat: ArrayLike, ideality: ArrayLike = 1.0, breakdown: ArrayLike = 0.0) -> None:
        """Exponential junction a to k; breakdown > 0 conducts backwards at that many volts (5 mA)."""
        n = np.asarray(ideality, float) * VT
        self._device(JUNCTION, (a, k), np.asarray(isat, float), n, np.asarray(breakdown, float))

    def transistor(
        self, c: str, b: str, e: str, *, gain: ArrayLike, pnp: bool, base: ArrayLike = 1.0, path: ArrayLike = 1.0
    ) -> None:
        """Ebers-Moll transistor; base scales the base junctions, path the transport current (0 = open)."""
        sign = np.array(-1.0 if pnp else 1.0)
        self._device(TRANSISTOR, (c, b, e), sign, np.asarray(gain, float), np.asarray(base, float), np.asarray(path, float))

    def chopper(self, d: str, g: str, s: str, core: str, *, watts: ArrayLike, knee: ArrayLike) -> None:
        """Averaged switch: moves up to watts from d-s into core, as the mean gate drive asks; knee: core volts under which its current stops rising."""
        self._device(CHOPPER, (d, g, s, core), np.asarray(watts, float), np.asarray(knee, float))

    def opto(self, a: str, k: str, c: str, e: str, *, ctr: ArrayLike, led: ArrayLike) -> None:
        """LED and the transistor it drives; led scales the LED (0 = open)."""
        self._device(OPTO, (a, k, c, e), np.asarray(ctr, float), np.asarray(led, float))

    def shunt(self, k: str, a: str, r: str, *, volts: ArrayLike, scale: ArrayLike) -> None:
        """431-type shunt reference; scale 0 = open."""
        self._device(SHUNT, (k, a, r), np.asarray(volts, float), np.asarray(scale, float))

    def regulator(
        self, i: str, o: str, g: str, *, volts: ArrayLike, drop: ArrayLike, amps: ArrayLike, quiescent: ArrayLike
    ) -> None:
        """Three-terminal regulator; negative volts is a negative type."""
        self._device(
            REGULATOR,
            (i, o, g),
            np.asarray(volts, float),
            np.asarray(drop, float),
            np.asarray(amps, float),
            np.asarray(quiescent, float),
        )

    def converter(
        self,
        port: tuple[str, str],
        out: tuple[str, str],
        *,
        volts: ArrayLike,
        drop: ArrayLike,
        amps: ArrayLike,
        efficiency: ArrayLike,
    ) -> None:
        """Averaged converter: regulates `out` like a regulator, and draws at its port the power of that over its efficiency."""
        numbers = (np.asarray(volts, float), np.asarray(drop, float), np.asarray(amps, float), np.asarray(efficiency, float))
        self._device(CONVERTER, (*port, *out), *numbers)

    def buck_cell(
        self, d: str, s: str, r: str, gnd: str, *, amps: ArrayLike, mean: ArrayLike, ceiling: ArrayLike
    ) -> None:
        """Averaged switch d to s with freewheel diode d to r, coil at d: up to amps, held where what the coil's whole current would drop from s
        to gnd is `mean` volts, and where r - d is `ceiling` [A, V, V]."""
        numbers = (np.asarray(amps, float), np.asarray(mean, float), np.asarray(ceiling, float), np.array(0.0))
        self._device(CELL, (d, s, r, gnd, gnd), *numbers)

    def boost_cell(
        self, d: str, s: str, r: str, pins: tuple[str, str], *, amps: ArrayLike, feedback: ArrayLike, over: ArrayLike
    ) -> None:
        """Averaged switch d to s with rectifier d to r, coil at d: up to amps, held by its feedback and its over-volt pin against s [A, V, V]."""
        numbers = (np.asarray(amps, float), np.asarray(feedback, float), np.asarray(over, float), np.array(1.0))
        self._device(CELL, (d, s, r, *pins), *numbers)

    def load(self, a: str, b: str, *, amps: ArrayLike, volts: ArrayLike, above: ArrayLike = 0.0) -> None:
        """Draws amps once 0.6 x volts past `above`, less in proportion on the way, nothing under it."""
        self._device(LOAD, (a, b), np.asarray(amps, float), np.asarray(volts, float), np.asarray(above, float))

    def mover(
        self,
        fet: tuple[str, str, str],
        output: tuple[str, str],
        *,
        siemens: ArrayLike,
        share: ArrayLike,
        knee: ArrayLike,
        top: ArrayLike,
    ) -> None:
        """Averaged switch that takes its power as a resistor would (drain, gate, source), as the mean gate drive asks, and puts a
        share of it out between two nodes; knee: output volts under which its current stops rising; from 0.9 top to top it fades [S, V, V]."""
        numbers = (np.asarray(siemens, float), np.asarray(share, float), np.asarray(knee, float), np.asarray(top, float))
        self._device(MOVER, (*fet, *output), *numbers)

    def driver(
        self,
        gate: str,
        gnd: str,
        fb: str,
        sense: str,
        *,
        on: ArrayLike,
        trip: ArrayLike,
        low: ArrayLike = 0.8,
        span: ArrayLike = 2.4,
    ) -> None:
        """Averaged gate drive of a controller. on: 1 driving, 0 held low, -1 unplugged (free). It drives fully at fb = low + span [V]."""
        numbers = (np.asarray(on, float), np.asarray(trip, float), np.asarray(low, float), np.asarray(span, float))
        self._device(DRIVER, (gate, gnd, fb, sense), *numbers)

    def clamp(self, a: str, b: str, *, volts: ArrayLike, scale: ArrayLike = 1.0) -> None:
        """Both-ways clamp (varistor): 1 mA at volts, steep above."""
        self._device(CLAMP, (a, b), np.asarray(volts, float), np.asarray(scale, float))

    def amplifier(
        self,
        inputs: tuple[str, str],
        out: str,
        supply: tuple[str, str],
        *,
        head: ArrayLike,
        source: ArrayLike,
        sink: ArrayLike,
        path: ArrayLike = 1.0,
    ) -> None:
        """Amplifier or comparator: in+ and in- decide whether out is pulled to v+ (source amps, head volts short of it)
        or to v- (sink amps); source 0 is an open collector, path 0 leaves out alone [V, A, A]."""
        numbers = (np.asarray(path, float), np.asarray(head, float), np.asarray(source, float), np.asarray(sink, float))
        self._device(AMPLIFIER, (*inputs, out, *supply), *numbers)

    def power(self, a: str, b: str, *, watts: ArrayLike, volts: ArrayLike) -> None:
        """Draws constant watts above about 0.7 x volts, less below, nothing at nothing [W, V]."""
        self._device(POWER, (a, b), np.asarray(watts, float), np.asarray(volts, float))

    def field_effect(self, d: str, g: str, s: str, *, threshold: ArrayLike, gain: ArrayLike, p_channel: bool) -> None:
        """Square-law MOSFET, rounded over 2 kT/q at its threshold; gain in A/V^2 (0 = off for good) [V, A/V^2]."""
        sign = np.array(-1.0 if p_channel else 1.0)
        self._device(FIELD, (d, g, s), sign, np.asarray(threshold, float), np.asarray(gain, float))

    def latch(
        self, a: str, b: str, gate: tuple[str, str], *, fires: ArrayLike, hold: ArrayLike, keep: ArrayLike = 0.0, lost: ArrayLike = 0.0
    ) -> None:
        """Blocks from a to b until there are more than `fires` volts at its gate (either way; NEVER: it blocks for good), then drops `keep` volts
        until it carries less than `hold`. lost: 1 it blocks from a to b whatever comes, -1 from b to a [V, A, V]."""
        numbers = (np.asarray(fires, float), np.asarray(hold, float), np.asarray(keep, float), np.asarray(lost, float))
        self._device(LATCH, (a, b, *gate), *numbers)

    def _device(self, kind: int, nodes: tuple[str, ...], *numbers: Array) -> None:
        self.devices.append(Element(nodes, numbers, kind=kind))
