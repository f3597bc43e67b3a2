"""Class-D stage and supply with two rails on their starting sheet: the solver and the judge read them alike.

SOURCE  an independent circuit simulator, given its own deck from docs/families.md (tests/robot/judge/class_d.py).
TAKEN   of each fault thirty readings drawn by lot, dead and on; what pulses is left out.
"""

from __future__ import annotations

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from comparing import compare, different, line

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit

FAULTS = [
    ("mute-R", "open"), ("high-switch", "open"), ("low-gate-R", "open"), ("boot-diode", "open"), ("boot-cap", "dried"), ("driver", "ho-short"),
    ("supply", "plus-open"), ("supply", "dead"), ("vcc-zener", "open"),
]


def test_the_solver_and_the_judge_read_the_stage_alike() -> None:
    """Of the settled readings none differs by more than 1 % or two counts (AC and ripple 3 %)."""
    circuit = start_circuit("class-D amplifier", Unit("x", 230.0, 50.0, "II", 200.0))
    cells = compare(circuit, faults=FAULTS, columns=30, seed=2)
    assert {c.fault for c in cells if c.counts} >= set(FAULTS)
    assert sum(c.counts for c in cells) > 300
    assert [line(c) for c in different(cells)] == []
