"""Starting sheet: flyback supply with a controller chip, mains to regulated output.

Front: fuse, NTC, varistor, X capacitor, choke, bridge, bulk. Hot: start-up resistor, Vcc, controller, switch, sense, clamp.
Cold: rectifier, output, divider, reference, opto. All sizes follow from the output, by the rules of thumb of sizes.py.
"""

from __future__ import annotations

from dataclasses import replace

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import (
    electrolytic,
    mains_in,
    part,
    pressed,
    rail_net,
    relay_block,
    standard_ohms,
    surge_clamp,
)
from halfsplit.circuit.starting.flyback_cold import feedback, rectifier_drop, secondary, winding_volts
from halfsplit.circuit.starting.flyback_line import Wanted, read, told
from halfsplit.circuit.starting.words import Clause
from halfsplit.errors import InputError
from halfsplit.units_codes import nearest_value

EFFICIENCY = 0.85  # of the averaged stage, docs/families.md
SENSE_MEAN = 0.14  # [V] mean across the sense resistor at full load: 10..150 mV (common practice)
VCC_ABOVE_OFF = 5.0  # [V] running Vcc above the stop level: 15 V for a 16/10 V type (common practice 12..18 V)
CHIP_BEARS = 28.0  # [V] at Vcc, beside a latch of the board that comes first (3842-type: 30 V, from memory of makers' data)


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    want = read(parts, unit)
    if want.amps <= want.relay_share:
        raise InputError(
            f"start: out {want.out:g}V {want.amps:g}A can't feed relay and micro, which take {want.relay_share * 1e3:.0f} mA; "
            "give it more amps"
        )
    cold = (*secondary(want), *feedback(want), *_second(want), *_control(want))
    hot = (*front(want, unit), *main(want, unit), *_primary(want, unit), *_latch(want))
    everything = (*hot, *cold)
    hot_nets = {net for p in hot for net in p.pins.values()} - {"0V", "sec"}  # these two only touch the barrier
    cold_nets = {net for p in (*cold, *hot) for net in p.pins.values()} - hot_nets
    relay = "main by relay" in want.options
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "hot-", "cold": "0V"},
        cold_claims=frozenset(cold_nets),
        controls=pressed(symptom, want.press) if relay else {},
        chain=_chain(everything),
        switching=frozenset({"drain", "drive", "gate", "clamp", "aux", "sec", "core"}),
        symptom=symptom,
        start=told(want),
    )


def front(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    """Plug to bulk."""
    half = "half-wave" in want.options
    neutral = "hot-" if half else "neutral-f"
    mains_watts = (want.watts + want.main_watts) / EFFICIENCY
    fuse = min(sz.fuse_amps(mains_watts / (0.55 * unit.volts), 2.0), 10.0)  # power factor 0.55; not past the lead
    rectify = (
        part("mains-diode", "diode", "a=line-f k=bulk", {"volts": 1000.0, "amps": 1.0})
        if half
        else part("bridge", "bridge", "~1=line-f ~2=neutral-f +=bulk -=hot-", {"volts": 600.0, "amps": 2.0})
    )
    choke = (
        ()
        if "no choke" in want.options and not half
        else (part("choke", "choke", f"a1=line a2=line-f b1=N b2={neutral}", {"amps": fuse}),)
    )
    out: tuple[Part, ...] = (
        *mains_in(unit),
        part("fuse", "fuse", "a=inlet b=live", {"volts": 250.0}, ("T",), amps=fuse),
        *(() if "no varistor" in want.options else (surge_clamp(unit, "live"),)),
        part("inrush", "ntc", "a=live b=line", {"amps": fuse}, ohms=5.0),
        part("x-cap", "capacitor", "a=line b=N", {"volts": 275.0}, ("x2",), farads=220e-9),
        *choke,
        rectify,
        electrolytic("bulk-cap", "bulk", "hot-", _bulk_farads(want, unit), sz.bulk_volts(unit.volts)),
    )
    return out if choke else tuple(renamed(p, {"line-f": "line", "neutral-f": "N"}) for p in out)


def _bulk_farads(want: Wanted, unit: Unit) -> float:
    shared = want.main_watts if "shared bulk" in want.options else 0.0
    twice = 2 if "half-wave" in want.options else 1  # refilled once a cycle only
    return sz.bulk_farads(twice * (want.watts + shared), unit.volts)


def renamed(p: Part, names: dict[str, str]) -> Part:
    return replace(p, pins={pin: names.get(net, net) for pin, net in p.pins.items()})


def main(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    """The main supply as one lumped load: on the shared bulk, or behind a bridge of its own."""
    volts = sz.bulk_mean(unit.volts)
    amps = float(f"{want.main_watts / volts:.3g}")
    if "shared bulk" in want.options:
        return (part("main", "load", "+=bulk -=hot-", volts=round(volts), amps=amps),)
    if not want.options & {"main by relay", "standby apart"}:
        return ()
    line = "main-line" if "main by relay" in want.options else "line-f"
    neutral = "hot-" if "half-wave" in want.options else "neutral-f"
    parts = (
        part("main-bridge", "bridge", f"~1={line} ~2={neutral} +=main-plus -=main-minus", {"volts": 600.0, "amps": 8.0}),
        electrolytic(
            "main-bulk", "main-plus", "main-minus", sz.bulk_farads(want.main_watts, unit.volts), sz.bulk_volts(unit.volts)
        ),
        part("main", "load", "+=main-plus -=main-minus", volts=round(volts), amps=amps),
    )
    plain = "no choke" in want.options and "half-wave" not in want.options
    return tuple(renamed(p, {"line-f": "line", "neutral-f": "N"}) for p in parts) if plain else parts


def vcc_volts(want: Wanted) -> float:
    """Vcc while it runs [V]: clear of the stop level and of the over-volt stop."""
    return min(want.voff + VCC_ABOVE_OFF, 23.0)


def drain_clamp() -> tuple[Part, ...]:
    """What takes the spike of the leakage at every turn-off (common practice: 47..220 k, 1..10 nF, a fast diode)."""
    return (
        part("clamp-R", "resistor", "a=bulk b=clamp", ohms=100e3, watts=2.0),
        part("clamp-C", "capacitor", "a=bulk b=clamp", {"volts": 630.0}, farads=2.2e-9),
        part("clamp-diode", "diode", "a=drain k=clamp", {"volts": 1000.0, "amps": 1.0}, ("fast",)),
    )


def barrier_cap() -> Part:
    """From the hot to the cold 0 V."""
    return part("y-cap", "capacitor", "a=hot- b=0V", {"volts": 250.0}, ("y1",), farads=2.2e-9)


def sense_mean(want: Wanted, unit: Unit) -> tuple[float, float]:
    """(sense resistor [ohm], its mean volts at full load [V]): input power over the bulk, through the resistor."""
    core = (want.out + rectifier_drop(want)) * want.whole_amps + vcc_volts(want) * 8e-3
    amps = core / EFFICIENCY / sz.peak(unit.volts)
    ohms = min(max(standard_ohms(SENSE_MEAN / amps), 0.1), 10.0)
    return ohms, ohms * amps


def _primary(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    ohms, mean = sense_mean(want, unit)
    vcc = vcc_volts(want)
    start = 470e3 if unit.volts > 160 else 220e3  # about 0.65 mA: eleven times what a waiting controller takes
    gap = want.von - want.voff
    top = sz.bulk_volts(unit.volts)
    return (
        part("start-up-R", "resistor", "a=bulk b=vcc", {"volts": top}, ohms=start, watts=0.5),
        electrolytic("vcc-cap", "vcc", "hot-", 47e-6 if gap >= 4 else 100e-6, 50.0),
        part("aux-diode", "diode", "a=aux k=aux-plus", {"volts": 200.0, "amps": 0.5}),
        part("aux-R", "resistor", "a=aux-plus b=vcc", ohms=10.0, watts=0.25),
        part(
            "controller",
            "controller",
            "vcc=vcc gnd=hot- gate=drive sense=source fb=fb",
            von=want.von,
            voff=want.voff,
            trip=float(f"{1.6 * mean:.3g}"),
            ovp=CHIP_BEARS if "over-volt latch" in want.options else float(f"{1.3 * vcc:.3g}"),
        ),
        part("gate-R", "resistor", "a=drive b=gate", ohms=22.0, watts=0.25),
        part("gate-pulldown", "resistor", "a=gate b=hot-", ohms=10e3, watts=0.25),
        part(
            "switch",
            "fet",
            "d=drain g=gate s=source core=core",
            {"volts": 650.0 if unit.volts > 160 else 600.0},
            watts=float(f"{2.5 * want.watts:.3g}"),
        ),
        part("sense-R", "resistor", "a=source b=hot-", ohms=ohms, watts=sz.at_least(3 * mean**2 / ohms, sz.RESISTOR_WATTS[2:])),
        *drain_clamp(),
        part(
            "transformer",
            "flyback",
            "p+=bulk p-=drain a+=aux a-=hot- s+=sec s-=0V core=core",
            out=winding_volts(want),
            aux=round(vcc + 0.7, 2),
        ),
        barrier_cap(),
    )


def _latch(want: Wanted) -> tuple[Part, ...]:
    """Two transistors that hold Vcc down once its zener has conducted, until the bulk is drained."""
    if "over-volt latch" not in want.options:
        return ()
    volts = nearest_value(1.15 * vcc_volts(want), "E24")  # 105 to 130 % of the output, less what its base takes (common practice)
    return (
        part("latch-zener", "zener", "a=latch-g k=vcc", {"watts": 0.5}, volts=volts),
        part("latch-npn", "npn", "b=latch-g c=latch-b e=hot-", {"volts": 45.0}),
        part("latch-pnp", "pnp", "b=latch-b c=latch-g e=vcc", {"volts": 45.0}),
        part("latch-R", "resistor", "a=latch-g b=hot-", ohms=470.0, watts=0.25),
        part("latch-hold-R", "resistor", "a=vcc b=latch-b", ohms=1e3, watts=0.25),
    )


def _second(want: Wanted) -> tuple[Part, ...]:
    """The second rail, made from the first by a regulator."""
    if want.second is None:
        return ()
    volts, amps = want.second
    net = rail_net(volts)
    return (
        part("second-regulator", "regulator", f"in=out out={net} gnd=0V", volts=volts, amps=sz.at_least(amps, sz.AMPS)),
        electrolytic("second-cap", net, "0V", 220e-6, 1.6 * volts),
        part("second-load", "load", f"+={net} -=0V", volts=volts, amps=amps),
    )


def _control(want: Wanted) -> tuple[Part, ...]:
    """Micro and relay on the standby output."""
    if "main by relay" not in want.options:
        return ()
    line = "line" if "no choke" in want.options and "half-wave" not in want.options else "line-f"
    names = {rail_net(want.out): "out"}
    parts = relay_block(want.out, com=line, no="main-line")
    if want.second and rail_net(want.second[0]) == "+5":  # the micro lives on the second rail, no regulator of its own
        parts = tuple(p for p in parts if p.ref not in ("regulator", "5V-cap"))
    return tuple(renamed(p, names) for p in parts)


def _chain(parts: tuple[Part, ...]) -> tuple[str, ...]:
    order = (
        "mains",
        "lead",
        "fuse",
        "inrush",
        "choke",
        "bridge",
        "mains-diode",
        "bulk-cap",
        "start-up-R",
        "vcc-cap",
        "controller",
        "gate-R",
        "switch",
        "sense-R",
        "transformer",
        "rectifier",
        "out-cap",
        "out-load",
        "regulator",
        "micro",
        "driver",
        "relay",
        "main-bridge",
        "main-bulk",
        "main",
    )
    have = {p.ref for p in parts}
    return tuple(place for place in order if place in have)
