"""Emitters of the class-D stage and of the supply with two rails, built from docs/families.md."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping

from .active import ramp, wake
from .deck import Deck, emits
from .fitted import Fitted

LOOK = 100e3  # the page looks at 100 kHz [Hz]
SAGS, LOW_ONLY = 2.0, 3.0


@emits("class-d-fet")
def _class_d_fet(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    d, s, core = pins["d"], pins["s"], pins["core"]
    deck.diode(s, d, 0.85, 1.7)
    if deck.setting.rests:
        return
    deck.resistor(pins["g"], s, 1e7)
    deck.resistor(core, "0", 1e6)
    if deck.on(part, "shoots"):
        deck.resistor(d, s, 0.5)
        return
    x, v, w = ramp(f"(({deck.v(pins['g'], s)})-0.3)/2.7"), f"max(0,{deck.v(d, s)})", f"max(0,v({core}))"
    taken = f"{part.values['siemens']:.9g}*{x}*{v}"
    deck.current(d, s, taken)
    deck.add("B", "0", core, f"I={taken}*{v}*({w}+1e-3)/({w}*{w}+1e-6)")


def loop_ohms(parts: Iterable[Fitted], fet: Fitted) -> float:
    """What else the transistor sees from drain to source at the look: its twin if that is short, else coil and filter."""
    ends = {fet.pins["d"], fet.pins["s"]}
    seen = math.inf
    for part in parts:
        if part.family == "class-d-fet" and part.ref != fet.ref and ends & {part.pins["d"], part.pins["s"]}:
            seen = min(seen, *(r for a, b, r in part.across if {a, b} == {"d", "s"}), math.inf)
        if part.family == "inductor" and ends & set(part.pins.values()):
            seen = min(seen, 2 * math.pi * LOOK * part.values["henry"])
    return seen


@emits("class-d-driver")
def _class_d_driver(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, com, vs = part.values, pins["com"], pins["vs"]
    if deck.setting.rests:
        deck.resistor(pins["feed"], pins["boot"], 1e-3)
        deck.resistor(pins["lo"], com, 1e5)
        deck.resistor(pins["ho"], vs, 1e5)
        return
    state = deck.on(part, "runs")
    runs = state > 0.0 and "dead" not in v
    deck.current(pins["vcc"], com, f"{v['run'] if runs else v['start']:.9g}*{wake(deck.v(pins['vcc'], com), 1.2)}")
    deck.current(pins["boot"], vs, f"0.6e-3*{wake(deck.v(pins['boot'], vs), 1.2)}")
    _coupled(deck, (pins["feed"], com), (pins["boot"], vs), 0.75 if state == SAGS else 1.0, 2.0)
    core = pins["core"]
    deck.capacitor(f"{part.ref}.core", core, "0", 10e-6, slow=False)
    _coupled(deck, (core, "0"), (pins["rail"], com), 9.0, 0.01)
    five = deck.inner()
    deck.add("V", five, com, 5.0)
    deck.resistor(five, pins["mute"], 200e3)
    off = deck.v(vs, pins["ref"])
    for gate, low, sign, on in ((pins["ho"], vs, "-", runs and state != LOW_ONLY), (pins["lo"], com, "+", runs)):
        if not on:
            deck.resistor(gate, low, 10.0)
            continue
        drive = deck.inner()
        level = ramp(f"(0.5{sign}({off}))")
        deck.add("B", drive, low, f"V=3.0*{level}")
        deck.resistor(drive, gate, 10.0)


def _coupled(deck: Deck, port: tuple[str, str], winding: tuple[str, str], ratio: float, ohms: float) -> None:
    """One conductance between ratio x port and winding; what flows in it, times the ratio, is drawn from the port."""
    amps = f"({ratio:.9g}*({deck.v(*port)})-({deck.v(*winding)}))/{ohms:.9g}"
    deck.current(winding[1], winding[0], amps)
    deck.current(port[0], port[1], f"{ratio:.9g}*{amps}")


@emits("split-supply")
def _split_supply(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, zero = part.values, pins["0"]
    if deck.setting.rests:
        deck.resistor(pins["p"], zero, 1e6)
        deck.resistor(pins["m"], zero, 1e6)
        return
    on = bool(deck.on(part, "runs", 1.0)) and "dead" not in v
    if on:
        vin = deck.v(pins["in+"], pins["in-"])
        deck.current(pins["in+"], pins["in-"], f"{v['watts']:.6g}/max(1,{vin})*(1-exp(-min(80,max(0,({vin})/50)^4)))")
    for end, sign, lost in (("p", 1.0, "p_open"), ("m", -1.0, "m_open")):
        there = on and lost not in v
        stiff, raw = deck.inner(), deck.inner()
        deck.add("V", stiff, zero, sign * (v["volts"] + 3.0) if there else 0.0)
        deck.resistor(stiff, raw, 0.05 if there else 1e5)
        _regulated(deck, raw, pins[end], zero, sign, v)
        deck.resistor(pins[end], zero, 1e5)
        high, low = (pins[end], zero) if sign > 0 else (zero, pins[end])
        deck.current(high, low, f"5e-3*exp(max(-60,min(40,(({deck.v(high, low)})-{1.25 * v['volts']:.9g})/0.02585)))")


def _regulated(deck: Deck, i: str, o: str, g: str, sign: float, v: Mapping[str, float]) -> None:
    vin, vout = f"({sign:g}*({deck.v(i, g)}))", f"({sign:g}*({deck.v(o, g)}))"
    deck.current(i, g, f"{sign:g}*1e-3*{wake(vin, v['volts'])}")
    head = f"({vin}-0.5)"
    target = f"min({v['volts']:.9g},max(0,{head})+0.05*ln(1+exp(-abs({head})/0.05)))"
    deck.current(i, o, f"{sign:g}*max(0,min({1.5 * v['amps']:.6g},(({target})-{vout})/0.05))")
