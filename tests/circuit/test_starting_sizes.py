"""The sizes of the starting sheets against the trade's own numbers.

SOURCES  rules of thumb and worked numbers: common practice (recalled by the trade, each beside its test);
         averaged stage: docs/families.md (read); formulas re-derived here: computed.
"""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from halfsplit.circuit.model import Circuit, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting import start_circuit
from halfsplit.circuit.starting.flyback_cold import divider

EU = Unit("bench set", 230.0, 50.0, "II", 40.0)
US = Unit("bench set", 120.0, 60.0, "II", 40.0)
FLYBACKS = (
    "flyback with controller 16/10V; out 24V 1.5A", "flyback with controller 8.4/7.6V; out 5V 2A",
    "flyback with controller 16/10V; out 14.4V 5A; charger; over-volt latch",
    "flyback; out 12V 1A; second out 5V 0.3A; main by relay", "flyback; out 48V 2A",
)


def value(circuit: Circuit, place: str, name: str) -> float:
    return circuit.part(place).values[name]


@pytest.mark.parametrize(("farads", "amps"), [(0.68e-6, 40.8e-3), (0.22e-6, 13.2e-3), (0.66e-6, 39.6e-3)])
def test_dropper_current_of_the_worked_case(farads: float, amps: float):
    """0.68 uF on 230 V gives 40.8 mA into 24 V (computed, worked bread-maker case); three figures are given, so 0.5 %."""
    assert sz.dropper_amps(farads, volts=230, hertz=50, rail=24) == pytest.approx(amps, rel=5e-3)


@pytest.mark.parametrize(("volts", "hertz", "milliamps"), [(120, 60, 37), (230, 50, 62)])
def test_dropper_current_per_microfarad(volts: float, hertz: float, milliamps: float):
    """A 12 V rail gets 37 mA a microfarad at 120 V and 62 mA at 230 V (common practice, whole milliamps)."""
    assert sz.dropper_amps(1e-6, volts=volts, hertz=hertz, rail=12) * 1e3 == pytest.approx(milliamps, abs=0.6)


def test_dropper_current_agrees_with_stepping_the_charge():
    """4 f C (Vpk - V) is the mean current of a stepped capacitor behind four ideal diodes (computed; drops left out on both)."""
    c, rail, steps, cap, moved = 0.68e-6, 24.0 + sz.DROPPER_BRIDGE_DROP, 20000, 0.0, 0.0
    for k in range(1, 2 * steps + 1):  # two cycles; the first only settles the capacitor
        v = 230 * math.sqrt(2) * math.sin(2 * math.pi * k / steps)
        across = v - cap
        new = v - math.copysign(rail, across) if abs(across) > rail else cap
        moved, cap = moved + (abs(new - cap) * c if k > steps else 0.0), new
    assert moved * 50 == pytest.approx(sz.dropper_amps(c, volts=230, hertz=50, rail=24), rel=1e-4)  # step 1/20000 of a cycle


def test_the_bread_makers_sheet_comes_out_as_traced():
    """From `dropper, 24V relay board` alone: 0.68 uF, 1440 ohm coil, 24 V 1.3 W zener, 91 ohm for 580 W (worked case)."""
    made = start_circuit("dropper, 24V relay board", Unit("bread maker", 230.0, 50.0, "I", 580.0))
    assert value(made, "dropper-C", "farads") == pytest.approx(0.68e-6)
    assert value(made, "relay", "ohms") == 1440
    assert value(made, "heater", "ohms") == pytest.approx(91.2)
    assert made.part("zener").ratings["watts"] == 1.3
    assert value(made, "rail-cap", "volts") == 35


@pytest.mark.parametrize("unit", [EU, US])
@pytest.mark.parametrize("rail", [5, 12, 24])
@pytest.mark.parametrize("half", ["", "; half-wave"])
def test_a_dropper_feeds_its_relay_and_no_step_more(unit: Unit, rail: float, half: str):
    """With the relay in the rail holds; one E6 step less would leave under 15 % to spare. The zener stands the rest."""
    made = start_circuit(f"dropper, {rail}V relay board{half}", unit)
    farads = value(made, "dropper-C", "farads")
    gives = 4 * unit.hertz * farads * (unit.volts * math.sqrt(2) - 1.6 - rail) / (2 if half else 1)
    takes = rail / value(made, "relay", "ohms") + value(made, "micro", "amps") + 4.3 / value(made, "driver-R", "ohms")
    assert takes < gives
    assert gives / 1.55 < 1.15 * (takes + 3e-3)  # widest E6 step is 1.5; 3 mA for the regulator
    assert gives * rail <= made.part("zener").ratings["watts"]


@pytest.mark.parametrize(("watts", "volts", "low", "high"), [
    (60, 230, 60e-6, 72e-6), (72, 120, 140e-6, 216e-6), (20, 230, 20e-6, 24e-6), (20, 120, 40e-6, 60e-6),
])
def test_bulk_sizing(watts: float, volts: float, low: float, high: float):
    """About 1 uF a watt at 230 V, 2 to 3 uF a watt at 120 V (common practice)."""
    assert low <= sz.bulk_farads(watts, volts) <= high


def test_bulk_working_volts():
    """200 V types on 120 V mains, 400 V types on 230 V (common practice)."""
    assert (sz.bulk_volts(120), sz.bulk_volts(230)) == (200, 400)


@pytest.mark.parametrize(("va", "low", "high"), [(2.5, 1000, 4000), (4, 1000, 4000), (20, 100, 300), (100, 12, 30), (300, 3, 6)])
def test_primary_ohms_are_those_of_the_trade(va: float, low: float, high: float):
    """230 V primaries: small ones 1-4 kohm, 20 VA 100-300, 100 VA 12-30, 300 VA 3-6 (common practice)."""
    assert low <= sz.transformer_values(12, va, volts=230, hertz=50)["rp"] <= high


def test_a_120_volt_primary_has_about_a_quarter():
    """Half the volts, a quarter of the ohms (common practice)."""
    ratio = [sz.transformer_values(12, 20, volts=v, hertz=50)["rp"] for v in (120, 230)]
    assert ratio[0] / ratio[1] == pytest.approx((120 / 230) ** 2, rel=0.01)


@pytest.mark.parametrize("va", [2.5, 20, 100, 400])
def test_off_load_volts_and_rated_load_agree(va: float):
    """Off load 5 to 25 % over the label (common practice); a resistive load of the rated current brings it to the label."""
    t = sz.transformer_values(12, va, volts=230, hertz=50)
    assert 1.05 * 12 <= t["out"] * 1.001 and t["out"] <= 1.25 * 12 * 1.001
    whole = t["rs"] + t["rp"] * (t["out"] / 230) ** 2
    assert t["out"] - va / 12 * whole == pytest.approx(12, rel=0.01)


def step_reservoir(*, off_load: float, ohms: float, farads: float, amps: float, hertz: float) -> tuple[float, float]:
    """(mean, valley) of a reservoir, stepped with plain Euler: a judge that shares nothing with the closed form."""
    dt, v, tail = 1e-5, off_load * 1.2, []
    for k in range(int(0.5 / dt)):
        source = abs(off_load * math.sqrt(2) * math.sin(2 * math.pi * hertz * k * dt)) - sz.BRIDGE_DROP
        v += (max(0.0, (source - v) / ohms) - amps) / farads * dt
        if k * dt > 0.4:
            tail.append(v)
    return float(np.mean(tail)), min(tail)


@pytest.mark.parametrize(("line", "unit", "top"), [
    ("linear 12V 1A, 5V", EU, 12), ("linear 5V 1A", US, 5), ("linear 24V 0.2A", EU, 24), ("linear +-15V 0.5A", US, 15),
    ("linear 12V 0.05A", EU, 12),
])
def test_regulators_keep_their_headroom(line: str, unit: Unit, top: float):
    """At full load and mains -10 % the valley still stands 2 V above the highest output; ripple stays within 2 V."""
    made = start_circuit(line, unit)
    t = made.part("transformer").values
    amps = sum(p.values["amps"] + 5e-3 for p in made.parts if p.family == "load" and not p.ref.startswith("minus-"))
    farads = value(made, "reservoir", "farads")
    assert amps / (2 * unit.hertz * farads) <= 2.0
    whole = t["rs"] + t["rp"] * (t["out"] / unit.volts) ** 2
    mean, valley = step_reservoir(off_load=0.9 * t["out"], ohms=whole, farads=farads, amps=amps, hertz=unit.hertz)
    assert valley >= top + 2.0
    assert mean == pytest.approx(sz.loaded_dc(off_load=0.9 * t["out"], ohms=whole, amps=amps), rel=0.05)  # ripple left out there
    idle_peak = 1.1 * t["out"] * math.sqrt(2)
    assert idle_peak <= value(made, "reservoir", "volts")


@pytest.mark.parametrize(("watts", "volts", "ohms"), [
    (1000, 230, 53), (1000, 120, 14.4), (350, 230, 151), (580, 230, 91.2), (500, 120, 28.8),
])
def test_heater_ohms(watts: float, volts: float, ohms: float):
    """R = V^2/P: 1 kW is 53 ohm at 230 V and 14.4 at 120 V (common practice); laminator, bread maker, hotplate (worked cases)."""
    made = start_circuit(f"series chain: fuse, link 216C, heater {watts}W", Unit("x", volts, 50.0, "I", 0.0))
    assert value(made, "heater", "ohms") == pytest.approx(ohms, rel=5e-3)


def test_a_chain_stands_in_the_order_in_which_it_was_said():
    """Each joint is named by its neighbours, and the way from the plug to the neutral runs through all of them."""
    made = start_circuit("series chain: fuse, link 216C, stat, contact, heater 350W", EU)
    assert made.chain == ("mains", "lead", "fuse", "link", "stat", "contact", "heater")
    ends = ["inlet", "live", "link/stat", "stat/contact", "contact/heater", "N"]
    assert [made.part(p).pins["b"] for p in made.chain[1:]] == ends
    for before, after in zip(made.chain[1:], made.chain[2:], strict=False):
        assert made.part(before).pins["b"] == made.part(after).pins["a"]


def test_the_relay_of_a_chain_pulls_in_on_its_own_supply():
    """The laminator's relay: 12 V 360 ohm, fed by 230:9 V 2.5 VA (worked case); loaded it gets over 0.7 of its volts at -10 %."""
    made = start_circuit("series chain: fuse, link 216C, stat, relay 12V, heater 350W", EU)
    t = made.part("transformer").values
    assert value(made, "relay", "ohms") == 360 and made.part("transformer").ratings["va"] == 2.5
    assert t["out"] == pytest.approx(9 * 1.25)
    whole = t["rs"] + t["rp"] * (t["out"] / 230) ** 2
    assert sz.loaded_dc(off_load=0.9 * t["out"], ohms=whole, amps=0.046) > 0.7 * 12 + 0.2


@pytest.mark.parametrize("out", [3.3, 5, 12, 14.4, 19, 24, 36, 48])
def test_the_divider_sets_the_output(out: float):
    """2.495 V at the reference, 2 uA into it, gives the output within 0.6 %."""
    top, low = divider(out)
    assert 2.495 + top * (2.495 / low + 2e-6) == pytest.approx(out, rel=6e-3)


@pytest.mark.parametrize("unit", [EU, US])
@pytest.mark.parametrize("line", FLYBACKS)
def test_the_averaged_stage_can_regulate(line: str, unit: Unit):
    """By the published equations: full load needs a part of the drive, the opto can pull fb there and to idle, no trip."""
    made = start_circuit(line, unit)
    whole = max(float(m[1]) for m in re.finditer(r"out (\d+(?:\.\d+)?)V (?:\d+(?:\.\d+)?)A", made.start))
    rails = re.findall(r"(second )?out (\d+(?:\.\d+)?)V (\d+(?:\.\d+)?)A", made.start)
    amps = sum(float(a) for _, _, a in rails)
    core_watts = value(made, "transformer", "out") * amps + value(made, "transformer", "aux") * 8e-3
    bulk = unit.volts * math.sqrt(2)
    watts, sense = value(made, "switch", "watts"), value(made, "sense-R", "ohms")
    assert watts == pytest.approx(2.5 * whole * amps, rel=0.01)
    share = core_watts / 0.85 / watts  # x of the gate that carries the load
    assert 0.3 < share < 0.6
    drain = core_watts / 0.85 * bulk / (bulk**2 + 900)
    assert value(made, "controller", "trip") == pytest.approx(1.6 * drain * sense, rel=0.05)
    assert 0.05 < drain * sense < 0.2  # [V] mean: 10..150 mV (common practice), sense resistor in E12 steps
    low_bulk = 0.9 * bulk - core_watts / 0.85 / bulk / (2 * unit.hertz * value(made, "bulk-cap", "farads"))
    assert core_watts / 0.85 / low_bulk * sense < value(made, "controller", "trip")
    fb = 0.8 + 2.4 * (0.3 + 2.7 * share + drain * sense) / 3.0
    needed = (5 - fb) / 5e3 / 1.3 + 1.15 / value(made, "opto-bias", "ohms")
    idle = (5 - 0.8) / 5e3 / 1.3 + 1.15 / value(made, "opto-bias", "ohms")
    offered = (whole - 1.15 - 2.0) / value(made, "opto-R", "ohms")
    assert needed < idle < offered < 6e-3


@pytest.mark.parametrize("unit", [EU, US])
@pytest.mark.parametrize("line", FLYBACKS)
def test_the_controller_starts_and_stays_up(line: str, unit: Unit):
    """It starts at mains -20 %, the start current alone can't carry it, and the aux volts sit between stop and over-volt."""
    made = start_circuit(line, unit)
    von, voff = value(made, "controller", "von"), value(made, "controller", "voff")
    ohms = value(made, "start-up-R", "ohms")
    assert (0.8 * unit.volts * math.sqrt(2) - von) / ohms > 5 * 60e-6
    assert (1.1 * unit.volts * math.sqrt(2) - voff) / ohms < 8e-3
    assert (1.1 * unit.volts * math.sqrt(2)) ** 2 / ohms <= value(made, "start-up-R", "watts")
    vcc = value(made, "transformer", "aux") - 0.7
    assert voff + 3 <= vcc <= 28 - 4
    if "latch" in line:
        assert vcc * 1.15 < value(made, "latch-zener", "volts") < 28


def test_ratings_leave_room():
    """The bulk stays under 0.93 of its volts at mains +10 %, the output capacitor under 0.8; the rectifier has its margin."""
    made = start_circuit(FLYBACKS[0], EU)
    assert 1.1 * 325 <= 0.93 * value(made, "bulk-cap", "volts")
    assert 24 <= 0.8 * value(made, "out-cap", "volts")
    assert made.part("rectifier").ratings["volts"] >= 4.5 * 24  # 4 to 5 times the output (common practice)


def test_only_a_main_supply_behind_both_poles_of_its_own_is_off_with_the_relay():
    """The main bridge shares no minus with the standby bridge: through it the open contact would be by-passed."""
    made = start_circuit("flyback; out 12V 1A; main by relay", EU)
    assert made.part("main-bridge").pins["-"] != made.part("bridge").pins["-"]
    assert made.part("main-bridge").pins["~1"] == made.part("relay").pins["no"]
