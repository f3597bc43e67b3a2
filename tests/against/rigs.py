"""Small circuits on which each part family matters: a source, a resistor or two, and the part, for the comparison with the judge.

The part under test is X1 where nothing else is said. Values are chosen so that each parameter bears on what a meter shows: milliohms of a
contact stand as ohms, a fuse's load lies between its own limit and 1.3 times that, and so on.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from family_rigs import RIGS as SHEETS

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import start_circuit


@dataclass(frozen=True)
class Rig:
    """circuit, and the ref of the part that it is for. without: readings (keys of columns) on which the two are known to differ."""

    circuit: Circuit
    ref: str = "X1"
    without: frozenset[str] = frozenset()


def part(ref: str, family: str, pins: str, tags: str = "", **values: float) -> Part:
    """pins: "a=net b=net"."""
    return Part(ref, family, dict(p.split("=") for p in pins.split()), values, tags=frozenset(tags.split()))


OUTLET = part("mains", "mains", "L=L N=N")
UNIT = Unit("rig", 230.0, 50.0, "II", 40.0)


def on_mains(*parts: Part, ref: str = "X1") -> Rig:
    """Beside the outlet; a net 0V, if there is one, is that of an isolated side."""
    cold = {"0V"} & {net for p in parts for net in p.pins.values()}
    return Rig(Circuit(UNIT, (OUTLET, *parts), {"hot": "N"} | ({"cold": "0V"} if cold else {}), frozenset(cold)), ref)


def on_rail(volts: float, *parts: Part, farads: float = 47e-6, controls: dict[str, dict[str, str]] | None = None) -> Rig:
    """Behind a transformer of so many volts, a bridge and a reservoir: nets raw and 0V."""
    supply = (
        part("T9", "transformer", "p1=L p2=N s1=ac1 s2=ac2", volts=230.0, out=volts, rp=20.0, rs=0.5, mag=20.0),
        part("B9", "bridge", "~1=ac1 ~2=ac2 +=raw -=0V"),
        part("C9", "electrolytic", "+=raw -=0V", farads=farads),
    )
    return Rig(Circuit(UNIT, (OUTLET, *supply, *parts), {"hot": "N", "cold": "0V"}, frozenset({"0V"}), controls or {}))


def r(ref: str, a: str, b: str, ohms: float) -> Part:
    return part(ref, "resistor", f"a={a} b={b}", ohms=ohms, watts=50.0)


def in_line(family: str, **values: float) -> Rig:
    """Outlet, the part, 47 ohm."""
    return on_mains(part("X1", family, "a=L b=x", **values), r("R1", "x", "N", 47.0))


def integrated(ref: str, **values: dict[str, float]) -> Rig:
    """A supply with an integrated switch, whole for the same reason."""
    line = "flyback with integrated switch; out 24V 1A; line sense"
    circuit = start_circuit(line, Unit("rig", 230.0, 50.0, "II", 40.0), ())
    changed = {place.replace("_", "-"): v for place, v in values.items()}
    parts = tuple(replace(p, values={**p.values, **changed.get(p.ref, {})}) for p in circuit.parts)
    return Rig(circuit.with_parts(parts), ref, frozenset({"on|pp|bulk|hot-", "on|ac|bulk|hot-", "on|ac|inlet|live"}))


def swinging(ref: str, **values: dict[str, float]) -> Rig:
    """A self-oscillating flyback, whole for the same reason."""
    circuit = start_circuit("self-oscillating flyback; out 26V 0.3A", Unit("rig", 230.0, 50.0, "II", 10.0), ())
    changed = {place.replace("_", "-"): v for place, v in values.items()}
    parts = tuple(replace(p, values={**p.values, **changed.get(p.ref, {})}) for p in circuit.parts)
    return Rig(circuit.with_parts(parts), ref, frozenset({"on|pp|bulk|hot-", "on|ac|bulk|hot-", "on|ac|inlet|live"}))


def flyback(ref: str, **values: dict[str, float]) -> Rig:
    """A whole switching supply: its families make sense together only. values: of parts by place. perf/README.md says why it is read
    without three of its readings."""
    circuit = start_circuit("flyback with controller 16/10V; out 24V 1.5A", Unit("rig", 230.0, 50.0, "II", 45.0), ())
    changed = {place.replace("_", "-"): v for place, v in values.items()}
    parts = tuple(replace(p, values={**p.values, **changed.get(p.ref, {})}) for p in circuit.parts)
    small = frozenset({"on|pp|bulk|hot-", "on|ac|bulk|hot-", "on|ac|inlet|live"})  # millivolts of ripple; an AC display between two bursts
    return Rig(circuit.with_parts(parts), ref, small)


RIGS: dict[str, tuple[Rig, ...]] = {
    # into a load that it can feed, and into one that it can't
    "bench-supply": tuple(
        on_mains(part("X1", "bench-supply", "+=x -=N", volts=12.0, amps=0.5), r("R1", "x", "N", ohms), r("R2", "L", "N", 1e6)) for ohms in (47.0, 10.0)
    ),
    "mains": (on_mains(r("R1", "L", "N", 2.0), ref="mains"),),
    **{name: (in_line(name, ohms=5.0),) for name in ("lead", "switch", "thermal-link", "stat")},
    # 2 A blows above 3.4 A; here flow 3.8 A, and 3.0 A
    "fuse": (
        on_mains(part("X1", "fuse", "a=L b=x", amps=2.0, ohms=5.0), r("R1", "x", "N", 55.0)),
        on_mains(part("X1", "fuse", "a=L b=x", amps=2.0, ohms=5.0), r("R1", "x", "N", 71.0)),
    ),
    "ntc": (on_mains(part("X1", "ntc", "a=L b=x"), r("R1", "x", "N", 2.0)),),
    # the page gives the clamp volts only, so no more than a few milliamps
    "varistor": (on_mains(r("R1", "L", "x", 10e3), part("X1", "varistor", "a=x b=N", volts=150.0)),),
    # 0.25 W fusible opens above 3 W; here 3.5 W
    "resistor": (
        on_mains(part("X1", "resistor", "a=L b=x", ohms=10e3), r("R1", "x", "N", 10e3)),
        on_mains(part("X1", "resistor", "a=L b=x", "fusible", ohms=13.9e3), r("R1", "x", "N", 1e3)),
    ),
    "capacitor": (on_mains(part("X1", "capacitor", "a=L b=x", farads=1e-6, leak=1e6), r("R1", "x", "N", 3.3e3)),),
    "electrolytic": (
        on_rail(12.0, part("D1", "diode", "a=raw k=x"), part("X1", "electrolytic", "+=x -=0V", farads=47e-6, leak=20e3), r("R1", "x", "0V", 1e3)),
        on_rail(12.0, r("R2", "raw", "x", 1e3), part("X1", "electrolytic", "+=x -=0V", farads=47e-6, esr=2.0), r("R1", "x", "0V", 1e3)),
    ),
    "inductor": (on_mains(part("X1", "inductor", "a=L b=x", henry=0.1, ohms=10.0), r("R1", "x", "N", 22.0)),),
    "motor": (on_mains(part("X1", "motor", "a=L b=x", ohms=40.0), r("R1", "x", "N", 33.0)),),
    "choke": (on_mains(part("X1", "choke", "a1=L a2=x b1=N b2=y", ohms=5.0), r("R1", "x", "y", 47.0)),),
    "transformer": (
        on_mains(
            r("R2", "L", "pri", 1e3),
            part("X1", "transformer", "p1=pri p2=N s1=sec s2=0V", volts=230.0, out=24.0, rp=500.0, rs=10.0),
            r("R1", "sec", "0V", 22.0),
        ),
    ),
    "diode": (
        on_mains(part("X1", "diode", "a=L k=x"), r("R1", "x", "N", 10e3)),
        on_mains(part("X1", "diode", "a=L k=x", "schottky"), r("R1", "x", "N", 10e3)),
    ),
    "bridge": (on_mains(part("X1", "bridge", "~1=L ~2=N +=p -=q"), r("R1", "p", "q", 10e3)),),
    "zener": (on_rail(24.0, r("R1", "raw", "x", 470.0), part("X1", "zener", "a=0V k=x", volts=12.0, ohms=30.0)),),
    "npn": (on_rail(12.0, r("R1", "raw", "b", 470e3), r("R2", "raw", "c", 1e3), part("X1", "npn", "b=b c=c e=0V")),),
    "pnp": (on_rail(12.0, r("R1", "b", "0V", 100e3), r("R2", "c", "0V", 330.0), part("X1", "pnp", "b=b c=c e=raw")),),
    "opto": (on_rail(12.0, r("R1", "raw", "a", 4.7e3), r("R2", "raw", "c", 1e3), part("X1", "opto", "a=a k=0V c=c e=0V")),),
    "opto-triac": (
        on_rail(12.0, r("R1", "raw", "a", 1e3), part("X1", "opto-triac", "a=a k=0V t1=N t2=g"), r("R2", "g", "L", 1e3)),
    ),
    "triac": (on_mains(r("R1", "L", "x", 100.0), r("R3", "x", "y", 22.0), r("R2", "L", "g", 1e3), part("X1", "triac", "t1=N t2=y g=g")),),
    "reference": (
        on_rail(
            18.0, r("R1", "raw", "x", 10e3), r("R2", "x", "r", 68e3), r("R3", "r", "0V", 4.7e3), part("X1", "reference", "k=x a=0V r=r")
        ),
        on_rail(
            18.0, r("R1", "raw", "x", 1e3), r("R2", "x", "r", 10e3), r("R3", "r", "0V", 4.7e3), part("X1", "reference", "k=x a=0V r=r")
        ),
    ),
    "regulator": (
        on_rail(12.0, r("R2", "raw", "in", 100.0), part("X1", "regulator", "in=in out=out gnd=0V", volts=5.0), r("R1", "out", "0V", 470.0)),
        on_rail(6.0, part("X1", "regulator", "in=raw out=out gnd=0V", volts=12.0, amps=0.1), r("R1", "out", "0V", 1e3), farads=470e-6),
        on_rail(12.0, part("X1", "regulator", "in=raw out=out gnd=0V", volts=5.0, amps=0.1), r("R1", "out", "0V", 22.0), farads=2200e-6),
        on_rail(12.0, part("X1", "regulator", "in=0V out=out gnd=raw", volts=-5.0), r("R1", "out", "raw", 470.0)),
    ),
    "fet": (flyback("switch"),),
    # as it is; a supply capacitor that can't carry the start; a start-up resistor that can't; sense volts, supply drop and supply near their limits
    "controller": (
        flyback("controller"),
        flyback("controller", vcc_cap={"farads": 1e-7}),
        flyback("controller", start_up_R={"ohms": 8e6}),
        flyback("controller", sense_R={"ohms": 0.49}, aux_R={"ohms": 200.0}),
        flyback("controller", transformer={"aux": 25.0}),
    ),
    # as it is; a load past its limit; a line-sense string that keeps it off; a bypass capacitor that leaks just so much, and more
    "switcher": (
        integrated("switcher"),
        integrated("switcher", out_load={"amps": 3.0}),
        integrated("switcher", line_sense_R={"ohms": 12e6}),
        integrated("switcher", bypass_cap={"leak": 2.2e3}),
        integrated("switcher", bypass_cap={"leak": 1e3}),
    ),
    # as it is; a limiter that holds it back; a start resistor that can't; feedback that doesn't get through
    "oscillator": (
        swinging("oscillator"),
        swinging("oscillator", out_load={"amps": 2.0}),
        swinging("oscillator", start_R={"ohms": 400e6}),
        swinging("oscillator", feedback_C={"farads": 1e-10}),
    ),
    "plain-flyback": (integrated("transformer", transformer={"rp": 3.0, "rs": 2.0}),),
    "flyback": (flyback("transformer", transformer={"rp": 3.0, "rs": 2.0, "ra": 5.0}),),
    # pulls in at 16.8 V; here 19 to 20 V
    "relay": (
        on_rail(14.5, part("X1", "relay", "c+=raw c-=0V com=L no=x", volts=24.0), r("R1", "x", "N", 47.0)),
        on_rail(14.5, r("R2", "raw", "y", 1e3), part("X1", "relay", "c+=y c-=0V com=L no=x", volts=12.0), r("R1", "x", "N", 47.0)),
    ),
    "heater": (in_line("heater", ohms=91.0),),
    "lamp": (in_line("lamp", volts=230.0, watts=60.0), on_mains(part("X1", "lamp", "a=L b=x", volts=230.0, watts=60.0), r("R1", "x", "N", 1e3))),
    "load": (
        on_rail(12.0, r("R1", "raw", "x", 100.0), part("X1", "load", "+=x -=0V", volts=12.0, amps=0.05)),
        on_rail(12.0, r("R1", "raw", "x", 100.0), part("X1", "load", "+=x -=0V", volts=24.0, amps=0.1)),
    ),
    "micro": (
        on_rail(
            9.0, r("R1", "raw", "x", 470.0), part("Z1", "zener", "a=0V k=x", volts=5.0), part("C1", "electrolytic", "+=x -=0V", farads=100e-6),
            part("X1", "micro", "vdd=x 0v=0V out=out", stop=4.5), r("R2", "out", "0V", 1e3), controls={"go": {"X1.out": "high"}},
        ),
        on_rail(9.0, r("R1", "raw", "x", 470.0), part("X1", "micro", "vdd=x 0v=0V out=out", amps=12e-3), controls={"go": {"X1.out": "high"}}),
    ),
}  # fmt: skip
# The families that came later are read on the small sheets on which each of their ways is compared as well.
RIGS |= {
    name: tuple(Rig(s.circuit(), s.ref) for s in SHEETS.values() if s.family == name and not s.off)
    for name in sorted({s.family for s in SHEETS.values()} - set(RIGS))
}
