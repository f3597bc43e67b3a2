"""Picture: what a place would show on a healthy set and under the heaviest suspects, over the drawn units. Data with its text
twin."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from halfsplit.diagnosis.proposal import band_of, healthy_band, quantiles
from halfsplit.diagnosis.scale import scale_of
from halfsplit.jobs.cards import METER_ON
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.job import Job, clean
from halfsplit.jobs.picture_words import named, percent, refused, told_apart
from halfsplit.jobs.predicted_place import Ask, Place, heaviest, not_yet, place_of, weights_of
from halfsplit.jobs.weigh import Weighed
from halfsplit.parts.base import Array
from halfsplit.units import format_quantity

SUSPECTS = 3
AT = (0.025, 0.25, 0.5, 0.75, 0.975)
DOTS = 64  # each stands for the same share of the odds
RARE = 1e-3  # weight, against the heaviest, of units that leave no mark on a suspect's band
RARELY = 0.02  # share of the units that is not worth a word
Plain = dict[str, Any]


def spread(job: Job, red: str, black: str, function: str, alone: bool = False, *, state: str | None = None) -> Plain:
    """What one reading place would show: a healthy set over its tolerances, and each of the three heaviest suspects over the
    units that agree with all that was read.

    red, black, function, alone, state: as on a card's probe and card. Without a state: as it was last read there, else as the set
    is now.

    Returns place: {"red", "black", "function", "state", "where", "unit", "scale" (signed, decades or linear: on which readings
    are compared), "without" (parts off the board)}; read: values read there, OL as text, latest last; healthy and suspects:
    {"name", "part", "way", "odds", "quantiles" (2.5, 25, 50, 75, 97.5 % of the numbers, or null), "dots" (up to 64 numbers,
    rising, each of equal weight), "open", "unsaid" (share that shows OL, that cannot be said), "moves" (the display would not
    stand still), "band" ([low, high] or null: the middle 95 %, wider by meter and drawn circuit; the healthy one is the card's)}.
    text: the same in words. Where nothing can be shown, only refused and text.
    """
    s, advice, table = job.standing, job.advice, job.table
    if advice is None or advice.weighed is None or table is None:
        return refused(not_yet(advice))
    weighed = advice.weighed
    odds = weighed.odds if advice.odds is None else advice.odds
    place = place_of(Ask(red, black, function, alone, state), s, table, weighed, Gate(s, table, job.kit, odds, 0.0))
    if isinstance(place, str):
        return refused(place)
    column, x = place.column, place.outlook.value[:, 0]
    at = weighed.post.healthy or 0
    units = np.ones(x.shape[1]) if weighed.post.units is None else np.exp(weighed.post.units - weighed.post.units.max())
    band = healthy_band(place.outlook, weighed.post, 0)
    healthy = {"name": "nothing wrong", "part": None, "way": None, "odds": weighed.post.nothing_wrong,
               **shape_of(x[at], units / units.sum()), "moves": bool(place.outlook.pulsing[at, 0]), "band": band}  # fmt: skip
    suspects = []
    for i in heaviest(table, weighed, SUSPECTS):
        row, weight, moves = table.suspects[i].row, weights_of(weighed, i), bool(place.outlook.pulsing[i, 0])
        kept = weight > RARE * weight.max()
        suspects.append({"name": f"{row.part} {row.way}", "part": row.part, "way": row.way, "odds": float(weighed.odds[i]),
                         **shape_of(x[i], weight), "moves": moves,
                         "band": band_of(column, x[i][kept], weight[kept], moves, weighed.post.setting.meter)})  # fmt: skip
    plain: Plain = clean(
        {
            "refused": None,
            "place": {
                "red": red,
                "black": black,
                "function": function,
                "state": column.state,
                "where": column.where,
                "unit": column.unit,
                "scale": scale_of(column).kind,
                "without": list(place.acts.refs),
            },
            "read": [r.value for r, _ in place.read],
            "healthy": healthy,
            "suspects": suspects,
            "text": spread_text(place, healthy, suspects, weighed),
        }
    )
    return plain


def shape_of(x: Array, weight: Array) -> Plain:
    """Quantiles and dots of the numbers among these units, and the shares that are OL or unknown. x (units,); weight sums to
    one."""
    number = np.isfinite(x)
    mass = float(weight[number].sum())
    open_, unsaid = (float(weight[some].sum()) for some in (np.isinf(x), np.isnan(x)))
    out: Plain = {"quantiles": None, "dots": [], "open": open_, "unsaid": unsaid}
    if mass < 1e-9:
        return out
    values, share = x[number], weight[number] / mass
    count = max(1, round(DOTS * min(mass, 1.0)))
    order = np.argsort(values)
    at = np.searchsorted(np.cumsum(share[order]), (np.arange(count) + 0.5) / count).clip(0, len(values) - 1)
    return {**out, "quantiles": [float(q) for q in quantiles(values, share, AT)], "dots": [float(v) for v in values[order][at]]}


def spread_text(place: Place, healthy: Plain, suspects: Sequence[Plain], weighed: Weighed) -> str:
    """One or two sentences, and what was read."""
    c = place.column
    off = f" with {', '.join(place.acts.refs)} off the board" if place.acts.refs and not c.part else ""
    good, meter = _shows(healthy, c.unit), METER_ON[c.function]
    apart = told_apart(good, suspects, [good if _fits(p, healthy) else _shows(p, c.unit) for p in suspects])
    said = f"{meter[0].upper()}{meter[1:]} at {c.where} ({c.state}{off}): a healthy set shows {good}"
    said += "".join(f"; {who} would {f'show {what}' if what else 'not stand out'}" for who, what in apart) + "."
    rest = weighed.post.not_on_sheet + weighed.post.two_at_once
    if rest > 0.1:
        said += f" {percent(rest)} of the odds, on two faults or something not on the sheet, are not in this picture."
    if place.read:
        value = place.read[-1][0].value
        said += f" Read: {format_quantity(value, c.unit)}, {_among(value, [healthy, *suspects])}."
    return said


def _shows(p: Plain, unit: str) -> str:
    """What such sets show, in words: the band, or the bare numbers of a display that moves, which could pass anything near
    them."""
    parts = []
    ends = p["quantiles"] and ((p["quantiles"][0], p["quantiles"][-1]) if p["moves"] or p["open"] > RARELY else p["band"])
    if ends and p["open"] < 1 - RARELY:
        low, high = (format_quantity(x, unit) for x in ends)
        parts.append(low if low == high else f"{low} to {high}")
    if p["open"] > RARELY:
        parts.append("OL" if p["open"] > 1 - RARELY else f"OL in {100 * p['open']:.0f} of 100")
    return (" or ".join(parts) or "what cannot be said") + (", moving" if p["moves"] else "")


def _fits(p: Plain, healthy: Plain) -> bool:
    """Whether nearly every such set would show what the card calls healthy."""
    if p["moves"] != healthy["moves"] or p["unsaid"] > RARELY or (p["open"] > RARELY) != (healthy["open"] > RARELY):
        return False
    ends = [] if p["open"] > 1 - RARELY or p["quantiles"] is None else [p["quantiles"][0], p["quantiles"][-1]]
    band = healthy["band"]
    return band is not None and all(band[0] <= x <= band[1] for x in ends)


def _among(value: float, shown: Sequence[Plain]) -> str:
    """Whose band a value lies in."""
    names = [p["name"] for p in shown if _inside(value, p)]
    if not names:
        return "which none of these shows in 95 of 100"
    return "which all of these show" if len(names) == len(shown) > 2 else f"as with {named(names, 'or')}"


def _inside(value: float, p: Plain) -> bool:
    if math.isinf(value):
        return bool(p["open"] > RARELY)
    return p["quantiles"] is not None and p["band"] is not None and bool(p["band"][0] <= value <= p["band"][1])


__all__ = ["spread"]
