"""What an entry costs once the outlook is solved: odds, next readings, round and verdict, stage by stage.

    python perf/posterior.py            # a synthetic outlook of 300 rows, and two real ones
    python perf/posterior.py --profile synthetic

CPU and wall milliseconds; the least and the median of some runs, because the machine may be busy with something else. The readings are
those of one unit of the outlook itself, with half a per cent of meter error: some 15 to 20 of them, cold and live.
"""

from __future__ import annotations

import argparse
import cProfile
import pstats
import statistics
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))
from sweep import circuit_of

from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row
from halfsplit.diagnosis.planner import next_readings
from halfsplit.diagnosis.posterior import posterior
from halfsplit.diagnosis.proposal import Prices
from halfsplit.diagnosis.rounds import MOST, round_of
from halfsplit.diagnosis.verdict import verdict

REAL = ("flyback", "mains_supply")
STAGES = ("posterior", "next readings", "round", "verdict")


def synthetic(rows: int = 300, columns: int = 800, draws: int = 64, seed: int = 0) -> Outlook:
    """A table of the shape that solved ones have: a row moves one cell in six, a healthy set reads OL in one cold column of ten, and an
    open part turns a number into OL; volts, ohms, diode tests and ESR in the shares of the starting sheets."""
    rng = np.random.default_rng(seed)
    kinds = rng.choice(["v", "ac", "r", "d", "esr", "c"], columns, p=[0.45, 0.15, 0.2, 0.1, 0.05, 0.05])
    size = {"v": (0, 1.5), "ac": (0, 1.5), "r": (2, 5), "d": (-0.4, 0), "esr": (-1.5, 1), "c": (-9, -4)}
    level = np.array([10 ** rng.uniform(*size[k]) for k in kinds])
    unit = np.exp(0.03 * rng.standard_normal((columns, draws)))
    value = np.broadcast_to(level[:, None] * unit, (rows, columns, draws)).copy()
    cold = np.isin(kinds, ["r", "d", "esr", "c"])
    value[:, cold & (rng.random(columns) < 0.1)] = np.inf
    for r in range(1, rows):
        moved = np.flatnonzero(rng.random(columns) < 1 / 6)
        severity = rng.permutation((np.arange(draws) + 0.5) / draws)
        value[r, moved] *= np.exp(rng.normal(0, 1.5, (len(moved), 1)) * (0.3 + 0.7 * severity))
        opened = moved[cold[moved] & (rng.random(len(moved)) < 0.3)]
        value[r, opened] = np.inf
    spans = {"v": 50.0, "ac": 50.0, "r": 2e7, "d": 2.0, "esr": 100.0, "c": 1e-2}
    limits = {"r": 61e6, "d": 2.5, "esr": 100.0, "c": 0.1}
    names = tuple(
        Column(
            f"{k}{i}",
            str(k),
            f"n{i}",
            "0V",
            f"n{i}",
            "dead" if cold[i] else f"on+{i % 4}",
            live=not cold[i],
            hazard="H0" if cold[i] else ("H1", "H3")[i % 2],
            span=spans[k],
            limit=limits.get(k, np.inf),
        )
        for i, k in enumerate(kinds)
    )
    share = np.exp(rng.normal(0, 1, rows))
    lines = [Row("", "nothing wrong", 0.004 * share[1:].sum())]
    lines += [Row(f"P{r // 3}", f"way {r % 3}", float(share[r])) for r in range(1, rows)]
    return Outlook(tuple(lines), names, value, rng.random((rows, columns)) < 0.02)


def solved(name: str) -> Outlook:
    """The outlook of a starting sheet, or of the large one beside this file, as a job has it."""
    from halfsplit.jobs.table import Table
    from halfsplit.jobs.weigh import make_suspects

    circuit = circuit_of(name)
    table = Table(circuit, make_suspects(circuit))
    live = [table.live(c) for c in table.conditions() if c.powered]
    return table.outlook([table.cold(), table.alone(), *live])


def taken(outlook: Outlook, count: int, row: int, seed: int = 3) -> list[Reading]:
    """Readings of one unit with this fault, at places drawn at random."""
    rng = np.random.default_rng(seed)
    shown = outlook.value[row, :, outlook.value.shape[2] // 3]
    places = [int(c) for c in rng.permutation(len(outlook.columns)) if not np.isnan(shown[c])][:count]
    return [Reading(c, float(shown[c] * (1 + 0.005 * rng.standard_normal()))) for c in places]


def entry(outlook: Outlook, readings: Sequence[Reading]) -> list[tuple[str, float, float]]:
    """All that one entry costs: (stage, CPU s, wall s) in the order in which a job asks."""
    prices, out = Prices(now="dead"), []
    post: Any = None
    found: Any = ()

    def step(name: str, call: Callable[[], Any]) -> Any:
        cpu, wall = time.process_time(), time.perf_counter()
        got = call()
        out.append((name, time.process_time() - cpu, time.perf_counter() - wall))
        return got

    post = step("posterior", lambda: posterior(outlook, readings))
    found = step("next readings", lambda: next_readings(outlook, post, prices=prices, most=MOST))
    step("round", lambda: round_of(outlook, post, prices=prices, found=found))
    step("verdict", lambda: verdict(outlook, post, found))
    return out


def lines_of(name: str, outlook: Outlook, counts: Sequence[int], runs: int) -> list[str]:
    """Markdown lines of one outlook, one a number of readings."""
    rows, columns, draws = outlook.value.shape
    out = []
    for count in counts:
        readings = taken(outlook, count, row=rows // 3)
        entry(outlook, readings)
        every = [entry(outlook, readings) for _ in range(runs)]
        cells = [f"{1e3 * min(run[i][1] for run in every):.0f}" for i in range(len(STAGES))]
        cpu = [1e3 * sum(x[1] for x in run) for run in every]
        wall = [1e3 * sum(x[2] for x in run) for run in every]
        cells += [f"{min(cpu):.0f}", f"{statistics.median(cpu):.0f}", f"{min(wall):.0f}", f"{statistics.median(wall):.0f}"]
        out.append(f"| {name} | {rows} x {columns} x {draws} | {count} | " + " | ".join(cells) + " |")
    return out


def main(argv: Sequence[str] | None = None) -> int:
    """Measure and print."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("outlooks", nargs="*", default=["synthetic", *REAL])
    ask.add_argument("--readings", type=int, nargs="*", default=[0, 8, 15, 20])
    ask.add_argument("--runs", type=int, default=9)
    ask.add_argument("--profile", action="store_true")
    got = ask.parse_args(argv)
    head = ["outlook", "rows x columns x draws", "readings", *STAGES, "CPU least", "CPU median", "wall least", "wall median"]
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    for name in got.outlooks:
        outlook = synthetic() if name == "synthetic" else solved(name)
        if got.profile:
            readings = taken(outlook, max(got.readings), len(outlook.rows) // 3)
            profile = cProfile.Profile()
            profile.runcall(lambda o=outlook, r=readings: [entry(o, r) for _ in range(3)])
            pstats.Stats(profile).sort_stats("tottime").print_stats(25)
            continue
        lines += lines_of(name, outlook, got.readings, got.runs)
    print("\n".join(lines))
    return 0


if __name__ == "__main__":
    sys.exit(main())
