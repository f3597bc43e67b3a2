"""What decides that a fuse blows, and what it reads whole, against published gates and tables.

SOURCES  data/fuse_gates_60127.csv (IEC 60127-2 and its sheets; read second-hand, sheet 1 recalled), data/fuse_i2t.csv (pre-arcing I2t and
         cold resistance of 5 x 20 mm time-lag fuses, two makers' data sheets, read second-hand), data/fuse_facts.csv (UL 248-14 gates,
         read second-hand; pulse integrals, computed).
TAKEN    the family has no clock: steady current decides, as if it flowed for ever.
BOUND    none at the gates: a fuse is whole or blown. Resistances 6 %, the roughness of a table of one to two digits.
"""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.parts.fuse import CARRIES, typical_ohms
from solver.figures import rows
from solver.rig import circuit, cold, part, read, run

GATES = rows("fuse_gates_60127.csv")
I2T = rows("fuse_i2t.csv")
FACTS = {r["item"]: r["value"] for r in rows("fuse_facts.csv")}
OVERLOADS = {"2.75": "t_max_s_2.75In", "4": "t_max_s_4In", "10": "t_max_s_10In"}


def blown(amps: float, times: float) -> bool:
    """Whether a fuse of this rating has gone once so many times its rating flow, and whether the current then stopped."""
    load = 230.0 / (times * amps)
    c = circuit(
        part("F", "fuse", "L a", amps=amps, ohms=1e-3 / amps),
        part("R", "heater", "a N", ohms=load),
        volts=230.0,
        hertz=50.0,
        ohms=1e-3 / amps,
    )
    s = run(c)
    gone = bool(s.modes["F"][0])
    assert read(s, "a", "N", "ac") == pytest.approx(0.0 if gone else 230.0, abs=0.2)
    return gone


def ratings(row: dict[str, str]) -> list[float]:
    """Both ends of the range that a row stands for [A]."""
    return [float(x) for x in re.findall(r"[\d.]+", row["rated_range"])]


@pytest.mark.parametrize("row", GATES, ids=lambda r: f"sheet {r['sheet']} {r['rated_range']}")
def test_gates_of_the_sheets(row):
    """Half an hour or more at 1.5 times the rating, which a dead set's fuse has to outlast; gone within half an hour at 2.1, within 80 s
    at 2.75, sooner above."""
    assert float(row["t_min_s_at_1.5In"]) >= 1800
    assert float(row["t_max_s_at_2.1In"]) <= 1800
    for amps in ratings(row):
        assert not blown(amps, 1.5)
        assert blown(amps, 2.1)
        for times, column in OVERLOADS.items():
            assert float(row[column]) <= 80
            assert blown(amps, float(times))


@pytest.mark.parametrize("kind", ["UL 248-14 fast", "UL 248-14 time-lag"])
def test_gates_of_the_other_standard(kind):
    """UL 248-14: four hours at 1.10, minutes at 2.00. Its gate at 1.35, open within the hour, is another fuse's than the 1.5 that an
    IEC one carries for an hour; sheets don't say which is fitted, and the family is the IEC one there."""
    assert re.search(r"110 % (In at least )?4 h", FACTS[kind]) and "200 %" in FACTS[kind] and "2 min" in FACTS[kind]
    assert not blown(2.0, 1.10)
    assert blown(2.0, 2.00)
    assert "150 % for an hour" in FACTS["IEC versus UL"] and "135 % within an hour" in FACTS["IEC versus UL"]
    assert 1.5 < CARRIES < 2.0
    assert not blown(2.0, 1.35)


def cold_table() -> list[tuple[float, float]]:
    """(amps, ohms) of the maker that prints cold resistance."""
    return [(float(r["rated_A"]), float(found[1])) for r in I2T if (found := re.search(r"cold R ([\d.]+) ohm", r["condition"]))]


def test_cold_resistance():
    """Eleven ratings from 1 to 10 A, within 6 %."""
    table = cold_table()
    assert len(table) == 11
    for amps, ohms in table:
        assert float(typical_ohms(np.asarray(amps))) == pytest.approx(ohms, rel=0.06)


@pytest.mark.parametrize(("amps", "low", "high"), [(0.063, 6.0, 20.0), (0.1, 3.0, 10.0), (0.4, 0.4, 1.2), (2.0, 0.05, 0.1)])
def test_small_fuses_read_ohms(amps, low, high):
    """A whole 63 mA fuse reads ohms, not a short (common practice; the law carried on below its table). What is written counts more."""
    assert low < cold(circuit(part("F", "fuse", "a b", amps=amps)), "a", "b", "r")[0] < high
    assert cold(circuit(part("F", "fuse", "a b", amps=amps, ohms=0.05)), "a", "b", "r")[0] == pytest.approx(0.05, rel=0.05)


def test_drop_at_the_rated_current():
    """The same table's volts at the rated current, hot, are its most: our cold resistance stays under them, but for
    the 4 % by which the table's own 26 mohm at 4 A pass its own 0.1 V."""
    for r in I2T:
        if found := re.search(r"drop at In ([\d.]+) V max", r["condition"]):
            amps = float(r["rated_A"])
            assert float(typical_ohms(np.asarray(amps))) * amps < 1.04 * float(found[1])


@pytest.mark.parametrize(("volts", "hertz"), [(120.0, 60.0), (230.0, 50.0)])
@pytest.mark.parametrize(("line", "watts"), [("24V 0.3A", 10.0), ("24V 1.5A", 45.0), ("24V 4A", 120.0)])
def test_inrush_of_the_assumed_flyback_spares_its_fuse(line, watts, volts, hertz):
    """A bulk charges through the cold limiter: Ipk^2 tau/2 = Vpk^2 C/2R (computed). It stays under a third of the least I2t printed for the
    fuse on the sheet: a fuse that ages by each switch-on would be the sheet's mistake. Without the limiter (0.7 ohm of mains and leads)
    it would not."""
    assert "exponential decay Ipk^2*tau/2" in FACTS["inrush integral"]
    c = start_circuit(f"flyback with controller 16/10V; out {line}", Unit("set", volts, hertz, "II", watts))
    farads, limiter = c.part("bulk-cap").values["farads"], c.part("inrush").values["ohms"]
    rated = c.part("fuse").values["amps"]
    printed = min(float(r["I2t_A2s"]) for r in I2T if float(r["rated_A"]) == rated)

    def pulse(ohms: float) -> float:
        peak, tau = volts * math.sqrt(2) / ohms, ohms * farads
        return peak**2 * tau / 2

    assert pulse(limiter + 0.7) < printed / 3
    assert pulse(0.7) > pulse(limiter + 0.7) * 5


def test_melting_integrals_lie_within_the_gates():
    """At ten times the rating the printed I2t of both makers melts within the gates of sheet 5 (10 to 150 ms): the two published tables
    speak of the same fuses, and a dead short of hundreds of amperes is far past either."""
    gates = [r for r in GATES if r["sheet"] == "5" and "maker" not in r["source"]]
    for r in I2T:
        amps = float(r["rated_A"])
        for gate in gates:
            low, high = ratings(gate)
            if low <= amps <= high:
                seconds = float(r["I2t_A2s"]) / (10 * amps) ** 2
                assert float(gate["t_min_s_10In"]) <= seconds <= float(gate["t_max_s_10In"])
