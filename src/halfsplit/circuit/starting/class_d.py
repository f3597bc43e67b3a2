"""Starting sheet: class-D amplifier, mains to loudspeaker. The supply is one block; the input stage before the modulator is not drawn.

Driver Vcc by a zener on the minus rail, boot supply for the upper half, FET pair, coil and film capacitor, Zobel, loudspeaker.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import electrolytic, mains_in, part, rail_net, standard_ohms
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

KNOWN = ("rails", "speaker", "amplifier")
VCC = 11.0  # [V] of the driver, referenced to the minus rail: 10 to 12, hence the zener's 14 % (common practice)
ZENER_AMPS = 15e-3  # driver and zener together at rated rails (common practice)


@dataclass(frozen=True)
class Wanted:
    """rail: volts of either rail [V]; speaker: its DC resistance [ohm]; said: what was assumed."""

    rail: float
    speaker: float
    said: tuple[str, ...]


def read(parts: tuple[Clause, ...]) -> Wanted:
    """Rails and loudspeaker out of the clauses; what wasn't said gets a default, and is told."""
    rail, speaker, said = None, None, []
    for clause in parts:
        refuse_leftovers(clause, KNOWN, ("audio", "sub", "subwoofer", "woofer", "rail"))
        volts, ohms = clause.size("volts"), clause.size("ohms")
        rail = rail if volts is None else volts
        speaker = speaker if ohms is None else ohms
    if rail is None:
        rail = 45.0
        said.append("rails 45V")
    if speaker is None:
        speaker = 3.4
        said.append("speaker 3.4R")
    if not 15 <= rail <= 100:
        raise InputError(f"start: rails {rail:g}V are not those of a class-D amplifier of this kind (15 to 100 V)")
    if not 1.5 <= speaker <= 20:
        raise InputError(f"start: speaker {speaker:g}R is not a loudspeaker's (1.5 to 20 ohm at DC)")
    return Wanted(rail, speaker, tuple(said))


def told(want: Wanted) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    line = f"class-D amplifier; rails {want.rail:g}V; speaker {want.speaker:g}R"
    return line + (f" (assumed: {', '.join(want.said)})" if want.said else "")


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    want = read(parts)
    hot, cold = _front(want, unit), (*_driver(want), *_output(want))
    everything = (*hot, *cold)
    plus, minus = rail_net(want.rail), rail_net(-want.rail)
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "hot-", "cold": "0V"},
        cold_claims=frozenset({plus, minus, "0V"} | {n for p in cold for n in p.pins.values()}),
        chain=tuple(p for p in CHAIN if p in {q.ref for q in everything}),
        switching=frozenset({"boot-low", "high-drive", "low-drive", "high-gate", "low-gate", "core"}),
        symptom=symptom,
        start=told(want),
    )


def rated_amps(want: Wanted) -> float:
    """Most that a rail gives [A]: the peak into the loudspeaker, less what the supply's capacitors lend (bench estimate)."""
    return float(f"{0.5 * want.rail / want.speaker:.2g}")


def _front(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    watts = want.rail**2 / (2 * want.speaker)
    fuse = min(sz.fuse_amps(watts / (2 * unit.volts), 2.5), 10.0)
    pins = f"in+=bulk in-=hot- p={rail_net(want.rail)} 0=0V m={rail_net(-want.rail)}"
    return (
        *mains_in(unit),
        part("fuse", "fuse", "a=inlet b=live", {"volts": 250.0}, ("T",), amps=fuse),
        part("inrush", "ntc", "a=live b=line", {"amps": fuse}, ohms=5.0),
        part("bridge", "bridge", "~1=line ~2=N +=bulk -=hot-", {"volts": 600.0, "amps": 4.0}),
        electrolytic("bulk-cap", "bulk", "hot-", sz.bulk_farads(0.5 * watts, unit.volts), sz.bulk_volts(unit.volts)),
        part("supply", "split-supply", pins, volts=want.rail, amps=rated_amps(want)),
        part("y-cap", "capacitor", "a=hot- b=0V", {"volts": 250.0}, ("y1",), farads=2.2e-9),
    )


def _driver(want: Wanted) -> tuple[Part, ...]:
    """Supplies of the driver, and the driver."""
    plus, minus = rail_net(want.rail), rail_net(-want.rail)
    pins = f"vcc=vcc com={minus} boot=boot feed=boot-low vs=mid ho=high-drive lo=low-drive ref=0V mute=mute rail={plus} core=core"
    ohms = standard_ohms((want.rail - VCC) / ZENER_AMPS)
    return (
        electrolytic("plus-cap", plus, "0V", 2200e-6, 1.3 * want.rail),
        electrolytic("minus-cap", "0V", minus, 2200e-6, 1.3 * want.rail),
        part("vcc-R", "resistor", "a=0V b=vcc", ohms=ohms, watts=1.0),
        part("vcc-zener", "zener", f"a={minus} k=vcc", {"watts": 1.3, "tolerance": 0.14}, volts=VCC),
        electrolytic("vcc-cap", "vcc", minus, 100e-6, 35.0),
        part("boot-diode", "diode", "a=vcc k=boot-low", {"volts": 200.0, "amps": 1.0}, ("fast",)),
        electrolytic("boot-cap", "boot", "mid", 22e-6, 35.0),
        part("mute-R", "resistor", f"a=mute b={minus}", ohms=10e3, watts=0.25),
        part("driver", "class-d-driver", pins),
    )


def _output(want: Wanted) -> tuple[Part, ...]:
    """Pair, filter, Zobel, loudspeaker."""
    plus, minus = rail_net(want.rail), rail_net(-want.rail)
    ratings = {"volts": sz.at_least(3 * want.rail, sz.DIODE_VOLTS)}
    return (
        part("high-gate-R", "resistor", "a=high-drive b=high-gate", ohms=10.0, watts=0.25),
        part("low-gate-R", "resistor", "a=low-drive b=low-gate", ohms=10.0, watts=0.25),
        part("high-pulldown", "resistor", "a=high-gate b=mid", ohms=10e3, watts=0.25),
        part("low-pulldown", "resistor", "a=low-gate b=low-source", ohms=10e3, watts=0.25),
        part("high-switch", "class-d-fet", f"d={plus} g=high-gate s=mid core=core", ratings, ("output",)),
        part("low-switch", "class-d-fet", "d=mid g=low-gate s=low-source core=core", ratings, ("output",)),
        part("sense-R", "resistor", f"a=low-source b={minus}", ohms=0.015, watts=3.0),
        part("out-coil", "inductor", "a=mid b=out", henry=22e-6, ohms=0.03),
        part("out-C", "capacitor", "a=out b=0V", {"volts": 250.0}, farads=0.68e-6),
        part("zobel-R", "resistor", "a=out b=zobel", ohms=10.0, watts=2.0),
        part("zobel-C", "capacitor", "a=zobel b=0V", {"volts": 250.0}, farads=10e-9),
        part("speaker", "resistive-load", "+=out -=0V", ohms=want.speaker),
    )


CHAIN = (
    "mains lead fuse inrush bridge bulk-cap supply plus-cap minus-cap vcc-R vcc-zener vcc-cap boot-diode boot-cap driver high-gate-R "
    "high-switch low-gate-R low-switch sense-R out-coil out-C speaker"
).split()
