"""Parts to a circuit deck for ngspice: one emitter a family, the electrical meaning of docs/families.md.

Where that page is silent the choice is marked CHOICE. Node 0 is the neutral of the wall outlet.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

from .fitted import OPEN, Fitted

VT = 0.0258645  # kT/q at 27 degC, ngspice's own default temperature [V]
HOLD = 100.0  # conductance that holds a capacitor at its state while t < 20 us [S]
CHATTER = 0.5  # a mode that changes many times within a cycle
TIE = 1e9  # explicit leak of each floating island to node 0 [ohm]


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


class Deck:
    """Collects the lines; hands out nodes; remembers the capacitors."""

    def __init__(self, parts: Iterable[Fitted], setting: Setting) -> None:
        self.parts = tuple(parts)
        self.setting = setting
        self.lines: list[str] = []
        self.caps: list[Cap] = []
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
        """A current from a to b that depends on voltages, with 10 pF beside it."""
        self.add("B", a, b, f"I={expression}")
        self.add("C", a, b, 10e-12)

    def diode(self, a: str, k: str, drop: float, ideality: float, amps: float = 1.0) -> None:
        self.add("D", a, k, self.junction(drop, ideality, amps))

    def junction(self, drop: float, ideality: float, amps: float) -> str:
        """Name of the model of a junction with this drop at this current."""
        isat = amps / math.expm1(drop / (ideality * VT))
        name = f"j{len(self.lines)}"
        self.lines.append(f".model {name} D(IS={isat:.6g} N={ideality:.6g} CJO=10p)")
        return name

    def capacitor(self, key: str, a: str, b: str, farads: float, slow: bool) -> None:
        size = farads / self.setting.shrink if slow else farads
        self.add("C", a, b, float(size))
        self.caps.append(Cap(key, a, b, farads, slow))
        held = self.setting.volts.get(key)
        if held is not None:
            self.add("B", a, b, f"I=v(hold)*{min(HOLD, size * 1e8):.6g}*(v({a},{b})-({held:.9g}))")

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
        for p, q, ohms in part.across:
            self.resistor(pins[p], pins[q], ohms)
        emitter = EMITTERS.get(part.family)
        if emitter is None:
            raise ValueError(f"{part.ref}: the judge has no family {part.family!r}; add its emitter to judge/deck.py or active.py")
        emitter(self, part, pins)

    def _tie_islands(self) -> None:
        """A leak of 1 Gohm from each island that no part joins to node 0, on its busiest net."""
        group = {n: n for n in self.nodes.values()}

        def root(n: str) -> str:
            while group[n] != n:
                n = group[n]
            return n

        for part in self.parts:
            for side in ISLANDS.get(part.family, (tuple(part.pins),)):
                ends = [self.nodes[part.pins[p]] for p in side if p in part.pins]
                for end in ends[1:]:
                    group[root(end)] = root(ends[0])
        group.setdefault("0", "0")
        used = Counter(word for line in self.lines for word in line.split()[1:3])
        for lone in sorted({root(n) for n in group} - {root("0")}):
            busiest = max((n for n in group if root(n) == lone), key=lambda n: (used[n], n))
            self.add("R", busiest, "0", TIE)
            self.add("C", busiest, "0", 2e-12)  # without it the steps follow the free float of the island

    def text(self, tail: Iterable[str], head: Iterable[str] = ()) -> str:
        """The whole deck. `hold` is 1 for the first 20 us, while capacitors are put to their state."""
        meter: list[str] = []
        if self.setting.meter:
            red, black = (self.node(n) for n in self.setting.meter)
            meter = [f"Rmeter {red} {black} 10meg"]
        hold = ["Vhold hold 0 PWL(0 1 20u 1 40u 0)"] if self.setting.volts else []
        return "\n".join(["* judge", *head, *self.lines, *meter, *hold, *tail, ".end", ""])

    def linked(self, net: str, family: str) -> Fitted | None:
        """The part of this family on this net, if any."""
        return next((p for p in self.parts if p.family == family and net in p.pins.values()), None)


Emitter = Callable[[Deck, Fitted, Mapping[str, str]], None]
EMITTERS: dict[str, Emitter] = {}
# Pins that hang together inside the part; families not listed join all their pins. Capacitors join (a leak is drawn).
ISLANDS: dict[str, tuple[tuple[str, ...], ...]] = {
    "transformer": (("p1", "p2"), ("s1", "s2")), "choke": (("a1", "a2"), ("b1", "b2")), "opto": (("a", "k"), ("c", "e")),
    "opto-triac": (("a", "k"), ("t1",), ("t2",)), "flyback": (("p+", "p-"), ("a+", "a-"), ("s+", "s-"), ("core",)),
    "relay": (("c+", "c-"), ("com", "no")), "capacitor": (("a",), ("b",)), "fet": (("d", "g", "s"), ("core",)),
}


def emits(*families: str) -> Callable[[Emitter], Emitter]:
    def keep(function: Emitter) -> Emitter:
        for family in families:
            EMITTERS[family] = function
        return function

    return keep


@emits("lead", "switch", "fuse", "thermal-link", "stat", "heater")
def _plain(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.resistor(pins["a"], pins["b"], OPEN if deck.on(part, "blown") else part.values["ohms"])


@emits("resistor")
def _resistor(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.resistor(pins["a"], pins["b"], OPEN if deck.on(part, "blown") else part.values["ohms"])


@emits("mains")
def _mains(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    if not deck.setting.live:
        return
    wall, v = deck.inner(), part.values
    deck.wall = wall
    degrees = math.degrees(deck.setting.angle) % 360.0
    deck.add("V", wall, pins["N"], f"SIN(0 {v['volts'] * math.sqrt(2.0):.9g} {v['hertz']:.6g} 0 0 {degrees:.9g})")
    deck.resistor(wall, pins["L"], v["ohms"] + deck.setting.lamp)


@emits("ntc")
def _ntc(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    warm = part.values["hot"] if deck.setting.live else 1.0
    deck.resistor(pins["a"], pins["b"], part.values["ohms"] * warm)


@emits("varistor")
def _varistor(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    # CHOICE: a power law that carries 1 mA at the clamp volts; the page gives the clamp volts only.
    a, b, clamp = pins["a"], pins["b"], 1.55 * part.values["volts"]
    v = f"({deck.v(a, b)})"
    deck.current(a, b, f"{v}/5e6+1e-3*({v}/{clamp:.6g})*abs({v}/{clamp:.6g})^29")


@emits("capacitor")
def _capacitor(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.capacitor(part.ref, pins["a"], pins["b"], part.values["farads"], slow=False)
    deck.resistor(pins["a"], pins["b"], part.values["leak"])


@emits("electrolytic")
def _electrolytic(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    inside = deck.inner()
    deck.resistor(pins["+"], inside, part.values["esr"])
    deck.capacitor(part.ref, inside, pins["-"], part.values["farads"], slow=part.values["farads"] > 0.8e-6)
    deck.resistor(pins["+"], pins["-"], part.values["leak"])


@emits("inductor", "motor")
def _coil(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    inside = deck.inner()
    deck.resistor(pins["a"], inside, part.values["ohms"])
    deck.add("L", inside, pins["b"], float(part.values["henry"]))


@emits("choke")
def _choke(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.resistor(pins["a1"], pins["a2"], part.values["ohms"])
    deck.resistor(pins["b1"], pins["b2"], part.values["ohms"])


def winding(deck: Deck, ends: tuple[str, str], ohms: float, source: str, ratio: float, back: tuple[str, str]) -> None:
    """An ideal winding at `ratio` times the volts `source`, behind its ohms; its current comes out of `back` in the same ratio."""
    top, mid = deck.inner(), deck.inner()
    deck.resistor(ends[0], top, ohms)
    deck.add("B", top, mid, f"V={ratio:.9g}*{source}")
    sense = deck.add("V", mid, ends[1], 0.0)
    deck.add("F", back[0], back[1], sense, -float(ratio))


@emits("transformer")
def _transformer(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, behind = part.values, deck.inner()
    deck.resistor(pins["p1"], behind, v["rp"])
    deck.add("L", behind, pins["p2"], float(v["mag"]))
    if "turns" in v:
        deck.resistor(behind, pins["p2"], v["turns"])
    volts = deck.v(behind, pins["p2"])
    winding(deck, (pins["s1"], pins["s2"]), v["rs"], volts, v["out"] / v["volts"], (behind, pins["p2"]))


@emits("diode")
def _diode(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.diode(pins["a"], pins["k"], part.values["drop"], part.values["ideality"])


@emits("bridge")
def _bridge(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    legs = ((1, "~1", "+"), (2, "~2", "+"), (3, "-", "~1"), (4, "-", "~2"))
    model = deck.junction(part.values["drop"], part.values["ideality"], 1.0)
    for number, a, k in legs:
        start = pins[a]
        if f"open{number}" in part.values:
            start = deck.inner()
            deck.resistor(pins[a], start, OPEN)
        deck.add("D", start, pins[k], model)


@emits("zener")
def _zener(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    # CHOICE: `volts` is met at 5 mA less the slope's drop; forwards a diode of 0.7 V at 1 A, ideality 1.8. A small saturation
    # current keeps the backward branch from being a current source on a dead rail.
    a, k, volts = pins["a"], pins["k"], part.values["volts"]
    knee = VT * math.log1p(5e-3 / 1e-15)
    deck.diode(a, k, 0.7, 1.8)
    mid, low = deck.inner(), deck.inner()
    deck.resistor(k, mid, part.values["ohms"])
    deck.add("V", mid, low, float(volts - knee))
    deck.add("D", low, a, deck.junction(knee, 1.0, 5e-3))


@emits("npn", "pnp")
def _transistor(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    name = f"q{len(deck.lines)}"
    kind = part.family.upper()
    deck.lines.append(f".model {name} {kind}(IS=1e-14 BF={part.values['gain']:.6g} BR=2 CJE=10p CJC=10p)")
    deck.add("Q", pins["c"], pins["b"], pins["e"], pins["e"], name)  # substrate on the emitter: no leak to node 0


@emits("lamp")
def _lamp(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.resistor(pins["a"], pins["b"], tungsten(part.values["volts"], part.values["watts"], deck.on(part, "rms")))


def tungsten(volts: float, watts: float, rms: float) -> float:
    """Ohms of a filament at these rms volts: R ~ V^0.45, not below 1/13 of the hot ohms."""
    return volts**2 / watts * max(1.0 / 13.0, (max(rms, 0.0) / volts) ** 0.45)


@emits("load")
def _load(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    # The page gives amps x min(1, v/(0.6 volts)) without a lower end; CHOICE: the same slope below zero, limited alike.
    a, b, v = pins["+"], pins["-"], part.values
    if v["amps"] > 0:
        deck.current(a, b, f"{v['amps']:.9g}*max(-1,min(1,({deck.v(a, b)})/{0.6 * v['volts']:.9g}))")
