"""Lines that put readings right afterwards: a value by its number, the black lead for several."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from halfsplit.jobs.fold import fold
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.standing import Standing
from job_support import THREE

BEGIN = datetime(2030, 1, 2, tzinfo=UTC)


def stood(*texts: str) -> Standing:
    lines = tuple(LogLine(i, BEGIN + timedelta(seconds=i), text) for i, text in enumerate((*THREE, *texts), start=1))
    return fold(lines)


def blacks(s: Standing) -> list[str | None]:
    return [t.entry.black_net for t in s.readings]


def test_black_was_elsewhere_for_the_last_three_readings() -> None:
    """`black was N 3` puts the last three right, in what is weighed and in what safety saw happen; the first stays."""
    readings = ("on", "raw 18.4", "+12 11.9", "raw 18.4", "+12 12.0")
    plain, right = stood(*readings), stood(*readings, "black was N 3")
    assert blacks(plain) == ["0V"] * 4
    assert blacks(right) == ["0V", "N", "N", "N"]
    assert [h.taken.entry.black_net for h in right.happened if h.taken is not None] == blacks(right)


def test_black_was_elsewhere_for_the_last_reading_though_something_else_was_said_since() -> None:
    """The last *reading* is meant; a look in between is none. Struck, the correction is as if never said."""
    lines = ("on", "raw 18.4", "+12 11.9", "see nothing", "black was N")
    assert blacks(stood(*lines)) == ["0V", "N"]
    assert blacks(stood(*lines, f"no {len(THREE) + len(lines)}")) == ["0V", "0V"]


def test_a_value_is_put_right_by_its_number_with_and_without_no() -> None:
    """`5 was 18.4` is the same as `no 5 was 18.4`."""
    number = len(THREE) + 2
    for line in (f"{number} was 18.4", f"no {number} was 18.4"):
        assert [t.entry.value for t in stood("on", "raw 1.84", "+12 11.9", line).readings] == [18.4, 11.9]
