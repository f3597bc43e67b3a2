"""A part that has shown its fault is left off the board, and what killed it is looked for: odds by hand-made tables.

By hand: with V out nothing moves by it, so it keeps its odds; K, which kills it, gets most of the twentieth that a second fault has, M none where
its own place was read as healthy.
"""

from __future__ import annotations

import numpy as np
import pytest

from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row
from halfsplit.diagnosis.posterior import posterior
from halfsplit.diagnosis.replaced import BESIDE, leaving_out

ROWS = (Row("", "nothing wrong", 0.05), Row("V", "short", 1.0), Row("K", "open", 1.0), Row("M", "open", 1.0))
CELLS = [[12.0, 5.0, 2.5], [0.1, 5.0, 2.5], [12.0, 5.0, 3.3], [12.0, 8.0, 2.5]]  # across V; at M; what drives V, with V out


def table() -> Outlook:
    columns = tuple(Column(k, function="v", red=k, black="0", where=k, state="on", span=30.0, live=True) for k in ("v", "m", "drive"))
    tolerance = np.exp(0.02 * np.random.default_rng(1).standard_normal((4, 1, 16)))
    kills = np.ones((4, 4))
    kills[2, 1] = 25.0
    value = np.asarray(CELLS)[:, :, None] * tolerance
    return Outlook(ROWS, columns, value, np.zeros((4, 3), bool), kills=kills)


def test_the_part_keeps_its_odds_and_its_killer_gets_a_share() -> None:
    found = posterior(table(), [Reading(0, 0.1), Reading(1, 5.0)])
    assert found.part_odds["V"] > 0.9 > 0.01 > found.part_odds["K"]
    out = leaving_out(table(), found, "V")
    prior = {r.part: r.prior for r in out.rows}
    assert prior["V"] > 0.85 and BESIDE * 0.8 < prior["K"] < 2 * BESIDE and prior["M"] < 0.1 * prior["K"]
    assert sum(prior.values()) == pytest.approx(1.0)


def test_what_drives_it_then_reads_wrong_and_the_killer_is_named() -> None:
    found = posterior(table(), [Reading(0, 0.1), Reading(1, 5.0)])
    out = leaving_out(table(), found, "V")
    now = posterior(out, [Reading(2, 3.3)])
    assert now.involved["K"] > 0.95 and now.part_odds["K"] > 0.6 and now.part_odds["V"] < 0.01
    well = posterior(out, [Reading(2, 2.5)])
    assert well.part_odds["V"] > 0.9 and well.nothing_wrong < 0.05


def test_with_nothing_read_of_it_nothing_is_said() -> None:
    """Left out before anything was read: all stand by their priors, apart from the share that its killer has."""
    out = leaving_out(table(), posterior(table(), []), "V")
    prior = {r.part: r.prior for r in out.rows}
    assert prior["V"] == pytest.approx(prior["M"], rel=0.1) and prior["K"] > prior["M"]
