"""Published facts about meters: loading by the meter, average-responding readings, diode and ohms test volts.

SOURCES  data/meter_facts.csv (source, page and mark beside each).
BOUND    loading is Ohm's law and exact in the solver: half the last digit in print. Waveforms are sampled 4000 times a cycle.
"""

from __future__ import annotations

import numpy as np
import pytest

from halfsplit.diagnosis.build import live_read
from halfsplit.diagnosis.columns import make_column
from halfsplit.solver.meter_response import average_responding, true_rms
from solver.figures import rows
from solver.rig import bench_supply, circuit, cold, part, read, run

FACTS = rows("meter_facts.csv")


def fact(item: str, number: str) -> float:
    """A number that stands in the result of the row whose item or given text starts so."""
    found = [r for r in FACTS if r["item"].startswith(item) and number in r["result"]]
    assert len(found) == 1, (item, number)
    return float(number)


def shown(c, red: str, black: str, function: str = "v") -> float:
    """What the meter itself makes of it, 10 Mohm."""
    return float(live_read(run(c), [make_column(function, red, black, "on", where=red)], c.unit.hertz)[0][0, 0])


# -- loading -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("item", "volts", "top", "bottom", "meter", "printed", "digits"),
    [
        ("two 10 k", 100.0, 10e3, 10e3, 50e3, "45.45", 0.03),
        ("two 10 k", 100.0, 10e3, 10e3, 1e6, "49.75", 0.03),
        ("25 k / 5 k", 30.0, 25e3, 5e3, 10e3, "3.53", 0.006),
        ("25 k / 5 k", 30.0, 25e3, 5e3, 200e3, "4.88", 0.021),
        ("45 k / 5 k", 50.0, 45e3, 5e3, 100e3, "4.785", 0.006),
        ("45 k / 5 k", 50.0, 45e3, 5e3, 200e3, "4.89", 0.006),
        ("45 k / 5 k", 50.0, 45e3, 5e3, 600e3, "4.96", 0.006),
    ],
)
def test_loading_of_needle_meters(item, volts, top, bottom, meter, printed, digits):
    """Kalsi 4.11 to 4.13: ohms per volt times range across a divider. 4.88 is printed for 4.898 (4.90 by Ohm's law): 0.02 V."""
    c = circuit(
        *bench_supply(volts),
        part("RT", "resistor", "V+ out", ohms=top),
        part("RB", "resistor", "out N", ohms=bottom),
        part("M", "resistor", "out N", ohms=meter),
    )
    assert read(run(c), "out", "N") == pytest.approx(fact(item, printed), abs=digits)


@pytest.mark.parametrize(("ohms", "printed"), [(1e6, "-9.1"), (100e3, "-1.0"), (10e3, "-0.1")])
def test_loading_by_ten_megohms(ohms, printed):
    """A 10 Mohm meter on a source of so many ohms (computed: R/(R + Rth)), through the program's own meter."""
    c = circuit(*bench_supply(100.0), part("R", "resistor", "V+ out", ohms=ohms))
    percent = 100 * (shown(c, "out", "N") / shown(c, "V+", "N") - 1)
    assert percent == pytest.approx(fact("DMM", printed), abs=0.05)


def test_divider_of_megohms_reads_forty_percent():
    """4.7 M over 4.7 M reads 40 % instead of 50 % (common practice, computed)."""
    c = circuit(*bench_supply(100.0), part("RT", "resistor", "V+ out", ohms=4.7e6), part("RB", "resistor", "out N", ohms=4.7e6))
    assert read(run(c), "out", "N") == pytest.approx(50.0, abs=0.1)
    assert shown(c, "out", "N") == pytest.approx(40.5, abs=0.1)


@pytest.mark.parametrize(("volts", "hertz", "want"), [(230.0, 50.0, 61.0), (120.0, 60.0, 36.0)])
def test_ghost_volts(volts, hertz, want):
    """A floating wire beside 100 pF of live wire, 100 pF of meter: 61 V at 230/50, 36 V at 120/60 (common practice, computed)."""
    c = circuit(
        part("CG", "capacitor", "L wire", farads=100e-12),
        part("CM", "capacitor", "wire N", farads=100e-12),
        volts=volts,
        hertz=hertz,
    )
    assert shown(c, "wire", "N", "ac") == pytest.approx(want, rel=0.03)


# -- average-responding --------------------------------------------------------------------------------------

T = (np.arange(4000) + 0.5) / 4000
SINE = np.sin(2 * np.pi * T)
WAVES = {
    "sine": SINE,
    "square": np.sign(SINE),
    "triangle": 4 * np.abs(T - 0.5) - 1,
    "full-wave": np.abs(SINE),
    "half-wave": np.maximum(SINE, 0),
    "unipolar pulse D=0.5": (T < 0.5) * 1.0,
    "unipolar pulse D=0.25": (T < 0.25) * 1.0,
    "unipolar pulse D=0.1": (T < 0.1) * 1.0,
}
ROWS = [r for r in FACTS if r["topic"] == "average_responding" and r["mark"] == "computed"]


def numbers(text: str) -> list[float]:
    """The figures of "true-rms ac 1; average-responding ac 1.1107; ratio 1.1107"."""
    return [float(piece.split()[-1]) for piece in text.split(";")]


@pytest.mark.parametrize("row", ROWS, ids=lambda r: r["item"])
def test_average_responding_table(row):
    """Each waveform scaled to 1 V true rms with its DC part, read AC-coupled; phase cut is scaled to a whole sine of 1 V
    (computed)."""
    wanted = numbers(row["result"])
    if row["item"].startswith("leading-edge"):
        angle = float(row["item"].split("at ")[1].split()[0]) / 360
        wave = np.where(T % 0.5 >= angle, SINE, 0.0) * np.sqrt(2)
    else:
        name = next(n for n in sorted(WAVES, key=len, reverse=True) if row["item"].startswith(n))
        wave = WAVES[name] / true_rms(WAVES[name], coupled=False)
    got = [float(true_rms(wave)), float(average_responding(wave))]
    assert [*got, got[1] / got[0]] == pytest.approx(wanted, abs=1.5e-3)


def test_table_of_a_hand_held_meter():
    """True-rms and average-responding AC parts at 1.000 V true ac+dc (user manual, second-hand page, read). The printed half-wave
    average .764 disagrees with .779 worked out here and in the data; the other fourteen figures hold."""
    row = next(r for r in FACTS if r["item"].startswith("table for 1.000 V"))
    lists = {part.split(" ")[0]: part.rsplit(" ", 9)[-9::2] for part in row["result"].split("; ") if " / " in part}
    names = ["sine", "full-wave", "half-wave", "square", "triangle"]
    for k, name in enumerate(names):
        wave = WAVES[name] / true_rms(WAVES[name], coupled=False)
        assert float(true_rms(wave)) == pytest.approx(float(lists["true-rms"][k]), abs=1.5e-3), name
        assert abs(float(wave.mean())) == pytest.approx(float(lists["Vdc"][k]), abs=1.5e-3), name
        if name != "half-wave":
            assert float(average_responding(wave)) == pytest.approx(float(lists["average-responding"][k]), abs=2.5e-3), name
    half = WAVES["half-wave"] / true_rms(WAVES["half-wave"], coupled=False)
    assert float(average_responding(half)) == pytest.approx(0.779, abs=1e-3)
    assert lists["average-responding"][2] == ".764"


def test_unipolar_ramp_reads_low():
    """A rectifier meter reads a ramp from 0 to peak 3.87 % low: the mean times 1.111 against the rms, DC-coupled (Bakshi 3.19,
    read)."""
    low = 100 * (1 - float(average_responding(T, coupled=False) / true_rms(T, coupled=False)))
    assert low == pytest.approx(fact("unipolar ramp", "3.87"), abs=0.1)  # printed factor 1.11 for 1.1107


def test_phase_cut_mains_reads_half():
    """230 V cut at 90 degrees: an average-responding meter reads 115 V where true rms is 163 V (common practice, computed)."""
    wave = np.where(T % 0.5 >= 0.25, SINE, 0.0) * 230 * np.sqrt(2)
    assert float(average_responding(wave)) == pytest.approx(115, abs=0.5)
    assert float(true_rms(wave)) == pytest.approx(163, abs=0.5)


def test_responses_keep_the_batch_axes():
    """(batch, steps) in, (batch,) out; the solver's own waveform of the mains reads 120 V either way."""
    s = run(circuit(part("R", "resistor", "L N", ohms=1e3)))
    both = np.stack([s.solved.volts("L")[0], 2 * s.solved.volts("L")[0]])
    assert true_rms(both) == pytest.approx([120, 240], rel=1e-3)
    assert average_responding(both) == pytest.approx([120, 240], rel=1e-3)  # 100 steps: the rectified mean errs by 0.03 %


# -- test volts ----------------------------------------------------------------------------------------------


def alone(family: str, nets: str, red: str, black: str, function: str, **values: float) -> float:
    return cold(circuit(part("X", family, nets, **values)), red, black, function)[0]


def test_diode_test_shows_a_schottky():
    """.15-.4 V (makers' data, recalled; second check: 0.15 to 0.35 by common practice)."""
    assert 0.15 < alone("diode", "a k", "a", "k", "d", drop=0.4, ideality=1.05) < 0.35


@pytest.mark.parametrize(
    ("family", "nets", "red", "black", "low"),
    [("diode", "a k", "a", "k", 0.45), ("bridge", "1 2 p m", "1", "p", 0.45), ("fet", "d g s core", "s", "d", 0.4)],
)
def test_diode_test_shows_silicon(family, nets, red, black, low):
    """Silicon .5-.7 V (makers' data, recalled); 0.45-0.75, FET body 0.4-0.6 by common practice."""
    assert low < alone(family, nets, red, black, "d") < 0.75


def test_base_emitter_reads_like_silicon():
    """Two junctions of a transistor 0.55 to 0.7 V alike (common practice)."""
    for black in ("e", "c"):
        assert 0.55 < alone("npn", "b c e", "b", black, "d") < 0.7


def test_opto_led_reads_one_volt():
    """Opto LED 1.0 to 1.2 V in the diode test (common practice)."""
    assert 1.0 < alone("opto", "a k c e", "a", "k", "d") < 1.2
