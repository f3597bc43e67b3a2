"""The bench with one board on it: what is switched, pressed, charged, lifted - and what the judge says is on every net.

The technician never sees the fault through this; he reads volts and ohms. The watcher asks the same bench for the truth.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Protocol

from halfsplit.circuit.model import Circuit, Part
from meter import COLD

Fault = tuple[str, str]  # (part, way of failing)
NEVER_ON = 3600.0  # a set that has stood on the shelf for an hour before it comes to the bench [s]
RECOVERY = 0.02  # dielectric recovery after a minute, of several per cent (common practice)
DANGEROUS = 10.0  # volts above which nothing but a volts range belongs on a net (trade: verify below 10 V)
# Families whose sides are not galvanically tied: pins of one side each (common practice; relay: coil against contact)
SIDES: Mapping[str, tuple[tuple[str, ...], ...]] = {
    "transformer": (("p1", "p2"), ("s1", "s2")), "split-transformer": (("p1", "p2"), ("s1", "ct", "s2")),
    "flyback": (("p+", "p-", "a+", "a-", "core"), ("s+", "s-")),
    "bridge-transformer": (("p+", "p-", "core"), ("s1", "ct", "s2")), "standby": (("in+", "in-", "v+", "v-"), ("s+", "s-")),
    "split-supply": (("in+", "in-"), ("p", "0", "m")), "plain-flyback": (("p+", "p-", "core"), ("s+", "s-")),
    "adapter": (("L", "N"), ("+", "-")), "changeover": (("c+", "c-"), ("com", "no", "nc")), "y-cap": (("a",), ("b",)),
    "opto": (("a", "k"), ("c", "e")), "opto-triac": (("a", "k"), ("t1", "t2")), "relay": (("c+", "c-"), ("com", "no")),
}


class Live(Protocol):
    """The board while it runs."""

    def volts(self, red: str, black: str) -> Mapping[str, Any]: ...


class Board(Protocol):
    """What the judge gives: one board with one fault, read from outside."""

    def live(self, pressed: Any, lamp: float | None) -> Live: ...

    def cold(self, red: str, black: str, function: str) -> float: ...

    def alone(self, ref: str, function: str, red_pin: str, black_pin: str) -> float: ...

    def charge(self, ref: str, seconds: float) -> float: ...

    def discharge(self, ref: str) -> None: ...

    def lift(self, ref: str, pin: str) -> None: ...

    def remove(self, ref: str) -> None: ...

    def refit(self, ref: str) -> None: ...

    def over_rating(self, pressed: Any, lamp: float | None) -> list[Any]: ...


class CannotDo(Exception):
    """The card asks for something that this bench has no means for; said, never faked."""


@dataclass
class Bench:
    """Hands, switches and names. Designators that were bound to places are resolved here."""

    circuit: Circuit
    board: Board
    plugged: bool = False
    pressed: set[str] = field(default_factory=set)
    lamp: float | None = None
    off_for: float = NEVER_ON
    lifted: dict[str, set[str]] = field(default_factory=dict)
    removed: set[str] = field(default_factory=set)
    alias: dict[str, str] = field(default_factory=dict)
    parked: dict[str, float] = field(default_factory=dict)  # caps discharged since the last switch-on, and what came back
    _live: Live | None = None

    def part(self, name: str) -> Part:
        """The part behind a designator, a place or a bound name."""
        return self.circuit.part(self.alias.get(name, name))

    def knows(self, name: str) -> bool:
        low = {n.lower() for n in (*self.circuit.names, *self.alias)}
        return name.lower() in low

    def pass_time(self, seconds: float) -> None:
        if not self.plugged:
            self.off_for += seconds

    def switch_on(self) -> None:
        self.plugged, self._live = True, None
        self.parked.clear()

    def switch_off(self) -> None:
        if self.plugged:
            self.plugged, self.off_for = False, 0.0
        self.pressed.clear()
        self._live = None

    def press(self, control: str) -> None:
        self.pressed.add(control)
        self._live = None

    def release(self, control: str) -> None:
        self.pressed.discard(control)
        self._live = None

    def fit_lamp(self, watts: float | None) -> None:
        self.lamp, self._live = watts, None

    def live(self) -> Live:
        """The running board in its present condition; solved once per condition."""
        if self._live is None:
            self._live = self.board.live(frozenset(self.pressed), self.lamp)
        return self._live

    def lift(self, name: str, pin: str | None) -> None:
        part = self.part(name)
        pin = pin if pin in part.pins else next(iter(part.pins))
        self.board.lift(part.ref, pin)
        self.lifted.setdefault(part.ref, set()).add(pin)
        self._live = None

    def remove(self, name: str) -> None:
        part = self.part(name)
        self.board.remove(part.ref)
        self.removed.add(part.ref)
        self._live = None

    def refit(self, name: str) -> None:
        part = self.part(name)
        self.board.refit(part.ref)
        self.lifted.pop(part.ref, None)
        self.removed.discard(part.ref)
        self._live = None

    @property
    def off_the_board(self) -> set[str]:
        return self.removed | set(self.lifted)

    def volts_on(self, ref: str) -> float:
        """What a capacitor holds now [V]; an unplugged board loses it through its own bleeders only."""
        ends = set(self.part(ref).pins.values())
        across = [c for c in capacitors(self.circuit) if set(c.pins.values()) == ends]
        # straight across each other they have one voltage, that of the largest
        lead = max(across, key=lambda c: c.values.get("farads", 0.0)).ref if across else ref
        return self.parked[lead] if lead in self.parked else float(self.board.charge(lead, at_most(self.off_for)))

    def _hold_charges(self) -> None:
        """The judge reads cold only on a discharged board; what was left is remembered here, for the watcher."""
        for cap in capacitors(self.circuit):
            if cap.ref not in self.parked:
                self.parked[cap.ref] = self.volts_on(cap.ref)
                self.board.discharge(cap.ref)

    def drain(self, ref: str) -> None:
        """The discharge tool on one capacitor; a little of the charge creeps back afterwards."""
        ends = set(self.part(ref).pins.values())
        for cap in capacitors(self.circuit):  # what lies straight across it is emptied with it
            if set(cap.pins.values()) == ends:
                self.parked[cap.ref] = RECOVERY * self.volts_on(cap.ref)
                self.board.discharge(cap.ref)

    def ideal(self, function: str, red: str, black: str, part: str | None = None) -> tuple[float, tuple[float, float] | None]:
        """What a perfect meter would show, and (min, max) when the display would wander. Parts off the board are read alone."""
        if function in COLD:
            self._hold_charges()
            loose = self.part(part) if part and self.knows(part) else None
            if loose is not None and loose.ref in self.off_the_board:
                return float(self.board.alone(loose.ref, function, *pins_between(loose, red, black))), None
            return float(self.board.cold(red, black, function)), None
        if not self.plugged:
            return 0.0, None
        seen = self.live().volts(red, black)
        if function == "v" and seen.get("pulsing"):
            return float(seen["dc"]), (float(seen["min"]), float(seen["max"]))
        return float(seen["dc" if function == "v" else function]), None


def at_most(seconds: float) -> float:
    """The last of a few steps that has passed: the judge runs the board down once for each, and early is on the safe side."""
    return max((step for step in (0.5, 2.0, 5.0, 20.0, 60.0, 180.0, 600.0, 1800.0) if step <= seconds), default=0.1)


def pins_between(part: Part, red: str, black: str) -> tuple[str, str]:
    """Pins of a part that answer to two nets or pin names; its first and last pin where they don't."""
    pins = list(part.pins)
    first = red if red in pins else next((p for p in pins if part.pins[p] == red), pins[0])
    last = black if black in pins else next((p for p in pins if part.pins[p] == black and p != first), pins[-1])
    return first, last


def hot_nets(circuit: Circuit) -> frozenset[str]:
    """Nets galvanically tied to the mains, from the drawing alone. Film capacitors do not tie: they pass no DC."""
    ties: dict[str, set[str]] = {}
    for part in circuit.parts:
        if part.family == "capacitor":
            continue
        for side in SIDES.get(part.family, (tuple(part.pins),)):
            nets = [part.pins[p] for p in side if p in part.pins]
            for net in nets:
                ties.setdefault(net, set()).update(nets)
    todo = [net for p in circuit.parts if p.family == "mains" for net in p.pins.values()]
    seen: set[str] = set()
    while todo:
        net = todo.pop()
        if net not in seen:
            seen.add(net)
            todo.extend(ties.get(net, ()))
    return frozenset(seen)


def capacitors(circuit: Circuit) -> tuple[Part, ...]:
    """Parts that can hold a charge."""
    return tuple(p for p in circuit.parts if p.family in ("capacitor", "electrolytic"))


def highest(seen: Mapping[str, Any]) -> float:
    """The largest instantaneous volts that a meter there has to stand [V]."""
    dc, ac = abs(float(seen["dc"])), abs(float(seen["ac"]))
    held = [abs(float(seen.get(name, 0.0))) for name in ("max", "min", "peak_max", "peak_min")]
    peak = max(v for v in (*held, dc) if not math.isnan(v))
    return peak if "peak_max" in seen else max(peak, dc + math.sqrt(2.0) * ac)
