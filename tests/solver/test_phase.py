"""Phase control against textbooks: what a cut at an angle leaves of a sine, and when a timing network gets to its breakover.

SOURCE  any book on power electronics: a resistor behind a cut of angle a has rms V sqrt(1 - a/pi + sin(2a)/(2 pi)), rectified mean (1 + cos a)/2 of that of
        the whole sine; one half alone has half of the mean square. The angle itself: the network's own equation in steps of half a microsecond, below.
TAKEN   230 V 50 Hz and 120 V 60 Hz, a resistor as load.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from halfsplit.circuit.assemble import build_circuit
from halfsplit.circuit.model import Circuit
from halfsplit.circuit.sheet import read_sheet
from halfsplit.diagnosis import build
from halfsplit.diagnosis.columns import Condition
from halfsplit.jobs.weigh import make_suspects
from halfsplit.parts import FAMILIES
from halfsplit.solver.meter_response import average_responding, true_rms

SHEET = """unit: dimmer, {volts}V {hertz}Hz, class II, 500W
ways:
- L Q1.21 run HTR(heater 100R) N
- L R1({ohms:g}R) time C1(capacitor 100n 100V 5%) run
- time D1(diac) Q1.g
parts:
- Q1 triac 8A
"""
BREAKS, KEEPS = 32.0, 24.0


def dimmer(ohms: float, volts: int = 230, hertz: int = 50) -> Circuit:
    return build_circuit(read_sheet(SHEET.format(ohms=ohms, volts=volts, hertz=hertz)), FAMILIES)


def waves(circuit: Circuit, *ways: tuple[str, str]) -> np.ndarray:
    """At the load, one row a way, after the healthy one (rows, steps) [V]."""
    rows = [s for s in make_suspects(circuit) if s.part is None or (s.row.part, s.row.way) in ways]
    solved = build.solve_rows(circuit, build.draw(circuit, rows, draws=1, times=1), Condition(True), np.array([[i, 0] for i in range(len(rows))]))
    assert solved.ok.all() and not solved.pulsing.any()
    return solved.solved.volts("run")


def angle_by_hand(ohms: float, volts: float, hertz: float, farads: float = 100e-9) -> float:
    """Where the network breaks over, once every half-cycle is like the one before [rad]; pi where it doesn't."""
    step = 0.5e-6
    count = round(0.5 / hertz / step)
    mains = volts * math.sqrt(2) * np.sin(math.pi * np.arange(count) / count)
    charge, fired = 0.0, math.pi
    for _ in range(12):
        fired = math.pi
        for k in range(count):
            across = 0.0 if fired < math.pi else mains[k]
            charge += step * (across - charge) / (ohms * farads)
            if fired == math.pi and charge >= BREAKS:
                fired, charge = math.pi * k / count, KEEPS
        charge = -charge  # the next half-cycle is the other way round
    return fired


def left_of(angle: float) -> tuple[float, float]:
    """Shares of rms and of rectified mean."""
    return math.sqrt(1 - angle / math.pi + math.sin(2 * angle) / (2 * math.pi)), 0.5 * (1 + math.cos(angle))


@pytest.mark.parametrize(("volts", "hertz"), [(230, 50), (120, 60)])
@pytest.mark.parametrize("ohms", [10e3, 40e3, 80e3, 120e3, 150e3])
def test_the_angle_is_that_of_the_timing_network(ohms: float, volts: int, hertz: int) -> None:
    """True rms within 2 % of the sine, average-responding as well: from nearly full to a cut past the middle."""
    ohms *= 1.0 if volts == 230 else 0.5
    (wave,) = waves(dimmer(ohms, volts, hertz))
    angle = angle_by_hand(ohms, volts, hertz)
    assert 0.1 < angle < 0.8 * math.pi
    rms, mean = left_of(angle)
    whole = volts * 100.0 / (100.0 + 0.65)  # ohms of outlet and triac before it
    assert true_rms(wave) == pytest.approx(rms * whole, abs=0.02 * volts)
    assert average_responding(wave) == pytest.approx(mean * whole, abs=0.02 * volts)


def test_at_a_cut_of_ninety_degrees_an_averaging_meter_reads_much_less() -> None:
    """230 V: true rms 163 V, average-responding 115 V (by hand: 230/sqrt 2, and half of 230)."""
    found = sorted((float(true_rms(w)), float(average_responding(w))) for x in np.linspace(180e3, 220e3, 9) for w in waves(dimmer(float(x))))
    assert found[0][0] < 162.6 < found[-1][0]
    assert np.interp(162.6, *np.array(found).T) == pytest.approx(115.0, rel=0.03)


@pytest.mark.parametrize("ohms", [10e3, 100e3])
def test_half_a_triac_gives_half_the_power_and_dc(ohms: float) -> None:
    """Root of one half of the rms; DC as large as half of the rectified mean. The half-cycle after an idle one fires a little earlier."""
    whole, half = waves(dimmer(ohms), ("Q1", "half-wave"))
    assert true_rms(half, coupled=False) == pytest.approx(true_rms(whole) / math.sqrt(2), rel=0.06)
    assert abs(half.mean()) == pytest.approx(0.5 * np.abs(whole).mean(), rel=0.12)


def test_what_never_fires_and_what_always_does() -> None:
    """Shorted triac: the whole mains. Open diac, shorted capacitor, triac that never fires: the trickle of the timing network alone."""
    rows = waves(dimmer(60e3), ("Q1", "short"), ("Q1", "open"), ("C1", "short"), ("D1", "open"), ("R1", "open"))
    healthy, *faults = true_rms(rows)
    full = [x for x in faults if x > 220]
    assert 150 < healthy < 225 and len(full) == 1
    assert all(x < 1.0 for x in faults if x not in full)


def test_a_board_without_a_diac_fires_as_before() -> None:
    """Its triac is closed for good while its gate is driven at any moment: 100 ohm on the mains through 0.05 ohm."""
    text = "unit: rig, 230V 50Hz, class I, 500W\nways:\n- L HTR(heater 100R) mt Q1.21 N\n- L R1(33k 2W) gate R2(1k) N\n- gate Q1.g\nparts:\n- Q1 triac\n"
    circuit = build_circuit(read_sheet(text), FAMILIES)
    rows = [s for s in make_suspects(circuit) if s.part is None]
    solved = build.solve_rows(circuit, build.draw(circuit, rows, draws=1, times=1), Condition(True), np.array([[0, 0]]))
    sine = 230 * math.sqrt(2) * 0.05 / 100.65 * np.sin(2 * np.pi * (np.arange(100) + 1) / 100)
    assert np.allclose(solved.solved.volts("mt")[0], sine, atol=2e-3)
