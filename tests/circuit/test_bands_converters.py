"""Healthy bands of the LED and power-tree sheets against what the trade calls healthy (common practice): every such value lies inside the band,
and the band is not wider than three times the trade's.

The driver chip's supply 5.8 to 12 V; string and rails within 5 %; 3.3 and 5 V within 3 % on a board of one's own, 5 % where they are
only assumed; bulk of a supply without power factor correction 150 to 167 V on 120 V mains, 300 to 323 V on 230 V, off load.
"""

from __future__ import annotations

from functools import lru_cache

import pytest

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.jobs.sheets import expected_of

EU, US = ("230V", Unit("set", 230.0, 50.0, "II", 20.0)), ("120V", Unit("set", 120.0, 60.0, "II", 20.0))
DRIVER, BOOST, TREE = "LED driver 72V 240mA", "LED boost; adapter 12V; out 37V 180mA; 3 strings", "power tree 12V, 5V 1A, 3.3V 0.5A"
# (start line, mains, red, black, values that are healthy, the trade's band)
HEALTHY = [
    (DRIVER, EU, "vcc", "hot-", (), (5.8, 12.0)),
    (DRIVER, US, "vcc", "hot-", (), (5.8, 12.0)),
    (DRIVER, EU, "bulk", "out-", (72.0,), (68.4, 75.6)),
    (DRIVER, US, "bulk", "out-", (72.0,), (68.4, 75.6)),
    (BOOST, US, "out", "0V", (37.0,), (35.2, 38.9)),
    (BOOST, US, "in", "0V", (12.0, 12.1), (11.4, 12.6)),
    (BOOST, US, "sense", "0V", (0.2,), (0.2, 0.5)),
    (TREE, US, "in", "0V", (12.0, 12.1), (11.4, 12.6)),
    (TREE, US, "+5", "0V", (5.0, 4.98), (4.75, 5.25)),
    (TREE, US, "+3.3", "0V", (3.3,), (3.2, 3.4)),
    (TREE, EU, "+3.3", "0V", (3.3,), (3.2, 3.4)),
]


@lru_cache
def bands(line: str, name: str) -> dict[tuple[str, str], tuple[float, float]]:
    """(red, black) -> what a healthy unit shows there on DC volts, as the tool expects it [V]."""
    offered = expected_of(start_circuit(line, dict((EU, US))[name], ("dead",)))
    live = [r for r in offered if r["state"] == "on" and r["function"] == "v"]
    return {(r["red"], r["black"]): (r["healthy"][0], r["healthy"][1]) for r in live}


@pytest.mark.parametrize(("line", "mains", "red", "black", "values", "trade"), HEALTHY, ids=lambda x: str(x)[:24])
def test_healthy_values_lie_inside_a_band_that_is_not_too_wide(line, mains, red, black, values, trade) -> None:
    low, high = bands(line, mains[0])[red, black]
    assert all(low <= v <= high for v in values), (low, high)
    assert high > trade[0] and low < trade[1]
    assert high - low <= 3.0 * (trade[1] - trade[0]), (low, high)
