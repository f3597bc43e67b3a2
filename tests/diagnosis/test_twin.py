"""A good twin's readings: they tighten what a healthy set may show by what is not known of the design, and by nothing else."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row
from halfsplit.diagnosis.posterior import posterior
from halfsplit.diagnosis.proposal import healthy_band
from halfsplit.diagnosis.twin import LEAST, units_like


def half_known(draws=80, seed=4, wide=0.5, tolerance=0.01):
    """Three rails that hang on one value nobody could read, spread by a factor, and a fourth that doesn't."""
    rng = np.random.default_rng(seed)
    design = np.exp(wide * rng.uniform(-1, 1, draws))
    rows = (Row("", "nothing wrong", 0.1), Row("R1", "open", 1.0))
    columns = tuple(Column(f"v{k}", "v", f"n{k}", "0", f"n{k}", "on", live=True, span=30.0) for k in range(4))
    value = np.empty((2, 4, draws))
    for k, gain in enumerate((10.0, 7.0, 3.0)):
        value[:, k] = gain * design * (1 + tolerance * rng.standard_normal(draws))
    value[:, 3] = 5.0 * (1 + tolerance * rng.standard_normal(draws))
    value[1, 0] = 0.0
    return Outlook(rows, columns, value, np.zeros((2, 4), bool))


APART = np.full(4, 0.01)


def test_the_band_tightens_round_what_the_twin_shows_and_still_holds():
    """The twin has 0.8 of the nominal value: another reading's band is a third as wide, and a unit of that design is in it."""
    outlook = half_known()
    twin = units_like(outlook, [Reading(0, 8.0), Reading(2, 2.41)], APART[:2])
    assert twin is not None and twin.unlike == ()
    post = posterior(outlook, [Reading(1, 5.6)])
    wide, tight = (healthy_band(outlook, p, 1) for p in (post, replace(post, units=twin.units)))
    assert wide is not None and tight is not None
    assert tight[1] - tight[0] < (wide[1] - wide[0]) / 3 and tight[0] < 5.6 < tight[1]
    assert np.exp(twin.units).sum() == pytest.approx(1.0)


def test_what_does_not_hang_on_the_unknown_keeps_its_band():
    """The fourth rail is tolerance only: it is not made surer by a twin's rails elsewhere (within the luck of the units left)."""
    outlook = half_known()
    twin = units_like(outlook, [Reading(0, 8.0)], APART[:1])
    post = posterior(outlook, [])
    wide, other = (healthy_band(outlook, p, 3) for p in (post, replace(post, units=twin.units)))
    assert 0.75 * (wide[1] - wide[0]) < other[1] - other[0] < 1.25 * (wide[1] - wide[0])


def test_tolerances_alone_are_not_shared():
    """Where tolerances make all of the spread the weights stay nearly even: more than half of the units count."""
    outlook = half_known()
    apart = float(np.std(np.log(1 + outlook.value[0, 3] / 0.05)))
    twin = units_like(outlook, [Reading(3, 5.05)], np.array([apart]))
    assert 1.0 / (np.exp(twin.units) ** 2).sum() > 40


def test_a_set_that_is_not_like_it_is_told_and_starves_nothing():
    """24 V where no unit shows more than 17: the reading is named and left out; alone it leaves the units even."""
    outlook = half_known()
    twin = units_like(outlook, [Reading(0, 24.0)], APART[:1])
    assert twin.unlike == (0,)
    np.testing.assert_allclose(np.exp(twin.units), 1 / 80)
    both = units_like(outlook, [Reading(0, 24.0), Reading(1, 7.0)], APART[:2])
    only = units_like(outlook, [Reading(1, 7.0)], APART[:1])
    assert both.unlike == (0,)
    np.testing.assert_allclose(both.units, only.units)


def test_many_sharp_readings_leave_enough_units():
    """However sure the twin's readings are, a band never rests on fewer than eight units' worth."""
    outlook = half_known(tolerance=0.001)
    twin = units_like(outlook, [Reading(k, v) for k, v in ((0, 8.0), (1, 5.6), (2, 2.4))] * 4, np.full(12, 1e-4))
    assert 1.0 / (np.exp(twin.units) ** 2).sum() >= LEAST - 1e-6


def test_open_on_the_twin_is_held_against_open_units():
    """OL: units that show a number fall away; nothing to compare gives nothing."""
    outlook = half_known()
    ohms = replace(outlook.columns[0], function="r", limit=6e7, span=2e7)
    value = outlook.value.copy()
    value[0, 0, ::2] = np.inf
    outlook = replace(outlook, columns=(ohms, *outlook.columns[1:]), value=value)
    twin = units_like(outlook, [Reading(0, np.inf)], APART[:1])
    assert np.exp(twin.units)[::2].sum() > 0.999
    assert units_like(outlook, [], APART[:0]) is None
