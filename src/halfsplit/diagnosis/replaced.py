"""After a part was fitted: what was read before speaks of the old one, and what is likely now follows from it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from halfsplit.diagnosis.outlook import Outlook
from halfsplit.diagnosis.posterior import Posterior, healthy_row
from halfsplit.errors import InputError
from halfsplit.parts.base import Array

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


BESIDE = 0.05  # that a second fault stands beside one that has shown; shared by how well it explains the first (bench estimate)


def leaving_out(outlook: Outlook, post: Posterior, part: str) -> Outlook:
    """The same table with the odds that stand once `part`, of whose faults no reading tells any more, is left off the board.

    What was read so far stays said of it. It may have died of something: every other fault stands at its share of BESIDE at least, by its
    own prior, by what it would have put the part to (outlook.kills), and by the readings that the part itself doesn't move.
    """
    count = len(outlook.rows)
    odds = post.row_odds + 0.5 * post.in_pair
    mine = np.array([row.part == part for row in outlook.rows])
    share = np.array([row.prior for row in outlook.rows]) * ~mine
    if outlook.kills is not None and odds[mine].sum() > 0:
        kills = np.ones((count, count))
        n = len(outlook.kills)
        kills[:n, :n] = outlook.kills
        share *= kills[:, mine] @ (odds[mine] / odds[mine].sum())
    share *= _said_of_others(post, mine)
    odds = odds + BESIDE * float(odds[mine].sum()) * share / max(float(share.sum()), 1e-300)
    rows = tuple(replace(row, prior=float(x), unheard=None) for row, x in zip(outlook.rows, odds / odds.sum(), strict=True))
    return replace(outlook, rows=rows)


def _said_of_others(post: Posterior, mine: Array) -> Array:
    """(R,) what the readings say of every row beside the heaviest of mine, against no second fault: only those count that
    this one leaves as a healthy set shows them, and what speaks for a row has been counted already."""
    healthy = healthy_row(post.rows)
    if healthy is None or not len(post.readings) or not mine.any():
        return np.ones(len(mine))
    with np.errstate(divide="ignore", invalid="ignore"):
        against = np.log(post.g) - np.log(post.g[healthy])
    heaviest = int(np.flatnonzero(mine)[post.row_odds[mine].argmax()])
    left = np.abs(against[heaviest]) < 1.0
    return np.asarray(np.exp(np.minimum(np.nan_to_num(against[:, left], nan=0.0, neginf=-50.0), 0.0).sum(1)))
