"""Who says that the fuse is good has looked at the fuse, not at a fusible resistor (trade page: it hides as "just a resistor")."""

from __future__ import annotations

from dataclasses import replace

import pytest

from halfsplit.circuit.assemble import build_circuit
from halfsplit.circuit.sheet import read_sheet
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import make_suspects
from halfsplit.parts import FAMILIES

SHEET = """unit: charger, 230V 50Hz, class II, 20W
ways:
- L F1(T2A) live {line} in HTR(heater 1k 50W) N
"""


def prior(line: str, symptom: tuple[str, ...], ref: str) -> float:
    circuit = replace(build_circuit(read_sheet(SHEET.format(line=line)), FAMILIES), symptom=symptom)
    table = Table(circuit, make_suspects(circuit))
    rows = [s.row for s in table.heard() if s.row.part == ref and s.row.way == "open"]
    return rows[0].prior / sum(s.row.prior for s in table.heard())


@pytest.mark.parametrize("line", ["R1(10R 2W fusible)", "R1(10R 5W thermal-cut-off)", "R1(PTC 1A)"])
def test_a_good_fuse_leaves_what_only_protects_like_one(line):
    """"fuse good" takes the fuse away as a suspect and makes the other protector in the line the likelier."""
    assert prior(line, ("dead", "fuse good"), "R1") > prior(line, ("dead",), "R1")
    assert prior(line, ("dead", "fuse good"), "F1") < 0.1 * prior(line, ("dead",), "F1")
