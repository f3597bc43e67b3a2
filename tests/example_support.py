"""The four shipped sheets on the judge's bench: their circuits, faults that a customer would see, and the technician who works from the sheet."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from bench import Bench, Fault
from halfsplit.circuit.model import Circuit
from halfsplit.jobs.kit import read_kit
from halfsplit.jobs.sheets import circuit_from_sheet
from halfsplit.jobs.work import Work
from job_support import KIT, FakeClock
from judge.spice import JudgeFailed
from judged import JudgedBoard, faults
from meter import NO_SLIPS, draw_meter
from robot import Habits, Record, Technician
from scenarios import said_of, seen_at
from tool import ObjectTool

EXAMPLES = Path(__file__).parents[1] / "examples"
OWN = ("dosing_controller", "bread_maker", "laminator", "stage_light_standby")
CLEAN = Habits(NO_SLIPS, 0.0, 0.0)  # the slips of the hand have a run of their own (tests/robot)


def sheet_bytes(name: str, symptom: str | None = None) -> bytes:
    """The sheet as shipped, or with the words of another customer."""
    text = (EXAMPLES / f"{name}.yaml").read_text(encoding="utf-8")
    if symptom is not None:
        text, count = re.subn(r"(?m)^symptom: .*$", f"symptom: {symptom}", text)
        assert count == 1
    return text.encode()


def circuit_of(name: str, symptom: str | None = None) -> Circuit:
    return circuit_from_sheet(sheet_bytes(name, symptom), name)


@dataclass(frozen=True)
class Brought:
    """A faulty unit as it is brought in. words: what its owner saw."""

    fault: Fault
    words: str
    seed: int


def brought_in(circuit: Circuit, seed: int, most: int = 10) -> tuple[Brought, ...]:
    """Faults that show outside, each on a unit of its own: every part once, in random order and with one way by lot, then
    the ways left over, until there are enough. What the judge cannot settle is left out.
    """
    rng = np.random.default_rng(seed)
    mixed = [tuple(fault) for fault in rng.permutation(np.array(faults(circuit)))]
    first = [next(f for f in mixed if f[0] == part) for part in dict.fromkeys(part for part, _ in mixed)]
    out: list[Brought] = []
    for part, way in (*first, *(f for f in mixed if f not in first)):
        fault, unit = (str(part), str(way)), int(rng.integers(1, 2**31 - 1))
        try:
            healthy, now = (seen_at(circuit, JudgedBoard(circuit, f, unit)) for f in (None, fault))
        except JudgeFailed:
            continue
        if words := said_of(healthy, now):
            out.append(Brought(fault, words, unit))
        if len(out) == most:
            break
    return tuple(out)


def opened(name: str, folder: Path, symptom: str | None = None) -> Work:
    """A fresh job begun from a shipped sheet, with the shipped bench kit."""
    folder.mkdir(parents=True, exist_ok=True)
    work = Work(folder / "-".join([name, *(symptom or "").split()]), kit=read_kit(KIT.read_text(encoding="utf-8")), clock=FakeClock())
    work.begin_from_sheet(sheet_bytes(name, symptom), name)
    work.first()
    return work


def play(work: Work, lines: Sequence[str]) -> dict[str, Any]:
    """Type these lines; each has to be taken. Returns the last answer."""
    answer: dict[str, Any] = {}
    for line in lines:
        answer = work.send(line)
        assert answer["ok"], f"{line}: {answer['refused']}"
    return answer


def repair(name: str, unit: Brought, folder: Path) -> Record:
    """The technician at work on this unit, with the sheet entered instead of three lines."""
    circuit, work = circuit_of(name, unit.words), opened(name, folder, unit.words)
    rng = np.random.default_rng([unit.seed, 1])
    bench = Bench(circuit, JudgedBoard(circuit, unit.fault, unit.seed))
    tool = ObjectTool(work.first, work.send, pass_time=work.clock.wait)
    return Technician(tool, bench, {}, fault=unit.fault, meter=draw_meter(rng), rng=rng, habits=CLEAN).work()
