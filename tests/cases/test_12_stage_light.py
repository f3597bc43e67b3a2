"""Common practice, worked case: a stage light of 400 W, dead, its standby LED on. One resistor of the boost stage's string is open.

By hand: the string is 3 x 1.0 M over 19.6 k, so 385 V make 2.5 x (1 + 3000/19.6) = 385 V; an idle boost stage leaves the rectified peak, 323 V,
and its FB then at 323 x 19.6/3019.6 = 2.10 V. Cold, each of three good ones would read 1.0 beside 1.0 + 1.0 + 0.0196 + 0.44 (bleeders), 0.71 M;
with R14 open its neighbours read 1.00 M, and its own place the way round: 1 + 1 + 0.0196 + 0.44 = 2.46 M.
Misleading: 324 V on the bulk, "perfect".
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from case_support import Case, begun, check, play, shuffled, without_decisive

THREE = ("unit: stage light, 230V 50Hz, class I, 400W", "symptom: dead; standby LED on", "start: PFC and half-bridge; out 36V 10A")
CAPS = "bulk-cap 0.4V rect-C 0.2V x-cap 0.1V standby-vcc-cap 0.1V vcc-cap 0.1V resonant-C 0.1V"
LOOKED = ("off", f"dead 9V {CAPS}", "L to 0V OL r", "N to 0V OL r", "on")

START = Case(
    begin=THREE,
    lines=(
        *LOOKED, "+5 5.02", "press on", "enable 4.3", "vcc 15.3", "out 0", "bulk 324", "pfc-fb 0.00", "off", f"dead 9V {CAPS}",
        "string-one 1.00M", "string-three 1.00M", "string-two 2.46M",
    ),
    true=("string-two", "open"),
    misled=11,
    decisive=("string-three 1.00M", "string-two 2.46M"),
)

SHEET = """\
unit: stage light, 230V 50Hz, class I, 400W
symptom: dead; standby LED on
ways:
- L F1(T6.3A) live NTC1(5R) line
- line CX1(0.68u X2) N
- vcc K1.coil(12V 360R) hot-
- live K1.no line
- rect C11(1u 450V) hot-
- drain D1.ak(8A fast) bulk
- rect D2.ak(6A) bulk
- bulk C1(electrolytic 270u 450V) hot-
- bulk R12(1M) one R14(1M) two R16(1M) pfc-fb R15(19k6) hot-
- pfc-fb C5(1n) hot-
- source R17(0.05R 3W) hot-
- pfc-drive R18(10R) gate R19(10k) hot-
- bulk R20(220k 1W) bleed R21(220k 1W) hot-
- high-drive R22(22R) high-gate R23(10k) mid
- low-drive R24(22R) low-gate R25(10k) hot-
- low-source R26(0.03R 1W) hot-
- tank C9(22n 1000V) hot-
- sec-one D5.ak(fast) out
- sec-two D6.ak(fast) out
- out C20(electrolytic 1000u 63V) 0V
- out F2(T16A) fed J1(load 36V 10A) 0V
- out R30(52k3) ref R31(3k9) 0V
- ref C24(100n) opto-k
- out R32(6k8) opto-a R33(1k) opto-k
- svcc C22(electrolytic 47u 35V) hot-
- vcc C23(electrolytic 47u 35V) hot-
- svcc R40(10k) base R41(4k7) enable-c
- +5 C21(electrolytic 470u 10V) 0V
- enable R42(470R) enable-a
parts:
- LF1 choke, a1=line a2=line-f b1=N b2=neutral-f
- BR1 bridge 15A, ~=line-f ~=neutral-f +=rect -=hot-
- L1 boost-coil, a=rect b=drain core=pfc-core
- Q1 boost-fet 650V, d=drain g=gate s=source core=pfc-core
- U1 pfc-controller, vcc=vcc gnd=hot- fb=pfc-fb gate=pfc-drive sense=source
- Q2 bridge-fet, d=bulk g=high-gate s=mid core=core
- Q3 bridge-fet, d=mid g=low-gate s=low-source core=core
- U2 llc-controller, vcc=vcc gnd=hot- bulk=bulk fb=fb ho=high-drive vs=mid lo=low-drive sense=low-source
- T1 bridge-transformer 36.7V, p+=mid p-=tank s1=sec-one ct=0V s2=sec-two core=core
- U3 reference, k=opto-k a=0V r=ref
- U4 opto, a=opto-a k=opto-k c=fb e=hot-
- U5 standby 5V, in+=bulk in-=hot- v+=svcc v-=hot- s+=+5 s-=0V
- Q6 pnp, b=base c=vcc e=svcc
- U7 opto, a=enable-a k=0V c=enable-c e=hot-
- U6 micro 5V ~30mA, vdd=+5 0v=0V out=enable
does:
  on: U6.out high
cold: +5, 0V, out, fed, enable, enable-a, ref, opto-a, opto-k
"""
TRACED_CAPS = "C1 0.4V C11 0.2V CX1 0.1V C22 0.1V C23 0.1V C9 0.1V C20 0.1V"
TRACED = Case(
    begin=SHEET,
    lines=(
        "off", f"dead 9V {TRACED_CAPS}", "L to 0V OL r", "N to 0V OL r", "on", "press on", "out 0", "bulk 324", "+5 5.02", "enable 4.3",
        "vcc 15.3", "pfc-fb 0.00", "off", f"dead 9V {TRACED_CAPS}", "R12 1.00M", "R16 1.00M", "R14 2.46M",
    ),
    true=("R14", "open"),
    misled=8,
    decisive=("R16 1.00M", "R14 2.46M"),
)


def test_from_a_starting_sheet(tmp_path: Path) -> None:
    check(START, tmp_path)


def test_from_a_sheet_of_its_own_the_misleading_reading_first(tmp_path: Path) -> None:
    check(TRACED, tmp_path)


@pytest.mark.parametrize("seed", [1])
def test_the_order_of_readings_within_a_state_does_not_matter(tmp_path: Path, seed: int) -> None:
    check(replace(START, lines=shuffled(START.lines, seed), misled=0, decisive=()), tmp_path)


def test_without_the_decisive_readings_nobody_is_convicted(tmp_path: Path) -> None:
    """FB at nothing says the string is open (or its capacitor shorted), not which of three: all three lead, and share."""
    end = without_decisive(START, tmp_path)
    assert {s["part"] for s in end["suspects"][:2]} <= {"string-two", "string-three"}


def test_a_low_resistor_that_is_open_holds_the_stage_off_with_fb_high(tmp_path: Path) -> None:
    """By hand: with nothing below it FB climbs until the pin lets go, some 6 V; the stage is held off, the bulk stays at the peak.
    Cold, its place reads the three of the string and both bleeders: 3 + 0.44 = 3.44 M."""
    lines = (*LOOKED, "+5 5.02", "press on", "bulk 324", "vcc 15.3", "out 0", "pfc-fb 5.9", "off", f"dead 9V {CAPS}", "string-low 3.44M")
    check(Case(THREE, lines, ("string-low", "open"), 8, ()), tmp_path)


def test_a_drifted_string_shows_2_50_at_fb_and_too_much_on_the_bulk(tmp_path: Path) -> None:
    """By hand: with one of three at 1.6 M the loop holds 2.5 x (1 + 3600/19.6) = 462 V where FB reads 2.50 V as it should.
    Cold that one reads 1.6 beside 1 + 1 + 0.0196 + 0.44 = 2.46 M: 0.97 M; its neighbours 1.0 beside 1.6 + 1 + 0.4596 = 3.06: 0.75 M."""
    begin = (THREE[0], "symptom: hums, runs hot", THREE[2])
    lines = (
        *LOOKED, "press on", "out 36.0", "pfc-fb 2.50", "bulk 462", "off", f"dead 9V {CAPS}", "string-one 0.75M", "string-two 0.97M",
        "string-three 0.75M",
    )
    check(Case(begin, lines, ("string-two", "up"), 8, ()), tmp_path)


def test_an_idle_boost_stage_with_a_good_string_is_not_blamed_on_the_string(tmp_path: Path) -> None:
    """By hand: 323 V over a good string give 2.10 V at FB. It is then the controller, its FET, its drive, coil or diode, never the string."""
    end = play(begun(Case(THREE, (), ("", ""), 0, ()), tmp_path), (*LOOKED, "press on", "vcc 15.3", "bulk 323", "pfc-fb 2.10", "out 0"))
    odds = {s["part"]: s["odds"] for s in end["suspects"]}
    assert next(iter(odds)) == "pfc-controller"
    assert sum(x for part, x in odds.items() if part.startswith("string")) < 0.02


def test_a_shorted_bridge_transistor_opens_the_fuse(tmp_path: Path) -> None:
    """By hand: one of the pair short and the other driven is 385 V across it, and the fuse goes. Cold, bulk to middle reads the short alone; from bulk
    to the drain of the boost FET stand the bleeders beside the string, 0.44 beside 3.02 M, and the FET's body diode: it is no second short."""
    begin = (THREE[0], "symptom: dead; fuse open", THREE[2])
    lines = ("off", f"dead 9V out-cap 0.2V {CAPS}", "L to 0V OL r", "N to 0V OL r", "fuse OL r", "high-switch 0.2r",
             "pfc-diode.k to pfc-diode.a 0.45M")
    check(Case(begin, lines, ("high-switch", "short"), 5, ()), tmp_path)
