"""A dummy load: a resistor in place of a load, for readings that tell the supply from what hangs on it.

Common practice: 300 ohm 25 W in place of an LED string, 56 ohm 10 W in place of a fan, 8 ohm in place of a speaker.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part
from halfsplit.errors import InputError
from halfsplit.parts import family_of

DUMMY = "dummy load"  # a blank in it: no part of a sheet is called so


@dataclass(frozen=True)
class Run:
    """Everything that hangs between two nets in place of which a dummy goes: a load, or a string with its plugs and joints."""

    parts: frozenset[str]
    plus: str
    minus: str


@dataclass(frozen=True)
class Dummy:
    """ohms [ohm] and watts [W] of the resistor; run: what is unplugged for it, and where it hangs."""

    ohms: float
    watts: float
    run: Run

    @property
    def key(self) -> str:
        """As it stands in the state of a column."""
        return f"dummy {self.ohms:g}R {self.run.plus} to {self.run.minus}"

    @property
    def told(self) -> str:
        """As it stands on the refit list."""
        return f"dummy {self.ohms:g}R {self.watts:g}W across {self.run.plus} and {self.run.minus}"

    def on(self, circuit: Circuit) -> Circuit:
        """The circuit with the dummy in place of the run."""
        parts = tuple(p for p in circuit.parts if p.ref not in self.run.parts)
        pins = {"+": self.run.plus, "-": self.run.minus}
        return circuit.with_parts((*parts, Part(DUMMY, "resistive-load", pins, {"ohms": self.ohms}, {"watts": self.watts})))


def run_of(circuit: Circuit, ref: str) -> Run:
    """The run that a load belongs to, followed from it over plugs, joints and LEDs to the nets where other parts hang.

    Raises InputError where it has not just two ends.
    """
    first = circuit.part(ref)
    found, ends, left = {first.ref}, dict[str, None](), list(first.pins.values())
    seen = set(left)
    while left:
        net = left.pop(0)
        there = [p for p in circuit.parts if net in p.pins.values()]
        if any(p.ref not in found and not _passes(p) for p in there) or len(there) < 2:
            ends[net] = None
            continue
        found |= {p.ref for p in there}
        more = [n for p in there for n in p.pins.values() if n not in seen]
        seen |= set(more)
        left += dict.fromkeys(more)
    if len(ends) != 2:
        raise InputError(f"{first.place or ref} has {len(ends)} ends on this board, not two; name a load that hangs between two nets")
    plus, minus = _ordered(circuit, found, tuple(ends))
    return Run(frozenset(found), plus, minus)


def _passes(part: Part) -> bool:
    return family_of(part).in_the_run


def _ordered(circuit: Circuit, refs: Iterable[str], ends: tuple[str, ...]) -> tuple[str, str]:
    """The ends, plus first, as the run's own parts have them."""
    for part in (circuit.part(ref) for ref in sorted(refs)):
        pins = family_of(part).plus_minus
        if pins and part.pins[pins[0]] == ends[1] or pins and part.pins[pins[1]] == ends[0]:
            return ends[1], ends[0]
    return ends[0], ends[1]


def loads_of(circuit: Circuit) -> dict[str, Run]:
    """Every load that a dummy can go in place of, by one part of it; a string stands once."""
    out: dict[str, Run] = {}
    for part in circuit.parts:
        family = family_of(part)
        if not (family.visible or family.lights) or len(part.pins) != 2 or any(part.ref in run.parts for run in out.values()):
            continue
        try:
            out[part.ref] = run_of(circuit, part.ref)
        except InputError:
            continue  # a load between more nets than two is none that a resistor can stand for
    return out
