"""Starting sheet: LED strings fed by a step-up stage from a plug-in adapter, as in backlights and light tables.

Adapter, PTC, input capacitor, coil, chip with its switch, Schottky, output capacitor, over-volt divider; strings side by side on one connector,
their current through one sense resistor. What hangs on the adapter is cold.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import electrolytic, part, standard_ohms
from halfsplit.circuit.starting.led_driver import string
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError
from halfsplit.units_codes import nearest_value

KNOWN = ("adapter", "strings", "string", "out")
FEEDBACK = 0.2  # [V] over the sense resistor (common practice: 0.2 to 0.5)
OVER_VOLTS = 1.23  # reference of the over-volt pin [V]
OVER = 1.22  # over-volt limit over the strings' volts: 45 for 37 (common practice)
DIVIDER_LOW = 9.1e3


@dataclass(frozen=True)
class Wanted:
    """adapter [V], strings [V, A all together], how many side by side."""

    adapter: float
    volts: float
    amps: float
    strings: int
    said: tuple[str, ...]


def read(parts: tuple[Clause, ...]) -> Wanted:
    """Adapter volts stand in the clause that says adapter; the other volts and amps are the strings'."""
    adapter, volts, amps, strings = None, None, None, None
    said: list[str] = []
    for clause in parts:
        count = clause.size("count")
        refuse_leftovers(clause, KNOWN, ("led", "leds", "output"))
        strings = int(count) if count else strings
        if clause.has("adapter"):
            adapter = clause.size("volts")
        else:
            volts, amps = clause.size("volts") or volts, clause.size("amps") or amps
    if adapter is None:
        adapter = 12.0
        said.append("adapter 12V")
    if volts is None:
        volts = 3.0 * adapter
        said.append(f"out {volts:g}V")
    if amps is None:
        amps = 0.18
        said.append(f"{1e3 * amps:g}mA")
    if strings is None:
        strings = 1
        said.append("1 strings")
    if not 1.3 * adapter <= volts <= 8 * adapter:
        raise InputError(f"start: strings of {volts:g} V from {adapter:g} V are not a step-up of this sheet (1.3 to 8 times)")
    if not 0.005 <= amps <= 3 or not 1 <= strings <= 8:
        raise InputError("start: strings take 5 mA to 3 A here, and there are 1 to 8 of them; write out 37V 180mA; 3 strings")
    return Wanted(adapter, volts, amps, strings, tuple(said))


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    want = read(parts)
    front = (
        part("mains", "mains", "L=L N=N", volts=unit.volts, hertz=unit.hertz),
        part("lead", "lead", "a=L b=inlet", {"amps": 10.0}),
    )
    cold = (*_input(want), *_stage(want), *_strings(want))
    everything = (*front, *cold)
    hot = {"L", "N", "inlet"}
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "N", "cold": "0V"},
        cold_claims=frozenset(net for p in cold for net in p.pins.values()) - hot,
        chain=tuple(p.ref for p in everything if p.ref not in ("in-cap", "divider-top", "divider-low", "fb-R")),
        switching=frozenset({"drain"}),
        symptom=symptom,
        start=_told(want),
    )


def in_amps(want: Wanted) -> float:
    """What the stage takes from the adapter [A], at 85 %."""
    return want.volts * want.amps / 0.85 / want.adapter


def _input(want: Wanted) -> tuple[Part, ...]:
    amps = sz.at_least(1.6 * in_amps(want), sz.AMPS)
    return (
        part("adapter", "adapter", "L=inlet N=N +=in -=0V", volts=want.adapter, amps=amps),
        part("ptc", "ptc", "a=in b=supply", amps=amps),
        electrolytic("in-cap", "supply", "0V", 100e-6, 1.5 * want.adapter),
    )


def _stage(want: Wanted) -> tuple[Part, ...]:
    limit = OVER * want.volts
    top = nearest_value(DIVIDER_LOW * (limit / OVER_VOLTS - 1), "E24")
    volts = sz.at_least(1.5 * limit, sz.DIODE_VOLTS)
    amps = float(f"{min(max(4 * in_amps(want), 0.5), 10.0):.2g}")
    ohms = nearest_value(FEEDBACK / want.amps, "E24")
    return (
        part("coil", "inductor", "a=supply b=drain", {"amps": amps}, henry=22e-6, ohms=0.05),
        part("controller", "led-boost", "vin=supply gnd=0V sw=drain fb=fb ovp=ovp back=out", amps=amps, feedback=FEEDBACK, ovp=OVER_VOLTS),
        part("rectifier", "diode", "a=drain k=out", {"volts": volts, "amps": sz.at_least(amps, sz.AMPS)}, ("schottky",)),
        part("out-cap", "ceramic", "a=out b=0V", {"volts": sz.at_least(1.5 * limit, sz.CAP_VOLTS)}, farads=9.4e-6),
        part("divider-top", "resistor", "a=out b=ovp", ohms=top, watts=0.25),
        part("divider-low", "resistor", "a=ovp b=0V", ohms=DIVIDER_LOW, watts=0.25),
        part("sense-R", "resistor", "a=sense b=0V", ohms=ohms, watts=0.5),
        part("fb-R", "resistor", "a=sense b=fb", ohms=standard_ohms(1e3), watts=0.25),
    )


def _strings(want: Wanted) -> tuple[Part, ...]:
    """Connector, track joint at each end of the panel, and every string as one part."""
    own = want.amps / want.strings
    rows = [
        part(p.ref.replace("led-1", f"string-{k}"), p.family, "a=pad+ k=pad-", {}, p.tags, **p.values)
        for k in range(1, want.strings + 1)
        for p in string(1, want.volts, own, "pad+", "pad-")
    ]
    return (
        part("plug-plus", "connector", "a=out b=led+"),
        part("pad-plus", "joint", "a=led+ b=pad+"),
        *rows,
        part("pad-minus", "joint", "a=pad- b=led-"),
        part("plug-minus", "connector", "a=led- b=sense"),
    )


def _told(want: Wanted) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    bits = f"LED boost; adapter {want.adapter:g}V; out {want.volts:g}V {1e3 * want.amps:g}mA; {want.strings} strings"
    return bits + (f" (assumed: {', '.join(want.said)})" if want.said else "")
