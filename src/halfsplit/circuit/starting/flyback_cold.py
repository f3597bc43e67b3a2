"""The cold side of a flyback supply: rectifier, output, divider, reference and opto. Sizes by the rules of thumb of sizes.py."""

from __future__ import annotations

from halfsplit.circuit.model import Part
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import electrolytic, part, standard_ohms
from halfsplit.circuit.starting.flyback_line import Wanted
from halfsplit.errors import InputError
from halfsplit.parts.diode import drop_of
from halfsplit.units_codes import nearest_value

REFERENCE_VOLTS, REFERENCE_AMPS = 2.495, 2e-6  # 431 type, as in docs/families.md


def rectifier_drop(want: Wanted) -> float:
    """Schottky up to 20 V out, ultrafast above (common practice)."""
    return 0.4 if want.out <= 20 else 0.7


def winding_volts(want: Wanted) -> float:
    """Flyback volts of the secondary at full load [V]."""
    return round(want.out + rectifier_drop(want) + 0.03 * want.whole_amps, 2)


def secondary(want: Wanted) -> tuple[Part, ...]:
    tags = ("schottky",) if want.out <= 20 else ("fast",)
    ratings = {"volts": sz.at_least(4.5 * want.out, sz.DIODE_VOLTS), "amps": sz.at_least(3 * want.whole_amps, sz.AMPS)}
    farads = nearest_value(min(max(700e-6 * want.whole_amps, 470e-6), 4700e-6), "E6")
    minus = "batt-minus" if "charger" in want.options else "0V"
    watts = sz.at_least(0.3 * want.amps, sz.RESISTOR_WATTS)  # three times what 0.1 V at full current makes
    shunt = part("shunt", "resistor", "a=batt-minus b=0V", ohms=standard_ohms(0.1 / want.amps), watts=watts)
    return (
        part("rectifier", "diode", "a=sec k=out", ratings, tags, drop=drop_of(ratings["amps"])),
        electrolytic("out-cap", "out", "0V", farads, 1.25 * want.out),
        part("out-load", "load", f"+=out -={minus}", volts=want.out, amps=float(f"{want.amps - want.relay_share:.3g}")),
        *((shunt,) if "charger" in want.options else ()),
    )


def divider(out: float) -> tuple[float, float]:
    """(top, low) [ohm] that put the reference at its volts when the output is right, its input current counted."""
    best = (1e9, 0.0, 0.0)
    for low in (10e3, 9.1e3, 8.2e3, 6.8e3, 5.6e3, 4.7e3, 3.9e3, 3.3e3, 2.7e3, 2.2e3):
        top = nearest_value((out - REFERENCE_VOLTS) / (REFERENCE_VOLTS / low + REFERENCE_AMPS), "E96")
        miss = abs(REFERENCE_VOLTS + top * (REFERENCE_VOLTS / low + REFERENCE_AMPS) - out) / out
        if miss < 0.005:  # half of what 1 % resistors leave open
            return top, low
        best = min(best, (miss, top, low))
    return best[1], best[2]


def feedback(want: Wanted) -> tuple[Part, ...]:
    if want.out < 3.3:
        raise InputError(
            f"start: out {want.out:g}V is below what a 2.5 V reference with an opto can hold (3.3 V); trace this output as ways"
        )
    top, low = divider(want.out)
    led = standard_ohms(max((want.out - 1.15 - 2.0) / 5e-3, 47.0))  # at most 5 mA with the reference pulled right down
    return (
        part("divider-top", "resistor", "a=out b=ref", {"tolerance": 0.01}, ohms=top, watts=0.25),
        part("divider-low", "resistor", "a=ref b=0V", {"tolerance": 0.01}, ohms=low, watts=0.25),
        part("reference", "reference", "k=opto-k a=0V r=ref", volts=REFERENCE_VOLTS),
        part("opto-R", "resistor", "a=out b=opto-a", ohms=led, watts=0.25),
        part("opto-bias", "resistor", "a=opto-a b=opto-k", ohms=1e3, watts=0.25),
        part("opto", "opto", "a=opto-a k=opto-k c=fb e=hot-"),
        part("loop-cap", "capacitor", "a=opto-k b=ref", {"volts": 50.0}, farads=100e-9),
    )
