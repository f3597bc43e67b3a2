"""One job for several devices: what is taken once, who may move the power, what happens when something goes wrong."""

from __future__ import annotations

import threading
import time
from pathlib import Path
from typing import Any

import pytest

from bench_support import FUSED, HERE, THERE, Hand, Onlooker, begin, desk_on, settled, texts, the_kit, until
from halfsplit.bench.desk import Changed, Desk, Held, OpenJob, stamp_of
from halfsplit.errors import InputError, Refused, SheetError
from halfsplit.jobs.job import Job

OFF = ("off", "dead 9V mains 0.3V")


@pytest.fixture
def holding(job: OpenJob) -> Hand:
    """The first device to come holds the probes."""
    Onlooker(job, HERE, "bench tablet")
    settled(job)
    return Hand(job)


def test_the_first_device_to_come_holds_the_probes(job: OpenJob) -> None:
    """The second one looks on; both names and whether the holder is there are shown."""
    Onlooker(job, HERE, "bench tablet")
    Onlooker(job, THERE, "laptop")
    assert settled(job)["holder"] == {"device": HERE, "name": "bench tablet", "there": True}


def test_a_line_is_acknowledged_on_the_disk_and_then_weighed(holding: Hand, folder: Path) -> None:
    """What it means comes with the view, not with the acknowledgement."""
    assert holding.enter("off").items() >= {"taken": True, "again": False, "refused": None}.items()
    assert texts(folder)[-1] == "off"
    until(lambda: holding.job.view()["answer"]["state"]["power"] == "unplugged", "weighed by the worker")


def test_a_line_sent_again_counts_once(holding: Hand, folder: Path) -> None:
    """The second answer says so; the stamp of a message sent again is old by then, and that is no hindrance."""
    stamp = settled(holding.job)["stamp"]
    assert not holding.enter("off", stamp, "k3f9a27c")["again"]
    assert holding.enter("off", stamp, "k3f9a27c").items() >= {"taken": True, "again": True, "refused": None}.items()
    assert texts(folder).count("off") == 1


def test_a_line_sent_again_after_the_server_was_started_anew_counts_once(folder: Path, holding: Hand) -> None:
    """The mark is in the log, so nothing but the log need survive; it may be the first thing that comes."""
    stamp = settled(holding.job)["stamp"]
    holding.enter("off", stamp, "k3f9a27c")
    desk = desk_on(folder)
    assert desk.job("1-night-light").enter("off", "k3f9a27c", stamp, HERE)["again"]
    assert texts(folder).count("off") == 1
    desk.close()


def test_a_line_that_comes_before_the_job_is_open_is_an_ordinary_one(folder: Path) -> None:
    """It waits for the job and is then held to the card on show."""
    desk = desk_on(folder)
    job = desk.job(begin(folder))
    with pytest.raises(Changed):
        job.enter("off", "k3f9a27c", "0" * 16, HERE)
    assert "off" not in texts(folder)
    desk.close()


@pytest.mark.parametrize("stamp", ["", "0123456789abcdef"])
def test_a_line_for_another_card_is_not_taken(holding: Hand, folder: Path, stamp: str) -> None:
    """What was typed for a card that is gone, or for none, would be put down to the wrong place."""
    before = texts(folder)
    with pytest.raises(Changed, match="look at it"):
        holding.enter("off", stamp)
    assert texts(folder) == before


def test_the_stamp_changes_with_what_a_bare_value_would_mean() -> None:
    """Another place, black lead, function or capacitor, or one line more; not the words on the card."""
    card = {"kind": "round", "probes": [{"point": "a", "red": "a", "black": "0V", "function": "r"}], "why": "x"}
    base = stamp_of(5, card)
    assert stamp_of(5, {**card, "why": "y"}) == base
    others = [stamp_of(6, card), stamp_of(5, {**card, "kind": "act"}), stamp_of(5, {**card, "caps": ["C1"]})]
    for key in ("point", "red", "black", "function", "alone"):
        others.append(stamp_of(5, {**card, "probes": [{**card["probes"][0], key: "z"}]}))
    assert base not in others and len(set(others)) == len(others)


def test_what_another_program_appended_is_seen_before_a_line_is_taken(holding: Hand, folder: Path) -> None:
    """Someone types `on` in a terminal: ohms for the card that the page still shows are not taken, and the page shows the new state."""
    holding.sure(*OFF)
    stamp = settled(holding.job)["stamp"]
    terminal = Job(folder / "1-night-light.job", kit=the_kit())
    terminal.first()
    assert terminal.send("on")["ok"]
    holding.job.publish()  # somebody looks at the list meanwhile: that alone must not make the old card good
    with pytest.raises(Changed):
        holding.enter("R1 1k r", stamp)
    assert texts(folder)[-1] == "on"
    view = settled(holding.job)
    assert view["answer"]["state"]["power"] == "on" and view["log"][-1]["text"] == "on"


POWER = ("off", "on", "dead 9V mains 0.3V", "meter 9V", "lamp 60", "lamp none", "bench none", "yes")


@pytest.mark.parametrize("line", POWER)
def test_only_the_holder_moves_the_power(holding: Hand, folder: Path, line: str) -> None:
    """From another device it is refused, with who holds the probes; nothing is logged."""
    holding.sure("off")
    before = texts(folder)
    with pytest.raises(Held, match="bench tablet"):
        Hand(holding.job, THERE).enter(line)
    assert texts(folder) == before


def test_readings_and_looks_come_from_any_device(holding: Hand, folder: Path) -> None:
    """Two people at one bench: one at the meter, one at the set."""
    holding.sure(*OFF)
    Hand(holding.job, THERE).sure("R1 1k r", "see nothing")
    assert texts(folder)[-2:] == ["R1 1k r", "see nothing"]


def test_only_the_holder_strikes_what_was_said_of_the_power(holding: Hand, folder: Path) -> None:
    """Neither `off` itself nor, by striking the strike, a proof of dead that the holder took back; a reading anybody may strike."""
    holding.sure(*OFF)
    dead = len(texts(folder))
    other = Hand(holding.job, THERE)
    for line in ("no", f"no {dead}", f"no {dead - 1}"):
        with pytest.raises(Held):
            other.enter(line)
    holding.sure(f"no {dead}")
    for line in (f"no {dead + 1}",):
        with pytest.raises(Held):
            other.enter(line)
    assert settled(holding.job)["answer"]["state"]["power"] != "dead"
    holding.sure("off", "dead 9V mains 0.3V")
    other.sure("R1 1k r", "no")
    assert texts(folder)[-1] == "no"


def test_the_probes_are_handed_over(holding: Hand) -> None:
    """Only the holder gives them away; then whoever takes them has them, and what was proven stands."""
    holding.sure(*OFF)
    job = holding.job
    with pytest.raises(Held):
        job.hand_over(THERE)
    job.hand_over(HERE)
    Onlooker(job, "cccccccc").leave()  # a page that is loaded anew asks for nothing
    assert settled(job)["holder"] is None
    with pytest.raises(Held, match="Hold the probes"):
        holding.enter("on")
    job.hold(THERE, "laptop")
    assert settled(job)["holder"]["device"] == THERE
    assert settled(job)["answer"]["state"]["power"] == "dead"
    Hand(job, THERE).sure("off")


def test_the_probes_are_not_taken_from_a_device_that_is_there(holding: Hand) -> None:
    """It has to hand them over itself."""
    with pytest.raises(Held, match="Hand over"):
        holding.job.hold(THERE, "laptop")
    assert settled(holding.job)["holder"]["device"] == HERE


def test_a_second_link_of_the_holder_keeps_it_there(job: OpenJob) -> None:
    """One of its two pages was closed; the other one is still open."""
    first, _ = Onlooker(job, HERE), Onlooker(job, HERE)
    first.leave()
    with pytest.raises(Held):
        job.hold(THERE, "laptop")


def test_ohms_wait_while_the_link_of_who_holds_the_probes_is_lost(job: OpenJob, folder: Path) -> None:
    """Another device may still look, but what wants a dead set is refused there until it holds the probes itself."""
    tablet, hand = Onlooker(job, HERE), Hand(job)
    hand.sure(*OFF)
    tablet.leave()
    before = texts(folder)
    with pytest.raises(Held, match="nobody knows how the set stands"):
        Hand(job, THERE).enter("R1 1k r")
    assert texts(folder) == before
    Hand(job, THERE).sure("see nothing")


def test_taken_from_a_lost_device_nobody_knows_how_the_set_stands(job: OpenJob, folder: Path) -> None:
    """The proof of dead is void at once: ohms for the card of before are not taken, though nothing was weighed yet."""
    tablet, hand = Onlooker(job, HERE), Hand(job)
    hand.sure(*OFF)
    stamp = settled(job)["stamp"]
    tablet.leave()
    assert settled(job)["holder"]["there"] is False
    job._worker = _Idle()  # type: ignore[assignment]  # the worker is busy with another job
    job.hold(THERE, "laptop")
    assert job.view()["working"]  # the old state never stands beside the new holder as if it were settled
    before = texts(folder)
    with pytest.raises(Changed):
        job.enter("R1 1k r", "cccccccc", stamp, THERE)
    assert texts(folder) == before
    assert settled(job)["answer"]["state"]["power"] == "unknown"
    refused = job.enter("R1 1k r", "cccccccd", settled(job)["stamp"], THERE)
    assert not refused["taken"] and "not proven dead" in refused["refused"]


class _Idle:
    """A worker that never comes to it."""

    def submit(self, *_: Any) -> None:
        return


def test_what_is_refused_is_not_logged_and_the_view_says_why(holding: Hand, folder: Path) -> None:
    """A word nobody knows, and ohms on a set that isn't dead."""
    before = texts(folder)
    for line in ("gibberish", "R1 1k r"):
        said = holding.enter(line)
        assert not said["taken"] and said["refused"] == settled(holding.job)["answer"]["refused"]
    assert texts(folder) == before


@pytest.mark.parametrize("broken", ["_advise", "_said"])
def test_an_error_of_the_engine_loses_nothing_and_can_be_struck(
    holding: Hand, folder: Path, monkeypatch: pytest.MonkeyPatch, broken: str
) -> None:
    """The line is kept, the view says so and shows no card of before, and `no` brings the job back."""
    holding.sure(*OFF)

    def burst(*_: Any, **__: Any) -> Any:
        raise ZeroDivisionError("in the solver")

    with monkeypatch.context() as patch:
        patch.setattr(Job, broken, burst)
        assert holding.enter("R1 1k r")["taken"]
        view = settled(holding.job)
        assert "ZeroDivisionError" in view["failed"] and "It is kept" in view["failed"]
        assert view["log"][-1]["text"] == "R1 1k r" and view["answer"]["card"]["type"] == "no"
        if broken == "_advise":
            with pytest.raises(Changed):
                holding.enter("R1 1k r", "0" * 16)
    holding.sure("no")
    view = settled(holding.job)
    assert view["failed"] is None and view["log"][-2]["struck"] and view["answer"]["card"].get("do") != "no"
    assert texts(folder)[-2:] == ["R1 1k r", "no"]


def test_a_line_that_could_not_be_weighed_can_be_struck_after_a_new_start(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The job opens all the same, with nothing on show but that."""
    name = begin(folder, "1-night-light", "off", "see nothing")
    whole = Job._advise

    def burst(self: Job, *rest: Any) -> Any:
        if any(x.text == "see nothing" for x in self.log.lines()) and not any(x.text == "no" for x in self.log.lines()):
            raise ZeroDivisionError
        return whole(self, *rest)

    monkeypatch.setattr(Job, "_advise", burst)
    desk = desk_on(folder)
    hand = Hand(desk.job(name))
    assert "ZeroDivisionError" in settled(hand.job)["failed"]
    hand.sure("no")
    assert settled(hand.job)["failed"] is None and settled(hand.job)["answer"]["card"]["kind"] == "act"
    desk.close()


def test_an_error_met_by_the_next_line_instead_of_the_worker_is_said_as_well(holding: Hand, monkeypatch: pytest.MonkeyPatch) -> None:
    """The worker was busy with another job, so the second line has the first one weighed; the person gets an answer, not an error."""
    stamp = settled(holding.job)["stamp"]
    worker, holding.job._worker = holding.job._worker, _Idle()  # type: ignore[assignment]
    holding.enter("off", stamp)

    def burst(*_: Any) -> Any:
        raise ZeroDivisionError

    with monkeypatch.context() as patch:
        patch.setattr(Job, "_advise", burst)
        with pytest.raises(Changed):
            holding.enter("on", stamp)
    holding.job._worker = worker
    assert "ZeroDivisionError" in settled(holding.job)["failed"]


def test_two_lines_for_the_same_card_are_never_both_taken(holding: Hand, folder: Path) -> None:
    """Two devices press Enter at once, ten times over: one is taken, the other is told to look again."""
    for turn in range(10):
        stamp, results = settled(holding.job)["stamp"], []
        ready = threading.Barrier(2)

        def press(device: str, key: str, stamp: str = stamp, results: list[bool] = results, ready: threading.Barrier = ready) -> None:
            ready.wait()
            try:
                results.append(holding.job.enter("see nothing", key, stamp, device)["taken"])
            except Changed:
                results.append(False)

        threads = [threading.Thread(target=press, args=(d, f"{d[:4]}turn{turn}")) for d in (HERE, THERE)]
        for t in threads:
            t.start()
        for t in threads:
            t.join()
        assert sorted(results) == [False, True]
    assert texts(folder).count("see nothing") == 10


def test_who_joins_while_a_line_is_weighed_cannot_answer_the_old_card(holding: Hand, folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A tablet that reconnects is shown the log with the new line beside the card of before; what it sends against that is not taken."""
    holding.sure(*OFF)
    settled(holding.job)
    inside, go_on = threading.Event(), threading.Event()
    whole = Job._advise

    def slow(self: Job, *rest: Any) -> Any:
        inside.set()
        go_on.wait(10)
        return whole(self, *rest)

    monkeypatch.setattr(Job, "_advise", slow)
    holding.enter("off")
    assert inside.wait(10)
    begun = time.monotonic()
    late = Onlooker(holding.job, THERE)
    holding.job.publish()
    assert time.monotonic() - begun < 5.0  # neither has to wait for what is weighed
    seen = late.told[-1][1]
    monkeypatch.undo()
    go_on.set()
    before = texts(folder)
    with pytest.raises(Changed):
        holding.job.enter("see nothing", "cccccccc", seen["stamp"], THERE)
    assert texts(folder) == before


def test_the_view_never_goes_back(holding: Hand) -> None:
    """However many come and go while lines are entered, the versions that a device is shown only grow."""
    watcher = Onlooker(holding.job, THERE)

    def come_and_go() -> None:
        for _ in range(20):
            Onlooker(holding.job, "cccccccc").leave()

    threads = [threading.Thread(target=come_and_go) for _ in range(3)]
    for t in threads:
        t.start()
    holding.sure("off", "see nothing", "off")
    for t in threads:
        t.join()
    settled(holding.job)
    versions = [data["version"] for event, data in watcher.told if event == "view"]
    assert versions == sorted(versions) and len(set(versions)) == len(versions) > 120


def test_the_sheet_is_edited_by_the_holder_and_once(desk: Desk, folder: Path) -> None:
    """As a whole; the same message again adds nothing."""
    job = desk.job(begin(folder, sheet=FUSED))
    Onlooker(job, HERE)
    new = FUSED.replace("2k2", "4k7")
    with pytest.raises(Held):
        job.edit_sheet(new, "k3f9a27c", THERE)
    assert job.edit_sheet(new, "k3f9a27c", HERE) == 2
    assert job.edit_sheet(new, "k3f9a27c", HERE) == 0
    assert settled(job)["log"][-1]["text"] == "way: mid R2(4k7) N"
    before = texts(folder)
    with pytest.raises(Refused):
        job.edit_sheet(new.replace("L F1(T1A) mid", "L").replace("mid R2", "L R2"), "k3f9a27d", HERE)
    with pytest.raises(SheetError):
        job.edit_sheet(new.replace("ways:", "wyas:"), "k3f9a27e", HERE)
    assert texts(folder) == before


def test_a_damaged_log_is_said_and_kept(desk: Desk, folder: Path) -> None:
    """The view names file and line; a line sent there gets the same words."""
    (folder / "2-x.job").write_bytes(b"2025-03-04T10:15:30.120+01:00 7 off\n")
    job = desk.job("2-x")
    with pytest.raises(InputError, match=r"2-x\.job:1"):
        Hand(job).enter("off", "0" * 16)
    assert "2-x.job:1" in job.view()["failed"]


def test_the_desk_keeps_only_so_many_jobs_open_and_those_that_are_looked_at(folder: Path) -> None:
    """The one not looked at for longest makes room; one with an open link stays."""
    desk = Desk(desk_on(folder).shelf, the_kit(), most=2)
    names = [begin(folder, f"{i}-x") for i in range(1, 4)]
    first = desk.job(names[0])
    Onlooker(first, HERE)
    second = desk.job(names[1])
    desk.job(names[2])
    assert desk.job(names[0]) is first and desk.job(names[1]) is not second
    desk.close()
