"""Ambiguity groups, fixed before any tool is asked: from the judge's own readings.

Two faults are one group when every offered reading differs by less than the meter's accuracy and 2 %. Offered are readings on the
board as it stands, nothing lifted: cold ohms and diode test both ways to the ground of the island and across every part, capacitance
and ESR across every capacitor, DC and AC volts of every net a meter may touch, at rest and with each control pressed.
Direct comparison with the one fault in question, never a chain of resemblances.
"""

from __future__ import annotations

import hashlib
import json
import math
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


def read(board: Board, readings: Sequence[Offered]) -> list[float]:
    """The ideal value of each reading, in their order; NaN where this board's family has none."""
    lives = {}
    out = []
    for r in readings:
        if r.pressed is None:
            out.append(float(board.cold(r.red, r.black, r.function)))
            continue
        if r.pressed not in lives:
            lives[r.pressed] = board.live(r.pressed, None)
        out.append(float(lives[r.pressed].volts(r.red, r.black)["dc" if r.function == "v" else "ac"]))
    return out


class Groups:
    """Groups of one circuit; cold readings of all faults once, live ones only where the cold ones agree. Kept in a file."""

    def __init__(self, circuit: Circuit, make: BoardMaker, faults: FaultLister, folder: Path | None = None) -> None:
        self.circuit, self.make = circuit, make
        self.faults: list[Fault | None] = [None, *faults(circuit)]
        self.cold, self.live = cold_offered(circuit), live_offered(circuit)
        key = hashlib.sha256(json.dumps(circuit_to_data(circuit), sort_keys=True).encode()).hexdigest()[:16]
        self.file = folder / f"table-{key}.json" if folder else None
        self.values: dict[str, list[float] | None] = {}
        if self.file and self.file.exists():
            self.values = json.loads(self.file.read_text(encoding="utf-8"))

    def members(self, fault: Fault | None) -> tuple[Fault | None, ...]:
        """The fault and everything no offered reading tells from it. Faults whose table the judge could not fill stay out."""
        mine = self._row(fault, live=False)
        if mine is None:
            return (fault,)
        alike = [f for f in self.faults if f != fault and self._alike(fault, f, live=False)]
        near = [f for f in alike if self._alike(fault, f, live=True)]
        self._keep()
        return (fault, *near)

    def parts(self, fault: Fault | None) -> frozenset[str]:
        """Part names of the group; "" stands for a board with nothing wrong."""
        return frozenset("" if f is None else f[0] for f in self.members(fault))

    def _alike(self, fault: Fault | None, other: Fault | None, *, live: bool) -> bool:
        one, two = self._row(fault, live=live), self._row(other, live=live)
        readings = self.live if live else self.cold
        return one is not None and two is not None and all(same(r, a, b) for r, a, b in zip(readings, one, two, strict=True))

    def _row(self, fault: Fault | None, *, live: bool) -> list[float] | None:
        name = f"{'live' if live else 'cold'} {' '.join(fault) if fault else 'nothing wrong'}"
        if name not in self.values:
            try:
                board = self.make(self.circuit, fault, TABLE_SEED)
                self.values[name] = read(board, self.live if live else self.cold)
            except Exception as failed:  # noqa: BLE001 - the judge's failure of any kind leaves this row empty, and is counted
                if type(failed).__name__ != "JudgeFailed":
                    raise
                self.values[name] = None
        return self.values[name]

    def _keep(self) -> None:
        if self.file:
            self.file.parent.mkdir(parents=True, exist_ok=True)
            part = self.file.with_suffix(".part")
            part.write_text(json.dumps(self.values), encoding="utf-8")
            part.replace(self.file)

    @property
    def empty_rows(self) -> int:
        """Rows the judge could not fill."""
        return sum(v is None for v in self.values.values())
