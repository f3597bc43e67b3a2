"""How long the search goes on, and how right it is: the planner on units drawn from the engine's own model with another seed.

    python perf/stops.py flyback linear dropper --units 40

No simulator: the unit's readings are the engine's own solution with fresh tolerances and severities, so this says nothing of what the
model leaves out; it shows what the planner does with the luck of its draws. Cold and live readings, prices and stops as on a job, hazards
priced but nothing forbidden. Faults are drawn evenly over parts, then over ways of failing. A reading is off by half a per cent.
"""

from __future__ import annotations

import argparse
import pickle
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))
from sweep import circuit_of

from halfsplit.diagnosis import build
from halfsplit.diagnosis.columns import ALONE, DEAD
from halfsplit.diagnosis.groups import group_of
from halfsplit.diagnosis.outlook import Outlook, Reading
from halfsplit.diagnosis.planner import next_readings
from halfsplit.diagnosis.posterior import posterior
from halfsplit.diagnosis.proposal import Prices
from halfsplit.diagnosis.rounds import MOST, round_of
from halfsplit.diagnosis.verdict import verdict
from halfsplit.jobs.advice import CYCLE_MINUTES, DISCHARGE_MINUTES, REFIT_MINUTES, TOO_DEAR

LONGEST = 60  # readings; a search that goes on so long is given up
TRUTH_SEED, TRUTH_DRAWS = 99, 24


def both(name: str) -> tuple[Outlook, Outlook]:
    """The engine's outlook of a sheet, and one with other units and severities."""
    from halfsplit.jobs.table import Solved, Table
    from halfsplit.jobs.weigh import make_suspects

    circuit = circuit_of(name)
    rows = make_suspects(circuit)
    out = []
    for other in (False, True):
        table = Table(circuit, rows)
        if other:
            table.solved = Solved(build.draw(circuit, rows, draws=TRUTH_DRAWS, times=1, seed=TRUTH_SEED))
        out.append(table.outlook([table.cold(), table.alone(), *(table.live(c) for c in table.conditions() if c.powered)]))
    assert [c.key for c in out[0].columns] == [c.key for c in out[1].columns]
    return out[0], out[1]


@dataclass(frozen=True)
class Ended:
    """One search. odds: of the true part at the end. alike: odds of it with what no reading tells from it."""

    row: int
    kind: str
    readings: int
    alone: int
    minutes: float
    first: bool
    odds: float
    alike: float


def prices_at(now: str, outlook: Outlook) -> Prices:
    """As advice.prices_of has them, for a set that stands whole on the bench."""
    dead = 0.0 if now.startswith((DEAD, ALONE)) else DISCHARGE_MINUTES
    refit = REFIT_MINUTES if now == ALONE else 0.0
    change = {}
    for state in {c.state for c in outlook.columns}:
        if state.startswith(DEAD):
            change[state] = dead + refit
        elif state == ALONE:
            change[state] = dead + REFIT_MINUTES
        else:
            change[state] = 0.2 if not now.startswith((DEAD, ALONE)) else CYCLE_MINUTES + refit
    return Prices(now=now, change=change)


def search(outlook: Outlook, truth: Outlook, row: int, unit: int, seed: int) -> Ended:
    """Read what is proposed until the verdict stands."""
    rng = np.random.default_rng(seed)
    shown, moves = truth.value[row, :, unit], truth.pulsing[row]
    readings: list[Reading] = []
    now, minutes, kind = DEAD, 0.0, "given up"
    unsaid = {i for i in range(len(outlook.columns)) if np.isnan(shown[i])}
    while len(readings) < LONGEST:
        post = posterior(outlook, readings)
        available = [i for i in range(len(outlook.columns)) if i not in unsaid]
        prices = prices_at(now, outlook)
        found = next_readings(outlook, post, prices=prices, available=available, most=MOST)
        if found and found[0].rate < TOO_DEAR:
            found = ()
        say = verdict(outlook, post, found, available=available)
        chosen = round_of(outlook, post, prices=prices, found=found) if say.kind == "go on" and found else ()
        if not chosen:
            kind = say.kind
            break
        for p in chosen:
            column = outlook.columns[p.column]
            if column.state == ALONE and outlook.columns[chosen[0].column].part != column.part:
                continue
            minutes += prices_at(now, outlook).of(column)
            now = column.state
            x = float(shown[p.column] * (1 + 0.005 * rng.standard_normal()))
            readings.append(Reading(p.column, x, bool(moves[p.column]) and column.function in ("v", "ac")))
    post = posterior(outlook, readings)
    part = outlook.rows[row].part
    odds = post.part_odds.get(part, 0.0) if part else post.nothing_wrong
    group = {outlook.rows[r].part for r in group_of(outlook, post, row, range(len(outlook.columns)))}
    together = sum(post.part_odds.get(p, 0.0) if p else post.nothing_wrong for p in group)
    first = max([*post.part_odds.values(), post.nothing_wrong]) <= odds
    alone = sum(outlook.columns[r.column].state == ALONE for r in readings)
    return Ended(row, kind, len(readings), alone, minutes, first, odds, together)


def faults_of(outlook: Outlook, units: int, seed: int) -> list[tuple[int, int]]:
    """(row, unit) of so many boards: every part in its turn, then one of its ways."""
    rng = np.random.default_rng(seed)
    parts = sorted({r.part for r in outlook.rows if r.part})
    ways = {p: [i for i, r in enumerate(outlook.rows) if r.part == p] for p in parts}
    order = [parts[i] for _ in range(-(-units // len(parts))) for i in rng.permutation(len(parts))][:units]
    return [(int(rng.choice(ways[p])), int(rng.integers(1, TRUTH_DRAWS))) for p in order]


def line_of(name: str, ended: Sequence[Ended]) -> str:
    """One line of the table."""
    readings, minutes = np.array([e.readings for e in ended]), np.array([e.minutes for e in ended])
    loss = float(np.mean([-np.log(max(e.odds, 1e-6)) for e in ended]))
    shared = float(np.mean([-np.log(max(e.alike, 1e-6)) for e in ended]))
    kinds = {k: sum(e.kind == k for e in ended) for k in sorted({e.kind for e in ended})}
    return (
        f"| {name} | {len(ended)} | {readings.mean():.1f} | {np.quantile(readings, 0.9):.0f} | {readings.max()} | "
        f"{np.mean([e.alone for e in ended]):.2f} | {np.median(minutes):.1f} | {minutes.mean():.1f} | {np.quantile(minutes, 0.9):.1f} | "
        f"{100 * np.mean([e.first for e in ended]):.0f} % | {loss:.2f} | {shared:.2f} | {', '.join(f'{k} {n}' for k, n in kinds.items())} |"
    )


def main(argv: Sequence[str] | None = None) -> int:
    """Search and print."""
    ask = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    ask.add_argument("circuits", nargs="*", default=["flyback", "linear", "dropper"])
    ask.add_argument("--units", type=int, default=40)
    ask.add_argument("--seed", type=int, default=7)
    ask.add_argument("--kept", type=Path, help="folder where solved tables are kept between runs")
    ask.add_argument("--each", action="store_true", help="one line a board as well")
    got = ask.parse_args(argv)
    head = ["start", "boards", "readings mean", "p90", "most", "alone mean", "minutes median", "mean", "p90", "first", "log loss"]
    head += ["log loss, alike shared", "ended as"]
    print("| " + " | ".join(head) + " |\n|" + "---|" * len(head), flush=True)
    for name in got.circuits:
        kept = got.kept / f"{name}-stops.pkl" if got.kept else None
        if kept is not None and kept.exists():
            outlook, truth = pickle.loads(kept.read_bytes())
        else:
            outlook, truth = both(name)
            if kept is not None:
                kept.write_bytes(pickle.dumps((outlook, truth)))
        ended = [search(outlook, truth, r, u, got.seed + k) for k, (r, u) in enumerate(faults_of(outlook, got.units, got.seed))]
        print(line_of(name, ended), flush=True)
        if got.each:
            for e in ended:
                r = outlook.rows[e.row]
                print(f"    {r.part} {r.way}: {e.kind}, {e.readings} ({e.alone} alone), {e.minutes:.0f} min, odds {e.odds:.2f}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
