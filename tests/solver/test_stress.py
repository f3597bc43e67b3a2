"""What parts are put to, as their families work it out from their volts, against the same from the rest of the circuit."""

from __future__ import annotations

import numpy as np
import pytest

from halfsplit.circuit.model import Circuit
from halfsplit.parts import family_of
from halfsplit.solver.powered import Probe
from solver.rig import circuit, part, read, run, values_of


def stress(c: Circuit, ref: str, rating: str) -> float:
    """The family's own figure for one part of a settled set."""
    values = values_of(c)
    solved = run(c, values)
    found = dict(family_of(c.part(ref)).ratings)[rating]
    return float(np.asarray(found(Probe(solved.solved, c, c.part(ref), values), values[ref]))[0])


def on(volts: float, *parts: object) -> Circuit:
    supply = part("B", "battery", "V+ N", volts=volts, ohms=1e-3)
    return circuit(supply, part("R0", "resistor", "L N", ohms=1e6), *parts)  # type: ignore[arg-type]


@pytest.mark.parametrize(("ohms", "drop", "amps"), [(1e3, 1.9, 0.02), (150.0, 3.1, 0.06), (47.0, 9.3, 0.1)])
def test_amps_of_an_led_are_those_of_its_resistor(ohms, drop, amps):
    """One loop, one current: volts across the resistor over its ohms."""
    c = on(12.0, part("R", "resistor", "V+ a", ohms=ohms), part("D", "led", "a N", drop=drop, amps=amps))
    assert stress(c, "D", "amps") == pytest.approx(read(run(c), "V+", "a") / ohms, rel=0.01)


@pytest.mark.parametrize("ohms", [22.0, 47.0])
def test_a_tvs_at_its_steady_watts_is_at_its_marking(ohms):
    """What flows through the resistor heats it; 120 times that, in terms of the 600 W of its pulse (5 W steady)."""
    c = on(24.0, part("R", "resistor", "V+ k", ohms=ohms), part("D", "tvs", "N k", volts=15.0))
    s = run(c)
    assert stress(c, "D", "watts") == pytest.approx(120.0 * read(s, "k", "N") * read(s, "V+", "k") / ohms, rel=0.03)


def test_a_tvs_that_blocks_is_put_to_nothing():
    """Under its stand-off volts no power at all."""
    c = on(12.0, part("R", "resistor", "V+ k", ohms=47.0), part("D", "tvs", "N k", volts=15.0))
    assert stress(c, "D", "watts") == 0.0


def test_x_and_y_capacitors_are_stressed_in_rms_and_a_ceramic_in_peak_volts():
    """120 V of mains across each: 120 rms, 170 peak."""
    for family, expected in (("x-cap", 120.0), ("y-cap", 120.0), ("ceramic", 170.0)):
        c = circuit(part("C", family, "L N", farads=1e-7))
        assert stress(c, "C", "volts") == pytest.approx(expected, rel=0.01)
