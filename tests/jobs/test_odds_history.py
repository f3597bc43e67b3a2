"""How the odds moved with each entry: the last point is the answer, and a job that is reopened tells the same story."""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from halfsplit.jobs import table
from halfsplit.jobs.job import Job
from halfsplit.jobs.kit import read_kit
from halfsplit.jobs.odds_history import odds_history
from job_support import KIT, THREE, FakeClock, sure

Maker = Callable[..., Job]
READ = ("OL OL", "fuse 0.2 r", "see nothing", "reservoir 6.6m c", "on", "raw 17.6", "+12 11.9", "raw 0.29ac")
SUMMED = ("nothing_wrong", "not_on_sheet", "two_at_once", "others")


def dead(job: Job) -> Job:
    assert job.advice is not None
    sure(job, "dead 9V " + " ".join(f"{c} 0.3V" for c in job.advice.card["caps"]))
    return job


def series(history: dict[str, Any]) -> dict[str, list[float]]:
    """Every series by its name."""
    json.dumps(history, allow_nan=False)
    return {**{f"{s['part']} {s['way']}": s["odds"] for s in history["suspects"]}, **{k: history[k] for k in SUMMED}}


@pytest.fixture
def read(new_job: Maker) -> tuple[Job, dict[str, Any]]:
    """A job with its readings, and its last answer."""
    job = dead(new_job())
    return job, sure(job, *READ)


def test_the_last_point_is_the_answer(read: tuple[Job, dict[str, Any]]) -> None:
    """The odds of suspects, nothing wrong and not on the sheet are those that were answered."""
    job, answer = read
    history = odds_history(job)
    assert history["nothing_wrong"][-1] == answer["nothing_wrong"]
    assert history["not_on_sheet"][-1] == answer["not_on_sheet"]
    told = {(s["part"], s["way"]): s["odds"] for s in answer["suspects"]}
    shown = {(s["part"], s["way"]): s["odds"][-1] for s in history["suspects"]}
    assert len(shown) == 6 and list(shown)[0] == next(iter(told))
    for name, odds in list(told.items())[:6]:
        assert shown[name] == pytest.approx(odds, abs=5e-5)  # the answer is rounded to four places


def test_every_point_is_what_was_answered_then(new_job: Maker) -> None:
    """Nothing was struck and the sheet did not change: so each point is the answer to its line."""
    job = dead(new_job())
    answered: dict[int, float] = {}
    for line in READ:
        answer = sure(job, line)
        answered[answer["line"]] = answer["nothing_wrong"]
    history = odds_history(job)
    points = {e["line"]: x for e, x in zip(history["entries"], history["nothing_wrong"], strict=True)}
    both = sorted(set(points) & set(answered))
    assert len(both) == len(READ) - 1  # all but `on`, which says nothing of what is wrong
    for line in both:
        assert points[line] == answered[line], line


def test_the_odds_of_every_point_sum_to_one(read: tuple[Job, dict[str, Any]]) -> None:
    """Named suspects, the other ones, nothing wrong, not on the sheet and two at once leave nothing out and count nothing
    twice."""
    job, _ = read
    sums = np.sum(list(series(odds_history(job)).values()), axis=0)
    np.testing.assert_allclose(sums, 1.0, atol=1e-9)


def test_entries_that_do_not_count_have_no_point(read: tuple[Job, dict[str, Any]]) -> None:
    """Lines of the sheet, power and volts of a dead set move nothing; what counts stands as it was typed, in its order."""
    job, _ = read
    entries = odds_history(job)["entries"]
    assert entries[0] == {"line": None, "text": "before anything was read"}
    lines = {line.number: line.text for line in job.log.lines()}
    assert all(lines[e["line"]] == e["text"] for e in entries[1:])
    left_out = [text for n, text in lines.items() if n not in [e["line"] for e in entries]]
    assert [text.split()[0] for text in left_out] == ["unit:", "symptom:", "start:", "off", "dead", "on"]
    assert [e["line"] for e in entries[1:]] == sorted(e["line"] for e in entries[1:])


def test_a_reopened_job_has_the_same_series(
    read: tuple[Job, dict[str, Any]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing beside the log is needed: its prefixes are weighed anew, here with everything solved anew as well."""
    job, _ = read
    live = odds_history(job)
    monkeypatch.setattr(table, "_KEPT", OrderedDict())
    again = Job(tmp_path / "job", kit=read_kit(KIT.read_text(encoding="utf-8")), clock=FakeClock())
    again.first()
    assert len(again.record.points) == 1 < len(live["entries"])
    rebuilt = odds_history(again)
    assert rebuilt["entries"] == live["entries"]
    one, other = series(live), series(rebuilt)
    assert list(one) == list(other)
    for name, odds in one.items():
        np.testing.assert_allclose(other[name], odds, atol=1e-6, err_msg=name)  # solved to that, not to the last digit


def test_points_without_time_are_none_and_come_with_the_next_call(read: tuple[Job, dict[str, Any]], tmp_path: Path) -> None:
    """A page that cannot wait gets the last point, the number of those that are left, and the rest later."""
    job, _ = read
    again = Job(tmp_path / "job", kit=read_kit(KIT.read_text(encoding="utf-8")), clock=FakeClock())
    again.first()
    early = odds_history(again, within=0.0)
    count = len(early["entries"])
    assert early["left"] == count - 1
    assert early["nothing_wrong"][:-1] == [None] * (count - 1) and early["nothing_wrong"][-1] is not None
    assert f"{count - 1} earlier points" in early["text"]
    late = odds_history(again)
    assert late["left"] == 0 and None not in late["nothing_wrong"]


def test_a_struck_entry_has_no_point_and_a_corrected_one_its_right_value(new_job: Maker) -> None:
    """Odds are never subtracted: a struck line leaves the series as if it had never been typed."""
    job = dead(new_job())
    sure(job, "OL OL")
    before = series(odds_history(job))
    sure(job, "fuse OL r")
    assert abs(odds_history(job)["nothing_wrong"][-1] - before["nothing_wrong"][-1]) > 1e-3
    sure(job, "no")
    assert series(odds_history(job)) == before
    sure(job, "reservoir 68u c", "was 6.6m c")
    entries = odds_history(job)["entries"]
    assert entries[-1]["text"].endswith("put right: 6.6m c")


def test_the_text_names_the_entry_that_moved_the_heaviest_most(new_job: Maker) -> None:
    """A fuse read open convicts it."""
    job = dead(new_job())
    assert "Nothing was read yet" in odds_history(job)["text"]
    answer = sure(job, "OL OL", "fuse OL r")
    text = odds_history(job)["text"]
    assert answer["suspects"][0]["part"] == "fuse"
    assert f"line {answer['line']}, fuse OL r" in text and "Over 3 entries" in text


def test_nothing_is_drawn_before_anything_is_weighed(new_job: Maker) -> None:
    """Plain words instead of data."""
    history = odds_history(new_job(lines=THREE))
    assert history["entries"] == [] and history["suspects"] == [] and "Nothing is weighed yet" in history["text"]


def test_faults_that_come_and_go_and_new_parts_are_in_it(new_job: Maker) -> None:
    """Both ways of a fault are one series, and what a fitted part says is an entry like others: always the answer at the end."""
    lines = ("unit: radio, 230V 50Hz, class II, 25W", "symptom: dead sometimes", "start: linear 12V 1A", "off")
    job = dead(new_job(lines=lines))
    answer = sure(job, "OL OL", "bad: fuse OL r", "fit fuse")
    history = odds_history(job)
    assert [e["text"] for e in history["entries"][-2:]] == ["bad: fuse OL r", "fit fuse"]
    fuse = next(s["odds"] for s in history["suspects"] if (s["part"], s["way"]) == ("fuse", "open"))
    assert fuse[-2] > 0.3 > 0.1 > fuse[-1]
    assert history["nothing_wrong"][-1] == answer["nothing_wrong"] > history["nothing_wrong"][-2]
    np.testing.assert_allclose(np.sum(list(series(history).values()), axis=0), 1.0, atol=1e-9)


def test_the_lamp_of_now_does_not_change_what_was_said_then(read: tuple[Job, dict[str, Any]]) -> None:
    """Only what could be read next changes with it: no point is weighed anew, and the last one is still the answer."""
    job, _ = read
    before = series(odds_history(job))
    answer = sure(job, "off", "lamp 60")
    kept = len(job.record.points)
    after = odds_history(job)
    assert len(job.record.points) == kept and after["nothing_wrong"][-1] == answer["nothing_wrong"]
    assert list(series(after)) == list(before)
    for name, odds in series(after).items():
        assert odds[:-1] == before[name][:-1], name
        assert odds[-1] == pytest.approx(before[name][-1], abs=1e-4), name  # the same columns, solved from another start
