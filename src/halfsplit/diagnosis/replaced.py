"""After a part was fitted: what was read before speaks of the old one, and what is likely now follows from it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from halfsplit.diagnosis.outlook import Outlook
from halfsplit.diagnosis.posterior import Posterior, healthy_row
from halfsplit.errors import InputError

NEW_FAILS = 0.02  # that a part just fitted is bad, wrongly fitted, or dead again of what killed the old one (bench estimate)


def after_fitting(outlook: Outlook, post: Posterior, part: str) -> Outlook:
    """The same table with the odds that stand once `part` is new: if it was the only fault, nothing is wrong any more.

    Raises InputError for an outlook without the row "nothing wrong". What is not on the sheet begins anew.
    """
    healthy = healthy_row(outlook.rows)
    if healthy is None:
        raise InputError("this outlook has no row for a healthy unit; without it nothing can be said of a repaired one")
    mine = np.array([row.part == part for row in outlook.rows])
    odds = post.row_odds + 0.5 * post.in_pair  # of two at once the other is left; of a pair without it, either
    for pair in post.pairs:
        for here, there in ((pair.a, pair.b), (pair.b, pair.a)):
            if mine[here]:
                odds[there] += 0.5 * pair.odds
    gone = float(post.row_odds[mine].sum())
    share = np.array([row.prior for row in outlook.rows]) * mine
    odds[healthy] += gone
    odds = np.where(mine, NEW_FAILS * odds.sum() * share / max(float(share.sum()), 1e-300), odds)
    rows = tuple(replace(row, prior=float(x), unheard=None) for row, x in zip(outlook.rows, odds / odds.sum(), strict=True))
    return replace(outlook, rows=rows)
