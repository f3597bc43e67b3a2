"""Six numerical traps, each of which once produced plausible wrong numbers in a prototype; every one has its regression test."""

from __future__ import annotations

import math

import pytest

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.parts.stamper import VT
from halfsplit.solver.powered import solve_powered
from solver.lane_doors import diode_at, passes
from solver.rig import bench_supply, circuit, cold, failed, part, read, run, values_of

DROP, IDEALITY = 0.93, 1.9
ISAT = 1.0 / math.expm1(DROP / (IDEALITY * VT))


@pytest.mark.parametrize("volts", [1.5, 12.0, 100.0, 160.0])
@pytest.mark.parametrize("ohms", [10.0, 1e3, 1e5])
def test_1_limited_junction_does_not_converge_falsely(volts, ohms):
    """A junction that is being limited agrees with its own linear prediction; the answer must satisfy the junction's law instead
    (1.79 V was reported for 0.85). 0.3 % of the current, and 5e-5 V that Newton stops at, which is 0.1 % of it."""
    c = circuit(
        *bench_supply(volts),
        part("R", "resistor", "V+ a", ohms=ohms, watts=1e6),
        part("D", "diode", "a N", drop=DROP, ideality=IDEALITY),
    )
    s = run(c)
    drop = read(s, "a", "N")
    assert ISAT * math.expm1(drop / (IDEALITY * VT)) == pytest.approx(read(s, "V+", "a") / ohms, rel=4e-3)


def test_1_a_limited_junction_says_so():
    """Asked for 1.79 V from nothing, the device limits itself and reports it; asked again at its limit it still does."""
    _, limit, limited = diode_at(1.79, ISAT, IDEALITY * VT, mem=0.0)
    assert limited and limit < 1.0
    assert diode_at(1.79, ISAT, IDEALITY * VT, mem=limit)[2]


@pytest.mark.parametrize("volts", [150.0, 325.0])
def test_2_reverse_junction_injects_nothing(volts):
    """A blocked diode between a bulk and a bus of 10 Mohm passes its saturation current and the leak of its body, no more; a
    stale
    conductance once moved such a bus by 50 to 140 V."""
    c = circuit(
        *bench_supply(volts),
        part("D", "diode", "bus V+", drop=DROP, ideality=IDEALITY),
        part("R", "resistor", "bus N", ohms=10e6),
        volts=300.0,
    )
    want = 10e6 * (ISAT + volts / 2e9)
    assert read(run(c), "bus", "N") == pytest.approx(want, rel=0.02)


def test_3_an_open_diode_passes_exactly_nothing():
    """Open is a saturation current of 0, not of 1e-40, which still conducted amps at the exponent's clip."""
    amps, _, limited = diode_at(50.0, 0.0, 0.0258, mem=0.0)
    assert amps == 0.0 and not limited  # one that counts as limited would never converge
    c = circuit(*bench_supply(325.0), part("D", "diode", "V+ bus"), part("R", "resistor", "bus N", ohms=1e6), volts=300.0)
    assert read(run(c), "bus", "N") > 324.0
    s = run(c, failed(c, "D", "open"))
    assert read(s, "bus", "N") == pytest.approx(325.0 * 1e6 / (1e6 + 2e9), rel=0.01)  # the leak of its body


@pytest.mark.parametrize("volts", [3.3, 5.1, 12.0, 24.0, 180.0])
def test_4_a_zener_is_no_source_on_a_dead_rail(volts):
    """Zener as diode and EMF with 1 uA of saturation put 0.39 V on a dead rail."""
    c = circuit(
        part("F", "switch", "L a"),
        part("D", "diode", "a rail"),
        part("Z", "zener", "N rail", volts=volts),
        part("R", "resistor", "rail N", ohms=1e6),
        volts=230.0,
        hertz=50.0,
    )
    s = run(c, values_of(c, mains={"volts": 0.0}))
    assert abs(read(s, "rail", "N")) < 1e-6
    low, high = cold(c, "rail", "N", "r")
    assert low == pytest.approx(1e6, rel=0.01) and high == pytest.approx(1e6, rel=0.01)


@pytest.mark.parametrize(("henry", "ohms"), [(1e-6, 0.02), (1e-3, 0.5), (5.0, 40.0)])
def test_5_a_coil_at_dc_is_its_ohms(henry, ohms):
    """Infinitely long steps make a coil a conductance that drowns everything else; nearly all cold solutions failed. Beside the
    coil
    hangs a net on 1 Gohm, which is what it drowned."""
    c = circuit(
        part("L1", "inductor", "a b", henry=henry, ohms=ohms),
        part("C", "capacitor", "b g", farads=1e-9),
        part("S", "switch", "b x", ohms=1e9),
    )
    late = cold(c, "a", "b", "r")[1]
    assert late == pytest.approx(ohms, abs=0.02)  # the coil's slot is held at 1e3 S at most: 1 mohm
    assert cold(c, "a", "x", "r")[1] == math.inf


def test_5_windings_read_their_ohms():
    """Primary and secondary of a mains transformer, dead."""
    c = circuit(part("T", "transformer", "p q a b", volts=230.0, out=12.0, rp=150.0, rs=0.8))
    assert cold(c, "p", "q", "r")[1] == pytest.approx(150.0, rel=0.01)
    assert cold(c, "a", "b", "r")[1] == pytest.approx(0.8, abs=0.02)


@pytest.mark.parametrize("line", ["flyback with controller 16/10V; out 24V 1.5A", "flyback with controller 16/10V; out 5V 2A"])
@pytest.mark.parametrize(("volts", "hertz"), [(120.0, 60.0), (230.0, 50.0)])
def test_6_a_converter_starts_from_nothing(line, volts, hertz):
    """Without step limiting Newton toggled at start-up. From all zeros the healthy set is found running, at its output."""
    c = start_circuit(line, Unit("set", volts, hertz, "II", 40.0))
    s = solve_powered(c, values_of(c), 1)
    assert s.ok.all() and not s.pulsing[0]
    assert s.modes["controller"][0] == 1.0
    wanted = float(line.split("out ")[1].split("V")[0])
    assert read(s, "out", "0V") == pytest.approx(wanted, rel=0.05)


@pytest.mark.parametrize(
    ("family", "way", "pins"),
    [("opto", "led-open", "V+ N V+ N"), ("npn", "open", "N V+ N"), ("npn", "base-open", "V+ V+ N"), ("diode", "open", "V+ N")],
)
def test_an_open_junction_holds_up_nobody(family, way, pins):
    """Twenty volts across a junction that is open: it carries nothing, so it is not limited, and Newton doesn't creep after it (that once cost hundreds
    of iterations a step, and in company with kinked devices the solution)."""
    c = circuit(*bench_supply(20.0), part("X", family, pins), part("R", "resistor", "V+ N", ohms=1e3))
    assert newton_passes(run(c, failed(c, "X", way))) <= 12


def newton_passes(settled):
    """Iterations of one step from nothing that the first variant of a solved batch takes."""
    return passes(settled.solved.network.pattern.net, settled.solved.network.values, settled.solved.network.hertz)


def test_an_open_reference_draws_nothing():
    """Its leg open, a 431 leaves a divider to itself: U R/(R + R0) by arithmetic, live and on the diode test. The soft corner of its
    current, left at no drive, once leaked 0.7 mA: 0.7 V across 1 kohm."""
    c = circuit(
        *bench_supply(12.0),
        part("R1", "resistor", "V+ k", ohms=1e3),
        part("R2", "resistor", "k N", ohms=15e3),
        part("U1", "reference", "k N r"),
        part("R3", "resistor", "r N", ohms=10e3),
    )
    values = failed(c, "U1", "open")
    s = run(c, values)
    assert read(s, "k", "N") == pytest.approx(read(s, "V+", "N") * 15.0 / 16.0, rel=1e-3)
    lone = circuit(part("U1", "reference", "k N r"), part("R2", "resistor", "k N", ohms=9e3))
    assert cold(lone, "k", "N", "d", failed(lone, "U1", "open"))[1] == pytest.approx(3.0 * 9.0 / 12.0, rel=1e-3)


def test_a_shorted_switch_reads_its_short_and_nothing_more():
    """Drain to source of a shorted FET is its 0.32 ohm (middle of 0.05 to 2, log), not 0.05 ohm more."""
    c = circuit(part("Q1", "fet", "d g N core"), part("R1", "resistor", "g N", ohms=1e4))
    assert cold(c, "d", "N", "r", failed(c, "Q1", "short"))[1] == pytest.approx(math.sqrt(0.05 * 2.0), abs=0.005)


@pytest.mark.parametrize("volts", [0.5, 1.5, 2.5])
def test_a_regulator_under_its_dropout_gives_nothing(volts):
    """With its input under its dropout a regulator passes nothing on, not the 10 uA of a rounded corner: 10 mV at most across 10 kohm."""
    c = circuit(
        *bench_supply(volts), part("U1", "regulator", "V+ out N", volts=12.0, dropout=3.0), part("R1", "resistor", "out N", ohms=10e3)
    )
    assert abs(read(run(c), "out", "N")) < 10e-3
