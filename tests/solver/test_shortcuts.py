"""What the solver spares itself must not show: neighbours' starts, borrowed sensitivities, few steps in time, bypassed devices, threads."""

from __future__ import annotations

import numpy as np
import pytest

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis import build
from halfsplit.diagnosis.columns import Condition
from halfsplit.diagnosis.suspects import suspects
from halfsplit.solver import cold
from halfsplit.solver.network import build_network
from halfsplit.solver.powered import Powered, solve_powered
from halfsplit.solver.tape import make_tape
from solver.rig import circuit, part, values_of

ON = Condition(True)
LINES = {
    "linear 12V 1A, 5V 0.3A": Unit("radio", 230.0, 50.0, "II", 30.0),
    "flyback with controller 16/10V; out 24V 1.5A": Unit("label printer", 230.0, 50.0, "II", 45.0),
}


def both_ways(line: str, part_ref: str, way: str, draws: int) -> tuple[Powered, Powered]:
    """All draws of one fault, begun from neighbours and begun from nothing."""
    c = start_circuit(line, LINES[line], ())
    kept = [s for s in suspects(c) if s.part is None or (s.part.ref, s.way.name) == (part_ref, way)]
    assert len(kept) == 2
    drawn = build.draw(c, kept, draws=draws, times=1)
    nominal = build.solve_nominal(c, drawn, ON)
    units = build.solve_rows(c, drawn, ON, build._pairs([0], range(draws)), start=nominal, rows=np.zeros(draws, np.int64))
    pairs = build._pairs([1], range(draws))
    near = build.solve_rows(c, drawn, ON, pairs, start=nominal, rows=pairs[:, 0], units=units)
    return near, build.solve_rows(c, drawn, ON, pairs)


@pytest.mark.parametrize(
    ("line", "ref", "way"),
    [
        ("linear 12V 1A, 5V 0.3A", "transformer", "primary-open"),
        ("linear 12V 1A, 5V 0.3A", "reservoir", "dried"),
        ("flyback with controller 16/10V; out 24V 1.5A", "bulk-cap", "dried"),
        ("flyback with controller 16/10V; out 24V 1.5A", "start-up-R", "up"),
        ("flyback with controller 16/10V; out 24V 1.5A", "bulk-cap", "open"),
    ],
)
def test_where_the_search_begins_does_not_show(line, ref, way):
    """Every net of every draw reads the same whether begun from neighbours or from empty capacitors: 0.2 %, and 10 mV, which is what a dead
    rail on leaks may keep."""
    near, nothing = both_ways(line, ref, way, 6)
    assert near.ok.all() and nothing.ok.all()
    for name in near.modes:
        np.testing.assert_array_equal(near.modes[name], nothing.modes[name])
    for net in near.solved.network.nets:
        for function in ("v", "ac"):
            np.testing.assert_allclose(
                near.reading(net, "N", function), nothing.reading(net, "N", function), rtol=2e-3, atol=0.01
            )


def test_a_converter_without_its_bulk_keeps_its_fuse():
    """Where the rectified mains falls to nothing, a step is hard to find; half-way volts must not count as current in the fuse."""
    near, _ = both_ways("flyback with controller 16/10V; out 24V 1.5A", "bulk-cap", "open", 2)
    assert (near.modes["fuse"] == 0.0).all()


def test_a_capacitor_on_a_node_that_no_device_touches_charges_as_it_should():
    """Its node is eliminated beforehand, once for each length of step; 10 uF behind 1 Mohm and 4.7 Mohm, read on the 6 Mohm range after 3 s."""
    c = circuit(
        part("R1", "resistor", "a b", ohms=1e6),
        part("R2", "resistor", "b N", ohms=4.7e6),
        part("C", "electrolytic", "b N", farads=1e-5, esr=0.1, leak=1e12),
        part("R3", "resistor", "a N", ohms=20e6),
    )
    network = build_network(c, values_of(c), 1, powered=False, pairs=[("a", "N")])
    shown, failed = cold.cold_readings(network, [cold.ColdAsk(0, "a", "N", "r")])
    assert not failed.any()
    # by hand: the meter's 0.5 V behind the range's 6 Mohm; the node a is a divider at every moment, b charges towards its end
    h, vb, at = 1e-3, 0.0, {}
    for k in range(1, 15001):
        va = (0.5 / 6e6 + vb / 1e6) / (1 / 6e6 + 1 / 1e6 + 1 / 20e6)
        vb += h / 1e-5 * ((va - vb) / 1e6 - vb / 4.7e6)
        at[k] = 6e6 * va / (0.5 - va)
    np.testing.assert_allclose(shown[0], [at[3000], at[15000]], rtol=0.01)


@pytest.mark.parametrize("at", [3.0, 15.0])
def test_few_steps_charge_any_capacitor_right(at):
    """The steps of a cold reading against 1 - exp(-t/RC), RC from a millisecond to hours: 0.6 %, where 34 steps
    growing from 2 ms had 0.8 %."""
    tau = np.logspace(-3, 4, 200)
    x = last = np.zeros(200)
    for h, near, far, _ in cold._grid((at,)):
        x, last = (near * x - far * last + h / tau) / (1.0 + h / tau), x
    np.testing.assert_allclose(x, -np.expm1(-at / tau), rtol=6e-3)
    assert len(cold._grid((at,))) < 14


def test_late_nodes_are_eliminated_last():
    """Nodes that change stand behind all others, whatever their degree."""
    tape = make_tape(5, {(0, 1), (1, 2), (2, 3), (3, 4)}, {0, 2})
    assert set(tape.order[-2:]) == {0, 2} and tape.arrays[-1][0] == 3


def test_impedances_agree_with_a_dense_solution():
    """Elimination along the tape against a dense inverse of the same ladder, pairs side by side and far apart."""
    ohms = [10.0, 220.0, 4.7e3, 33.0, 1e6]
    c = circuit(*(part(f"R{i}", "resistor", f"n{i} n{i + 1}", ohms=r) for i, r in enumerate(ohms)))
    network = build_network(c, values_of(c), 1, powered=False)
    pairs = [(f"n{i}", f"n{j}") for i in range(6) for j in range(i + 1, 6)]
    want = [sum(ohms[int(a[1:]) : int(b[1:])]) for a, b in pairs]
    np.testing.assert_allclose(cold.impedance(network, 50.0, pairs)[0].real, want, rtol=2e-3)


def test_batches_are_the_same_on_any_number_of_threads(monkeypatch):
    """Every variant is solved, in its own place, to the last digit the same: who sits beside whom doesn't hang on the threads."""
    c = circuit(part("D", "diode", "L a"), part("C", "electrolytic", "a N", farads=1e-4), part("R", "resistor", "a N"))
    values = values_of(c, 300, R={"ohms": np.linspace(500.0, 5e3, 300)})
    monkeypatch.setattr("numba.get_num_threads", lambda: 1)
    whole = solve_powered(c, values, 300).reading("a", "N", "v")
    monkeypatch.setattr("numba.get_num_threads", lambda: 4)
    np.testing.assert_array_equal(solve_powered(c, values, 300).reading("a", "N", "v"), whole)
    assert (np.diff(whole) > 0).all()
