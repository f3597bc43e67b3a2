"""The 431 with its optocoupler: published currents and node volts against the solver.

SOURCES  data/textbook_power_examples.csv, rows 431-2, 431-3 (two forum threads, read second-hand) and 431-4 (data sheets, recalled;
         second check: the range of the same nodes on a bench, common practice).
TAKEN    the family's LED has 1.15 V at 10 mA with 49 mV a factor e: 1.09 V at 3 mA, where the thread takes 1.2 V.
"""

from __future__ import annotations

import math

import pytest

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from solver.figures import Book
from solver.rig import Part, bench_supply, circuit, part, read, run

BOOK = Book("textbook_power_examples.csv")
LED, SLOPE = 1.15, 1.9 * 0.02585  # of the family at 10 mA, and per factor e [V]


def led_volts(amps: float) -> float:
    """LED volts at a current (computed)."""
    return LED + SLOPE * math.log(amps / 10e-3)


def dark(a: str, k: str) -> tuple[Part, ...]:
    """An optocoupler whose transistor side hangs on nothing but resistors."""
    return (
        part("U", "opto", f"{a} {k} x y"),
        part("RX", "resistor", "x y", ohms=1e3),
        part("RY", "resistor", "y N", ohms=1e3),
    )


def test_bias_resistor_beside_the_led():
    """431-2: 470 ohm and the LED at 3 mA have 1.41 + 1.2 = 2.61 V, which drive 17 mA through 153 ohm. Of 20 mA the solver sends
    as much more through the LED as its 0.11 V less leave: 0.11 V / (470 + 153) (computed)."""
    total = BOOK.figure("431-2", "2.61")
    bias = BOOK.figure("431-2", "153")
    sink = 3e-3 + BOOK.figure("431-2", "17") / 1e3
    s = run(
        circuit(
            *bench_supply(12.0),
            part("RB", "resistor", "V+ k", ohms=bias),
            part("RL", "resistor", "V+ a", ohms=470.0),
            *dark("a", "k"),
            part("RK", "resistor", "k N", ohms=(12.0 - total) / sink),
        )
    )
    less = BOOK.figure("431-2", "1.2") - led_volts(3e-3)
    assert read(s, "V+", "a") / 470 == pytest.approx(3e-3 + less / (470 + bias), rel=0.02)
    assert read(s, "V+", "k") / bias == pytest.approx(17e-3 - less / (470 + bias), rel=0.01)
    assert read(s, "V+", "k") == pytest.approx(total, abs=0.04)


def test_resistor_across_the_led_keeps_the_reference_alive():
    """431-3: 1 k across the LED at about 1 V carries the 1 mA that the reference needs, and the LED about 0.2 mA more. At 1.1 mA in
    all the family's LED has 0.92 V: 0.92 mA and 0.1 mA."""
    s = run(
        circuit(
            *bench_supply(12.0),
            part("RB", "resistor", "V+ k", ohms=1e3),
            *dark("V+", "k"),
            part("RK", "resistor", "k N", ohms=(12.0 - 0.93) / 1.1e-3),
        )
    )
    bias, total = read(s, "V+", "k") / 1e3, read(s, "k", "N") / ((12.0 - 0.93) / 1.1e-3)
    assert bias == pytest.approx(BOOK.figure("431-3", "1") / 1e3, rel=0.1)  # "drop about 1 V"
    assert 0 < total - bias < BOOK.figure("431-3", "0.2") / 1e3
    assert total - bias == pytest.approx(10e-3 * math.exp((read(s, "V+", "k") - LED) / SLOPE), rel=0.02)


@pytest.mark.parametrize(("volts", "hertz"), [(120.0, 60.0), (230.0, 50.0)])
def test_nodes_of_a_healthy_five_volt_output(volts, hertz):
    """431-4: reference pin 2.495 V (2.47 to 2.52), cathode = Vout - Vled - I R, between 2.5 V and Vout - 1.1 V; on the assumed circuit
    of a 5 V flyback. The LED's 1.1 V is taken less its own 0.1 (it runs at 0.4 mA there)."""
    c = start_circuit("flyback with controller 16/10V; out 5V 2A", Unit("set", volts, hertz, "II", 20.0))
    s = run(c)
    out = read(s, "out", "0V")
    assert out == pytest.approx(5.0, rel=0.02)
    assert BOOK.figure("431-4", "2.47") < read(s, "ref", "0V") < BOOK.figure("431-4", "2.52")
    assert read(s, "ref", "0V") == pytest.approx(BOOK.figure("431-4", "2.495"), abs=5e-3)
    cathode = read(s, "opto-k", "0V")
    assert BOOK.figure("431-4", "2.5") < cathode < out - BOOK.figure("431-4", "1.1") + 0.1
    series, across = (
        next(p.values["ohms"] for p in c.parts if p.family == "resistor" and set(p.pins.values()) == nets)
        for nets in ({"out", "opto-a"}, {"opto-a", "opto-k"})
    )
    amps = read(s, "out", "opto-a") / series
    led = led_volts(amps - read(s, "opto-a", "opto-k") / across)
    assert cathode == pytest.approx(out - led - series * amps, abs=5e-3)
