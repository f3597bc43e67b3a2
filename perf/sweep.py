"""What an outlook costs: CPU time of every stage of the solver, circuit by circuit, if wished beside another version of the source.

    python perf/sweep.py --draws 10 --against OTHER/src

Each circuit is solved in a process of its own, compiled code loaded beforehand and not counted. CPU seconds, not wall. A variant is one
explanation (row) with one draw of the tolerances, in one state of the set.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np

ROOT = Path(__file__).resolve().parents[1]
STARTS = {
    "flyback": ("flyback with controller 16/10V; out 24V 1.5A", (230.0, 50.0, "II", 45.0)),
    "dropper": ("dropper, 24V relay board; heater 580W", (230.0, 50.0, "I", 600.0)),
    "linear": ("linear 12V 1A, 5V 0.3A", (230.0, 50.0, "II", 30.0)),
    "chain": ("series chain: fuse, link 216C, stat, relay 12V, heater 350W", (230.0, 50.0, "I", 355.0)),
    "lab": ("lab supply 30V 3A", (230.0, 50.0, "I", 150.0)),
}
SHEETS = ("stage_light_standby", "bread_maker", "dosing_controller", "laminator")
BIG = "mains_supply"  # some seventy parts; the aims of speed are told by it
# Two readings of one cell that differ by more than these are counted as different: a share, and a floor per function.
SHARE = 5e-3
FLOORS = {"v": 0.02, "ac": 0.02, "max": 0.02, "min": 0.02, "d": 2e-3, "r": 0.02, "esr": 5e-3, "c": 1e-11}
Plain = dict[str, Any]


def circuit_of(name: str) -> Any:
    """A starting sheet or a shipped one, by name."""
    from halfsplit.circuit.model import Unit
    from halfsplit.circuit.starting import start_circuit
    from halfsplit.jobs.sheets import circuit_from_sheet

    if name in STARTS:
        line, unit = STARTS[name]
        return start_circuit(line, Unit("set", *unit), ())
    folder = ROOT / ("perf" if name == BIG else "examples")
    return circuit_from_sheet((folder / f"{name}.yaml").read_bytes(), name)


def stages(circuit: Any, draws: int) -> Iterator[tuple[str, Callable[[], Any]]]:
    """The stages of an outlook in their order; each is called once and returns its block, or nothing."""
    from halfsplit.diagnosis import build
    from halfsplit.jobs.table import Solved, Table
    from halfsplit.jobs.weigh import make_suspects

    rows = make_suspects(circuit)
    table = Table(circuit, rows)
    table.solved = Solved(build.draw(circuit, rows, draws=draws))
    yield "cold", table.cold
    yield "alone", table.alone
    for condition in table.conditions():
        if condition.powered:
            yield f"{condition.key} nominal", lambda c=condition: table.nominal(c) and None  # type: ignore[misc]
            yield f"{condition.key} draws", lambda c=condition: table.live(c)  # type: ignore[misc]


def measure(name: str, draws: int, out: Path) -> list[Plain]:
    """Time every stage of one circuit in this process; the blocks go to out."""
    for _, call in stages(circuit_of("chain" if name != "chain" else "linear"), 2):
        call()  # whatever has to be compiled or loaded
    lines: list[Plain] = []
    saved: dict[str, Any] = {}
    for stage, call in stages(circuit_of(name), draws):
        before = time.process_time()
        block = call()
        line: Plain = {"circuit": name, "stage": stage, "cpu": time.process_time() - before}
        if block is not None:
            rows, columns, _ = block.value.shape
            line |= {
                "rows": rows,
                "columns": columns,
                "unsaid": float(np.isnan(block.value).mean()),
                "unresolved": block.unresolved,
            }
            saved |= {f"{stage}|value": block.value, f"{stage}|pulsing": block.pulsing}
            saved[f"{stage}|functions"] = np.array([c.function for c in block.columns])
            saved[f"{stage}|keys"] = np.array([c.key for c in block.columns])
        lines.append(line)
    np.savez_compressed(out, **saved)
    lines[-1]["peak_mb"] = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    return lines


def in_a_process(name: str, draws: int, source: Path, out: Path) -> list[Plain]:
    """Measure one circuit with the source that lies in `source`."""
    command = [sys.executable, __file__, "--child", name, "--draws", str(draws), "--save", str(out)]
    env = os.environ | {"PYTHONPATH": str(source)}
    done = subprocess.run(command, env=env, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{name} with {source}:\n{done.stderr}")
    return list(json.loads(done.stdout.splitlines()[-1]))


def differing(mine: Any, other: Any) -> Iterator[tuple[str, int, int, float, float]]:
    """(column, row, draw, mine, other) of every cell that the two sides read differently."""
    for name in mine.files:
        if not name.endswith("|value") or name not in other.files:
            continue
        stage = name.removesuffix("|value")
        keys, functions = mine[f"{stage}|keys"], mine[f"{stage}|functions"]
        theirs = list(other[f"{stage}|keys"])
        both = [j for j, key in enumerate(keys) if key in theirs]  # which nets are worth an AC look is found by solving
        keys, functions = keys[both], functions[both]
        a, b = mine[name][:, both], other[name][:, [theirs.index(key) for key in keys]]
        units = min(a.shape[2], b.shape[2])  # one of them may have solved more healthy units
        a, b = a[:, :, :units], b[:, :, :units]
        floor = np.array([FLOORS[f] for f in functions])[None, :, None]
        with np.errstate(invalid="ignore"):
            close = (np.abs(a - b) <= SHARE * np.maximum(np.abs(a), np.abs(b)) + floor) | (a == b) | (np.isnan(a) & np.isnan(b))
            close &= np.isinf(a) == np.isinf(b)
        for i, j, d in np.argwhere(~close):
            yield f"{stage}: {keys[j]}", int(i), int(d), float(a[i, j, d]), float(b[i, j, d])


def table(lines: Sequence[Plain], draws: int, olds: Sequence[Plain] | None) -> str:
    """Markdown table, one line a stage and one for the whole circuit."""
    was = {(x["circuit"], x["stage"]): x["cpu"] for x in olds or ()}
    head = ["circuit", "stage", "rows", "columns", "variants", "CPU s", "ms a variant", "cannot be said", "peak MB"]
    out = [
        "| " + " | ".join(head + (["CPU s before", "times"] if was else [])) + " |",
        "|" + "---|" * (len(head) + 2 * bool(was)),
    ]
    for name in dict.fromkeys(x["circuit"] for x in lines):
        own = [x for x in lines if x["circuit"] == name]
        rows = max(x.get("rows", 0) for x in own)
        whole = {"circuit": name, "stage": "all", "cpu": sum(x["cpu"] for x in own), "peak_mb": own[-1]["peak_mb"]}
        for x in [*own, whole]:
            count = rows if x["stage"].endswith("nominal") else rows * draws
            unsaid = f"{100 * x['unsaid']:.2f} %" if "unsaid" in x else ""
            cells = [
                name,
                x["stage"],
                str(rows),
                str(x.get("columns", "")),
                str(count),
                f"{x['cpu']:.2f}",
                f"{1e3 * x['cpu'] / count:.3f}",
                unsaid,
            ]
            cells.append(f"{x['peak_mb']:.0f}" if "peak_mb" in x and x is whole else "")
            if was:
                before = sum(c for (n, _), c in was.items() if n == name) if x is whole else was[name, x["stage"]]
                cells += [f"{before:.2f}", f"{before / max(x['cpu'], 1e-9):.1f}"]
            out.append("| " + " | ".join(cells) + " |")
    return "\n".join(out)


def main(argv: Sequence[str] | None = None) -> int:
    """Measure and print."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("circuits", nargs="*", default=[*STARTS, *SHEETS], help="which circuits; all without")
    ask.add_argument("--draws", type=int, default=10)
    ask.add_argument("--source", type=Path, default=ROOT / "src", help="the source to measure")
    ask.add_argument("--against", type=Path, help="another source, measured in the same run")
    ask.add_argument("--against-saved", type=Path, help="folder of an earlier --save: compare the readings only")
    ask.add_argument("--save", type=Path, help="folder for the readings (one .npz a circuit)")
    ask.add_argument("--differences", type=int, default=0, help="print so many cells that differ, a circuit")
    ask.add_argument("--child", help=argparse.SUPPRESS)
    got = ask.parse_args(argv)
    if got.child:
        print(json.dumps(measure(got.child, got.draws, got.save)))
        return 0
    lines: list[Plain] = []
    olds: list[Plain] = []
    notes: list[str] = []
    with tempfile.TemporaryDirectory() as scratch:
        new, old = got.save or Path(scratch) / "new", got.against_saved or Path(scratch) / "old"
        for folder in (new, old):
            folder.mkdir(parents=True, exist_ok=True)
        for name in got.circuits:
            lines += in_a_process(name, got.draws, got.source, new / f"{name}.npz")
            if got.against:
                olds += in_a_process(name, got.draws, got.against, old / f"{name}.npz")
            if (old / f"{name}.npz").exists():
                mine, other = np.load(new / f"{name}.npz"), np.load(old / f"{name}.npz")
                cells = list(differing(mine, other))
                every = sum(mine[k].size for k in mine.files if k.endswith("|value"))
                pulses = sum(int(mine[k].sum()) - int(other[k].sum()) for k in mine.files if k.endswith("|pulsing"))
                notes.append(f"{name}: {len(cells)} of {every} readings differ, {pulses:+d} pulse")
                step = max(1, len(cells) // max(got.differences, 1))
                notes += [
                    f"    {c} row {i} draw {d}: {a:.6g}, before {b:.6g}" for c, i, d, a, b in cells[::step][: got.differences]
                ]
    print(table(lines, got.draws, olds or None))
    print("\n".join(notes))
    return 0


if __name__ == "__main__":
    sys.exit(main())
