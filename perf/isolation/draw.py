"""Boards by lot: which circuit, what failed, what the customer says, and what the technician has of it. The same for the same seed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from perf.isolation.case import SPREAD, Case, Flaw, start_lines
from perf.isolation.doubles import two_flaws
from perf.isolation.fingers import SORTS
from perf.isolation.kept import KeptBoard
from perf.isolation.pool import EVERY, Entry
from perf.isolation.writer import Lines, lines_of

from bench import Fault
from halfsplit.circuit.model import Circuit
from judge.fitted import fault_list
from scenarios import as_it_comes_in, said_of, seen_at, watched_of, works

TRIES = 14
# One turn of kinds: singles for the odds themselves, the others for what tempts a tool to false certainty.
TURN = (
    "single", "double", "slip-one", "single", "healthy", "missing-part", "single", "double", "unknown-20", "slip-one", "single",
    "intermittent", "double", "missing-part", "slip-3", "merged-nets", "single", "healthy", "double", "wrong-start", "slip-one",
    "start-only", "missing-part", "single",
)


class NoBoard(Exception):
    """No board of this kind came up within the tries: said in the row, never taken for a result."""


@dataclass(frozen=True)
class Lot:
    """What a draw needs. folder: where the judge's answers are kept."""

    index: int
    kind: str
    seed: int
    folder: Path | None

    @property
    def rng(self) -> np.random.Generator:
        return np.random.default_rng([self.seed, self.index, 77])


def severity(rng: np.random.Generator) -> float:
    """Severities as units fail: mostly towards one end. The engine believes them even (bench estimate on both sides)."""
    a, b = ((0.6, 0.6), (3.0, 1.2), (1.2, 3.0))[int(rng.integers(3))]
    return float(rng.beta(a, b))


def kept(lot: Lot, circuit: Circuit, flaws: Sequence[Flaw], seed: int) -> KeptBoard:
    return KeptBoard(circuit, [(f.fault, f.severity) for f in flaws], seed, SPREAD, lot.folder)


def come_in(lot: Lot, circuit: Circuit, flaws: Sequence[Flaw], seed: int) -> KeptBoard:
    """The board as its owner left it: what its faults open for good is open."""
    board = as_it_comes_in(circuit, lambda: kept(lot, circuit, flaws, seed))  # type: ignore[arg-type,return-value]
    assert isinstance(board, KeptBoard)
    return board


def one_fault(circuit: Circuit, rng: np.random.Generator, among: Callable[[Fault], bool] = lambda f: True) -> Fault:
    """A part evenly, then one of its ways evenly: not by the odds that the tool believes in."""
    listed = [f for f in fault_list(circuit) if among(f)]
    if not listed:
        raise NoBoard("no part of this circuit fails in such a way")
    parts = list(dict.fromkeys(p for p, _ in listed))
    part = parts[int(rng.integers(len(parts)))]
    ways = [w for p, w in listed if p == part]
    return part, ways[int(rng.integers(len(ways)))]


def working_seed(lot: Lot, circuit: Circuit, rng: np.random.Generator) -> int:
    """A unit that does its job before anything fails."""
    for _ in range(TRIES):
        seed = int(rng.integers(1, 2**31 - 1))
        if works(seen_at(circuit, kept(lot, circuit, (), seed))):
            return seed
    raise NoBoard("tolerances alone kept every drawn unit from working")


def failing(lot: Lot, circuit: Circuit, rng: np.random.Generator, flaws: Callable[[], tuple[Flaw, ...]]) -> tuple[int, tuple[Flaw, ...], str]:
    """(seed, flaws, the customer's words): drawn again until something shows outside."""
    seed = working_seed(lot, circuit, rng)
    healthy = seen_at(circuit, kept(lot, circuit, (), seed))
    for _ in range(TRIES):
        drawn = flaws()
        words = said_of(healthy, seen_at(circuit, kept(lot, circuit, drawn, seed)))
        if words:
            return seed, drawn, words
    raise NoBoard("no fault that was drawn shows outside")


def single(circuit: Circuit, rng: np.random.Generator, among: Callable[[Fault], bool] = lambda f: True) -> Callable[[], tuple[Flaw, ...]]:
    return lambda: (Flaw(*one_fault(circuit, rng, among), severity(rng)),)


def sheet_of(entry: Entry, symptom: str) -> Lines:
    """What the technician has of this circuit: the three lines, or the full sheet."""
    if entry.unit is not None:
        return start_lines(entry.unit, symptom, entry.start)
    return lines_of(entry.circuit, symptom)


def _choose(pool: Sequence[Entry], rng: np.random.Generator) -> Entry:
    """Starting sheets and full sheets as they stand in the pool, evenly, if anybody could see them fail."""
    good = [e for e in pool if watched_of(e.circuit)]
    return good[int(rng.integers(len(good)))]


def plain(
    lot: Lot, rng: np.random.Generator, flaws_of: Callable[[Circuit], Callable[[], tuple[Flaw, ...]]], sub: str = "", pool: Sequence[Entry] = EVERY
) -> Case:
    """A case in which the sheet is the board."""
    entry = _choose(pool, rng)
    circuit = entry.circuit
    seed, flaws, words = failing(lot, circuit, rng, flaws_of(circuit))
    lines = sheet_of(entry, words)
    return Case(lot.index, lot.kind, entry.name, sub, lines, lines, words, flaws, seed)


def draw_single(lot: Lot, pool: Sequence[Entry] = EVERY) -> Case:
    rng = lot.rng
    return plain(lot, rng, lambda c: single(c, rng), pool=pool)


def draw_healthy(lot: Lot) -> Case:
    rng = lot.rng
    entry = _choose(EVERY, rng)
    seed = working_seed(lot, entry.circuit, rng)
    lines = sheet_of(entry, "works now")
    return Case(lot.index, lot.kind, entry.name, "", lines, lines, "works now", (), seed)


def draw_slip(lot: Lot) -> Case:
    """A single fault, and one slip of the hand at one of the first four readings."""
    rng = lot.rng
    case = plain(lot, rng, lambda c: single(c, rng))
    sort = SORTS[int(rng.integers(len(SORTS)))]
    return replace(case, slip=sort, slip_at=int(rng.integers(4)), sub=sort)


def draw_slips(lot: Lot) -> Case:
    return replace(draw_single(lot), slips=0.03)


def draw_double(lot: Lot) -> Case:
    """Killer and what it killed, two at once after a surge, or an open in front of a short."""
    rng = lot.rng
    sort = ("collateral", "collateral", "surge", "masked")[int(rng.integers(4))]
    for _ in range(TRIES):
        entry = _choose(EVERY, rng)
        circuit = entry.circuit
        pick = two_flaws(circuit, sort, rng, severity)
        if pick is None:
            continue
        try:
            seed, flaws, words = failing(lot, circuit, rng, pick)
        except NoBoard:
            continue
        root = kept(lot, circuit, flaws[:1], seed)
        root.live()
        if any(k.partition("|")[0] == flaws[1].part for k in root.blown):
            continue  # the root alone opens it: to the end state that is one fault, not two
        lines = sheet_of(entry, words)
        return Case(lot.index, lot.kind, entry.name, sort, lines, lines, words, flaws, seed)
    raise NoBoard(f"no pair of faults ({sort}) came up")


def kind_at(index: int, kinds: Sequence[str] = TURN) -> str:
    return kinds[index % len(kinds)]
