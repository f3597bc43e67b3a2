"""Starting sheet: mains, boost stage that shapes the current (PFC), 385 V bulk, resonant half-bridge (LLC), output; standby beside them.

Front: fuse, NTC with its bypass relay, X capacitor, choke, bridge, small film. Boost: coil, FET, diode, bypass diode, string of three.
Standby: always on; its Vcc goes to both controllers through the enable transistor. Sizes are rules of thumb; every one is an assumption.
"""

from __future__ import annotations

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import electrolytic, mains_in, part, rail_net, standard_ohms, surge_clamp
from halfsplit.circuit.starting.flyback_cold import divider
from halfsplit.circuit.starting.pfc_line import Wanted, read, told
from halfsplit.circuit.starting.words import Clause
from halfsplit.units_codes import nearest_value

PFC_SHARE, LLC_SHARE = 0.95, 0.93  # efficiencies of the averaged stages, docs/families.md
HEADROOM = 2.0  # what either stage can move over its rated output (common practice: 1.5 to 2.5)
FB_VOLTS, STRING_OHMS = 2.5, 1e6  # the boost controller's reference; each of three resistors of the string (common practice)
AUX = 15.5  # [V] of the standby's Vcc winding: 12 to 18 V (common practice)
SENSE_MEAN, LOW_SENSE_MEAN = 0.1, 0.03  # [V] mean across each sense resistor at full load (common practice, 10 to 150 mV)
STRING = {"volts": 200.0, "tolerance": 0.01}  # one of the string: 1 %, or the bulk is not what it should be (common practice)
BLEED_OHMS = 220e3  # each of two in series across the bulk (common practice)
RESONANT = 22e-9  # [F] 10 to 100 nF (common practice)


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    want = read(parts, unit)
    cold = (*_secondary(want), *_feedback(want), *_standby_side(want))
    hot = (*_front(want, unit), *_boost(want, unit), *_bulk(want), *_bridge(want), *_standby(want))
    everything = (*hot, *cold)
    hot_nets = {n for p in hot for n in p.pins.values()} - {"0V", "sec-one", "sec-two", "enable-a", rail_net(want.standby)}
    words = dict.fromkeys(["on", *([want.press] if want.press else [])])
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "hot-", "cold": "0V"},
        cold_claims=frozenset({n for p in everything for n in p.pins.values()} - hot_nets),
        controls={word: {"micro.out": "high"} for word in words},
        chain=_chain(everything),
        switching=frozenset(
            {"pfc-drain", "pfc-core", "pfc-drive", "pfc-gate", "high-drive", "high-gate", "low-drive", "low-gate", "tank", "core"}
            | {"sec-one", "sec-two"}
        ),
        symptom=symptom,
        start=told(want),
    )


def _mains_watts(want: Wanted) -> float:
    return want.watts / PFC_SHARE / LLC_SHARE


def _front(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    """Plug to the rectified line."""
    amps = _mains_watts(want) / (0.97 * 0.9 * unit.volts)  # power factor 0.97, low line
    fuse = min(sz.fuse_amps(amps, 3.15), 12.5)
    relay = "no bypass relay" not in want.options
    return (
        *mains_in(unit),
        part("fuse", "fuse", "a=inlet b=live", {"volts": 250.0}, ("T",), amps=fuse),
        surge_clamp(unit, "live"),
        part("inrush", "ntc", "a=live b=line", {"amps": fuse}, ohms=5.0),
        *(
            (
                part("bypass-relay", "relay", "c+=vcc c-=hot- com=live no=line", {"amps": 16.0}, volts=12.0, ohms=360.0),
                part("coil-diode", "diode", "a=hot- k=vcc", {"volts": 100.0, "amps": 0.2}),
            )
            if relay
            else ()
        ),
        *(
            ()
            if "no x-cap" in want.options
            else (part("x-cap", "capacitor", "a=line b=N", {"volts": 275.0}, ("x2",), farads=680e-9),)
        ),
        part("choke", "choke", "a1=line a2=line-f b1=N b2=neutral-f", {"amps": fuse}),
        part(
            "bridge", "bridge", "~1=line-f ~2=neutral-f +=rect -=hot-", {"volts": 600.0, "amps": sz.at_least(2.5 * fuse, sz.AMPS)}
        ),
        part("rect-C", "capacitor", "a=rect b=hot-", {"volts": 450.0}, farads=1e-6),
    )


def string_low(bulk: float) -> float:
    """The low resistor that puts FB at 2.5 V with this bulk behind three of 1 M [ohm], E96."""
    return nearest_value(3 * STRING_OHMS / (bulk / FB_VOLTS - 1.0), "E96")


def _boost(want: Wanted, unit: Unit) -> tuple[Part, ...]:
    """Coil, FET, diode and their controller; the string that tells it the bulk."""
    watts = want.watts / LLC_SHARE
    siemens = float(f"{HEADROOM * watts / PFC_SHARE / unit.volts**2:.3g}")
    # what the FET carries: the coil's amps less the diode's, both as means
    amps = watts / PFC_SHARE / unit.volts * 0.9 - watts / want.bulk
    ohms = max(standard_ohms(SENSE_MEAN / max(amps, 0.05)), 0.02)
    amps_rated = sz.at_least(4 * watts / want.bulk, sz.AMPS)
    return (
        part("pfc-coil", "boost-coil", "a=rect b=pfc-drain core=pfc-core", ohms=0.2),
        part("pfc-switch", "boost-fet", "d=pfc-drain g=pfc-gate s=pfc-source core=pfc-core", {"volts": 650.0}, siemens=siemens),
        part("pfc-sense-R", "resistor", "a=pfc-source b=hot-", ohms=ohms, watts=3.0),
        part("pfc-diode", "diode", "a=pfc-drain k=bulk", {"volts": 600.0, "amps": amps_rated}, ("fast",)),
        part("bypass-diode", "diode", "a=rect k=bulk", {"volts": 1000.0, "amps": 6.0}),
        part(
            "pfc-controller",
            "pfc-controller",
            "vcc=vcc gnd=hot- fb=pfc-fb gate=pfc-drive sense=pfc-source",
            trip=float(f"{6 * ohms * max(amps, 0.05):.3g}"),
        ),
        part("pfc-gate-R", "resistor", "a=pfc-drive b=pfc-gate", ohms=10.0, watts=0.25),
        part("pfc-pulldown", "resistor", "a=pfc-gate b=hot-", ohms=10e3, watts=0.25),
        part("string-one", "resistor", "a=bulk b=string-a", STRING, ohms=STRING_OHMS, watts=0.25),
        part("string-two", "resistor", "a=string-a b=string-b", STRING, ohms=STRING_OHMS, watts=0.25),
        part("string-three", "resistor", "a=string-b b=pfc-fb", STRING, ohms=STRING_OHMS, watts=0.25),
        part("string-low", "resistor", "a=pfc-fb b=hot-", {"tolerance": 0.01}, ohms=string_low(want.bulk), watts=0.25),
        part("fb-cap", "capacitor", "a=pfc-fb b=hot-", {"volts": 50.0}, farads=1e-9),
    )


def _bulk(want: Wanted) -> tuple[Part, ...]:
    return (
        electrolytic("bulk-cap", "bulk", "hot-", nearest_value(max(0.67e-6 * want.watts, 47e-6), "E12"), 450.0),
        part("bleed-one", "resistor", "a=bulk b=bleed-mid", {"volts": 350.0}, ohms=BLEED_OHMS, watts=1.0),
        part("bleed-two", "resistor", "a=bleed-mid b=hot-", {"volts": 350.0}, ohms=BLEED_OHMS, watts=1.0),
    )


def rectifier_drop(want: Wanted) -> float:
    """Schottky up to 20 V out, ultrafast above (common practice)."""
    return 0.4 if want.out <= 20 else 0.75


def _bridge(want: Wanted) -> tuple[Part, ...]:
    """Half-bridge: two FETs, resonant capacitor, transformer, controller."""
    watts = want.watts / LLC_SHARE
    siemens = float(f"{2 * HEADROOM * watts / want.bulk**2:.3g}")
    ohms = standard_ohms(LOW_SENSE_MEAN / (watts / want.bulk))
    ratings = {"volts": 600.0}
    return (
        part("high-switch", "bridge-fet", "d=bulk g=high-gate s=mid core=core", ratings, siemens=siemens),
        part("low-switch", "bridge-fet", "d=mid g=low-gate s=low-source core=core", ratings, siemens=siemens),
        part("sense-R", "resistor", "a=low-source b=hot-", ohms=ohms, watts=1.0),
        part(
            "llc-controller",
            "llc-controller",
            "vcc=vcc gnd=hot- bulk=bulk fb=fb ho=high-drive vs=mid lo=low-drive sense=low-source",
            trip=float(f"{1.8 * LOW_SENSE_MEAN:.3g}"),
        ),
        part("high-gate-R", "resistor", "a=high-drive b=high-gate", ohms=22.0, watts=0.25),
        part("high-pulldown", "resistor", "a=high-gate b=mid", ohms=10e3, watts=0.25),
        part("low-gate-R", "resistor", "a=low-drive b=low-gate", ohms=22.0, watts=0.25),
        part("low-pulldown", "resistor", "a=low-gate b=hot-", ohms=10e3, watts=0.25),
        part("resonant-C", "capacitor", "a=tank b=hot-", {"volts": 1000.0}, farads=RESONANT),
        part(
            "transformer",
            "bridge-transformer",
            "p+=mid p-=tank s1=sec-one ct=0V s2=sec-two core=core",
            out=round(want.out + rectifier_drop(want), 2),
            rs=float(f"{min(0.01 * want.out / want.amps, 0.05):.2g}"),
        ),
        part("y-cap", "capacitor", "a=hot- b=0V", {"volts": 250.0}, ("y1",), farads=2.2e-9),
    )


def _secondary(want: Wanted) -> tuple[Part, ...]:
    tags = ("schottky",) if want.out <= 20 else ("fast",)
    ratings = {"volts": sz.at_least(3 * want.out, sz.DIODE_VOLTS), "amps": sz.at_least(1.5 * want.amps, sz.AMPS)}
    farads = nearest_value(min(max(100e-6 * want.amps, 470e-6), 4700e-6), "E6")
    return (
        part("rectifier", "diode", "a=sec-one k=out", ratings, tags),
        part("rectifier-two", "diode", "a=sec-two k=out", ratings, tags),
        electrolytic("out-cap", "out", "0V", farads, 1.25 * want.out),
        part("out-load", "load", "+=out -=0V", volts=want.out, amps=want.amps),
    )


def _feedback(want: Wanted) -> tuple[Part, ...]:
    top, low = divider(want.out)
    led = standard_ohms(max((want.out - 1.15 - 2.0) / 5e-3, 47.0))  # at most 5 mA with the reference pulled right down
    return (
        part("divider-top", "resistor", "a=out b=ref", {"tolerance": 0.01}, ohms=top, watts=0.25),
        part("divider-low", "resistor", "a=ref b=0V", {"tolerance": 0.01}, ohms=low, watts=0.25),
        part("reference", "reference", "k=opto-k a=0V r=ref"),
        part("opto-R", "resistor", "a=out b=opto-a", ohms=led, watts=0.5),
        part("opto-bias", "resistor", "a=opto-a b=opto-k", ohms=1e3, watts=0.25),
        part("opto", "opto", "a=opto-a k=opto-k c=fb e=hot-"),
        part("loop-cap", "capacitor", "a=opto-k b=ref", {"volts": 50.0}, farads=100e-9),
    )


def _standby(want: Wanted) -> tuple[Part, ...]:
    """Standby block, its Vcc, and the transistor that passes this on to both controllers."""
    rail = rail_net(want.standby)
    return (
        part("standby", "standby", f"in+=bulk in-=hot- v+=standby-vcc v-=hot- s+={rail} s-=0V", volts=want.standby, aux=AUX),
        electrolytic("standby-vcc-cap", "standby-vcc", "hot-", 47e-6, 35.0),
        part("enable-switch", "pnp", "b=enable-base c=vcc e=standby-vcc", {"volts": 45.0, "amps": 0.5}),
        part("enable-pull-R", "resistor", "a=standby-vcc b=enable-base", ohms=10e3, watts=0.25),
        part("enable-base-R", "resistor", "a=enable-base b=enable-c", ohms=4.7e3, watts=0.25),
        part("enable-opto", "opto", "a=enable-a k=0V c=enable-c e=hot-"),
        electrolytic("vcc-cap", "vcc", "hot-", 47e-6, 35.0),
    )


def _standby_side(want: Wanted) -> tuple[Part, ...]:
    """Micro on the standby rail; its output is the enable line."""
    rail = rail_net(want.standby)
    return (
        electrolytic("standby-cap", rail, "0V", 470e-6, 1.6 * want.standby),
        part("micro", "micro", f"vdd={rail} 0v=0V out=enable", volts=want.standby, amps=30e-3),
        part("enable-R", "resistor", "a=enable b=enable-a", ohms=standard_ohms((want.standby - 1.15) / 8e-3), watts=0.25),
    )


def _chain(parts: tuple[Part, ...]) -> tuple[str, ...]:
    order = (
        "mains lead fuse inrush bypass-relay choke bridge rect-C pfc-coil pfc-diode bulk-cap standby standby-cap micro enable-R "
        "enable-opto enable-switch vcc-cap pfc-controller pfc-gate-R pfc-switch pfc-sense-R llc-controller high-gate-R high-switch "
        "low-gate-R low-switch sense-R transformer resonant-C rectifier rectifier-two out-cap out-load"
    ).split()
    have = {p.ref for p in parts}
    return tuple(place for place in order if place in have)
