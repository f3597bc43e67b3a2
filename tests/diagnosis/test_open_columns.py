"""Columns in which most explanations read OL."""

from __future__ import annotations

import numpy as np

from halfsplit.diagnosis.outlook import Column, Outlook, Row
from halfsplit.diagnosis.planner import next_readings
from halfsplit.diagnosis.posterior import posterior


def test_a_column_that_is_open_for_nearly_all_tells_no_more_than_there_is_to_tell() -> None:
    """Rows open to within rounding: the gain stays between nothing and the entropy of the suspects (it once came out as 1e265 bits)."""
    rng = np.random.default_rng(3)
    names = ("", "A", "B", "C")
    draws = 10
    value = np.full((4, 2, draws), np.inf)
    value[3, 0] = rng.uniform(1e4, 1e6, draws)  # one leaky row among open ones
    value[:, 1] = 47.0 * rng.uniform(0.95, 1.05, (4, draws))
    rows = tuple(
        Row(n, "nothing wrong" if not n else "bad", p) for n, p in zip(names, (0.05, 0.9, 0.05 - 1e-7, 1e-7), strict=True)
    )
    columns = (
        Column("leak", "r", "a", "b", "A", "dead", span=2e7, limit=61e6),
        Column("fits", "r", "c", "d", "B", "dead", span=2e7, limit=61e6),
    )
    outlook = Outlook(rows, columns, value, np.zeros((4, 2), dtype=bool))
    post = posterior(outlook, [])
    odds = np.array([*post.row_odds, post.not_on_sheet, post.two_at_once])
    entropy = float(-(odds * np.log2(np.maximum(odds, 1e-300))).sum())
    for proposal in next_readings(outlook, post):
        assert 0.0 <= proposal.gain <= entropy + 0.5
