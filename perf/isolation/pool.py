"""The circuits that boards are made of: starting sheets with their sizes, the shipped sheets, and three nobody has used so far."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from perf.isolation import ROOT
from perf.isolation.writer import Lines, lines_of, traced

from halfsplit.circuit.model import Circuit, Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.errors import InputError
from halfsplit.jobs.fold import circuit_of
from halfsplit.jobs.sheets import circuit_from_sheet
from scenarios import KINDS, MAINS

FOLDERS = (ROOT / "examples", ROOT / "perf" / "isolation" / "sheets")


@dataclass(frozen=True)
class Entry:
    """One circuit. start: its starting line, "" for a full sheet. group: circuits that are sizes of one topology."""

    name: str
    group: str
    start: str = ""
    unit: Unit | None = None

    @property
    def circuit(self) -> Circuit:
        """The circuit by places (starting sheet) or as the file has it."""
        return _start(self.start, self.unit) if self.unit is not None else _sheet(self.name)

    @property
    def full(self) -> Circuit:
        """The circuit as a full sheet says it: read back from the lines that the writer makes of it."""
        return _written(self.start, self.unit) if self.unit is not None else _rewritten(self.name)


@cache
def _start(start: str, unit: Unit) -> Circuit:
    return start_circuit(start, unit, ())


@cache
def _written(start: str, unit: Unit) -> Circuit:
    return read_back(lines_of(traced(_start(start, unit)), "not said"))


@cache
def _sheet(name: str) -> Circuit:
    file = next(f / f"{name}.yaml" for f in FOLDERS if (f / f"{name}.yaml").exists())
    return circuit_from_sheet(file.read_bytes(), file.name)


@cache
def _rewritten(name: str) -> Circuit:
    return read_back(lines_of(_sheet(name), "not said"))


def read_back(lines: Lines) -> Circuit:
    """The circuit that the tool makes of these lines. Raises InputError."""
    circuit = circuit_of(tuple(lines))
    if circuit is None:
        raise InputError("these lines make no circuit: unit, start or ways are missing")
    return circuit


def _starts() -> tuple[Entry, ...]:
    """Every starting line, on one of the two mains each: twice as many circuits would mean twice as many tables of the judge."""
    out = []
    for kind in KINDS:
        for n, (start, watts) in enumerate(kind.starts):
            volts, hertz = MAINS[n % 2]
            out.append(Entry(start, kind.name, start, Unit(kind.what, volts, hertz, kind.klass, watts)))
    return tuple(out)


STARTS = _starts()
# Every topology that has a starting sheet of its own, one size each; beside STARTS, so that draws of the other kinds stay as they were. Not the
# LED driver: the simulator's steps become nanoseconds once its stage runs, and no run ends.
TOPOLOGIES: tuple[tuple[str, str, str, float], ...] = (
    ("integrated switch", "air purifier", "flyback with integrated switch; out 24V 1A", 30.0),
    ("self-oscillating", "shaver dock", "self-oscillating flyback; out 12V 0.4A", 8.0),
    ("phase control", "floor heater", "phase control; heater 500W", 500.0),
    ("LED boost", "light table", "LED boost; adapter 12V; out 37V 180mA", 10.0),
    ("lab supply", "bench supply", "lab supply 30V 3A", 150.0),
    ("class-D amplifier", "subwoofer", "class-D amplifier; rails 45V; speaker 4R", 200.0),
    ("power tree", "stirrer board", "power tree 12V, 5V 1A, 3.3V 0.5A", 12.0),
    ("class-AB amplifier", "stereo amplifier", "class-AB amplifier +-36V", 150.0),
    ("PFC and half-bridge", "stage light", "PFC and half-bridge; out 36V 10A", 400.0),
)
OTHERS = tuple(
    Entry(start, group, start, Unit(what, *MAINS[n % 2], "I" if watts > 100 else "II", watts)) for n, (group, what, start, watts) in enumerate(TOPOLOGIES)
)
SHEETS = tuple(Entry(f.stem, f.stem) for folder in FOLDERS for f in sorted(folder.glob("*.yaml")) if f.stem != "bench-kit")
# Sheets that can be written from nothing: what a switching stage needs beside its parts stands on no full sheet.
FULL = tuple(e for e in (*STARTS, *SHEETS) if not e.circuit.switching)
EVERY = (*STARTS, *SHEETS)
