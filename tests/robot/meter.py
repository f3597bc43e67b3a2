"""The hand meter between the board and the typed line: accuracy, display, notation, and the ways a hand slips.

Accuracies are those of an ordinary 6000-count bench meter (common practice): DC 0.5 % + 3 counts, AC 1 % + 3, ohms 0.8 % +
0.1 ohm of leads, diode 1 %, capacitance 3 %, ESR 5 % + 0.02 ohm.
One meter has one gain error per function; it does not change within a job.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

ACCURACY: Mapping[str, tuple[float, float]] = {
    # function: (relative, absolute in SI beyond the counts)
    "v": (0.005, 0.0), "max": (0.005, 0.0), "min": (0.005, 0.0), "ac": (0.01, 0.0),
    "r": (0.008, 0.1), "d": (0.01, 0.0), "c": (0.03, 5e-12), "esr": (0.05, 0.02),
}
TOP = {"r": 60e6, "d": 3.0, "c": 60e-3, "esr": 100.0, "v": 1000.0, "ac": 750.0, "max": 1000.0, "min": 1000.0}
LOWEST_RANGE = {"r": 600.0, "d": 6.0, "c": 6e-9, "esr": 6.0, "v": 6.0, "ac": 6.0, "max": 6.0, "min": 6.0}
COUNTS = 6000
COLD = frozenset({"r", "d", "c", "esr"})
RATING = 600.0  # volts a CAT II 600 V meter may see between its leads


@dataclass(frozen=True)
class Meter:
    """One meter: its gain error per function, fixed for the job."""

    gains: Mapping[str, float]

    def shown(self, function: str, ideal: float) -> float:
        """What stands on the display for an ideal value; inf is OL, NaN stays NaN (the bench could not say)."""
        if math.isnan(ideal) or abs(ideal) > TOP[function]:
            return math.nan if math.isnan(ideal) else math.inf
        lead = ACCURACY[function][1] * 0.5 if function in ("r", "esr") else 0.0
        value = ideal * (1.0 + self.gains[function]) + lead
        step = resolution(function, value)
        return round(value / step) * step


def resolution(function: str, value: float) -> float:
    """One count of the range that auto-ranging would take."""
    top = LOWEST_RANGE[function]
    while abs(value) > top:
        top *= 10.0
    return top / COUNTS


def tolerance(function: str, value: float, extra: float = 0.0) -> float:
    """Half-width within which the true value lies around a shown one; extra is a further relative part."""
    relative, absolute = ACCURACY[function]
    return (relative + extra) * abs(value) + absolute + 3.0 * resolution(function, value)


def draw_meter(rng: np.random.Generator) -> Meter:
    """A meter off the shelf: each gain error within two thirds of what its maker promises."""
    return Meter({f: float(rng.uniform(-0.66, 0.66)) * rel for f, (rel, _) in ACCURACY.items()})


def agree(function: str, one: float, other: float) -> bool:
    """The two displays could belong to the same reading."""
    if math.isinf(one) or math.isinf(other):
        return math.isinf(one) and math.isinf(other)
    return abs(one - other) <= 2.0 * tolerance(function, max(abs(one), abs(other))) + (0.01 if function not in COLD else 0.0)


PREFIXES = {"r": ((1e6, "M"), (1e3, "k")), "c": ((1e-6, "u"), (1e-9, "n"), (1e-12, "p"))}


def notation(function: str, value: float) -> str:
    """The value as a technician types it: 4.7k, 0.22u, 24.1, OL; no unit, because the card has said which."""
    if math.isinf(value):
        return "OL"
    for scale, prefix in PREFIXES.get(function, ()):
        if abs(value) >= scale:
            return f"{plain(value / scale)}{prefix}"
    if function == "c":
        return "0p"
    return plain(value)


def plain(value: float) -> str:
    """Four digits, never an exponent."""
    digits = 3 if abs(value) < 10 else 2 if abs(value) < 100 else 1
    text = f"{value:.{digits}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text in ("-0", "") else text


SLIP_KINDS = ("no contact", "prefix", "swapped", "neighbour")


@dataclass(frozen=True)
class Slips:
    """Chance per reading of each slip of the hand [E]; about one reading in a hundred in all."""

    no_contact: float = 0.004
    prefix: float = 0.002
    swapped: float = 0.002
    neighbour: float = 0.002

    def draw(self, rng: np.random.Generator) -> str | None:
        """Which slip happens at this reading, mostly none."""
        at = float(rng.random())
        for kind, chance in zip(SLIP_KINDS, (self.no_contact, self.prefix, self.swapped, self.neighbour), strict=True):
            if at < chance:
                return kind
            at -= chance
        return None


USUAL_SLIPS = Slips()
NO_SLIPS = Slips(0.0, 0.0, 0.0, 0.0)


def without_contact(function: str, rng: np.random.Generator) -> float:
    """A probe on lacquer: a few millivolts, or open."""
    if function in ("r", "d", "esr"):
        return math.inf
    return 0.0 if function == "c" else float(rng.normal(0.0, 0.02))


def wrong_prefix(function: str, value: float) -> float:
    """Auto-range hides a prefix: k read as M or M as k; volts read as millivolts. Unchanged where no prefix is shown."""
    if math.isinf(value) or value == 0.0:
        return value
    if function == "r":
        return value * 1e3 if 1e3 <= value < 1e5 else value * 1e-3 if value >= 1e6 else value
    if function == "c":
        return value * 1e3 if value < 1e-6 else value * 1e-3
    return value * 1e3 if abs(value) < 0.6 and function != "d" else value
