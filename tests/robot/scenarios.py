"""Boards to be repaired: a starting sheet with sizes, one fault, a seed, and the words of a customer who saw it run.

Parts are drawn evenly, then their ways of failing evenly: not by the odds that the tool itself believes in. A fault that shows
nowhere outside (no load, heater or lamp does anything else than on a good board) would not come in, so it is drawn again.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from bench import Board, Fault
from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import start_circuit

HEALTHY_SHARE = 0.06  # boards that come in with nothing wrong [E]
SEEN = frozenset({"load", "resistive-load", "power-load", "heater", "motor", "lamp"})  # families whose work a customer sees
# What is watched of an amplifier beside its speaker, which shows nothing while nobody plays: the click of its relay, the light on its rails
RAILS = frozenset({"plus-reservoir", "minus-reservoir", "plus-cap", "minus-cap"})
BoardMaker = Callable[[Circuit, Fault | None, int], Board]
FaultLister = Callable[[Circuit], Sequence[Fault]]


@dataclass(frozen=True)
class Kind:
    """One kind of start. what: the thing; starts: lines with their sizes; watts per line."""

    name: str
    what: str
    klass: str
    starts: tuple[tuple[str, float], ...]


KINDS: tuple[Kind, ...] = (
    Kind("dropper", "bread maker", "I", (
        ("dropper, 24V relay board; heater 580W", 600.0), ("dropper, 12V relay board; heater 350W", 360.0),
        ("dropper, 5V; no relay", 2.0))),
    Kind("flyback", "label printer", "II", (
        ("flyback with controller 16/10V; out 24V 1.5A", 45.0), ("flyback with controller 16/10V; out 12V 2A", 30.0),
        ("flyback with controller 8.4/7.6V; out 5V 3A", 20.0))),
    Kind("linear", "radio", "II", (
        ("linear 12V 1A", 25.0), ("linear 12V 1A, 5V 0.3A", 30.0), ("linear 15V 0.5A", 15.0))),
    Kind("series chain", "laminator", "I", (
        ("series chain: fuse, link 216C, stat, contact, heater 350W", 350.0),
        ("series chain: fuse, link 216C, stat, relay 12V, heater 350W", 355.0),
        ("series chain: fuse, switch, link 192C, stat, heater 800W", 800.0))),
)
MAINS = ((230.0, 50.0), (120.0, 60.0))


@dataclass(frozen=True)
class Scenario:
    """One board on the bench, complete: drawn once, the same for every technician."""

    index: int
    kind: str
    unit: Unit
    start: str
    symptom: str
    fault: Fault | None
    seed: int
    redrawn: int = 0

    @property
    def three(self) -> dict[str, str]:
        """The three lines that open a job."""
        return {"unit": unit_line(self.unit), "symptom": self.symptom, "start": self.start}

    def circuit(self) -> Circuit:
        return start_circuit(self.start, self.unit, ())


def unit_line(unit: Unit) -> str:
    return f"{unit.words}, {unit.volts:g}V {unit.hertz:g}Hz, class {unit.klass}, {unit.watts:g}W"


@dataclass(frozen=True)
class Drawn:
    """What can be said of a board before the judge has run it: everything but the words of the customer."""

    kind: str
    unit: Unit
    start: str
    rng: np.random.Generator


def draw_set(index: int, seed: int, kinds: Sequence[Kind] = KINDS) -> Drawn:
    """Kind by turns, sizes and mains by lot."""
    rng = np.random.default_rng([seed, index])
    kind = kinds[index % len(kinds)]
    start, watts = kind.starts[int(rng.integers(len(kind.starts)))]
    volts, hertz = MAINS[int(rng.integers(2))]
    return Drawn(kind.name, Unit(kind.what, volts, hertz, kind.klass, watts), start, rng)


def draw(
    index: int, seed: int, make: BoardMaker, faults: FaultLister, kinds: Sequence[Kind] = KINDS, tries: int = 12
) -> Scenario:
    """The scenario with this number. The judge's own failure passes through to the caller."""
    drawn = draw_set(index, seed, kinds)
    circuit = start_circuit(drawn.start, drawn.unit, ())
    for _ in range(tries):
        board_seed = int(drawn.rng.integers(1, 2**31 - 1))
        healthy = seen_at(circuit, make(circuit, None, board_seed))
        if works(healthy):
            break
    if drawn.rng.random() < HEALTHY_SHARE:
        return Scenario(index, drawn.kind, drawn.unit, drawn.start, "works now", None, board_seed)
    listed = list(faults(circuit))
    for again in range(tries):
        fault = _one(listed, drawn.rng)
        words = said_of(healthy, seen_at(circuit, make(circuit, fault, board_seed)))
        if words:
            return Scenario(index, drawn.kind, drawn.unit, drawn.start, words, fault, board_seed, again)
    return Scenario(index, drawn.kind, drawn.unit, drawn.start, "works now", None, board_seed, tries)


def _one(listed: Sequence[Fault], rng: np.random.Generator) -> Fault:
    """A part evenly, then one of its ways evenly."""
    parts = list(dict.fromkeys(part for part, _ in listed))
    part = parts[int(rng.integers(len(parts)))]
    ways = [way for p, way in listed if p == part]
    return part, ways[int(rng.integers(len(ways)))]


@dataclass(frozen=True)
class Shown:
    """What one load does in one condition: true rms volts across it, and whether it twitches."""

    part: str
    family: str
    pressed: frozenset[str]
    rms: float
    pulsing: bool


def seen_at(circuit: Circuit, board: Board) -> tuple[Shown, ...]:
    """Every load of the board at rest and, where there are controls, with each control pressed."""
    out = []
    watched = watched_of(circuit)
    for pressed in (frozenset(), *(frozenset({c}) for c in circuit.controls)):
        live = board.live(pressed, None)
        for part in watched:
            red, black = list(part.pins.values())[:2]
            volts = live.volts(red, black)
            rms = math.hypot(float(volts["dc"]), float(volts["ac"]))
            out.append(Shown(part.ref, kind_of(part), pressed, rms, bool(volts.get("pulsing"))))
    return tuple(out)


def watched_of(circuit: Circuit) -> tuple[Part, ...]:
    """The parts whose work a customer sees or hears: loads, else light; of an amplifier its relay and rails too."""
    loads = tuple(p for p in circuit.parts if p.family in SEEN)
    if any(p.place == "speaker" for p in loads):
        return loads + tuple(p for p in circuit.parts if p.family == "relay" or p.place in RAILS)
    return loads or tuple(p for p in circuit.parts if p.family == "led")


def kind_of(part: Part) -> str:
    return "speaker" if part.place == "speaker" else part.family


def as_it_comes_in(circuit: Circuit, make: Callable[[], Board]) -> Board:
    """A board as its owner left it: plugged in and every control used, so that a fuse which its fault opens is open."""
    used, board = make(), make()
    seen_at(circuit, used)
    getattr(board, "blown", {}).update(getattr(used, "blown", {}))
    return board


def works(shown: Sequence[Shown]) -> bool:
    """Whether a unit without any fault does its job at all: tolerances that add up can keep a supply from starting, and such a
    unit is neither healthy nor a case of a single fault."""
    quiet = all(s.rms < 0.1 for s in shown if s.family == "speaker")
    return not shown or quiet and any(s.rms > 1.0 for s in shown) and not any(s.pulsing for s in shown)


def said_of(healthy: Sequence[Shown], now: Sequence[Shown]) -> str:
    """The customer's words; empty when nothing looks other than it should."""
    pairs = list(zip(healthy, now, strict=True))
    if not pairs:
        return ""
    works = [(h, n) for h, n in pairs if h.rms > 1.0]
    rests = [(h, n) for h, n in pairs if h.rms <= 1.0]
    if any(n.pulsing and not h.pulsing for h, n in pairs):
        return "ticks"
    if any(n.family == "speaker" for n in now):
        return _heard(works, rests)
    if any(n.rms > 10.0 for _, n in rests):
        return "always on"
    if works and all(n.rms < 0.1 * h.rms for h, n in works):
        return "dead" if all(h.family == "load" for h, _ in works) else "no heat"
    if any(n.rms < 0.1 * h.rms for h, n in works):
        return "half dead"
    if any(n.rms > 1.08 * h.rms for h, n in works):
        return "output high"
    if any(n.rms < 0.92 * h.rms for h, n in works):
        return "output low" if all(h.family == "load" for h, _ in works) else "weak heat"
    return ""


def _heard(works: Sequence[tuple[Shown, Shown]], rests: Sequence[tuple[Shown, Shown]]) -> str:
    """Of an amplifier that nobody plays: its light, the click of its relay, and the cone that is pushed out."""
    if works and all(n.rms < 0.1 * h.rms for h, n in works):
        return "dead"
    if any(n.rms > 1.0 for _, n in rests):
        return "thump, then silent"
    return "no sound" if any(n.rms < 0.5 * h.rms for h, n in works) else ""
