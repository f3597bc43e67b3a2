"""How wrong a reading may be, and on which scale readings are compared.

Volts are compared on a signed logarithm (a dead net and a live one are both resolved), ohms, farads and ESR in
decades, the diode test as it stands. A noise is first stated in the reading's own unit, as the trade states it, then
carried to the scale by its slope. Model discrepancy stands beside the meter: the meter alone is fatal once the
circuit as drawn is 1 % off.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from halfsplit.diagnosis.outlook import Column
from halfsplit.errors import InputError

Array = NDArray[np.float64]
MeterAccuracy = Mapping[str, tuple[float, float]]  # function -> (fraction of reading, counts in SI)

# Hand-held meter of the middle class, DC volts +-0.5 % and a few counts: common practice; the rest likewise.
METER: MeterAccuracy = {
    "v": (0.005, 0.005),
    "ac": (0.01, 0.01),
    "max": (0.01, 0.02),
    "min": (0.01, 0.02),
    "r": (0.01, 0.1),
    "d": (0.01, 0.002),
    "c": (0.03, 1e-11),
    "esr": (0.05, 0.02),
    "every": (0.2, 0.1),  # a watch, or counting along: a fifth, and never better than a tenth of a second (bench estimate)
    "count": (0.0, 0.0),
}
FED = "bench "  # states of a set that the bench supply feeds begin so
LOG10 = float(np.log(10.0))
SQRT_2PI = float(np.sqrt(2.0 * np.pi))
SQRT3 = float(np.sqrt(3.0))  # a stated limit is the half-width of a uniform error


@dataclass(frozen=True)
class Scale:
    """One function's scale. kind "signed" (volts), "decades" or "linear"; knee: where the logarithm goes over to linear.

    discrepancy: (fraction, floor) by which the circuit as drawn may be off. floor_span: least width of nonsense, on the
    scale. idle: what the display shows when no probe touches: "zero", "ol" or "" (has no such state).
    """

    kind: str
    knee: float
    discrepancy: tuple[float, float]
    floor_span: float
    idle: str

    def forward(self, x: ArrayLike) -> Array:
        """Reading -> scale; NaN and inf pass through."""
        x = np.asarray(x, dtype=np.float64)
        if self.kind == "signed":
            return np.asarray(np.copysign(np.log1p(np.abs(x) / self.knee), x))
        return np.asarray(np.log(np.maximum(x, 0.0) + self.knee) / LOG10) if self.kind == "decades" else x

    def back(self, z: ArrayLike) -> Array:
        """Scale -> reading."""
        z = np.asarray(z, dtype=np.float64)
        if self.kind == "signed":
            return np.asarray(np.copysign(self.knee * np.expm1(np.abs(z)), z))
        return np.asarray(np.maximum(10.0**z - self.knee, 0.0)) if self.kind == "decades" else z

    def slope(self, x: ArrayLike) -> Array:
        """dz/dx at x."""
        x = np.asarray(x, dtype=np.float64)
        if self.kind == "signed":
            return np.asarray(1.0 / (self.knee + np.abs(x)))
        return np.asarray(1.0 / ((np.maximum(x, 0.0) + self.knee) * LOG10)) if self.kind == "decades" else np.ones_like(x)


# Discrepancies: 90th percentile of drawn against judged circuits, never below 1 % + 20 mV.
_VOLTS = Scale("signed", 0.05, (0.012, 0.030), float(2 * np.log1p(1.0 / 0.05)), "zero")
# Straight across one part, a resistor of a fraction of an ohm say, neither what the rest is drawn wrong by nor the counts of the volts range
# stand beside the millivolts that are read: 2 mV and a tenth of the counts (bench estimate).
_DROP = Scale("signed", 0.05, (0.012, 0.002), float(2 * np.log1p(1.0 / 0.05)), "zero")
# Fed by the bench supply and otherwise dead nothing hums or switches beside them: half a millivolt (bench estimate).
_QUIET_DROP = replace(_DROP, discrepancy=(0.012, 0.0005))
DROP_COUNTS = 0.1
SCALES: Mapping[str, Scale] = {
    "v": _VOLTS,
    "ac": _VOLTS,
    "max": _VOLTS,
    "min": _VOLTS,
    "r": Scale("decades", 0.3, (0.02, 0.1), 4.0, "ol"),  # the knee is the lead's own resistance
    "d": Scale("linear", 0.0, (0.0, 0.020), 2.0, "ol"),
    "c": Scale("decades", 2e-11, (0.05, 2e-11), 4.0, "zero"),
    "esr": Scale("decades", 0.05, (0.20, 0.05), 3.0, "ol"),
    # Start volts, start-up resistor and farads are drawn; what a waiting chip takes is printed nowhere and may be half of what that resistor gives
    # (makers' data, recalled: 0.02 to 1 mA), which makes it 1 to 2 times as long: 0.3 of it (bench estimate).
    "every": Scale("decades", 0.05, (0.3, 0.05), 3.0, ""),
    "count": Scale("linear", 0.0, (0.0, 0.0), 1.0, ""),
}
VOLTS = frozenset({"v", "ac", "max", "min"})


def scale_of(column: Column) -> Scale:
    """The scale of a column's function. Raises InputError for a function nobody reads."""
    if is_drop(column):
        return _QUIET_DROP if column.state.startswith(FED) else _DROP
    try:
        return SCALES[column.function]
    except KeyError:
        known = ", ".join(SCALES)
        raise InputError(f"column {column.key!r} has the function {column.function!r}; readings are one of {known}") from None


def is_drop(column: Column) -> bool:
    """DC volts across one part while on, not of a net against its 0 V."""
    return column.function == "v" and column.live and column.part is not None


def span_on_scale(column: Column) -> float:
    """Width over which nonsense could fall, on the scale: a tiny span would make a slip look likely. Raises InputError."""
    scale = scale_of(column)
    if not column.span > 0:
        raise InputError(f"column {column.key!r} has the span {column.span!r}; give the width nonsense could fall in (> 0)")
    if scale.kind == "linear":
        return max(float(column.span), scale.floor_span)
    width = float(scale.forward(column.span) - scale.forward(0.0))
    return max(width * (2.0 if scale.kind == "signed" else 1.0), scale.floor_span)


PULSE_SHOWN = {True: 0.6, False: 0.01}  # P(display moves | predicted to move or not)
TAIL = 0.07  # share of readings three times as far off as stated
JUNK = 0.004  # per reading: anything that no named slip explains
LEAST = -700.0  # log of what still is a number; below it an exponential is nought, and slow to find out


def gauss(x: Array, sigma: Array) -> Array:
    """Normal density at x off its mean. [1/unit of x]"""
    t = x / sigma
    t *= -0.5 * t
    return np.asarray(np.exp(t, out=np.zeros_like(t), where=t > LEAST) / (SQRT_2PI * sigma))


# A display that moves shows what lies between running and waiting, and on its way a node passes volts that it has in neither (a
# shunt regulator lets go while its rail dies away): its middle is known to a factor of two, what MAX holds (a peak hold of milliseconds) to a tenth.
PULSES: Mapping[str, float] = {"v": 0.8, "ac": 1.2, "max": 0.1, "min": 0.4}


@dataclass(frozen=True)
class Noise:
    """Standard deviations of one reading on the scale. gain: the meter's share that is common to all readings of one
    function; model: the drawn circuit's share, common to repeats of one column; own: what is new in each reading. [scale]"""

    gain: Array
    model: Array
    own: Array

    @property
    def total(self) -> Array:
        return np.asarray(np.sqrt(self.gain**2 + self.model**2 + self.own**2))


def noise(column: Column, x: ArrayLike, pulsing: NDArray[np.bool_] | bool, meter: MeterAccuracy) -> Noise:
    """How far a reading whose true value is x may fall off; x is finite. [scale]"""
    scale = scale_of(column)
    fraction, counts = meter.get(column.function, METER[column.function])
    counts *= DROP_COUNTS if is_drop(column) else 1.0
    size = np.abs(np.asarray(x, dtype=np.float64))
    slope = scale.slope(x)
    share, floor = scale.discrepancy
    wobble = (
        np.where(pulsing, PULSES.get(column.function, 0.0) * size + 0.05, 0.0)
        if column.function in VOLTS
        else np.zeros_like(size)
    )
    return Noise(
        gain=fraction * size / SQRT3 * slope,
        model=np.hypot(share * size, floor) * slope,
        own=np.hypot(np.full_like(size, counts), wobble) * slope,
    )
