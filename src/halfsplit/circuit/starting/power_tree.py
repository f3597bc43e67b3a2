"""Starting sheet: the power tree of a micro board. A 12 V module, a polyfuse, a 5 V step-down module, a 3.3 V low-drop regulator, and what hangs on them.

The 3.3 V rail is drawn with the pieces of track between its tap points, so that millivolts along it can tell the branch that carries current.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import electrolytic, part, rail_net
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

KNOWN = ("adapter", "module", "rail")
TRACK = 10e-3  # [ohm] of some centimetres of track with its vias: 5 to 20 mohm (common practice)
MICRO_AMPS = 25e-3


@dataclass(frozen=True)
class Rail:
    """volts [V] and amps [A] that it feeds."""

    volts: float
    amps: float


def read(parts: tuple[Clause, ...]) -> tuple[float, tuple[Rail, Rail], tuple[str, ...]]:
    """(volts in, the two rails, what was assumed): the volts in falling order."""
    sizes: list[tuple[float, float | None]] = []
    said: list[str] = []
    for clause in parts:
        refuse_leftovers(clause, KNOWN, ("out", "rails", "buck", "ldo"))
        sizes += [(s.value, clause.size("amps")) for s in clause.sizes if s.kind == "volts"]
    sizes.sort(key=lambda s: -s[0])
    usual: tuple[tuple[float, float | None], ...] = ((12.0, None), (5.0, 1.0), (3.3, 0.5))
    if sizes and len(sizes) < 3:
        usual = tuple(u for u in usual if all(abs(u[0] - s[0]) > 0.2 for s in sizes))
        sizes = sorted([*sizes, *usual[: 3 - len(sizes)]], key=lambda s: -s[0])
        said.append("the other volts")
    sizes = sizes or list(usual)
    if len(sizes) != 3:
        raise InputError("start: a power tree here has one feed and two rails, as power tree 12V, 5V 1A, 3.3V 0.5A")
    (feed, _), (high, more), (low, less) = sizes
    if more is None or less is None:
        said.append(f"{high:g}V {more or 1.0:g}A, {low:g}V {less or 0.5:g}A")
    if not 1.15 * high + 1.0 <= feed <= 40 or low + 0.5 > high or low < 1.1:
        raise InputError(f"start: {low:g} V from {high:g} V from {feed:g} V leaves no headroom; each rail has to lie under what feeds it")
    return feed, (Rail(high, more or 1.0), Rail(low, less or 0.5)), tuple(said)


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    feed, (high, low), said = read(parts)
    front = (part("mains", "mains", "L=L N=N", volts=unit.volts, hertz=unit.hertz), part("lead", "lead", "a=L b=inlet", {"amps": 10.0}))
    cold = (*_feed(feed, high), *_high(high, low), *_low(low))
    everything = (*front, *cold)
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "N", "cold": "0V"},
        cold_claims=frozenset(net for p in cold for net in p.pins.values()) - {"L", "N", "inlet"},
        chain=("mains", "lead", "adapter", "ptc", "in-cap", "buck", "5V-cap", "5V-load", "ldo", "ldo-cap", "micro", "3V3-load"),
        symptom=symptom,
        start=f"power tree {feed:g}V, {high.volts:g}V {high.amps:g}A, {low.volts:g}V {low.amps:g}A"
        + (f" (assumed: {', '.join(said)})" if said else ""),
    )


def _feed(feed: float, high: Rail) -> tuple[Part, ...]:
    amps = sz.at_least(1.6 * high.volts * high.amps / 0.88 / feed, sz.AMPS)
    return (
        part("adapter", "adapter", "L=inlet N=N +=in -=0V", volts=feed, amps=amps),
        part("ptc", "ptc", "a=in b=supply", amps=amps),
        electrolytic("in-cap", "supply", "0V", 100e-6, 1.5 * feed),
    )


def _high(high: Rail, low: Rail) -> tuple[Part, ...]:
    net, own = rail_net(high.volts), max(0.5 * high.amps - low.amps, 0.05 * high.amps)
    return (
        part("buck", "buck-module", f"in=supply out={net} gnd=0V", volts=high.volts, amps=high.amps),
        electrolytic("5V-cap", net, "0V", 22e-6, 2.5 * high.volts),
        part("5V-load", "load", f"+={net} -=0V", volts=high.volts, amps=float(f"{own:.2g}")),
        part("ldo", "ldo", f"in={net} out=ldo-out gnd=0V", volts=low.volts, amps=low.amps, dropout=1.1 if high.volts - low.volts > 1.4 else 0.3),
    )


def _low(low: Rail) -> tuple[Part, ...]:
    """The low rail: track from the regulator to a first point, from there to the micro and to a far branch, each with its ceramics."""
    rail = rail_net(low.volts)
    ceramic = {"volts": sz.at_least(1.6 * low.volts, sz.CAP_VOLTS)}
    return (
        part("ldo-cap", "ceramic", "a=ldo-out b=0V", ceramic, farads=10e-6),
        part("track-ldo", "joint", f"a=ldo-out b={rail}", ohms=TRACK),
        part("track-micro", "joint", f"a={rail} b=micro-vdd", ohms=TRACK),
        part("micro", "micro", "vdd=micro-vdd 0v=0V out=reset", volts=low.volts, amps=MICRO_AMPS),
        part("micro-cap", "ceramic", "a=micro-vdd b=0V", ceramic, farads=1e-6),
        part("reset-R", "resistor", "a=reset b=0V", ohms=10e3, watts=0.25),
        part("track-far", "joint", f"a={rail} b=far", ohms=TRACK),
        part("far-cap", "ceramic", "a=far b=far-0V", ceramic, farads=10e-6),
        part("track-0V", "joint", "a=far-0V b=0V", ohms=2 * TRACK),
        part("3V3-load", "load", "+=far -=far-0V", volts=low.volts, amps=float(f"{0.12 * low.amps:.2g}"), idle=1.5e3),
    )
