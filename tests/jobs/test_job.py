"""The work loop as a technician meets it: what is taken, what is refused, and that the log is all there is."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from halfsplit.jobs.job import Job
from halfsplit.jobs.kit import read_kit
from job_support import KIT, THREE, FakeClock

Maker = Callable[..., Job]


def odds(job: Job) -> np.ndarray:
    assert job.advice is not None and job.advice.odds is not None
    return job.advice.odds


def test_three_lines_cost_at_most_120_keystrokes_and_give_a_card(new_job: Maker) -> None:
    """Unit, symptom and start; the first card says to pull the plug."""
    assert sum(len(line) + 1 for line in THREE) <= 120
    job = new_job(lines=THREE)
    assert job.advice is not None and job.advice.card["do"] == "off"


def test_ohms_are_refused_until_every_heavy_capacitor_was_read(new_job: Maker) -> None:
    """Off is never dead; the refusal names the capacitors, and nothing is logged."""
    job = new_job()
    before = len(job.log.lines())
    answer = job.send("fuse 0.2 r")
    assert not answer["ok"] and "not proven dead" in answer["refused"]
    card = answer["card"]
    assert card["do"].startswith("dead ") and card["caps"]
    assert len(job.log.lines()) == before
    assert not job.send("dead 9V " + " ".join(f"{c} 40V" for c in card["caps"]))["ok"]
    assert not job.send("dead " + " ".join(f"{c} 0.3V" for c in card["caps"]))["ok"]  # the meter has shown nothing yet
    assert len(job.log.lines()) == before
    dead(job)
    assert job.send("fuse 0.2 r")["ok"]


def dead(job: Job) -> None:
    assert job.advice is not None
    answer = job.send("dead 9V " + " ".join(f"{c} 0.3V" for c in job.advice.card["caps"]))
    assert answer["ok"], answer["refused"]


def test_the_proof_of_dead_lapses_after_half_an_hour_and_with_a_new_sitting(
    new_job: Maker, clock: FakeClock, tmp_path: Path
) -> None:
    """Expiry and reload both end it."""
    job = new_job()
    dead(job)
    clock.wait(31 * 60)
    assert "not proven dead" in (job.send("fuse 0.2 r")["refused"] or "")
    again = Job(tmp_path / "job", kit=read_kit(KIT.read_text(encoding="utf-8")), clock=clock)
    assert again.first()["state"]["power"] == "unknown"
    assert not again.send("fuse 0.2 r")["ok"]


def test_a_protector_is_never_bridged_or_left_out(new_job: Maker) -> None:
    """Refused by family, with no way round; also as a sheet line."""
    job = new_job()
    dead(job)
    for line in ("bridge fuse", "no fuse", "remove fuse"):
        answer = job.send(line)
        if line == "remove fuse":
            assert answer["ok"]  # out for its own test, and on the refit list
            refused = job.send("on")
            assert not refused["ok"] and "protector" in refused["refused"]
            assert job.send("refit fuse")["ok"]
        else:
            assert not answer["ok"], line


def test_switching_on_is_refused_with_a_leg_up(new_job: Maker) -> None:
    """What was lifted is on the refit list; the list has to be empty."""
    job = new_job()
    dead(job)
    assert job.send("lift regulator.gnd")["ok"]
    refused = job.send("on")
    assert not refused["ok"] and "regulator" in refused["refused"]
    assert job.send("refit regulator")["ok"]
    assert job.send("on")["ok"]
    assert not job.send("lift regulator.gnd")["ok"]


def test_bare_values_answer_the_round_and_are_logged_with_their_places(new_job: Maker) -> None:
    """The log can be read without the cards; a fold of the same log gives the same odds."""
    job = new_job()
    dead(job)
    assert job.advice is not None
    card = job.advice.card
    assert card["kind"] == "round" and len(card["probes"]) == 2
    answer = job.send("OL OL")
    assert answer["ok"], answer["refused"]
    texts = [line.text for line in job.log.lines()][-2:]
    assert all("OL r" in t and "0V" in t for t in texts)
    assert not job.standing.lost
    before = odds(job).copy()
    job.think(())
    np.testing.assert_allclose(odds(job), before, atol=1e-12)


def test_a_struck_entry_leaves_the_odds_as_if_it_had_never_been(new_job: Maker) -> None:
    """Rebuilt from the log, not subtracted."""
    job = new_job()
    dead(job)
    job.send("OL OL")
    before = odds(job).copy()
    assert job.send("fuse OL r")["ok"]
    assert np.abs(odds(job) - before).max() > 0.1
    assert job.send("no")["ok"]
    np.testing.assert_allclose(odds(job), before, atol=1e-12)


def test_a_corrected_entry_counts_with_its_right_value(new_job: Maker) -> None:
    """`was` replaces the value of the last reading."""
    right, wrong = new_job("right"), new_job("wrong")
    for job in (right, wrong):
        dead(job)
        job.send("OL OL")
    right.send("fuse 0.2 r")
    wrong.send("fuse 200k r")
    assert wrong.send("was 0.2")["ok"]
    np.testing.assert_allclose(odds(wrong), odds(right), atol=1e-12)


def test_naming_a_part_moves_nothing_that_was_logged(new_job: Maker) -> None:
    """`F1 fuse` renames the place; the odds stay the same to 1e-9."""
    plain, named = new_job("plain"), new_job("named")
    for job in (plain, named):
        dead(job)
        job.send("OL OL")
        job.send("fuse OL r")
    assert named.send("F7 fuse")["ok"]
    assert not named.standing.lost
    np.testing.assert_allclose(odds(named), odds(plain), rtol=1e-9, atol=1e-9)
    assert named.advice is not None and named.advice.suspects[0]["part"] == "F7"


def test_a_fuse_that_reads_open_is_convicted_only_after_what_may_have_opened_it_was_read(new_job: Maker) -> None:
    """An open fuse alone convicts nobody; with everything behind it as it should be the fuse leads, and nothing is cleared for power.
    Common practice: cold ohms of all that could have opened it come before a new one."""
    job = new_job()
    dead(job)
    job.send("OL OL")
    answer = job.send("fuse OL r")
    assert answer["card"]["kind"] == "round" and answer["suspects"][0]["odds"] < 0.5
    assert "fuse" not in [p for block in answer["cleared"] for p in block["parts"]]
    for _ in range(25):
        card = answer["card"]
        if card["kind"] == "end" or card.get("do") == "on":
            break
        if card["kind"] == "act":  # the proof of dead runs out meanwhile
            assert card["do"].startswith("dead"), card["do"]
            answer = job.send("dead 9V " + " ".join(f"{name} 0" for name in card["caps"]) + " 9V")
            assert answer["ok"], answer["refused"]
            continue
        line = []
        for probe in card["probes"]:
            low, high = probe["healthy"]
            healthy = low if low == "OL" or high == "OL" else (low * high) ** 0.5 if low > 0 else high / 2
            line.append(
                "OL"
                if probe["where"] in ("fuse", "L to N") or healthy == "OL"
                else f"{healthy:.10g}"
                if probe["function"] != "c"
                else f"{healthy * 1e6:.8g}u"
            )
        answer = job.send(" ".join(line))
        assert answer["ok"], answer["refused"]
    assert answer["suspects"][0]["part"] == "fuse" and answer["suspects"][0]["odds"] > 0.5
    bridge = next(s["odds"] for s in [*answer["suspects"], {"part": "bridge", "odds": 0.0}] if s["part"] == "bridge")
    assert bridge < 0.05
    if card["kind"] == "end":
        assert card["cause"]["status"] == "cause open" and card["power"] == "not cleared for power"


def test_nothing_is_lost_or_logged_by_bad_input(new_job: Maker) -> None:
    """Unknown net with the nearest name, unit nonsense, an unknown word: clear text, log unchanged."""
    job = new_job()
    dead(job)
    before = [line.text for line in job.log.lines()]
    for line, expected in (("rwa 12", "raw"), ("fuse 12F r", ""), ("frobnicate", ""), ("dead", "")):
        answer = job.send(line)
        assert not answer["ok"] and expected in answer["refused"], line
    assert [line.text for line in job.log.lines()] == before


@pytest.mark.parametrize("unit", ["microwave oven, 230V 50Hz, class I, 800W", "defibrillator, 230V 50Hz, class I, 100W"])
def test_equipment_that_the_trade_refuses_is_refused_at_the_first_line(tmp_path: Path, clock: FakeClock, unit: str) -> None:
    """By its name, before anything else."""
    job = Job(tmp_path / "job", clock=clock)
    job.first()
    answer = job.send(f"unit: {unit}")
    assert not answer["ok"] and not job.log.lines()


def test_answers_are_json(new_job: Maker) -> None:
    """Every answer can be written as one line of JSON without NaN or infinity."""
    job = new_job()
    dead(job)
    text = json.dumps(job.send("OL OL"), allow_nan=False)
    assert "\n" not in text


def test_without_isolation_no_mains_side_live_reading_is_ever_offered(tmp_path: Path, clock: FakeClock) -> None:
    """No isolation transformer removes the live hot side; the job goes on cold."""
    job = Job(tmp_path / "job", clock=clock)
    job.first()
    for line in (*THREE, "off"):
        job.send(line)
    dead(job)
    answer = job.send("OL OL")
    seen = 0
    for _ in range(12):
        card = answer["card"]
        if card["kind"] != "round":
            break
        seen += 1
        assert card["hazard"] in ("H0", "H1", "H2")
        values = []
        for probe in card["probes"]:
            low, high = probe["healthy"]
            values.append(
                "OL"
                if low == "OL" or high == "OL"
                else f"{(low * high) ** 0.5 if low > 0 else high / 2:.10g}" + ("F" if probe["function"] == "c" else "")
            )
        answer = job.send(" ".join(values))
    assert seen > 0


def test_while_nobody_said_where_black_is_it_is_on_the_0_v_of_that_side(tmp_path: Path) -> None:
    """`out 24.1` on an isolated rail is no reading against the mains side; what was said holds, and is shown beside the place."""
    job = Job(tmp_path / "adapter", kit=read_kit(KIT.read_text(encoding="utf-8")), clock=FakeClock())
    for line in ("unit: adapter, 230V 50Hz, class II, 40W", "symptom: dead", "start: flyback with controller; out 24V 1.5A", "on"):
        job.send(line)
    found = job.send("out 24.1")["found"][-1]
    assert found["where"] == "out" and found["verdict"] == "fits"
    assert job.send("bulk 320")["found"][-1]["where"] == "bulk"
    job.send("black hot-")
    assert job.send("out 0.7")["found"][-1]["where"] == "out to hot-"
