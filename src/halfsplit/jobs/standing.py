"""How a job stands after its last line: frozen data that the fold of the log fills and everything else reads."""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis.columns import Condition
from halfsplit.diagnosis.dummy import Dummy
from halfsplit.diagnosis.fed import Fed
from halfsplit.jobs.entry import CyclesEntry, LookEntry, Names, ProvokeEntry, ReadingEntry, Sticky, names_of
from halfsplit.jobs.entry_names import own_blacks
from halfsplit.jobs.safety import Waiver
from halfsplit.jobs.table import Acts
from halfsplit.parts import FAMILIES

NO_NAMES = Names()


@dataclass(frozen=True)
class Taken:
    """One reading in the state it was taken in. power: unknown, unplugged, on or bench; whether it was dead is in the gates.
    fed: where the bench supply was. dummy: what stood in place of a load."""

    line: int
    entry: ReadingEntry
    power: str
    pressed: frozenset[str]
    lamp: float | None
    acts: Acts
    unplugged: frozenset[str] = frozenset()
    fed: Fed | None = None
    dummy: Dummy | None = None

    @property
    def condition(self) -> Condition:
        """How the set stood when this was read."""
        if self.power == "bench":
            return Condition(True, without=self.unplugged, fed=self.fed, dummy=self.dummy)
        on = self.power == "on"
        return Condition(on, self.pressed if on else frozenset(), self.lamp if on else None, self.unplugged, dummy=self.dummy)


@dataclass(frozen=True)
class Happened:
    """One thing in the log that the power state of the sides hangs on.

    kind: on, off, sitting (a new one), dead, meter, bench, read (a reading). at [s]. volts: of dead, name -> read [V].
    before, after, known: as the entry has them. net: fed by the bench supply, None when it is off. taken: the reading.
    acts: what was off the board then.
    """

    kind: str
    at: float
    volts: tuple[tuple[str, float], ...] = ()
    before: float | None = None
    after: float | None = None
    known: float | None = None
    net: str | None = None
    taken: Taken | None = None
    acts: Acts = Acts()


@dataclass(frozen=True)
class Standing:
    """How the job stands after its last line.

    sheet: what was said of the unit, as (key, words). circuit: None until unit and start (or ways) are there.
    power: unknown, unplugged, on or bench, by the plug alone; what is dead follows from `happened` (jobs/power.py).
    readings and looks in order. confirmed: the going-live list of the mains side was said yes to, this power cycle.
    named: boundary parts that were named by eye. pulled: (line, part) of output transistors (and
    loads at terminals) that are off now. fitted: (line, part) of what was fitted anew.
    lost: lines that no longer make sense, with the reason; they stay in the log.
    mark: "ok" or "bad" while that is said of the set, else None. twin: the meter is on the good one; of_twin: what was read there,
    which says nothing of this set's own state. provoked, cycles: (line, entry) in order. fed: where the bench supply is, None where none is on.
    dummy: the dummy load that is in now; its run is among what is unplugged.
    """

    sheet: tuple[tuple[str, str], ...] = ()
    circuit: Circuit | None = None
    power: str = "unknown"
    pressed: frozenset[str] = frozenset()
    lamp: float | None = None
    black: str | None = None
    acts: Acts = Acts()
    unplugged: frozenset[str] = frozenset()
    pulled: tuple[tuple[int, str], ...] = ()
    readings: tuple[Taken, ...] = ()
    looks: tuple[tuple[int, LookEntry], ...] = ()
    happened: tuple[Happened, ...] = ()
    confirmed: bool = False
    named: frozenset[str] = frozenset()
    follow: bool = False
    cant: frozenset[str] = frozenset()
    fitted: tuple[tuple[int, str], ...] = ()
    waiver: Waiver | None = None
    lost: tuple[tuple[int, str], ...] = ()
    last: int = 0
    mark: str | None = None
    twin: bool = False
    of_twin: tuple[Taken, ...] = ()
    provoked: tuple[tuple[int, ProvokeEntry], ...] = ()
    cycles: tuple[tuple[int, CyclesEntry], ...] = ()
    fed: Fed | None = None
    dummy: Dummy | None = None

    @property
    def names(self) -> Names:
        return NO_NAMES if self.circuit is None else names_of(self.circuit, FAMILIES, own_black=own_blacks(self.circuit))

    @property
    def unpowered(self) -> Condition:
        """Dead, with what is unplugged now and what is in its place."""
        return Condition(False, without=self.unplugged, dummy=self.dummy)

    @property
    def last_read(self) -> tuple[Taken, ...]:
        """What `same` goes on from: readings where the meter is now, here or on the twin."""
        return self.of_twin if self.twin else self.readings

    @property
    def sticky(self) -> Sticky:
        return Sticky(power=self.power, black=self.black, twin=self.twin, ok_bad=self.mark)
