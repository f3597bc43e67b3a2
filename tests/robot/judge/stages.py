"""Emitters of the boost stage, the resonant half-bridge and the standby block, built from docs/families.md."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from .active import ramp, wake
from .deck import Deck, emits
from .fitted import OPEN, Fitted

LOOK = 100e3  # the page looks at 100 kHz [Hz]


def _moved(deck: Deck, v_in: str, x: str, siemens: float, share: float, fade: str, w: str, knee: float) -> tuple[str, str]:
    """(what is taken, what is delivered) [A] as expressions: a resistor's current, and its power over the output volts."""
    taken = f"{siemens:.9g}*{x}*{fade}*{v_in}"
    return taken, f"{share:.6g}*{taken}*{v_in}*({w}+{knee:.6g})/({w}*{w}+{knee * knee:.6g})"


def _drive(deck: Deck, pins: Mapping[str, str]) -> str:
    return ramp(f"(({deck.v(pins['g'], pins['s'])})-0.3)/2.7")


@emits("boost-coil")
def _boost_coil(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v = part.values
    if deck.setting.rests:
        inside = deck.inner()
        deck.resistor(pins["a"], inside, v["ohms"])
        deck.coil(f"{part.ref}.amps", inside, pins["core"], v["henry"])
        deck.resistor(pins["core"], pins["b"], 1e-3)
        return
    deck.resistor(pins["a"], pins["core"], v["ohms"] + (1e3 if "turns" in v else 0.0))
    deck.lines.append(f".model f{len(deck.lines)} D(IS=1e-5 N=1 CJO=1p)")
    deck.add("D", pins["core"], pins["b"], deck.lines[-1].split()[1])


@emits("boost-fet")
def _boost_fet(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    d, s = pins["d"], pins["s"]
    deck.diode(s, d, 0.85, 1.7)
    if deck.setting.rests:
        return
    deck.resistor(pins["g"], s, 1e7)
    if deck.on(part, "shoots"):
        deck.resistor(d, s, 5.0)
    w = f"max(0,{deck.v(d, s)})"
    fade = ramp(f"((650-({deck.v(d, s)}))/65)")
    vin = f"max(0,{deck.v(pins['core'], s)})"
    taken, given = _moved(deck, vin, _drive(deck, pins), part.values["siemens"], 0.95, fade, w, 30.0)
    deck.current(pins["core"], s, taken)
    deck.current(s, d, given)


@emits("bridge-fet")
def _bridge_fet(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    d, s, core = pins["d"], pins["s"], pins["core"]
    deck.diode(s, d, 0.85, 1.7)
    if deck.setting.rests:
        return
    deck.resistor(pins["g"], s, 1e7)
    deck.resistor(core, "0", 1e6)
    if deck.on(part, "shoots"):
        deck.resistor(d, s, 5.0)
        return
    way = loop_ohms(deck.parts, part) < 1e3
    w = f"max(0,v({core}))"
    fade = ramp(f"((14-v({core}))/1.4)")
    siemens = part.values["siemens"] if way else 1e-5
    taken, given = _moved(deck, f"max(0,{deck.v(d, s)})", _drive(deck, pins), siemens, 0.93, fade, w, 1.0)
    deck.current(d, s, taken)
    if way:
        deck.add("B", "0", core, f"I={given}")


def _short(part: Fitted, p: str, q: str) -> float:
    return min([r for a, b, r in part.across if {a, b} == {p, q}], default=math.inf)


def loop_ohms(parts: Iterable[Fitted], fet: Fitted) -> float:
    """What the transistor sees from drain to source at the look: its twin, or primary and resonant capacitor in series."""
    parts = tuple(parts)
    twin = next((p for p in parts if p.family == "bridge-fet" and p.ref != fet.ref
                 and {p.pins["d"], p.pins["s"]} & {fet.pins["d"], fet.pins["s"]}), None)
    beside = _short(twin, "d", "s") if twin else math.inf
    stage = next((p for p in parts if p.family == "bridge-transformer" and p.pins["core"] == fet.pins["core"]), None)
    if stage is None:
        return beside
    round_it = stage.values["rp"] + sum(stage.legs.get(pin, 0.0) for pin in ("p+", "p-"))
    tank = [p for p in parts if p.family == "capacitor" and stage.pins["p-"] in p.pins.values()]
    for cap in tank:
        reactance = 1.0 / (2 * math.pi * LOOK * cap.values["farads"])
        round_it = math.hypot(round_it, min(reactance, _short(cap, "a", "b")))
    return min(beside, round_it if tank else OPEN)


@emits("bridge-transformer")
def _bridge_transformer(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, core = part.values, pins["core"]
    deck.resistor(pins["p+"], pins["p-"], v["rp"])
    if deck.setting.rests:
        deck.resistor(pins["s1"], pins["ct"], v["rs"])
        deck.resistor(pins["s2"], pins["ct"], v["rs"])
        deck.resistor(core, "0", 200e6)
        return
    deck.capacitor(f"{part.ref}.core", core, "0", 100e-6, slow=False)
    for end in ("s1", "s2"):
        _half(deck, pins[end], pins["ct"], core, v["out"] / 10.0, v["rs"] + part.legs.get(end, 0.0))
    shorted = any(p.family == "diode" and _short(p, "a", "k") < 10.0 and {part.pins["s1"], part.pins["s2"]} & set(p.pins.values())
                  for p in deck.parts)
    if "turns" in v or shorted:
        deck.resistor(core, "0", 5e-3)


def _half(deck: Deck, end: str, ct: str, core: str, ratio: float, ohms: float) -> None:
    """One conductance between ratio x core and the half; what flows in it, times the ratio, comes out of the core."""
    amps = f"({ratio:.9g}*v({core})-({deck.v(end, ct)}))/{ohms:.9g}"
    deck.current(ct, end, amps)
    deck.add("B", core, "0", f"I={ratio:.9g}*{amps}")


def _supplied(deck: Deck, part: Fitted, pins: Mapping[str, str], runs: bool) -> None:
    v = part.values
    deck.current(pins["vcc"], pins["gnd"], f"{v['run'] if runs else v['start']:.9g}*{wake(deck.v(pins['vcc'], pins['gnd']), 1.2)}")


def _trip(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> str:
    trip = part.values["trip"]
    return f"1/(1+exp(max(-40,min(40,(({deck.v(pins['sense'], pins['gnd'])})-{trip:.6g})/{0.04 * trip:.6g}))))"


def _gate(deck: Deck, pin: str, low: str, mean: str) -> None:
    drive = deck.inner()
    deck.add("B", drive, low, f"V={mean}")
    deck.resistor(drive, pin, 10.0)


@emits("pfc-controller")
def _pfc_controller(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, g = part.values, pins["gnd"]
    if deck.setting.rests:
        deck.resistor(pins["gate"], g, 1e5)
        return
    runs = bool(deck.on(part, "runs")) and "dead" not in v
    _supplied(deck, part, pins, runs)
    knee = 0.02585 * math.log(5e-3 / 1e-18)
    low = deck.inner()
    deck.add("V", low, g, 6.0 - knee)
    deck.lines.append(f".model z{len(deck.lines)} D(IS=1e-18 N=1 CJO=1p)")
    deck.add("D", pins["fb"], low, deck.lines[-1].split()[1])
    if not runs:
        deck.resistor(pins["gate"], g, 10.0)
        return
    level = ramp(f"(({v['ref'] + 0.05:.9g}-({deck.v(pins['fb'], g)}))/0.06)")
    _gate(deck, pins["gate"], g, f"3.0*{level}*{_trip(deck, part, pins)}")


@emits("llc-controller")
def _llc_controller(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, g = part.values, pins["gnd"]
    if deck.setting.rests:
        deck.resistor(pins["lo"], g, 1e5)
        deck.resistor(pins["ho"], pins["vs"], 1e5)
        return
    runs = bool(deck.on(part, "runs")) and "dead" not in v
    _supplied(deck, part, pins, runs)
    deck.resistor(pins["bulk"], g, 100e6)
    if not runs:
        deck.resistor(pins["lo"], g, 10.0)
        deck.resistor(pins["ho"], pins["vs"], 10.0)
        deck.resistor(pins["fb"], g, 5e3)
        return
    five = deck.inner()
    deck.add("V", five, g, 5.0)
    deck.resistor(five, pins["fb"], 5e3)
    asked = deck.v(pins["fb"], g)
    level = f"3.0*{ramp(f'(({asked})-0.8)/2.4')}"
    _gate(deck, pins["lo"], g, f"{level}*{_trip(deck, part, pins)}")
    _gate(deck, pins["ho"], pins["vs"], level)


@emits("standby")
def _standby(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v = part.values
    if deck.setting.rests:
        deck.resistor(pins["s+"], pins["s-"], 1e6)
        deck.resistor(pins["v+"], pins["v-"], 1e6)
        return
    on = bool(deck.on(part, "runs", 1.0)) and "dead" not in v
    if on:
        vin = deck.v(pins["in+"], pins["in-"])
        deck.current(pins["in+"], pins["in-"], f"{v['watts']:.6g}/max(1,{vin})*(1-exp(-min(80,max(0,({vin})/40)^4)))")
    _held(deck, pins["s+"], pins["s-"], v["volts"] if on else 0.0, 0.02 if on else 1e4)
    feeds = on and "no-aux" not in v
    _held(deck, pins["v+"], pins["v-"], v["aux"] if feeds else 0.0, 5.0 if feeds else 1e5)


def _held(deck: Deck, plus: str, minus: str, volts: float, ohms: float) -> None:
    inside = deck.inner()
    deck.add("V", inside, minus, float(volts))
    deck.resistor(inside, plus, ohms)
