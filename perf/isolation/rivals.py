"""What else could be done on the same boards: half-splitting, the priors alone, and a dictionary with a planner that looks two steps ahead."""

from __future__ import annotations

import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from perf.isolation.case import Case
from perf.isolation.dictionary import Table, table_of, work_dictionary
from perf.isolation.draw import Lot, come_in, kept
from perf.isolation.fingers import Planned, PlannedHands
from perf.isolation.scoring import FLOOR, Claims, log_score, ranked

import judged
from bench import Bench
from costs import Clock
from groups import Groups
from halfsplitting import HalfSplitter
from hands import Hands
from meter import NO_SLIPS, Slips, draw_meter

WHOLE = frozenset({"single", "double", "healthy", "slip-one", "slip-3"})  # the sheet is the board: rivals work on these
MOST_FAULTS = 60  # larger circuits cost the simulator a quarter of an hour for one dictionary
Result = dict[str, Any]


def hands_for(case: Case, bench: Bench, clock: Clock, rng: np.random.Generator) -> Hands:
    """The same clumsiness as the technician's."""
    meter = draw_meter(rng)
    if case.slip:
        return PlannedHands(bench, clock, meter, rng, Planned(case.slip, case.slip_at))
    rate = case.slips / 4.0
    return Hands(bench, clock, meter, Slips(rate, rate, rate, rate) if rate else NO_SLIPS, rng)


def half_splitting(case: Case, lot: Lot, folder: Path) -> Result | None:
    """Last good and first bad point; needs a chain from plug to load, which starting sheets have."""
    circuit = case.circuit
    if not circuit.chain:
        return None
    rng = np.random.default_rng([lot.seed, case.index, 2])
    bench = Bench(circuit, come_in(lot, circuit, case.flaws, case.seed))  # type: ignore[arg-type]
    good = Bench(circuit, kept(lot, circuit, (), case.seed + 1))  # type: ignore[arg-type]
    worker = HalfSplitter(bench, good, draw_meter(rng), rng, NO_SLIPS, complaint=case.symptom != "works now")
    worker.hands = hands_for(case, bench, worker.clock, rng)
    found = worker.work()
    return {"first": found.part == case.root, "no_answer": found.part is None, "minutes": found.clock.minutes,
            "readings": found.clock.readings, "live_hot": found.clock.live_hot}


def priors_only(case: Case, claims: Claims) -> Result:
    """The tool's own odds after the three lines, before any reading."""
    order = ranked(claims)
    return {"first": order[:1] == [case.root], "three": case.root in order[:3], "log": log_score(claims, case.root),
            "minutes": 0.0, "readings": 0, "live_hot": 0}


def dictionary(case: Case, lot: Lot, folder: Path) -> Result | None:
    """Gaussian odds over the judge's own nominal readings, next reading by two steps ahead."""
    circuit = case.unsaid
    if not circuit.chain or len(judged.faults(circuit)) > MOST_FAULTS:
        return None
    table: Table = table_of(Groups(circuit, judged.make, judged.faults, folder / "tables"))
    rng = np.random.default_rng([lot.seed, case.index, 3])
    bench, clock = Bench(circuit, come_in(lot, circuit, case.flaws, case.seed)), Clock()  # type: ignore[arg-type]
    odds = work_dictionary(table, bench, clock, hands_for(case, bench, clock, rng), complaint=case.symptom != "works now")
    order = sorted(odds, key=lambda k: -odds[k])
    return {"first": order[0] == case.root, "three": case.root in order[:3], "log": math.log(max(odds.get(case.root, 0.0), FLOOR)),
            "minutes": clock.minutes, "readings": clock.readings, "live_hot": clock.live_hot}


RIVALS: dict[str, Callable[[Case, Lot, Path], Result | None]] = {"half-splitting": half_splitting, "dictionary": dictionary}
