"""Starting sheet: flyback supply with an integrated switch, mains to regulated output.

Front and cold side are those of the flyback with a controller. Hot: one chip that feeds itself from its drain, its bypass capacitor,
the clamp, and where it is said a string of resistors that lets it start only when the bulk is there.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import electrolytic, part, rail_net
from halfsplit.circuit.starting.flyback import barrier_cap, drain_clamp, front
from halfsplit.circuit.starting.flyback_cold import feedback, secondary, winding_volts
from halfsplit.circuit.starting.flyback_line import Wanted
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

OPTIONS = ("line sense", "no varistor", "no choke", "half-wave")
KNOWN = ("out", "buck", "fan", *OPTIONS)
EFFICIENCY = 0.85  # of a small buck and of the averaged stage, docs/families.md
OVERLOAD = 1.5  # times its full load a stage moves before the chip's own limit says stop (common practice 1.3 to 1.6)
CHAIN = (
    "mains", "lead", "fuse", "inrush", "choke", "bridge", "mains-diode", "bulk-cap", "line-sense-R", "bypass-cap", "switcher",
    "transformer", "rectifier", "out-cap", "fan", "out-load", "buck-module", "second-load",
)  # fmt: skip


@dataclass(frozen=True)
class Extras:
    """What hangs on the output beside the rest. buck: (V, A) or None; fan [A] or 0; sense: a line-sense string is there."""

    buck: tuple[float, float] | None
    fan: float
    sense: bool

    @property
    def amps(self) -> float:
        """What fan and buck take of the output where it has one volt [V A]."""
        return 0.0 if self.buck is None else self.buck[0] * self.buck[1] / EFFICIENCY


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    want, extras = read(parts, unit)
    rest = want.amps - extras.fan - extras.amps / want.out
    if rest <= 0:
        raise InputError(f"start: out {want.out:g}V {want.amps:g}A can't feed the fan and the buck beside it; give it more amps")
    hot = (*front(want, unit), *_primary(want, unit, extras))
    cold = (*_loaded(secondary(want), rest), *feedback(want), *_fan(want, extras), *_buck(extras))
    everything = (*hot, *cold)
    hot_nets = {net for p in hot for net in p.pins.values()} - {"0V", "sec"}  # these two only touch the barrier
    cold_nets = {net for p in everything for net in p.pins.values()} - hot_nets
    have = {p.ref for p in everything}
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "hot-", "cold": "0V"},
        cold_claims=frozenset(cold_nets),
        controls={},
        chain=tuple(place for place in CHAIN if place in have),
        switching=frozenset({"drain", "clamp", "sec", "core"}),
        symptom=symptom,
        start=told(want, extras),
    )


def read(parts: tuple[Clause, ...], unit: Unit) -> tuple[Wanted, Extras]:
    """The sizes and options out of the clauses; what wasn't said gets a default, and is told."""
    said: list[str] = []
    out, amps, fan = None, None, 0.0
    buck: tuple[float, float] | None = None
    options: set[str] = set()
    for clause in parts:
        refuse_leftovers(clause, KNOWN, ("output", "chip", "rail", "module", "line-sense", "string", "second"))
        options |= {o for o in OPTIONS if clause.has(*o.split()) or (o == "line sense" and clause.has("line-sense"))}
        volts, current = clause.size("volts"), clause.size("amps")
        if clause.has("buck"):
            buck = (volts or 5.0, current or 0.3)
        elif clause.has("fan"):
            fan = current or 0.3
        elif volts is not None:
            out, amps = volts, current
    if out is None:
        out = 12.0
        said.append("out 12V")
    if amps is None:
        amps = float(f"{0.8 * unit.watts / out:.2g}") if unit.watts > 0 else 1.0
        said.append(f"{amps:g}A")
    if buck is not None and buck[0] > out - 2:
        raise InputError(f"start: a buck of {buck[0]:g}V needs 2 V of headroom under out {out:g}V; name the higher rail `out`")
    want = Wanted(0.0, 0.0, out, amps, None, frozenset(options), 0.0, None, tuple(said))
    return want, Extras(buck, fan, "line sense" in options)


def told(want: Wanted, extras: Extras) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    bits = ["flyback with integrated switch", f"out {want.out:g}V {want.amps:g}A"]
    if extras.buck:
        bits.append(f"buck {extras.buck[0]:g}V {extras.buck[1]:g}A")
    if extras.fan:
        bits.append(f"fan {extras.fan:g}A")
    bits += sorted(want.options)
    return "; ".join(bits) + (f" (assumed: {', '.join(want.said)})" if want.said else "")


def _primary(want: Wanted, unit: Unit, extras: Extras) -> tuple[Part, ...]:
    string = 4e6 if unit.volts > 160 else 2e6  # 2 to 4 Mohm (common practice): some 75 uA either way
    winding = winding_volts(want)
    sense = (part("line-sense-R", "resistor", "a=bulk b=uv", {"volts": sz.bulk_volts(unit.volts)}, ohms=string, watts=0.5),)
    return (
        *(sense if extras.sense else ()),
        electrolytic("bypass-cap", "bp", "hot-", 10e-6, 16.0),
        part(
            "switcher",
            "switcher",
            f"d=drain s=hot- bp=bp fb=fb uv={'uv' if extras.sense else 'bp'} core=core",
            {"volts": 700.0 if unit.volts > 160 else 650.0},
            watts=float(f"{OVERLOAD * want.watts:.3g}"),
            knee=float(f"{0.5 * winding:.3g}"),  # its limit is one of current: shorted, the output gets about 2.5 times its amps
        ),
        *drain_clamp(),
        part("transformer", "plain-flyback", "p+=bulk p-=drain s+=sec s-=0V core=core", out=winding),
        barrier_cap(),
    )


def _loaded(parts: tuple[Part, ...], amps: float) -> tuple[Part, ...]:
    """What nobody has traced takes what fan and buck leave."""
    left = float(f"{amps:.3g}")
    return tuple(replace(p, values={**p.values, "amps": left}) if p.ref == "out-load" else p for p in parts)


def _fan(want: Wanted, extras: Extras) -> tuple[Part, ...]:
    return (part("fan", "load", "+=out -=0V", volts=want.out, amps=extras.fan),) if extras.fan else ()


def _buck(extras: Extras) -> tuple[Part, ...]:
    """The second rail, stepped down from the first."""
    if extras.buck is None:
        return ()
    volts, amps = extras.buck
    net = rail_net(volts)
    return (
        part("buck-module", "buck-module", f"in=out out={net} gnd=0V", volts=volts, amps=sz.at_least(amps, sz.AMPS)),
        electrolytic("second-cap", net, "0V", 220e-6, 1.6 * volts),
        part("second-load", "load", f"+={net} -=0V", volts=volts, amps=amps),
    )
