"""The kinds of board whose sheet is not the board: a part missing, values guessed, nets joined, another starting sheet, three lines only."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
from perf.isolation.case import Case, start_lines, with_values
from perf.isolation.draw import (
    TRIES,
    TURN,
    Lot,
    NoBoard,
    _choose,
    draw_double,
    draw_healthy,
    draw_single,
    draw_slip,
    draw_slips,
    failing,
    kept,
    kind_at,
    single,
)
from perf.isolation.pool import FULL, OTHERS, STARTS, Entry, read_back
from perf.isolation.writer import Lines, Retouch, lines_of

from halfsplit.circuit.model import Circuit, Part
from halfsplit.errors import InputError
from halfsplit.parts import FAMILIES
from scenarios import seen_at, works

GUESSED = 0.2  # share of the values that he could not read
GUESSES = ("resistor", "capacitor", "electrolytic", "zener", "heater", "motor", "inductor", "load", "x-cap", "ceramic", "wirewound")
# What can be overlooked beside others on the same nets, and what can be taken for a piece of wire
BESIDE = frozenset({"capacitor", "electrolytic", "ceramic", "x-cap", "y-cap", "varistor", "tvs", "zener", "diode", "resistor", "motor",
                    "load", "resistive-load", "led", "heater"})
WIRE = frozenset({"fuse", "ntc", "lead", "thermal-link", "stat", "switch", "inductor", "connector", "joint", "fusible"})
SMALL_OHMS = 200.0


def _written(circuit: Circuit, symptom: str, retouch: Retouch) -> Lines | None:
    """The technician's sheet, None where the tool would not take it."""
    lines = lines_of(circuit, symptom, retouch)
    try:
        read_back(lines)
    except InputError:
        return None
    return lines


def _works_as_drawn(lot: Lot, lines: Lines) -> bool:
    """A sheet that nobody would believe is traced again: drawn parts as marked have to make a set that works."""
    circuit = read_back(lines)
    return works(seen_at(circuit, kept(lot, circuit, (), 5)))


def draw_missing(lot: Lot) -> Case:
    """A part of the board is not on the sheet; in every other case it is the one that failed."""
    rng = lot.rng
    guilty = bool(rng.random() < 0.5)
    for _ in range(TRIES):
        entry = _choose(FULL, rng)
        circuit = entry.full
        gone = _overlooked(circuit, rng)
        lines = _written(circuit, "dead", Retouch(leave_out=frozenset({gone}))) if gone else None
        if gone is None or lines is None or not _works_as_drawn(lot, lines):
            continue
        try:
            seed, flaws, words = failing(lot, circuit, rng, single(circuit, rng, lambda f, gone=gone: (f[0] == gone) == guilty))
        except NoBoard:
            continue
        sheet = lines_of(circuit, words, Retouch(leave_out=frozenset({gone})))
        return Case(lot.index, lot.kind, entry.name, "guilty" if guilty else "innocent", lines_of(circuit, words), sheet, words,
                    flaws, seed, undrawn=(gone,))
    raise NoBoard("no part could be left out of a sheet")


def _overlooked(circuit: Circuit, rng: np.random.Generator) -> str | None:
    """A two-pin part whose nets hold enough others without it."""
    ends = Counter(n for p in circuit.parts for n in p.pins.values())
    some = [p.ref for p in circuit.parts if p.family in BESIDE and len(p.pins) == 2 and all(ends[n] >= 3 for n in p.pins.values())]
    return some[int(rng.integers(len(some)))] if some else None


def draw_guessed(lot: Lot) -> Case:
    """A fifth of the values on the sheet are guesses, marked as such; half of them good ones."""
    rng = lot.rng
    for _ in range(TRIES):
        entry = _choose(FULL, rng)
        circuit = entry.full
        mains = [(p.ref, str(FAMILIES[p.family].main_value), p) for p in circuit.parts if p.family in GUESSES]
        values = [(r, m, p.values[m]) for r, m, p in mains if m in p.values]
        if not values:
            continue
        count = max(1, round(GUESSED * sum(1 for p in circuit.parts if p.values)))
        picked = [values[int(i)] for i in rng.permutation(len(values))[:count]]
        unknown = {(r, m): x * float(np.exp(rng.normal(0.0, 0.15 if rng.random() < 0.5 else 0.7))) for r, m, x in picked}
        if _written(circuit, "dead", Retouch(unknown=unknown)) is None:
            continue
        seed, flaws, words = failing(lot, circuit, rng, single(circuit, rng))
        sheet = lines_of(circuit, words, Retouch(unknown=unknown))
        return Case(lot.index, lot.kind, entry.name, "", lines_of(circuit, words), sheet, words, flaws, seed)
    raise NoBoard("no values to guess")


def draw_merged(lot: Lot) -> Case:
    """Two nets of the board are one on the sheet: by mistake, or with the part between them left out."""
    rng = lot.rng
    by_mistake = bool(rng.random() < 0.5)
    for _ in range(TRIES):
        entry = _choose(FULL, rng)
        circuit = entry.full
        found = _two_nets(circuit, rng) if by_mistake else _wire(circuit, rng)
        if found is None:
            continue
        a, b, gone = found
        retouch = Retouch(leave_out=frozenset({gone} if gone else ()), join={b: a})
        if _written(circuit, "dead", retouch) is None:
            continue
        try:
            seed, flaws, words = failing(lot, circuit, rng, single(circuit, rng, lambda f, gone=gone: f[0] != gone))
        except NoBoard:
            continue
        return Case(lot.index, lot.kind, entry.name, "by mistake" if by_mistake else "series part", lines_of(circuit, words),
                    lines_of(circuit, words, retouch), words, flaws, seed, nets={a: (a, b)}, undrawn=(gone,) if gone else ())
    raise NoBoard("no two nets could be joined")


def _free(circuit: Circuit) -> list[str]:
    """Nets that a sheet can do without by name."""
    kept_names = {"L", "N", *circuit.grounds.values()}
    return [n for n in circuit.nets if n not in kept_names and "/" not in n]


def _two_nets(circuit: Circuit, rng: np.random.Generator) -> tuple[str, str, str] | None:
    """Two nets with no part from one to the other, on one side of the insulation."""
    free = _free(circuit)
    side = {n: n in circuit.cold_claims for n in free}
    pairs = [(a, b, "") for a in free for b in free if a != b and side[a] == side[b]
             and not any({a, b} <= set(p.pins.values()) for p in circuit.parts)]
    return pairs[int(rng.integers(len(pairs)))] if pairs else None


def _wire(circuit: Circuit, rng: np.random.Generator) -> tuple[str, str, str] | None:
    """A series part that could be taken for a piece of wire, and its ends."""
    free = set(_free(circuit))
    some = [(*p.pins.values(), p.ref) for p in circuit.parts if _like_wire(p) and list(p.pins.values())[1] in free]
    some = [(a, b, ref) for a, b, ref in some if not any({a, b} <= set(p.pins.values()) for p in circuit.parts if p.ref != ref)]
    return some[int(rng.integers(len(some)))] if some else None


def _like_wire(part: Part) -> bool:
    return len(part.pins) == 2 and (part.family in WIRE or (part.family == "resistor" and part.values.get("ohms", 1e9) < SMALL_OHMS))


def draw_wrong_start(lot: Lot) -> Case:
    """He starts from the starting sheet of another size or another topology of the same kind."""
    rng = lot.rng
    entry = STARTS[int(rng.integers(len(STARTS)))]
    assert entry.unit is not None
    nets = set(entry.circuit.nets)
    # another topology, but none with an isolated side that this board plainly hasn't got: that is seen at the first look
    others = [e for e in STARTS if e.group == entry.group and e.start != entry.start and set(e.circuit.grounds.values()) <= nets]
    other = others[int(rng.integers(len(others)))]
    circuit = entry.circuit
    seed, flaws, words = failing(lot, circuit, rng, single(circuit, rng))
    his = read_back(start_lines(entry.unit, words, other.start))
    undrawn = tuple(p.ref for p in circuit.parts if p.ref not in his.names)
    return Case(lot.index, lot.kind, entry.name, other.start, start_lines(entry.unit, words, entry.start),
                start_lines(entry.unit, words, other.start), words, flaws, seed, nets=nets_between(his, circuit), undrawn=undrawn)


def nets_between(his: Circuit, board: Circuit) -> dict[str, tuple[str, ...]]:
    """Net of his sheet -> net of the board: where most of the pins sit that both have; nothing where no pin is shared."""
    out: dict[str, tuple[str, ...]] = {}
    for net in his.nets:
        votes = Counter(board.names[p.ref].pins[pin] for p in his.parts if p.ref in board.names
                        for pin, n in p.pins.items() if n == net and pin in board.names[p.ref].pins)
        out[net] = (votes.most_common(1)[0][0],) if votes else ()
    return out


def draw_start_only(lot: Lot, pool: Sequence[Entry] = STARTS) -> Case:
    """Three lines; the board's own values are other than the starting sheet's. Up to six questions are answered from the board."""
    rng = lot.rng
    for scale in (1.0, 1.0, 1.0, 0.5, 0.5, 0.25, 0.25, 0.1):
        entry = pool[int(rng.integers(len(pool)))]
        assert entry.unit is not None
        altered = _other_values(entry.circuit, rng, scale)
        circuit = with_values(entry.circuit, altered)
        try:
            seed, flaws, words = failing(lot, circuit, rng, single(circuit, rng))
        except NoBoard:
            continue
        lines = start_lines(entry.unit, words, entry.start)
        return Case(lot.index, lot.kind, entry.name, "", lines, lines, words, flaws, seed, altered=altered, questions=6)
    raise NoBoard("no board with other values would work")


def draw_other_start(lot: Lot) -> Case:
    """The same on the topologies that came later (integrated switch, boost and half-bridge, amplifier and so on), by turns."""
    return draw_start_only(lot, (OTHERS[lot.index % len(OTHERS)],))


def draw_other_single(lot: Lot) -> Case:
    """A single fault on the same topologies, the board as the starting sheet has it but for its tolerances."""
    return draw_single(lot, (OTHERS[lot.index % len(OTHERS)],))


def _other_values(circuit: Circuit, rng: np.random.Generator, scale: float) -> tuple[tuple[str, str, float], ...]:
    """A third of the assumed resistors and capacitors, by up to half as much again either way."""
    out = []
    for part in circuit.parts:
        for name in ("ohms", "farads"):
            if part.family in GUESSES[:3] and name in part.values and rng.random() < 0.33:
                out.append((part.ref, name, part.values[name] * float(np.exp(scale * rng.uniform(-0.4, 0.4)))))
    return tuple(out)


def draw_intermittent(lot: Lot) -> Case:
    """A single fault that is there half of the time, and a customer who says so."""
    case = draw_single(lot)
    words = f"{case.symptom}; comes and goes"
    lines = tuple((key, words if key == "symptom" else text) for key, text in case.sheet)
    return replace(case, comes_and_goes=True, symptom=words, truth=lines, sheet=lines)


DRAWS: dict[str, Callable[[Lot], Case]] = {
    "single": draw_single, "double": draw_double, "healthy": draw_healthy, "slip-one": draw_slip, "slip-3": draw_slips,
    "missing-part": draw_missing, "unknown-20": draw_guessed, "merged-nets": draw_merged, "wrong-start": draw_wrong_start,
    "start-only": draw_start_only, "other-start": draw_other_start, "other-single": draw_other_single, "intermittent": draw_intermittent,
}


def draw_case(index: int, seed: int, folder: Path | None, kinds: Sequence[str] = TURN) -> Case:
    """The case with this number. Raises NoBoard, or JudgeFailed from the simulator."""
    lot = Lot(index, kind_at(index, kinds), seed, folder)
    return DRAWS[lot.kind](lot)
