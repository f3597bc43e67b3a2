"""The log as it is shown: each line with what became of it."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from halfsplit.jobs.fold import amendments
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.record import minutes_spent, record

BEGIN = datetime(2030, 1, 2, tzinfo=UTC)


def lines(*texts: str) -> tuple[LogLine, ...]:
    return tuple(LogLine(i, BEGIN + timedelta(seconds=i), text) for i, text in enumerate(texts, start=1))


def found(line: int, verdict: str, where: str = "out") -> dict[str, Any]:
    return {"line": line, "verdict": verdict, "where": where, "expected": [1.0, 2.0], "unit": "V"}


def shown(texts: tuple[str, ...], found: list[dict[str, Any]] | None = None, lost: tuple[tuple[int, str], ...] = ()) -> list[dict[str, Any]]:
    return record(lines(*texts), found or [], lost)


def test_each_line_has_its_verdict_and_place() -> None:
    """A line that read nothing has none; sheet lines are marked as such."""
    rows = shown(("unit: radio", "off", "out 1.5"), [found(3, "fits")])
    assert [r["sheet"] for r in rows] == [True, False, False]
    assert [r["verdict"] for r in rows] == [None, None, "fits"]
    assert (rows[2]["where"], rows[2]["expected"], rows[2]["unit"]) == ("out", [1.0, 2.0], "V")
    assert (rows[2]["n"], rows[2]["time"], rows[2]["text"]) == (3, "2030-01-02T00:00:03+00:00", "out 1.5")


@pytest.mark.parametrize(("verdicts", "worst"), [(("fits", "low", "fits"), "low"), (("noted", "fits"), "fits"), (("fits", "open"), "open")])
def test_a_line_that_read_several_shows_the_worst(verdicts: tuple[str, ...], worst: str) -> None:
    """What fits would hide the one that doesn't."""
    (row,) = shown(("1 2 3",), [found(1, v, f"place{i}") for i, v in enumerate(verdicts)])
    assert row["verdict"] == worst and row["where"] == f"place{verdicts.index(worst)}"


def test_a_struck_line_has_no_verdict_and_its_strike_names_it() -> None:
    """By number and without."""
    for no in ("no", "no 1"):
        rows = shown(("out 1.5", no), [found(1, "low")])
        assert rows[0]["struck"] and rows[0]["verdict"] is None and rows[1]["strikes"] == 1 and not rows[1]["struck"]


def test_striking_the_strike_brings_the_line_back() -> None:
    """As if nothing had been struck; striking that again strikes it again."""
    rows = shown(("out 1.5", "no", "no 2"), [found(1, "low")])
    assert [r["struck"] for r in rows] == [False, True, False] and rows[0]["verdict"] == "low"
    rows = shown(("out 1.5", "no", "no 2", "no 3"), [found(1, "low")])
    assert [r["struck"] for r in rows] == [True, False, True, False]


def test_bare_strikes_go_back_one_by_one() -> None:
    """A bare `no` is for what was last said and still stands, never for a strike."""
    struck, _, strikes = amendments(lines("a 1", "b 2", "no", "no", "c 3", "no"))
    assert struck == {1, 2, 5} and strikes == {3: 2, 4: 1, 6: 5}
    struck, _, strikes = amendments(lines("a 1", "b 2", "no", "no 3", "no"))
    assert strikes == {3: 2, 4: 3, 5: 2} and struck == {2, 3}


def test_a_strike_with_nothing_to_strike_strikes_nothing() -> None:
    """Neither at the beginning nor of a number that isn't there."""
    assert not any(r["struck"] for r in shown(("no", "out 1.5", "no 9")))


def test_a_corrected_line_says_so() -> None:
    """And goes on counting."""
    rows = shown(("out 1.5", "see nothing", "1 was 1.8"), [found(1, "fits")])
    assert [r["corrected"] for r in rows] == [True, False, False]
    assert rows[0]["verdict"] == "fits" and rows[2]["strikes"] is None


def test_a_line_that_no_longer_counts_says_why() -> None:
    """In the words of the fold."""
    rows = shown(("out 1.5", "off"), lost=((1, "no net out here"),))
    assert [r["lost"] for r in rows] == ["no net out here", None]


def test_minutes_are_those_at_the_bench() -> None:
    """A night between two lines counts as ten minutes, a clock put back as none, what came last until now."""
    times = (0, 60, 60 + 8 * 3600, 8 * 3600)
    log = tuple(LogLine(i, BEGIN + timedelta(seconds=t), "off") for i, t in enumerate(times, start=1))
    assert minutes_spent(log, BEGIN.timestamp() + 8 * 3600 + 120) == pytest.approx(1.0 + 10.0 + 0.0 + 2.0)
    assert minutes_spent((), 0.0) == 0.0
