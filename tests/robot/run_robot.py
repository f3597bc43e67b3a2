"""Runs the robot technician over many boards: `python tests/robot/run_robot.py 200 --out FOLDER`. Seeded and resumable.

Every board goes to the technician with the tool and to his half-splitting rival. One CSV line a board, written as it is finished;
a second run with the same folder and seed goes on where the first one stopped. The markdown table is made from the CSV.
"""

from __future__ import annotations

import argparse
import csv
import multiprocessing
import os
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
KIT = HERE.parents[1] / "examples" / "bench-kit.yaml"
sys.path[:0] = [p for p in (str(HERE), str(HERE.parents[1] / "src")) if p not in sys.path]

import numpy as np  # noqa: E402

from bench import Bench, Fault  # noqa: E402
from groups import Groups  # noqa: E402
from halfsplitting import Finding, HalfSplitter  # noqa: E402
from meter import Slips, draw_meter  # noqa: E402
from robot import Habits, Record, Technician  # noqa: E402
from scenarios import BoardMaker, FaultLister, Scenario, as_it_comes_in, draw, draw_set  # noqa: E402
from table import Row, markdown  # noqa: E402
from tool import BenchTime, ObjectTool, ProcessTool, Tool  # noqa: E402
from verdicts import judge_finding, judge_record  # noqa: E402

ToolMaker = Callable[[Path], Tool]


@dataclass(frozen=True)
class Plan:
    """What one batch is: seed, folder, how the tool is reached, how clumsy the hands are."""

    seed: int
    out: Path
    tool: str = "process"
    slips: float = 1.0

    @property
    def habits(self) -> Habits:
        s, base = self.slips, Slips()
        return Habits(Slips(base.no_contact * s, base.prefix * s, base.swapped * s, base.neighbour * s))


def the_judge() -> tuple[BoardMaker, FaultLister]:
    """The simulated bench."""
    import judged

    return judged.make, judged.faults


def process_tool(folder: Path) -> Tool:
    """`halfsplit work JOB --json` as its user starts it."""
    start = "from halfsplit.cli.main import main; main()"
    paths = os.environ | {"PYTHONPATH": str(HERE.parents[1] / "src")}
    return ProcessTool([sys.executable, "-c", start, "work", str(folder / "job"), "--json", "--kit", str(KIT)], cwd=str(folder), env=paths)


def object_tool(folder: Path) -> Tool:
    """The same without a process, for speed."""
    from halfsplit.jobs.kit import read_kit
    from halfsplit.jobs.work import Work

    clock = BenchTime()
    work = Work(folder / "job", kit=read_kit(KIT.read_text(encoding="utf-8")), clock=clock)
    return ObjectTool(work.first, work.send, pass_time=clock.wait)


def no_tool(folder: Path) -> Tool:
    """Nobody answers: only the rival works; to try the bench itself."""
    return ObjectTool(lambda: {"card": {"kind": "end", "verdict": "no reading helps"}}, lambda line: {})


TOOLS: dict[str, ToolMaker] = {"process": process_tool, "object": object_tool, "none": no_tool}


def run_one(index: int, plan: Plan, make: BoardMaker, faults: FaultLister, open_tool: ToolMaker) -> Row:
    """One board for both technicians. A failure of the judge leaves the board out and is said in its row."""
    started = time.monotonic()
    drawn = draw_set(index, plan.seed)
    row = Row(index=index, kind=drawn.kind, start=drawn.start, mains=f"{drawn.unit.volts:g}")
    try:
        scenario = draw(index, plan.seed, make, faults)
        row = _with_scenario(row, scenario)
        group = Groups(scenario.circuit(), make, faults, plan.out / "tables").parts(scenario.fault)
        record = with_tool(scenario, plan, make, open_tool)
        rival = without_tool(scenario, plan, make)
    except Exception as failed:  # noqa: BLE001 - only the judge's own failure may leave a board out
        if type(failed).__name__ != "JudgeFailed":
            row.error = "".join(traceback.format_exception(failed))[-1500:]
        row.judge_failed = str(failed)[:300] if not row.error else ""
        row.seconds = time.monotonic() - started
        return row
    row = _with_results(row, scenario.fault, group, record, rival)
    row.seconds = time.monotonic() - started
    return row


def _with_scenario(row: Row, scenario: Scenario) -> Row:
    row.symptom, row.seed = scenario.symptom, scenario.seed
    row.part, row.way = scenario.fault or ("", "nothing wrong")
    return row


def with_tool(scenario: Scenario, plan: Plan, make: BoardMaker, open_tool: ToolMaker) -> Record:
    """The technician who obeys the cards."""
    rng = np.random.default_rng([plan.seed, scenario.index, 1])
    circuit = scenario.circuit()
    bench = Bench(circuit, as_it_comes_in(circuit, lambda: make(circuit, scenario.fault, scenario.seed)))
    with tempfile.TemporaryDirectory(prefix="robot") as name:
        tool = open_tool(Path(name))
        try:
            return Technician(
                tool, bench, scenario.three, fault=scenario.fault, meter=draw_meter(rng), rng=rng, habits=plan.habits,
                sign=sign_of(scenario, rng)).work()
        finally:
            tool.close()


def sign_of(scenario: Scenario, rng: np.random.Generator) -> str | None:
    """What the failed part looks like, by its family's own odds; mostly like nothing."""
    from halfsplit.parts import FAMILIES

    if scenario.fault is None:
        return None
    part = scenario.circuit().part(scenario.fault[0])
    looks: dict[str, float] = next((dict(w.looks) for w in FAMILIES[part.family].ways if w.name == scenario.fault[1]), {})
    return next((sign for sign, odds in looks.items() if rng.random() < odds), None)


def without_tool(scenario: Scenario, plan: Plan, make: BoardMaker) -> Finding:
    """The rival on a fresh copy of the same board."""
    rng = np.random.default_rng([plan.seed, scenario.index, 2])
    circuit = scenario.circuit()
    bench = Bench(circuit, as_it_comes_in(circuit, lambda: make(circuit, scenario.fault, scenario.seed)))
    sheet = Bench(circuit, make(circuit, None, scenario.seed + 1))
    return HalfSplitter(
        bench, sheet, draw_meter(rng), rng, plan.habits.slips, complaint=scenario.symptom != "works now").work()


def _with_results(row: Row, fault: Fault | None, group: frozenset[str], record: Record, rival: Finding) -> Row:
    said, other = judge_record(record, fault, group), judge_finding(rival, fault)
    row.group, row.distinguishable = " ".join(sorted(group)), len(group) == 1
    row.ended, row.named = record.ended[:400], " ".join(record.parts)
    row.right, row.in_group, row.in_three = said.right, said.in_group, said.in_three
    row.no_answer, row.wrong = said.no_answer, said.wrong
    row.minutes, row.readings, row.live_hot = record.clock.minutes, record.clock.readings, record.clock.live_hot
    row.keystrokes, row.doubts = record.clock.keystrokes, record.doubts
    row.violations, row.unforeseen = " | ".join(record.violations), " | ".join(record.unforeseen)
    row.violation_count, row.slips = len(record.violations), len(record.slips)
    row.refusals, row.lines = " | ".join(record.refusals)[:1000], " | ".join(record.lines)[:2000]
    row.half_minutes, row.half_right, row.half_wrong = rival.clock.minutes, other.right, other.wrong
    row.half_readings, row.half_live_hot = rival.clock.readings, rival.clock.live_hot
    return row


# --- the batch -----------------------------------------------------------------------------------------------------------


def _job(task: tuple[int, Plan]) -> Row:
    index, plan = task
    make, faults = the_judge()
    return run_one(index, plan, make, faults, TOOLS[plan.tool])


def done_already(file: Path) -> list[Row]:
    """Rows of an earlier run; a half-written last line is dropped."""
    if not file.exists():
        return []
    with file.open(newline="", encoding="utf-8") as stream:
        return [r for r in (Row.from_text(line) for line in csv.DictReader(stream)) if r is not None]


def append(file: Path, rows: Iterable[Row], *, fresh: bool) -> None:
    with file.open("w" if fresh else "a", newline="", encoding="utf-8") as stream:
        writer = csv.DictWriter(stream, [f.name for f in fields(Row)])
        if fresh:
            writer.writeheader()
        writer.writerows(asdict(r) for r in rows)


def run_batch(count: int, plan: Plan, processes: int = 2, job: Callable[[tuple[int, Plan]], Row] = _job) -> list[Row]:
    """Boards 0..count-1 that are not in the CSV yet, two at a time; returns all rows, in order."""
    plan.out.mkdir(parents=True, exist_ok=True)
    file = plan.out / f"robot-{plan.seed}.csv"
    rows = done_already(file)
    append(file, rows, fresh=True)
    tasks = [(i, plan) for i in range(count) if i not in {r.index for r in rows}]
    pool = multiprocessing.Pool(processes) if processes > 1 and len(tasks) > 1 else None
    try:
        results = pool.imap_unordered(job, tasks) if pool else map(job, tasks)
        for row in results:
            append(file, [row], fresh=False)
            rows.append(row)
    finally:
        if pool:
            pool.terminate()
    rows = sorted(rows, key=lambda r: r.index)
    (plan.out / f"robot-{plan.seed}.md").write_text(markdown(rows, seed=plan.seed), encoding="utf-8")
    return rows


def main(argv: list[str] | None = None) -> int:
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("boards", type=int)
    ask.add_argument("--seed", type=int, default=20)
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--tool", choices=sorted(TOOLS), default="process")
    ask.add_argument("--slips", type=float, default=1.0, help="times the usual chance of a slip")
    ask.add_argument("--processes", type=int, default=2)
    got: Any = ask.parse_args(argv)
    rows = run_batch(got.boards, Plan(got.seed, got.out, got.tool, got.slips), got.processes)
    print(markdown(rows, seed=got.seed))
    return 1 if any(r.error for r in rows) else 0


if __name__ == "__main__":
    raise SystemExit(main())
