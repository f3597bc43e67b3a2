"""Common practice, worked case: a hotplate stirrer, blank, warm smell. A cracked ceramic shorts the 3.3 V rail.

By hand: a regulator limited at 0.75 A into 0.3 ohm stands at 0.23 V and burns 0.75 x 4.8 V = 3.6 W. Misleading: 5 V right, 3.3 V gone, regulator too
hot, "LDO dead". Cold, the rail has 0.3 ohm after zeroing the leads; with the far ceramic off it has 1.1 kohm again.
The hunt for the branch with millivolts along an injected current is played by itself: half an ampere here, as the regulator stands no more.
The other fault: the regulator has shorted from input to output, and 5 V stand on the 3.3 V rail.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from case_support import Case, begun, check, involved, play, shuffled, without_decisive

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


# Half an ampere into 0.3 ohm behind tracks of 8 and 12 mohm, 21 mohm of ground to the far one: by hand, ohms times amperes.
COLD = (*ON, "+3.3 0.2 shaky", *DEAD, "+3.3 0.3r", "micro-vdd 0.3r", "far-cap 0.3r", "unplug 3V3-load", "+3.3 0.3r")
HUNT = "bench ldo-out 1V 0.5A plus"


@pytest.mark.parametrize(
    ("drops", "branch"),
    [
        (("track-ldo 4.0mV", "track-micro 0.0mV", "track-far 6.0mV", "track-0V 10.5mV"), {"far-cap"}),
        (("track-ldo 4.0mV", "track-micro 4.0mV", "track-far 0.0mV", "track-0V 0.0mV"), {"micro", "micro-cap"}),
        (("track-ldo 0.0mV", "track-micro 0.0mV", "track-far 0.0mV", "track-0V 0.0mV"), {"ldo", "ldo-cap"}),
    ],
)
def test_millivolts_along_the_rail_name_the_branch_before_anything_is_lifted(tmp_path: Path, drops: tuple[str, ...], branch: set[str]) -> None:
    """The current goes to the short and nowhere else; the same readings but for the drops convict another branch."""
    work = begun(START, tmp_path)
    play(work, COLD)
    before = involved(work)
    assert sum(odds for part, odds in before.items() if part in branch) < 0.9
    play(work, (HUNT, *drops))
    told = involved(work)
    assert sum(odds for part, odds in told.items() if part in branch) > 0.9, told


def test_the_ampere_is_offered_before_a_leg_is_lifted(tmp_path: Path) -> None:
    """Once ohms tell no more, the card says the line for the bench supply: at most a volt, the limit that the weakest part stands."""
    work = begun(START, tmp_path)
    answer = play(work, COLD)
    for _ in range(12):
        card = answer["card"]
        if card.get("do", "").startswith("bench"):
            break
        if card.get("do", "").startswith("dead"):  # the second look, a minute after it was emptied
            answer = play(work, ("dead " + " ".join(f"{name} 0.2V" for name in card["caps"]),))
            continue
        assert card["kind"] == "round", card
        shown = ["OL" if p["function"] == "c" else "0.3" for p in card["probes"]]  # a meter locks on no capacitor beside a short
        answer = play(work, (" ".join(shown),))
    assert answer["card"]["type"] == HUNT
    assert any("limit" in line for line in answer["card"]["confirm"])
    assert play(work, ("card",))["card"].get("do") != answer["card"]["do"]


def test_half_an_ampere_is_refused_where_a_part_would_take_it(tmp_path: Path) -> None:
    """At the rail's full volts the micro itself draws: its amps are the limit then; a volt leaves it asleep."""
    work = begun(START, tmp_path)
    play(work, COLD)
    answer = work.send("bench ldo-out 3.3V 0.5A plus")
    assert not answer["ok"]
    assert "weakest part" in answer["refused"]
