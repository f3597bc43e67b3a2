"""Which kind of part a technician's words and letters mean."""

from __future__ import annotations

import pytest

from halfsplit.circuit.assemble import build_circuit
from halfsplit.circuit.sheet import read_sheet
from halfsplit.errors import SheetError
from halfsplit.parts import FAMILIES

UNIT = "unit: test set, 230V 50Hz, class II, 20W\n"

# common practice of designators and of what is written beside them
TWO_LEGS = {
    "R1(10k)": "resistor",
    "R1(100R fusible)": "fusible",
    "RF1(10R)": "fusible",
    "R1(0.22R 5W cement)": "wirewound",
    "R1(47k carbon)": "resistor",
    "R1(47k composition)": "composition",
    "R1(4.7R 5W thermal-cut-off)": "cut-off-resistor",
    "C1(100n)": "capacitor",
    "C1(100u 25V)": "electrolytic",
    "C1(10u 16V tantalum)": "tantalum",
    "C1(10u 16V ceramic)": "ceramic",
    "C1(47n X2)": "capacitor",
    "CX1(0.22u)": "x-cap",
    "CY1(2n2 Y1)": "y-cap",
    "F1(T2A)": "fuse",
    "F2(PTC 1.1A)": "ptc",
    "RT1(NTC 5R)": "ntc",
    "D1(1N4148)": "diode",
    "D1(LED red)": "led",
    "LED1(3.1V 60mA white)": "led",
    "ZD1(12V)": "zener",
    "TVS1(15V)": "tvs",
    "D2(TVS 24V bidirectional)": "tvs",
    "CN1(12V 0.5A)": "load",
    "CN1(connector)": "connector",
    "PL1": "connector",
    "JT1": "joint",
    "J3(solder-joint)": "joint",
    "J3(dummy-load 24R)": "resistive-load",
    "U1(buck 12V 5W)": "power-load",
    "B1(lead-acid 12V)": "battery",
    "BT1(lithium 3V)": "battery",
}
MORE_LEGS = {
    "U1 7805, in=a out=b gnd=N": "regulator",
    "U1 LDO 3.3V 0.5A, in=a out=b gnd=N": "ldo",
    "U1 1117-33, in=a out=b gnd=N": "ldo",
    "U1 317, in=a out=b adj=N": "adjustable",
    "U1 358, in+=a in-=b out=c v+=d v-=N": "op-amp",
    "U1A comparator, in+=a in-=b out=c v+=d v-=N": "comparator",
    "Q1 npn, b=a c=b e=N": "npn",
    "Q1 n-mosfet 50mR, g=a d=b s=N": "n-mosfet",
    "Q1 p-channel logic, g=a d=b s=N": "p-mosfet",
    "SCR1, a=a k=N g=b": "scr",
    "Q1 triac 8A, t1=N t2=a g=b": "triac",
}


@pytest.mark.parametrize(("written", "family"), TWO_LEGS.items())
def test_two_legged_parts(written, family):
    """Words win over letters; letters alone, and where they leave it open the size of the value."""
    circuit = build_circuit(read_sheet(f"{UNIT}ways:\n- L {written} rest R9(1k) N\n"), FAMILIES)
    assert next(p for p in circuit.parts if p.ref not in ("mains", "R9")).family == family


@pytest.mark.parametrize(("written", "family"), MORE_LEGS.items())
def test_parts_with_more_legs(written, family):
    """Type numbers that everybody knows are words too."""
    circuit = build_circuit(read_sheet(f"{UNIT}ways:\n- L R9(1M) N\nparts:\n- {written}\n"), FAMILIES)
    assert next(p for p in circuit.parts if p.ref not in ("mains", "R9")).family == family


@pytest.mark.parametrize(("written", "values"), [
    ("LED1(3.1V 60mA)", {"drop": 3.1, "amps": 0.06}),
    ("TVS1(15V 600W)", {"volts": 15.0, "watts": 600.0}),
    ("RF1(4.7R 1W)", {"ohms": 4.7, "watts": 1.0}),
    ("F2(PTC 1.1A)", {"amps": 1.1}),
    ("B1(lead-acid 12V)", {"volts": 12.0}),
    ("J3(module 12V 8W)", {"volts": 12.0, "watts": 8.0}),
    ("C1(10u 16V tantalum)", {"farads": 10e-6, "volts": 16.0}),
])
def test_values_go_where_they_belong(written, values):
    """The main value takes its unit, the rest go by theirs."""
    circuit = build_circuit(read_sheet(f"{UNIT}ways:\n- L {written} rest R9(1k) N\n"), FAMILIES)
    part = next(p for p in circuit.parts if p.ref not in ("mains", "R9"))
    assert {k: part.values[k] for k in values} == values


def test_a_chip_without_a_word_is_asked_about():
    """U1 alone may be many things; none is guessed."""
    with pytest.raises(SheetError, match="could be"):
        build_circuit(read_sheet(f"{UNIT}ways:\n- L R9(1M) N\nparts:\n- U1, in=a\n"), FAMILIES)


def test_no_starting_sheet_brings_a_joint():
    """A joint is a suspect only where somebody wrote it down."""
    from halfsplit.circuit.model import Unit
    from halfsplit.circuit.starting import start_circuit

    for line in ("linear 12V 1A", "dropper, 24V relay board; heater 580W", "flyback with controller 16/10V; out 24V 1.5A",
                 "series chain: fuse, link 216C, stat, heater 350W"):
        families = {p.family for p in start_circuit(line, Unit("set", 230.0, 50.0, "II", 40.0), ()).parts}
        assert not families & {"joint", "connector", "fusible"}, line
