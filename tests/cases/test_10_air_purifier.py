"""Common practice, worked case: an air purifier, dead, that ticks about once a second. The fan's driver has shorted; the board is innocent.

By hand: shorted, the stage gives 3 A (two and a half to three times its ampere), 3 A x 0.9 ohm = 2.7 V while it tries. The rectifier reads 1.0 ohm both
ways through the winding's 0.1 and the fan's 0.9 ohm. 2.495 V x (1 + 86.6/10) = 24.1 V with the fan off.
Misleading: 1.0 ohm both ways across the rectifier, "shorted rectifier".
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from case_support import Case, begun, check, involved, play, shuffled, without_decisive

LINES = ("unit: air purifier, 230V 50Hz, class II, 30W", "symptom: dead, ticks about once a second",
         "start: flyback with integrated switch; out 24V 1A; fan 0.45A; buck 5V 0.3A")  # fmt: skip
START = Case(
    begin=LINES,
    lines=(
        "off", "dead 9V bulk-cap 4V out-cap 0.2V x-cap 0.3V loop-cap 0.1V second-cap 0.1V", "L to 0V OL r", "N to 0V OL r", "rectifier 1.0/1.0 r",
        "on", "L to N 231ac", "bulk 322", "out 0..1 max 2.7", "off", "dead bulk-cap 8V out-cap 0.3V x-cap 0.3V", "unplug fan", "on", "out 24.1", "off",
        "dead bulk-cap 8V out-cap 0.3V x-cap 0.3V second-cap 0.3V loop-cap 0.2V", "rectifier 0.48/OL d", "fan 0.9/0.9 r removed",
    ),
    true=("fan", "short"),
    misled=5,
    decisive=("out 24.1", "rectifier 0.48/OL d", "fan 0.9/0.9 r removed"),
)  # fmt: skip
SHEET = """unit: air purifier, 230V 50Hz, class II, 30W
symptom: dead; ticks about once a second
ways:
- L F1(T2A) live
- live MOV1(300V) N
- live CX1(0.22u X2) N
- live R9(1M) N
- bulk C1(33u 400V) hot-
- bp C2(10u 16V) hot-
- bulk R1(150k 2W) cl D1.ka(1N4007) drain
- bulk C3(2n2 630V) cl
- sec D2.ak(diode fast 5A 200V) raw
- raw C5(470u 35V) 0V
- raw L2(inductor 10uH 20mR) out
- out C6(470u 35V) 0V
- out R4(1k) oa U2.ak ok U3.ka 0V
- fb U2.ce hot-
- out R5(86.6k 1%) ref R6(10k 1%) 0V
- U3.r ref
- ok C7(100n) ref
- hot- CY1(2n2 Y1) 0V
- +5 C8(220u 10V) 0V
- out FAN(load 24V 0.45A) 0V
- out ION(load 24V 50mA) 0V
- +5 TCH(load 5V 0.2A) 0V
parts:
- LF1 choke, a1=live a2=line b1=N b2=neutral
- BR1 bridge 1A, ~1=line ~2=neutral +=bulk -=hot-
- U1 switcher, d=drain s=hot- bp=bp fb=fb uv=bp core=core
- T1 plain-flyback 24.8V, p+=bulk p-=drain s+=sec s-=0V core=core
- U2 opto; U3 431
- U4 buck-module 5V, in=out out=+5 gnd=0V
cold: out, raw, sec, oa, ok, ref, +5, 0V
"""
FULL = Case(
    begin=SHEET,
    lines=(
        "off", "dead 9V C1 4V C5 0.2V C6 0.2V CX1 0.3V C7 0.1V C8 0.1V", "L to 0V OL r", "N to 0V OL r", "D2 1.0/1.0 r",
        "on", "L to N 231ac", "bulk 322", "out 0..1 max 2.7", "off", "dead C1 8V CX1 0.3V C6 0.3V", "unplug FAN", "on", "out 24.1", "off",
        "dead C1 8V C5 0.3V C6 0.3V CX1 0.3V C8 0.3V C7 0.3V", "D2 0.48/OL d", "FAN 0.9/0.9 r removed",
    ),
    true=("FAN", "short"),
    misled=5,
    decisive=("out 24.1", "D2 0.48/OL d", "FAN 0.9/0.9 r removed"),
)  # fmt: skip


def test_from_a_starting_sheet(tmp_path: Path) -> None:
    check(START, tmp_path)


def test_from_a_sheet_of_ones_own(tmp_path: Path) -> None:
    check(FULL, tmp_path)


@pytest.mark.parametrize("seed", [1])
def test_the_order_of_readings_within_a_state_does_not_matter(tmp_path: Path, seed: int) -> None:
    check(replace(START, lines=shuffled(START.lines, seed), misled=0), tmp_path)


@pytest.mark.parametrize("case", [START, FULL], ids=["start", "full"])
def test_without_the_decisive_readings_nobody_is_convicted(tmp_path: Path, case: Case) -> None:
    without_decisive(case, tmp_path)


def test_a_control_pin_that_stands_at_full_volts_says_line_sense(tmp_path: Path) -> None:
    """By hand: 4 Mohm from 322 V give 80 uA, 2.4 V at the chip's 30 kohm; with the string open nothing. The pin stands at 5.8 V and nothing switches."""
    begin = (LINES[0], "symptom: dead, fuse good", "start: flyback with integrated switch; out 24V 1A; line sense")
    work = begun(Case(begin, (), ("line-sense-R", "open"), 0, ()), tmp_path)
    play(work, ("on", "L to N 230ac", "bulk 323", "out 0.0", "bp 5.80"))
    assert list(involved(work))[0] in ("line-sense-R", "switcher")  # the chip itself may be dead: 5.8 V alone does not tell them apart
    play(work, ("uv 0.00", "off", "dead 9V bulk-cap 3V x-cap 0.2V"))
    end = play(work, ("line-sense-R OL r",))
    first = end["suspects"][0]
    assert (first["part"], first["way"]) == ("line-sense-R", "open") and first["odds"] > 0.95


def test_a_control_pin_that_pulses_says_overload(tmp_path: Path) -> None:
    """4.75 to 5.8 V at the control pin is the auto-restart: behind it a load, the rectifier or the loop, never the chip's own death or its line sense."""
    begin = (LINES[0], "symptom: dead, fuse good", "start: flyback with integrated switch; out 24V 1A; line sense")
    work = begun(Case(begin, (), ("out-load", "short"), 0, ()), tmp_path)
    play(work, ("on", "L to N 230ac", "bulk 322", "bp 4.75..5.80", "out 0..1 max 2.0"))
    odds = involved(work)
    assert odds["line-sense-R"] + odds["switcher"] + odds["bypass-cap"] < 0.05
    assert list(odds)[:2] == ["out-load", "rectifier"] and odds["out-load"] + odds["rectifier"] > 0.75
