"""What a reading says when it was not taken where its entry says: another column, another state, another size.

It costs no solve: every place is a column of the same outlook, or one value a row that was solved already. Means and spreads of a
few draws are enough here, because a slip has no more than its prior to win.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.outlook import Outlook, Reading
from halfsplit.diagnosis.scale import JUNK, PULSE_SHOWN, TAIL, VOLTS, Array, MeterAccuracy, gauss, noise, scale_of, span_on_scale

FEW_DRAWS = 16  # of each row: a mean and a spread need no more
NOTHING = 0.05  # volts read where there is nothing [V]
UNTOLD = 0.06  # spread of a value that was worked out for parts exactly as marked (bench estimate)
FLOATS = {"v": (0.6, 3.0), "max": (0.6, 3.0), "min": (0.6, 3.0), "ac": (0.4, 40.0)}  # share of nothing, spread of the rest [V]


class Across:
    """Red on one side and black on the other's 0 V: nothing, a few volts, or what a Y capacitor lets through, tens of volts AC
    (common practice; the shares are bench estimates)."""


ACROSS = Across()
# A column, one value a row (R,) in SI, across the gap, or nothing there (about 0 V).
Really = int | Array | Across | None


@dataclass(frozen=True)
class _Shows:
    """(R,) each. mean, sd: of the numbers, on the scale; number, opened, unknown: share of draws; moves: the display would not stand still."""

    mean: Array
    sd: Array
    number: Array
    opened: Array
    unknown: Array
    moves: NDArray[np.bool_]


@dataclass
class Elsewhere:
    """Densities of readings at places that their entries do not name. Columns are looked at once."""

    outlook: Outlook
    meter: MeterAccuracy
    _kept: dict[int, _Shows] = field(default_factory=dict)

    def density(self, reading: Reading, really: Really, factor: float = 1.0) -> Array:
        """(R,) density of a reading on the scale of the column it names, if it shows `factor` times what is there.
        [1/scale, or a probability for OL]"""
        named = self.outlook.columns[reading.column]
        if really is None or isinstance(really, Across):
            return np.full(len(self.outlook.rows), self._nothing(reading, across=really is not None))
        column = self.outlook.columns[really] if isinstance(really, int) else named
        shows = self._column(really) if isinstance(really, int) else self._values(reading.column, really)
        floor = (JUNK + shows.unknown) / span_on_scale(named)
        if math.isinf(reading.value):
            return np.asarray(shows.opened + floor)
        x = reading.value / factor
        x = abs(x) if column.function == "ac" else x  # an AC display has no sign
        scale = scale_of(column)
        width = np.hypot(noise(column, x, shows.moves | reading.pulsing, self.meter).total, 1e-9)
        off = scale.forward(x) - shows.mean
        core, tail = gauss(off, np.hypot(width, shows.sd)), gauss(off, np.hypot(3.0 * width, shows.sd))
        stretch = float(scale.slope(x) / scale_of(named).slope(reading.value)) / abs(factor)
        return np.asarray(shows.number * ((1 - TAIL) * core + TAIL * tail) * stretch + floor)

    def steady(self, reading: Reading, really: Really) -> Array:
        """(R,) probability that the display stood as it stood, at that place."""
        moves = self._column(really).moves if isinstance(really, int) else np.zeros(len(self.outlook.rows), dtype=bool)
        if self.outlook.columns[reading.column].function not in VOLTS:
            return np.ones(len(moves))
        shown = np.where(moves, PULSE_SHOWN[True], PULSE_SHOWN[False])
        return shown if reading.pulsing else 1.0 - shown

    def _nothing(self, reading: Reading, *, across: bool) -> float:
        column = self.outlook.columns[reading.column]
        if not math.isfinite(reading.value):
            return 0.0
        x = min(abs(reading.value), 1e6)
        share, spread = FLOATS.get(column.function, (1.0, 1.0)) if across else (1.0, 1.0)
        density = share * _at(x, NOTHING) + (1.0 - share) * _at(x, spread)
        return density / float(scale_of(column).slope(x))

    def _column(self, column: int) -> _Shows:
        if column not in self._kept:
            step = max(1, self.outlook.value.shape[2] // FEW_DRAWS)
            x = self.outlook.value[:, column, ::step]
            finite = np.isfinite(x)
            z = np.where(finite, scale_of(self.outlook.columns[column]).forward(np.where(finite, x, 0.0)), 0.0)
            count = np.maximum(finite.sum(axis=1), 1)
            mean = z.sum(axis=1) / count
            sd = np.sqrt((np.where(finite, z - mean[:, None], 0.0) ** 2).sum(axis=1) / count)
            moves = self.outlook.pulsing[:, column] & (self.outlook.columns[column].function in VOLTS)
            self._kept[column] = _Shows(mean, sd, finite.mean(axis=1), np.isinf(x).mean(axis=1), np.isnan(x).mean(axis=1), moves)
        return self._kept[column]

    def _values(self, column: int, x: Array) -> _Shows:
        # Rows solved beside the single ones have no value of their own there: two faults and a mistake on top are not thought of.
        x = np.concatenate([x, np.full(len(self.outlook.rows) - len(x), np.nan)])
        finite, scale = np.isfinite(x), scale_of(self.outlook.columns[column])
        known = np.where(finite, x, 0.0)
        sd = UNTOLD * np.abs(known) * scale.slope(known)
        number, opened = finite.astype(np.float64), np.isinf(x).astype(np.float64)
        return _Shows(scale.forward(known), sd, number, opened, np.zeros(len(x)), np.zeros(len(x), dtype=bool))


def _at(x: float, sigma: float) -> float:
    return float(gauss(np.asarray(x), np.asarray(sigma)))
