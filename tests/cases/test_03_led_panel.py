"""Common practice, worked case: an LED panel lamp, dark without a flash. One LED of twenty-four is open.

By hand: 23 LEDs at the microamps that a 10 Mohm meter takes drop about 2.35 V each, 54 V; of the 96 V at which the driver gives up the meter shows
the rest, 42 V, across the open one, and 0.0 V across any other. Across a group of four with the open one in it stand 96 - 20 x 2.35 = 49 V.
300 ohm in place of the string: 0.4 V/(2 x 0.82 ohm) = 244 mA, 73.2 V: the driver is proven, the string has it.
Misleading: 88 to 96 V at the connector where 72 is right, "the driver gives plenty of volts".
The other fault: the sense resistor open, the chip sees its trip at once, no output, and its own supply is good.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from case_support import Case, begun, check, involved, play, shuffled, without_decisive

BEGIN = ("unit: LED panel lamp, 230V 50Hz, class II, 20W", "symptom: dark, no flash", "start: LED driver 72V 240mA")
DEAD = ("off", "dead 9V bulk-cap 0.4V out-cap 0.2V mains 0V 9V", "fusible-R 4.8r", "drain to cs 1.6M creeping")
ON = ("on", "yes", "L to N 230ac", "bulk 322")
DUMMY = ("off", DEAD[1], "dummy 300R 25W", "on", "yes", "out-cap 73.2", "off", DEAD[1])
STRING = ("dummy none", "on", "yes", "led-1 0.0", "led-2 0.0", "led-3 0.0", "led-4 49")
ONE = ("D14+D15+D16+D17 led-4", "D14 0.0", "D15 0.0", "D16 0.0", "D17 42")  # the four of the group by their names, then each by itself
START = Case(
    begin=BEGIN,
    lines=(*DEAD, *ON, "out-cap 88..96", *DUMMY, *STRING, *ONE),
    true=("D17", "open"),
    misled=9,
    decisive=("led-4 49", *ONE),
    root=("heat", "bonding"),
)
SHEET = """unit: LED panel lamp, 230V 50Hz, class II, 20W
symptom: dark, no flash
ways:
- L RF1(fusible 4.7R 1W) live
- live MOV1(300V) N
- bulk C1(electrolytic 6.8u 400V) hot-
- bulk R1(2M2) R2(2M2) vcc C3(electrolytic 4.7u 25V) hot-
- cs R3(0.82R 0.5W) hot-
- drain D1.ak(diode 1A 600V) bulk
- drain L1(inductor 1.2mH) out-
- bulk C2(electrolytic 4.7u 160V) out-
- bulk R5(510k) out-
- bulk CN1(connector) led+ D2.ak(led 45V 240mA white) s-16 D17.ak(led 3V 240mA white) s-17 D18.ak(led 24V 240mA white) led- CN2(connector) out-
parts:
- BR1 bridge 1A, ~=live ~=N +=bulk -=hot-
- U1 led-buck, vdd=vcc gnd=hot- d=drain cs=cs back=bulk
"""
OWN = Case(
    begin=SHEET,
    lines=(
        "off", "dead 9V C1 0.4V C2 0.2V mains 0V 9V", "RF1 4.8r", "drain to cs 1.6M creeping", *ON, "C2 88..96", "D2 0.0", "D18 0.0", "D17 42",
    ),
    true=("D17", "open"),
    misled=9,
    decisive=("D17 42",),
    root=("heat", "bonding"),
)


def test_from_a_starting_sheet(tmp_path: Path) -> None:
    check(START, tmp_path)


def test_the_dummy_proves_the_driver(tmp_path: Path) -> None:
    """73.2 V steady: what is left is the string with its plug. The driver's own parts lose what the misleading 88 to 96 V gave them."""
    work = begun(START, tmp_path)
    play(work, (*DEAD, *ON, "out-cap 88..96"))
    end = play(work, DUMMY)
    odds = involved(work)
    string = {part for part in odds if part.startswith(("led-", "plug-"))}
    assert sum(odds[part] for part in string) > 0.97, odds
    assert end["card"].get("verdict") != "convicted"


def test_a_dummy_that_runs_hot_says_the_driver_is_wrong(tmp_path: Path) -> None:
    """The other way round: 30 V across 300 ohm are 100 mA where 244 are set: no string and no plug makes that."""
    work = begun(START, tmp_path)
    play(work, (*DEAD, *ON, "out-cap 30", *DUMMY[:5], "out-cap 30"))
    odds = involved(work)
    assert sum(p for part, p in odds.items() if part.startswith(("led-", "plug-"))) < 0.2, odds


def test_from_a_full_sheet(tmp_path: Path) -> None:
    """D2 stands for the fifteen above D17, D18 for the eight below."""
    check(OWN, tmp_path)


@pytest.mark.parametrize("seed", [1, 2])
def test_the_order_of_readings_within_a_state_does_not_matter(tmp_path: Path, seed: int) -> None:
    check(Case(OWN.begin, shuffled(OWN.lines, seed), OWN.true, 0, ()), tmp_path)


def test_without_the_decisive_reading_nobody_is_convicted(tmp_path: Path) -> None:
    without_decisive(START, tmp_path)


def test_a_good_chip_supply_without_output_and_an_open_sense_resistor(tmp_path: Path) -> None:
    """Its chip has its 8 V, the output is at nothing; cold, 0.82 ohm reads OL in circuit."""
    lines = (*DEAD[:3], "drain to cs OL r", *ON, "out-cap 0.1", "vcc 8.3", "off", "dead bulk-cap 1V out-cap 0V mains 0V", "sense-R OL r")
    check(Case(BEGIN, lines, ("sense-R", "open"), 0, ()), tmp_path)


def test_the_string_whole_and_its_plug_open(tmp_path: Path) -> None:
    """The string's lower end hangs at the bulk less 24 x 2.4 V at the meter's 26 uA, 264 V, where the driver's own minus stands at 322 - 92 = 230."""
    lines = (*DEAD, *ON, "out-cap 88..96", "led+ 322", "led- 264", "out- 226..234", "off", "dead bulk-cap 1V out-cap 1V mains 0V", "plug-minus OL r")
    check(Case(BEGIN, lines, ("plug-minus", "open"), 9, ()), tmp_path)
