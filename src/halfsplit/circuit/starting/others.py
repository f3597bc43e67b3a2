"""What tells the starting sheets apart by eye, and how the size and the places of one are called on another.

All of it is data for a technician who began from the wrong sheet: marks he can see with the set unplugged (common practice).
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass

from halfsplit.circuit.model import Circuit
from halfsplit.circuit.starting import STARTS, Start
from halfsplit.circuit.starting.sizes import nearest
from halfsplit.circuit.starting.words import clauses

# Rails that supplies are made for [V]; one step up or down is the likeliest slip in a size (common practice).
RAILS = (3.3, 5.0, 6.0, 7.5, 9.0, 12.0, 15.0, 18.0, 24.0, 30.0, 36.0, 48.0)
OUT = r"(?<![\w./])[-+]?\d+(?:\.\d+)? ?V(?![A-Za-z0-9/])"


@dataclass(frozen=True)
class Marks:
    """One starting sheet. seen: feature -> what the eye finds, telling ones first. lines: how it is called, with {v} and {a}
    for output volts and amps. out, raw: (place, pin) of the output and of what is rectified first. amps: what such an output
    may give where the line doesn't say it [A]: small and large parts are read otherwise. watts: of units that are built so."""

    seen: Mapping[str, str]
    lines: tuple[str, ...]
    out: tuple[str, str]
    raw: tuple[str, str]
    amps: tuple[float, ...] = (1.0,)
    watts: tuple[float, float] = (0.0, math.inf)


MARKS: Mapping[str, Marks] = {
    "dropper": Marks(
        {
            "dropper": "a film capacitor of 0.2 to 3 uF, X2, in series with the line, and a resistor of some 470k across it",
            "zener rail": "a zener of half a watt to 5 W across the first electrolytic, no regulator before it",
            "no transformer": "no transformer of any kind between the plug and the low volts",
        },
        ("dropper, {v}V relay board", "dropper, {v}V, no relay"),
        ("zener", "k"),
        ("rail-cap", "+"),
    ),
    "linear": Marks(
        {
            "iron transformer": "an iron transformer, heavy for its size, with its primary on the mains",
            "three legs": "a three-legged regulator, mostly on a heatsink, between two electrolytics",
            "low bridge": "a bridge or four diodes on the low side, and no capacitor of 200 V or more",
        },
        ("linear {v}V {a}A",),
        ("regulator", "out"),
        ("reservoir", "+"),
        (0.1, 1.0),
    ),
    "flyback": Marks(
        {
            "bulk": "an electrolytic of 200 to 450 V behind a bridge on the mains",
            "ferrite": "a small transformer with a ferrite core and yellow tape, an optocoupler beside it across the gap",
            "switch": "a switch (fet) on a heatsink on the mains side, and a vcc winding with its diode and 22 to 100 uF",
        },
        ("flyback with controller; out {v}V {a}A",),
        ("out-cap", "+"),
        ("bulk-cap", "+"),
        watts=(0.0, 250.0),
    ),
    "integrated switch": Marks(
        {
            "one package": "one package of few legs on the mains side, its drain leg apart, no fet and no second chip beside it",
            "no vcc": "no vcc winding: a capacitor of 0.1 to 47 uF at the chip, and no start-up resistor",
            "ferrite": "a small transformer with a ferrite core and yellow tape, an optocoupler beside it across the gap",
        },
        ("flyback with integrated switch; out {v}V {a}A",),
        ("out-cap", "+"),
        ("bulk-cap", "+"),
        watts=(0.0, 75.0),
    ),
    "PFC and half-bridge": Marks(
        {
            "bulk 450": "one electrolytic of 420 to 450 V, and the bridge before it has only a small film capacitor",
            "coil": "a coil on a ring or ferrite core, a FET and a fast diode on a heatsink between bridge and bulk",
            "string": "two to four resistors of 0.5 to 1 M in a row from the bulk",
        },
        ("PFC and half-bridge; out {v}V {a}A",),
        ("out-cap", "+"),
        ("bulk-cap", "+"),
        (10.0,),
        watts=(75.0, math.inf),  # under 75 W nothing asks for a boost stage (the limit of the harmonics standard, recalled)
    ),
    "class-D amplifier": Marks(
        {
            "coil": "a coil of some 20 uH and a film capacitor of 0.5 to 1 uF before the loudspeaker's terminals",
            "pair": "two equal FETs in a row between the rails, a driver chip with an electrolytic of 1 to 22 uF beside it",
            "rails": "two equal electrolytics of 1000 uF and more, one for either rail",
        },
        ("class-D amplifier",),
        ("supply", "p"),
        ("bulk-cap", "+"),
    ),
    "self-oscillating": Marks(
        {
            "no chip": "no chip at all on the mains side: a transistor, a smaller one beside it, and a handful of resistors",
            "fusible": "a fusible resistor in place of the fuse, and a bulk capacitor of 2 to 10 uF",
            "ferrite": "a small transformer with a ferrite core and yellow tape, an optocoupler beside it across the gap",
        },
        ("self-oscillating flyback; out {v}V",),
        ("out-cap", "+"),
        ("bulk-cap", "+"),
    ),
    "series chain": Marks(
        {
            "wires": "mains wires and crimped terminals straight to the heater or motor, hardly any board",
            "link": "a thermal link or bimetal on the heater itself",
            "no rail": "no low-volt board beyond that of a relay",
        },
        ("series chain: fuse, link, contact, heater", "series chain: fuse, link, relay {v}V, heater"),
        ("relay", "c+"),
        ("reservoir", "+"),
    ),
    "phase control": Marks(
        {
            "triac": "a triac with three legs, mostly on a heatsink, and wires straight to a motor, lamp or heater",
            "timing": "a pot or slide, a film capacitor of 47 to 220 nF and a small glass diode without a band (the diac)",
            "no rail": "no electrolytic and no chip anywhere",
        },
        ("phase control; motor",),
        ("triac", "t1"),
        ("triac", "t2"),
    ),
    "class-AB amplifier": Marks(
        {
            "heatsink": "pairs of power transistors on a large heatsink, each with a resistor of 0.1 to 0.47 ohm at its emitter",
            "two reservoirs": "two large electrolytics of equal size behind one bridge, the transformer's middle on their joint",
            "speaker": "terminals for a speaker, mostly behind a relay",
        },
        (),  # nobody takes an amplifier for something else: it is not offered in another sheet's place
        ("speaker", "+"),
        ("plus-reservoir", "+"),
    ),
    "LED driver": Marks(
        {
            "string": "LEDs in a row on a metal plate, two wires from the driver to them",
            "no transformer": "a drum coil with two legs and no transformer, no optocoupler across a gap",
            "small bulk": "a bridge and an electrolytic of 2 to 10 uF, 400 V (200 V on 120 V), a chip of seven or eight legs",
        },
        ("LED driver",),
        ("out-cap", "+"),
        ("bulk-cap", "+"),
        watts=(0.0, 100.0),
    ),
    "lab supply": Marks(
        {
            "knobs": "a knob for volts and one for amps, two or more large transistors on a heatsink, each with its ballast resistor",
            "tap relay": "a relay between the taps of the transformer and the bridge",
            "aux": "a second small bridge with its own electrolytic and a 12 V regulator",
        },
        (),  # nobody takes a bench supply for something else
        ("out-cap", "+"),
        ("reservoir", "+"),
    ),
    "LED boost": Marks(
        {
            "strip": "LEDs on strips or a panel behind a diffuser, one connector to the board",
            "adapter": "a plug-in adapter or a 12 to 24 V feed, nothing of the mains on the board",
            "coil": "a coil of some 20 uH, a Schottky and ceramics of 50 to 100 V close to one chip",
        },
        ("LED boost; adapter 12V; out 37V 180mA",),
        ("out-cap", "a"),
        ("in-cap", "+"),
    ),
    "power tree": Marks(
        {
            "low volts in": "a 12 or 24 V feed from an adapter or a closed module, a polyfuse behind it",
            "two steps": "a coil with a chip for 5 V, a three-legged part for 3.3 V after it",
            "micro": "a micro with its crystal, many 100 nF around it",
        },
        ("power tree 12V, 5V 1A, 3.3V 0.5A",),
        ("5V-cap", "+"),
        ("in-cap", "+"),
    ),
}


def start_of(line: str) -> Start | None:
    """The starting sheet that a line calls, None where it calls none or several."""
    bare = re.sub(r"\([^)]*\)", " ", line)
    hits = [s for s in STARTS.values() if re.search(rf"(?<![\w-])(?:{s.said})(?![\w-])", bare, re.IGNORECASE)]
    return hits[0] if len(hits) == 1 else None


def size_of(line: str) -> tuple[float | None, float | None]:
    """Output volts [V] and amps [A] of a start line, None where it says none. A controller's 16/10 V is no output."""
    for clause in clauses(line):
        size = next((s for s in clause.sizes if s.kind == "volts" and s.second is None), None)
        if size is not None and not clause.has("second"):
            return size.value, clause.size("amps")
    return None, None


def other_lines(line: str, watts: float | None = None) -> tuple[str, ...]:
    """Start lines that might be meant instead: the other sheets with the sizes carried over, and this one a step up or down.

    watts: of the unit; sheets that nobody would build it by are left out.
    """
    here = start_of(line)
    if here is None:
        return ()
    volts, amps = size_of(line)
    v = f"{12.0 if volts is None else volts:g}"
    out = [
        text.format(v=v, a=f"{a:g}")
        for name, marks in MARKS.items()
        if name != here.name and (watts is None or marks.watts[0] <= watts <= marks.watts[1])
        for text in marks.lines
        for a in (marks.amps if amps is None else (amps,))
    ]
    # without relay or with it, on the sheet itself
    if here.name == "dropper":
        out += [text.format(v=v) for text in MARKS[here.name].lines if ("no relay" in text) != ("no relay" in line)]
    if volts is not None:
        at = RAILS.index(nearest(volts, RAILS))
        out += [_resized(line, RAILS[k]) for k in (at - 1, at + 1) if 0 <= k < len(RAILS)]
    return tuple(dict.fromkeys(out))


def _resized(line: str, volts: float) -> str:
    """The same line with other output volts; what was assumed from the old ones goes."""
    bare = re.sub(r"\([^)]*\)", " ", line).strip()
    return re.sub(OUT, f"{volts:g}V", bare, count=1)


def translation(here: Circuit, there: Circuit) -> dict[str, str]:
    """Word -> word: how output and first reservoir of one sheet are called on the other. Words that exist there stay."""
    a, b = start_of(here.start), start_of(there.start)
    if a is None or b is None:
        return {}
    known = {*there.nets, *there.names}
    out: dict[str, str] = {}
    for old, new in ((MARKS[a.name].raw, MARKS[b.name].raw), (MARKS[a.name].out, MARKS[b.name].out)):
        if old[0] in here.names and new[0] in there.names:
            out[here.part(old[0]).pins[old[1]]] = there.part(new[0]).pins[new[1]]
    out[MARKS[a.name].raw[0]] = MARKS[b.name].raw[0]
    return {old: new for old, new in out.items() if old not in known}


def by_eye(here: str, there: str, most: int = 3) -> tuple[str, ...]:
    """What to look for that `there` has and `here` has not; both start lines."""
    a, b = start_of(here), start_of(there)
    if a is None or b is None:
        return ()
    if a is b:
        return ("what is printed at the output and on the regulating part", "the working volts of the output's electrolytic")
    return tuple(MARKS[b.name].seen.values())[:most]
