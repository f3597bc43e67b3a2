"""Amplifiers and adjustable regulators against the closed forms of any textbook.

SOURCES  gain of the non-inverting amplifier 1 + Rf/Rg and of the inverting one -Rf/Rg (any electronics textbook, recalled);
         output of a 317-type regulator 1.25 V (1 + R2/R1) + Iadj R2, 50 uA (makers' application page, recalled).
BOUND    0.5 %: the family's 1 mV stands for offset and finite gain; 0.3 % for the regulator (0.05 ohm behind it).
"""

from __future__ import annotations

import pytest

from halfsplit.circuit.model import Circuit
from solver.rig import circuit, part, read, run


def on_battery(*parts: object) -> Circuit:
    return circuit(
        part("B", "battery", "V+ N", volts=24.0, ohms=1e-3),
        part("R0", "resistor", "L N", ohms=1e6),
        *parts,  # type: ignore[arg-type]
    )


@pytest.mark.parametrize(("top", "low"), [(1e3, 10e3), (10e3, 1e3), (47e3, 1e3), (100e3, 10e3)])
def test_non_inverting_gain(top, low):
    """A tenth of a volt to two volts in, 1 + Rf/Rg times that out."""
    gain = 1.0 + top / low
    wish = min(20.0, 2.0 * gain)
    c = on_battery(
        part("RA", "resistor", "V+ in", ohms=24e3 - 1e3 * wish / gain),
        part("RB", "resistor", "in N", ohms=1e3 * wish / gain),
        part("U", "op-amp", "in fb out V+ N"),
        part("RF", "resistor", "out fb", ohms=top),
        part("RG", "resistor", "fb N", ohms=low),
    )
    s = run(c)
    assert read(s, "in", "N") == pytest.approx(wish / gain, rel=0.001)
    assert read(s, "out", "N") == pytest.approx(read(s, "in", "N") * gain, rel=0.005)


@pytest.mark.parametrize("ratio", [0.2, 0.5, 0.9])
def test_inverting_gain_about_half_the_supply(ratio):
    """Input on the supply, reference on half of it: as far below the half as Rf/Rg times what the input is above."""
    c = on_battery(
        part("RA", "resistor", "V+ mid", ohms=1e3),
        part("RB", "resistor", "mid N", ohms=1e3),
        part("U", "op-amp", "mid fb out V+ N"),
        part("RG", "resistor", "V+ fb", ohms=20e3),
        part("RF", "resistor", "fb out", ohms=20e3 * ratio),
    )
    assert read(run(c), "out", "N") == pytest.approx(12.0 * (1.0 - ratio), abs=0.03)


@pytest.mark.parametrize(("sense", "low"), [(5.9, False), (5.99, False), (6.01, True), (6.1, True)])
def test_a_comparator_turns_at_its_reference(sense, low):
    """Ten millivolts either way of 6 V decide whether the pull-up stands or is pulled down to a few tenths of a volt."""
    c = circuit(
        part("B", "battery", "V+ N", volts=12.0, ohms=1e-3),
        part("R0", "resistor", "L N", ohms=1e6),
        part("RA", "resistor", "V+ ref", ohms=1e3),
        part("RB", "resistor", "ref N", ohms=1e3),
        part("RC", "resistor", "V+ sense", ohms=1e3 * (12.0 - sense)),
        part("RD", "resistor", "sense N", ohms=1e3 * sense),
        part("U", "comparator", "ref sense out V+ N"),
        part("RP", "resistor", "V+ out", ohms=4.7e3),
    )
    out = read(run(c), "out", "N")
    assert out < 0.3 if low else out > 11.9


@pytest.mark.parametrize(("r1", "r2"), [(240.0, 720.0), (240.0, 2.2e3), (120.0, 1.5e3)])
def test_an_adjustable_regulator_gives_what_its_two_resistors_say(r1, r2):
    """1.25 V (1 + R2/R1) + 50 uA R2."""
    c = on_battery(
        part("U", "adjustable", "V+ out adj"),
        part("R1", "resistor", "out adj", ohms=r1),
        part("R2", "resistor", "adj N", ohms=r2),
    )
    assert read(run(c), "out", "N") == pytest.approx(1.25 * (1.0 + r2 / r1) + 50e-6 * r2, rel=0.003)


def test_a_regulator_short_of_volts_says_so_at_out_to_adj():
    """With 2 V too little it cannot hold 1.25 V from OUT to ADJ (trade page, section 3.1: 317-type 1.25 V OUT-ADJ)."""
    c = on_battery(
        part("U", "adjustable", "V+ out adj"),
        part("R1", "resistor", "out adj", ohms=240.0),
        part("R2", "resistor", "adj N", ohms=4.7e3),
    )
    s = run(c)
    assert read(s, "out", "N") == pytest.approx(22.0, abs=0.1)
    assert read(s, "out", "adj") < 1.15
