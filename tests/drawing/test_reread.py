"""The reader itself: what it must notice when a drawing is spoilt."""

from __future__ import annotations

from dataclasses import replace

import pytest

from drawing.reread import faults, nets_drawn, nets_wanted
from drawing.sheets import ROOT, from_file
from halfsplit.circuit.model import Circuit
from halfsplit.drawing import Drawing, draw


@pytest.fixture(scope="module")
def good() -> tuple[Circuit, Drawing]:
    circuit = from_file(ROOT / "examples/laminator.yaml")
    return circuit, draw(circuit)


def test_every_single_run_of_a_wire_is_needed(good: tuple[Circuit, Drawing]) -> None:
    circuit, drawing = good
    for w in drawing.wires:
        for k in range(len(w.segments)):
            less = replace(w, segments=w.segments[:k] + w.segments[k + 1 :])
            spoilt = replace(drawing, wires=tuple(less if v is w else v for v in drawing.wires))
            assert nets_drawn(spoilt) != nets_wanted(circuit, spoilt), (w.net, w.segments[k])


def test_a_wire_too_many_is_noticed(good: tuple[Circuit, Drawing]) -> None:
    circuit, drawing = good
    a, b = drawing.wires[0], drawing.wires[-1]
    (x0, y0, *_), (x1, y1, *_) = a.segments[0], b.segments[0]
    bridge = replace(a, segments=(*a.segments, (x0, y0, x0, y1), (x0, y1, x1, y1)))
    assert nets_drawn(replace(drawing, wires=(bridge, *drawing.wires[1:]))) != nets_wanted(circuit, drawing)


def test_a_missing_return_sign_is_noticed(good: tuple[Circuit, Drawing]) -> None:
    circuit, drawing = good
    for k in range(len(drawing.returns)):
        spoilt = replace(drawing, returns=drawing.returns[:k] + drawing.returns[k + 1 :])
        assert nets_drawn(spoilt) != nets_wanted(circuit, spoilt)


def test_a_wire_through_a_body_and_along_another_is_noticed(good: tuple[Circuit, Drawing]) -> None:
    _, drawing = good
    part = drawing.parts[1]
    y = round((part.body[1] + part.body[3]) / 2)
    through = replace(drawing.wires[0], segments=((int(part.body[0]) - 3, y, int(part.body[2]) + 3, y),))
    assert any("runs through" in f for f in faults(replace(drawing, wires=(through,))))
    on_it = replace(drawing.wires[0], net="other")
    assert any("runs along" in f for f in faults(replace(drawing, wires=(*drawing.wires, on_it))))
