"""What a transformer's label says of its windings, against the trade's figures.

SOURCE  trade page, section 3.1 (common practice): primary ohms of 230 V sets 2-6 VA 1-4 kohm, 20 VA 100-300, 100 VA 12-30,
        300 VA 3-6 (120 V sets: about a quarter); secondary 0.1-10 ohm; off-load 5 to 25 % above the label.
BOUND   the ranges themselves; a quarter is taken as 0.2 to 0.35.
"""

from __future__ import annotations

import pytest

from halfsplit.circuit.assemble import build_circuit
from halfsplit.circuit.model import Part
from halfsplit.circuit.sheet import read_sheet
from halfsplit.parts import FAMILIES
from solver.rig import read, run


def sheet(label: str, load: str = "R1(1k)") -> str:
    part = f"T1 transformer {label}, p1=L p2=N s1=sec s2=0V"
    return f"unit: set, 230V 50Hz, class II, 20W\nways:\n- sec {load} 0V\nparts:\n- {part}\ncold: sec, 0V\n"


def transformer(label: str) -> Part:
    return build_circuit(read_sheet(sheet(label)), FAMILIES).part("T1")


@pytest.mark.parametrize(("va", "low", "high"), [(2, 1e3, 4e3), (5, 1e3, 4e3), (20, 100, 300), (100, 12, 30), (300, 3, 6)])
def test_primary_ohms_off_load_volts_and_secondary_ohms(va, low, high):
    """All three lie in the trade's ranges; the 120 V primary has about a quarter of the ohms."""
    at230, at120 = transformer(f"230V 12V {va}VA").values, transformer(f"120V 12V {va}VA").values
    assert low <= at230["rp"] <= high
    assert 0.2 <= at120["rp"] / at230["rp"] <= 0.35
    assert 1.05 <= at230["out"] / 12.0 <= 1.25
    assert 0.01 < at230["rs"] <= 10.0


def test_at_full_load_it_gives_its_label():
    """12 V 20 VA into 7.2 ohm: the label's volts within 3 % (the line's own resistance and the drop of the drop)."""
    circuit = build_circuit(read_sheet(sheet("230V 12V 20VA", "R1(7.2R 25W)")), FAMILIES)
    assert read(run(circuit), "sec", "0V", "ac") == pytest.approx(12.0, rel=0.03)


def test_what_was_measured_wins_over_what_follows():
    """Ohms and off-load volts read off the windings stand as written, and nothing about them is doubtful."""
    line = "T1 transformer 9V 2.5VA, p1=L p2=N s1=a s2=b, volts 230V, out 12.2V, rp 3k1, rs 4R7, mag 220H"
    text = f"unit: set, 230V 50Hz, class II, 20W\nways:\n- a R1(1k) b\nparts:\n- {line}\n"
    part = build_circuit(read_sheet(text), FAMILIES).part("T1")
    assert part.values == {"volts": 230.0, "out": 12.2, "rp": 3100.0, "rs": 4.7, "mag": 220.0}
    assert not part.doubts


def test_without_va_nothing_is_made_up():
    """A label of volts alone leaves the family's defaults."""
    assert set(transformer("230V 12V").values) == {"volts", "out"}
