"""Every sheet the drawing is tried on."""

from __future__ import annotations

from pathlib import Path

from halfsplit.circuit.model import Circuit
from halfsplit.circuit.starting import STARTS
from halfsplit.jobs.sheets import circuit_from_sheet

ROOT = Path(__file__).resolve().parents[2]
MORE_STARTS = (
    "flyback with controller 16/10V; out 14.4V 5A; charger; over-volt latch",
    "flyback with controller 16/10V; out 5V 2A; half-wave; no choke",
    "flyback with controller 16/10V; out 12V 1A; second out 5V 0.5A; main by relay",
    "linear 12V 1A, 5V",
)


def sheet_files() -> list[Path]:
    found = [*ROOT.glob("examples/*.yaml"), ROOT / "perf/mains_supply.yaml", *ROOT.glob("perf/isolation/sheets/*.yaml")]
    return sorted(p for p in found if p.name != "bench-kit.yaml")


def from_file(path: Path) -> Circuit:
    return circuit_from_sheet(path.read_bytes(), path.name)


def start_lines() -> list[str]:
    return [*(s.example for s in STARTS.values()), *MORE_STARTS]


def from_start(line: str) -> Circuit:
    words = line.removeprefix("series chain: ")
    said = f"series chain {words}" if words != line else line
    text = f"unit: unit on trial, 230V 50Hz, class II, 60W\nsymptom: dead\nstart: {said}\n"
    return circuit_from_sheet(text.encode(), "start")
