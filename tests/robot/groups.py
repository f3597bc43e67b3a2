"""Ambiguity groups, fixed before any tool is asked: from the judge's own readings.

Two faults are one group when every offered reading differs by less than the meter's accuracy and 2 %. Offered are readings on
the board as it stands, nothing lifted: cold ohms and diode test both ways to the ground of the island and across every part,
capacitance and ESR across every capacitor, DC and AC volts of every net a meter may touch, at rest and with each control pressed.
Direct comparison with the one fault in question, never a chain of resemblances.
"""

from __future__ import annotations

import hashlib
import json
import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from bench import Board, Fault, hot_nets
from halfsplit.circuit.model import Circuit, circuit_to_data
from meter import tolerance
from scenarios import BoardMaker, FaultLister

EXTRA = 0.02  # beyond the meter, relative
TABLE_SEED = 1


@dataclass(frozen=True)
class Offered:
    """One reading that could be taken. pressed: None for a cold reading."""

    function: str
    red: str
    black: str
    pressed: frozenset[str] | None


def offered(circuit: Circuit) -> tuple[Offered, ...]:
    """Every reading on the board as it stands, cold ones first."""
    return (*cold_offered(circuit), *live_offered(circuit))


def ground_of(circuit: Circuit, net: str, hot: frozenset[str]) -> str:
    return circuit.grounds["hot"] if net in hot or "cold" not in circuit.grounds else circuit.grounds["cold"]


def cold_offered(circuit: Circuit) -> tuple[Offered, ...]:
    hot = hot_nets(circuit)
    out: dict[Offered, None] = {}
    for net in circuit.nets:
        ground = ground_of(circuit, net, hot)
        if net != ground and net not in circuit.cant:
            for function in ("r", "d"):
                out[Offered(function, net, ground, None)] = None
                out[Offered(function, ground, net, None)] = None
    for part in circuit.parts:
        pins = list(part.pins.values())[:2]
        if len(part.pins) == 2 and len(set(pins)) == 2 and part.family != "mains":
            kinds = ("r", "c", "esr") if part.family in ("capacitor", "electrolytic") else ("r", "d")
            for function in kinds:
                out[Offered(function, pins[0], pins[1], None)] = None
    return tuple(out)


def live_offered(circuit: Circuit) -> tuple[Offered, ...]:
    hot = hot_nets(circuit)
    states = (frozenset(), *(frozenset({c}) for c in circuit.controls))
    nets = [n for n in circuit.nets if n not in circuit.switching and n not in circuit.cant]
    return tuple(Offered(f, net, ground_of(circuit, net, hot), pressed) for pressed in states for net in nets
                 if net != ground_of(circuit, net, hot) for f in ("v", "ac"))


def same(reading: Offered, one: float, other: float) -> bool:
    """No meter of this class tells the two apart."""
    if math.isnan(one) or math.isnan(other):
        return True
    if math.isinf(one) or math.isinf(other):
        return math.isinf(one) and math.isinf(other)
    return abs(one - other) <= tolerance(reading.function, max(abs(one), abs(other)), EXTRA)


class Groups:
    """Groups of one circuit. A cell of the table is read when it is first needed, and kept in a file between runs."""

    def __init__(self, circuit: Circuit, make: BoardMaker, faults: FaultLister, folder: Path | None = None) -> None:
        self.circuit, self.make = circuit, make
        self.faults: list[Fault | None] = [None, *faults(circuit)]
        self.cold, self.live = cold_offered(circuit), live_offered(circuit)
        key = hashlib.sha256(json.dumps(circuit_to_data(circuit), sort_keys=True).encode()).hexdigest()[:16]
        self.file = folder / f"table-{key}.json" if folder else None
        self.cells: dict[str, float | None] = {}
        self._boards: dict[Fault | None, Board] = {}
        self._failed: set[tuple[Fault | None, frozenset[str]]] = set()
        if self.file and self.file.exists():
            self.cells = json.loads(self.file.read_text(encoding="utf-8"))

    def members(self, fault: Fault | None) -> tuple[Fault | None, ...]:
        """The fault and everything no offered reading tells from it. Where the judge could not say, a cell tells nothing."""
        others = [f for f in self.faults if f != fault]
        for readings in (self.cold, self.live):
            if others:
                moved = [r for r in readings if not self._same(fault, None, r)]
                others = [f for f in others if self._alike(fault, f, readings, moved)]
        self._keep()
        return (fault, *others)

    def parts(self, fault: Fault | None) -> frozenset[str]:
        """Part names of the group; "" stands for a board with nothing wrong."""
        return frozenset("" if f is None else f[0] for f in self.members(fault))

    def _alike(self, fault: Fault | None, other: Fault | None, readings: Sequence[Offered], moved: Sequence[Offered]) -> bool:
        """No reading differs. The readings that can part the two at the first look come first: most pairs cost one cell."""
        beside = set(self.circuit.part(other[0]).pins.values()) if other else set()
        near = [r for r in readings if {r.red, r.black} <= beside]
        order = dict.fromkeys((*moved, *near, *readings))
        return all(self._same(fault, other, r) for r in order)

    def _same(self, fault: Fault | None, other: Fault | None, reading: Offered) -> bool:
        return same(reading, self._cell(fault, reading), self._cell(other, reading))

    def _cell(self, fault: Fault | None, reading: Offered) -> float:
        """The ideal value; NaN where the judge failed."""
        state = "cold" if reading.pressed is None else " ".join(["live", *sorted(reading.pressed)])
        name = f"{' '.join(fault) if fault else 'nothing wrong'} | {state} | {reading.function} {reading.red} to {reading.black}"
        if name not in self.cells and (fault, reading.pressed) in self._failed:
            self.cells[name] = None
        if name not in self.cells:
            try:
                self.cells[name] = self._read(fault, reading)
            except Exception as failed:
                if type(failed).__name__ != "JudgeFailed":
                    raise
                self.cells[name] = None
                if reading.pressed is not None:
                    self._failed.add((fault, reading.pressed))
        value = self.cells[name]
        return math.nan if value is None else value

    def _read(self, fault: Fault | None, reading: Offered) -> float:
        if fault not in self._boards:
            self._boards[fault] = self.make(self.circuit, fault, TABLE_SEED)  # never switched on: its fuse tells nothing away
        board = self._boards[fault]
        if reading.pressed is None:
            return float(board.cold(reading.red, reading.black, reading.function))
        volts = board.live(reading.pressed, None).volts(reading.red, reading.black)
        return float(volts["dc" if reading.function == "v" else "ac"])

    def _keep(self) -> None:
        if self.file:
            self.file.parent.mkdir(parents=True, exist_ok=True)
            part = self.file.with_suffix(f".{os.getpid()}.part")
            part.write_text(json.dumps(self.cells), encoding="utf-8")
            part.replace(self.file)

    @property
    def empty_cells(self) -> int:
        """Cells the judge could not fill."""
        return sum(v is None for v in self.cells.values())
