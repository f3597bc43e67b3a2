"""Family by family, on a small board written as a sheet: healthy and failed in every way, the solver reads what the judge reads.

SOURCE  an independent circuit simulator, given its own deck of each family from docs/families.md (tests/robot/judge).
TAKEN   every reading on the part's own nets that is offered: dead in circuit, out of the circuit, and while on.
BOUND   1 % or two counts of a 6000-count meter; at the edge of OL either.
"""

from __future__ import annotations

import math
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

from agreement import LIMITS, Cell, Fault, Ours, theirs
from family_rigs import RIGS, Rig

from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis import build
from halfsplit.diagnosis.columns import ALONE
from halfsplit.jobs.table import Solved, Table
from halfsplit.jobs.weigh import make_suspects
from halfsplit.parts import FAMILIES

SHARE, COUNTS, DIGITS = 0.01, 2, 6000
LOWEST = {"r": 600.0, "d": 3.0, "c": 6e-8, "esr": 60.0, "v": 0.6, "ac": 0.6, "max": 0.6, "min": 0.6}  # lowest full scales


def two_counts(function: str, value: float) -> float:
    """Two counts on the range that shows this value."""
    full = LOWEST[function]
    while full < abs(value) and function != "d":
        full *= 10.0
    return COUNTS * full / DIGITS


def same(cell: Cell) -> bool:
    """The two say the same within the bound; a display that moves has to move on both sides."""
    one, other, function = cell.ours, cell.theirs, cell.column.function
    if cell.our_pulse or cell.their_pulse:
        return cell.our_pulse == cell.their_pulse
    if math.isnan(one) or math.isnan(other):
        return False
    if math.isinf(one) or math.isinf(other):
        low = min(one, other)
        return math.isinf(low) or low > 0.98 * LIMITS.get(function, math.inf)
    size = max(abs(one), abs(other))
    return abs(one - other) <= SHARE * size + two_counts(function, size)


def ours(circuit: Circuit, faults: list[Fault]) -> tuple[list[Fault], list[Ours]]:
    """The solver's side at marked values and middle severity, every row as it is solved (a table takes what differs by less than a
    meter shows for the healthy figure, which is more than two counts)."""
    kept = tuple(s for s in make_suspects(circuit) if s.part is None or (s.row.part, s.row.way) in faults)
    table = Table(circuit, kept)
    table.solved = Solved(build.draw(circuit, kept, draws=1, times=1))
    out = []
    for condition in table.conditions():
        if condition.powered:
            columns = table.live(condition).columns
            out.append(Ours(condition, columns, *build.live_read(table.nominal(condition), columns, circuit.unit.hertz)))
        else:
            out += [Ours(condition, b.columns, b.value[:, :, 0], b.pulsing) for b in (table.cold(), table.alone())]
    return [(s.row.part, s.row.way) for s in kept], out


def cells(rig: Rig) -> list[Cell]:
    """Every reading of the part, healthy and in each of its ways, from both."""
    circuit = rig.circuit()
    part = circuit.part(rig.ref)
    family = FAMILIES[part.family]
    rows, solved = ours(circuit, [(part.ref, w.name) for w in family.ways])
    nets = set(part.pins.values())
    out = []
    for state in solved:
        kept = [j for j, c in enumerate(state.columns) if (c.part == part.ref if c.state == ALONE else {c.red, c.black} & nets)]
        if not kept:
            continue
        wanted = [(state.condition, tuple(state.columns[j] for j in kept))]
        for i, row in enumerate(rows):
            for j, got in zip(kept, theirs(circuit, wanted, row)[0], strict=True):
                out.append(Cell(row, state.columns[j], float(state.value[i, j]), got[0], bool(state.pulse[i, j]), got[1]))
    return out


def report(every: list[Cell]) -> str:
    return "\n".join(
        f"{c.fault[0]} {c.fault[1]:14s} {c.column.key:34s} ours {c.ours:12.6g} judge {c.theirs:12.6g} "
        f"{c.our_pulse:d}{c.their_pulse:d}{'' if same(c) else '   DIFFERS'}"
        for c in every
    )


def _known(rigs: dict[str, Rig]) -> list[object]:
    return [pytest.param(n, marks=pytest.mark.xfail(reason=r.off)) if r.off else n for n, r in rigs.items()]


@pytest.mark.parametrize("name", _known(RIGS))
def test_every_way_reads_as_the_judge_says(name: str) -> None:
    """Healthy and each way of failing, cold and powered, all readings on its nets."""
    rig = RIGS[name]
    family = rig.circuit().part(rig.ref).family
    assert family == rig.family
    found = cells(rig)
    print(report(found))
    assert {c.fault[1] for c in found} == {"nothing wrong", *(w.name for w in FAMILIES[family].ways)}
    assert any(c.column.live for c in found) and any(not c.column.live for c in found)
    assert not [c for c in found if not same(c)], "\n" + report([c for c in found if not same(c)])


def test_every_kind_of_part_has_a_board():
    """A family without one isn't offered. The three parts of the switching stage only work together: test_agreement compares
    them on the whole flyback board."""
    stage = {"fet", "controller", "flyback"}
    assert {r.family for r in RIGS.values()} | stage == {f.name for f in FAMILIES.values() if f.ways}


@pytest.mark.parametrize("name", RIGS)
def test_every_way_shows_somewhere(name: str) -> None:
    """On its rig no way of failing reads like the healthy part in everything: what nothing could convict would be a name only."""
    rig = RIGS[name]
    circuit = rig.circuit()
    ways = [w.name for w in FAMILIES[rig.family].ways if w.name not in rig.silent]
    rows, solved = ours(circuit, [(rig.ref, w) for w in ways])
    for i, row in enumerate(rows[1:], 1):
        seen = any(
            not same(Cell(row, c, float(s.value[i, j]), float(s.value[0, j]), bool(s.pulse[i, j]), bool(s.pulse[0, j])))
            for s in solved
            for j, c in enumerate(s.columns)
        )
        assert seen, row
