"""Common practice, worked case: a light table on a 12 V adapter, dark. A ring-cracked pad at the strips' minus; no part is needed.

By hand: idle, coil and Schottky pass 12.1 - 0.35 = 11.75 V. The over-volt limit is 1.23 V x (1 + 330/9.1) = 45.8 V, so a MAX of 45.9 V in the
first 0.3 s means that the chip runs, sees no current and latches. 220 ohm in place of the strings: 0.2 V/1.1 ohm = 182 mA, 40.0 V, 7.3 W: the driver is good.
Misleading: 11.75 V steady, "the boost chip is dead".
The other fault: with the chip dead nothing ever rises above 11.75 V, and MAX shows that.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from case_support import Case, begun, check, involved, play, shuffled, without_decisive

BEGIN = ("unit: light table, 120V 60Hz, class III, 10W", "symptom: dark", "start: LED boost; adapter 12V; out 37V 180mA; 3 strings")
DEAD = ("off", "dead 9V out-cap 0V in-cap 0.2V mains 0V 9V", "L to 0V OL r", "N to 0V OL r")
START = Case(
    begin=BEGIN,
    lines=(
        "on", "yes", "L to N 120ac", "in 12.1", "out 11.75", "out 11.75 max 45.9", "led+ 11.75", "led- 0.0", *DEAD[:2], "dummy 220R 10W", "on",
        "yes", "out 40.0", *DEAD[:2], "dummy none", *DEAD[2:], "sense-R 1.1r", "plug-minus 0.02r", "pad-minus OL r",
    ),
    true=("pad-minus", "open"),
    misled=5,
    decisive=("plug-minus 0.02r", "pad-minus OL r"),
)
SHEET = """unit: light table, 120V 60Hz, class III, 10W
symptom: dark
ways:
- in F1(ptc 3A) supply C1(electrolytic 100u 25V) 0V
- supply D2.ka(tvs 15V 600W) 0V
- supply L1(inductor 22uH) sw D1.ak(schottky 3A 100V) out
- out C2(ceramic 4.7u 100V) 0V
- out C3(ceramic 4.7u 100V) 0V
- out R1(330k) ovp R2(9.1k) 0V
- out CN1(connector) led+ JT1(joint) pad+ LED1.ak(led 37V 60mA white) pad- JT2(joint) led- CN2(connector) sense R7(1.1R) 0V
- pad+ LED2.ak(led 37V 60mA white) pad-
- pad+ LED3.ak(led 37V 60mA white) pad-
- sense R8(1k) fb
parts:
- PS1 adapter 12V 3A, L=L N=N +=in -=0V
- U1 led-boost, vin=supply gnd=0V sw=sw fb=fb ovp=ovp back=out
cold: in, supply, sw, out, ovp, led+, pad+, pad-, led-, sense, fb, 0V
"""
NAMES = {"out-cap": "C2", "in-cap": "C1", "sense-R": "R7", "plug-minus": "CN2", "pad-minus": "JT2"}


def renamed(line: str) -> str:
    for place, ref in NAMES.items():
        line = line.replace(place, ref)
    return line.replace("C2 0V", "C2 0V C3 0V")


OWN = Case(SHEET, tuple(renamed(x) for x in START.lines), ("JT2", "open"), 5, tuple(renamed(x) for x in START.decisive))


def test_from_a_starting_sheet(tmp_path: Path) -> None:
    misled = check(START, tmp_path).misled
    assert misled["suspects"][0]["part"] == "controller"  # as everybody says: "boost chip dead"


def test_the_dummy_proves_the_driver(tmp_path: Path) -> None:
    """With 220 ohm in place of the strings it runs at 40.0 V: the chip, which everybody had named, is out of it; strings, plug and pads are left."""
    work = begun(START, tmp_path)
    at = START.lines.index("out 40.0")
    play(work, START.lines[:at])
    before = involved(work)
    play(work, ("out 40.0",))
    after = involved(work)
    assert after["controller"] < 0.2 * max(before["controller"], 0.01)
    assert sum(p for part, p in after.items() if part.startswith(("plug-", "pad-", "string-"))) > 0.97, after


def test_from_a_full_sheet(tmp_path: Path) -> None:
    check(OWN, tmp_path)


@pytest.mark.parametrize("seed", [1])
def test_the_order_of_readings_within_a_state_does_not_matter(tmp_path: Path, seed: int) -> None:
    check(Case(START.begin, shuffled(START.lines, seed), START.true, 0, ()), tmp_path)


def test_without_the_decisive_reading_nobody_is_convicted(tmp_path: Path) -> None:
    without_decisive(START, tmp_path)


def test_the_same_volts_with_a_low_max_are_the_chip(tmp_path: Path) -> None:
    """MAX 11.8 V: it never tried. Sense and feedback resistors and the Schottky (0.2 V, not 0) are good."""
    lines = (
        "on", "yes", "L to N 120ac", "in 12.1", "out 11.75", "out 11.75 max 11.8", "led+ 11.75", *DEAD, "sense-R 1.1r", "fb-R 1.0k r",
        "rectifier 0.2d", "divider-low 9.1k r",
    )
    check(Case(BEGIN, lines, ("controller", "dead"), 5, ()), tmp_path)
