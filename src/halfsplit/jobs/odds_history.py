"""Picture: how the odds moved with each entry. Data only, with its text twin; who draws it decides how it looks."""

from __future__ import annotations

import time
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from halfsplit.jobs.job import Job, clean
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.odds_record import OddsPoint, counting_lines
from halfsplit.jobs.picture_words import percent
from halfsplit.jobs.predicted_place import not_yet
from halfsplit.jobs.standing import Standing
from halfsplit.parts.base import Array

SHOWN = 6  # suspects drawn by name
LED = 0.3  # odds with which a suspect once led
GONE = 1e-4  # odds under which the order of suspects says nothing any more
Plain = dict[str, Any]


def odds_history(job: Job, *, most: int = SHOWN, within: float | None = None) -> Plain:
    """How the odds of the heaviest suspects, of "nothing wrong" and of "not on the sheet" moved with each entry that counts.

    Suspects: so many that are heaviest now, among them those that once led; where fewer have any odds left those that once had
    most.

    A job that goes on keeps them as it goes; one that was reopened, or whose sheet has changed, weighs its entries anew, the
    latest first. within [s]: of that; points for which no time was left are None in every series, `left` says how many, and the
    next call goes on there. None: all of them. One point may take longer where its readings call for faults to be solved that
    nobody has solved.

    Returns entries: {"line", "text"} one a point, the first one before anything was read ("line" null); suspects: {"part", "way",
    "odds": [...]}; nothing_wrong, not_on_sheet, two_at_once, others (every other single fault): [...], all as long as entries;
    each point's odds sum to 1. left: points not worked out yet. text: the same in words.
    """
    s, advice, table = job.standing, job.advice, job.table
    lists = ("entries", "suspects", "nothing_wrong", "not_on_sheet", "two_at_once", "others")
    if advice is None or advice.weighed is None or table is None:
        return {**{name: [] for name in lists}, "left": 0, "text": not_yet(advice)}
    lines = (0, *counting_lines(s, table.circuit))
    begun = time.monotonic()
    found: dict[int, OddsPoint | None] = {}
    for line in reversed(lines):
        found[line] = job.record.point(s, table, job.kit, line, lambda: within is None or time.monotonic() - begun < within)
    points = [found[line] for line in lines]
    top = _shown(advice.weighed.odds, points, [i for i, x in enumerate(table.suspects) if x.part is not None], most)
    suspects = [
        {
            "part": table.suspects[i].row.part,
            "way": table.suspects[i].row.way,
            "odds": [None if p is None else float(p.suspects[i]) for p in points],
        }
        for i in top
    ]
    texts = {line.number: line for line in job.log.lines()}
    entries = [{"line": line or None, "text": entry_text(line, texts, s)} for line in lines]
    plain: Plain = clean(
        {
            "entries": entries,
            "suspects": suspects,
            "nothing_wrong": [None if p is None else p.nothing_wrong for p in points],
            "not_on_sheet": [None if p is None else p.not_on_sheet for p in points],
            "two_at_once": [None if p is None else p.two_at_once for p in points],
            "others": [None if p is None else _others(p, top) for p in points],
            "left": sum(p is None for p in points),
            "text": history_text(entries, suspects, points),
        }
    )
    return plain


def _shown(now: Array, points: Sequence[OddsPoint | None], faults: Sequence[int], most: int) -> list[int]:
    """Faults worth a line: the heaviest now, those that once led, so that their fall is seen, and then by their odds now."""
    once = np.max([p.suspects for p in points if p is not None], axis=0)
    ranked = sorted(faults, key=lambda i: (-now[i] if now[i] > GONE else 0.0, -once[i]))
    first = dict.fromkeys([*ranked[:1], *(i for i in ranked if once[i] > LED), *ranked])
    chosen = set(list(first)[:most])
    return [i for i in ranked if i in chosen]


def _others(point: OddsPoint, top: Sequence[int]) -> float:
    """Odds of every single fault that has no line of its own."""
    return max(0.0, float(point.suspects.sum()) - point.nothing_wrong - float(point.suspects[list(top)].sum()))


def entry_text(line: int, lines: Mapping[int, LogLine], s: Standing) -> str:
    """The entry as typed, and what was put right in it later; 0 is before anything was read."""
    if line not in lines:
        return "before anything was read"
    text = lines[line].text
    right = [t.entry.shown for t in s.readings if t.line == line and t.entry.shown and t.entry.shown not in text]
    return f"{text}, put right: {right[-1]}" if right else text


def history_text(entries: Sequence[Plain], suspects: Sequence[Plain], points: Sequence[OddsPoint | None]) -> str:
    """One or two sentences: where the heaviest suspect began, where it is, and the entry that moved it most."""
    count = len(entries) - 1
    if not count and suspects:
        first = suspects[0]
        return f"Nothing was read yet; the heaviest suspect is {first['part']} {first['way']} with {percent(first['odds'][0])}."
    after = f"Over {count} entr{'y' if count == 1 else 'ies'}"
    if not suspects:
        return f"{after} no single fault has odds to speak of."
    name, odds = f"{suspects[0]['part']} {suspects[0]['way']}", suspects[0]["odds"]
    known = [(k, x) for k, x in enumerate(odds) if x is not None]
    said = f"{after} the heaviest suspect, {name}, went from {percent(known[0][1])} to {percent(known[-1][1])}."
    steps = [(abs(b - a), k, a, b) for (_, a), (k, b) in zip(known, known[1:])]
    if steps and max(steps)[0] >= 0.01:
        _, k, a, b = max(steps)
        said += f" Most came with line {entries[k]['line']}, {entries[k]['text']}: {percent(a)} to {percent(b)}."
    left = sum(p is None for p in points)
    return said + (f" {left} earlier points are not worked out yet." if left else "")


__all__ = ["odds_history"]
