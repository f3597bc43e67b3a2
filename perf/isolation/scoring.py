"""From what the tool said to scores: odds of the truth, Brier, reliability bins, first place and the first three. No simulator here."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from perf.isolation.case import HEALTHY, NOT_DRAWN

FLOOR = 1e-4  # odds under which the log score counts no further
EDGES = (0.05, 0.2, 0.4, 0.6, 0.8, 0.95)  # of the reliability bins; the last one is open: above 0.95
SURE = 0.9
ANSWERS = ("convicted", "group", "nothing found", "not on the sheet")  # ends that are an answer
Claims = dict[str, float]


def claims_of(answer: Mapping[str, Any], alias: Mapping[str, str]) -> Claims:
    """What one answer claims: part -> odds that it is at fault (alone or as one of two), HEALTHY and NOT_DRAWN -> theirs.

    Places outside the drawing stand as "~place". alias: designator -> name on the board.
    """
    out: Claims = {}
    for suspect in answer.get("suspects") or ():
        name = alias.get(str(suspect["part"]), str(suspect["part"]))
        out[name] = out.get(name, 0.0) + float(suspect.get("odds") or 0.0)
    for pair in answer.get("pairs") or ():
        for part in dict.fromkeys(str(p) for p in pair["parts"]):
            name = alias.get(part, part)
            out[name] = out.get(name, 0.0) + float(pair.get("odds") or 0.0)
    places = {f"~{u.get('place')}": float(u.get("odds") or 0.0) for u in answer.get("undrawn") or ()}
    out[HEALTHY] = float(answer.get("nothing_wrong") or 0.0)
    # whether the places are within "not on the sheet" or beside it, both together are never less than either
    out[NOT_DRAWN] = max(float(answer.get("not_on_sheet") or 0.0), sum(places.values()))
    return {**{k: min(v, 1.0) for k, v in out.items()}, **places}


def with_the_rest(claims: Claims, everything: Mapping[str, float], alias: Mapping[str, str]) -> Claims:
    """The claims with what the answer's list has no room for: it names eight explanations, the odds are of all. everything: part -> odds."""
    sums: Claims = {}
    for part, odds in everything.items():
        name = alias.get(part, part)
        sums[name] = sums.get(name, 0.0) + float(odds)
    return {**claims, **{n: max(v, claims.get(n, 0.0)) for n, v in sums.items() if n != HEALTHY}}


def worth_keeping(claims: Claims, true_names: Iterable[str]) -> Claims:
    """What a line of the run keeps: everything above half a per cent, and the truth."""
    true = set(true_names)
    return {k: float(f"{v:.4g}") for k, v in claims.items() if v >= 0.005 or k in true or k in (HEALTHY, NOT_DRAWN)}


def log_score(claims: Claims, truth: str) -> float:
    """Natural log of the odds of the truth, floored; 0 is perfect."""
    return math.log(max(claims.get(truth, 0.0), FLOOR))


def brier(claims: Claims, true_names: Iterable[str]) -> float:
    """Sum of squares between claim and truth over everything claimed and everything true; places are within NOT_DRAWN."""
    true = set(true_names)
    names = {k for k in claims if not k.startswith("~")} | true
    return sum((claims.get(n, 0.0) - (n in true)) ** 2 for n in names)


def ranked(claims: Claims) -> list[str]:
    """Heaviest first; places stand for NOT_DRAWN once, at the weight of both."""
    names = [k for k in claims if not k.startswith("~")]
    return sorted(names, key=lambda n: (-claims[n], n))


@dataclass(frozen=True)
class Score:
    """first, three: no answer is a miss; top_odds: the heaviest claim is true, whatever the card said. any_first: first
    place is any of the faulty parts. sure_wrong: something untrue was claimed above 0.9 at the end. group: an answer that
    no offered reading could better."""

    first: bool
    three: bool
    any_first: bool
    top_odds: bool
    group: bool
    no_answer: bool
    sure_wrong: bool
    gap: bool
    log: float
    brier: float


def order_of(ended: str, named: Sequence[str], claims: Claims) -> list[str]:
    """What stands first at the end: the card's verdict, then the claims."""
    head = {"nothing found": [HEALTHY], "not on the sheet": [NOT_DRAWN]}.get(ended, list(named))
    head = [NOT_DRAWN if h.startswith("~") else h for h in head]
    return list(dict.fromkeys((*head, *ranked(claims))))


def score(
    ended: str, named: Sequence[str], claims: Claims, *, root: str, true_names: frozenset[str], group: frozenset[str],
    places: frozenset[str] = frozenset(),
) -> Score:
    """The end of one job held against the truth. places: nets of a faulty part that the sheet lacks; naming one finds it."""
    order = order_of(ended, named, claims)
    no_answer = ended not in ANSWERS
    top = ranked(claims)
    near = bool(places) and any(_names_place(n, places) for n in (*named, *_heaviest_places(claims)))
    first = not no_answer and (order[:1] == [root] or (near and root == NOT_DRAWN and order[:1] == [NOT_DRAWN]))
    three = not no_answer and (root in order[:3] or near)
    any_first = not no_answer and bool(order) and order[0] in true_names
    inside = first or (not no_answer and bool(order) and order[0] in group)
    wrong = any(v > SURE and k not in true_names for k, v in claims.items() if not k.startswith("~"))
    gap = ended == "not on the sheet" or claims.get(NOT_DRAWN, 0.0) > 0.5
    return Score(first, three, any_first, top[:1] == [root], inside, no_answer, wrong, gap,
                 log_score(claims, root), brier(claims, true_names))


def in_two_blocks(claims: Claims, root: str, blocks: Mapping[str, str]) -> bool | None:
    """Whether the block of the part that failed is one of the two heaviest; None where it has none. blocks: part -> block."""
    if root not in blocks:
        return None
    total: Claims = {}
    for name, odds in claims.items():
        if name in blocks:
            total[blocks[name]] = total.get(blocks[name], 0.0) + odds
    return blocks[root] in sorted(total, key=lambda b: -total[b])[:2]


def _heaviest_places(claims: Claims, most: int = 3) -> list[str]:
    """Places among the first three claims."""
    top = sorted(claims, key=lambda k: -claims[k])[: most + 1]  # NOT_DRAWN is the sum of them and takes no rank of its own
    return [k[1:] for k in top if k.startswith("~")]


def _names_place(words: str, places: frozenset[str]) -> bool:
    told = {w.strip(".,;:()") for w in words.replace("/", " ").split()}
    return bool(told & places)


@dataclass(frozen=True)
class Bin:
    """One line of the reliability table."""

    low: float
    high: float
    count: int
    mean: float
    held: float


def bin_of(odds: float) -> int | None:
    """Index of the bin, None under the first edge. The upper edge belongs to the lower bin."""
    if odds < EDGES[0]:
        return None
    return max(i for i, edge in enumerate(EDGES) if odds > edge or i == 0)


def reliability(claims: Iterable[tuple[float, bool]]) -> list[Bin]:
    """Bins over (odds, came true)."""
    held: list[list[tuple[float, bool]]] = [[] for _ in EDGES]
    for odds, true in claims:
        at = bin_of(odds)
        if at is not None:
            held[at].append((odds, true))
    tops = (*EDGES[1:], 1.0)
    return [
        Bin(low, high, len(h), sum(o for o, _ in h) / len(h) if h else math.nan, sum(t for _, t in h) / len(h) if h else math.nan)
        for low, high, h in zip(EDGES, tops, held, strict=True)
    ]


def expected_calibration_error(bins: Sequence[Bin]) -> float:
    """Mean distance between claim and truth, by count."""
    total = sum(b.count for b in bins)
    return sum(b.count * abs(b.mean - b.held) for b in bins if b.count) / total if total else math.nan
