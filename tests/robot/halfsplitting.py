"""The rival: what a methodical technician does without the tool, on the same board, with the same meter and the same minutes.

Cold check at the plug; power on; halve the chain by last good and first bad point; off, discharge; then the parts of the bad
block one by one, in circuit first, one leg lifted where the board may be lying; block after block
outwards until a part is convicted.
He is given more than life gives: the service sheet's healthy value of every reading, taken from a good board of the same kind.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from bench import Bench, capacitors, hot_nets, pins_between
from costs import Clock
from halfsplit.circuit.model import Part
from halfsplit.parts import FAMILIES
from hands import Hands, Probe, Taken
from meter import USUAL_SLIPS, Meter, Slips

NEAR = 0.10  # a live point within 10 % of the sheet is good (common practice: rails +-5 %, others +-15 %)
COLD_NEAR = 0.20
SHORT_AT_PLUG = 0.3  # of the healthy ohms
# Which tests decide a part (common practice); families not named: ohms between the first two pins
TESTS: Mapping[str, tuple[str, ...]] = {"capacitor": ("r", "c"), "electrolytic": ("r", "c", "esr")}
JUNCTIONS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "diode": (("a", "k"), ("k", "a")), "zener": (("a", "k"), ("k", "a")), "npn": (("b", "c"), ("b", "e"), ("c", "e")),
    "bridge": (("~1", "+"), ("~2", "+"), ("-", "~1"), ("-", "~2")), "pnp": (("c", "b"), ("e", "b"), ("e", "c")),
    "fet": (("s", "d"), ("d", "s"), ("g", "s")), "opto": (("a", "k"), ("c", "e")), "reference": (("k", "a"), ("a", "k")),
}
WINDINGS: Mapping[str, tuple[tuple[str, str], ...]] = {
    "transformer": (("p1", "p2"), ("s1", "s2")), "split-transformer": (("p1", "p2"), ("s1", "ct"), ("ct", "s2")),
    "flyback": (("p+", "p-"), ("s+", "s-"), ("a+", "a-")),
    "choke": (("a1", "a2"), ("b1", "b2")), "relay": (("c+", "c-"),), "controller": (("vcc", "gnd"),), "micro": (("vdd", "0v"),),
    "regulator": (("in", "out"), ("out", "gnd")),
}
ALONE_NEAR = {"r": 0.15, "c": 0.45, "esr": 1.5, "d": 0.15}
LEAKY = 0.3  # of the sheet's ohms: a capacitor still charging reads anything near it, and more is never bad
NO_LEAK = 50e3  # a capacitor that shows more than this is not leaky enough to matter, whatever the sheet says [ohm]


@dataclass(frozen=True)
class Finding:
    """How the rival ended: the part he convicted, "" for nothing wrong, None when the budget or the board gave out."""

    part: str | None
    clock: Clock


@dataclass(frozen=True)
class Point:
    """A place to read between two blocks of the chain; block is the index of the part whose output it is."""

    block: int
    probe: Probe
    expected: float


class HalfSplitter:
    """One board, one good board of the same kind beside it for the sheet values.

    complaint: the customer says that something is visibly wrong; without one, all points good means nothing wrong.
    """

    def __init__(self, bench: Bench, sheet: Bench, meter: Meter, rng: np.random.Generator, slips: Slips = USUAL_SLIPS, *,
                 complaint: bool = True) -> None:
        self.bench, self.sheet, self.complaint = bench, sheet, complaint
        self.clock = Clock()
        self.hands = Hands(bench, self.clock, meter, slips, rng)
        self.hot = hot_nets(bench.circuit)
        self.chain = [n for n in bench.circuit.chain if bench.circuit.part(n).family != "mains"]

    def work(self) -> Finding:
        """From the plug to a part."""
        if not self._shorted_at_plug():
            self._power()
            block = self._halve()
            self._off()
            if block is None and not self.complaint:
                return Finding("", self.clock)
            block = len(self.chain) - 1 if block is None else block
        else:
            block = 0
            self._off()
        for part in self._in_order(block):
            if self.clock.spent:
                return Finding(None, self.clock)
            if self._bad(part):
                return Finding(part.ref, self.clock)
        return Finding(None, self.clock)

    # --- powered ---------------------------------------------------------------------------------------------------------

    def _shorted_at_plug(self) -> bool:
        mains = next(p for p in self.bench.circuit.parts if p.family == "mains")
        line, neutral = list(mains.pins.values())[:2]
        taken = self.hands.take(Probe("r", line, neutral, "plug"))
        return taken.value < SHORT_AT_PLUG * self.sheet.ideal("r", line, neutral)[0]

    def _power(self) -> None:
        controls = sorted(self.bench.circuit.controls)[:1]
        for bench in (self.bench, self.sheet):
            bench.switch_on()
            for control in controls:
                bench.press(control)
        self.clock.switch_on()

    def _off(self) -> None:
        self.bench.switch_off()
        self.sheet.switch_off()
        self.clock.discharge()
        for cap in capacitors(self.bench.circuit):
            if abs(self.bench.volts_on(cap.ref)) > 1.0:
                self.bench.drain(cap.ref)

    def _points(self) -> list[Point]:
        """The output of each block against its own ground, where a meter may go and the sheet knows something to see."""
        out = []
        for k, name in enumerate(self.chain):
            net = self._output(k, self.bench.circuit.part(name))
            if net is None:
                continue
            ground = self.bench.circuit.grounds["hot" if net in self.hot or "cold" not in self.bench.circuit.grounds else "cold"]
            seen = {f: self.sheet.ideal(f, net, ground)[0] for f in ("v", "ac")}
            function = max(seen, key=lambda f: abs(seen[f]))
            if net != ground and abs(seen[function]) > 0.5:
                out.append(Point(k, Probe(function, net, ground, net), seen[function]))
        return out

    def _output(self, k: int, part: Part) -> str | None:
        grounds = set(self.bench.circuit.grounds.values()) | set(self.bench.circuit.switching) | set(self.bench.circuit.cant)
        behind = set(self.bench.circuit.part(self.chain[k + 1]).pins.values()) if k + 1 < len(self.chain) else set()
        nets = [n for n in part.pins.values() if n not in grounds]
        shared = [n for n in nets if n in behind]
        return (shared or nets or [None])[-1]

    def _halve(self) -> int | None:
        """Index of the first bad block; None when the last point is good."""
        points = self._points()
        low, high = -1, len(points)  # low: last good; high: first bad
        first = True
        while high - low > 1 and not self.clock.spent:
            at = len(points) - 1 if first else (low + high) // 2
            first = False
            if self._good(points[at]):
                low = at
            else:
                high = at
        if high == len(points):
            return None
        return points[high].block

    def _good(self, point: Point) -> bool:
        taken = self.hands.take(point.probe)
        return taken.wander is None and abs(taken.value - point.expected) <= NEAR * abs(point.expected) + 0.3

    # --- dead ------------------------------------------------------------------------------------------------------------

    def _in_order(self, block: int) -> list[Part]:
        """Parts of the bad block, likeliest first; then of the blocks around it; then whatever is left."""
        reach = sorted(range(len(self.chain)), key=lambda k: (abs(k - block), k < block))
        out: dict[str, Part] = {}
        for k in reach:
            centre = self.bench.circuit.part(self.chain[k])
            grounds = set(self.bench.circuit.grounds.values())
            nets = set(centre.pins.values()) - grounds
            around = [p for p in self.bench.circuit.parts if nets & set(p.pins.values()) and p.family != "mains"]
            for p in sorted(around, key=lambda p: -FAMILIES[p.family].rate):
                out.setdefault(p.ref, p)
        for p in self.bench.circuit.parts:
            if p.family != "mains":
                out.setdefault(p.ref, p)
        return list(out.values())

    def _bad(self, part: Part) -> bool:
        """In circuit first; a leg up only where the board shows something else than the sheet."""
        for probe in self._probes(part):
            if self.clock.spent:
                return False
            if self._as_on_sheet(self.hands.take(probe), COLD_NEAR):
                continue
            self.clock.lift()
            self.bench.lift(part.ref, None)
            self.sheet.lift(part.ref, None)
            bad = any(not self._as_on_sheet(self.hands.take(p), ALONE_NEAR[p.function]) for p in self._probes(part))
            self.clock.lift()
            for bench in (self.bench, self.sheet):
                bench.refit(part.ref)
            return bad
        return False

    def _probes(self, part: Part) -> Sequence[Probe]:
        pins = list(part.pins)
        if part.family in JUNCTIONS:
            kinds, pairs = ("d",), JUNCTIONS[part.family]
        else:
            kinds, pairs = TESTS.get(part.family, ("r",)), WINDINGS.get(part.family, ((pins[0], pins[1]),))
        return [Probe(f, part.pins[a], part.pins[b], part.ref, part.ref) for f in kinds for a, b in pairs]

    def _as_on_sheet(self, taken: Taken, near: float) -> bool:
        probe = taken.probe
        part = self.bench.part(probe.part or probe.where)
        expected = self.sheet.ideal(probe.function, *self._ends(part, probe), part.ref)[0]
        if math.isnan(expected):
            return True
        if probe.function == "r" and part.family in TESTS:
            return taken.value > LEAKY * expected or taken.value > NO_LEAK
        if math.isinf(expected) or math.isinf(taken.value):
            return math.isinf(expected) and math.isinf(taken.value)
        slack = {"r": 0.5, "d": 0.03, "c": 1e-11, "esr": 0.1}[probe.function]
        return abs(taken.value - expected) <= near * abs(expected) + slack

    @staticmethod
    def _ends(part: Part, probe: Probe) -> tuple[str, str]:
        first, last = pins_between(part, probe.red, probe.black)
        return part.pins[first], part.pins[last]
