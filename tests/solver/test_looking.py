"""What a driver chip sees when it looks out of its pins, and what a held MAX saw before it latched.

By hand: a freewheel diode from drain to bulk takes the coil's current over; open or turned round it doesn't, and a chip without one
gives nothing. 1.23 V x (1 + 330/9.1) = 45.8 V is where the step-up chip gives up.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from halfsplit.circuit.model import Circuit, Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.suspects import nominal
from halfsplit.solver.first_moments import held_max, latches_of
from halfsplit.solver.looking import conducts
from halfsplit.solver.network import build_network
from halfsplit.solver.powered import solve_powered

DRIVER = start_circuit("LED driver 72V 240mA", Unit("lamp", 230.0, 50.0, "II", 20.0))
BOOST = start_circuit("LED boost; adapter 12V; out 37V 180mA", Unit("table", 120.0, 60.0, "III", 10.0))


def values(circuit: Circuit, batch: int, **changed: tuple[str, list[float]]) -> dict[str, dict[str, np.ndarray]]:
    """Marked values; changed: part with _ for - -> (parameter, one value a row)."""
    out = {p.ref: {k: np.full(batch, float(x)) for k, x in nominal(p).items()} for p in circuit.parts}
    for ref, (name, x) in changed.items():
        out[ref.replace("_", "-")][name] = np.array(x)
    return out


def test_a_freewheel_diode_is_seen_and_an_open_one_is_not() -> None:
    v = values(DRIVER, 2, freewheel=("path", [1.0, 0.0]))
    network = build_network(DRIVER, v, 2, powered=False)
    assert conducts(network, "drain", "bulk").tolist() == [True, False]
    assert conducts(network, "bulk", "drain").tolist() == [False, False]


def test_a_diode_that_is_turned_round_or_lifted_is_not_seen() -> None:
    turned = tuple(replace(p, pins={"a": "bulk", "k": "drain"}) if p.ref == "freewheel" else p for p in DRIVER.parts)
    lifted = tuple(p for p in DRIVER.parts if p.ref != "freewheel")
    for parts in (turned, lifted):
        circuit = DRIVER.with_parts(parts)
        assert not conducts(build_network(circuit, values(circuit, 1), 1, powered=False), "drain", "bulk")[0]


def test_without_its_freewheel_diode_the_driver_gives_nothing() -> None:
    solved = solve_powered(DRIVER, values(DRIVER, 2, freewheel=("path", [1.0, 0.0])), 2)
    assert solved.ok.all()
    np.testing.assert_allclose(solved.reading("bulk", "out-", "v"), [72.0, 0.0], atol=0.3)


def test_the_string_gets_half_the_trip_volts_over_the_sense_resistor() -> None:
    """0.4 V/(2 x 0.82 ohm) = 244 mA; 300 ohm in place of the string: 73.2 V."""
    string = {"plug-plus", "plug-minus"}
    dummy = replace(DRIVER.part("bleed-R"), values={"ohms": 300.0, "watts": 25.0})
    parts = tuple(dummy if p.ref == "bleed-R" else p for p in DRIVER.parts if p.ref not in string and p.family != "led")
    circuit = DRIVER.with_parts(parts)
    assert solve_powered(circuit, values(circuit, 1), 1).reading("bulk", "out-", "v")[0] == pytest.approx(73.2, rel=0.015)


def test_max_shows_what_ran_before_it_latched() -> None:
    solved = solve_powered(BOOST, values(BOOST, 3, plug_minus=("ohms", [0.01, 1e9, 0.01]), controller=("alive", [1.0, 1.0, 0.0])), 3)
    np.testing.assert_allclose(solved.reading("out", "0V", "v"), [37.2, 11.9, 11.9], rtol=0.01)
    np.testing.assert_allclose(held_max(solved, "out", "0V", latches_of(BOOST)), [37.2, 45.9, 11.9], rtol=0.01)
