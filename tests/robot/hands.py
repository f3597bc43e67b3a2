"""Hands and eyes: a probe of a card becomes a reading, and a reading becomes what is typed. Here is where slips happen."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from bench import Bench, hot_nets
from costs import Clock
from meter import COLD, Meter, Slips, agree, notation, without_contact, wrong_prefix


@dataclass(frozen=True)
class Probe:
    """Where the leads go, and on which function. part: the part named on the card, if one is."""

    function: str
    red: str
    black: str
    where: str
    part: str | None = None


@dataclass(frozen=True)
class Taken:
    """One reading as it was written down. slip: what went wrong with the hand, None when nothing did."""

    probe: Probe
    value: float
    wander: tuple[float, float] | None
    slip: str | None
    actual: Probe

    @property
    def text(self) -> str:
        """The bare value as typed: 4.7k, OL, 3..9 for a display that will not stand still."""
        if self.wander is not None:
            return f"{notation('v', self.wander[0])}..{notation('v', self.wander[1])}"
        return notation(self.probe.function, self.value)


def probe_of(card: Mapping[str, Any], entry: Mapping[str, Any]) -> Probe:
    """A probe as a card writes it."""
    where = str(entry.get("where") or entry.get("red"))
    part = str(entry.get("part") or where.split(" ")[0])
    return Probe(str(entry.get("function") or card.get("function")), str(entry["red"]), str(entry["black"]), where, part)


@dataclass
class Hands:
    """Puts probes on the board, one after the other, and pays for it."""

    bench: Bench
    clock: Clock
    meter: Meter
    slips: Slips
    rng: np.random.Generator
    slipped: list[str] = field(default_factory=list)

    def __post_init__(self) -> None:
        self.hot = hot_nets(self.bench.circuit)

    def take(self, probe: Probe, *, careful: bool = False) -> Taken:
        """One reading. careful: a repeat, done with firm contact and the eye on the prefix, never slips."""
        before = self.clock.seconds
        live = self.bench.plugged
        self.clock.read(live=live, hot=bool({probe.red, probe.black} & self.hot), black=probe.black)
        self.bench.pass_time(self.clock.seconds - before)
        slip = None if careful else self.slips.draw(self.rng)
        actual = self._misplaced(probe, slip)
        value, wander = self._display(actual)
        if slip == "no contact":
            value, wander = without_contact(probe.function, self.rng), None
        if slip == "prefix":
            value = wrong_prefix(probe.function, value)
        if math.isnan(value):
            value, wander = (math.inf if probe.function in COLD else 0.0), None
        taken = Taken(probe, value, wander, slip, actual)
        return self._noted(taken)

    def _display(self, probe: Probe) -> tuple[float, tuple[float, float] | None]:
        ideal, wander = self.bench.ideal(probe.function, probe.red, probe.black, probe.part)
        shown = self.meter.shown(probe.function, ideal)
        if wander is None:
            return shown, None
        low, high = (self.meter.shown("v", w) for w in wander)
        return shown, (low, high) if high - low > 0.2 * max(abs(high), abs(low), 0.1) else None

    def _misplaced(self, probe: Probe, slip: str | None) -> Probe:
        """Where the leads really went."""
        if slip == "swapped":
            return Probe(probe.function, probe.black, probe.red, probe.where, probe.part)
        if slip != "neighbour":
            return probe
        near = sorted({net for part in self.bench.circuit.parts if probe.red in part.pins.values() for net in part.pins.values()})
        taboo = {probe.red, probe.black} | (set(self.bench.circuit.switching) if self.bench.plugged else set())
        choice = [net for net in near if net not in taboo]
        if not choice:
            return probe
        return Probe(probe.function, choice[int(self.rng.integers(len(choice)))], probe.black, probe.where, None)

    def _noted(self, taken: Taken) -> Taken:
        """A slip that changes nothing on paper is none."""
        if taken.slip is None:
            return taken
        true = self._display(taken.probe)[0]
        if not math.isnan(true) and agree(taken.probe.function, true, taken.value) and taken.wander is None:
            return Taken(taken.probe, taken.value, taken.wander, None, taken.probe)
        self.slipped.append(f"{taken.slip} at {taken.probe.where}")
        return taken
