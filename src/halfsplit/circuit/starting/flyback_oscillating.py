"""Starting sheet: self-oscillating flyback of discrete parts, as in chargers up to 15 W.

Fusible, bridge, a small bulk, start resistors to the base of a high-voltage transistor, emitter resistor and limiter, feedback winding through
R and C to the base; cold a rectifier, one capacitor, and a zener in series with the opto's LED.
"""

from __future__ import annotations

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import electrolytic, mains_in, part, standard_ohms
from halfsplit.circuit.starting.flyback import barrier_cap, drain_clamp, renamed
from halfsplit.circuit.starting.flyback_cold import secondary, winding_volts
from halfsplit.circuit.starting.flyback_line import Wanted
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError
from halfsplit.units_codes import nearest_value

KNOWN = ("out", "half-wave")
EFFICIENCY = 0.85
AUX = 8.0  # [V] of the winding that feeds base and opto (common practice 5 to 10 V)
EMITTER_MEAN = 0.18  # [V] mean at the emitter at full load; the limiter acts at 0.35 V, docs/families.md
MOST_WATTS = 20.0
CHAIN = ("mains", "lead", "fusible", "bridge", "mains-diode", "bulk-cap", "start-R", "oscillator", "emitter-R", "transformer", "rectifier",
         "out-cap", "out-load")  # fmt: skip


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    want = _read(parts)
    if want.watts > MOST_WATTS:
        most = f"({MOST_WATTS:g} W); is it `flyback with controller`?"
        raise InputError(f"start: {want.watts:g} W is too much for a self-oscillating flyback {most}")
    hot = (*_front(want, unit), *_primary(want, unit))
    cold = (*secondary(want), *_feedback(want))
    everything = (*hot, *cold)
    hot_nets = {net for p in (*hot, everything[-1]) for net in p.pins.values()} - {"0V", "sec", "opto-a", "opto-k"}
    cold_nets = {net for p in everything for net in p.pins.values()} - hot_nets
    have = {p.ref for p in everything}
    said = f" (assumed: {', '.join(want.said)})" if want.said else ""
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "hot-", "cold": "0V"},
        cold_claims=frozenset(cold_nets),
        controls={},
        chain=tuple(place for place in CHAIN if place in have),
        switching=frozenset({"collector", "clamp", "wound", "rc", "sec", "core"}),
        symptom=symptom,
        start="; ".join(["self-oscillating flyback", f"out {want.out:g}V {want.amps:g}A", *sorted(want.options)]) + said,
    )


def _read(parts: tuple[Clause, ...]) -> Wanted:
    said: list[str] = []
    out, amps, options = None, None, set()
    for clause in parts:
        refuse_leftovers(clause, KNOWN, ("output", "flyback"))
        options |= {"half-wave"} if clause.has("half-wave") else set()
        if clause.size("volts") is not None:
            out, amps = clause.size("volts"), clause.size("amps")
    if out is None:
        out = 12.0
        said.append("out 12V")
    if amps is None:
        amps = float(f"{6.0 / out:.2g}")
        said.append(f"{amps:g}A")
    if out < 4.5:
        raise InputError(f"start: out {out:g}V is below what a zener and an opto can hold (4.5 V); trace this output as ways")
    return Wanted(0.0, 0.0, out, amps, None, frozenset(options), 0.0, None, tuple(said))


def _front(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    half = "half-wave" in want.options
    neutral = part("mains-diode", "diode", "a=line k=bulk", {"volts": 1000.0, "amps": 1.0})
    bridge = part("bridge", "bridge", "~1=line ~2=N +=bulk -=hot-", {"volts": 1000.0, "amps": 1.0})
    per_watt = (0.8e-6 if unit.volts > 160 else 1.2e-6) * (2 if half else 1)
    bulk = sz.next_value(max(want.watts * per_watt, 2.2e-6), "E6")
    cap = electrolytic("bulk-cap", "bulk", "N" if half else "hot-", bulk, sz.bulk_volts(unit.volts))
    out = (*mains_in(unit), part("fusible", "fusible", "a=inlet b=line", ohms=10.0, watts=1.0), neutral if half else bridge, cap)
    return (*out, part("return", "joint", "a=N b=hot-")) if half else out


def _primary(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    winding = winding_volts(want)
    amps = want.out * want.whole_amps * 1.05 / EFFICIENCY / (0.95 * sz.peak(unit.volts))
    clamp = tuple(renamed(p, {"drain": "collector"}) for p in drain_clamp())
    # the start resistor: two of 1.1 Mohm in series (common practice 1 to 4 Mohm)
    return (
        part("start-R", "resistor", "a=bulk b=base", {"volts": sz.bulk_volts(unit.volts)}, ohms=2.2e6, watts=0.5),
        part(
            "oscillator",
            "oscillator",
            "c=collector b=base e=emitter lim=limit gnd=hot- core=core",
            {"volts": 700.0, "amps": 1.5},
            watts=float(f"{4.0 * want.watts:.3g}"),
            knee=float(f"{0.5 * winding:.3g}"),
        ),
        part("emitter-R", "resistor", "a=emitter b=hot-", ohms=min(max(standard_ohms(EMITTER_MEAN / amps), 0.47), 10.0), watts=0.5),
        part("limit-R", "resistor", "a=emitter b=limit", ohms=470.0, watts=0.25),
        part("limiter", "npn", "b=limit c=base e=hot-", {"volts": 40.0, "amps": 0.2}),
        part("feedback-R", "resistor", "a=wound b=rc", ohms=220.0, watts=0.25),
        part("feedback-C", "capacitor", "a=rc b=base", {"volts": 100.0}, farads=4.7e-9),
        part("base-zener", "zener", "a=hot- k=base", {"watts": 0.5}, volts=6.2),
        part("aux-diode", "diode", "a=wound k=aux-plus", {"volts": 75.0, "amps": 0.15}),
        electrolytic("aux-cap", "aux-plus", "hot-", 10e-6, 16.0),
        *clamp,
        part(
            "transformer",
            "flyback",
            "p+=bulk p-=collector a+=wound a-=hot- s+=sec s-=0V core=core",
            out=winding,
            aux=AUX,
            rp=5.0,
            rs=0.2,
        ),
        barrier_cap(),
    )


def _feedback(want: Wanted) -> tuple[Part, ...]:
    """A zener in series with the LED: at the right output some 1.5 mA flow, of which the resistor across the LED takes most."""
    zener = nearest_value(want.out - 1.8, "E24")
    return (
        part("opto-R", "resistor", "a=out b=opto-a", ohms=470.0, watts=0.25),
        part("opto-bias", "resistor", "a=opto-a b=opto-k", ohms=1e3, watts=0.25),
        part("out-zener", "zener", "a=0V k=opto-k", {"watts": 0.5}, volts=zener),
        part("opto", "opto", "a=opto-a k=opto-k c=aux-plus e=limit"),
    )
