"""The SVG: well formed, classes only, everything named, arbitrary words harmless."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from xml.etree import ElementTree

import pytest

from drawing.random_circuits import UNIT, random_circuit
from drawing.sheets import ROOT, from_file
from halfsplit.circuit.model import Circuit, Part
from halfsplit.drawing import Drawing, draw, to_data, to_svg

NS = "{http://www.w3.org/2000/svg}"


@pytest.fixture(scope="module")
def drawing() -> Drawing:
    return draw(from_file(ROOT / "examples/stage_light_standby.yaml"))


def test_every_part_and_net_is_named_in_it(drawing: Drawing) -> None:
    root = ElementTree.fromstring(to_svg(drawing))
    groups = [g for g in root.iter(f"{NS}g") if "part" in g.get("class", "").split()]
    assert {g.get("data-ref") for g in groups} == {p.ref for p in drawing.parts}
    assumed = {g.get("data-ref") for g in groups if "assumed" in g.get("class", "").split()}
    assert assumed == {p.ref for p in drawing.parts if p.assumed}
    assert "F1" not in assumed
    assert "opto" in assumed
    wires = [p for p in root.iter(f"{NS}path") if p.get("class") == "wire"]
    assert {w.get("data-net") for w in wires} == {w.net for w in drawing.wires}


def test_the_wires_in_it_are_the_wires_of_the_drawing(drawing: Drawing) -> None:
    root = ElementTree.fromstring(to_svg(drawing))
    runs = set()
    for path in root.iter(f"{NS}path"):
        if path.get("class") == "wire":
            for m in re.finditer(r"M(\S+) (\S+?)L(\S+) ([^M]+)", path.get("d", "")):
                runs.add((path.get("data-net"), *(round(float(v) / 10) for v in m.groups())))
    assert runs == {(w.net, *s) for w in drawing.wires for s in w.segments}


@pytest.mark.parametrize("alone", [False, True])
def test_no_style_attributes_and_a_style_sheet_only_alone(drawing: Drawing, alone: bool) -> None:
    svg = to_svg(drawing, standalone=alone)
    root = ElementTree.fromstring(svg)
    assert not [e for e in root.iter() if "style" in e.attrib or any(a.startswith("on") for a in e.attrib)]
    assert (root.find(f"{NS}style") is not None) is alone


def test_words_from_a_sheet_are_only_words() -> None:
    nasty = "<script>alert('x')</script>&\"\x07\ud800"
    part = Part(nasty, "resistor", {"a": nasty + "1", "b": "plain"}, place=None)
    more = Part("R2", "resistor", {"a": nasty + "1", "b": "plain"})
    circuit = Circuit(replace(UNIT, words=nasty), (part, more), {"hot": "N"})
    svg = to_svg(draw(circuit), standalone=True)
    root = ElementTree.fromstring(svg.encode())
    assert not [e for e in root.iter() if e.tag.endswith("script")]
    assert "\x07" not in svg


@pytest.mark.parametrize("seed", range(12))
def test_well_formed_whatever_the_circuit(seed: int) -> None:
    drawing = draw(random_circuit(seed))
    ElementTree.fromstring(to_svg(drawing))
    ElementTree.fromstring(to_svg(drawing, standalone=True))


def test_the_data_for_a_page(drawing: Drawing) -> None:
    data = json.loads(json.dumps(to_data(drawing)))
    assert set(data["parts"]) == {p.ref for p in drawing.parts}
    assert set(data["pins"]["F1"]) == {"a", "b"}
    left, top, wide, high = data["size"]
    places = [at for net in data["nets"].values() for at in net["at"]]
    places += [at for pins in data["pins"].values() for at in pins.values()]
    assert all(left <= x <= left + wide and top <= y <= top + high for x, y in places)
    assert all(net["at"] for net in data["nets"].values())
    assert data["boundary"] == 0
    assert data["hot"][0][0] == left


def test_sides_are_told_in_words() -> None:
    assert "HOT: all of it tied to mains" in to_svg(draw(from_file(ROOT / "examples/bread_maker.yaml")))
    split = to_svg(draw(from_file(ROOT / "examples/laminator.yaml")))
    assert "HOT SIDE: tied to mains" in split
    assert "COLD SIDE: claimed isolated" in split
    assert ">boundary<" in split
