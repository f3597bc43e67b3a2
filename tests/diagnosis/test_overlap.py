"""How much two rows share: against closed forms, against sampling, and where means alone mislead; and what the verdict makes of it."""

from __future__ import annotations

from statistics import NormalDist

import numpy as np
import pytest

from halfsplit.diagnosis.groups import LIKE, alike, group_of, overlap, shares_of
from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row
from halfsplit.diagnosis.posterior import DEFAULT, posterior
from halfsplit.diagnosis.scale import noise, scale_of
from halfsplit.diagnosis.verdict import verdict


def volts(name, **more):
    return Column(name, **({"function": "v", "red": name, "black": "0", "where": name, "state": "on", "span": 30.0} | more))


def table(*cells, columns=None, priors=None):
    """Rows from their draws (rows, columns, draws)."""
    value = np.array(cells, dtype=np.float64)
    names = columns or [volts(f"n{j}") for j in range(value.shape[1])]
    rows = [Row(p, "w", x) for p, x in zip("ABCDEFG", priors or [1.0] * len(value), strict=False)]
    return Outlook(tuple(rows[: len(value)]), tuple(names), value, np.zeros(value.shape[:2], dtype=bool))


def even(low, high, draws=64):
    """One draw in each of so many equal quantiles, in random order."""
    u = (np.random.default_rng(int(low * 10 + high)).permutation(draws) + 0.5) / draws
    return low + (high - low) * u


def test_two_narrow_rows_share_what_two_gaussians_share():
    """Equal widths s, d apart: 2 Phi(-d / 2 s), textbook. Here one to five widths."""
    width = float(noise(volts("n"), 10.0, False, DEFAULT.meter).total)
    scale = scale_of(volts("n"))
    for d in (1.0, 2.0, 3.5):
        other = float(scale.back(scale.forward(10.0) + d * width))
        got = overlap(table([[10.0] * 8], [[other] * 8]), 0, [1], [0])[0]
        assert got == pytest.approx(2 * NormalDist().cdf(-d / 2), abs=0.02)


def test_means_far_apart_and_ranges_that_overlap():
    """2..12 V against 7..24 V: means 8 V apart, half of one range inside the other; judged by a histogram of a million readings."""
    a, b = even(2.0, 12.0), even(7.0, 24.0)
    got = overlap(table([a], [b]), 0, [1], [0])[0]
    rng = np.random.default_rng(3)
    bins = np.linspace(0, 30, 121)
    shown = [np.histogram(rng.uniform(*ends, 500_000) * (1 + 0.0125 * rng.standard_normal(500_000)), bins)[0] / 5e5
             for ends in ((2.0, 12.0), (7.0, 24.0))]
    assert got == pytest.approx(float(np.minimum(*shown).sum()), abs=0.08)  # eight nodes blur the ends of a range
    assert alike(table([a], [b]), [0, 1], [0]).all()


def test_equal_means_and_two_narrow_peaks_about_a_narrow_row():
    """Ten volts, and eight or twelve: the means are the same, what they show never is."""
    outlook = table([[10.0] * 64], [[8.0, 12.0] * 32])
    assert overlap(outlook, 0, [1], [0])[0] < 5e-3
    assert not alike(outlook, [0, 1], [0])[0, 1]


def test_the_column_that_tells_them_apart_best_decides_and_no_other():
    a, b = even(2.0, 12.0), even(7.0, 24.0)
    outlook = table([a, np.full(64, 5.0)], [b, np.full(64, 6.0)])
    assert overlap(outlook, 0, [1], [0, 1])[0] < 0.01 < overlap(outlook, 0, [1], [0])[0]


def test_open_in_half_of_the_units_shares_half_with_always_open():
    ohms = volts("r", function="r", span=1e7, limit=6e7)
    half = np.array([np.inf, 100.0] * 8)
    assert overlap(table([half], [np.full(16, np.inf)], columns=[ohms]), 0, [1], [0])[0] == pytest.approx(0.5, abs=1e-6)


def test_exact_counts_share_the_values_they_share():
    count = volts("n", function="count")
    outlook = table([[1.0, 1.0, 2.0, 3.0]], [[1.0, 4.0, 4.0, 4.0]], columns=[count])
    assert overlap(outlook, 0, [1], [0])[0] == pytest.approx(0.25)


def test_a_group_has_only_what_overlaps_with_its_head():
    """A and B share some, B and C share some, A and C nothing: B's group has three, A's two, each with its share."""
    outlook = table([even(2.0, 6.0)], [even(5.0, 12.0)], [even(11.0, 20.0)])
    post = posterior(outlook, [])
    assert set(group_of(outlook, post, 1, [0])) == {0, 1, 2}
    shares = shares_of(outlook, post, 0, [0])
    assert set(shares) == {0, 1} and shares[0] == 1.0 and LIKE < shares[1] < 0.4


def healthy_like(odds, seen=True):
    """Nothing wrong, a relay and a micro that a rail cannot tell apart; the rail reads two per cent low with either."""
    rows = (Row("", "nothing wrong", odds[0]), Row("relay", "stuck", odds[1]), Row("micro", "dead", odds[2]), Row("fuse", "open", 0.3))
    rail = np.random.default_rng(2).normal(5.0, 0.03, (1, 32))
    value = np.stack([rail, rail * (0.97 if seen else 1.0), rail * (0.97 if seen else 1.0), np.zeros((1, 32))])
    return Outlook(rows, (volts("rail", live=True),), value, np.zeros((4, 1), dtype=bool))


def test_two_parts_that_carry_the_odds_are_a_group_and_not_nothing_found():
    """A set brought in as faulty: relay 57 %, micro 31 %, a healthy one next to nothing. They are named, with what they share."""
    outlook = healthy_like((0.004, 0.65, 0.35))
    post = posterior(outlook, [Reading(0, 4.86)])
    assert post.part_odds["relay"] > 0.5 > post.part_odds["micro"] > 0.25
    said = verdict(outlook, post, (), available=[])
    assert (said.kind, said.parts) == ("group", ("relay", "micro"))
    assert said.like == pytest.approx((1.0, 1.0), abs=0.01)


def test_nothing_found_stays_where_a_healthy_set_is_as_likely():
    """It comes and goes: healthy as likely as either part, and everything reads as it should."""
    outlook = healthy_like((1.0, 0.65, 0.35), seen=False)
    said = verdict(outlook, posterior(outlook, [Reading(0, 5.0)]), (), available=[])
    assert said.kind == "nothing found" and set(said.parts) == {"relay", "micro"}
