"""The robot technician at the page, on drawn boards with one slip each: by keys only and by taps only, with the command line's results."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from perf.isolation.case import SPREAD
from perf.isolation.fingers import SORTS, Planned, PlannedHands
from perf.isolation.kept import KeptBoard

from bench import Bench
from halfsplit.jobs.kit import read_kit
from halfsplit.jobs.work import Work
from judge.fitted import fault_list
from meter import NO_SLIPS, draw_meter
from page_tool import KIT, PageTool, serving
from robot import Habits, Record, Technician
from scenarios import KINDS, Scenario, as_it_comes_in, draw
from tool import BenchTime, ObjectTool, Tool

BOARDS, SEED = 20, 31
DROPPER, FLYBACK, LINEAR, CHAIN = KINDS
TURN = (DROPPER, LINEAR, FLYBACK, CHAIN, LINEAR)  # five, so that each kind comes up by keys and by taps; flybacks take longest


@dataclass(frozen=True)
class Drawn:
    """A board, and where the answers of its simulator are kept for both runs."""

    scenario: Scenario
    memory: Path

    def board(self, circuit: Any, fault: Any, seed: int) -> KeptBoard:
        return KeptBoard(circuit, [] if fault is None else [(fault, None)], seed, SPREAD, self.memory)


def drawn(index: int, memory: Path) -> Drawn:
    """Board number so-and-so of this test."""
    maker = Drawn(None, memory)  # type: ignore[arg-type]
    return Drawn(draw(index, SEED, maker.board, fault_list, TURN), memory)


def work(case: Drawn, tool: Tool) -> Record:
    """One job; the same slip at the same reading, whatever the tool."""
    s = case.scenario
    rng = np.random.default_rng([SEED, s.index, 1])
    circuit = s.circuit()
    bench = Bench(circuit, as_it_comes_in(circuit, lambda: case.board(circuit, s.fault, s.seed)))
    technician = Technician(tool, bench, s.three, fault=s.fault, meter=draw_meter(rng), rng=rng, habits=Habits(NO_SLIPS, 0.0, 0.0))
    plan = Planned(SORTS[int(rng.integers(len(SORTS)))], int(rng.integers(4)))
    technician.hands = PlannedHands(bench, technician.clock, technician.hands.meter, rng, plan)
    return technician.work()


def by_line(case: Drawn, folder: Path) -> Record:
    """The same job with the command line's loop."""
    clock = BenchTime()
    job = Work(folder / "line.job", kit=read_kit(KIT.read_text(encoding="utf-8")), clock=clock)
    return work(case, ObjectTool(job.first, job.send, pass_time=clock.wait))


@pytest.mark.parametrize("index", range(BOARDS))
def test_the_page_leads_to_what_the_command_line_leads_to(index: int, tmp_path: Path, pages: Any) -> None:
    """Every other board by keys only, the others by taps only: the same lines, the same end, no violation."""
    case = drawn(index, tmp_path / "memory")
    line = by_line(case, tmp_path)
    clock = BenchTime()
    touch = bool(index % 2)
    with serving(tmp_path / "jobs", clock) as (address, desk):
        job = desk.shelf.begin("robot")
        page = pages.open(has_touch=touch)
        shown = work(case, PageTool(page, address, desk, job, touch=touch, pass_time=clock.wait))
        pages.contexts.pop().close()
    assert shown.violations == ()
    assert shown.lines == line.lines
    assert (shown.ended, shown.parts) == (line.ended, line.parts)
