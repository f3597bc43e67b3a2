"""Stored energy and the time to empty it. Figures marked computed were worked out apart from this program, in the trade page."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.errors import DomainError
from halfsplit.repair.discharge import (
    TOP,
    TOP_ASSUMED,
    HeavyCap,
    discharge_text,
    energy,
    heavy_caps,
    plan_discharge,
    seconds_to,
    volts_after,
)


@pytest.mark.parametrize(
    ("farads", "volts", "joules"),
    [(47e-6, 325, 2.5), (100e-6, 325, 5.3), (220e-6, 390, 17), (10e-3, 50, 12.5), (1e-6, 2100, 2.2)],
)
def test_energy_of_the_trades_own_examples(farads, volts, joules):
    """The trade page's energies, section 7 [computed there], to the two figures printed."""
    assert energy(farads, volts) == pytest.approx(joules, rel=0.025)


@pytest.mark.parametrize(("farads", "volts", "seconds"), [(100e-6, 325, 0.8), (220e-6, 390, 1.8)])
def test_discharge_tool_times(farads, volts, seconds):
    """2.2 kohm to 10 V in the seconds that the trade page prints, section 7 [computed there], to one decimal."""
    assert seconds_to(farads, 2200, volts) == pytest.approx(seconds, abs=0.05)


def test_own_bleeder_is_slow():
    """270 uF with 440 k: tau 119 s, 4.8 min to 34 V (trade page, section 7 [computed there]), from the 385 V of a PFC set."""
    assert 440e3 * 270e-6 == pytest.approx(119, abs=0.5)
    assert seconds_to(270e-6, 440e3, 385, down_to=34) / 60 == pytest.approx(4.8, abs=0.05)


def test_already_low_takes_no_time_and_no_bleeder_takes_for_ever():
    """Below the target nothing is waited for; an open bleeder never gets there."""
    assert seconds_to(1e-6, 1e6, 9.9) == 0
    assert seconds_to(1e-6, math.inf, 300) == math.inf
    assert volts_after(1e-6, math.inf, 300, 1e6) == 300


@settings(max_examples=80, deadline=None, derandomize=True)
@given(st.floats(1e-9, 1e-1), st.floats(1, 1e7), st.floats(10.5, 1000), st.booleans())
def test_time_and_volts_are_inverse(farads, ohms, volts, negative):
    """After the seconds that it takes, exactly the target volts are left, in either polarity."""
    start = -volts if negative else volts
    assert abs(volts_after(farads, ohms, start, seconds_to(farads, ohms, start))) == pytest.approx(10.0, rel=1e-9)


@pytest.mark.parametrize("bad", [0.0, -1.0, math.nan])
def test_impossible_values_are_refused(bad):
    """A capacitance or resistance that can't be is refused by name, never counted as safe."""
    with pytest.raises(DomainError, match="capacitance"):
        seconds_to(bad, 100, 300)
    with pytest.raises(DomainError, match="bleed"):
        seconds_to(1e-6, bad, 300)


def circuit(*parts: Part) -> Circuit:
    return Circuit(Unit("set", 230, 50, "II", 20), parts, {"hot": "N"})


def cap(ref: str, farads: float | None, volts: float | None = None, **more) -> Part:
    values = {} if farads is None else {"farads": farads}
    return Part(ref, "electrolytic", {"+": f"{ref}+", "-": "N"}, values, {} if volts is None else {"volts": volts}, **more)


def test_only_capacitors_above_a_quarter_joule_are_named_heaviest_first():
    """The list that `dead` asks for: above 0.25 J at the top of tolerance, the heaviest first."""
    found = heavy_caps(
        circuit(cap("C1", 100e-6, 400), cap("C2", 47e-6, 25), cap("C3", 470e-6, 400)), {"C1": 325.0, "C2": 16.0, "C3": 325.0}
    )
    assert [c.ref for c in found] == ["C3", "C1"]
    assert found[1].joules == pytest.approx(TOP * 0.5 * 100e-6 * 325**2)


def test_tolerance_counts_on_the_safe_side():
    """A capacitor marked just under the limit is over it at the top of its tolerance, and further so if nobody read it."""
    just = 0.24 / (0.5 * 300**2)
    assert heavy_caps(circuit(cap("C1", just)), {"C1": 300.0})
    half = 0.13 / (0.5 * 300**2)
    assert not heavy_caps(circuit(cap("C1", half)), {"C1": 300.0})
    assert heavy_caps(circuit(cap("C1", half, assumed=True)), {"C1": 300.0})
    assert TOP_ASSUMED > TOP > 1


@pytest.mark.parametrize(
    "part", [cap("C1", 100e-6, doubts=frozenset({"farads"})), cap("C1", None, doubts=frozenset({"farads"})), cap("C1", 100e-6)]
)
def test_unknown_counts_as_heavy(part):
    """A value with a question mark, or volts that nobody knows, puts the capacitor on the list."""
    (found,) = heavy_caps(circuit(part), {})
    assert found.joules is None


def test_unvalued_capacitors_of_the_family_are_named():
    """A part that is a capacitor by its family but has no value is on the list; without that word of the family it can't be."""
    assert [c.ref for c in heavy_caps(circuit(cap("C9", None)), {"C9": 300.0}, unvalued=frozenset({"C9"}))] == ["C9"]


def test_rated_volts_stand_in_for_unsolved_ones():
    """Where no volts were solved the rating counts, however low it would really stand."""
    (found,) = heavy_caps(circuit(cap("C1", 100e-6, 400.0)), {"C1": None})
    assert found.volts == 400.0


def test_plan_takes_the_low_ohm_tool_for_low_volt_banks():
    """2.2 k for a bulk, 100 ohm for a low-volt bank (common practice); the pulse is told."""
    bulk = plan_discharge(HeavyCap("C1", "bulk-cap", 100e-6, 325.0, 5.3))
    assert bulk.ohms == 2200
    assert bulk.peak_amps == pytest.approx(
        0.148, abs=0.001
    )  # 148 mA and 48 W for an instant: trade page, section 7 [computed there]
    assert bulk.peak_watts == pytest.approx(48, abs=0.1)
    assert plan_discharge(HeavyCap("C2", None, 10e-3, 50.0, 12.5)).ohms == 100


def test_too_much_energy_for_the_tool_is_said():
    """A bank beyond what the tool's resistor takes at once asks for a bigger one; one within it does not."""
    assert "W or more" in plan_discharge(HeavyCap("C1", None, 2200e-6, 400.0, 176.0), watts=10).advice
    assert plan_discharge(HeavyCap("C1", None, 220e-6, 390.0, 16.7), watts=10).advice == ""


def test_unknown_volts_give_no_time():
    """Nothing is promised where the volts or the value are not known."""
    assert plan_discharge(HeavyCap("C1", None, 1e-4, None, None)).seconds is None
    plan = plan_discharge(HeavyCap("C1", None, None, 325.0, None))
    assert plan.seconds is None
    assert "watch the volts fall" in discharge_text(plan)


def test_card_line_names_volts_seconds_and_the_second_reading():
    """The line on the card holds the volts, the tool, the time and the reading after a minute."""
    text = discharge_text(plan_discharge(HeavyCap("C1", "bulk-cap", 100e-6, 325.0, 5.3)))
    assert text.startswith("bulk-cap: up to 325 V, 5.3 J. Discharge through 2200 ohm, 0.8 s")
    assert "again after 1 min" in text
