"""Common practice, worked case: a hotplate stirrer, blank, warm smell. A cracked ceramic shorts the 3.3 V rail.

By hand: a regulator limited at 0.75 A into 0.3 ohm stands at 0.23 V and burns 0.75 x 4.8 V = 3.6 W. Misleading: 5 V right, 3.3 V gone, regulator too
hot, "LDO dead". Cold, the rail has 0.3 ohm after zeroing the leads; with the far ceramic off it has 1.1 kohm again.
The hunt for the branch with millivolts along an injected ampere is not played here: it needs the bench supply to weigh in the odds.
The other fault: the regulator has shorted from input to output, and 5 V stand on the 3.3 V rail.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from case_support import Case, check, shuffled, without_decisive

BEGIN = (
    "unit: hotplate stirrer, 120V 60Hz, class I, 20W", "symptom: blank, warm smell", "start: power tree 12V, 5V 1A, 3.3V 0.5A",
)
ON = ("on", "yes", "L to N 120ac", "in 12.1", "+5 4.98")
DEAD = ("off", "dead 9V in-cap 0.2V 5V-cap 0.1V mains 0V 9V", "L to 0V OL r", "N to 0V OL r")
START = Case(
    begin=BEGIN,
    lines=(
        *ON, "+3.3 0.2 shaky", *DEAD, "+3.3 0.3r", "micro-vdd 0.3r", "far-cap 0.3r", "remove far-cap", "+3.3 1.1k r",
        "far-cap 0.3r removed",
    ),
    true=("far-cap", "short"),
    misled=6,
    decisive=("remove far-cap", "+3.3 1.1k r", "far-cap 0.3r removed"),
    root=("flex", "stand-off"),
)
SHEET = """unit: hotplate stirrer, 120V 60Hz, class I, 20W
symptom: blank, warm smell
ways:
- in F2(ptc 1A) supply C1(electrolytic 100u 25V) 0V
- +5 C5(electrolytic 22u 16V) 0V
- +5 R1(220R) lit LED1.ak(red) 0V
- tab C8(ceramic 10u 10V) 0V
- tab JT1(joint) +3.3 JT2(joint) micro-vdd C12(ceramic 100n) 0V
- +3.3 C9(ceramic 10u 10V) 0V
- +3.3 JT3(joint) far C21(ceramic 10u 6.3V) far-0V JT4(joint) 0V
- U3.out R2(10k) 0V
parts:
- PS1 adapter 12V 1A, L=L N=N +=in -=0V
- U1 buck-module 5V 1A, in=supply out=+5 gnd=0V
- U2 LDO 3.3V 0.5A, in=+5 out=tab gnd=0V
- U3 micro 3.3V 30mA, vdd=micro-vdd 0v=0V, idle 1k1
cold: in, supply, +5, lit, tab, +3.3, micro-vdd, far, far-0V, 0V
"""
OWN = Case(
    begin=SHEET,
    lines=(
        *ON, "+3.3 0.2 shaky", DEAD[0], "dead 9V C1 0.2V C5 0.1V mains 0V 9V", *DEAD[2:], "+3.3 0.3r", "micro-vdd 0.3r", "remove C21", "+3.3 1.1k r",
        "C21 0.3r removed",
    ),
    true=("C21", "short"),
    misled=6,
    decisive=("remove C21", "+3.3 1.1k r", "C21 0.3r removed"),
    root=("flex", "stand-off"),
)


def test_from_a_starting_sheet(tmp_path: Path) -> None:
    check(START, tmp_path)


def test_from_a_full_sheet(tmp_path: Path) -> None:
    check(OWN, tmp_path)


@pytest.mark.parametrize("seed", [1])
def test_the_order_of_readings_within_a_state_does_not_matter(tmp_path: Path, seed: int) -> None:
    check(Case(START.begin, shuffled(START.lines, seed), START.true, 0, ()), tmp_path)


def test_without_the_decisive_reading_nobody_is_convicted(tmp_path: Path) -> None:
    without_decisive(START, tmp_path)


def test_five_volts_on_the_rail_are_the_regulator_straight_through(tmp_path: Path) -> None:
    """4.95 V where 3.3 V is right, 1.0 ohm from input to output where kilohms are right: 60 mA over 1 ohm lose 0.06 V."""
    lines = (*ON, "+3.3 4.93", *DEAD, "+5 to ldo-out 1.0r")
    check(Case((BEGIN[0], "symptom: blank", BEGIN[2]), lines, ("ldo", "through"), 6, ()), tmp_path)
