"""What all starting sheets are put together from: assumed parts, and the block that drives a relay."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

from halfsplit.circuit.model import Part, Unit
from halfsplit.circuit.starting.sizes import CAP_VOLTS, at_least
from halfsplit.errors import InputError
from halfsplit.units_codes import nearest_value

COIL_WATTS = 0.4  # a 10..16 A board relay takes about 0.4 W: 24 V 1440 R, 12 V 360 R (common practice)
DRIVER_BASE_OHMS = 4700.0
MICRO_AMPS = 9e-3
QUIESCENT_AMPS = 3e-3  # small three-terminal 5 V type


def part(
    place: str, family: str, pins: str, ratings: Mapping[str, float] | None = None, tags: Iterable[str] = (), /, **values: float
) -> Part:
    """An assumed part. pins: "a=L b=live", one blank-separated pin=net each."""
    pairs = dict(item.split("=", 1) for item in pins.split())
    return Part(
        ref=place,
        family=family,
        pins=pairs,
        values=values,
        ratings=dict(ratings or {}),
        tags=frozenset(tags),
        place=place,
        assumed=True,
    )


def check_mains(unit: Unit) -> None:
    """Raise InputError unless the unit hangs on an ordinary mains outlet."""
    if not 90 <= unit.volts <= 260:
        raise InputError(
            f"unit: {unit.volts:g} V is not a mains voltage that a starting sheet knows (90 to 260 V); write "
            "the mains that its adapter plugs into, or write ways instead"
        )
    if not 45 <= unit.hertz <= 65:
        raise InputError(f"unit: {unit.hertz:g} Hz is not a mains frequency (45 to 65 Hz); write 50Hz or 60Hz in the unit line")


def mains_in(unit: Unit) -> tuple[Part, ...]:
    """The outlet and the lead with its plug, up to the net `inlet` where the lead ends inside."""
    return (
        part("mains", "mains", "L=L N=N", volts=unit.volts, hertz=unit.hertz),
        part("lead", "lead", "a=L b=inlet", {"amps": 10.0}),
    )


def surge_clamp(unit: Unit, net: str) -> Part:
    """The varistor across the mains: 300 V type on 230 V, 150 V type on 120 V (common practice)."""
    return part("varistor", "varistor", f"a={net} b=N", volts=300.0 if unit.volts > 160 else 150.0)


def rail_net(volts: float) -> str:
    """Name of a rail's net: +24, +3.3, -15."""
    return f"{volts:+g}"


def coil_ohms(volts: float) -> float:
    """Coil of an ordinary board relay [ohm], from 0.4 W (common practice)."""
    return float(f"{volts**2 / COIL_WATTS:.3g}")


def relay_amps(rail: float) -> float:
    """What relay, micro and its regulator take from the rail with the relay in [A]."""
    return rail / coil_ohms(rail) + MICRO_AMPS + QUIESCENT_AMPS + (5 - 0.7) / DRIVER_BASE_OHMS


def micro_block(rail: float) -> tuple[Part, ...]:
    """Micro with its 5 V regulator and capacitor, fed from the rail; a 5 V rail feeds it directly."""
    rail_name, low = rail_net(rail), rail <= 6
    supply = rail_name if low else "+5"
    regulator = (
        ()
        if low
        else (
            part("regulator", "regulator", f"in={rail_name} out=+5 gnd=0V", volts=5.0, amps=0.1, quiescent=QUIESCENT_AMPS),
            part("5V-cap", "electrolytic", "+=+5 -=0V", {"volts": 10.0}, farads=100e-6, volts=10.0),
        )
    )
    micro = part("micro", "micro", f"vdd={supply} 0v=0V out=relay-drive", volts=rail if low else 5.0, amps=MICRO_AMPS)
    return (*regulator, micro)


def relay_block(rail: float, *, com: str, no: str) -> tuple[Part, ...]:
    """Relay on a rail with driver, base resistor and coil diode; its contact sits between two nets of the load circuit."""
    name = rail_net(rail)
    pins = f"c+={name} c-=coil-low com={com} no={no}"
    return (
        part("relay", "relay", pins, {"amps": 16.0}, volts=rail, ohms=coil_ohms(rail)),
        part("coil-diode", "diode", f"a=coil-low k={name}", {"volts": 100.0, "amps": 0.2}),
        part("driver", "npn", "b=base c=coil-low e=0V", {"volts": 45.0, "amps": 0.1}),
        part("driver-R", "resistor", "a=relay-drive b=base", ohms=DRIVER_BASE_OHMS, watts=0.25),
        *micro_block(rail),
    )


def electrolytic(place: str, plus: str, minus: str, farads: float, volts: float) -> Part:
    """An electrolytic of at least these volts, next standard rating up."""
    rated = at_least(volts, CAP_VOLTS)
    return part(place, "electrolytic", f"+={plus} -={minus}", {"volts": rated}, farads=farads, volts=rated)


def heater_ohms(watts: float, volts: float) -> float:
    """R = V^2 / P [ohm], three figures."""
    return float(f"{volts**2 / watts:.3g}")


def pressed(symptom: tuple[str, ...], named: str | None) -> dict[str, dict[str, str]]:
    """The controls that pull the relay in: always `relay`, the word after `press`, and what the symptom says it happens `at`."""
    words = ["relay"] + ([named] if named else [])
    for text in symptom:
        hit = re.search(r"\b(?:at|on pressing|when pressing) ([a-z][a-z-]+)\s*$", text.strip().lower())
        if hit and hit[1] not in {"all", "once", "night", "first", "switch-on", "power-on", "times", "random", "start-up", "end"}:
            words.append(hit[1])
    return {word: {"micro.out": "high"} for word in dict.fromkeys(words)}


def standard_ohms(x: float) -> float:
    """Nearest E12 resistor."""
    return nearest_value(x, "E12")
