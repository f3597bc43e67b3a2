"""Does the tool's own solver say what an independent program says of the same board? Board by board, reading by reading.

Both follow docs/families.md. Every part has its marked value, every fault its middle severity; then the only thing left to differ is the
reading of that page. The bars are in bars.py, the judge's side in judge_side.py; perf/agreement.py prints the table of all boards.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))

import bars
from judge_side import NONE, Answers, Ask, Fault, Shown, answer, keyed, shown

from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis import build
from halfsplit.diagnosis.columns import Condition
from halfsplit.diagnosis.outlook import Column
from halfsplit.jobs.table import Solved, Table
from halfsplit.jobs.weigh import make_suspects
from halfsplit.parts import family_of
from halfsplit.solver.powered import Powered

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Cell:
    """One reading of one board as both sides see it. ours: SI, inf = OL, NaN = cannot be said; our_pulse: our display moves.
    moved: on the judge's side this fault shows in it."""

    fault: Fault
    column: Column
    ours: float
    judge: Shown
    our_pulse: bool = False
    moved: bool = False

    @property
    def counts(self) -> bool:
        """The judge has an answer, and it stands."""
        return self.judge.stands

    @property
    def agrees(self) -> bool:
        """The same reading, for anyone who holds a meter."""
        return not self.our_pulse and bars.same(self.column.function, self.ours, self.judge.value)

    @property
    def kind(self) -> str:
        """What was read: live or dead or alone, and the function."""
        return f"{'live' if self.column.live else self.column.state} {self.column.function}"


@dataclass(frozen=True)
class Ours:
    """The solver's side of one state: value and pulse (faults, columns)."""

    condition: Condition
    columns: tuple[Column, ...]
    value: np.ndarray
    pulse: np.ndarray


def ours(circuit: Circuit, faults: Sequence[Fault] | None = None, states: Iterable[str] | None = None) -> tuple[list[Fault], list[Ours]]:
    """Everything that the tool offers to read, at marked values and middle severity; of rails their peak-to-peak ripple as well.
    faults: which (all). states: keys of conditions (all)."""
    every = make_suspects(circuit)
    kept = tuple(s for s in every if s.part is None or faults is None or (s.row.part, s.row.way) in faults)
    table = Table(circuit, kept)
    table.solved = Solved(build.draw(circuit, kept, draws=1, times=1))
    out = []
    for condition in table.conditions():
        if states is not None and condition.key not in states:
            continue
        if not condition.powered:
            whole = frozenset(p.ref for p in circuit.parts)  # as the simulator's fresh board: never switched on, every fuse whole
            out += [_of(condition, block) for block in (table.cold(fresh=whole), table.alone(whole))]
        else:
            out += [_of(condition, table.live(condition)), _ripple(circuit, condition, table.live(condition), table.nominal(condition))]
    return [(s.row.part, s.row.way) for s in kept], [o for o in out if o.columns]


def _of(condition: Condition, block: build.Block) -> Ours:
    return Ours(condition, block.columns, block.value[:, :, 0], block.pulsing)


def _ripple(circuit: Circuit, condition: Condition, block: build.Block, solved: Powered) -> Ours:
    """Peak to peak of every rail, a pair with a capacitor across it, whose volts are offered."""
    rails = {frozenset(p.pins.values()) for p in circuit.parts if p.holds_charge}
    columns = [c for c in block.columns if c.function == "v" and frozenset((c.red, c.black)) in rails]
    value = np.array([np.ptp(solved.solved.volts(c.red) - solved.solved.volts(c.black), axis=1) for c in columns]).reshape(len(columns), len(solved.ok)).T
    value = np.where(solved.ok[:, None], value, np.nan)
    pulse = solved.pulsing[:, None] & np.ones(value.shape, bool)
    return Ours(condition, tuple(replace(c, function="pp", key=c.key.replace("|v|", "|pp|")) for c in columns), value, pulse)


def ask_for(circuit: Circuit, condition: Condition, column: Column) -> Ask:
    """What the judge is asked for a column."""
    if column.live:
        return Ask("live", column.red, column.black, pressed=condition.pressed)
    if column.state != "alone":
        return Ask(column.function, column.red, column.black)
    assert column.part is not None
    part = circuit.part(column.part)
    fitting = ((p, m) for p, m, f in family_of(part).alone_reads if (part.pins[p], part.pins[m], f) == (column.red, column.black, column.function))
    return Ask(column.function, *next(fitting), part=part.ref)


Wanted = tuple[int, Ours, int, Ask]  # row, state, column, what the judge is asked


def wanted(circuit: Circuit, rows: Sequence[Fault], solved: Sequence[Ours], columns: int | None = None, seed: int = 1,
           part: str | None = None) -> list[Wanted]:
    """All cells to compare; a part out of the circuit is read once for each of its own faults and once healthy. columns: so many, by lot.
    part: of the dead readings those across this one."""
    rng = np.random.default_rng(seed)
    out: list[Wanted] = []
    for state in solved:
        for i, fault in enumerate(rows):
            for j in np.sort(rng.permutation(len(state.columns))[:columns]):
                column = state.columns[int(j)]
                if part is not None and not column.live and column.part != part:
                    continue
                if column.state != "alone" or fault == NONE or column.part == fault[0]:
                    out.append((i, state, int(j), ask_for(circuit, state.condition, column)))
    return out


def fill(circuit: Circuit, rows: Sequence[Fault], cells: Sequence[Wanted], answers: Answers, *, workers: int = 1,
         progress: Progress = lambda text: None) -> None:
    """Ask the judge what the answers lack, board by board."""
    jobs = []
    for i, fault in enumerate(rows):
        lacking = answers.lacking(circuit, fault, list(dict.fromkeys(ask for row, _, _, ask in cells if row == i)))
        if lacking:
            jobs.append((circuit, fault, lacking))
    if workers == 1:
        for n, job in enumerate(jobs):
            answers.add(answer(*job))
            progress(f"{n + 1} of {len(jobs)}: {' '.join(job[1])}")
        return
    with ProcessPoolExecutor(workers) as pool:
        running = {pool.submit(answer, *job): job for job in jobs}
        for n, done in enumerate(as_completed(running)):
            answers.add(done.result())
            progress(f"{n + 1} of {len(jobs)}: {' '.join(running[done][1])}")


def compare(circuit: Circuit, *, faults: Sequence[Fault] | None = None, states: Iterable[str] | None = None, columns: int | None = None,
            seed: int = 1, part: str | None = None, answers: Answers | None = None, workers: int = 1, progress: Progress = lambda text: None) -> list[Cell]:
    """Every cell of a circuit. faults: which ones (all). states: keys of conditions (all). columns: so many of each board's state, by lot.
    part: of the dead readings those across this one only."""
    rows, solved = ours(circuit, faults, states)
    answers = Answers() if answers is None else answers
    cells = wanted(circuit, rows, solved, columns, seed, part)
    fill(circuit, rows, cells, answers, workers=workers, progress=progress)
    return list(_cells(circuit, rows, cells, answers))


def _cells(circuit: Circuit, rows: Sequence[Fault], cells: Sequence[Wanted], answers: Answers) -> Iterator[Cell]:
    healthy: dict[tuple[str, Ask], Shown] = {}
    for i, fault in enumerate(rows):
        own = [(state, j, ask) for row, state, j, ask in cells if row == i]
        for (key, ask), (state, j, _) in zip(keyed(circuit, fault, [ask for _, _, ask in own]), own, strict=True):
            column = state.columns[j]
            one = shown(column.function, answers.kept[key][ask.name])
            if fault == NONE:
                healthy[column.key, ask] = one
            base = healthy.get((column.key, ask))
            moved = fault != NONE and base is not None and not bars.same(column.function, one.value, base.value)
            yield Cell(fault, column, float(state.value[i, j]), one, bool(state.pulse[i, j]), moved)


def share(cells: Iterable[Cell]) -> float:
    """Part that agrees of the cells that count."""
    some = [c for c in cells if c.counts]
    return sum(c.agrees for c in some) / max(len(some), 1)


def left_out(cells: Sequence[Cell]) -> float:
    """Part that does not count: the judge failed, or its display does not stand."""
    return sum(not c.counts for c in cells) / max(len(cells), 1)


def different(cells: Iterable[Cell]) -> list[Cell]:
    """What counts and does not agree."""
    return [c for c in cells if c.counts and not c.agrees]


def line(cell: Cell) -> str:
    """One cell in words."""
    return f"{' '.join(cell.fault)}: {cell.column.key}: ours {cell.ours:.6g}{' pulsing' if cell.our_pulse else ''}, judge {cell.judge.value:.6g}"
