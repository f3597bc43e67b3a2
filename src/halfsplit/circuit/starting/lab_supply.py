"""Starting sheet: a linear bench supply with two transformer taps, a relay between them, CV and CC amplifiers."""

from __future__ import annotations

import math
from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import electrolytic, mains_in, part, standard_ohms
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

KNOWN = ("set", "load")
VOLTS, AMPS = 30.0, 3.0
REFERENCE = 2.495
TAP_AT = 0.43  # of the highest output, where the relay takes the high tap: 13 V of 30 (common practice: a little under half)
AUX = 16.2  # [V] behind a 12 V winding: coil of 12 V with its resistor, 12 V regulator (common practice)
SHUNT = 0.22
CV_LOW = 2.2e3


@dataclass(frozen=True)
class Wanted:
    """volts, amps: the most it gives. set: what it is set to [V]. load: what hangs at its terminals [A]. said: what was assumed."""

    volts: float
    amps: float
    set: float
    load: float
    said: tuple[str, ...]


def read(parts: tuple[Clause, ...], unit: Unit) -> Wanted:
    """Sizes out of the clauses; `set 25V` and `load 2A` say how it stands on the bench."""
    volts = amps = at = load = None
    for clause in parts:
        refuse_leftovers(clause, KNOWN, ("supply", "bench", "linear", "out", "output", "to"))
        v, a = clause.size("volts"), clause.size("amps")
        if clause.has("set"):
            at = v if v is not None else at
        elif clause.has("load"):
            load = a if a is not None else load
        else:
            volts, amps = v if v is not None else volts, a if a is not None else amps
    said = []
    if volts is None or amps is None:
        volts, amps = volts or VOLTS, amps or AMPS
        said.append(f"{volts:g}V {amps:g}A")
    if at is None:
        at = float(f"{volts * 5 / 6:.3g}")
        said.append(f"set {at:g}V")
    if load is None:
        load = float(f"{amps * 2 / 3:.3g}")
        said.append(f"load {load:g}A")
    if not 12 <= volts <= 60 or not 0.5 <= amps <= 10:
        raise InputError(f"start: {volts:g} V {amps:g} A is no bench supply of this kind (12 to 60 V, 0.5 to 10 A); trace it as ways")
    if not 0.5 <= at <= volts:
        raise InputError(f"start: set {at:g} V is not within 0.5 and {volts:g} V; write what its knob stands at")
    if load > amps:
        raise InputError(f"start: a load of {load:g} A is more than the {amps:g} A it gives")
    return Wanted(volts, amps, at, load, tuple(said))


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet. The 0 V of the control is the minus of the raw supply; the shunt lies between it and the minus terminal, out-."""
    w = read(parts, unit)
    front = (
        *mains_in(unit),
        part("fuse", "fuse", "a=inlet b=live", {"volts": 250.0}, ("T",), amps=sz.fuse_amps(main_va(w) / unit.volts, 0.5)),
        part("switch", "switch", "a=live b=primary", {"amps": 4.0}),
    )
    secondary = [*_raw(w, unit), *_pass(w), *_control(w), *_aux(w, unit), *_tap(w), *_terminals(w)]
    hot = {net for p in front for net in p.pins.values()} | {"primary", "L", "N"}
    everything = (*front, *secondary)
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "N", "cold": "0V"},
        cold_claims=frozenset(net for p in secondary for net in p.pins.values()) - hot,
        chain=tuple(p.ref for p in everything),
        symptom=symptom,
        start=_text(w),
    )


def main_va(w: Wanted) -> float:
    """VA of the transformer: rms of the winding about 1.6 x the direct current (as for any bridge with a reservoir)."""
    return sz.nearest(1.6 * w.amps * 1.1 * w.volts, sz.TRANSFORMER_VA)


def _raw(w: Wanted, unit: Unit) -> list[Part]:
    """Transformer with its tap in the middle, tap relay, bridge, reservoir. The label of the whole winding is 1.1 x the highest output."""
    values = sz.transformer_values(1.1 * w.volts, main_va(w), volts=unit.volts, hertz=unit.hertz)
    halves = {**values, "out": round(values["out"] / 2, 2), "rs": float(f"{values['rs'] / 2:.3g}")}
    ripple_cap = sz.next_value(w.amps * 3.3e-3, "E6")
    return [
        part("transformer", "split-transformer", "p1=primary p2=N s1=ac-a ct=tap s2=ac-high", {"va": main_va(w)}, **halves),
        part("relay", "changeover", "c+=coil-feed c-=coil-low com=ac-b no=ac-high nc=tap", {"amps": 10.0}, volts=12.0, ohms=270.0),
        part("bridge", "bridge", "~1=ac-a ~2=ac-b +=raw -=0V", {"volts": 200.0, "amps": sz.at_least(2 * w.amps, sz.AMPS)}),
        electrolytic("reservoir", "raw", "0V", ripple_cap, 1.1 * sz.peak(values["out"])),
        part("bleeder", "resistor", "a=raw b=0V", ohms=4.7e3, watts=2.0),
    ]


def _pass(w: Wanted) -> list[Part]:
    """Driver and two pass transistors with their ballast resistors; the driver is fed from raw, as much as the control leaves it."""
    big, feed = {"volts": 100.0, "amps": 15.0}, standard_ohms(2.2e3 * w.volts / VOLTS)
    return [
        part("drive-R", "resistor", "a=raw b=drive", ohms=feed, watts=2.0),
        part("driver", "npn", "b=drive c=raw e=pass-base", {"volts": 100.0, "amps": 4.0}, gain=100.0, size=40.0),
        part("bleed-R", "resistor", "a=pass-base b=out", ohms=47.0, watts=0.25),
        part("pass-1", "npn", "b=pass-base c=raw e=emitter-a", big, gain=50.0, size=150.0),
        part("pass-2", "npn", "b=pass-base c=raw e=emitter-b", big, gain=50.0, size=150.0),
        part("ballast-1", "wirewound", "a=emitter-a b=out", ohms=0.22, watts=5.0),
        part("ballast-2", "wirewound", "a=emitter-b b=out", ohms=0.22, watts=5.0),
        part("shunt", "wirewound", "a=out- b=0V", ohms=SHUNT, watts=5.0),
    ]


def _control(w: Wanted) -> list[Part]:
    """Reference, the two knobs, the two amplifiers; whichever is the higher takes the drive away through its diode and one transistor."""
    top = standard_ohms(CV_LOW * (w.volts / REFERENCE - 1.0))
    wanted = w.set / (REFERENCE * (1.0 + top / CV_LOW))  # where the knob really stands for these volts, of the nearest standard divider
    most = w.amps * SHUNT / REFERENCE
    return [
        part("reference-R", "resistor", "a=+12 b=ref", ohms=1e3, watts=0.25),
        part("reference", "reference", "k=ref a=out- r=ref", volts=REFERENCE),
        part("voltage-pot", "pot", "a=out- b=ref w=cv-set", ohms=10e3, at=min(wanted, 0.999)),
        part("divider-top", "resistor", "a=out b=cv-sense", ohms=top, watts=0.25),
        part("divider-low", "resistor", "a=cv-sense b=out-", ohms=CV_LOW, watts=0.25),
        part("cv-amp", "op-amp", "in+=cv-sense in-=cv-set out=cv-out v+=+12 v-=0V"),
        part("current-R", "resistor", "a=ref b=current-top", ohms=standard_ohms(1e3 * (1.0 / most - 1.0)), watts=0.25),
        part("current-pot", "pot", "a=0V b=current-top w=cc-set", ohms=1e3, at=0.95),
        part("cc-amp", "op-amp", "in+=out- in-=cc-set out=cc-out v+=+12 v-=0V"),
        part("cv-diode", "diode", "a=cv-out k=control", {"volts": 100.0, "amps": 0.2}),
        part("cc-diode", "diode", "a=cc-out k=control", {"volts": 100.0, "amps": 0.2}),
        part("control-R", "resistor", "a=control b=control-base", ohms=4.7e3, watts=0.25),
        part("control-low-R", "resistor", "a=control-base b=0V", ohms=10e3, watts=0.25),
        part("control-Q", "npn", "b=control-base c=drive e=0V", {"volts": 100.0, "amps": 0.1}),
    ]


def _aux(w: Wanted, unit: Unit) -> list[Part]:
    """Auxiliary winding, drawn as a transformer of its own, with bridge, reservoir and 12 V for the amplifiers."""
    out = (AUX + 1.8) / sz.peak(1.0)
    turns = unit.volts / out
    values = {"volts": unit.volts, "out": round(out, 2), "rs": 0.6, "rp": float(f"{0.5 * turns**2:.3g}")}
    mag = float(f"{unit.volts**2 / (2 * math.pi * unit.hertz * 4.0):.3g}")
    return [
        part("aux-transformer", "transformer", "p1=primary p2=N s1=aux-a s2=aux-b", {"va": 6.0}, mag=mag, **values),
        part("aux-bridge", "bridge", "~1=aux-a ~2=aux-b +=aux -=0V", {"volts": 200.0, "amps": 1.0}),
        electrolytic("aux-reservoir", "aux", "0V", 1000e-6, 25.0),
        part("aux-regulator", "regulator", "in=aux out=+12 gnd=0V", volts=12.0, amps=0.1, quiescent=3e-3),
        electrolytic("aux-out-cap", "+12", "0V", 100e-6, 16.0),
    ]


def _tap(w: Wanted) -> list[Part]:
    """Tap comparator (an op-amp between the knob and a share of the reference) and what drives the relay."""
    low = 10e3
    return [
        part("tap-top-R", "resistor", "a=ref b=tap-ref", ohms=standard_ohms(low * (1.0 / TAP_AT - 1.0)), watts=0.25),
        part("tap-low-R", "resistor", "a=tap-ref b=out-", ohms=low, watts=0.25),
        part("tap-comparator", "op-amp", "in+=cv-set in-=tap-ref out=tap-out v+=aux v-=0V"),
        part("tap-base-R", "resistor", "a=tap-out b=tap-base", ohms=10e3, watts=0.25),
        part("relay-driver", "npn", "b=tap-base c=coil-low e=0V", {"volts": 45.0, "amps": 0.5}, size=5.0),
        part("relay-R", "resistor", "a=aux b=coil-feed", ohms=100.0, watts=0.5),
        part("coil-diode", "diode", "a=coil-low k=coil-feed", {"volts": 100.0, "amps": 0.2}),
    ]


def _terminals(w: Wanted) -> list[Part]:
    """Output capacitor, reverse diode, and a load at the terminals that can be unplugged."""
    return [
        electrolytic("out-cap", "out", "out-", 470e-6, 1.3 * w.volts),
        part("reverse-diode", "diode", "a=out- k=out", {"volts": 200.0, "amps": 6.0}),
        part("load", "load", "+=out -=out-", {}, ("terminals",), volts=min(w.set, 0.6 * w.volts), amps=w.load),
    ]


def _text(w: Wanted) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    line = f"lab supply {w.volts:g}V {w.amps:g}A; set {w.set:g}V; load {w.load:g}A"
    return line + (f" (assumed: {', '.join(w.said)})" if w.said else "")
