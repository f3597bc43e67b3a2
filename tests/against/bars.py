"""When two readings are the same: 1 % or 2 counts of the range that a 6000-count multimeter would be on; 3 % on AC and on ripple."""

from __future__ import annotations

import math

COUNTS = 6000.0
SHARE, AC_SHARE = 0.01, 0.03
MOVES = 1e-3  # a display that moves by less than this, or by no more than a count, stands
VOLTS = (6.0, 60.0, 600.0, 6000.0)  # the last is the 1000 V range, whose count is 1 V
RANGES: dict[str, tuple[float, ...]] = {
    **dict.fromkeys(("v", "ac", "max", "min", "pp"), VOLTS),
    "r": (600.0, 6e3, 60e3, 600e3, 6e6, 60e6),
    "d": (6.0,),
    "c": (6e-9, 60e-9, 600e-9, 6e-6, 60e-6, 600e-6, 6e-3, 60e-3, 0.6),
    "esr": (60.0, 600.0),  # two decimals, common practice
}
LIMITS = {"r": 60e6, "d": 2.5, "c": 0.1, "esr": 100.0}  # where the displays go over to OL (docs/families.md, "The meter")
# A display that pulses is compared by its extremes only, and these hang on when one looks.
PULSING_SHARE, PULSING_FLOOR = 0.1, 0.3


def count(function: str, value: float) -> float:
    """One count of the lowest range that shows this value, in the unit of the function."""
    ranges = RANGES[function]
    return next((full for full in ranges if abs(value) <= full), ranges[-1]) / COUNTS


def share(function: str) -> float:
    """The relative difference that counts as the same."""
    return AC_SHARE if function in ("ac", "pp") else SHARE


def same(function: str, ours: float, judge: float, *, counts: float = 2.0) -> bool:
    """Within the share or so many counts of the judge's range; at the edge of OL, OL and a number within the share of it agree."""
    if math.isnan(ours) or math.isnan(judge):
        return False
    if math.isinf(ours) or math.isinf(judge):
        low = min(ours, judge)
        return math.isinf(low) or low > (1.0 - share(function)) * LIMITS.get(function, math.inf)
    return abs(ours - judge) <= max(share(function) * abs(judge), counts * count(function, judge))


def stands(function: str, before: float, now: float) -> bool:
    """The display has moved by less than a thousandth, or by no more than a count, between two looks."""
    if before == now:  # OL and OL as well
        return True
    return math.isfinite(before) and math.isfinite(now) and abs(now - before) <= max(MOVES * abs(now), count(function, now))


def same_extreme(ours: float, judge: float) -> bool:
    """The extreme of a pulsing display."""
    return abs(ours - judge) <= PULSING_SHARE * abs(judge) + PULSING_FLOOR
