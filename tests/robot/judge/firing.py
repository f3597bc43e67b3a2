"""Emitters of what is fired within a half-cycle: diac, triac, and the pot that a pedal moves; built from docs/families.md.

Time runs here as it does on a board: the diac breaks over, its capacitor goes into the gate within microseconds, the triac latches. Nothing is
averaged, and no moment is looked for. A latch is two of the simulator's switches, which remember how they
stand, one for either way, each with a rectifier behind it (0.1 V).
"""

from __future__ import annotations

from collections.abc import Mapping

from .deck import Deck, emits
from .fitted import Fitted

TAKES = 1e-6  # of turning on and off [s]


def _latch(deck: Deck, a: str, b: str, seen: str, fires: float, hold: float, keep: float = 0.0) -> None:
    """Conducts from a to b once `seen` is above `fires`, dropping `keep`, until less than `hold` flows."""
    name = f"l{len(deck.lines)}"
    deck.lines.append(f".model s{name} SW(VT=0.5 VH=0.4 RON=0.045 ROFF=1e9)")
    deck.lines.append(f".model d{name} D(IS=1e-9 N=0.3 RS=0.005)")
    sensed, closed, behind, ask, told = (deck.inner() for _ in range(5))
    sense = deck.add("V", a, sensed, 0.0)
    deck.lines.append(f"S{name} {sensed} {closed} {told} 0 s{name} OFF")
    deck.add("D", closed, behind, f"d{name}")
    deck.add("V", behind, b, keep)
    fire = f"min(1,max(0,(({seen})-{fires:.6g})/{0.01 * fires:.6g}))"
    carries = f"min(1,max(0,(i({sense})-{hold:.6g})/{0.1 * hold:.6g}))"
    deck.add("B", ask, "0", f"V=max({fire},0.5*{carries})")
    deck.resistor(ask, told, 1e3)
    deck.add("C", told, "0", TAKES / 1e3)
    if not deck.setting.rests:
        deck.add("C", a, b, 10e-12)


@emits("diac")
def _diac(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    a, b, volts = pins["a"], pins["b"], part.values["volts"]
    if deck.setting.rests or "dead" in part.values:
        return
    for one, two in ((a, b), (b, a)):
        _latch(deck, one, two, deck.v(one, two), volts, 1e-3, 0.75 * volts)


@emits("triac")
def _triac(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    t1, t2, g, v = pins["t1"], pins["t2"], pins["g"], part.values
    lost = v.get("lost", 0.0)
    latches = any(p.family == "diac" for p in deck.parts) or lost
    closed = not latches and deck.on(part, "fired") and "dead" not in v
    deck.resistor(t2, t1, 0.05 if closed else 1e8)
    deck.resistor(g, t1, 150.0)
    if deck.setting.rests or not latches or "dead" in v:
        return
    for one, two, gone in ((t2, t1, lost > 0.0), (t1, t2, lost < 0.0)):
        if not gone:
            _latch(deck, one, two, f"abs({deck.v(g, t1)})", 0.6, v["hold"])


@emits("slide")
def _slide(deck: Deck, part: Fitted, pins: Mapping[str, str]) -> None:
    v, wiper = part.values, deck.inner()
    pressed = deck.setting.pressed
    at = 0.0 if f"{part.ref}.w" in pressed else v["half"] if f"{part.ref}.b" in pressed else v["at"]
    at = min(max(at, 0.001), 0.999)
    deck.resistor(pins["a"], wiper, at * v["ohms"])
    deck.resistor(wiper, pins["b"], (1.0 - at) * v["ohms"])
    deck.resistor(wiper, pins["w"], v["contact"])
