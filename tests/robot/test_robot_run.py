"""The robot technician on a few seeded boards, whole: judge, hands, tool in this process. The long run with its table is under perf/."""

from __future__ import annotations

from math import comb
from pathlib import Path

from run_robot import Plan, run_batch
from table import HEAD, Row, markdown

BOARDS, SEED = 6, 7
RIGHT = 0.6
TRUE_RATE = 0.85  # right first among distinguishable boards, what the tool is meant to reach


def at_least(hits: int, of: int, rate: float) -> float:
    """Binomial: chance of so many hits or more."""
    return sum(comb(of, k) * rate**k * (1 - rate) ** (of - k) for k in range(hits, of + 1))


def test_the_bound_of_the_short_run_is_loose_for_a_good_tool_and_tight_for_a_bad_one() -> None:
    """Four of six: a tool of 85 % passes with 95 %, one that is right in every third board with 10 %."""
    assert at_least(4, 6, TRUE_RATE) > 0.95
    assert at_least(4, 6, 1 / 3) < 0.11


def test_six_boards_end_without_a_violation_and_mostly_at_the_right_part(tmp_path: Path) -> None:
    """No violation at all; what the judge failed on is counted and less than half; the right part is named first in 60 % of the
    distinguishable boards (four of six, see above); the table is written and counts what happened."""
    rows = run_batch(BOARDS, Plan(seed=SEED, out=tmp_path, tool="object"), processes=1)
    assert [r.index for r in rows] == list(range(BOARDS))
    assert [r.error for r in rows if r.error] == []
    failed = [r for r in rows if r.judge_failed]
    assert len(failed) < BOARDS / 2, [r.judge_failed for r in failed]
    judged = [r for r in rows if not r.judge_failed]
    assert [r.violations for r in judged if r.violation_count] == []
    told = [r for r in judged if r.distinguishable]
    assert told and sum(r.right for r in told) >= RIGHT * len(told), [(r.kind, r.part, r.way, r.ended, r.named) for r in told]
    _table_counts(tmp_path, rows)


def _table_counts(folder: Path, rows: list[Row]) -> None:
    """The markdown file is that of these rows; its last line counts all boards, violations and failures of the judge."""
    written = (folder / f"robot-{SEED}.md").read_text(encoding="utf-8")
    assert written == markdown(rows, seed=SEED)
    line = next(t for t in written.splitlines() if t.startswith("| all "))
    cells = dict(zip(HEAD, (c.strip() for c in line.strip("|").split("|")), strict=True))
    failed = sum(bool(r.judge_failed) for r in rows)
    assert cells["boards"] == str(len(rows) - failed)
    assert cells["judge failures"] == str(failed)
    assert cells["violations"] == str(sum(r.violation_count for r in rows))
