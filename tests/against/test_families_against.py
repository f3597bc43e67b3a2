"""Family by family, on a small board written as a sheet: healthy and failed in every way, the solver reads what the judge reads.

SOURCE  an independent circuit simulator, given its own deck of each family from docs/families.md (tests/robot/judge).
TAKEN   every reading on the part's own nets that is offered: dead in circuit, out of the circuit, and while on.
BOUND   1 % or two counts of a 6000-count meter; at the edge of OL either.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import bars
from comparing import Cell, compare, different, line, ours
from family_rigs import RIGS, Rig
from judge_side import Answers

from halfsplit.parts import FAMILIES

ANSWERS = Answers()
STAGES = {"boost-coil", "boost-fet", "pfc-controller", "bridge-fet", "bridge-transformer", "llc-controller", "standby",
          "class-d-fet", "class-d-driver", "split-supply"}


def cells(rig: Rig) -> list[Cell]:
    """Every reading of the part, healthy and in each of its ways, from both."""
    circuit = rig.circuit()
    ways = [(rig.ref, w.name) for w in FAMILIES[circuit.part(rig.ref).family].ways]
    return compare(circuit, faults=ways, part=rig.ref, answers=ANSWERS)


def _known(rigs: dict[str, Rig]) -> list[object]:
    return [pytest.param(n, marks=pytest.mark.xfail(reason=r.off)) if r.off else n for n, r in rigs.items()]


@pytest.mark.parametrize("name", _known(RIGS))
def test_every_way_reads_as_the_judge_says(name: str) -> None:
    """Healthy and each way of failing, cold and powered, all readings on its nets."""
    rig = RIGS[name]
    family = rig.circuit().part(rig.ref).family
    assert family == rig.family
    found = cells(rig)
    assert {c.fault[1] for c in found} == {"nothing wrong", *(w.name for w in FAMILIES[family].ways)}
    dead = bool(FAMILIES[family].cold_reads or FAMILIES[family].alone_reads)  # a battery is taken out for these
    assert any(c.column.live for c in found) and any(not c.column.live for c in found) == dead
    assert [line(c) for c in different(found)] == []
    assert all(c.our_pulse for c in found if c.judge.pulsing)


def test_every_kind_of_part_has_a_board():
    """A family without one isn't offered. Those of the switching stages only work together: test_agreement and test_boost_and_bridge compare
    them on whole boards."""
    stage = {"fet", "controller", "flyback"} | {"switcher", "plain-flyback", "oscillator"} | STAGES
    assert {r.family for r in RIGS.values()} | stage == {f.name for f in FAMILIES.values() if f.ways}


@pytest.mark.parametrize("name", RIGS)
def test_every_way_shows_somewhere(name: str) -> None:
    """On its rig no way of failing reads like the healthy part in everything: what nothing could convict would be a name only."""
    rig = RIGS[name]
    faults = [(rig.ref, w.name) for w in FAMILIES[rig.family].ways if w.name not in rig.silent]
    rows, solved = ours(rig.circuit(), faults)
    for i, row in enumerate(rows[1:], 1):
        seen = any(
            s.pulse[i, j] != s.pulse[0, j] or not bars.same(c.function, float(s.value[i, j]), float(s.value[0, j]))
            for s in solved
            for j, c in enumerate(s.columns)
        )
        assert seen, row
