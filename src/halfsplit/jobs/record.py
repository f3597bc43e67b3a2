"""What was entered, line by line, with what became of it: for whoever shows the log."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any

from halfsplit.jobs.fold import amendments, is_sheet_line
from halfsplit.jobs.log import LogLine

LONGEST_PAUSE = 600.0  # seconds between two lines beyond which nobody was at the bench (bench estimate)


def record(lines: Sequence[LogLine], found: Sequence[Mapping[str, Any]], lost: Sequence[tuple[int, str]]) -> list[dict[str, Any]]:
    """One entry a line: n, time (ISO 8601), text, sheet (a line of the sheet), struck, strikes (the line that this one strikes),
    verdict of what was read there (the worst, where one line read several), where, expected and unit with it, lost (why it no
    longer counts)."""
    struck, corrected, strikes = amendments(tuple(lines))
    why = dict(lost)
    out = []
    for line in lines:
        here = [f for f in found if f["line"] == line.number]
        off = next((f for f in here if f["verdict"] not in ("fits", "noted")), here[-1] if here else None)
        out.append(
            {
                "n": line.number,
                "time": line.time.isoformat(timespec="seconds"),
                "text": line.text,
                "sheet": is_sheet_line(line.text),
                "struck": line.number in struck,
                "strikes": strikes.get(line.number),
                "corrected": line.number in corrected,
                "verdict": None if off is None or line.number in struck else off["verdict"],
                "where": None if off is None else off["where"],
                "expected": None if off is None else off["expected"],
                "unit": None if off is None else off["unit"],
                "lost": why.get(line.number),
            }
        )
    return out


def minutes_spent(lines: Sequence[LogLine], now: float) -> float:
    """Minutes at the bench: the pauses between lines, each counted to ten minutes at most. now [s since the epoch]."""
    if not lines:
        return 0.0
    times = [line.time.timestamp() for line in lines]
    pauses = [b - a for a, b in pairwise((*times, now))]
    return sum(min(max(p, 0.0), LONGEST_PAUSE) for p in pauses) / 60.0
