"""A bug planted in any family's model turns the comparison with the judge red, and without it the comparison is green.

Each family is read on a small circuit on which it matters (rigs.py). Planted are: every parameter misread by 30 % up or down, every way of failing that
does nothing, and every way whose numbers are three times what they should be. The judge (ngspice) is asked once for each rig.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from comparing import Cell, compare, different, left_out, line
from judge_side import Answers
from rigs import RIGS, Rig

import halfsplit.parts
from halfsplit.diagnosis.suspects import nominal
from halfsplit.parts import FAMILIES
from halfsplit.parts.base import Family, Values, Way

# Families for which no rig can be built, and why.
NO_RIG: dict[str, str] = {
    **dict.fromkeys(("boost-coil", "boost-fet", "pfc-controller", "bridge-fet", "bridge-transformer", "llc-controller", "standby"),
                    "they work only together: test_boost_and_bridge.py compares whole boards"),
    **dict.fromkeys(("class-d-fet", "class-d-driver", "split-supply"), "they work only together: test_class_d.py compares whole boards"),
}
MISREAD = 1.3
# What no meter can show, and why.
HIDDEN = {
    "fuse": {"ohms_factor misread": "the rig's fuse says its ohms"},
    "mains": {"hertz misread": "the solver takes the frequency from the unit line"},
    "capacitor": {"esr misread": "20 milliohms; the page has none"},
    "electrolytic": {"volts misread": "a rating"},
    "stat": {"celsius misread": "it is read cold"},
    "thermal-link": {"celsius misread": "it is read cold"},
    **{name: {"watts misread": "it says when the part burns open: well off that here"} for name in ("composition", "fusible", "wirewound")},
    **{name: {"esr misread": "20 milliohms; the page has none"} for name in ("ceramic", "x-cap", "y-cap")},
    "tantalum": {"volts misread": "a rating", "leak misread": "10 Mohm beside less on its board"},
    "adjustable": {"amps misread": "its boards stay off its current limit"},
    "changeover": {"volts misread": "its boards pull it in with a third to spare"},
    "comparator": {"head misread": "its pull-up is a resistor", "quiescent misread": "its supply is a battery"},
    "op-amp": {"quiescent misread": "its supply is a battery", "sink misread": "its boards ask for less than it can sink"},
    "ldo": {"quiescent misread": "its supply is a battery"},
    "p-mosfet": {"ron misread": "milliohms before ohms", "vth misread": "its boards switch it fully"},
    "triac": {"hold misread": "milliamps before the amps of its loads", "half-wave three times off": "which half is lost, not how much"},
    "switcher": {"pause misread": "the time from try to try: the judge's chip has its own"},
    "scr": {"hold misread": "its boards hold it well or not at all"},
    "tvs": {"watts misread": "a slope of milliohms at the currents of its board"},
    "plain-flyback": {"shorted-turns three times off": "either load is more than any stage can move",
                      "out misread": "without a second winding it only says where leakage and snubbing hold the core"},
    "adapter": {"ohms misread": "0.05 ohm before the 47 ohm of its board"},
    "buck-module": {"quiescent misread": "5 mA beside what its load takes"},
    "led-boost": {"von misread": "its board stands well above it, or has nothing", "run misread": "3 mA beside the amps of its coil"},
    "led-buck": {**{f"{name} misread": "its board regulates well clear of it" for name in ("again", "amps", "ovp", "voff")},
                 **{f"{name} misread": "microamps beside what its start resistors bring" for name in ("start", "run")}},
    "split-transformer": {"mag misread": "its magnetising current in 110 ohm is lost in the mains"},
    "flyback": {"shorted-turns three times off": "either load is more than any stage can move"},
}
ANSWERS = Answers()


def read(name: str, rig: Rig, ways: tuple[str, ...]) -> list[Cell]:
    """The rig healthy and with its part failed in these ways."""
    faults = [(rig.ref, way) for way in ways]
    cells = compare(rig.circuit, faults=faults, part=rig.ref, answers=ANSWERS)
    return [c for c in cells if c.column.key not in rig.without]


def odd(cells: list[Cell]) -> set[tuple[str, ...]]:
    """Readings that differ, and those that pulse on the judge's side only."""
    return {(*c.fault, c.column.key) for c in cells if c in different(cells) or (c.judge.pulsing and not c.our_pulse)}


def misread(family: Family, param: str, factor: float) -> Family:
    """The family with one of its parameters taken so many times too large wherever its model looks at it."""

    def wrong(values: Values) -> Values:
        return {**values, param: np.asarray(values[param]) * factor}

    mode = family.mode and replace(family.mode, settle=lambda probe, v, now: family.mode.settle(probe, wrong(v), now))  # type: ignore[union-attr]
    return replace(family, stamp=lambda s, pins, v: family.stamp(s, pins, wrong(v)), mode=mode)


def with_way(family: Family, way: Way, factor: float) -> Family:
    """The family with one way whose numbers are this factor off; 0: it does nothing at all."""

    def change(v: Values, u: np.ndarray) -> dict[str, np.ndarray]:
        return {k: x * factor for k, x in way.change(v, u).items()} if factor else {}

    return replace(family, ways=tuple(replace(w, change=change) if w is way else w for w in family.ways))


def plants(name: str, rigs: tuple[Rig, ...]) -> Iterator[tuple[str, list[tuple[Family, tuple[str, ...]]]]]:
    """What is planted in a family: in words, and one after the other until it shows, the family and the ways to look at. A slot (0 or 1: a
    mode, a fault) is not misread; an open or a switched-off part has no size."""
    family = FAMILIES[name]
    ways = tuple(w.name for w in family.ways)
    for param in family.params:
        stated = [float(nominal(rig.circuit.part(rig.ref))[param.name]) for rig in rigs]
        slot = param.unit == "" and param.tol == 0.0
        if not slot and any(0.0 < abs(x) < 1e9 for x in stated):
            yield f"{param.name} misread", [
                (misread(family, param.name, factor), lot) for lot in ((), ways) for factor in (MISREAD, 1.0 / MISREAD)
            ]
    for way in family.ways:
        yield f"{way.name} does nothing", [(with_way(family, way, 0.0), (way.name,))]
        values = nominal(rigs[0].circuit.part(rigs[0].ref))
        numbers = [float(x) for x in way.change(values, np.asarray(0.5)).values()]
        if numbers and all(x not in (0.0, 1.0) and 1e-9 < abs(x) < 1e8 for x in numbers):
            yield f"{way.name} three times off", [(with_way(family, way, 3.0), (way.name,))]


def test_every_family_has_a_rig() -> None:
    """A new family needs a rig in rigs.py with its own part on it, or a reason why there can be none."""
    assert set(RIGS) | set(NO_RIG) == set(FAMILIES) and not set(RIGS) & set(NO_RIG)
    for name, rigs in RIGS.items():
        assert {rig.circuit.part(rig.ref).family for rig in rigs} == {name}


@pytest.mark.parametrize("name", RIGS)
def test_a_planted_bug_shows(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """As it is, the family reads as the judge does; with any one bug planted it no longer does."""
    rigs = RIGS[name]
    before: set[tuple[str, ...]] = set()
    for rig in rigs:
        cells = read(name, rig, tuple(w.name for w in FAMILIES[name].ways))
        assert [line(c) for c in different(cells)] == []
        assert left_out(cells) < 0.5
        before |= odd(cells)
    unseen = set()
    for what, tries in plants(name, rigs):
        for family, ways in tries:
            monkeypatch.setattr(halfsplit.parts, "FAMILIES", {**FAMILIES, name: family})
            if any(odd(read(name, rig, ways)) - before for rig in rigs):
                break
        else:
            unseen.add(what)
    assert unseen == set(HIDDEN.get(name, {}))
