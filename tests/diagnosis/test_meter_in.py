"""Behind a gigohm the meter is part of the circuit: its 10 Mohm decide whether a junction conducts."""

from __future__ import annotations

import numpy as np
import pytest

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.build import METER_OHMS
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import make_suspects


def test_the_base_behind_an_open_resistor_shows_what_ohms_law_leaves_to_the_meter():
    """Ohm's law: 5 V through the open resistor's 1 Gohm into the meter's 10 Mohm are 49.5 mV, far too little for the junction; without
    the meter the base would float up to some 0.3 V."""
    circuit = start_circuit("dropper, 24V relay board; heater 580W", Unit("bread maker", 230.0, 50.0, "I", 600.0), ())
    table = Table(circuit, make_suspects(circuit))
    row = next(i for i, s in enumerate(table.suspects) if (s.row.part, s.row.way) == ("driver-R", "open"))
    pressed = next(c for c in table.conditions() if c.powered and c.pressed)
    block = table.live(pressed)
    at = next(j for j, c in enumerate(block.columns) if c.function == "v" and c.red == "base")
    five = next(j for j, c in enumerate(block.columns) if c.function == "v" and c.red == "+5")
    draws = table.drawn.draws
    expected = block.value[row, five, :draws] * METER_OHMS / (1e9 + METER_OHMS)
    assert block.value[row, at, :draws] == pytest.approx(expected, rel=0.1)
    assert np.all(block.value[0, at] > 0.6)  # healthy, the junction conducts
