"""What is drawn is the circuit: no false join, none missing."""

from __future__ import annotations

from pathlib import Path

import pytest

from drawing.random_circuits import random_circuit
from drawing.reread import bodies_apart, faults, nets_drawn, nets_wanted
from drawing.sheets import from_file, from_start, sheet_files, start_lines
from halfsplit.circuit.model import Circuit
from halfsplit.drawing import Drawing, draw


def agrees(circuit: Circuit) -> Drawing:
    drawing = draw(circuit)
    assert {p.ref for p in drawing.parts} == {p.ref for p in circuit.parts}
    assert nets_drawn(drawing) == nets_wanted(circuit, drawing)
    assert faults(drawing) == []
    assert bodies_apart(drawing) == []
    return drawing


@pytest.mark.parametrize("path", sheet_files(), ids=lambda p: p.stem)
def test_the_sheets_that_come_with_it(path: Path) -> None:
    assert agrees(from_file(path)).flags == ()


@pytest.mark.parametrize("line", start_lines())
def test_every_starting_sheet(line: str) -> None:
    assert agrees(from_start(line)).flags == ()


@pytest.mark.parametrize("seed", range(100))
def test_circuits_at_random(seed: int) -> None:
    agrees(random_circuit(seed))
