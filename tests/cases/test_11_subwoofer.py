"""Common practice, worked case: a powered subwoofer, a thump, then silent, ticking. Both output FETs are short; the boot capacitor dried up before.

By hand: rails of 45 V into two times 0.03 ohm overload the supply, which tries again and again. What kills such a pair: the upper half of the driver takes
0.6 mA, over half a wave of bass (10 ms) that is 6 uC: 0.27 V off 22 uF, 4.6 V off 1.3 uF, and the FET is driven too little.
Misleading: the rails wander at 0 to 3 V where the black lead was left on the wrong minus, "no output, primary dead".

The tool reckons with two faults at once. That gate resistor and driver went with the pair (four dead parts) it can't tell in one go, and
says "not on the sheet" where all are typed at once; the boot capacitor it names among the killers of the pair, and convicts by itself.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from case_support import Case, begun, check, involved, play, shuffled, without_decisive

THREE = ("unit: subwoofer, 230V 50Hz, class II, 200W", "symptom: thump then silent; ticking", "start: class-D amplifier; rails 45V; speaker 3.4R")
CAPS = "bulk-cap 0.4V plus-cap 0.2V minus-cap 0.2V vcc-cap 0.1V boot-cap 0.1V"
LOOKED = ("off", f"dead 9V {CAPS}", "L to 0V OL r", "N to 0V OL r", "fuse 0.1r", "on")

START = Case(
    begin=THREE,
    lines=(*LOOKED, "bulk 322", "+45 2 pulsing", "+45 max 6", "off", f"dead 9V {CAPS}", "+45 to mid 0.03r", "mid to -45 0.03r", "speaker 3.4r"),
    true=("high-switch", "short"),
    misled=8,
    decisive=("+45 to mid 0.03r", "mid to -45 0.03r"),
    also=("low-switch",),
    root=("boot capacitor",),
)

SHEET = """\
unit: subwoofer, 230V 50Hz, class II, 200W
symptom: thump then silent; ticking
ways:
- L F1(T2.5A) live NTC1(5R) line
- bulk C1(electrolytic 150u 400V) hot-
- +45 C2(electrolytic 2200u 63V) 0V
- 0V C3(electrolytic 2200u 63V) -45
- 0V R13(2k2 1W) vcc C13(electrolytic 100u 35V) -45
- vcc ZD1.ka(12V 1.3W) -45
- vcc D5.ak(fast 200V) boot-low
- boot C12(electrolytic 22u 35V) mid
- mute R20(10k) -45
- high-drive R10(10R) high-gate R14(10k) mid
- low-drive R11(10R) low-gate R15(10k) low-source
- low-source R12(0.015R 3W) -45
- mid L1(inductor 22uH) out C10(0.68u) 0V
- out R16(10R 2W) zobel C11(10n) 0V
- out J1(resistive-load 3.4R) 0V
parts:
- BR1 bridge 4A, ~=line ~=N +=bulk -=hot-
- U1 split-supply 45V, in+=bulk in-=hot- p=+45 0=0V m=-45
- U3 class-d-driver, vcc=vcc com=-45 boot=boot feed=boot-low vs=mid ho=high-drive lo=low-drive ref=0V mute=mute rail=+45 core=core
- Q1 class-d-fet 150V, d=+45 g=high-gate s=mid core=core
- Q2 class-d-fet 150V, d=mid g=low-gate s=low-source core=core
cold: +45, 0V, -45, vcc, boot, boot-low, mid, out, mute, zobel, high-gate, low-gate, high-drive, low-drive, low-source, core
"""
TRACED_CAPS = "C1 0.4V C2 0.2V C3 0.2V C13 0.1V C12 0.1V"
TRACED = Case(
    begin=SHEET,
    lines=(
        "off", f"dead 9V {TRACED_CAPS}", "L to 0V OL r", "N to 0V OL r", "on", "+45 2 pulsing", "bulk 322", "+45 max 6", "off", f"dead 9V {TRACED_CAPS}",
        "+45 to mid 0.03r", "mid to -45 0.03r", "+45 to -45 0.07r",
    ),
    true=("Q1", "short"),
    misled=6,
    decisive=("+45 to mid 0.03r", "mid to -45 0.03r"),
    also=("Q2",),
    root=("boot capacitor",),
)


def test_from_a_starting_sheet(tmp_path: Path) -> None:
    check(START, tmp_path)


def test_from_a_sheet_of_its_own_the_misleading_reading_first(tmp_path: Path) -> None:
    check(TRACED, tmp_path)


@pytest.mark.parametrize("seed", [1])
def test_the_order_of_readings_within_a_state_does_not_matter(tmp_path: Path, seed: int) -> None:
    check(replace(START, lines=shuffled(START.lines, seed), misled=0, decisive=()), tmp_path)


def test_with_both_transistors_off_the_board_the_rails_stand(tmp_path: Path) -> None:
    """The case goes on: FETs out, +45.6 and -45.4 steady. It is typed and taken, and both stay the likeliest to have failed."""
    work = begun(START, tmp_path)
    play(work, (*START.lines, "remove high-switch", "remove low-switch", "on", "+45 45.6", "-45 -45.4"))
    assert set(list(involved(work))[:2]) == {"high-switch", "low-switch"}


def test_without_the_decisive_readings_nobody_is_convicted(tmp_path: Path) -> None:
    without_decisive(START, tmp_path)


def test_a_dried_boot_capacitor_by_itself(tmp_path: Path) -> None:
    """By hand: rails as they should be, the middle at nothing; the boot supply, 11 - 0.6 V, sags by a quarter as its capacitor holds 1.3 uF: 7.8 V."""
    begin = (THREE[0], "symptom: distorts", THREE[2])
    lines = (
        *LOOKED, "+45 45.6", "-45 -45.4", "out 0.01", "boot to mid 7.8", "off", f"dead 9V {CAPS}", "remove boot-cap", "boot-cap 1.3u",
        "boot-cap 18esr",
    )
    check(Case(begin, lines, ("boot-cap", "dried"), 9, ()), tmp_path)


def test_a_muted_amplifier_is_not_blamed_on_its_output_pair(tmp_path: Path) -> None:
    """By hand: with mute-R open the pin is pulled up to 5 V above the minus rail, and all rests: rails 45 V, Vcc 11 V, output 0 V, no sound."""
    begin = (THREE[0], "symptom: no sound", THREE[2])
    lines = (*LOOKED, "+45 45.2", "-45 -45.1", "vcc to -45 11.0", "out 0.0", "mute to -45 4.8", "off", f"dead 9V {CAPS}", "mute-R OL r")
    check(Case(begin, lines, ("mute-R", "open"), 10, ()), tmp_path)


def test_an_open_boot_diode_leaves_the_upper_half_without_supply(tmp_path: Path) -> None:
    """By hand: nothing charges the boot capacitor, 0 V where 10.4 should be; Vcc is right. The diode tests OL both ways."""
    begin = (THREE[0], "symptom: distorts", THREE[2])
    lines = (*LOOKED, "-45 -45.1", "vcc to -45 11.0", "boot to mid 0.0", "off", f"dead 9V {CAPS}", "boot-diode OL d")
    end = play(begun(Case(begin, (), ("", ""), 0, ()), tmp_path), lines)
    assert (end["suspects"][0]["part"], end["suspects"][0]["way"]) == ("boot-diode", "open"), end["suspects"][:3]
    assert end["card"]["kind"] == "end" and "boot-diode" in end["card"]["parts"]
