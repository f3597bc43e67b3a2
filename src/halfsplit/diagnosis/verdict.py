"""Stop or go on: convicted, an ambiguity group, nothing found, something not on the sheet, or no reading that helps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from halfsplit.diagnosis.groups import group_of, shares_of
from halfsplit.diagnosis.outlook import Outlook
from halfsplit.diagnosis.pairs import Pair
from halfsplit.diagnosis.planner import WORTH
from halfsplit.diagnosis.posterior import Posterior, posterior
from halfsplit.diagnosis.proposal import Proposal
from halfsplit.diagnosis.scale import Array

CONVICT = 0.95
FACTOR = 3.0  # by which readings and looks have to speak for the convicted part against every other
UNSEEN = 20.0  # factor by which a fault may fit better than a healthy unit, and still count as not seen
TRIED = 3  # readings left out one after the other to see whether a conviction hangs on one of them
# Two or three parts that carry most of what reads like a healthy set are named, not "nothing found": the second a fifth of the first
# at least, and a healthy set lighter than the second (bench estimates).
FEW, SECOND, MOST, HEALTHY = 3, 0.2, 0.8, 0.1
RIVAL_PRIOR = 1e-4  # odds below which another part is no rival, whatever was read


@dataclass(frozen=True)
class Verdict:
    """kind: "convicted", "group", "nothing found", "not on the sheet", "no reading helps", or "go on".

    parts, heaviest first; rows by index. odds: of what the kind says. hangs_on: the one reading (counted from 0) without
    which the same would not be said. rivals: parts that the readings do not tell from the first one. like: what each part of a group
    shares with the heaviest in the reading that tells them apart best (1: the same).
    """

    kind: str
    parts: tuple[str, ...]
    rows: tuple[int, ...]
    odds: float
    hangs_on: int | None = None
    rivals: tuple[str, ...] = ()
    like: tuple[float, ...] = ()


def verdict(
    outlook: Outlook,
    post: Posterior,
    proposals: Sequence[Proposal],
    *,
    available: Sequence[int] | None = None,
    looks: Array | None = None,
    worth: float = WORTH,
) -> Verdict:
    """What may be said now. proposals: what next_readings gave for the same posterior; available: columns still open."""
    gain = max((p.gain for p in proposals), default=0.0)
    # What was read has spoken too: rows are alike only if neither it nor anything still open tells them apart.
    columns = sorted(set(range(len(outlook.columns)) if available is None else available) | {r.column for r in post.readings})
    part, odds = next(iter(post.involved.items()), ("", 0.0))
    if part and odds >= CONVICT:
        left = rivals(post, part)
        if not left:
            rows = tuple(int(i) for i in np.argsort(-post.row_odds) if post.rows[i].part == part and post.row_odds[i] > 1e-3)
            return Verdict("convicted", (part,), rows, odds, hanging_reading(outlook, post, part, looks=looks))
        if gain < worth and "" not in left:
            return Verdict("group", (part, *left), _rows_of(post, (part, *left)), odds, rivals=left)
        if gain >= worth:
            return Verdict("go on", (part,), (), odds, rivals=left)
    if gain >= worth and post.nothing_wrong < CONVICT:
        return Verdict("go on", (part,) if part else (), (), odds)
    return _when_nothing_helps(outlook, post, columns, part, gain >= worth)


def _when_nothing_helps(outlook: Outlook, post: Posterior, columns: list[int], part: str, more: bool) -> Verdict:
    if post.not_on_sheet + post.two_at_once > 0.5 and not more:
        return Verdict("not on the sheet", tuple(_pair_parts(post)), (), post.not_on_sheet + post.two_at_once)
    top = int(np.argmax(post.row_odds))
    everything = np.flatnonzero(post.row_odds > 1e-6)
    if post.healthy is not None:
        hidden = group_of(outlook, post, post.healthy, columns, within=[int(i) for i in everything])
        together = float(post.row_odds[list(hidden)].sum())
        fits = post.evidence[post.healthy] > post.evidence.max() - np.log(UNSEEN)
        if fits and not _points(post, hidden) and top in hidden and together >= CONVICT * (1 - post.not_on_sheet - post.two_at_once):
            parts = tuple(dict.fromkeys(post.rows[r].part for r in hidden if post.rows[r].part))
            return Verdict("nothing found", parts, hidden, together)
    if more:
        return Verdict("go on", (part,) if part else (), (), post.involved.get(part, 0.0))
    shares = shares_of(outlook, post, top, columns)
    same = tuple(shares)
    parts = tuple(dict.fromkeys(post.rows[r].part for r in same if post.rows[r].part))
    together = float(post.row_odds[list(same)].sum())
    if len(parts) > 1 and together > 0.5:
        like = tuple(max(s for r, s in shares.items() if post.rows[r].part == p) for p in parts)
        return Verdict("group", parts, same, together, like=like)
    return Verdict("no reading helps", parts, same, together)


def _points(post: Posterior, hidden: tuple[int, ...]) -> bool:
    """Whether a few parts among those that read like a healthy set carry the odds: then they are what to look at, and "nothing found"
    would hide them. The readings speak for one of them, or the complaint leaves a healthy set next to nothing."""
    odds: dict[str, float] = {}
    for r in hidden:
        odds[post.rows[r].part] = odds.get(post.rows[r].part, 0.0) + float(post.row_odds[r])
    whole = sum(odds.values())
    healthy = odds.pop("", 0.0)
    few = sorted(odds.values(), reverse=True)[:FEW]
    if len(few) < 2 or few[1] < SECOND * few[0] or sum(few) < MOST * whole or healthy >= few[1]:
        return False
    healthy_fits = 0.0 if post.healthy is None else float(post.evidence[post.healthy])
    best = max(float(post.evidence[r]) for r in hidden if post.rows[r].part)
    return healthy < HEALTHY * whole or best > healthy_fits + np.log(FACTOR)


def rivals(post: Posterior, part: str) -> tuple[str, ...]:
    """Parts (or "" for nothing wrong) for which readings and looks speak nearly as well as for this one: the prior alone
    never convicts."""
    mine = _best_evidence(post, part)
    with np.errstate(divide="ignore"):
        prior = np.array([row.prior for row in post.rows]) / sum(row.prior for row in post.rows)
    out: dict[str, float] = {}
    for i, row in enumerate(post.rows):
        if row.part != part and prior[i] > RIVAL_PRIOR * prior.max() and post.evidence[i] > mine - np.log(FACTOR):
            out[row.part] = out.get(row.part, 0.0) + float(post.row_odds[i])
    return tuple(sorted(out, key=lambda p: -out[p]))


def _best_evidence(post: Posterior, part: str) -> float:
    """Of the part alone, or solved together with another: of two faults neither explains the readings by itself."""
    alone = [float(e) for row, e in zip(post.rows, post.evidence, strict=True) if row.part == part and row.prior > 0]
    return max(alone + [float(post.evidence[p.row]) for p in post.pairs if p.row is not None and part in _names(post, p)])


def _names(post: Posterior, pair: Pair) -> tuple[str, str]:
    """Both parts, the one that killed the other first where that is known."""
    a, b = (pair.b, pair.a) if pair.root == pair.b else (pair.a, pair.b)
    return post.rows[a].part, post.rows[b].part


def _rows_of(post: Posterior, parts: tuple[str, ...]) -> tuple[int, ...]:
    return tuple(int(i) for i in np.argsort(-post.row_odds) if post.rows[i].part in parts and post.row_odds[i] > 1e-4)


def _pair_parts(post: Posterior) -> list[str]:
    return [name for pair in post.pairs[:1] for name in _names(post, pair)]


def hanging_reading(outlook: Outlook, post: Posterior, part: str, *, looks: Array | None = None) -> int | None:
    """The reading without which this part would not be convicted; None when any one of them may be wrong.

    Only the one whose absence costs most is told. Rows that no reading makes heavy are left out of the trial, and so are
    readings whose absence would cost less than that of TRIED others, were each row's reading weighed by itself.
    """
    keep = _could_be_heavy(post)
    keep = keep[keep < outlook.singles]
    small = Outlook(tuple(outlook.rows[i] for i in keep), outlook.columns, outlook.value[keep], outlook.pulsing[keep])
    seen = None if looks is None else np.asarray(looks)[keep]
    worst, least = None, CONVICT
    for j in _costliest(post, part):
        rest = post.readings[:j] + post.readings[j + 1 :]
        odds = posterior(small, rest, looks=seen, setting=post.setting).involved.get(part, 0.0)
        if odds < least:
            worst, least = j, odds
    return worst


def _costliest(post: Posterior, part: str) -> list[int]:
    """Readings that may be missed most, in their order: by the odds that each row would keep without its own density there."""
    count = len(post.readings)
    if count <= TRIED:
        return list(range(count))
    mine = np.array([row.part == part for row in post.rows])
    with np.errstate(divide="ignore"):
        logs = np.log(np.maximum(post.row_odds, 1e-300))[:, None] - np.maximum(np.log(post.g), -700.0)
    against = np.logaddexp.reduce(logs[~mine], axis=0) - np.logaddexp.reduce(logs[mine], axis=0)
    return sorted(int(j) for j in np.argsort(-against, kind="stable")[:TRIED])


def _could_be_heavy(post: Posterior, most: int = 24) -> np.ndarray:
    """Rows that are heavy now or would be, were one reading left out (reading by reading, which errs on the wide side)."""
    prior = np.log(np.maximum([row.prior for row in post.rows], 1e-300))
    with np.errstate(divide="ignore"):
        logs = np.maximum(np.log(post.g), -700.0)
    best = prior + logs.sum(axis=1)
    without = best[:, None] - logs if logs.shape[1] else best[:, None]
    relative = without - without.max(axis=0)
    score = np.maximum(relative.max(axis=1), np.log(np.maximum(post.row_odds, 1e-300)))
    chosen = set(np.argsort(-score, kind="stable")[:most].tolist())
    return np.array(sorted(chosen | ({post.healthy} if post.healthy is not None else set())), dtype=np.int64)
