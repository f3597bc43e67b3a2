"""The hand that slips as planned: exactly one mistake of a named sort, at one of the first readings, and none else."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from bench import Bench
from costs import Clock
from hands import Hands, Probe, Taken
from meter import COLD, NO_SLIPS, Meter, agree, without_contact, wrong_prefix

SORTS = ("no contact", "prefix", "swapped", "neighbour", "other ground", "mains off", "ac for dc")
STAYS = 0.75  # chance that a mistake of the set-up is still there at the next reading that it touches
RUNS = frozenset({"other ground", "mains off", "ac for dc"})  # these last; the others are over with the reading


@dataclass
class Planned:
    """sort: which mistake. at: the number of the reading from which on it is made, once it is possible and changes something."""

    sort: str
    at: int
    done: bool = False
    running: bool = False


class PlannedHands(Hands):
    """Hands with one planned slip. A careful repeat finds it and sets it right."""

    def __init__(self, bench: Bench, clock: Clock, meter: Meter, rng: np.random.Generator, plan: Planned) -> None:
        super().__init__(bench, clock, meter, NO_SLIPS, rng)
        self.plan, self.number = plan, 0

    def take(self, probe: Probe, *, careful: bool = False) -> Taken:
        taken = super().take(probe, careful=careful)
        if careful:
            self.plan.running = False
            return taken
        self.number += 1
        plan = self.plan
        if plan.running:
            plan.running = self._touches(probe) and float(self.rng.random()) < STAYS
        elif plan.done or self.number - 1 < plan.at:
            return taken
        elif not self._touches(probe):
            return taken
        if plan.done and not plan.running:
            return taken
        spoilt = self._spoilt(probe, taken)
        if spoilt is None:
            return taken
        if not plan.done:
            plan.done, plan.running = True, plan.sort in RUNS
            self.slipped.append(f"{plan.sort} at {probe.where}")
        return spoilt

    def _touches(self, probe: Probe) -> bool:
        """Whether this sort of mistake could be made at such a reading."""
        live = self.bench.plugged
        return {
            "mains off": live and probe.function not in COLD, "ac for dc": live and probe.function == "v",
            "other ground": probe.black in self._grounds() and len(self._grounds()) > 1,
        }.get(self.plan.sort, True)

    def _grounds(self) -> tuple[str, ...]:
        nets = set(self.bench.circuit.nets)
        return tuple(g for g in dict.fromkeys(self.bench.circuit.grounds.values()) if g in nets)

    def _spoilt(self, probe: Probe, taken: Taken) -> Taken | None:
        """The reading with the mistake in it; None where it changes nothing on paper."""
        sort, rng, actual = self.plan.sort, self.rng, probe
        value, wander = taken.value, taken.wander
        if sort == "no contact":
            value, wander = without_contact(probe.function, rng), None
        elif sort == "prefix":
            value = wrong_prefix(probe.function, value)
        elif sort == "mains off":
            value, wander = float(rng.normal(0.0, 0.003)), None
        else:
            actual = self._elsewhere(probe)
            if actual == probe:
                return None
            value, wander = self._display(actual)
            if math.isnan(value):
                value, wander = (math.inf if probe.function in COLD else 0.0), None
        if wander == taken.wander and agree(probe.function, value, taken.value):
            return None
        return Taken(probe, value, wander, sort, actual)

    def _elsewhere(self, probe: Probe) -> Probe:
        """Where the leads were really, or what the dial stood on."""
        if self.plan.sort == "ac for dc":
            return replace(probe, function="ac")
        if self.plan.sort == "other ground":
            other = [g for g in self._grounds() if g != probe.black]
            return replace(probe, black=other[0], part=None)
        return self._misplaced(probe, self.plan.sort)
