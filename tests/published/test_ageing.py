"""What published tables say of worn parts, against what the families call worn and how they behave while healthy.

SOURCES  data/ageing_thermal.csv (source and mark beside each row: makers' pages read second-hand, endurance criteria of IEC 60384-4 and makers'
         data recalled).
BOUND    limits as printed; the families have to lie on the right side of each.
"""

from __future__ import annotations

import re

import numpy as np
import pytest

from halfsplit.diagnosis.suspects import nominal
from halfsplit.parts import FAMILIES
from halfsplit.parts.varistor import CLAMPS
from solver.figures import rows
from solver.rig import bench_supply, circuit, cold, failed, part, read, run

FACTS = {(r["topic"], r["item"]): r for r in rows("ageing_thermal.csv")}
U = np.linspace(0.0, 1.0, 101)


def fact(topic: str, item: str, *words: str) -> str:
    """The value of a row, in which these words stand."""
    value = FACTS[topic, item]["value"]
    assert all(w in value for w in words), (value, words)
    return value


def changed(family: str, way: str, **values: float) -> dict[str, np.ndarray]:
    """What a way makes of a part at every severity."""
    found = next(w for w in FAMILIES[family].ways if w.name == way)
    base = {k: np.full(len(U), float(x)) for k, x in nominal(part("X", family, "a b", **values)).items()}
    return {**base, **found.change(base, U)}


def test_worn_electrolytics_are_past_their_end_of_life():
    """End of life is 20 % of the capacitance gone or twice the ESR: dried has both at every severity, high-esr the second."""
    fact("electrolytic", "end-of-life criteria", "C down 20 %", "up to 200 %")
    dried, high = changed("electrolytic", "dried", farads=1e-4), changed("electrolytic", "high-esr", farads=1e-4)
    assert dried["wear"].max() <= 0.8 and dried["esr_up"].min() >= 2.0
    assert high["esr_up"].min() >= 2.0


def test_ten_kelvin_rule():
    """2000 h at 105 C are 32000 h at 65 C: four steps of ten kelvin, 3.7 years on without a break. A set in standby passes that in the ten
    years for which the family's rate is raised four times, one that is used four hours a day does not."""
    fact("electrolytic", "10-kelvin rule", "doubles for each 10 C")
    fact("electrolytic", "worked check", "2000 h at 105 C run at 65 C -> 32000 h (3.7 years continuous)")
    hours = 2000 * 2 ** ((105 - 65) / 10)
    assert hours == 32000 and hours / 8760 == pytest.approx(3.7, abs=0.06)
    always, evenings = (float(x) for x in re.findall(r"h/day (\d+)", fact("electrolytic", "hours in 10 years")))
    assert (always, evenings) == (3650 * 24, 3650 * 4)
    assert evenings < hours < always
    assert "x 4 for wear-out of ten-year-old sets" in FAMILIES["electrolytic"].rate_source


def test_worn_suppressors_are_past_their_end_of_life():
    """Metallised film ends at 10 to 20 % of its capacitance lost; the way that says low begins where that is past."""
    assert "end of life -10..-20 % C" in FACTS["x_capacitor", "metallised-film ageing"]["note"]
    assert changed("capacitor", "low", farads=1e-6)["farads"].max() <= 0.8e-6


@pytest.mark.parametrize(("times", "opens"), [(1.0, False), (5.0, False), (16.0, True), (25.0, True)])
def test_fusible_resistor(times, opens):
    """Opens within a minute at 16 to 25 times its watts; not at its rating, and between the two it protects poorly (makers)."""
    assert "16-25 x rated power" in FACTS["fusible_resistor", 'meaning of "fused"']["note"]
    fact("fusible_resistor", "limits", "not moderate overloads")
    ohms, watts = 100.0, 0.5
    volts = (times * watts * ohms) ** 0.5
    c = circuit(
        part("RS", "resistor", "L x", ohms=1e-3),
        part("R", "resistor", "x N", ohms=ohms, watts=watts, fusible=1.0),
        volts=volts,
        hertz=50.0,
        ohms=1e-3,
    )
    s = run(c)
    assert bool(s.modes["R"][0]) is opens
    seen = read(s, "x", "N", "ac") / max(read(s, "L", "x", "ac") / 1e-3, 1e-15)
    fact("fusible_resistor", 'meaning of "fused"', "at least 100-fold")
    assert (seen > 100 * ohms) is opens


def test_healthy_varistor_leaks_less_than_an_aged_one():
    """At half its 1 mA volts 10 uA are the beginning of age: a healthy one leaks a tenth of it, and a hand meter reads OL."""
    fact("varistor", "leakage test", "half the 1 mA voltage", "10 uA or more")
    half = 275.0 * CLAMPS / 2
    c = circuit(*bench_supply(half), part("RS", "resistor", "V+ a", ohms=1e3), part("M", "varistor", "a N", volts=275.0), volts=400.0)
    s = run(c)
    assert read(s, "a", "N") == pytest.approx(half, rel=0.01)
    leak = read(s, "V+", "a") / 1e3
    assert 0.1e-6 < leak < 0.2 * 10e-6
    assert np.isinf(cold(circuit(part("M", "varistor", "a b", volts=275.0)), "a", "b", "r")[0])
    assert (
        cold(circuit(part("M", "varistor", "a b")), "a", "b", "r", failed(circuit(part("M", "varistor", "a b")), "M", "short"))[0]
        < 20.0
    )


def test_varistor_volts():
    """275 V AC types stand 1 mA at 430 V, 10 % either way; 1 mA flows there and ten times less 10 % under it."""
    fact("varistor", "choice", "275 Vac types on 230 V mains (V1mA 430 V +/-10 %)")
    at = 275.0 * CLAMPS
    assert at == pytest.approx(430.0, rel=0.1)
    amps = []
    for volts in (at, 0.9 * at):
        c = circuit(*bench_supply(volts), part("RS", "resistor", "V+ a", ohms=100.0), part("M", "varistor", "a N", volts=275.0), volts=400.0)
        amps.append(read(run(c), "V+", "a") / 100.0)
    assert amps[0] == pytest.approx(1e-3, rel=0.1)
    assert amps[1] < 0.1 * amps[0]
    assert 230 * 2**0.5 < 0.9 * at  # the mains peak, healthy, is far from it


def test_thermal_link_is_never_rated_higher():
    """A link of equal rated temperature, never higher (makers): the family says so, and it is a protector."""
    assert "never higher" in FACTS["thermal_link", "typical margins"]["value"]
    assert FAMILIES["thermal-link"].protector
    assert "never" in FAMILIES["thermal-link"].substitute
