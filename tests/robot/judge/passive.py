"""Emitters of the families that only carry, store, transform or rectify."""

from __future__ import annotations

import math
from collections.abc import Mapping

from .deck import VT, Deck, emits
from .fitted import OPEN, Fitted


def tungsten(volts: float, watts: float, rms: float) -> float:
    """Ohms of a filament at these rms volts: R ~ V^0.45, not below 1/13 of the hot ohms."""
    return float(volts**2 / watts * max(1.0 / 13.0, (max(rms, 0.0) / volts) ** 0.45))


@emits("lead", "switch", "fuse", "thermal-link", "stat", "heater", "connector", "joint", "fusible", "wirewound",
       "composition", "cut-off-resistor")
def _plain(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.resistor(pins["a"], pins["b"], OPEN if deck.on(part, "blown") else part.values["ohms"])


@emits("resistor")
def _resistor(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.resistor(pins["a"], pins["b"], OPEN if deck.on(part, "blown") else part.values["ohms"])


@emits("trimmer", "pot")
def _trimmer(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, place = part.values, deck.inner()
    at = min(0.999, max(0.001, v["at"]))
    deck.resistor(pins["a"], place, v["ohms"] * at)
    deck.resistor(place, pins["b"], v["ohms"] * (1.0 - at))
    deck.resistor(place, pins["w"], v["contact"])


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
    warm = part.values["hot"] if deck.setting.live and part.values["ohms"] < 1e3 else 1.0
    deck.resistor(pins["a"], pins["b"], part.values["ohms"] * warm)


@emits("varistor")
def _varistor(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    # CHOICE: a power law that carries 1 mA at the clamp volts; the page gives the clamp volts only.
    a, b, clamp = pins["a"], pins["b"], 1.55 * part.values["volts"]
    v = f"({deck.v(a, b)})"
    deck.current(a, b, f"{v}/2e8+1e-3*({v}/{clamp:.6g})*abs({v}/{clamp:.6g})^29")


@emits("capacitor", "ceramic", "x-cap", "y-cap")
def _capacitor(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.capacitor(part.ref, pins["a"], pins["b"], part.values["farads"], slow=False)
    deck.resistor(pins["a"], pins["b"], part.values["leak"])


@emits("ptc")
def _ptc(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    hot = deck.on(part, "hot") and deck.setting.live
    deck.resistor(pins["a"], pins["b"], max(200.0 / part.values["amps"], part.values["ohms"]) if hot else part.values["ohms"])


@emits("tvs")
def _tvs(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    both = "bidirectional" in part.tags
    mid, volts = deck.inner(), part.values["volts"]
    deck.resistor(pins["a"], mid, 0.75 * volts**2 / part.values["watts"])
    far = deck.inner() if both else pins["k"]
    _suppressor(deck, mid, far, 1.17 * volts - (0.75 if both else 0.0))
    if both:
        _suppressor(deck, pins["k"], far, 1.17 * volts - 0.75)
        deck.resistor(far, pins["k"], 1e9)


def _suppressor(deck: Deck, a: str, k: str, starts: float) -> None:
    """A junction that carries 5 mA backwards at `starts`, an e-fold more every kT/q."""
    deck.lines.append(f".model s{len(deck.lines)} D(IS=1e-13 N=1.05 CJO=1p)")
    deck.add("D", a, k, deck.lines[-1].split()[1])
    low, knee = deck.inner(), VT * math.log(5e-3 / 1e-18)
    deck.add("V", k, low, float(starts - knee))
    deck.lines.append(f".model s{len(deck.lines)} D(IS=1e-18 N=1 CJO=1p)")
    deck.add("D", low, a, deck.lines[-1].split()[1])


@emits("led")
def _led(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, mid = part.values, deck.inner()
    chips = max(1, round(v["drop"] / 3.1))
    deck.resistor(pins["a"], mid, 0.1 * chips / v["amps"])
    deck.diode(mid, pins["k"], v["drop"] - 0.1 * chips, 2.0 * chips, v["amps"])


@emits("bench-supply")
def _bench_supply(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    if deck.setting.live:
        plus, v = deck.v(pins["+"], pins["-"]), part.values
        deck.current(pins["-"], pins["+"], f"max(0,min({v['amps']:.9g},({v['volts']:.9g}-{plus})/0.05))")


@emits("battery")
def _battery(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    if deck.setting.live:
        cell = deck.inner()
        deck.add("V", cell, pins["-"], float(part.values["volts"]))
        deck.resistor(cell, pins["+"], part.values["ohms"])


@emits("electrolytic", "tantalum")
def _electrolytic(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    inside = deck.inner()
    deck.resistor(pins["+"], inside, part.values["esr"])
    deck.capacitor(part.ref, inside, pins["-"], part.values["farads"], slow=part.values["farads"] > 0.8e-6)
    deck.resistor(pins["+"], pins["-"], part.values["leak"])


@emits("inductor", "motor")
def _coil(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    inside = deck.inner()
    deck.resistor(pins["a"], inside, part.values["ohms"])
    deck.coil(f"{part.ref}.amps", inside, pins["b"], part.values["henry"])


@emits("choke")
def _choke(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.resistor(pins["a1"], pins["a2"], part.values["ohms"])
    deck.resistor(pins["b1"], pins["b2"], part.values["ohms"])


def winding(deck: Deck, ends: tuple[str, str], ohms: float, source: str, ratio: float, back: tuple[str, str]) -> None:
    """An ideal winding at `ratio` times the volts `source`, behind its ohms; its current, in that ratio, loads `back`."""
    top, mid = deck.inner(), deck.inner()
    deck.resistor(ends[0], top, ohms)
    deck.add("B", top, mid, f"V={ratio:.9g}*{source}")
    sense = deck.add("V", mid, ends[1], 0.0)
    deck.add("F", back[0], back[1], sense, -float(ratio))


@emits("transformer")
def _transformer(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, behind = part.values, deck.inner()
    deck.resistor(pins["p1"], behind, v["rp"])
    deck.coil(f"{part.ref}.amps", behind, pins["p2"], v["mag"])
    if "turns" in v:
        deck.resistor(behind, pins["p2"], v["turns"])
    volts = deck.v(behind, pins["p2"])
    winding(deck, (pins["s1"], pins["s2"]), v["rs"], volts, v["out"] / v["volts"], (behind, pins["p2"]))


@emits("split-transformer")
def _split_transformer(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, behind = part.values, deck.inner()
    deck.resistor(pins["p1"], behind, v["rp"])
    deck.coil(f"{part.ref}.amps", behind, pins["p2"], v["mag"])
    if "turns" in v:
        deck.resistor(behind, pins["p2"], v["turns"])
    for ends in (("s1", "ct"), ("ct", "s2")):
        volts = deck.v(behind, pins["p2"])
        winding(deck, (pins[ends[0]], pins[ends[1]]), v["rs"], volts, v["out"] / v["volts"], (behind, pins["p2"]))


@emits("diode")
def _diode(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.diode(pins["a"], pins["k"], part.values["drop"], part.values["ideality"])


@emits("bridge")
def _bridge(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    legs = ((1, "~1", "+"), (2, "~2", "+"), (3, "-", "~1"), (4, "-", "~2"))
    model = deck.junction(part.values["drop"], part.values["ideality"], 1.0)
    for number, a, k in legs:
        if f"open{number}" not in part.values:
            deck.add("D", pins[a], pins[k], model)


@emits("zener")
def _zener(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    # `volts` is the whole drop at 5 mA, slope included, as makers' sheets state it. A small saturation current keeps the backward
    # branch from being a current source on a dead rail.
    a, k, volts, slope = pins["a"], pins["k"], part.values["volts"], part.values["ohms"]
    knee = VT * math.log1p(5e-3 / 1e-15)
    inside, mid = deck.inner(), deck.inner()
    deck.resistor(a, inside, slope)
    deck.diode(inside, k, 0.8125, 1.05)  # 0.63 V on a diode test
    deck.add("V", k, mid, float(volts - 5e-3 * slope - knee))
    deck.add("D", mid, inside, deck.junction(knee, 1.0, 5e-3))


@emits("npn", "pnp")
def _transistor(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    name = f"q{len(deck.lines)}"
    kind = part.family.upper()
    deck.lines.append(f".model {name} {kind}(IS={1e-14 * part.values['size']:.6g} BF={part.values['gain']:.6g} BR=2 CJE=10p CJC=10p)")
    deck.add("Q", pins["c"], pins["b"], pins["e"], pins["e"], name)  # substrate on the emitter: no leak to node 0


@emits("lamp")
def _lamp(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.resistor(pins["a"], pins["b"], tungsten(part.values["volts"], part.values["watts"], deck.on(part, "rms")))

def rising(x: str) -> str:
    """x while small, 1 when large, with a soft corner; below zero the same slope, limited."""
    held = f"max(-1,min(20,{x}))"
    return f"({held}/(1+max(0,{held})^8)^0.125)"


@emits("resistive-load")
def _resistive(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    deck.resistor(pins["+"], pins["-"], part.values["ohms"])


@emits("power-load")
def _constant_power(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    a, b, v = pins["+"], pins["-"], part.values
    if deck.setting.rests:
        deck.resistor(a, b, v["idle"])
    elif v["watts"] > 0:  # 1e-6 V keeps the quotient defined on a dead rail
        x = f"({deck.v(a, b)})"
        deck.current(a, b, f"{v['watts']:.9g}*{x}/({x}*{x}+1e-12)*(1-exp(-min(80,({x}/{0.5 * v['volts']:.9g})^4)))")


@emits("load")
def _load(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    a, b, v = pins["+"], pins["-"], part.values
    if deck.setting.rests:
        deck.resistor(a, b, v["idle"])
    elif v["amps"] > 0:
        deck.current(a, b, f"{v['amps']:.9g}*" + rising(f"({deck.v(a, b)})/{0.6 * v['volts']:.9g}"))
