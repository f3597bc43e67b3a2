"""The shipped own sheets, as far as this package reads them: keys, start lines, and entries that name what the sheet has."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import yaml

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit

EXAMPLES = Path(__file__).parents[2] / "examples"
OWN = ("bread_maker", "laminator", "stage_light_standby", "dosing_controller")
KEYS = {"unit", "symptom", "start", "parts", "ways", "does", "twin", "cold", "cant"}  # of the sheet notation
ACTS = {"off", "on", "dead", "see", "press"}


def sheet(name: str) -> dict[str, object]:
    loaded = yaml.load((EXAMPLES / f"{name}.yaml").read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    assert isinstance(loaded, dict)
    return loaded


@pytest.mark.parametrize("name", OWN)
def test_a_sheet_holds_known_keys_and_says_what_the_unit_is(name: str):
    """Only keys of the notation; the unit with volts, hertz and class, since refusals need it; every item is one plain line."""
    data = sheet(name)
    assert set(data) <= KEYS
    assert re.search(r"\d+V (50|60)Hz, class (I|II)\b", str(data["unit"]))
    for key in ("parts", "ways"):
        items = data.get(key, [])
        assert isinstance(items, list) and all(isinstance(item, str) for item in items)


@pytest.mark.parametrize("name", OWN)
def test_its_start_line_makes_a_circuit_that_has_the_places_named(name: str):
    """A sheet with a start line gives designators only to places, and claims only nets, that the starting sheet has."""
    data = sheet(name)
    if "start" not in data:
        assert len(data["ways"]) >= 10  # traced completely
        return
    made = start_circuit(str(data["start"]), Unit(name, 230.0, 50.0, "I", 400.0))
    refs = {p.ref for p in made.parts}
    named = [item.split()[1] for line in data["parts"] for item in line.split("; ")]
    assert named and set(named) <= refs
    assert set(str(data["cold"]).split(", ")) <= made.cold_claims


@pytest.mark.parametrize("name", ["bread_maker", "laminator"])
def test_entries_name_only_what_the_sheet_has(name: str):
    """Each entry is an act, or begins with a part or net of its sheet; ohms come only after `dead`, volts only after `on`."""
    text = (EXAMPLES / f"{name}.yaml").read_text(encoding="utf-8")
    known = set(re.findall(r"[A-Za-z0-9+-]+", text))
    state = ""
    for line in (EXAMPLES / f"{name}.entries").read_text(encoding="utf-8").splitlines():
        first, *rest = line.split()
        if first in ACTS:
            state = first if first in ("off", "dead", "on") else state
            continue
        assert first.split(".")[0] in known, line
        cold = any(re.fullmatch(r"[\d.]+k?r?|r|OL|.*(esr|u)", w) for w in rest) and not re.fullmatch(r"[+-]\d+", first)
        assert state == ("dead" if cold else "on"), line
