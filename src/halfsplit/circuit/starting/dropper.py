"""Starting sheet: capacitive dropper with relay board. Nothing is isolated; the rail's 0 V hangs on the mains.

Mains - fuse - fusible resistor - dropper - bridge (or diode pair) - zener and rail capacitor - relay, 5 V, micro; the relay's
contact switches a heater through a thermal link.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import (
    MICRO_AMPS,
    QUIESCENT_AMPS,
    electrolytic,
    heater_ohms,
    mains_in,
    part,
    pressed,
    rail_net,
    relay_amps,
    relay_block,
    surge_clamp,
)
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

OPTIONS = ("no relay", "half-wave", "no varistor", "no link")
KNOWN = ("relay", *OPTIONS, "heater", "press")
SPARE = 1.15  # the dropper passes at least this much more than is needed; the zener eats the rest (common practice)
DEFAULT_HEATER_WATTS = 500.0


@dataclass(frozen=True)
class Wanted:
    """What the start line asked for. rail [V], farads [F], heater [W]."""

    rail: float
    farads: float
    heater: float
    options: frozenset[str]
    press: str | None
    said: tuple[str, ...]

    @property
    def relay(self) -> bool:
        return "no relay" not in self.options


def needed_amps(rail: float, relay: bool) -> float:
    """What the rail has to give at most [A]: relay in, driver driven, micro and regulator."""
    return relay_amps(rail) if relay else MICRO_AMPS + QUIESCENT_AMPS


def read(parts: tuple[Clause, ...], unit: Unit) -> Wanted:
    """The sizes and options out of the clauses; what wasn't said gets a default, and is told."""
    rail, farads, heater, press = None, None, None, None
    options: set[str] = set()
    for clause in parts:
        if clause.has("press"):
            press = next((w for w in clause.words if w not in ("press", "relay")), None)
            continue
        refuse_leftovers(clause, KNOWN, ("rail", "capacitor", "capacitive", "link", "varistor", "mov", "hot"))
        options |= {o for o in OPTIONS if clause.has(*o.split())}
        rail, farads = clause.size("volts") or rail, clause.size("farads") or farads
        heater = clause.size("watts") or heater
    said: list[str] = []
    relay = "no relay" not in options
    if rail is None:
        rail = 24.0 if relay else 5.0
        said.append(f"{rail:g}V")
    if rail > 60:
        raise InputError(f"start: a dropper rail of {rail:g} V is past 60 V; write the rail's volts, as dropper, 24V relay board")
    if farads is None:
        farads = sz.dropper_farads(
            SPARE * needed_amps(rail, relay), volts=unit.volts, hertz=unit.hertz, rail=rail, half_wave="half-wave" in options
        )
        said.append(f"dropper-C {farads * 1e6:g}u")
    if relay and heater is None:
        heater = unit.watts if unit.watts > 0 else DEFAULT_HEATER_WATTS
        said.append(f"heater {heater:g}W")
    return Wanted(rail, farads, heater or 0.0, frozenset(options), press, tuple(said))


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    want = read(parts, unit)
    rail = rail_net(want.rail)
    everything = (*_front(want, unit), *_rail(want, unit, rail), *_board(want, rail), *_load(want, unit))
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "0V"},
        controls=pressed(symptom, want.press) if want.relay else {},
        chain=_chain(everything),
        symptom=symptom,
        start=_text(want),
    )


def _linked(want: Wanted) -> bool:
    return "no link" not in want.options


def _board(want: Wanted, rail: str) -> tuple[Part, ...]:
    """Relay, driver, 5 V and micro; without a relay only what the board draws, as one load."""
    if want.relay:
        return relay_block(want.rail, com="link/relay" if _linked(want) else "live", no="heat")
    return (part("board", "load", f"+={rail} -=0V", volts=want.rail, amps=needed_amps(want.rail, relay=False)),)


def _front(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    amps = (want.heater / unit.volts) if want.relay else 0.1
    return (
        *mains_in(unit),
        part("fuse", "fuse", "a=inlet b=live", {"volts": 250.0}, ("T",), amps=sz.fuse_amps(amps, 0.5)),
        *(() if "no varistor" in want.options else (surge_clamp(unit, "live"),)),
    )


def _rail(want: Wanted, unit: Unit, rail: str) -> tuple[Part, ...]:
    """Series resistor and capacitor, rectifier, zener and rail capacitor. With a diode pair 0 V *is* the neutral."""
    if "half-wave" in want.options:
        rectify: tuple[Part, ...] = (
            part("rail-diode", "diode", f"a=drop k={rail}", {"volts": 1000.0, "amps": 1.0}),
            part("return-diode", "diode", "a=0V k=drop", {"volts": 1000.0, "amps": 1.0}),
            part("neutral-link", "lead", "a=0V b=N"),
        )
    else:
        rectify = (part("bridge", "bridge", f"~1=drop ~2=N +={rail} -=0V", {"volts": 600.0, "amps": 1.0}),)
    return (
        part("fusible-R", "resistor", "a=live b=drop-in", None, ("fusible",), ohms=100.0, watts=1.0),
        part("dropper-C", "capacitor", "a=drop-in b=drop", {"volts": 275.0}, ("x2",), farads=want.farads),
        part("bleed-R", "resistor", "a=drop-in b=drop", {"volts": 350.0}, ohms=470e3, watts=0.25),
        *rectify,
        part("zener", "zener", f"a=0V k={rail}", {"watts": _zener_watts(want, unit)}, volts=want.rail),
        electrolytic("rail-cap", rail, "0V", 470e-6, 1.3 * want.rail),
    )


def _zener_watts(want: Wanted, unit: Unit) -> float:
    """Zener size that stands the whole dropper current, relay out [W]."""
    amps = sz.dropper_amps(want.farads, volts=unit.volts, hertz=unit.hertz, rail=want.rail, half_wave="half-wave" in want.options)
    return sz.at_least(amps * want.rail, (0.5, 1.3, 3.0, 5.0))


def _load(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    if not want.relay:
        return ()
    link = (part("link", "thermal-link", "a=live b=link/relay", {"celsius": 192.0, "amps": 10.0}),) if _linked(want) else ()
    return (*link, part("heater", "heater", "a=heat b=N", {"watts": want.heater}, ohms=heater_ohms(want.heater, unit.volts)))


def _text(want: Wanted) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    bits = [f"dropper, {want.rail:g}V" + (" relay board" if want.relay else ""), f"{want.farads * 1e6:g}u"]
    if want.relay:
        bits.append(f"heater {want.heater:g}W")
    bits += sorted(want.options)
    if want.press:
        bits.append(f"press {want.press}")
    return "; ".join(bits) + (f" (assumed: {', '.join(want.said)})" if want.said else "")


def _chain(parts: tuple[Part, ...]) -> tuple[str, ...]:
    order = (
        "mains",
        "lead",
        "fuse",
        "fusible-R",
        "dropper-C",
        "bridge",
        "rail-diode",
        "zener",
        "rail-cap",
        "board",
        "regulator",
        "5V-cap",
        "micro",
        "driver-R",
        "driver",
        "relay",
        "link",
        "heater",
    )
    have = {p.ref for p in parts}
    return tuple(place for place in order if place in have)
