"""What a fault moves by millivolts is its own reading, not a copy of the healthy one."""

from __future__ import annotations

import numpy as np

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis import build
from halfsplit.diagnosis.columns import Condition
from halfsplit.jobs.table import Solved, Table
from halfsplit.jobs.weigh import make_suspects


def test_a_fault_that_moves_millivolts_has_its_own_reading() -> None:
    """A count of a 6 V range is 1 mV: no cell is further from the row's own solution than that and 0.4 %, on the drop across a fuse
    (9 mV healthy, 11 mV with a shorted rail) as on a rail."""
    circuit = start_circuit("linear 12V 1A, 5V 0.3A", Unit("radio", 230.0, 50.0, "II", 30.0), ())
    table = Table(circuit, make_suspects(circuit))
    table.solved = Solved(build.draw(circuit, table.suspects, draws=1, times=1))
    on = Condition(True)
    block = table.live(on)
    own, *_ = build.live_read(table.nominal(on), block.columns, 50.0)
    assert np.all(np.abs(block.value[:, :, 0] - own) <= 1e-3 + 0.004 * np.abs(own[0]))
    drop = [c.key for c in block.columns].index("on|ac|inlet|live")
    assert np.ptp(block.value[:, drop, 0][block.value[:, drop, 0] < 0.1]) > 2e-3
