"""Starting sheet: phase control, a triac fired part-way through each half-cycle by a diac, with a motor, a lamp or a heater.

Plug - fuse - choke - triac - load - neutral; across the triac its snubber and the phase network: fixed-R, trimmer and the pot that a pedal or knob
moves charge the timing capacitor, whose volts break the diac over into the gate. Everything is hot.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import heater_ohms, mains_in, part
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

LOADS = ("motor", "lamp", "heater")
OPTIONS = ("no choke", "no snubber", "no trimmer")
KNOWN = (*LOADS, *OPTIONS, "press")
SAME = {"element": "heater", "bulb": "lamp", "machine": "motor"}
DEFAULT_WATTS = {"motor": 90.0, "lamp": 300.0, "heater": 500.0}
# A small universal motor at rest: 113 ohm where a 100 W one works on 230 V, 2.0 A locked and 0.4 A running (common practice)
STANDING = 0.21
LAG = 0.28  # reactance of its windings over their ohms at mains frequency (bench estimate)
LOCKED = 1.5  # a fuse that stands a motor held fast, in its amps
HALF, HALF_LOW = 0.38, 0.31  # of the track in use half-way, 230 V and 120 V: a cut of 90 degrees


@dataclass(frozen=True)
class Wanted:
    """What the line asked for. watts [W]; press: word of the control."""

    load: str
    watts: float
    options: frozenset[str]
    press: str | None
    said: tuple[str, ...]


def read(parts: tuple[Clause, ...], unit: Unit) -> Wanted:
    """One load with its watts, options, and what the control is called."""
    load, watts, press, options = None, None, None, set()
    said: list[str] = []
    for clause in parts:
        words = tuple(SAME.get(w, w) for w in clause.words)
        if "press" in words:
            press = next((w for w in words if w != "press"), None)
            continue
        refuse_leftovers(Clause(clause.text, words, clause.sizes), KNOWN)
        found = " ".join(words)
        if found in OPTIONS:
            options.add(found)
            continue
        named = [w for w in words if w in LOADS]
        if len(named) > 1 or (named and load not in (None, named[0])):
            raise InputError(f"start: {clause.text!r} names a second load; this sheet has one, trace the other as a way: run M2 N")
        load, watts = named[0] if named else load, clause.size("watts") or watts
    if load is None:
        load = "motor"
        said.append("motor")
    if watts is None:
        watts = unit.watts if unit.watts > 0 else DEFAULT_WATTS[load]
        said.append(f"{watts:g}W")
    if not 5 <= watts <= 4000:
        raise InputError(f"start: {watts:g} W is no load of this sheet (5 W to 4 kW)")
    return Wanted(load, watts, frozenset(options), press, tuple(said))


def standing_ohms(watts: float, volts: float) -> float:
    """A universal motor's windings, fields and armature in series [ohm], three figures."""
    return float(f"{STANDING * volts**2 / watts:.3g}")


def amps(want: Wanted, unit: Unit) -> float:
    """The most that flows for more than a moment [A rms]: a motor held fast, else the load at full."""
    return want.watts / unit.volts / (STANDING if want.load == "motor" else 1.0)


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    want = read(parts, unit)
    front, load = _front(want, unit), _load(want, unit)
    everything = (*mains_in(unit), *front, *_network(want, unit), *load)
    whole, half = ("pedal" if want.load == "motor" else "full") if want.press is None else want.press, "half"
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "N"},
        controls={whole: {"speed-pot.w": "high"}, half: {"speed-pot.b": "high"}},
        chain=("mains", "lead", *(p.ref for p in front if p.ref not in ("snubber-R", "snubber-C")), *(p.ref for p in load)),
        symptom=symptom,
        start=_told(want),
    )


def _front(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    """Fuse, choke, triac and what stands across it."""
    choke = "no choke" not in want.options
    most, high = amps(want, unit), "chop" if choke else "live"
    steady = LOCKED * most if want.load == "motor" else 1.25 * most
    volts = 600.0 if unit.volts > 160 else 400.0
    snubber = (
        part("snubber-R", "resistor", f"a={high} b=snub", ohms=100.0, watts=0.5),
        part("snubber-C", "x-cap", "a=snub b=run", {"volts": 275.0 if unit.volts > 160 else 250.0}, farads=100e-9),
    )
    return (
        part("fuse", "fuse", "a=inlet b=live", {"volts": 250.0}, ("T",), amps=sz.at_least(steady, sz.FUSE_AMPS)),
        *((part("choke", "inductor", "a=live b=chop", {"amps": sz.at_least(most, sz.AMPS)}, henry=100e-6, ohms=0.15),) if choke else ()),
        part("triac", "triac", f"t2={high} t1=run g=gate", {"amps": sz.at_least(max(2 * most, 8.0), sz.AMPS), "volts": volts}),
        *(() if "no snubber" in want.options else snubber),
    )


def _network(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    """Half the mains, half the pot: then the same timing capacitor breaks over at the same angles (common practice: 470k and 250k)."""
    high, europe = "chop" if "no choke" not in want.options else "live", unit.volts > 160
    trimmed = "no trimmer" not in want.options
    end = "trim" if trimmed else "slow"
    return (
        part("fixed-R", "resistor", f"a={high} b={end}", ohms=4.7e3 if europe else 2.2e3, watts=0.5),
        *((part("trimmer-min", "trimmer", "a=trim b=slow w=slow", ohms=15e3 if europe else 10e3),) if trimmed else ()),
        part("speed-pot", "slide", "a=slow b=time w=time", {"watts": 0.2}, ohms=470e3 if europe else 250e3, half=HALF if europe else HALF_LOW),
        part("timing-C", "capacitor", "a=time b=run", {"volts": 100.0}, farads=100e-9),
        part("diac", "diac", "a=time b=gate", volts=32.0),
    )


def _load(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    if want.load == "heater":
        return (part("heater", "heater", "a=run b=N", {"watts": want.watts}, ohms=heater_ohms(want.watts, unit.volts)),)
    if want.load == "lamp":
        values = {"volts": unit.volts, "ohms": heater_ohms(want.watts, unit.volts)}
        return (part("lamp", "lamp", "a=run b=N", {"watts": want.watts}, **values),)
    ohms = standing_ohms(want.watts, unit.volts)
    henry = float(f"{LAG * ohms / (2 * math.pi * unit.hertz):.2g}")
    return (
        part("motor", "motor", "a=run b=brush", {"watts": want.watts}, ohms=ohms, henry=henry),
        part("brushes", "connector", "a=brush b=N", ohms=0.3),
    )


def _told(want: Wanted) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    bits = [f"phase control; {want.load} {want.watts:g}W", *(o for o in OPTIONS if o in want.options)]
    bits += [f"press {want.press}"] if want.press else []
    return "; ".join(bits) + (f" (assumed: {', '.join(want.said)})" if want.said else "")
