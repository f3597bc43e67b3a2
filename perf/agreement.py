"""Agreement with an independent simulator: every fault of every starting and shipped sheet, every reading that is offered.

    python perf/agreement.py --judge agreement-judge.jsonl

Prints the section of perf/README.md. The simulator (ngspice, the judge of the robot runs) is asked once; its answers are kept in the file
that --judge names, by a hash of board, fault, state and the judge's own source, so that a changed solver is compared again in a minute. A run
that was stopped goes on where it was. Reasons of differences stand in perf/agreement-reasons.csv.
"""

from __future__ import annotations

import argparse
import csv
import math
import sys
import time
from collections.abc import Iterable, Sequence
from fnmatch import fnmatchcase
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "against"))

import bars
import sweep
from comparing import Cell, compare, different, left_out, line, share
from judge_side import Answers

REASONS = Path(__file__).with_name("agreement-reasons.csv")
UNEXPLAINED = "not explained"
NAMES = {
    "v": "volts DC", "ac": "volts AC rms", "max": "MAX", "min": "MIN", "pp": "ripple peak to peak", "r": "ohms", "d": "diode test",
    "c": "capacitance", "esr": "ESR",
}  # fmt: skip


def percent(part: float, digits: int = 2) -> str:
    return f"{100.0 * part:.{digits}f} %"


def row(name: str, cells: Sequence[Cell]) -> str:
    """One line of a table."""
    settled = [c for c in cells if c.counts]
    moved = [c for c in settled if c.moved]
    shown = [f"{len(cells)}", f"{len(settled)}", f"{len(different(cells))}", percent(share(cells)) if settled else "-"]
    shown += [percent(share(moved)) if moved else "-", percent(left_out(cells), 1)]
    return f"| {name} | {' | '.join(shown)} |"


def table(first: str, groups: Iterable[tuple[str, Sequence[Cell]]]) -> list[str]:
    """Markdown, one line a group."""
    head = [first, "readings", "settled", "differ", "agree", "agree, of those that the fault moves", "left out"]
    return ["| " + " | ".join(head) + " |", "|" + "---|" * len(head), *(row(n, c) for n, c in groups if c)]


def reason_of(circuit: str, cell: Cell, reasons: Sequence[tuple[str, str, str, str]]) -> str:
    """The first reason whose patterns fit circuit, fault and reading."""
    fault, reading = " ".join(cell.fault), cell.column.key
    for where, which, what, why in reasons:
        if fnmatchcase(circuit, where) and fnmatchcase(fault, which) and fnmatchcase(reading, what):
            return why
    return UNEXPLAINED


def read_reasons(path: Path) -> list[tuple[str, str, str, str]]:
    """Patterns (circuit, fault, reading) and the reason, in the order of the file; [] without one."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as lines:
        return [(r["circuit"], r["fault"], r["reading"], r["reason"]) for r in csv.DictReader(lines)]


def differences(found: dict[str, list[Cell]]) -> list[str]:
    """Larger differences, grouped by reason; a group's lines say circuit, fault and how far the readings are apart (ours for the judge's)."""
    reasons = read_reasons(REASONS)
    groups: dict[str, list[tuple[str, Cell]]] = {}
    for name, cells in found.items():
        for cell in different(cells):
            groups.setdefault(reason_of(name, cell, reasons), []).append((name, cell))
    out = []
    for why, group in sorted(groups.items(), key=lambda g: (g[0] == UNEXPLAINED, -len(g[1]))):
        boards: dict[str, dict[str, list[Cell]]] = {}
        for name, cell in group:
            boards.setdefault(name, {}).setdefault(" ".join(cell.fault).strip(), []).append(cell)
        out.append(f"- {len(group)} on {sum(map(len, boards.values()))} boards: {why}")
        out += [f"  - {name}: {', '.join(f'{fault} ({_apart(c)})' for fault, c in faults.items())}" for name, faults in boards.items()]
    return out


def _apart(cells: Sequence[Cell]) -> str:
    """The one of a board's differing readings that is furthest apart, and how many there are."""
    worst = max(cells, key=lambda c: abs(c.ours - c.judge.value) if math.isfinite(c.ours) else math.inf)
    count = f"{len(cells)} x, " if len(cells) > 1 else ""
    said = f"{worst.ours:.4g}{' pulsing' if worst.our_pulse else ''} for {worst.judge.value:.4g}"
    return f"{count}{worst.column.key.partition('|')[2].replace('|', ' ')} {said}"


def pulsing(found: dict[str, list[Cell]]) -> str:
    """How the displays that pulse compare: they count as left out."""
    cells = [c for one in found.values() for c in one if c.judge.pulsing]
    both = [c for c in cells if c.our_pulse]
    extremes = [c for c in both if c.column.function in ("max", "min")]
    good = sum(bars.same_extreme(c.ours, c.judge.value) for c in extremes)
    return (
        f"Of the readings left out {len(cells)} pulse in the simulator; {len(both)} of them pulse in the solver too. Of their {len(extremes)} MAX "
        f"readings {good} are within {bars.PULSING_SHARE:.0%} and {bars.PULSING_FLOOR:g} V."
    )


def creeping(found: dict[str, list[Cell]]) -> str:
    """How the dead readings compare that still creep after 15 s: they count as left out, but both sides say what they show then."""
    cells = [c for one in found.values() for c in one if not c.counts and not c.column.live and c.judge.value == c.judge.value]
    good = sum(bars.same(c.column.function, c.ours, c.judge.value) for c in cells)
    return f"{len(cells)} dead readings still creep after 15 s; {percent(good / max(len(cells), 1))} of them are the same on both sides all the same."


def section(found: dict[str, list[Cell]]) -> str:
    """The whole section of perf/README.md."""
    every = [c for cells in found.values() for c in cells]
    kinds = sorted({c.kind for c in every})
    failed = sum(c.judge.value != c.judge.value for c in every)

    def named(kind: str) -> str:
        state, function = kind.split()
        return f"{state}: {NAMES[function]}"

    parts = [
        *table("circuit", [*found.items(), ("all", every)]),
        "",
        *table("reading", [(named(k), [c for c in every if c.kind == k]) for k in kinds]),
        "",
        f"{pulsing(found)} {creeping(found)} The simulator failed in {failed}.",
        "",
        "Larger differences:",
        "",
        *differences(found),
    ]
    return "\n".join(parts)


def main(argv: Sequence[str] | None = None) -> int:
    """Compare and print."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("circuits", nargs="*", default=[*sweep.STARTS, *sweep.SHEETS], help="which circuits; all without")
    ask.add_argument("--judge", type=Path, help="file that keeps the simulator's answers; is made where there is none")
    ask.add_argument("--fault", action="append", help="PART/way; may be given again; all without")
    ask.add_argument("--state", action="append", help="dead, on, on+bake ...; all without")
    ask.add_argument("--workers", type=int, default=1, help="processes for the simulator")
    ask.add_argument("--every", action="store_true", help="print every differing reading, line by line, instead of the section")
    got = ask.parse_args(argv)
    faults = None if got.fault is None else [(p, w) for p, _, w in (f.partition("/") for f in got.fault)]
    answers, found = Answers(got.judge), {}
    for name in got.circuits:
        start = time.process_time()

        def progress(text: str, name: str = name) -> None:
            print(f"{name}: {text}", file=sys.stderr, flush=True)

        found[name] = compare(
            sweep.circuit_of(name), faults=faults, states=got.state, answers=answers, workers=got.workers, progress=progress
        )
        progress(f"{percent(share(found[name]))} of {len(found[name])} agree, own CPU {time.process_time() - start:.0f} s")
        if got.every:
            print("\n".join(f"{name}: {line(c)}" for c in different(found[name])), flush=True)
    print(section(found) if not got.every else "")
    return 0


if __name__ == "__main__":
    sys.exit(main())
