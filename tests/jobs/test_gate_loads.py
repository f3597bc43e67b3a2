"""What unplugging a load takes off the watts that the isolation transformer has to carry."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.kit import Kit
from halfsplit.jobs.standing import Standing
from halfsplit.jobs.table import Table


def gate(*parts: Part, cold: frozenset[str] = frozenset()) -> Gate:
    """A 230 V set of 355 W on a 250 VA isolation transformer."""
    circuit = Circuit(Unit("laminator", 230.0, 50.0, "I", 355.0), parts, {"hot": "N"}, cold_claims=cold)
    table = cast(Table, SimpleNamespace(circuit=circuit))
    standing = cast(Standing, SimpleNamespace(unplugged=frozenset()))
    return Gate(standing, table, Kit(rating=600.0, category=2, isolation=250.0), np.ones(1), 0.0)


def load(family: str, nets: str, **values: float) -> Part:
    return Part("X1", family, dict(zip("ab", nets.split(), strict=True)), values)


def test_a_mains_heater_counts_with_its_watts():
    """350 W of 230 V: unplugged, the rest fits."""
    g = gate(load("heater", "L N", ohms=230.0**2 / 350))
    assert g.watts(frozenset({"X1"})) == 10.0  # never less than ten
    assert g.to_unplug() == {"X1"}


def test_a_lamp_of_low_volts_counts_with_its_own():
    """24 V 5 W in a chain on the mains is 5 W, not 230 V squared over its 115 ohm."""
    g = gate(load("lamp", "L x", ohms=24.0**2 / 5, volts=24.0))
    assert g.watts(frozenset({"X1"})) == pytest.approx(350.0)
    assert g.to_unplug() == frozenset()


@pytest.mark.parametrize("family", ["motor", "heater", "lamp"])
def test_a_load_on_the_cold_side_takes_nothing_off(family):
    """A 40 ohm pump behind the transformer is not 1300 W: without it the set is as heavy as its label, and doesn't fit."""
    g = gate(load(family, "+12 0V", ohms=40.0), cold=frozenset({"+12", "0V"}))
    assert g.watts(frozenset({"X1"})) == 355.0
    assert g.to_unplug() == frozenset()
