"""Parts to a circuit deck for ngspice; the emitters of the families are in passive.py and active.py.

They implement the electrical meaning of docs/families.md.
Where that page is silent the choice is marked CHOICE. Node 0 is the neutral of the wall outlet.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from .fitted import Fitted

VT = 0.02585  # kT/q of the page (26.83 degC, set as an option of every run) [V]
HOLD, HOLD_FAST = 100.0, 1e6  # conductance that holds a capacitor at its state while t < 20 us [S], and the least of it a farad [S/F]
CHATTER = 0.5  # a mode that changes many times within a cycle
TRIPPED = -1.0  # a controller stopped by its over-volts trip, until its supply has gone under voff
TIE = 200e6  # insulation of each floating island to node 0 [ohm]
BODY = 2e9  # leak of a healthy junction [ohm]
BODY_OF = {"led": 5e10}


@dataclass(frozen=True)
class Cap:
    """A capacitor's inner nodes. slow: large enough to be worth shrinking while things settle."""

    key: str
    plus: str
    minus: str
    farads: float
    slow: bool


@dataclass(frozen=True)
class Setting:
    """Everything of a deck that is not the parts.

    live: plugged in. modes: (ref, mode) -> number, e.g. ("K1", "in"). pressed: "PART.output" driven high.
    volts: held capacitor states by key. shrink: slow capacitors are this much smaller. meter: (red, black) nets with 10 Mohm.
    angle: of the mains at t = 0 [rad]. lamp: ohms of the series lamp, 0 without.
    """

    live: bool = False
    modes: Mapping[tuple[str, str], float] = field(default_factory=dict)
    pressed: frozenset[str] = frozenset()
    volts: Mapping[str, float] = field(default_factory=dict)
    shrink: float = 1.0
    meter: tuple[str, str] | None = None
    angle: float = 0.0
    lamp: float = 0.0
    idle: bool = False  # unplugged but still running on what the capacitors hold

    @property
    def rests(self) -> bool:
        """Unplugged and discharged: nothing runs."""
        return not self.live and not self.idle


class Deck:
    """Collects the lines; hands out nodes; remembers the capacitors."""

    def __init__(self, parts: Iterable[Fitted], setting: Setting) -> None:
        self.parts = tuple(parts)
        self.setting = setting
        self.lines: list[str] = []
        self.caps: list[Cap] = []
        self.coils: list[tuple[str, str]] = []  # ends of every inductance that is drawn as a state
        self.nodes: dict[str, str] = {}
        self.ends: dict[tuple[str, str], str] = {}  # (ref, pin) -> node inside any opened leg
        self.wall = ""  # the outlet itself, before its ohms and the lamp
        self._count = 0
        self._ground()
        for part in self.parts:
            self._part(part)
        self._tie_islands()

    # -- naming -------------------------------------------------------------------------------------------------
    def node(self, net: str) -> str:
        """The node of a net, made on first use."""
        return self.nodes.setdefault(net, f"n{len(self.nodes)}")

    def inner(self) -> str:
        """A node that no probe reaches."""
        self._count += 1
        return f"x{self._count}"

    def add(self, kind: str, *words: object) -> str:
        """One element; its name comes back."""
        self._count += 1
        name = f"{kind}{self._count}"
        self.lines.append(" ".join([name, *(f"{w:.9g}" if isinstance(w, float) else str(w) for w in words)]))
        return name

    def on(self, part: Fitted, mode: str, start: float = 0.0) -> float:
        return float(self.setting.modes.get((part.ref, mode), start))

    def resistor(self, a: str, b: str, ohms: float) -> None:
        self.add("R", a, b, max(float(ohms), 1e-4))

    def current(self, a: str, b: str, expression: str) -> None:
        """A current from a to b that depends on voltages, with 10 pF beside it while on."""
        self.add("B", a, b, f"I={expression}")
        if not self.setting.rests:
            self.add("C", a, b, 10e-12)

    def diode(self, a: str, k: str, drop: float, ideality: float, amps: float = 1.0) -> None:
        self.add("D", a, k, self.junction(drop, ideality, amps))

    def junction(self, drop: float, ideality: float, amps: float) -> str:
        """Name of the model of a junction with this drop at this current."""
        isat = amps / math.expm1(drop / (ideality * VT))
        name = f"j{len(self.lines)}"
        self.lines.append(f".model {name} D(IS={isat:.6g} N={ideality:.6g} CJO=1p)")
        return name

    def capacitor(self, key: str, a: str, b: str, farads: float, slow: bool, start: float | None = None) -> None:
        size = farads / self.setting.shrink if slow else farads
        self.add("C", a, b, float(size))
        self.caps.append(Cap(key, a, b, farads, slow))
        held = self.setting.volts.get(key, start)
        if held is not None:
            # within a microsecond: where the start is found by ramping the sources, a large one is not there yet when time begins
            firm = min(max(HOLD, size * HOLD_FAST), size * 1e8)
            self.add("B", a, b, f"I=v(hold)*{firm:.6g}*(v({a},{b})-({held:.9g}))")

    def coil(self, key: str, a: str, b: str, henry: float) -> None:
        """An inductance; while on, its amps are a state (volts of a node, 1 uF standing for 1 uH) that carries over between runs."""
        if self.setting.rests:
            self.add("L", a, b, float(henry))
            return
        state = self.inner()
        self.add("B", a, b, f"I=v({state})")
        self.add("B", "0", state, f"I={1e-6 / henry:.9g}*({self.v(a, b)})")
        self.capacitor(key, state, "0", 1e-6, slow=False, start=0.0)
        self.resistor(state, "0", 1e9)
        self.coils.append((a, b))
        if any(p.family == "diac" for p in self.parts):  # a coil that a triac is fired into has windings that lie side by side, or its ends know no volts
            inside = self.inner()
            self.add("C", a, inside, 1e-9)
            self.add("R", inside, b, 330.0)

    def v(self, a: str, b: str) -> str:
        return f"v({a},{b})" if b != "0" and a != "0" else f"v({a})" if b == "0" and a != "0" else "0" if a == b else f"(-v({b}))"

    # -- assembly -----------------------------------------------------------------------------------------------
    def _ground(self) -> None:
        mains = next((p for p in self.parts if p.family == "mains"), None)
        if mains is not None:
            self.nodes[mains.pins["N"]] = "0"
        elif self.parts:
            self.nodes[next(iter(self.parts[0].pins.values()))] = "0"

    def _part(self, part: Fitted) -> None:
        pins: dict[str, str] = {}
        for pin, net in part.pins.items():
            pins[pin] = self.node(net)
            if pin in part.legs:
                inside = self.inner()
                self.resistor(pins[pin], inside, part.legs[pin])
                pins[pin] = inside
            self.ends[part.ref, pin] = pins[pin]
        for p, q in BODIES.get(part.family, ()):
            self.resistor(pins[p], pins[q], BODY_OF.get(part.family, BODY))
        for p, q, ohms in part.across:
            self.resistor(pins[p], pins[q], ohms)
        emitter = EMITTERS.get(part.family)
        if emitter is None:
            raise ValueError(f"{part.ref}: the judge has no family {part.family!r}; add an emitter (passive.py, active.py)")
        emitter(self, part, pins)

    def _tie_islands(self) -> None:
        """A leak of 200 Mohm from each island that no part joins to node 0, on its busiest net."""
        group = {n: n for n in self.nodes.values()}

        def root(n: str) -> str:
            while group[n] != n:
                n = group[n]
            return n

        for part in self.parts:
            if part.family == "mains" and not self.setting.live:  # unplugged, it joins nothing
                continue
            for side in ISLANDS.get(part.family, (tuple(part.pins),)) if len(self.parts) > 1 else (tuple(part.pins),):
                ends = [self.nodes[part.pins[p]] for p in side if p in part.pins]
                for end in ends[1:]:
                    group[root(end)] = root(ends[0])
        group.setdefault("0", "0")
        used = Counter(word for line in self.lines for word in line.split()[1:3])
        size = Counter(root(n) for n in group)
        for lone in sorted(r for r, nets in size.items() if nets > 1 and r != root("0")):  # a net behind a capacitor has the leak of that
            busiest = max((n for n in group if root(n) == lone), key=lambda n: (used[n], n))
            self.add("R", busiest, "0", TIE)
            if self.setting.live:
                self.add("C", busiest, "0", 2e-12)  # without it the steps follow the free float of the island

    def text(self, tail: Iterable[str], head: Iterable[str] = ()) -> str:
        """The whole deck. `hold` is 1 for the first 20 us, while capacitors are put to their state."""
        meter: list[str] = []
        if self.setting.meter:
            red, black = (self.node(n) for n in self.setting.meter)
            meter = [f"Rmeter {red} {black} 10meg"]
        hold = ["Vhold hold 0 PWL(0 1 20u 1 40u 0)"] if self.setting.volts or self.coils else []
        return "\n".join(["* judge", *head, *self.lines, *meter, *hold, *tail, ".end", ""])

    def linked(self, net: str, *families: str) -> Fitted | None:
        """The part of one of these families on this net, if any."""
        return next((p for p in self.parts if p.family in families and net in p.pins.values()), None)


Emitter = Callable[[Deck, Fitted, Mapping[str, str]], None]
EMITTERS: dict[str, Emitter] = {}
# Where the leak of a healthy body lies.
BODIES: dict[str, tuple[tuple[str, str], ...]] = {
    "varistor": (("a", "b"),), "capacitor": (("a", "b"),), "electrolytic": (("+", "-"),), "diode": (("a", "k"),), "zener": (("a", "k"),),
    "diac": (("a", "b"),), "bridge": (("~1", "+"), ("~2", "+"), ("-", "~1"), ("-", "~2")), "npn": (("c", "e"),), "pnp": (("c", "e"),),
    "fet": (("d", "s"), ("g", "s")), "opto": (("c", "e"),), "reference": (("k", "a"),), "regulator": (("in", "out"), ("out", "gnd")),
    "ldo": (("in", "out"), ("out", "gnd")), "adjustable": (("in", "out"), ("out", "adj")),
    "led-buck": (("d", "cs"), ("vdd", "gnd")), "led-boost": (("sw", "gnd"), ("vin", "gnd")),
    "buck-module": (("in", "gnd"), ("in", "out"), ("out", "gnd")),
    "ceramic": (("a", "b"),), "x-cap": (("a", "b"),), "y-cap": (("a", "b"),),
    "n-mosfet": (("d", "s"), ("g", "s")), "p-mosfet": (("d", "s"), ("g", "s")),
    "op-amp": (("v+", "v-"), ("v+", "out"), ("out", "v-")), "comparator": (("v+", "v-"), ("v+", "out"), ("out", "v-")),
    "resistive-load": (("+", "-"),), "power-load": (("+", "-"),),
    "tvs": (("a", "k"),), "tantalum": (("+", "-"),), "led": (("a", "k"),), "scr": (("a", "k"),), "battery": (("+", "-"),), "bench-supply": (("+", "-"),),
    "switcher": (("d", "s"), ("bp", "s"), ("fb", "s")),
    "boost-fet": (("d", "s"), ("g", "s")), "bridge-fet": (("d", "s"), ("g", "s")), "pfc-controller": (("vcc", "gnd"),),
    "llc-controller": (("vcc", "gnd"),), "class-d-fet": (("d", "s"), ("g", "s")), "class-d-driver": (("vcc", "com"), ("ho", "vs")),
    "split-supply": (("in+", "in-"),), "standby": (("in+", "in-"),),
    "oscillator": (("c", "e"),),
    "controller": (("vcc", "gnd"),), "load": (("+", "-"),), "micro": (("vdd", "0v"),),
}
# Pins that hang together inside the part; families not listed join all their pins. Capacitors join (a leak is drawn).
ISLANDS: dict[str, tuple[tuple[str, ...], ...]] = {
    "transformer": (("p1", "p2"), ("s1", "s2")), "split-transformer": (("p1", "p2"), ("s1", "ct", "s2")),
    "choke": (("a1", "a2"), ("b1", "b2")), "opto": (("a", "k"), ("c", "e")),
    "opto-triac": (("a", "k"), ("t1",), ("t2",)), "flyback": (("p+", "p-"), ("a+", "a-"), ("s+", "s-"), ("core",)),
    "adapter": (("L", "N"), ("+", "-")),
    "relay": (("c+", "c-"), ("com", "no")), "changeover": (("c+", "c-"), ("com", "no", "nc")),
    "capacitor": (("a",), ("b",)), "ceramic": (("a",), ("b",)),
    "bridge-fet": (("d", "g", "s"), ("core",)), "bridge-transformer": (("p+", "p-"), ("s1", "ct", "s2"), ("core",)),
    "standby": (("in+", "in-", "v+", "v-"), ("s+", "s-")), "split-supply": (("in+", "in-"), ("p", "0", "m")),
    "class-d-fet": (("d", "g", "s"), ("core",)), "class-d-driver": (("vcc", "com", "boot", "feed", "vs", "ho", "lo", "ref", "mute", "rail"), ("core",)),
    "x-cap": (("a",), ("b",)), "y-cap": (("a",), ("b",)), "fet": (("d", "g", "s"), ("core",)),
    "plain-flyback": (("p+", "p-"), ("s+", "s-"), ("core",)), "switcher": (("d", "s", "bp", "fb", "uv"), ("core",)),
    "oscillator": (("c", "b", "e", "lim", "gnd"), ("core",)),
}


def emits(*families: str) -> Callable[[Emitter], Emitter]:
    def keep(function: Emitter) -> Emitter:
        for family in families:
            EMITTERS[family] = function
        return function

    return keep
