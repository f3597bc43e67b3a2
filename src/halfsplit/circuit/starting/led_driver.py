"""Starting sheet: mains LED driver, a step-down stage without isolation. Everything is hot.

Fusible, varistor, bridge, bulk; chip with switch and current sense on the low side, freewheel diode, coil, output capacitor, bleed; a string of
LEDs from the bulk down to the coil. All sizes follow from the string's volts and amps, by the rules of thumb of sizes.py.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import electrolytic, mains_in, part, standard_ohms, surge_clamp
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

KNOWN = ("string", "LEDs", "groups", "no varistor")
LED_VOLTS = 3.0  # of a white LED of 1 W class at its amps (common practice)
SENSE_VOLTS = 0.4  # peak volts at which the switch turns off; the string gets half of that over the resistor (common practice)
OVER = 4 / 3  # over-volt limit over the string's volts: 96 for 72 (common practice: a quarter to a half above)
VDD_AMPS = 45e-6  # what such a chip takes while it drives
MOST_LEDS, MOST_GROUPS = 100, 36
GROUP = 4  # LEDs that one part stands for, where nobody said that each is to be drawn


@dataclass(frozen=True)
class Wanted:
    """string [V], amps [A] through it, number of LEDs in series, and of parts that they are drawn as."""

    volts: float
    amps: float
    leds: int
    groups: int
    varistor: bool
    said: tuple[str, ...]


def read(parts: tuple[Clause, ...], unit: Unit) -> Wanted:
    """Volts, amps and number of LEDs out of the clauses; what wasn't said follows from the others, and is told."""
    volts, amps, leds, groups, varistor = None, None, None, None, True
    said: list[str] = []
    for clause in parts:
        count = clause.size("count")
        refuse_leftovers(clause, KNOWN, ("led", "leds", "group", "out", "output", "series", "in"))
        if count and (clause.has("groups") or clause.has("group")):
            groups = int(count)
        elif count:
            leds = int(count)
        varistor = varistor and not clause.has("no", "varistor")
        volts = clause.size("volts") or volts
        amps = clause.size("amps") or amps
    if volts is None:
        volts = LED_VOLTS * leds if leds else 72.0
        said.append(f"{volts:g}V")
    if amps is None:
        amps = float(f"{0.85 * unit.watts / volts:.2g}") if unit.watts > 0 else 0.24
        said.append(f"{1e3 * amps:g}mA")
    if leds is None:
        leds = max(round(volts / LED_VOLTS), 1)
        said.append(f"{leds} LEDs")
        if groups is None:
            groups = max(round(leds / GROUP), 1)
            said.append(f"{groups} groups")
    groups = groups or leds
    _check(volts, amps, leds, unit)
    if not 1 <= groups <= min(leds, MOST_GROUPS):
        raise InputError(f"start: {leds} LEDs don't make {groups} groups here; say 1 to {min(leds, MOST_GROUPS)}, as 6 groups")
    return Wanted(volts, amps, leds, groups, varistor, tuple(said))


def _check(volts: float, amps: float, leds: int, unit: Unit) -> None:
    most = 0.8 * sz.bulk_mean(unit.volts)
    if volts * OVER > most:
        raise InputError(f"start: a string of {volts:g} V leaves a step-down stage no room under {most:.0f} V of bulk; trace it as ways")
    if not 0.01 <= amps <= 1.0:
        raise InputError(f"start: {amps:g} A is not what such a driver gives (10 mA to 1 A); write it as 240mA")
    if not 1 <= leds <= MOST_LEDS or not 2.2 <= volts / leds <= 40:
        raise InputError(f"start: {leds} LEDs on {volts:g} V is not a string of this sheet (1 to {MOST_LEDS}, from 2.2 V each)")


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    want = read(parts, unit)
    everything = (*_front(want, unit), *_stage(want, unit), *string(want.groups, want.volts, want.amps, "led+", "led-"))
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "hot-"},
        chain=tuple(p.ref for p in everything if p.ref not in ("varistor", "vcc-cap", "sense-R", "bleed-R")),
        switching=frozenset({"drain"}),
        symptom=symptom,
        start=_told(want),
    )


def _front(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    """Plug to bulk."""
    watts = want.volts * want.amps
    ohms = 4.7 if watts > 8 else 10.0
    return (
        *mains_in(unit),
        part("fusible-R", "fusible", "a=inlet b=live", ohms=ohms, watts=1.0 if watts < 25 else 2.0),
        *((surge_clamp(unit, "live"),) if want.varistor else ()),
        part("bridge", "bridge", "~1=live ~2=N +=bulk -=hot-", {"volts": 600.0, "amps": 1.0}),
        electrolytic("bulk-cap", "bulk", "hot-", _bulk(watts, unit), sz.bulk_volts(unit.volts)),
    )


def _bulk(watts: float, unit: Unit) -> float:
    """Half of what a supply with a transformer has: 2.2 to 10 uF for 5 to 20 W on 230 V (common practice)."""
    per_watt = 0.5e-6 if unit.volts > 160 else 1.2e-6
    return sz.next_value(max(watts * per_watt, 2.2e-6), "E6")


def _stage(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    start = 4.4e6 if unit.volts > 160 else 2e6  # two in series; about 70 uA
    ceiling = float(f"{OVER * want.volts:.3g}")
    ohms = standard_ohms(SENSE_VOLTS / (2 * want.amps))
    coil = float(f"{min(max(0.3e-3 / want.amps, 0.3e-3), 4.7e-3):.2g}")
    return (
        part("start-up-R", "resistor", "a=bulk b=vcc", {"volts": sz.bulk_volts(unit.volts)}, ohms=start, watts=0.25),
        electrolytic("vcc-cap", "vcc", "hot-", 4.7e-6, 25.0),
        part("controller", "led-buck", "vdd=vcc gnd=hot- d=drain cs=cs back=bulk", {}, (), trip=SENSE_VOLTS, ovp=ceiling,
             amps=float(f"{4 * want.amps:.3g}"), run=VDD_AMPS),
        part("sense-R", "resistor", "a=cs b=hot-", ohms=ohms, watts=0.5),
        part("freewheel", "diode", "a=drain k=bulk", {"volts": 600.0, "amps": 1.0}, ("fast",)),
        part("coil", "inductor", "a=out- b=drain", {"amps": 2.5 * want.amps}, henry=coil, ohms=float(f"{0.6 / want.amps:.2g}")),
        electrolytic("out-cap", "bulk", "out-", 4.7e-6, 1.2 * ceiling),
        part("bleed-R", "resistor", "a=bulk b=out-", ohms=510e3, watts=0.25),
        part("plug-plus", "connector", "a=bulk b=led+"),
        part("plug-minus", "connector", "a=led- b=out-"),
    )


def string(count: int, volts: float, amps: float, top: str, low: str, *, named: str = "led") -> tuple[Part, ...]:
    """LEDs, or groups of them, in series from net `top` to net `low`, numbered from the top."""
    each = float(f"{volts / count:.3g}")
    nets = [top, *(f"{named}-{k}/{k + 1}" for k in range(1, count)), low]
    return tuple(
        part(f"{named}-{k}", "led", f"a={a} k={b}", {}, ("white",), drop=each, amps=amps)
        for k, (a, b) in enumerate(zip(nets[:-1], nets[1:], strict=True), 1)
    )


def _told(want: Wanted) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    bits = [f"LED driver {want.volts:g}V {1e3 * want.amps:g}mA", f"{want.leds} LEDs", f"{want.groups} groups", *(() if want.varistor else ("no varistor",))]
    return "; ".join(bits) + (f" (assumed: {', '.join(want.said)})" if want.said else "")
