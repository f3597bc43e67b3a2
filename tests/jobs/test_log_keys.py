"""Lines that belong together, and the mark of the message that brought them."""

from __future__ import annotations

import os
from datetime import datetime, timedelta, timezone
from pathlib import Path

import pytest

from halfsplit.errors import EntryError
from halfsplit.jobs import log as log_module
from halfsplit.jobs.log import JobLog, read_log

WHEN = datetime(2025, 3, 4, 10, 15, 30, 120000, timezone(timedelta(hours=1)))
STAMP = "2025-03-04T10:15:30.120+01:00"


@pytest.fixture
def log(tmp_path: Path) -> JobLog:
    return JobLog.open(tmp_path / "job.log", clock=lambda: WHEN)


def test_lines_that_belong_together_are_one_write(log: JobLog, monkeypatch: pytest.MonkeyPatch) -> None:
    """Numbers in order, one time, the mark on each; the number of the last is told."""
    writes: list[bytes] = []
    write = os.write
    monkeypatch.setattr(log_module.os, "write", lambda h, d: writes.append(bytes(d)) or write(h, d))
    log.append("off")
    assert log.append_all(["on", "yes"], "k3f9a27c") == 3
    assert writes[1:] == [f"{STAMP} 2/k3f9a27c on\n{STAMP} 3/k3f9a27c yes\n".encode()]
    assert [(x.number, x.text, x.key) for x in log.lines()] == [(1, "off", None), (2, "on", "k3f9a27c"), (3, "yes", "k3f9a27c")]


def test_logs_without_marks_read_as_before(log: JobLog) -> None:
    """A text that itself begins like a mark stays a text."""
    log.append("/k3f9a27c off")
    log.append("7/k3f9a27c off")
    assert [(x.key, x.text) for x in log.lines()] == [(None, "/k3f9a27c off"), (None, "7/k3f9a27c off")]
    old = read_log(f"{STAMP} 1 off\n{STAMP} 2 C1 166\n".encode(), "old")
    assert [(x.number, x.text, x.key) for x in old.lines] == [(1, "off", None), (2, "C1 166", None)] and not old.torn


@pytest.mark.parametrize("piece", ["2", "2/", "2/k3f9", "2/k3f9a27c", "2/k3f9a27c ", "2/k3f9a27c on"])
def test_a_torn_line_with_a_mark_counts_for_nothing(log: JobLog, piece: str) -> None:
    """Neither as a line nor as a message that was taken: sent again it is taken, under the same number."""
    log.append("off")
    with log.path.open("ab") as file:
        file.write(f"{STAMP} {piece}".encode())
    assert not log.has("k3f9a27c") and len(log.torn()) == 1
    assert log.append_all(["on"], "k3f9a27c") == 2
    assert log.has("k3f9a27c") and [x.text for x in log.lines()] == ["off", "on"] and len(log.torn()) == 1


@pytest.mark.parametrize("key", ["", "short", "x" * 33, "K3F9A27C", "k3f9a27c ", "k3f9-a27c", "k3f9a27c\n", "k3f9 a27c", "\u0663" * 8])
def test_a_mark_that_could_be_misread_is_refused(log: JobLog, key: str) -> None:
    """Nothing is written."""
    with pytest.raises(EntryError, match="8 to 32"):
        log.append_all(["off"], key)
    assert log.path.read_bytes() == b""


@pytest.mark.parametrize("bad", ["", "  ", "a\nb", "x" * 1001])
def test_one_bad_line_keeps_all_of_them_out(log: JobLog, bad: str) -> None:
    """Whichever place it has."""
    for texts in ([bad, "on"], ["on", bad]):
        with pytest.raises(EntryError):
            log.append_all(texts, "k3f9a27c")
    assert log.path.read_bytes() == b"" and not log.has("k3f9a27c")


def test_what_was_taken_is_known_also_to_other_programs(log: JobLog) -> None:
    """By the whole mark, not by a part of it or by a text that looks like it."""
    log.append("see k3f9a27d")
    log.append_all(["off"], "k3f9a27c")
    again = JobLog.open(log.path, clock=lambda: WHEN)
    assert again.has("k3f9a27c")
    assert not any(again.has(k) for k in ("k3f9a27d", "k3f9a27", "k3f9a27c0", "off"))


def test_a_message_without_lines_leaves_the_log_alone(log: JobLog) -> None:
    """An edit that changes nothing."""
    log.append("off")
    before = log.path.read_bytes()
    assert log.append_all([], "k3f9a27c") == 1
    assert log.path.read_bytes() == before
