"""Starting sheet: one channel of a class-AB audio amplifier with its supply of two rails and its protect relay."""

from __future__ import annotations

import math
from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import coil_ohms, electrolytic, mains_in, part, rail_net, standard_ohms
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

OPTIONS = ("no relay", "no switch", "rail fuses")
KNOWN = ("rails", *OPTIONS)
SPEAKER = 8.0  # nominal [ohm]; its direct-current ohms are about 0.8 of that (common practice: 3 to 7 ohm for 4 and 8)
DEFAULT_RAIL = 36.0
TAIL_AMPS = 2e-3  # both halves of the input pair (common practice 1 to 4 mA)
VAS_AMPS = 7.8e-3  # of the voltage amplifier, through the bootstrapped pair of resistors (common practice 5 to 10 mA)
TOROIDS = (80.0, 120.0, 160.0, 225.0, 300.0, 500.0, 625.0, 800.0)
TOROID_RISE = 0.05  # off load over label (makers' catalogues, recalled)


@dataclass(frozen=True)
class Wanted:
    """What the start line asked for: rails [V, one side], options, what was assumed."""

    rail: float
    options: frozenset[str]
    said: tuple[str, ...]


def read(parts: tuple[Clause, ...], unit: Unit) -> Wanted:
    """Rails from volts, or from the watts of one channel into 8 ohm: peak of the sine, a tenth of sag and 4 V lost on the way."""
    rail: float | None = None
    said: list[str] = []
    options: set[str] = set()
    for clause in parts:
        refuse_leftovers(clause, KNOWN, ("amplifier", "audio", "stereo", "channel", "rail", "protector", "one", "fuse"))
        options |= {o for o in OPTIONS if clause.has(*o.split())}
        if clause.has("rail", "fuse"):
            options.add("rail fuses")
        if (volts := clause.size("volts")) is not None:
            rail = volts
        elif (watts := clause.size("watts")) is not None:
            rail = float(f"{1.1 * math.sqrt(2 * watts * SPEAKER) + 4:.2g}")
    if rail is None:
        rail = DEFAULT_RAIL
        said.append(f"+-{DEFAULT_RAIL:g}V")
    if not 18 <= rail <= 75:
        raise InputError(f"start: rails of {rail:g} V are not those of a class-AB amplifier (18 to 75 V each way); trace it as ways")
    return Wanted(rail, frozenset(options), tuple(said))


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    w = read(parts, unit)
    up, down = rail_net(w.rail), rail_net(-w.rail)
    front, line = _front(w, unit)
    fed = ("amp+", "amp-") if "rail fuses" in w.options else (up, down)
    secondary = [*_supply(w, unit, line), *_rail_fuses(w), *_voltage_stages(w, *fed), *spreader(), *output_stage(*fed), *_output(w)]
    everything = (*front, *secondary)
    hot = {net for p in front for net in p.pins.values()} | {line, "L", "N"}
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "N", "cold": "0V"},
        cold_claims=frozenset(net for p in secondary for net in p.pins.values()) - hot,
        chain=tuple(p.ref for p in everything),
        symptom=symptom,
        start=_text(w),
    )


def _front(w: Wanted, unit: Unit) -> tuple[tuple[Part, ...], str]:
    """Outlet, lead, fuse, switch; the net that the primary hangs on."""
    fuse = sz.fuse_amps(toroid_va(w.rail) / unit.volts, 1.0)
    line = "live" if "no switch" in w.options else "primary"
    return (
        *mains_in(unit),
        part("fuse", "fuse", "a=inlet b=live", {"volts": 250.0}, ("T",), amps=fuse),
        *(() if "no switch" in w.options else (part("switch", "switch", "a=live b=primary", {"amps": 4.0}),)),
    ), line


def toroid_va(rail: float) -> float:
    """VA of the toroid of a stereo amplifier: twice what both channels can give into 8 ohm at these rails (common practice 1.5 to 2)."""
    return sz.nearest(2.0 * rail**2 / SPEAKER, TOROIDS)


def toroid_values(rail: float, unit: Unit) -> dict[str, float]:
    """A toroid whose idle rails are these: a half-secondary gives (rail + 0.9)/1.41 volts off load; copper shared between primary and secondary."""
    va, out = toroid_va(rail), (rail + 0.9) / sz.peak(1.0)
    return {
        "volts": unit.volts,
        "out": float(f"{out:.3g}"),
        "rp": float(f"{TOROID_RISE / 2 * unit.volts**2 / va:.3g}"),
        "rs": float(f"{TOROID_RISE / 2 * 2 * out**2 / va:.3g}"),
        "mag": float(f"{unit.volts**2 / (2 * math.pi * unit.hertz * 0.03 * va):.3g}"),
    }


def _supply(w: Wanted, unit: Unit, line: str) -> list[Part]:
    up, down = rail_net(w.rail), rail_net(-w.rail)
    return [
        part(
            "transformer", "split-transformer", f"p1={line} p2=N s1=sec-a ct=0V s2=sec-b", {"va": toroid_va(w.rail)},
            ("toroid",), **toroid_values(w.rail, unit),
        ),
        part("bridge", "bridge", f"~1=sec-a ~2=sec-b +={up} -={down}", {"volts": 400.0, "amps": 25.0}),
        electrolytic("plus-reservoir", up, "0V", 6800e-6, 1.15 * w.rail),
        electrolytic("minus-reservoir", "0V", down, 6800e-6, 1.15 * w.rail),
    ]


def _rail_fuses(w: Wanted) -> list[Part]:
    if "rail fuses" not in w.options:
        return []
    amps = sz.nearest(w.rail / SPEAKER, sz.FUSE_AMPS)
    return [
        part("plus-fuse", "fuse", f"a={rail_net(w.rail)} b=amp+", {"volts": 250.0}, ("T",), amps=amps),
        part("minus-fuse", "fuse", f"a={rail_net(-w.rail)} b=amp-", {"volts": 250.0}, ("T",), amps=amps),
    ]


def _voltage_stages(w: Wanted, up: str, down: str) -> list[Part]:
    """Input pair with its tail, the voltage amplifier with its bootstrapped load, and the feedback that sets gain 23 and direct-current gain 1."""
    boot = standard_ohms((w.rail - 1.3) / VAS_AMPS / 2)
    return [
        part("input-R", "resistor", "a=in b=0V", ohms=22e3, watts=0.25),
        part("tail-R", "resistor", f"a={up} b=tail", ohms=standard_ohms((w.rail - 0.6) / TAIL_AMPS), watts=0.5),
        part("input-Q", "pnp", "b=in c=vas-base e=tail", {"volts": 80.0, "amps": 0.1}, gain=500.0),
        part("feedback-Q", "pnp", f"b=fb c={down} e=tail", {"volts": 80.0, "amps": 0.1}, gain=500.0),
        part("collector-R", "resistor", f"a=vas-base b={down}", ohms=1.2e3, watts=0.25),
        part("vas", "npn", "b=vas-base c=drive-low e=vas-emitter", {"volts": 100.0, "amps": 0.1}, gain=150.0),
        part("vas-R", "resistor", f"a=vas-emitter b={down}", ohms=68.0, watts=0.25),
        part("boot-top-R", "resistor", f"a={up} b=boot", ohms=boot, watts=0.5),
        part("boot-low-R", "resistor", "a=boot b=drive-high", ohms=boot, watts=0.5),
        electrolytic("boot-cap", "boot", "out", 47e-6, w.rail),
        part("feedback-R", "resistor", "a=out b=fb", ohms=22e3, watts=0.25),
        part("feedback-low-R", "resistor", "a=fb b=fb-low", ohms=1e3, watts=0.25),
        electrolytic("feedback-cap", "fb-low", "0V", 100e-6, 25.0),
    ]


def spreader() -> list[Part]:
    """Bias spreader on the heatsink: 2.5 V with the trimmer, strapped as a rheostat, at a seventh of its track (7 mV across 0.22 ohm, computed)."""
    return [
        part("spreader", "npn", "b=spread-base c=drive-high e=drive-low", {"volts": 60.0, "amps": 0.1}, ("spreader",), gain=150.0),
        part("bias-trimmer", "trimmer", "a=spread-mid b=drive-high w=bias-wiper", ohms=1e3, at=0.15),
        part("trimmer-strap", "joint", "a=bias-wiper b=drive-high"),
        part("spreader-top-R", "resistor", "a=spread-mid b=spread-base", ohms=1.5e3, watts=0.25),
        part("spreader-low-R", "resistor", "a=spread-base b=drive-low", ohms=680.0, watts=0.25),
    ]


def output_stage(up: str, down: str) -> list[Part]:
    """Drivers, outputs, their base resistors and the 0.22 ohm emitter resistors."""
    return [
        part("upper-driver", "npn", f"b=drive-high c={up} e=upper-base", {"volts": 160.0, "amps": 1.0}, gain=120.0, size=10.0),
        part("lower-driver", "pnp", f"b=drive-low c={down} e=lower-base", {"volts": 160.0, "amps": 1.0}, gain=120.0, size=10.0),
        part("upper-base-R", "resistor", "a=upper-base b=out", ohms=220.0, watts=1.0),
        part("lower-base-R", "resistor", "a=out b=lower-base", ohms=220.0, watts=1.0),
        part("upper-output", "npn", f"b=upper-base c={up} e=upper-emitter", {"volts": 150.0, "amps": 15.0}, ("output",), gain=70.0, size=150.0),
        part("lower-output", "pnp", f"b=lower-base c={down} e=lower-emitter", {"volts": 150.0, "amps": 15.0}, ("output",), gain=70.0, size=150.0),
        part("upper-emitter-R", "wirewound", "a=upper-emitter b=out", ohms=0.22, watts=5.0),
        part("lower-emitter-R", "wirewound", "a=out b=lower-emitter", ohms=0.22, watts=5.0),
    ]


def _output(w: Wanted) -> list[Part]:
    """Zobel, protect relay with the circuit that lets it in, speaker."""
    zobel = [
        part("zobel-R", "resistor", "a=out b=zobel", ohms=10.0, watts=1.0),
        part("zobel-C", "capacitor", "a=zobel b=0V", {"volts": 100.0}, farads=100e-9),
    ]
    relay = "no relay" not in w.options
    speaker = part("speaker", "resistive-load", f"+={'speaker+' if relay else 'out'} -=0V", {"watts": 50.0}, ohms=0.8 * SPEAKER)
    return [*zobel, *(_protector(w) if relay else []), speaker]


def _protector(w: Wanted) -> list[Part]:
    """Direct volts at the output, filtered, pull the hold line down either way; the hold line rises slowly and lets the relay in."""
    up = rail_net(w.rail)
    coil = 24.0 if w.rail >= 30 else 12.0
    ohms = coil_ohms(coil)
    return [
        part("relay", "relay", "c+=coil-feed c-=coil-low com=out no=speaker+", {"amps": 10.0}, volts=coil, ohms=ohms),
        part("relay-R", "resistor", f"a={up} b=coil-feed", ohms=standard_ohms((w.rail - coil) / coil * ohms), watts=1.0),
        part("coil-diode", "diode", "a=coil-low k=coil-feed", {"volts": 100.0, "amps": 0.2}),
        part("relay-driver", "npn", "b=relay-base c=coil-low e=0V", {"volts": 80.0, "amps": 0.1}),
        part("hold-R", "resistor", f"a={up} b=hold", ohms=standard_ohms((w.rail - 6.3) / 0.6e-3), watts=0.25),
        electrolytic("hold-cap", "hold", "0V", 100e-6, 10.0),
        part("hold-zener", "zener", "k=hold a=relay-base", volts=5.6),
        part("sense-in-R", "resistor", "a=out b=dc-sense", ohms=22e3, watts=0.25),
        part("sense-in-C", "capacitor", "a=dc-sense b=0V", {"volts": 16.0}, ("bipolar",), farads=47e-6),
        part("plus-sense", "npn", "b=dc-sense c=hold e=0V", {"volts": 45.0, "amps": 0.1}),
        part("minus-sense", "npn", "b=0V c=hold e=dc-sense", {"volts": 45.0, "amps": 0.1}),
    ]


def _text(w: Wanted) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    bits = "; ".join([f"class-AB amplifier +-{w.rail:g}V", *sorted(w.options)])
    return bits + (f" (assumed: {', '.join(w.said)})" if w.said else "")
