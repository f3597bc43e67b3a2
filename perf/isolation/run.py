"""Runs the score bench: `python -m perf.isolation 240 --out FOLDER --seed 50 --processes 2`. Seeded, resumable, one JSON line a board.

A board is written as it is finished; a second run with the same folder and seed goes on where the first one stopped. The simulator's
answers are kept in FOLDER/cache, so that a run after a change of the engine pays only for readings that nobody took before.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Iterable, Sequence
from contextlib import nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
if str(ROOT) not in sys.path:
    sys.path.insert(0, str(ROOT))

import numpy as np  # noqa: E402
from perf.isolation import KIT  # noqa: E402  puts the robot's modules on the path
from perf.isolation.case import Case  # noqa: E402
from perf.isolation.draw import TURN, Lot, NoBoard, come_in, kept, kind_at  # noqa: E402
from perf.isolation.kept import SPENT  # noqa: E402
from perf.isolation.kinds import DRAWS, draw_case  # noqa: E402
from perf.isolation.report import write_report  # noqa: E402
from perf.isolation.rivals import RIVALS, WHOLE, priors_only  # noqa: E402
from perf.isolation.scoring import in_two_blocks, order_of, score, worth_keeping  # noqa: E402
from perf.isolation.sitting import Said, Shy, start_work  # noqa: E402
from perf.isolation.twist import perturbed  # noqa: E402

from halfsplit.circuit.starting.blocks import blocks  # noqa: E402
from halfsplit.jobs.kit import read_kit  # noqa: E402
from halfsplit.jobs.work import Work  # noqa: E402
from halfsplit.parts import FAMILIES  # noqa: E402
from judge.spice import JudgeFailed  # noqa: E402
from robot import Record  # noqa: E402
from tool import BenchTime, ObjectTool  # noqa: E402

Line = dict[str, Any]


@dataclass(frozen=True)
class Plan:
    """What one batch is. rivals: those beside the tool, by name. perturbed: the tool's own table is falsified."""

    seed: int
    out: Path
    kinds: tuple[str, ...] = TURN
    perturbed: bool = False
    groups: bool = True
    rivals: tuple[str, ...] = ()

    @property
    def file(self) -> Path:
        return self.out / "isolation.jsonl"

    @property
    def cache(self) -> Path:
        return self.out / "cache"


def open_tool(case: Case, folder: Path) -> ObjectTool:
    """The tool in this process, with the sheet in it or before its three questions."""
    clock = BenchTime()
    work = Work(folder / "job", kit=read_kit(KIT.read_text(encoding="utf-8")), clock=clock)
    keys = [key for key, _ in case.sheet]
    if keys != ["unit", "symptom", "start"]:
        for key, words in case.sheet:
            work.log.append(f"{key}: {words}")
        work.standing = work._stand()
        if work.standing.circuit is None:
            raise ValueError(f"the sheet was not taken: {work.standing.lost[:2]}")
    tool = ObjectTool(work.first, work.send, pass_time=clock.wait)
    tool.everything = lambda: everything_of(work)  # type: ignore[attr-defined]
    return tool


def everything_of(work: Work) -> dict[str, float]:
    """Part -> odds that it alone is at fault, of every explanation and not of the listed eight; empty before there are any."""
    odds = work.advice.odds if work.advice is not None else None
    rows = work.table.suspects if work.table is not None else ()
    out: dict[str, float] = {}
    if odds is not None and len(odds) == len(rows):
        for suspect, x in zip(rows, odds, strict=True):
            if suspect.part is not None:
                out[suspect.part.ref] = out.get(suspect.part.ref, 0.0) + float(x)
    return out


def sign_of(case: Case, rng: np.random.Generator) -> str | None:
    """What the failed part looks like, by its family's own odds; mostly like nothing."""
    if not case.flaws or case.flaws[0].part in case.undrawn:
        return None
    part = case.circuit.part(case.flaws[0].part)
    looks = next((dict(w.looks) for w in FAMILIES[part.family].ways if w.name == case.flaws[0].way), {})
    return next((sign for sign, odds in looks.items() if rng.random() < odds), None)


def with_tool(case: Case, plan: Plan) -> tuple[Record, Said]:
    """The technician who obeys the cards."""
    rng = np.random.default_rng([plan.seed, case.index, 1])
    lot = Lot(case.index, case.kind, plan.seed, plan.cache)
    board: Any = (kept if case.comes_and_goes else come_in)(lot, case.circuit, case.flaws, case.seed)
    if case.comes_and_goes:
        board = Shy(board, kept(lot, case.circuit, (), case.seed))
    with tempfile.TemporaryDirectory(prefix="isolation") as name:
        tool = open_tool(case, Path(name))
        try:
            return start_work(case, tool, board, rng, sign_of(case, rng))
        finally:
            tool.close()


def result(case: Case, record: Record, said: Said, group: frozenset[str]) -> Line:
    """Everything that is kept of one board."""
    last = said.last
    s = score(record.ended, record.parts, last, root=case.root, true_names=case.true_names, group=group, places=case.places)
    clock = record.clock
    return {
        "block_in_two": in_two_blocks(last, case.root, blocks(case.circuit.parts)),
        "board": case.board, "sub": case.sub, "symptom": case.symptom, "board_seed": case.seed,
        "flaws": [[f.part, f.way, round(f.severity, 4)] for f in case.flaws], "root": case.root, "true": sorted(case.true_names),
        "undrawn": list(case.undrawn), "places": sorted(case.places), "group": sorted(group),
        "ended": record.ended[:400], "named": list(record.parts), "order": order_of(record.ended, record.parts, last)[:5],
        "first": s.first, "three": s.three, "any_first": s.any_first, "top_odds": s.top_odds, "in_group": s.group,
        "no_answer": s.no_answer, "sure_wrong": s.sure_wrong, "gap": s.gap, "log": s.log, "brier": s.brier,
        "minutes": clock.minutes, "readings": clock.readings, "live_hot": clock.live_hot, "keystrokes": clock.keystrokes,
        "doubts": record.doubts, "questions": said.questions, "slips": list(record.slips),
        "violations": list(record.violations), "unforeseen": list(record.unforeseen), "refusals": list(record.refusals)[:6],
        "lines": list(record.lines), "claims": [[n, worth_keeping(c, case.true_names)] for n, c in said.claims],
    }


def run_one(index: int, plan: Plan) -> Line:
    """One board. A failure of the judge, or no board of the kind, leaves it out and is said in its line."""
    started, before, cpu = time.monotonic(), dict(SPENT), os.times()
    line: Line = {"index": index, "kind": kind_at(index, plan.kinds), "failed": "", "error": ""}
    try:
        case = draw_case(index, plan.seed, plan.cache, plan.kinds)
        drawn = time.monotonic()
        with perturbed(plan.seed * 100003 + index) if plan.perturbed else nullcontext():
            record, said = with_tool(case, plan)
        worked = time.monotonic()
        heads = order_of(record.ended, record.parts, said.last)[:1]
        line |= result(case, record, said, group_of(case, heads, plan))
        line["seconds_draw"], line["seconds_tool"] = drawn - started, worked - drawn
        line["rivals"] = rivals_of(case, plan, said)
        line["seconds_rest"] = time.monotonic() - worked
    except Exception as failed:  # noqa: BLE001 - a batch of an hour goes on, and says what broke
        if type(failed).__name__ in ("JudgeFailed", NoBoard.__name__):
            line["failed"] = str(failed)[:300]
        else:
            line["error"] = "".join(traceback.format_exception(failed))[-2500:]
    line["seconds"] = time.monotonic() - started
    now = os.times()
    line["cpu"] = round(now.user + now.system - cpu.user - cpu.system, 2)
    line["cpu_judge"] = round(now.children_user + now.children_system - cpu.children_user - cpu.children_system, 2)
    line["judge"] = {k: round(v - before[k], 1) for k, v in SPENT.items()}
    return line


def group_of(case: Case, named: Sequence[str], plan: Plan) -> frozenset[str]:
    """Of the parts named, those that no offered reading tells from the root, by the judge's own table of the circuit.

    The table stands for itself, whatever the tool said; only the rows that are needed are filled. Only where the sheet is the board.
    """
    if not plan.groups or case.nets or case.undrawn or case.altered or set(named) <= {case.root}:
        return frozenset({case.root})
    import judged
    from groups import Groups

    fault = case.flaws[0].fault if case.flaws else None
    asked = [f for f in judged.faults(case.circuit) if f[0] in named and f[0] != case.root]
    try:
        return Groups(case.unsaid, judged.make, lambda circuit: asked, plan.out / "tables").parts(fault)
    except JudgeFailed:
        return frozenset({case.root})


def rivals_of(case: Case, plan: Plan, said: Said) -> dict[str, Any]:
    """The others on this board. What the judge can't read for one of them leaves that one out."""
    out: dict[str, Any] = {"priors only": priors_only(case, said.prior)}
    lot = Lot(case.index, case.kind, plan.seed, plan.cache)
    for name in plan.rivals if case.kind in WHOLE else ():
        try:
            found = RIVALS[name](case, lot, plan.out)
        except JudgeFailed:
            continue
        out |= {name: found} if found is not None else {}
    return out


# --- the batch -----------------------------------------------------------------------------------------------------------


def done_already(file: Path) -> list[Line]:
    """Lines of an earlier run; a half-written last one is dropped."""
    if not file.exists():
        return []
    out = []
    for text in file.read_text(encoding="utf-8").splitlines():
        try:
            out.append(json.loads(text))
        except ValueError:
            continue
    return out


def keep(file: Path, lines: Iterable[Line], *, fresh: bool) -> None:
    with file.open("w" if fresh else "a", encoding="utf-8") as stream:
        for line in lines:
            stream.write(json.dumps(line) + "\n")


def _job(task: tuple[int, Plan]) -> Line:
    return run_one(*task)


def run_batch(
    count: int, plan: Plan, processes: int = 2, job: Callable[[tuple[int, Plan]], Line] = _job, tell: Callable[[str], None] = print
) -> list[Line]:
    """Boards 0..count-1 that are not in the file yet; all lines, in order."""
    plan.out.mkdir(parents=True, exist_ok=True)
    lines = done_already(plan.file)
    keep(plan.file, lines, fresh=True)
    have = {line["index"] for line in lines}
    tasks = [(i, plan) for i in range(count) if i not in have]
    pool = multiprocessing.Pool(processes) if processes > 1 and len(tasks) > 1 else None
    started = time.monotonic()
    try:
        for n, line in enumerate(pool.imap_unordered(job, tasks) if pool else map(job, tasks), start=1):
            keep(plan.file, [line], fresh=False)
            lines.append(line)
            each = (time.monotonic() - started) / n
            said = line.get("failed") or (line.get("error") or "").strip()[-120:] or f"{line.get('ended')} {line.get('named')}"
            tell(f"{n}/{len(tasks)} board {line['index']} {line['kind']} {line.get('root')!r}: {said}"
                 f" {'right' if line.get('first') else 'missed'} {line['seconds']:.0f} s; {each * (len(tasks) - n) / 60:.1f} min left")
    finally:
        if pool:
            pool.terminate()
    lines = sorted(lines, key=lambda x: int(x["index"]))
    write_report(lines, plan.out, seed=plan.seed)
    return lines


def main(argv: Sequence[str] | None = None) -> int:
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("boards", type=int)
    ask.add_argument("--out", type=Path, required=True)
    ask.add_argument("--seed", type=int, default=50)
    ask.add_argument("--processes", type=int, default=2)
    ask.add_argument("--kinds", default="", help="only these, by turns: single,double,...")
    ask.add_argument("--no-groups", action="store_true", help="no ambiguity groups: their tables cost simulator time once a circuit")
    ask.add_argument("--rivals", default="half-splitting", help=f"beside the priors alone: {','.join(RIVALS)}; '' for none")
    ask.add_argument("--perturbed", action="store_true", help="falsify the tool's own table first; give it a folder of its own")
    got = ask.parse_args(argv)
    kinds = tuple(k for k in got.kinds.split(",") if k) or TURN
    chosen = tuple(r for r in got.rivals.split(",") if r)
    if unknown := [r for r in chosen if r not in RIVALS] + [k for k in kinds if k not in DRAWS]:
        ask.error(f"not known: {', '.join(unknown)}; rivals: {', '.join(RIVALS)}; kinds: {', '.join(sorted(DRAWS))}")
    plan = Plan(got.seed, got.out, kinds, got.perturbed, not got.no_groups, chosen)
    lines = run_batch(got.boards, plan, got.processes, tell=lambda text: print(text, flush=True))
    print((got.out / "isolation.md").read_text(encoding="utf-8"))
    return 1 if any(x.get("error") for x in lines) else 0


if __name__ == "__main__":
    raise SystemExit(main())
