"""One board on the bench, complete: what is true on the judge's side, and what the technician has and says."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from perf.isolation.pool import read_back
from perf.isolation.writer import Lines

from halfsplit.circuit.model import Circuit, Unit
from judged import JudgedBoard, make_drawn

SPREAD = "wide"  # tolerances of these boards: a third wider than the robot's, with heavier tails
NOT_DRAWN = "?"  # how "something not on the sheet" is called in claims and truths
HEALTHY = ""


@dataclass(frozen=True)
class Flaw:
    """One fault of a board, with its severity in 0..1 as docs/families.md means it."""

    part: str
    way: str
    severity: float

    @property
    def fault(self) -> tuple[str, str]:
        return self.part, self.way


@dataclass(frozen=True)
class Case:
    """truth: the circuit of the board by its lines (start line alone for a starting sheet). sheet: lines of the technician.

    flaws: root first, then what it killed. nets: net of the sheet -> nets of the board that he takes for it. undrawn: parts
    of the board that the sheet lacks. slip: the one slip of the hand that is planned. slips: chance of one at each reading.
    questions: how many he answers from the board. altered: (part, parameter, value) where the board is not as truth has it.
    """

    index: int
    kind: str
    board: str
    sub: str
    truth: Lines
    sheet: Lines
    symptom: str
    flaws: tuple[Flaw, ...]
    seed: int
    nets: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    undrawn: tuple[str, ...] = ()
    slip: str = ""
    slip_at: int = 0
    slips: float = 0.0
    comes_and_goes: bool = False
    questions: int = 0
    altered: tuple[tuple[str, str, float], ...] = ()

    @property
    def circuit(self) -> Circuit:
        """The true circuit."""
        return with_values(read_back(self.truth), self.altered)

    @property
    def unsaid(self) -> Circuit:
        """The same without the customer's words: tables are kept by circuit, and no reading depends on what was said."""
        return replace(self.circuit, symptom=())

    @property
    def root(self) -> str:
        """What the job should end with: the part that failed first, HEALTHY, or NOT_DRAWN where the sheet has no such part."""
        if not self.flaws:
            return HEALTHY
        return NOT_DRAWN if self.flaws[0].part in self.undrawn else self.flaws[0].part

    @property
    def true_names(self) -> frozenset[str]:
        """Everything that may rightly be claimed."""
        if not self.flaws:
            return frozenset({HEALTHY})
        return frozenset(NOT_DRAWN if f.part in self.undrawn else f.part for f in self.flaws)

    @property
    def places(self) -> frozenset[str]:
        """Nets of a faulty part that is not on the sheet: an answer that names one of them has found it."""
        return frozenset(n for f in self.flaws if f.part in self.undrawn for n in self.circuit.part(f.part).pins.values())

    def board_of(self, *, healthy: bool = False, seed: int | None = None) -> JudgedBoard:
        """A fresh copy of the board. healthy: the same unit before anything failed."""
        faults = () if healthy else tuple((f.fault, f.severity) for f in self.flaws)
        return make_drawn(self.circuit, faults, self.seed if seed is None else seed, SPREAD)


def with_values(circuit: Circuit, altered: Iterable[tuple[str, str, float]]) -> Circuit:
    """The circuit with other values in some parts."""
    by: dict[str, dict[str, float]] = {}
    for ref, name, value in altered:
        by.setdefault(ref, {})[name] = value
    return circuit.with_parts(tuple(replace(p, values={**p.values, **by[p.ref]}) if p.ref in by else p for p in circuit.parts))


def start_lines(unit: Unit, symptom: str, start: str) -> Lines:
    """The three lines that open a job."""
    words = f"{unit.words}, {unit.volts:g}V {unit.hertz:g}Hz, class {unit.klass}, {unit.watts:g}W"
    return ("unit", words), ("symptom", symptom), ("start", start)
