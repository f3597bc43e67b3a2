"""The tungsten lamp on a sheet and the one in series with a set, against the published law and its closed-form solution.

SOURCES  data/meter_facts.csv, rows "lamp": exponents (Standard Handbook for Electrical Engineers, 11th ed., p. 22-8, read second-hand),
         cold and hot ohms (read second-hand; computed; R ~ T^1.2, recalled). Volts behind a lamp: the trade's own table, computed there
         for a load of constant power.
TAKEN    with I = I0 v^0.55 a lamp in series with a resistor R0 k ohm (k times its hot ohms) settles where v + k v^0.55 = 1.
BOUND    a lamp of the sheet stands on levels 2.6 % apart and stays within 0.75 of one: 2 % of its ohms. The series lamp is iterated until
         its ohms lie within 0.5 % of what they ask for: 1 %.
"""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from halfsplit.circuit.model import Part
from halfsplit.diagnosis.build import behind_lamp
from halfsplit.parts.filament import COLD, RISE, filament_ohms
from halfsplit.solver.powered import Powered
from solver.figures import rows
from solver.rig import circuit, cold, failed, part, read, run, values_of

FACTS = {r["item"]: r for r in rows("meter_facts.csv") if r["topic"] == "lamp"}
MAINS = [(120.0, 60.0), (230.0, 50.0)]


def share(k: float) -> float:
    """v of v + k v^0.55 = 1, by bisection (computed)."""
    low, high = 0.0, 1.0
    for _ in range(60):
        mid = (low + high) / 2
        low, high = (mid, high) if mid + k * mid**0.55 < 1 else (low, mid)
    return low


def test_exponents():
    """I ~ v^0.55 makes R ~ v^0.45 and P ~ v^1.55, printed as 1.6."""
    law = FACTS["current and power vs voltage"]["result"]
    exponent = float(re.search(r"I ~ v\^([\d.]+)", law)[1])
    assert RISE == pytest.approx(1 - exponent)
    assert 1 + exponent == pytest.approx(float(re.search(r"P ~ v\^([\d.]+)", law)[1]), abs=0.051)  # two digits in print
    v = np.array([0.1, 0.3, 0.5, 0.8, 1.0, 1.1])
    np.testing.assert_allclose(v / filament_ohms(np.ones(6), v), v**exponent, rtol=1e-12)


def test_cold_ohms():
    """Hot over cold: 10 printed for a 60 W 120 V bulb, inrush 10 to 15 times, 14 from R ~ T^1.2 between 300 and 2700 K. Ours lies among them."""
    low, high = (float(x) for x in re.search(r"inrush (\d+)-(\d+) x", FACTS["cold/hot resistance"]["note"]).groups())
    power = float(re.search(r"\^([\d.]+)", FACTS["resistance and temperature"]["result"])[1])
    assert (2700 / 300) ** power == pytest.approx(14, rel=0.01)
    assert low <= COLD <= high and COLD < (2700 / 300) ** power
    cold_ohms, hot_ohms = (float(x) for x in re.findall(r"(\d+)", FACTS["cold/hot resistance"]["result"])[:2])
    assert 120**2 / 60 == hot_ohms
    assert hot_ohms / COLD == pytest.approx(cold_ohms, rel=0.25)


def test_lamp_into_a_short():
    """A 60 W 230 V lamp: 882 ohm hot, 0.26 A at most; cold 60 to 65 ohm (at a ratio of 14; 68 at 13)."""
    assert re.match(r"hot 882 ohm, 0.26 A max into a short; cold about 60-65 ohm", FACTS["series lamp as limiter"]["result"])
    c = circuit(part("R", "resistor", "L N", ohms=0.1), volts=230.0, hertz=50.0)
    s = lit(c, 60.0)
    assert read(s, "L", "N", "ac") / 0.1 == pytest.approx(0.26, abs=5e-3)
    assert float(filament_ohms(np.asarray(882.0), np.asarray(0.0))) == pytest.approx(65.0, rel=0.05)


@pytest.mark.parametrize(("watts", "volts", "amps"), [(60, 230, 0.26), (100, 230, 0.43), (60, 120, 0.5), (100, 120, 0.83)])
def test_short_behind_a_lamp(watts, volts, amps):
    """Into a short (common practice, computed as watts over volts)."""
    s = lit(circuit(part("R", "resistor", "L N", ohms=0.1), volts=float(volts), hertz=dict(MAINS)[float(volts)]), float(watts))
    assert read(s, "L", "N", "ac") / 0.1 == pytest.approx(amps, rel=0.02)


# -- against the closed form ---------------------------------------------------------------------------------


def lit(c, watts: float, values=None) -> Powered:
    """A set behind a lamp of so many watts."""
    s = behind_lamp(c, values or values_of(c), 1, watts, None, None)
    assert s.ok.all()
    return s


@pytest.mark.parametrize("k", [0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0])
@pytest.mark.parametrize(("volts", "hertz"), MAINS)
def test_series_lamp_and_a_resistor(k, volts, hertz):
    """What is left for the resistor. The lamp's ohms are within 1 %, which moves the split by at most 1 % of the smaller part."""
    hot = volts**2 / 60.0
    c = circuit(part("R", "resistor", "L N", ohms=k * hot), volts=volts, hertz=hertz, ohms=1e-3)
    v = share(k)
    assert v**0.45 > 1 / COLD  # the closed form has no floor
    assert read(lit(c, 60.0), "L", "N", "ac") / volts == pytest.approx(1 - v, abs=0.01 * min(v, 1 - v) + 1e-4)


@pytest.mark.parametrize("k", [0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0])
@pytest.mark.parametrize(("volts", "hertz"), MAINS)
def test_lamp_of_a_sheet_and_a_resistor(k, volts, hertz):
    """The same with the lamp a part of the set."""
    hot = volts**2 / 60.0
    c = circuit(
        part("LA", "lamp", "L a", ohms=hot, volts=volts),
        part("R", "resistor", "a N", ohms=k * hot),
        volts=volts,
        hertz=hertz,
        ohms=1e-3,
    )
    s = run(c)
    assert not s.pulsing.any()
    v = share(k)
    assert read(s, "L", "a", "ac") / volts == pytest.approx(v, abs=0.02 * min(v, 1 - v) + 1e-4)


def test_dim_lamp_is_cold():
    """Under 0.3 % of its volts a filament keeps its cold ohms: the divider of a thirteenth of its hot ones."""
    c = circuit(
        part("LA", "lamp", "L a", ohms=882.0), part("R", "resistor", "a N", ohms=30 * 882.0), volts=230.0, hertz=50.0, ohms=1e-3
    )
    assert read(run(c), "L", "a", "ac") / 230 == pytest.approx((1 / 13) / (1 / 13 + 30), rel=0.01)


def test_two_lamps_in_series_share():
    """Two alike have half each, so 2^0.45 less ohms than hot ones; a 25 W lamp before a 100 W one takes most (closed form: the current is
    the same, so v2/v1 = (I1/I2)^(1/0.55), I in proportion to the watts)."""
    hot = 230.0**2
    for first, second in ((60.0, 60.0), (25.0, 100.0)):
        c = circuit(
            part("LA", "lamp", "L a", ohms=hot / first),
            part("LB", "lamp", "a N", ohms=hot / second),
            volts=230.0,
            hertz=50.0,
            ohms=1e-3,
        )
        s = run(c)
        assert not s.pulsing.any()
        v = 1 / (1 + (first / second) ** (1 / 0.55))
        assert read(s, "L", "a", "ac") / 230 == pytest.approx(v, abs=0.02 * min(v, 1 - v))


def test_lamp_behind_a_contact():
    """A relay's contact lights it: full mains across it and its hot ohms; contact open: nothing; its filament open: full mains again."""
    c = circuit(
        part("B", "bridge", "L N p m"),
        part("C", "capacitor", "p m", farads=100e-6),
        part("K", "relay", "p m L lamp", volts=300.0, ohms=30e3),
        part("LA", "lamp", "lamp N", ohms=882.0),
        volts=230.0,
        hertz=50.0,
    )
    for values, pulled, shown in (
        (None, 1.0, 230.0),
        (failed(c, "K", "coil-open"), 0.0, 0.0),
        (failed(c, "LA", "open"), 1.0, 230.0),
    ):
        s = run(c, values)
        assert not s.pulsing.any()
        assert s.modes["K"][0] == pulled
        assert read(s, "lamp", "N", "ac") == pytest.approx(shown, abs=0.5)
    assert cold(c, "lamp", "N", "r")[0] == pytest.approx(882 / 13, rel=0.02)


@pytest.mark.parametrize(
    ("text", "ohms", "volts", "doubtful"),
    [
        ("lamp 60W 230V", 881.7, 230.0, False),
        ("lamp 24V 5W", 115.2, 24.0, False),
        ("lamp 60W", 881.7, 230.0, True),
        ("heater 580W 230V", 91.2, None, False),
        ("heater 580W", 91.2, None, True),
        ("heater 300R 580W", 300.0, None, False),
    ],
)
def test_watts_say_ohms(text, ohms, volts, doubtful):
    """R = V^2/P; on the mains where no volts are written, and then doubtful. Ohms that are written count."""
    sheet = f"unit: test, 230V 50Hz, class II, 60W\nways:\n- L X1({text}) N\n"
    found = opened(sheet)
    assert found.values["ohms"] == pytest.approx(ohms, rel=1e-3)
    assert volts is None or found.values["volts"] == volts
    assert ("ohms" in found.doubts) is doubtful


def opened(text: str) -> Part:
    """Part X1 of a sheet."""
    from halfsplit.circuit.assemble import build_circuit
    from halfsplit.circuit.sheet import read_sheet
    from halfsplit.parts import FAMILIES

    return build_circuit(read_sheet(text, "test"), FAMILIES).part("X1")


# -- a converter behind a lamp -------------------------------------------------------------------------------

SETS = (1.0, 3.0, 8.0, 20.0, 50.0)  # watts
BULK = {  # (mains, lamp watts) -> mean volts on the bulk for each set; None where the table says that it collapses
    (120.0, 40.0): (165, 159, 138, None, None),
    (120.0, 60.0): (166, 162, 150, 103, None),
    (120.0, 100.0): (167, 165, 158, 138, None),
    (120.0, 150.0): (167, 166, 162, 150, None),
    (230.0, 40.0): (318, 306, 271, 207, None),
    (230.0, 60.0): (320, 312, 290, 235, None),
    (230.0, 100.0): (321, 317, 305, 269, None),
    (230.0, 150.0): (322, 319, 311, 289, 206),
}
PASSES = 0.55**0.55 / 1.55**1.55  # of its watts, at most, that a lamp lets through: v^0.55 (1 - v) at its top, v = 0.55/1.55
FOLD = 0.32  # of its watts that it lets through to a rectifier with a large bulk (computed below)


def converter(volts: float, watts: float):
    """Bridge, bulk (47 uF, double at 120 V), a switching stage that draws constant power, fully driven."""
    return circuit(
        part("B", "bridge", "L N bulk g"),
        part("C", "electrolytic", "bulk g", farads=47e-6 if volts > 200 else 100e-6, volts=400.0),
        part("Q", "fet", "bulk gate g core", watts=watts),
        part("RG", "resistor", "bulk gate", ohms=1e8),
        part("RC", "resistor", "core N", ohms=24.0**2 / (0.85 * watts)),
        volts=volts,
        hertz=dict(MAINS)[volts],
    )


def most_through(watts: float) -> float:
    """Power that a lamp lets through to a bulk without ripple, at most, near-ideal rectifier (computed apart from the solver): current
    flows while the sine is above the bulk, the filament's ohms are those of its own rms volts."""
    angle = (np.arange(2000) + 0.5) / 2000 * math.pi
    best = 0.0
    for bulk in np.linspace(0.05, 0.99, 200) * math.sqrt(2):
        over = np.maximum(math.sqrt(2) * np.sin(angle) - bulk, 0.0)
        ohms = float(filament_ohms(np.asarray(1.0 / watts), np.asarray(math.sqrt(float((over**2).mean())))))
        best = max(best, bulk * float(over.mean()) / ohms)
    return best


def test_most_that_a_lamp_lets_through():
    """0.365 of its watts whatever hangs behind it, 0.32 to a large bulk: 40 W let 12.8 W through. The table's 207 V for 20 W behind 40 W at
    230 V can't be: the same pair collapses there at 120 V, and only the ratio counts."""
    assert PASSES == pytest.approx(0.365, abs=1e-3)
    assert most_through(40.0) == pytest.approx(FOLD * 40.0, rel=0.02)
    assert PASSES * 40.0 < 20.0 and BULK[120.0, 40.0][3] is None and BULK[230.0, 40.0][3] == 207


@pytest.mark.parametrize(("volts", "lamp"), BULK)
def test_bulk_behind_a_lamp(volts, lamp):
    """The trade's table (computed there for a load of constant power down to 60 V): what stays clear of the most that the lamp lets
    through is met within 2.5 % (its own stop limit is 7 %), what asks for more than any load could get collapses. Between
    the two, and where the table has volts that can't be, only that it doesn't stand as if nothing were in front of it."""
    for watts, volts_there in zip(SETS, BULK[volts, lamp], strict=True):
        c = converter(volts, watts)
        got = read(lit(c, lamp), "bulk", "g")
        if watts < 0.95 * FOLD * lamp:
            assert volts_there is not None
            assert got == pytest.approx(volts_there, rel=0.025), (watts, got)
        elif watts > PASSES * lamp:
            assert got < 60.0, (watts, got)
        else:
            assert got < 0.75 * read(run(c), "bulk", "g"), (watts, got)
