"""A part as it sits on the simulated board: its own values, and what its fault did to it.

Implements docs/families.md on its own: defaults, tolerances of the made part, ways of failing.
A way is any of: another value (`put`, `scale`), a resistor across two pins (`across`), 1 Gohm in a leg (`leg`).
"""

from __future__ import annotations

import math
import zlib
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np

from halfsplit.circuit.model import Circuit, Part

OPEN = 1e9  # docs/families.md: "open" is 1 Gohm in series [ohm]
NEEDED = math.nan  # a default that the page does not give: the sheet has to


@dataclass(frozen=True)
class Fitted:
    """pins: pin -> net. across: (pin, pin, ohms). legs: pin -> ohms in series with it."""

    ref: str
    family: str
    pins: Mapping[str, str]
    values: Mapping[str, float]
    ratings: Mapping[str, float] = field(default_factory=dict)
    tags: frozenset[str] = frozenset()
    across: tuple[tuple[str, str, float], ...] = ()
    legs: Mapping[str, float] = field(default_factory=dict)


DEFAULTS: dict[str, dict[str, float]] = {
    "mains": {"volts": 230, "hertz": 50, "ohms": 0.6}, "lead": {"ohms": 0.05}, "switch": {"ohms": 0.02},
    "fuse": {"amps": 2}, "thermal-link": {"ohms": 0.005}, "stat": {"ohms": 0.01},
    "ntc": {"ohms": 5, "hot": 0.15}, "varistor": {"volts": 275}, "resistor": {"ohms": NEEDED, "watts": 0.25},
    "capacitor": {"farads": NEEDED, "leak": 1e10},
    "electrolytic": {"farads": NEEDED, "volts": 35, "leak": 1e7},
    "inductor": {"henry": 1e-3, "ohms": 0.5}, "choke": {"ohms": 0.3},
    "transformer": {"volts": NEEDED, "out": NEEDED, "rp": NEEDED, "rs": NEEDED, "mag": 5},
    "split-transformer": {"volts": NEEDED, "out": NEEDED, "rp": NEEDED, "rs": NEEDED, "mag": 5},
    "diode": {"drop": 0.93, "ideality": 1.9}, "bridge": {"drop": 0.93, "ideality": 1.9}, "zener": {"volts": NEEDED},
    "npn": {"gain": 150, "size": 1},
    "pnp": {"gain": 150, "size": 1},
    "trimmer": {"ohms": 10e3, "at": 0.5, "contact": 1},
    "pot": {"ohms": 10e3, "at": 0.5, "contact": 1},
    "fet": {"watts": NEEDED, "vth": 3, "ron": 1},
    "opto": {"ctr": 1.3, "drop": 1.15},
    "opto-triac": {},
    "triac": {"hold": 10e-3},
    "diac": {"volts": 32},
    "slide": {"ohms": 470e3, "at": 0.98, "half": 0.2, "contact": 1},
    "reference": {"volts": 2.495, "idle": 0.3e-3},
    "regulator": {"volts": NEEDED, "amps": 1, "dropout": 2, "quiescent": 5e-3},
    "controller": {"von": 16, "voff": 10, "start": 60e-6, "run": 8e-3, "ovp": 28, "trip": 0.2, "clamp": math.inf},
    "flyback": {"out": NEEDED, "aux": NEEDED, "rp": 0.8, "rs": 0.03, "ra": 0.5}, "relay": {"volts": 24, "ohms": 1440},
    "plain-flyback": {"out": NEEDED, "rp": 0.8, "rs": 0.03},
    "switcher": {"watts": 36, "knee": 6, "von": 5.8, "voff": 4.75, "feed": 2e-3, "run": 0.6e-3, "wait": 0.25e-3, "uvon": 1},
    "oscillator": {"watts": 25, "knee": 6, "gain": 20},
    "heater": {"ohms": NEEDED}, "motor": {"ohms": NEEDED, "henry": 0.1}, "lamp": {"volts": 230, "watts": 60},
    "boost-coil": {"ohms": 0.2, "henry": 300e-6}, "boost-fet": {"siemens": 0.015}, "bridge-fet": {"siemens": 0.013},
    "pfc-controller": {"von": 12.5, "voff": 9.5, "start": 60e-6, "run": 8e-3, "ref": 2.5, "guard": 0.45, "stop": 1.07, "trip": 0.2},
    "bridge-transformer": {"out": NEEDED, "rp": 0.3, "rs": 0.01},
    "llc-controller": {"von": 12, "voff": 9, "start": 200e-6, "run": 5e-3, "brown_in": 345, "brown_out": 300, "over": 4.2, "trip": 0.2},
    "class-d-fet": {"siemens": 0.05}, "class-d-driver": {"von": 9.5, "voff": 8.5, "start": 1e-3, "run": 6e-3},
    "split-supply": {"volts": 45, "amps": 6, "watts": 12},
    "standby": {"volts": 5, "aux": 15.5, "watts": 4},
    "ldo": {"volts": 3.3, "amps": 0.5, "dropout": 0.3, "quiescent": 1e-3},
    "adjustable": {"volts": 1.25, "amps": 1.5, "dropout": 2, "quiescent": 50e-6},
    "op-amp": {"head": 1.5, "source": 20e-3, "sink": 15e-3, "quiescent": 0.5e-3},
    "comparator": {"head": 1.5, "source": 0, "sink": 16e-3, "quiescent": 0.5e-3},
    "buck-module": {"volts": 5, "amps": 1, "dropout": 1, "efficiency": 0.88, "quiescent": 5e-3, "divider": 10e3},
    "adapter": {"volts": 12, "amps": 1, "ohms": 0.05, "idle": 10e3},
    "led-buck": {"trip": 0.4, "amps": 1, "ovp": 96, "again": 0.917, "vdd": 8.5, "von": 7, "voff": 5.5, "start": 15e-6, "run": 45e-6},
    "led-boost": {"feedback": 0.2, "ovp": 1.23, "amps": 3, "von": 4.5, "run": 3e-3},
    "resistive-load": {"ohms": 24}, "power-load": {"volts": 12, "watts": 5, "idle": 20e3},
    "wirewound": {"ohms": 10, "watts": 5}, "composition": {"ohms": 10, "watts": 0.5}, "cut-off-resistor": {"ohms": 10, "watts": 5},
    "ceramic": {"farads": 1e-7, "leak": 1e10}, "x-cap": {"farads": 2.2e-7, "leak": 1e10}, "y-cap": {"farads": 2.2e-9, "leak": 1e10},
    "n-mosfet": {"vth": 3, "ron": 0.05}, "p-mosfet": {"vth": 3, "ron": 0.05},
    "changeover": {"volts": 24, "ohms": 1440},
    "connector": {"ohms": 0.01}, "joint": {"ohms": 0.005}, "fusible": {"ohms": 10, "watts": 0.5}, "ptc": {"amps": 1},
    "tvs": {"volts": 15, "watts": 600}, "tantalum": {"farads": NEEDED, "volts": 16, "leak": 1e7},
    "led": {"amps": 0.02}, "scr": {"hold": 10e-3},
    "battery": {"volts": 12}, "bench-supply": {"volts": 12, "amps": 0.5},
    "load": {"volts": NEEDED, "amps": NEEDED, "idle": 20e3}, "micro": {"volts": 5, "amps": 8e-3, "idle": 8e3},
}
# How far a made part lies from its marking, one sigma, relative. Common practice, apart from what a maker's page would say.
SPREAD: dict[tuple[str, str], float] = {
    ("mains", "volts"): 0.015, ("ntc", "ohms"): 0.08, ("zener", "volts"): 0.025, ("diode", "drop"): 0.03,
    ("bridge", "drop"): 0.03,
    ("split-transformer", "out"): 0.015,
    ("split-transformer", "rp"): 0.05,
    ("split-transformer", "rs"): 0.05,
    ("trimmer", "ohms"): 0.05,
    ("trimmer", "at"): 0.1,
    ("pot", "ohms"): 0.05,
    ("slide", "ohms"): 0.05, ("slide", "half"): 0.05, ("diac", "volts"): 0.05,
    ("pot", "at"): 0.01,
    ("npn", "gain"): 0.3,
    ("pnp", "gain"): 0.3,
    ("opto", "ctr"): 0.15,
    ("reference", "volts"): 0.003,
    ("opto", "drop"): 0.02,
    ("reference", "idle"): 0.1,
    ("ldo", "volts"): 0.01, ("ldo", "quiescent"): 0.15, ("adjustable", "volts"): 0.012, ("adjustable", "quiescent"): 0.15,
    ("led-buck", "trip"): 0.01, ("led-buck", "ovp"): 0.02, ("led-buck", "vdd"): 0.02, ("led-buck", "run"): 0.08,
    ("led-boost", "feedback"): 0.01, ("led-boost", "ovp"): 0.01,
    ("buck-module", "volts"): 0.01, ("buck-module", "efficiency"): 0.02, ("adapter", "volts"): 0.012,
    ("regulator", "volts"): 0.01, ("regulator", "quiescent"): 0.15, ("controller", "von"): 0.02, ("controller", "voff"): 0.02,
    ("controller", "run"): 0.1, ("controller", "start"): 0.2, ("flyback", "rp"): 0.06, ("flyback", "rs"): 0.06,
    ("flyback", "aux"): 0.02, ("transformer", "out"): 0.015, ("transformer", "rp"): 0.05, ("transformer", "rs"): 0.05,
    ("changeover", "ohms"): 0.04, ("plain-flyback", "rp"): 0.06, ("plain-flyback", "rs"): 0.06, ("switcher", "watts"): 0.05,
    ("switcher", "knee"): 0.08, ("oscillator", "watts"): 0.05, ("oscillator", "gain"): 0.15, ("switcher", "von"): 0.012, ("switcher", "voff"): 0.012,
    ("relay", "ohms"): 0.04, ("heater", "ohms"): 0.03, ("motor", "ohms"): 0.05, ("load", "amps"): 0.06, ("micro", "amps"): 0.06,
    ("micro", "stop"): 0.02, ("fet", "watts"): 0.05, ("fuse", "ohms"): 0.25, ("choke", "ohms"): 0.1, ("inductor", "ohms"): 0.1,
    ("led", "drop"): 0.02, ("ptc", "ohms"): 0.15, ("battery", "volts"): 0.02, ("battery", "ohms"): 0.2,
    ("connector", "ohms"): 0.2, ("resistive-load", "ohms"): 0.05, ("power-load", "watts"): 0.06,
    ("op-amp", "quiescent"): 0.15, ("comparator", "quiescent"): 0.15, ("op-amp", "head"): 0.05,
    ("boost-coil", "ohms"): 0.1, ("boost-fet", "siemens"): 0.05, ("bridge-fet", "siemens"): 0.01, ("bridge-transformer", "rp"): 0.06,
    ("bridge-transformer", "rs"): 0.06, ("pfc-controller", "ref"): 0.006, ("pfc-controller", "von"): 0.02, ("pfc-controller", "voff"): 0.02,
    ("llc-controller", "von"): 0.02, ("llc-controller", "brown_in"): 0.015, ("standby", "volts"): 0.01, ("standby", "aux"): 0.02,
    ("split-supply", "volts"): 0.02,
    ("tvs", "volts"): 0.03, ("ceramic", "farads"): 0.05, ("x-cap", "farads"): 0.05, ("y-cap", "farads"): 0.08,
    ("n-mosfet", "vth"): 0.08, ("p-mosfet", "vth"): 0.08,
    ("n-mosfet", "ron"): 0.1, ("p-mosfet", "ron"): 0.1, ("fusible", "ohms"): 0.025, ("wirewound", "ohms"): 0.025,
    ("composition", "ohms"): 0.05, ("cut-off-resistor", "ohms"): 0.025, ("tantalum", "farads"): 0.06, ("tantalum", "esr"): 0.25,
    ("electrolytic", "esr"): 0.25, ("electrolytic", "leak"): 0.5, ("capacitor", "leak"): 0.5, ("varistor", "volts"): 0.03,
}


def with_defaults(part: Part) -> dict[str, float]:
    """Values of a part: the sheet's, else the page's. Values that follow from others are filled in."""
    known = {**DEFAULTS.get(part.family, {}), **part.ratings, **part.values}
    if part.family == "electrolytic":
        known.setdefault("esr", 0.3 * (1e-4 / known["farads"]) ** 0.7)  # the page: 100 uF 0.3, 1000 uF 0.06 ohm
    if part.family == "fuse":
        known.setdefault("ohms", 0.2 * known["amps"] ** -1.48)
    if part.family == "tantalum":
        known.setdefault("esr", 1.5 * (1e-5 / known["farads"]) ** 0.5)
    if part.family == "led":
        known.setdefault("drop", 3.1 if {"white", "blue"} & part.tags else 1.9)
    if part.family == "ptc":
        known.setdefault("ohms", 0.15 / known["amps"])
        known["new"] = known["ohms"]  # what its trip is reckoned from
    if part.family == "battery":
        known.setdefault("ohms", 0.02 * known["volts"])
    if part.family == "zener":
        known.setdefault("ohms", 0.03 * known["volts"])
    if part.family == "micro":
        known.setdefault("stop", 0.85 * known["volts"])
    if part.family in ("diode", "bridge") and "schottky" in part.tags:
        known.update({"drop": known["drop"] * 0.45 / 0.93, "ideality": known["ideality"] * 1.2 / 1.9})
    lacking = [k for k, v in known.items() if math.isnan(v)]
    if lacking:
        raise ValueError(f"{part.ref} ({part.family}) needs a value for {', '.join(lacking)}; put it on the part")
    return known


def fit(part: Part, seed: int, spread: str) -> Fitted:
    """The part as made: its values with this board's own draw. spread: one of SPREADS, or "none"."""
    values = with_defaults(part)
    if spread != "none":
        rng = np.random.default_rng([seed, zlib.crc32(part.ref.encode())])
        _spread(part.family, values, rng, SPREADS[spread])
    return Fitted(part.ref, part.family, dict(part.pins), values, dict(part.ratings), part.tags)


def _hump(rng: np.random.Generator) -> float:
    return float(np.clip(rng.standard_normal(), -2.2, 2.2))


def _tails(rng: np.random.Generator) -> float:
    """A third wider than the hump and with heavier tails: Student t of five degrees of freedom (bench estimate)."""
    return float(np.clip(1.3 * rng.standard_t(5), -4.0, 4.0))


SPREADS: Mapping[str, Callable[[np.random.Generator], float]] = {"judge": _hump, "wide": _tails}


def _spread(family: str, values: dict[str, float], rng: np.random.Generator, deviate: Callable[[np.random.Generator], float]) -> None:
    grade = {"resistor": float(rng.choice([0.01, 0.02, 0.05])), "capacitor": float(rng.choice([0.05, 0.10]))}
    if "tolerance" in values:  # printed on it
        grade |= {"resistor": values["tolerance"], "capacitor": values["tolerance"]}
    for name in sorted(values):
        z = deviate(rng)
        if family == "electrolytic" and name == "farads":
            values[name] *= float(rng.uniform(0.8, 1.2)) if deviate is _hump else math.exp(0.14 * z)
        elif (family, name) in (("resistor", "ohms"), ("capacitor", "farads")):
            values[name] *= 1.0 + 0.5 * grade[family] * z
        elif (family, name) in SPREAD:
            values[name] *= math.exp(SPREAD[family, name] * z)


Change = Callable[[Fitted, float], Fitted]


def _log(lo: float, hi: float, u: float) -> float:
    return float(lo * (hi / lo) ** u)


def across(p: str, q: str, lo: float, hi: float) -> Change:
    return lambda f, u: replace(f, across=(*f.across, (p, q, _log(lo, hi, u))))


def leg(pin: str) -> Change:
    return lambda f, u: replace(f, legs={**f.legs, pin: OPEN})


def put(**values: float) -> Change:
    return lambda f, u: replace(f, values={**f.values, **values})


def scale(name: str, lo: float, hi: float, log: bool = True) -> Change:
    def change(f: Fitted, u: float) -> Fitted:
        by = _log(lo, hi, u) if log else lo + (hi - lo) * u
        return replace(f, values={**f.values, name: f.values[name] * by})

    return change


def drawn(name: str, lo: float, hi: float) -> Change:
    return lambda f, u: replace(f, values={**f.values, name: _log(lo, hi, u)})


def both(*changes: Change) -> Change:
    def change(f: Fitted, u: float) -> Fitted:
        for c in changes:
            f = c(f, u)
        return f

    return change


def _turns(f: Fitted, u: float) -> Fitted:
    return replace(f, values={**f.values, "turns": _log(0.3, 6.0, u) * f.values["rp"]})


def _half(f: Fitted, u: float) -> Fitted:
    return replace(f, values={**f.values, "lost": 1.0 if u < 0.5 else -1.0})


_OPEN_A = {"open": leg("a")}
_JUNCTION = {"short": across("a", "k", 0.05, 2.0), "open": leg("a"), "leaky": across("a", "k", 100.0, 20e3)}
_TRANSISTOR = {"short": across("c", "e", 0.05, 5.0), "open": leg("c"), "base-open": leg("b")}
_REGULATOR = {"no-output": put(dead=1.0), "through": across("in", "out", 0.1, 3.0),
              "out-short": across("out", "gnd", 0.2, 10.0), "low": scale("volts", 0.4, 0.85, log=False)}
_AMPLIFIER = {"stuck-low": across("out", "v-", 1.0, 50.0), "stuck-high": across("v+", "out", 1.0, 50.0),
              "supply-short": across("v+", "v-", 1.0, 40.0), "dead": put(dead=1.0)}
_MOSFET = {"short": across("d", "s", 0.05, 2.0), "gate-short": across("g", "s", 1.0, 500.0), "open": leg("d")}
_TRACK = {"wiper-open": leg("w"), "dirty": drawn("contact", 100.0, 1e5), "a-open": leg("a"), "b-open": leg("b")}
_BRIDGE_LEGS = {1: ("~1", "+"), 2: ("~2", "+"), 3: ("-", "~1"), 4: ("-", "~2")}
WAYS: dict[str, dict[str, Change]] = {
    "lead": _OPEN_A, "fuse": _OPEN_A, "thermal-link": _OPEN_A, "stat": _OPEN_A, "ntc": _OPEN_A, "lamp": _OPEN_A,
    "motor": {"open": leg("a"), "low": scale("ohms", 0.3, 0.85)},
    "switch": {"open": leg("a"), "resistive": drawn("ohms", 2.0, 200.0)},
    "varistor": {"short": across("a", "b", 0.5, 20.0), "open": leg("a")},
    "resistor": {"open": leg("a"), "up": scale("ohms", 1.4, 6.0)},
    "capacitor": {"open": put(farads=1e-12), "low": scale("farads", 0.15, 0.6, log=False), "short": across("a", "b", 0.1, 5.0),
                  "leaky": across("a", "b", 10e3, 1e6)},
    "electrolytic": {"dried": both(scale("farads", 0.6, 0.03), scale("esr", 6.0, 30.0)), "high-esr": scale("esr", 4.0, 40.0),
                     "leaky": across("+", "-", 300.0, 30e3), "short": across("+", "-", 0.05, 5.0), "open": put(farads=1e-12, leak=1e10)},
    "inductor": {"open": leg("a"), "shorted-turns": both(scale("ohms", 0.3, 0.3), scale("henry", 0.01, 0.01))},
    "choke": {"a-open": leg("a1"), "b-open": leg("b1")},
    "transformer": {"primary-open": leg("p1"), "secondary-open": leg("s1"), "shorted-turns": _turns},
    "split-transformer": {"primary-open": leg("p1"), "upper-open": leg("s1"), "lower-open": leg("s2"), "shorted-turns": _turns},
    "diode": _JUNCTION,
    "bridge": {**{f"short-{n}": across(*_BRIDGE_LEGS[n], 0.05, 2.0) for n in _BRIDGE_LEGS},
               **{f"open-{n}": put(**{f"open{n}": 1.0}) for n in _BRIDGE_LEGS}},
    "zener": {"short": across("a", "k", 0.05, 5.0), "open": leg("a"), "leaky": across("a", "k", 200.0, 20e3)},
    "npn": _TRANSISTOR, "pnp": _TRANSISTOR,
    "fet": {"short": across("d", "s", 0.05, 2.0), "gate-short": across("g", "s", 1.0, 500.0), "open": leg("d")},
    "opto": {"led-open": leg("a"), "weak": scale("ctr", 0.003, 0.35), "short": across("c", "e", 1.0, 50.0), "open": leg("c")},
    "opto-triac": {"led-open": leg("a")},
    "triac": {"short": across("t2", "t1", 0.05, 2.0), "open": put(dead=1.0), "half-wave": _half},
    "diac": {"short": across("a", "b", 0.5, 20.0), "open": put(dead=1.0), "leaky": across("a", "b", 2e3, 50e3)},
    "reference": {"short": across("k", "a", 1.0, 30.0), "open": leg("k")},
    "regulator": _REGULATOR, "ldo": _REGULATOR, "adjustable": {k: v for k, v in _REGULATOR.items() if k != "out-short"},
    "buck-module": {**_REGULATOR, "in-short": across("in", "gnd", 0.1, 5.0), "through": across("in", "out", 0.05, 2.0)},
    "adapter": {"dead": put(dead=1.0), "cable-open": leg("+"), "weak": scale("amps", 0.05, 0.4, log=False),
                "cable-short": drawn("cable", 0.05, 2.0), "low": scale("volts", 0.5, 0.9, log=False)},
    "led-buck": {"short": across("d", "cs", 0.05, 2.0), "dead": put(dead=1.0), "vdd-short": across("vdd", "gnd", 1.0, 60.0), "open": leg("d")},
    "led-boost": {"short": across("sw", "gnd", 0.05, 2.0), "dead": put(dead=1.0), "vin-short": across("vin", "gnd", 0.2, 20.0),
                  "open": leg("sw")},
    "controller": {"dead": put(dead=1.0), "vcc-short": across("vcc", "gnd", 1.0, 60.0)},
    "flyback": {"primary-open": leg("p+"), "secondary-open": leg("s+"), "aux-open": leg("a+"), "shorted-turns": put(turns=1.0)},
    "plain-flyback": {"primary-open": leg("p+"), "secondary-open": leg("s+"), "shorted-turns": put(turns=1.0)},
    "switcher": {"short": across("d", "s", 0.05, 2.0), "dead": put(dead=1.0), "unfed": put(unfed=1.0),
                 "bypass-short": across("bp", "s", 1.0, 200.0), "open": leg("d")},
    "boost-coil": {"open": leg("a"), "shorted-turns": both(scale("ohms", 0.3, 0.3), scale("henry", 0.01, 0.01), put(turns=1.0))},
    "boost-fet": _MOSFET, "bridge-fet": _MOSFET,
    "pfc-controller": {"dead": put(dead=1.0), "vcc-short": across("vcc", "gnd", 1.0, 60.0)},
    "llc-controller": {"dead": put(dead=1.0), "vcc-short": across("vcc", "gnd", 1.0, 60.0)},
    "bridge-transformer": {"primary-open": leg("p+"), "secondary-open": leg("s1"), "shorted-turns": put(turns=1.0)},
    "class-d-fet": {"short": across("d", "s", 0.02, 2.0), "gate-short": across("g", "s", 1.0, 500.0), "open": leg("d")},
    "class-d-driver": {"dead": put(dead=1.0), "vcc-short": across("vcc", "com", 1.0, 60.0), "ho-short": across("ho", "vs", 1.0, 60.0)},
    "split-supply": {"dead": put(dead=1.0), "plus-open": put(p_open=1.0), "minus-open": put(m_open=1.0), "low": scale("volts", 0.6, 0.9),
                     "short": across("in+", "in-", 0.1, 5.0)},
    "standby": {"dead": put(dead=1.0), "low": scale("volts", 0.7, 0.9), "no-aux": put(**{"no-aux": 1.0}),
                "short": across("in+", "in-", 0.1, 5.0)},
    "oscillator": {**_TRANSISTOR, "tired": put(gain=3.0)},
    "relay": {"coil-open": leg("c+"), "stuck-open": put(stuck=1.0), "welded": put(welded=1.0)},
    "heater": {"open": leg("a"), "low": scale("ohms", 0.15, 0.7)},
    "op-amp": _AMPLIFIER, "comparator": _AMPLIFIER,
    "resistive-load": {"open": leg("+"), "short": across("+", "-", 0.05, 5.0), "low": scale("ohms", 0.3, 0.7, log=False)},
    "power-load": {"short": across("+", "-", 0.05, 5.0), "open": put(watts=0.0), "heavy": scale("watts", 2.0, 4.0, log=False)},
    "wirewound": {"open": leg("a"), "up": scale("ohms", 1.2, 3.0), "low": scale("ohms", 0.3, 0.8, log=False)},
    "composition": {"open": leg("a"), "up": scale("ohms", 1.2, 2.5)},
    "cut-off-resistor": {"open": leg("a"), "up": scale("ohms", 1.4, 6.0)},
    "trimmer": _TRACK, "pot": _TRACK, "slide": _TRACK,
    "ceramic": {"short": across("a", "b", 0.1, 50.0), "leaky": across("a", "b", 100.0, 1e5),
                "low": scale("farads", 0.2, 0.6, log=False), "open": put(farads=1e-12)},
    "x-cap": {"low": scale("farads", 0.15, 0.6, log=False), "short": across("a", "b", 0.1, 5.0),
              "leaky": across("a", "b", 10e3, 1e6), "open": put(farads=1e-12)},
    "y-cap": {"open": put(farads=1e-12), "short": across("a", "b", 0.5, 50.0), "leaky": across("a", "b", 10e3, 1e6)},
    "n-mosfet": _MOSFET, "p-mosfet": _MOSFET,
    "changeover": {"coil-open": leg("c+"), "stuck-open": put(stuck=1.0), "rest-open": put(rest=1.0), "welded": put(welded=1.0)},
    "connector": {"open": leg("a"), "resistive": drawn("ohms", 0.5, 50.0)},
    "joint": {"open": leg("a"), "resistive": drawn("ohms", 0.5, 200.0)},
    "fusible": {"open": leg("a"), "up": scale("ohms", 1.4, 6.0)}, "ptc": {"up": scale("ohms", 2.0, 20.0), "open": leg("a")},
    "tvs": {"short": across("a", "k", 0.05, 5.0), "open": leg("a"), "leaky": across("a", "k", 100.0, 20e3)},
    "tantalum": {"short": across("+", "-", 0.1, 10.0), "open": put(farads=1e-12, leak=1e10),
                 "leaky": across("+", "-", 100.0, 20e3)},
    "led": {"open": leg("a"), "short": across("a", "k", 0.5, 20.0)},
    "scr": {"short": across("a", "k", 0.05, 2.0), "open": put(dead=1.0)},
    "battery": {"weak": both(scale("volts", 0.95, 0.5), scale("ohms", 4.0, 40.0)), "open": leg("+"),
                "cells-short": scale("volts", 0.83, 0.5, log=False)},
    "load": {"short": across("+", "-", 0.05, 5.0), "open": put(amps=0.0), "heavy": scale("amps", 2.0, 6.0, log=False)},
    "micro": {"dead": put(dead=1.0), "short": across("vdd", "0v", 1.0, 40.0), "out-stuck-low": put(stuck=1.0)},
}


def spoil(fitted: Fitted, way: str, seed: int, severity: float | None = None) -> Fitted:
    """The part failed this way; severity, where not given, drawn from a lop-sided hump, not uniform."""
    ways = WAYS.get(fitted.family, {})
    if way not in ways:
        raise ValueError(f"{fitted.ref} ({fitted.family}) has no way {way!r}; known: {', '.join(ways) or 'none'}")
    if severity is None:
        severity = float(np.random.default_rng([seed, zlib.crc32(f"{fitted.ref} {way}".encode())]).beta(1.7, 1.3))
    return ways[way](fitted, severity)


def fault_list(circuit: Circuit) -> list[tuple[str, str]]:
    """Every (part, way) of this circuit that docs/families.md knows."""
    return [(p.ref, way) for p in circuit.parts for way in WAYS.get(p.family, {})]
