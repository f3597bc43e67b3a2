"""Phase control on its starting sheet: the solver and the judge read it alike, knob at rest, half-way and all the way.

SOURCE  an independent circuit simulator in whose deck time runs as on the board: diac and triac are switches with memory (tests/robot/judge/firing.py,
        from docs/families.md); nothing in it knows of steps of a cycle or of moments.
TAKEN   of each fault all that is offered while on. With a heater: with a motor, whose coils are currents in the judge's deck, one run in three ends
        on too small a step; those that ran agreed as well (perf/README.md). A shorted heater is left out: at 0.89 of what opens its fuse the judge's
        first cycles open it. So is an open timing capacitor, which goes to and fro with its diac at megahertz there.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

import pytest
from comparing import Cell, compare, different, line

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit

FAULTS = [
    ("triac", "short"), ("triac", "half-wave"), ("triac", "open"), ("diac", "short"), ("diac", "open"), ("timing-C", "leaky"), ("fixed-R", "up"),
    ("speed-pot", "dirty"), ("snubber-C", "open"),
]
# Where no triac answers its diac, the capacitor goes to and fro with it, faster than a step: a convention of the page (4 % of the capacitor's volts, tens
# of millivolts in hundreds at the gate)
TO_AND_FRO = {("triac", "open", "time"), ("triac", "open", "gate")}


def jitters(cell: Cell) -> bool:
    """AC volts of the judge that are there, though its moments of firing still move from cycle to cycle: by less than a per cent of the load's volts, more at
    the timing capacitor."""
    return not cell.counts and cell.column.function == "ac" and math.isfinite(cell.judge.value) and not cell.judge.pulsing


@pytest.mark.parametrize(("volts", "hertz"), [(230.0, 50.0), (120.0, 60.0)])
def test_the_solver_and_the_judge_read_it_alike(volts: float, hertz: float) -> None:
    """None that stands differs by more than 1 % or two counts, AC by 3 %; the load's AC where it jitters by 3 % as well, all else that jitters by 5 %."""
    circuit = start_circuit("phase control; heater 500W", Unit("x", volts, hertz, "II", 0.0))
    cells = compare(circuit, faults=FAULTS, states=("on", "on+full", "on+half"), part="heater")
    taken = [c for c in cells if c.counts or jitters(c)]
    assert {(c.fault, c.column.state) for c in taken} == {(c.fault, c.column.state) for c in cells}
    assert len(taken) > 0.97 * len(cells)
    wild = [c for c in taken if jitters(c) and abs(c.ours - c.judge.value) > (0.03 if c.column.red == "run" else 0.05) * c.judge.value + 0.05]
    odd = [c for c in (*different(cells), *wild) if (*c.fault, c.column.red) not in TO_AND_FRO]
    assert [line(c) for c in odd] == []
