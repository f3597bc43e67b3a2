"""Isolated islands, floating nets, and what the 10 Mohm meter makes of them."""

from __future__ import annotations

import numpy as np
import pytest

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.build import _only, _pairs, _tile, draw, live_read
from halfsplit.diagnosis.columns import make_column
from halfsplit.diagnosis.suspects import suspects
from halfsplit.solver.loading import thevenin
from halfsplit.solver.network import INSULATION, build_network
from solver.rig import bench_supply, circuit, failed, part, read, run


def shown(s, c, red: str, black: str, function: str = "v") -> float:
    """What the meter shows of a solved set."""
    return float(live_read(s, [make_column(function, red, black, "on", where=red)], c.unit.hertz)[0][0, 0])


def flyback(volts: float = 230.0, hertz: float = 50.0):
    return start_circuit("flyback with controller 16/10V; out 24V 1.5A", Unit("set", volts, hertz, "II", 40.0))


def test_an_isolated_island_has_finite_volts():
    """A secondary that nothing ties down, and a part on nets of its own, read finite volts against the mains side; with the
    meter, few."""
    c = circuit(
        part("T", "transformer", "L N a b", volts=120.0, out=12.0),
        part("R", "resistor", "a b", ohms=100.0),
        part("RX", "resistor", "x y", ohms=100.0),
    )
    s = run(c)
    for net in ("a", "b", "x", "y"):
        assert abs(read(s, net, "N")) < 100.0 and abs(read(s, net, "N", "ac")) < 100.0
        assert abs(shown(s, c, net, "N")) < 0.5 and shown(s, c, net, "N", "ac") < 1.0
    assert read(s, "a", "b", "ac") == pytest.approx(12.0, rel=0.05)


def test_a_cold_rail_against_the_hot_ground_reads_far_from_its_volts():
    """The classic wrong ground: 24 V of a cold rail read against hot minus shows nothing like 24 V DC (common practice)."""
    c = flyback()
    s = run(c)
    assert shown(s, c, "out", "0V") == pytest.approx(24.0, rel=0.05)
    assert abs(shown(s, c, "out", "hot-")) < 10.0  # half the mains peak behind 200 Mohm, seen by 10 Mohm: 7.3 V (computed)


@pytest.mark.parametrize("function", ["v", "ac"])
def test_a_lifted_leg_reads_next_to_nothing(function):
    """Behind a contact that is open (1 Gohm) or a blocked junction (2 Gohm) a loose leg floats to the full volts by arithmetic;
    the meter's 10 Mohm pull it down to a hundredth."""
    if function == "ac":
        c = circuit(part("S", "switch", "L loose"), volts=230.0, hertz=50.0)
        s = run(c, failed(c, "S", "open"))
        full = 230.0
    else:
        c = circuit(*bench_supply(325.0), part("D", "diode", "loose V+"), volts=300.0)
        s = run(c, failed(c, "D", "open"))
        full = 325.0
    assert read(s, "loose", "N", function) == pytest.approx(full, rel=0.01)
    assert 0.0 < shown(s, c, "loose", "N", function) < 0.011 * full


def test_source_resistance_of_plain_networks():
    """Thevenin resistance of dividers and of an RC, at DC and at 50 Hz, against hand formulae; a stiff source shows none."""
    c = circuit(
        *bench_supply(100.0),
        part("RT", "resistor", "V+ m", ohms=1e6),
        part("RB", "resistor", "m N", ohms=3e6),
        part("RC", "resistor", "V+ k", ohms=1e6),
        part("C", "capacitor", "k N", farads=10e-9),
        volts=230.0,
        hertz=50.0,
    )
    s = run(c)
    pairs = [("m", "N"), ("k", "N"), ("V+", "N"), ("m", "k")]
    dc, ac = thevenin(s.solved, pairs, 0.0)[0], thevenin(s.solved, pairs, 50.0)[0]
    assert dc[0].real == pytest.approx(0.75e6, rel=0.01) and dc[1].real == pytest.approx(1e6, rel=0.01)
    assert abs(dc[2]) < 10.0
    assert dc[3].real == pytest.approx(1.75e6, rel=0.01)
    assert ac[1] == pytest.approx(1 / (1e-6 + 2j * np.pi * 50 * 10e-9), rel=0.01)


def test_loading_does_not_touch_ordinary_rails():
    """Rail, bulk and Vcc of a running converter read the same with and without the meter, to 1 %; a divider of megohms does
    not."""
    c = flyback()
    s = run(c)
    for red, black in (("out", "0V"), ("bulk", "hot-"), ("vcc", "hot-"), ("ref", "0V")):
        assert shown(s, c, red, black) == pytest.approx(read(s, red, black), rel=0.01)


def test_what_leaks_is_the_same_whoever_sits_in_the_batch():
    """The leak of an isolated side hangs at its return, alone or beside units in which other parts are open; taken to a switched rail it drove 0.7 uA
    through the circuit, and a dead rail stood at 0.1 V in one batch and at nothing in the next."""
    line = "flyback with controller 16/10V; out 24V 1.5A"
    c = start_circuit(line, Unit("set", 230.0, 50.0, "II", 45.0), ())
    rows = suspects(c)
    drawn = draw(c, rows, draws=1, times=1)
    for some in ([0], [0, 5], list(range(len(rows)))):
        network = build_network(c, _only(_tile(drawn, _pairs(some, [0])), c), len(some), powered=True)
        name = {at: net for net, at in network.nets.items()}
        leaks = np.flatnonzero(network.lin[1][0] == 1 / INSULATION)
        found = [{name[int(n)] for n in network.pattern.ends[0][e, :2]} for e in leaks]
        assert found == [{"0V", "N"}]
