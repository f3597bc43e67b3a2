"""Output transistors and loads at terminals that are off while the set is on: part of the condition; any other part keeps the set off."""

from __future__ import annotations

from pathlib import Path

from halfsplit.jobs.kit import read_kit
from halfsplit.jobs.work import Work
from job_support import KIT, FakeClock, sure

SHEET = """\
unit: amplifier, 120V 60Hz, class I, 20W
symptom: no sound
ways:
- L F1(T1A) live
- +17 R1(1k) base R2(220R) em
- em R3(47R 10W) 0V
- +17 LD1(load terminals 12V 0.1A) 0V
parts:
- T1 transformer 120V 12V 20VA, p1=live p2=N s1=sa s2=sb
- BR1 bridge 2A, ~=sa ~=sb +=+17 -=0V
- C1 2200u 35V, +=+17 -=0V
- Q1 npn output 60V 5A, b=base c=+17 e=em
cold: 0V, +17, base, em, sa, sb
"""
DEAD = "dead 9V C1 0.4V"


def started(folder: Path) -> Work:
    work = Work(folder / "job", kit=read_kit(KIT.read_text(encoding="utf-8")), clock=FakeClock())
    work.begin_from_sheet(SHEET.encode(), "amplifier.yaml")
    work.first()
    sure(work, "off", DEAD, "see T1, BR1", "L to 0V OL r", "N to 0V OL r")
    return work


def test_the_set_is_switched_on_with_its_output_out_and_solved_so(tmp_path: Path) -> None:
    """By hand: with Q1 in, 12 V or so stand at its emitter; with it out only what comes through R1 and R2: 16 V x 47/1267 = 0.6 V."""
    work = started(tmp_path)
    answer = sure(work, "remove Q1", "on", "L to N 120ac", "em 0.62")
    assert answer["state"]["refit"] == ["Q1"]
    assert answer["found"][0]["verdict"] == "fits"
    assert work.standing.acts.refs == () and work.standing.unplugged == {"Q1"}


def test_back_in_it_is_forgotten(tmp_path: Path) -> None:
    work = started(tmp_path)
    assert sure(work, "remove Q1", "unplug LD1")["state"]["refit"] == ["Q1", "LD1"]
    assert sure(work, "refit Q1", "plug LD1")["state"]["refit"] == []
    assert work.standing.pulled == () and work.standing.unplugged == frozenset()


def test_any_other_part_out_keeps_the_set_off(tmp_path: Path) -> None:
    work = started(tmp_path)
    sure(work, "remove Q1", "remove R2")
    refused = work.send("on")
    assert not refused["ok"] and "R2" in refused["refused"]
    sure(work, "refit R2", "remove F1")
    refused = work.send("on")
    assert not refused["ok"] and "protector" in refused["refused"]
