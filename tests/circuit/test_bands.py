"""What a starting sheet calls healthy against what the trade calls so, node by node, on both mains.

Common practice (the trade's node table, and what worked cases give in brackets). The middle of the trade's range lies inside the band of the sheet, and
the band is at most three times as wide as the range, or as +-5 % of a value that the trade gives without one.
"""

from __future__ import annotations

from functools import cache

import pytest

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.jobs.sheets import expected_of

MAINS = {120: 60.0, 230: 50.0}  # volts -> hertz
FLYBACK, DROPPER, LINEAR = "flyback with controller 16/10V; out 24V 1.5A", "dropper, 24V relay board", "linear 12V 1A, 5V"
CHAIN = "series chain: fuse, link 216C, stat, relay 12V, heater 350W"
HALF = 0.05  # of a value that stands alone

# (start, state, function, where) -> (least, most) on 120 V and on 230 V
TABLE = {
    (FLYBACK, "on", "DC volts", "bulk"): ((150, 167), (300, 323)),
    (FLYBACK, "on", "AC volts", "bulk"): ((4, 12), (5, 15)),
    (FLYBACK, "on", "DC volts", "vcc"): ((12, 18), (12, 18)),
    (FLYBACK, "on", "DC volts", "source"): ((0.010, 0.150), (0.010, 0.150)),
    (FLYBACK, "on", "DC volts", "fb"): ((1, 3), (1, 3)),
    (FLYBACK, "on", "DC volts", "ref"): ((2.48, 2.51), (2.48, 2.51)),
    (FLYBACK, "on", "DC volts", "out"): ((22.8, 25.2), (22.8, 25.2)),
    (DROPPER, "on", "DC volts", "+24"): ((22.8, 25.2), (22.8, 25.2)),
    (DROPPER, "on", "DC volts", "+5"): ((4.85, 5.15), (4.85, 5.15)),
    (LINEAR, "on", "DC volts", "+12"): ((11.52, 12.48), (11.52, 12.48)),
    (LINEAR, "on", "DC volts", "+5"): ((4.8, 5.2), (4.8, 5.2)),
    (LINEAR, "on", "AC volts", "primary"): ((114, 126), (218, 242)),
    (CHAIN, "on", "AC volts", "inlet"): ((114, 126), (218, 242)),
}


@cache
def bands(start: str, mains: int) -> dict[tuple[str, str, str], tuple[float, float]]:
    """(state, function, where) -> healthy band [SI]."""
    circuit = start_circuit(start, Unit("set", float(mains), MAINS[mains], "II", 45.0))
    ends = {(r["state"], r["meter"], r["where"]): r["healthy"] for r in expected_of(circuit)}
    return {key: (float(band[0]), float(band[1])) for key, band in ends.items() if band is not None and "OL" not in band}


@pytest.mark.parametrize("mains", MAINS)
@pytest.mark.parametrize("what", TABLE, ids=lambda w: f"{w[0].split()[0]} {w[3]} {w[2]}")
def test_the_trades_value_is_in_the_band_and_the_band_is_not_wide(what: tuple[str, str, str, str], mains: int) -> None:
    start, *key = what
    low, high = TABLE[what][0 if mains == 120 else 1]
    got = bands(start, mains)
    least, most = got[tuple(key)]  # type: ignore[index]
    assert least <= 0.5 * (low + high) <= most
    assert most - least <= 3.0 * max(high - low, 2 * HALF * abs(high)), (least, most)
