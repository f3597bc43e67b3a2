"""Does the tool's own solver say what an independent program says of the same board? Board by board, reading by reading.

Both follow docs/families.md. Every part has its marked value, every fault its middle severity; then the only thing left to
differ is the reading of that page. `python tests/against/agreement.py "linear 12V 1A" --watts 25` prints the share and the rest.
"""

from __future__ import annotations

import argparse
import math
import sys
from collections.abc import Iterable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "robot"))

from halfsplit.circuit.model import Circuit, Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis import build
from halfsplit.diagnosis.columns import ALONE, DEAD, Condition
from halfsplit.diagnosis.outlook import Column
from halfsplit.jobs.table import Solved, Table
from halfsplit.jobs.weigh import make_suspects
from judge.board import Board, JudgeFailed
from judge.meter import Cold

Fault = tuple[str, str]
NONE: Fault = ("", "nothing wrong")
SHARE = 0.02  # relative difference that counts as the same
# Below these, no hand meter tells two readings apart; "d" also takes the 2 mV of a display.
FLOORS = {"r": 0.05, "d": 0.006, "c": 2e-11, "esr": 0.02, "v": 0.04, "ac": 0.04, "max": 0.04, "min": 0.04}
# A display that pulses is compared by its extremes only, and these hang on when one looks.
PULSING_SHARE, PULSING_FLOOR = 0.1, 0.3
EDGE = 0.05  # a display that wanders by less counts as standing
LIMITS = {"r": 60e6, "d": 2.5, "c": 0.1, "esr": 100.0}  # where the displays go over to OL
LETTERS = {"r": "ohms", "d": "diode", "c": "capacitance", "esr": "esr"}


@dataclass(frozen=True)
class Cell:
    """One reading of one board as both sides see it. ours, theirs: SI, inf = OL, NaN = cannot be said; pulse: display moves."""

    fault: Fault
    column: Column
    ours: float
    theirs: float
    our_pulse: bool = False
    their_pulse: bool = False

    @property
    def agrees(self) -> bool:
        """The same reading, for anyone who holds a meter."""
        if self.our_pulse != self.their_pulse:  # one side just sees it move, the other just doesn't
            return abs(self.ours - self.theirs) <= EDGE * max(abs(self.ours), abs(self.theirs)) + FLOORS[self.column.function]
        if self.our_pulse:
            if self.column.function not in ("max", "min"):
                return True
            return abs(self.ours - self.theirs) <= PULSING_SHARE * abs(self.theirs) + PULSING_FLOOR
        return same(self.column.function, self.ours, self.theirs)


def same(function: str, one: float, other: float) -> bool:
    """Within 2 % or the floor; at the edge of OL, where either display may tip over, OL and a number near it agree."""
    if math.isnan(one) or math.isnan(other):
        return False
    if math.isinf(one) or math.isinf(other):
        low = min(one, other)
        return math.isinf(low) or low > 0.96 * LIMITS.get(function, math.inf)
    return abs(one - other) <= SHARE * max(abs(one), abs(other)) + FLOORS[function]


@dataclass(frozen=True)
class Ours:
    """The solver's side of one state: value and pulse (faults, columns)."""

    condition: Condition
    columns: tuple[Column, ...]
    value: np.ndarray
    pulse: np.ndarray


def ours(circuit: Circuit, faults: Sequence[Fault] | None, states: Iterable[str] | None = None) -> tuple[list[Fault], list[Ours]]:
    """Everything that the tool offers to read, at marked values and middle severity."""
    every = make_suspects(circuit)
    kept = tuple(s for s in every if s.part is None or faults is None or (s.row.part, s.row.way) in faults)
    table = Table(circuit, kept)
    table.solved = Solved(build.draw(circuit, kept, draws=1, times=1))
    out = []
    for condition in table.conditions():
        if states is not None and condition.key not in states:
            continue
        if not condition.powered:
            out += [_of(condition, block) for block in (table.cold(), table.alone())]
        else:
            out.append(_of(condition, table.live(condition)))
    return [(s.row.part, s.row.way) for s in kept], out


def _of(condition: Condition, block: build.Block) -> Ours:
    return Ours(condition, block.columns, block.value[:, :, 0], block.pulsing)


Shown = tuple[float, bool]  # value, pulsing


def theirs(circuit: Circuit, wanted: Sequence[tuple[Condition, tuple[Column, ...]]], fault: Fault) -> list[list[Shown]]:
    """The judge's side of one board, in the order of the columns asked."""
    board = Board(circuit, None if fault == NONE else fault, 1, spread="none")
    return [_read(board, condition, columns) for condition, columns in wanted]


def _read(board: Board, condition: Condition, columns: Sequence[Column]) -> list[Shown]:
    if not condition.powered:
        fresh = Board(board.circuit, board.fault, board.seed, spread="none")  # as it comes in, never switched on here
        return [(_cold(fresh, c).value, False) for c in columns]
    try:
        live = board.live(condition.pressed)
    except JudgeFailed:
        return [(math.nan, False)] * len(columns)
    out = []
    for column in columns:
        got = live.volts(column.red, column.black)
        out.append((float(got["dc" if column.function == "v" else column.function]), bool(got["ac_pulsing" if column.function == "ac" else "pulsing"])))
    return out


def _cold(board: Board, column: Column) -> Cold:
    try:
        if column.state == DEAD:
            return board.cold(column.red, column.black, LETTERS[column.function])
        assert column.state == ALONE and column.part is not None
        pins = {net: pin for pin, net in board.circuit.part(column.part).pins.items()}
        return board.alone(column.part, LETTERS[column.function], pins[column.red], pins[column.black])
    except JudgeFailed:
        return Cold(math.nan, math.nan, math.nan)


def compare(
    line: str, unit: Unit, *, faults: Sequence[Fault] | None = None, states: Iterable[str] | None = None, columns: int | None = None,
    seed: int = 1, workers: int = 1,
) -> list[Cell]:
    """Every cell of a start. faults: which ones (all). states: keys of conditions (all). columns: so many of each state, by lot."""
    circuit = start_circuit(line, unit, ())
    rows, solved = ours(circuit, faults, states)
    rng = np.random.default_rng(seed)
    picked = [np.sort(rng.permutation(len(s.columns))[:columns]) for s in solved]
    wanted = [(s.condition, tuple(s.columns[j] for j in at)) for s, at in zip(solved, picked, strict=True)]
    judge = partial(theirs, circuit, wanted)
    if workers > 1:
        with ProcessPoolExecutor(workers) as pool:
            found = list(pool.map(judge, rows))
    else:
        found = [judge(row) for row in rows]
    return [
        Cell(row, s.columns[j], float(s.value[i, j]), shown[0], bool(s.pulse[i, j]), shown[1])
        for i, row in enumerate(rows) for s, at, got in zip(solved, picked, found[i], strict=True)
        for j, shown in zip(at, got, strict=True)
    ]


def shares(cells: Sequence[Cell]) -> dict[str, tuple[int, int]]:
    """(agreeing, all) per kind of reading: state, then function; the alone readings are told apart from those in circuit."""
    out: dict[str, tuple[int, int]] = {}
    for cell in cells:
        key = f"{'live' if cell.column.live else cell.column.state} {cell.column.function}"
        good, every = out.get(key, (0, 0))
        out[key] = good + cell.agrees, every + 1
    return out


def share(cells: Sequence[Cell]) -> float:
    """Part of the cells that agree."""
    return sum(c.agrees for c in cells) / max(len(cells), 1)


def report(cells: Sequence[Cell]) -> str:
    """Shares, then every cell that differs."""
    lines = [f"{key:12s} {good:5d} of {every:5d}  {good / every:.4f}" for key, (good, every) in sorted(shares(cells).items())]
    lines.append(f"{'all':12s} {sum(c.agrees for c in cells):5d} of {len(cells):5d}  {share(cells):.4f}")
    for c in cells:
        if not c.agrees:
            pulse = f"  pulsing {c.our_pulse}/{c.their_pulse}" if c.our_pulse or c.their_pulse else ""
            lines.append(f"{c.fault[0]} {c.fault[1]:16s} {c.column.key:44s} ours {c.ours:12.6g}  judge {c.theirs:12.6g}{pulse}")
    return "\n".join(lines)


def main(argv: Sequence[str] | None = None) -> int:
    """Compare one start and print."""
    ask = argparse.ArgumentParser(description=__doc__)
    ask.add_argument("start", help="words after `start:`")
    ask.add_argument("--volts", type=float, default=230.0)
    ask.add_argument("--hertz", type=float, default=50.0)
    ask.add_argument("--watts", type=float, default=40.0)
    ask.add_argument("--klass", default="II")
    ask.add_argument("--fault", action="append", help="PART/way; may be given again; all without")
    ask.add_argument("--state", action="append", help="dead, on, on+bake ...; all without")
    ask.add_argument("--columns", type=int, help="so many readings of each state, by lot")
    ask.add_argument("--workers", type=int, default=1)
    got = ask.parse_args(argv)
    faults = None if got.fault is None else [(p, w) for p, _, w in (f.partition("/") for f in got.fault)]
    unit = Unit("bench set", got.volts, got.hertz, got.klass, got.watts)
    print(report(compare(got.start, unit, faults=faults, states=got.state, columns=got.columns, workers=got.workers)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
