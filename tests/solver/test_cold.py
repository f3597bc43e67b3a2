"""Cold readings: ohms with time beside an independent RC step, diode test, ESR and capacitance, parallel paths."""

from __future__ import annotations

import math

import numpy as np
import pytest

from halfsplit.errors import InputError
from halfsplit.solver.cold import OHM_RANGES, OHM_VOLTS, ColdAsk, cold_readings, impedance, shown_esr, shown_farads
from halfsplit.solver.network import build_network
from solver.rig import circuit, cold, part, values_of


def rc(ohms: float, farads: float, span: float, seconds: float) -> float:
    """What an ohmmeter of this range shows: its volts behind its own resistance onto R parallel C, by the closed form."""
    both = span * ohms / (span + ohms)
    volts = OHM_VOLTS * ohms / (span + ohms) * (1 - math.exp(-seconds / (both * farads)))
    return span * volts / (OHM_VOLTS - volts)


@pytest.mark.parametrize(("ohms", "farads"), [(1e6, 10e-6), (100e3, 100e-6), (10e3, 470e-6), (470e3, 33e-6), (2.2e6, 1e-6)])
def test_a_capacitor_across_makes_ohms_creep_up(ohms, farads):
    """After 3 s the figure is lower than after 15 s, or both have settled; both match the closed form in one and the same range,
    within 2 %.
    Which range: one that its own last figure fits (9 to 102 % of it)."""
    c = circuit(part("C", "electrolytic", "a b", farads=farads), part("R", "resistor", "a b", ohms=ohms))
    early, late = cold(c, "a", "b", "r")
    true = 1 / (1 / ohms + 1 / 1e7 + 1 / 2e9)
    fits = [s for s in OHM_RANGES if 0.09 * s <= rc(true, farads, s, 15.0) <= 1.02 * s]
    assert any(
        early == pytest.approx(rc(true, farads, s, 3.0), rel=0.02) and late == pytest.approx(rc(true, farads, s, 15.0), rel=0.02)
        for s in fits
    ), (early, late, [(s, rc(true, farads, s, 3.0), rc(true, farads, s, 15.0)) for s in fits])
    assert early <= late * 1.0001
    if min(fits) * ohms / (min(fits) + ohms) * farads > 2.0:
        assert early < 0.97 * late


@pytest.mark.parametrize("ohms", [0.05, 1.0, 47.0, 5.6e3, 82e3, 1e6, 33e6])
def test_ohms_of_one_resistor(ohms):
    """Every range reads a lone resistor to 0.5 %."""
    c = circuit(part("R", "resistor", "a b", ohms=ohms))
    assert cold(c, "a", "b", "r") == pytest.approx((ohms, ohms), rel=5e-3)
    assert cold(c, "b", "a", "r") == pytest.approx((ohms, ohms), rel=5e-3)


def test_above_the_top_range_is_over_limit():
    """100 Mohm shows OL; so does nothing at all."""
    c = circuit(part("R", "resistor", "a b", ohms=100e6), part("S", "capacitor", "c d", farads=1e-9))
    assert cold(c, "a", "b", "r")[1] == math.inf
    assert cold(c, "c", "d", "r")[1] == math.inf


def test_in_circuit_ohms_include_the_parallel_path():
    """Three 1 M in a string closed by 0.4596 M: a good one reads 0.71 M, an open one the 2.46 M of the rest (common practice,
    computed)."""
    c = circuit(
        part("R12", "resistor", "a b", ohms=1e6),
        part("R14", "resistor", "b c", ohms=1e6),
        part("R16", "resistor", "c d", ohms=1e6),
        part("RX", "resistor", "d a", ohms=0.4596e6),
    )
    assert cold(c, "b", "c", "r")[1] == pytest.approx(0.711e6, rel=0.005)
    assert cold(c, "b", "c", "r", values_of(c, R14={"ohms": 1e9}))[1] == pytest.approx(2.4596e6, rel=0.005)


def test_ohms_range_keeps_junctions_off():
    """Half a volt at most: a transistor's junctions read OL in ohms, 0.6 V in the diode test, nothing backwards."""
    c = circuit(part("Q", "npn", "b c e"))
    assert cold(c, "b", "e", "r")[1] > 5e6
    assert 0.55 < cold(c, "b", "e", "d")[1] < 0.7
    assert cold(c, "e", "b", "d")[1] == math.inf


def test_a_shorted_winding_hides_a_good_diode():
    """A diode read with its winding and a shorted load closing the loop reads a volt-drop of nearly nothing both ways (common
    practice)."""
    c = circuit(
        part("D", "diode", "a k"), part("L1", "inductor", "a g", henry=1e-4, ohms=0.1), part("J", "resistor", "k g", ohms=0.9)
    )
    assert cold(c, "a", "k", "r")[1] == pytest.approx(1.0, rel=0.01)
    assert cold(c, "a", "k", "d")[1] < 0.01 and cold(c, "k", "a", "d")[1] < 0.01


def network_of(c, pairs, **sets):
    return build_network(c, values_of(c, **sets), 1, powered=False, pairs=pairs)


def test_esr_and_capacitance():
    """Alone, 100 uF with 0.3 ohm; two in parallel hide one; a shorted one reads an excellent ESR and no capacitance."""
    one = circuit(part("C1", "electrolytic", "a b", farads=100e-6, esr=0.3))
    z_high, z_low = (impedance(network_of(one, [("a", "b")]), f, [("a", "b")]) for f in (1e5, 100.0))
    assert shown_esr(z_high)[0, 0] == pytest.approx(0.3, rel=0.01)
    assert shown_farads(z_low)[0, 0] == pytest.approx(100e-6, rel=0.02)
    two = circuit(*one.parts[1:], part("C2", "electrolytic", "a b", farads=100e-6, esr=30.0))
    assert shown_esr(impedance(network_of(two, [("a", "b")]), 1e5, [("a", "b")]))[0, 0] == pytest.approx(
        0.3 * 30 / 30.3, rel=0.01
    )
    short = network_of(one, [("a", "b")], C1={"across": 0.1})
    assert shown_esr(impedance(short, 1e5, [("a", "b")]))[0, 0] < 0.1
    assert shown_farads(impedance(short, 100.0, [("a", "b")]))[0, 0] == math.inf


def test_a_pair_the_network_was_not_built_for_is_refused():
    """Two nets that no part joins need their place in the pattern; without it the figure would be nonsense, so the call fails."""
    c = circuit(part("R1", "resistor", "a b"), part("R2", "resistor", "c d"))
    network = build_network(c, values_of(c), 1, powered=False)
    with pytest.raises(InputError, match="a.*d"):
        cold_readings(network, [ColdAsk(0, "a", "d", "r")])
    shown, bad = cold_readings(build_network(c, values_of(c), 1, powered=False, pairs=[("a", "d")]), [ColdAsk(0, "a", "d", "r")])
    assert not bad.any() and np.isinf(shown).all()
