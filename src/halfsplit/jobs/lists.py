"""The lists of an answer: suspects, found against expected, cleared, and the one doubt that is asked about."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.starting.blocks import blocks
from halfsplit.diagnosis.hiccup import kind_of
from halfsplit.diagnosis.mistakes import Doubt
from halfsplit.diagnosis.posterior import Posterior
from halfsplit.diagnosis.proposal import healthy_band
from halfsplit.jobs.standing import Taken
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import Weighed

CLEAR = 0.002  # odds under which a part is called cleared
PAIR_SHOWN = 0.02  # odds under which two faults at once are not named
ASK_ABOUT = 0.25  # odds of all bench mistakes together above which the likeliest is asked about first
DECIDES = 0.1  # odds of one above which it is asked about because another part is to blame if it was made (bench estimate)
TOO_LITTLE = 0.05  # odds of one under which it counts for nothing: every reading has its per cent of doubt
MOST_ASKED = 3  # questions a job


def suspect_list(table: Table, odds: np.ndarray, most: int = 8) -> list[dict[str, Any]]:
    """The heaviest suspects with odds and reason."""
    order = [i for i in np.argsort(-odds) if table.suspects[i].part is not None][:most]
    return [
        {
            "part": table.suspects[i].row.part,
            "way": table.suspects[i].row.way,
            "odds": round(float(odds[i]), 4),
            "why": table.suspects[i].row.why,
        }
        for i in order
        if odds[i] > 1e-4
    ]


def pair_list(post: Posterior, most: int = 4) -> list[dict[str, Any]]:
    """Two faults at once, heaviest first: what no single fault explains as well."""
    return [
        {
            "parts": [post.rows[p.a].part, post.rows[p.b].part],
            "ways": [post.rows[p.a].way, post.rows[p.b].way],
            "odds": round(p.odds, 4),
            "root": None if p.root is None else post.rows[p.root].part,
        }
        for p in post.pairs[:most]
        if p.odds > PAIR_SHOWN
    ]


def block_list(table: Table, odds: np.ndarray, post: Posterior, most: int = 3) -> list[dict[str, Any]]:
    """The blocks of a starting sheet that hold what is wrong, heaviest first: single faults, and pairs with a part there."""
    of = blocks(table.circuit.parts)
    total: dict[str, float] = {}
    for suspect, p in zip(table.suspects, odds, strict=True):
        if suspect.part is not None and (block := of.get(suspect.part.ref)):
            total[block] = total.get(block, 0.0) + float(p)
    for pair in post.pairs:
        for block in {of[ref] for i in (pair.a, pair.b) if (ref := post.rows[i].part) in of}:
            total[block] = total.get(block, 0.0) + pair.odds
    order = sorted(total.items(), key=lambda x: -x[1])[:most]
    return [{"block": name, "odds": round(p, 4)} for name, p in order if p > PAIR_SHOWN]


def undrawn_list(post: Posterior, most: int = 3) -> list[dict[str, Any]]:
    """Where something is that is not on the sheet, as far as the readings place it, heaviest first, with what would settle it."""
    return [
        {"place": undrawn.place, "odds": round(odds, 4), "check": f"follow the copper of {undrawn.place} by eye; ohms between, set dead"}
        for undrawn, odds in post.undrawn[:most]
        if odds > PAIR_SHOWN
    ]


def _where(taken: Taken, own: Mapping[str, str]) -> str:
    """The place as typed, and the black lead where it was not on the 0 V of that side."""
    e = taken.entry
    plain = e.part is not None and len(e.pins) != 1 or " to " in e.where or e.black_net == own.get(e.red_net or "")
    return e.where if plain else f"{e.where} to {e.black_net}"


def found_list(weighed: Weighed, own: Mapping[str, str]) -> list[dict[str, Any]]:
    """Every reading against what a healthy set would show. own: net -> the 0 V of its side."""
    out = []
    for reading, taken in zip(weighed.post.readings, weighed.taken, strict=True):
        column = weighed.outlook.columns[reading.column]
        band = healthy_band(weighed.outlook, weighed.post, reading.column)
        stands = column.function == "every" and band is not None and np.isinf(band[0])
        band = None if stands else band
        word = "noted"
        if band is not None:
            low, high = band
            word = (
                "fits"
                if low <= reading.value <= high
                else ("open" if np.isinf(reading.value) else ("low" if reading.value < low else "high"))
            )
        out.append(
            {
                "line": taken.line,
                "where": _where(taken, own),
                "function": column.function,
                "value": reading.value,
                "unit": column.unit,
                "expected": None if band is None else list(band),
                "verdict": word,
                **({"note": "a healthy set does not start over and over"} if stands else _note(taken, column.function, reading.value, band)),
            }
        )
    return out


def _note(taken: Taken, function: str, value: float, band: tuple[float, float] | None) -> dict[str, str]:
    """What the peak of a hiccup says by the trade's rule: only of MAX, and only where the display moved."""
    e = taken.entry
    moves = "pulsing" in e.flags or e.every is not None or (e.lo is not None and e.hi is not None)
    if function != "max" or band is None or not moves or not np.isfinite([value, *band]).all():
        return {}
    said = kind_of(value, 0.5 * (band[0] + band[1]))
    return {"note": said} if said else {}


def cleared_list(table: Table, weighed: Weighed, prior: np.ndarray) -> list[dict[str, Any]]:
    """Parts that the readings have cleared, alone and as one of two, by side."""
    post, odds = weighed.post, weighed.odds
    now: dict[str, float] = {}
    before: dict[str, float] = {}
    for i, suspect in enumerate(table.suspects):
        if suspect.part is not None:
            now[suspect.part.ref] = now.get(suspect.part.ref, 0.0) + float(odds[i])
            before[suspect.part.ref] = before.get(suspect.part.ref, 0.0) + float(prior[i])
    for pair in post.pairs:
        for row in (pair.a, pair.b):
            ref = post.rows[row].part
            now[ref] = now.get(ref, 0.0) + pair.odds
    for ref, rows in table.opened().items():  # a fuse that went with the fault is no cause, and nothing to be called cleared
        now[ref] = now.get(ref, 0.0) + float(odds[rows].sum()) + sum(p.odds for p in post.pairs if rows[[weighed.suspect(p.a), weighed.suspect(p.b)]].any())
    islands = islands_of(table.circuit)
    sides: dict[str, list[str]] = {}
    for part in table.circuit.parts:
        if part.ref in now and now[part.ref] < CLEAR and now[part.ref] < 0.3 * before[part.ref]:
            cold = sum(islands.get(n) == "cold" for n in part.pins.values()) * 2 > len(part.pins)
            sides.setdefault("isolated side" if cold else "mains side", []).append(part.ref)
    return [{"block": side, "parts": parts} for side, parts in sides.items()]


def doubt_of(weighed: Weighed, asked: set[str], last: int) -> dict[str, Any] | None:
    """One question at most: the mistake or slip that most often explains, or the one reading that nothing else agrees with.

    Asked where all of them together are likely, or one that is not unlikely decides which part is blamed; three times a job at
    most, never twice the same. asked grows. last: number of the last line of the log.
    """
    if len(asked) >= MOST_ASKED:
        return None
    doubts = [d for d in weighed.post.doubts if d.odds >= TOO_LITTLE and _key(weighed, d) not in asked]
    likely = doubts if sum(d.odds for d in doubts) > ASK_ABOUT else [d for d in doubts if d.decides and d.odds > DECIDES]
    if likely:
        doubt = max(likely, key=lambda d: d.odds)
        asked.add(_key(weighed, doubt))
        return _question(weighed, doubt, last)
    return _lone_reading(weighed, asked, last)


def _key(weighed: Weighed, doubt: Doubt) -> str:
    line = weighed.taken[doubt.readings[0]].line
    return f"slip:{line}" if doubt.single else f"{doubt.name}:{line}"


def _question(weighed: Weighed, doubt: Doubt, last: int) -> dict[str, Any]:
    """The question with the entries it is about and the lines to type. "yes" owns up to it, "wrong" strikes the entry so that it is
    read anew, "no" says that it was read again and is the same."""
    entries = [weighed.taken[j] for j in doubt.readings]
    first, about = entries[0], sorted({t.line for t in entries})
    latest = first.line == last
    ask, wrong = doubt.ask, f"no {first.line}"
    lines = {"yes": wrong, "no": "same" if doubt.single and latest else ""}
    if doubt.single:
        ask = f"line {first.line}, {first.entry.where} {first.entry.shown}, agrees with nothing else: {doubt.ask}"
        meant = _meant(weighed, doubt)
        if meant:
            # What was meant is only likely: with any other value the entry is struck and read anew.
            own_up = {"yes": f"was {meant}"} if latest else {"wrong": wrong, "yes": f"{wrong} was {meant}"}
            lines = {**own_up, "wrong": wrong, "no": lines["no"]}
    elif doubt.type.startswith("black was") and about == sorted({t.line for t in weighed.taken})[-len(about) :]:
        lines = {"yes": f"{doubt.type} {len(about)}" if len(about) > 1 else doubt.type, "wrong": wrong, "no": ""}
    elif doubt.type and not doubt.type.startswith("black was"):
        lines = {"yes": doubt.type, "no": ""}
    if not doubt.single:
        ask += f" It is about line{'s' if len(about) > 1 else ''} {', '.join(map(str, about))}."
    return {"name": doubt.name, "ask": ask, "odds": round(doubt.odds, 3), "line": first.line, "lines": about, "type": lines}


def _meant(weighed: Weighed, doubt: Doubt) -> str:
    """The value that was meant, where the slip says it; empty where it has to be read anew."""
    way, reading = doubt.way, weighed.post.readings[doubt.readings[0]]
    taken = weighed.taken[doubt.readings[0]]
    if way is None or way.column != reading.column or taken.entry.value is None or taken.entry.value != reading.value:
        return ""
    value = taken.entry.value / way.factor
    return _typed(value) if np.isfinite(value) else ""


def _typed(value: float) -> str:
    """A value as it is typed: 4.7k, 430, 12m."""
    for size, letter in ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"), (1e-12, "p")):
        if abs(value) >= size or size == 1e-12:
            return f"{value / size:.4g}{letter}"
    return "0"


def _lone_reading(weighed: Weighed, asked: set[str], last: int) -> dict[str, Any] | None:
    """A reading that the likeliest explanation does not give, and others do, by a factor of a hundred."""
    post = weighed.post
    if len(post.readings) < 3 or not len(post.row_odds):
        return None
    best = int(np.argmax(post.row_odds))
    for j, taken in enumerate(weighed.taken):
        top = float(post.g[:, j].max())
        if post.row_odds[best] > 0.3 and float(post.g[best, j]) < 0.01 * top and f"slip:{taken.line}" not in asked:
            asked.add(f"slip:{taken.line}")
            return _question(weighed, Doubt("nonsense", "read it again?", 0.0, (j,), single=True), last)
    return None
