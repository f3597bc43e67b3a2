"""One CSV row a board, and the markdown table made from them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

import numpy as np


@dataclass
class Row:
    """Everything about one board. part "" is a board with nothing wrong. judge_failed: why it was left out, else ""."""

    index: int
    kind: str
    start: str = ""
    mains: str = ""
    symptom: str = ""
    seed: int = 0
    part: str = ""
    way: str = ""
    group: str = ""
    distinguishable: bool = False
    ended: str = ""
    named: str = ""
    right: bool = False
    in_group: bool = False
    in_three: bool = False
    no_answer: bool = False
    wrong: bool = False
    minutes: float = 0.0
    readings: int = 0
    live_hot: int = 0
    keystrokes: int = 0
    doubts: int = 0
    slips: int = 0
    violation_count: int = 0
    violations: str = ""
    unforeseen: str = ""
    half_minutes: float = 0.0
    half_right: bool = False
    half_wrong: bool = False
    half_readings: int = 0
    half_live_hot: int = 0
    judge_failed: str = ""
    error: str = ""
    seconds: float = 0.0
    refusals: str = ""
    lines: str = ""

    @classmethod
    def from_text(cls, line: Mapping[str, Any]) -> Row | None:
        """The row of a CSV line; None where the line was cut off."""
        readers = {"int": int, "float": float, "bool": lambda t: {"True": True, "False": False}[t], "str": str}
        try:
            return cls(**{f.name: readers[str(f.type)](line[f.name]) for f in fields(cls)})
        except (KeyError, TypeError, ValueError):
            return None


HEAD = ("kind of start", "boards", "right first", "right in distinguishable", "in first three", "no answer", "wrong conviction",
        "minutes median / p90", "half-splitting minutes median", "half-splitting right", "keystrokes median", "readings",
        "live hot readings", "violations", "unforeseen", "judge failures", "slips")


def markdown(rows: Sequence[Row], *, seed: int) -> str:
    """The table, one line a kind of start and one for all."""
    kinds = list(dict.fromkeys(r.kind for r in rows))
    lines = [_line(k, [r for r in rows if r.kind == k]) for k in kinds] + [_line("all", rows)]
    failed = sum(bool(r.judge_failed) for r in rows)
    broken = sum(bool(r.error) for r in rows)
    notes = [
        f"Seed {seed}. {len(rows)} boards drawn; {failed} left out because the judge failed"
        + (f", {broken} because the robot itself broke (see column `error`)" if broken else "") + ".",
        "Parts drawn evenly, then ways evenly; faults that show nowhere outside were drawn again.",
        "Minutes are those of the trade's bench estimates; a miss counts with the minutes it took. "
        "Readings and live hot readings: mean a board.",
    ]
    return "\n".join(["| " + " | ".join(HEAD) + " |", "|" + "---|" * len(HEAD), *lines, "", *notes, ""])


def _line(name: str, rows: Sequence[Row]) -> str:
    done = [r for r in rows if not r.judge_failed and not r.error]
    failed = sum(bool(r.judge_failed) for r in rows)
    clear = [r for r in done if r.distinguishable]
    cells = [
        name, str(len(done)), _share([r.right for r in done]), _share([r.right for r in clear]),
        _share([r.in_three for r in done]), _share([r.no_answer for r in done]), _share([r.wrong for r in done]),
        f"{_quantile([r.minutes for r in done], 0.5)} / {_quantile([r.minutes for r in done], 0.9)}",
        _quantile([r.half_minutes for r in done], 0.5), _share([r.half_right for r in done]),
        _quantile([float(r.keystrokes) for r in done], 0.5, 0), _mean([r.readings for r in done]),
        _mean([r.live_hot for r in done]), str(sum(r.violation_count for r in done)),
        str(sum(bool(r.unforeseen) for r in done)), str(failed), str(sum(r.slips for r in done)),
    ]
    return "| " + " | ".join(cells) + " |"


def _share(flags: Sequence[bool]) -> str:
    return f"{sum(flags)}/{len(flags)} ({100 * sum(flags) / len(flags):.0f} %)" if flags else "-"


def _quantile(values: Sequence[float], q: float, digits: int = 1) -> str:
    return f"{float(np.quantile(values, q)):.{digits}f}" if values else "-"


def _mean(values: Sequence[int]) -> str:
    return f"{float(np.mean(values)):.1f}" if values else "-"
