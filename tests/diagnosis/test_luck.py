"""The luck of a few draws is not information in readings that concern no suspect."""

from __future__ import annotations

import numpy as np

from halfsplit.diagnosis import gain as gains
from halfsplit.diagnosis import planner
from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row
from halfsplit.diagnosis.planner import next_readings
from halfsplit.diagnosis.posterior import posterior

DRAWS, UNITS = 16, 80


def volts(name):
    return Column(name, "v", name, "0", name, "on", live=True, span=30.0)


def two_suspects():
    """A and B show other volts at five places, each by its own severity; at three more nothing moves but the tolerances, 8 % wide,
    which have a part in all five."""
    rng = np.random.default_rng(3)
    tolerance = np.exp(0.08 * rng.standard_normal((8, UNITS)))
    healthy = 10.0 * tolerance
    value = np.stack([healthy, healthy, healthy])
    for r in (1, 2):
        severity = (rng.permutation(DRAWS) + 0.5) / DRAWS
        own = 10.0 * tolerance[:5, :DRAWS] * tolerance[5:, :DRAWS].mean(axis=0) * (0.3 + 0.5 * severity)
        value[r, :5] = np.tile(own, UNITS // DRAWS)
    rows = (Row("", "nothing wrong", 0.02), Row("A", "low", 1.0), Row("B", "low", 1.0))
    return Outlook(rows, tuple(volts(f"n{i}") for i in range(8)), value, np.zeros((3, 8), dtype=bool))


def test_a_reading_that_concerns_no_suspect_tells_nothing(monkeypatch):
    """After three readings each row has its own few heavy units; at places that neither moves they must not seem to differ."""
    outlook = two_suspects()
    post = posterior(outlook, [Reading(j, float(outlook.value[1, j, 5])) for j in range(3)])
    assert 0.1 < post.part_odds["A"] < 0.9

    def most():
        return max(p.gain for p in next_readings(outlook, post, available=[5, 6, 7]))

    assert most() < 0.01
    monkeypatch.setattr(planner, "common_units", lambda *_: None)
    monkeypatch.setattr(gains, "common_units", lambda *_: None)
    assert most() > 0.04  # what the luck of the draws used to be worth
