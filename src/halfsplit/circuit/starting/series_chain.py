"""Starting sheet: a heater (or motor) in series with what protects and switches it, plug to neutral.

The parts follow in the order in which the line names them. With a relay its coil hangs on a small transformer supply.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import electrolytic, heater_ohms, mains_in, part, pressed, rail_net, relay_amps, relay_block
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

DEFAULT_WATTS = 500.0
DEFAULT_RELAY_VOLTS = 12.0
SECONDARY_VA = 2.5


@dataclass(frozen=True)
class Step:
    """One part of the chain: place, and the size that its clause gave (None: not said)."""

    place: str
    watts: float | None = None
    volts: float | None = None
    celsius: float | None = None
    amps: float | None = None
    ohms: float | None = None


def _fuse(step: Step, a: str, b: str, amps: float, unit: Unit) -> Part:
    return part(step.place, "fuse", f"a={a} b={b}", {"volts": 250.0}, ("T",), amps=step.amps or sz.fuse_amps(amps, 1.0))


def _link(step: Step, a: str, b: str, amps: float, unit: Unit) -> Part:
    return part(step.place, "thermal-link", f"a={a} b={b}", {"celsius": step.celsius or 216.0, "amps": 10.0})


def _stat(step: Step, a: str, b: str, amps: float, unit: Unit) -> Part:
    return part(step.place, "stat", f"a={a} b={b}", {"celsius": step.celsius or 195.0, "amps": 10.0})


def _contact(step: Step, a: str, b: str, amps: float, unit: Unit) -> Part:
    return part(step.place, "switch", f"a={a} b={b}", {"amps": sz.at_least(max(amps, 10.0), sz.AMPS)})


def _heater(step: Step, a: str, b: str, amps: float, unit: Unit) -> Part:
    watts = step.watts or DEFAULT_WATTS
    return part(step.place, "heater", f"a={a} b={b}", {"watts": watts}, ohms=step.ohms or heater_ohms(watts, unit.volts))


def _motor(step: Step, a: str, b: str, amps: float, unit: Unit) -> Part:
    return part(step.place, "motor", f"a={a} b={b}", {"watts": step.watts or DEFAULT_WATTS}, ohms=step.ohms or 40.0, henry=0.1)


MAKERS: dict[str, Callable[[Step, str, str, float, Unit], Part]] = {
    "fuse": _fuse,
    "switch": _contact,
    "link": _link,
    "stat": _stat,
    "contact": _contact,
    "heater": _heater,
    "motor": _motor,
}
LOADS = ("heater", "motor")
SAME = {"thermostat": "stat", "bimetal": "stat", "element": "heater", "thermal-link": "link", "cut-out": "link"}
KNOWN = (*MAKERS, "relay", "press")


def read(parts: tuple[Clause, ...], unit: Unit) -> tuple[tuple[Step, ...], str | None, tuple[str, ...]]:
    """(steps in their order, press word, what was assumed)."""
    steps: list[Step] = []
    said: list[str] = []
    press = None
    for clause in parts:
        words = [SAME.get(w, w) for w in clause.words]
        if "press" in words:
            press = next((w for w in words if w not in ("press", "relay")), None)
            continue
        refuse_leftovers(replace(clause, words=tuple(words)), KNOWN, ("thermal", "no", "bimetal"))
        kinds = [w for w in words if w in MAKERS or w == "relay"]
        if "no" in words or not (words or clause.sizes):
            continue
        kind = "relay" if "relay" in kinds else kinds[0] if kinds else ""
        if not kind:
            raise InputError(f"start: {clause.text!r} names no part of the chain; say one of: {', '.join(KNOWN[:-1])}")
        steps.append(_step(kind, clause, steps))
    return _completed(steps, unit, said), press, tuple(said)


ONLY_ONE = frozenset({"relay"})  # words of a chain that may stand there once


def _step(kind: str, clause: Clause, before: list[Step]) -> Step:
    count = sum(s.place.split("-")[0] == kind for s in before)
    if kind in ONLY_ONE and count:
        raise InputError(f"start: a second relay ({clause.text!r}) isn't in this sheet; trace it as a way: live K2.no heat")
    place = kind if not count else f"{kind}-{count + 1}"
    size = clause.size
    return Step(place, size("watts"), size("volts"), size("celsius"), size("amps"), size("ohms"))


def _is(step: Step, *kinds: str) -> bool:
    return step.place.split("-")[0] in kinds


def _completed(steps: list[Step], unit: Unit, said: list[str]) -> tuple[Step, ...]:
    """Fuse and heater are put in when nobody named them; loads go to the end. Sizes that weren't said are told."""
    if not any(_is(s, *LOADS) for s in steps):
        steps.append(Step("heater"))
    if not any(_is(s, "fuse") for s in steps):
        steps.insert(0, Step("fuse"))
        said.append("fuse")
    watts = unit.watts if unit.watts > 0 else DEFAULT_WATTS
    done: list[Step] = []
    for step in steps:
        if _is(step, "heater") and step.watts is None and step.ohms is None:
            step = replace(step, watts=watts)
            said.append(f"{step.place} {watts:g}W")
        if _is(step, "relay") and step.volts is None:
            step = replace(step, volts=DEFAULT_RELAY_VOLTS)
            said.append(f"relay {DEFAULT_RELAY_VOLTS:g}V")
        done.append(step)
    return (*(s for s in done if not _is(s, *LOADS)), *(s for s in done if _is(s, *LOADS)))


def load_amps(steps: tuple[Step, ...], unit: Unit) -> float:
    """What flows in the chain [A rms]."""
    watts = [unit.volts**2 / s.ohms if s.ohms else s.watts or DEFAULT_WATTS for s in steps if _is(s, *LOADS)]
    return sum(watts) / unit.volts


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet."""
    steps, press, said = read(parts, unit)
    amps = load_amps(steps, unit)
    series, loads = [s for s in steps if not _is(s, *LOADS)], [s for s in steps if _is(s, *LOADS)]
    nets = _joints(series, loads[0].place)
    chain: list[Part] = []
    board: tuple[Part, ...] = ()
    for i, step in enumerate(series):
        if _is(step, "relay"):
            board = _relay_supply(step, nets[i], nets[i + 1], unit, "live" if "live" in nets else "inlet")
        else:
            chain.append(MAKERS[step.place.split("-")[0]](step, nets[i], nets[i + 1], amps, unit))
    chain += [MAKERS[s.place.split("-")[0]](s, nets[-1], "N", amps, unit) for s in loads]
    everything = (*mains_in(unit), *chain, *board)
    hot = {net for p in (*mains_in(unit), *chain) for net in p.pins.values()} | set(nets) | {"N"}
    cold = frozenset(net for p in board for net in p.pins.values()) - hot
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "N", "cold": "0V"} if board else {"hot": "N"},
        cold_claims=cold,
        controls=pressed(symptom, press) if board else {},
        chain=("mains", "lead", *(s.place for s in steps)),
        symptom=symptom,
        start=_text(steps, press, said),
    )


def _joints(series: list[Step], load: str) -> list[str]:
    """Nets along the chain: where the lead ends, `live` after the fuse, then a joint named by its two neighbours."""
    nets = ["inlet"]
    for i, step in enumerate(series):
        after = series[i + 1].place if i + 1 < len(series) else load
        nets.append("live" if step.place == "fuse" else f"{step.place}/{after}")
    return nets


def _relay_supply(step: Step, com: str, no: str, unit: Unit, line: str) -> tuple[Part, ...]:
    """Relay block on a raw rail from a small transformer whose loaded volts are about the coil's."""
    rail = step.volts or DEFAULT_RELAY_VOLTS
    name = rail_net(rail)
    label = sz.nearest((rail + sz.BRIDGE_DROP) / sz.peak(1.0), sz.SECONDARY_VOLTS)
    amps = relay_amps(rail)
    va = sz.at_least(max(1.6 * amps * label, SECONDARY_VA), sz.TRANSFORMER_VA)
    values = sz.transformer_values(label, va, volts=unit.volts, hertz=unit.hertz)
    return (
        part("transformer", "transformer", f"p1={line} p2=N s1=sec-a s2=sec-b", {"va": va}, **values),
        part("bridge", "bridge", f"~1=sec-a ~2=sec-b +={name} -=0V", {"volts": 200.0, "amps": 1.0}),
        electrolytic("reservoir", name, "0V", max(sz.reservoir_farads(amps, unit.hertz), 470e-6), 1.1 * sz.peak(values["out"])),
        *relay_block(rail, com=com, no=no),
    )


def _text(steps: tuple[Step, ...], press: str | None, said: tuple[str, ...]) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    bits = [_step_text(s) for s in steps] + ([f"press {press}"] if press else [])
    return f"series chain: {', '.join(bits)}" + (f" (assumed: {', '.join(said)})" if said else "")


def _step_text(s: Step) -> str:
    sizes = ((s.volts, "V"), (s.celsius, "C"), (s.amps, "A"), (s.watts, "W"), (s.ohms, "R"))
    return " ".join([s.place.split("-")[0], *(f"{x:g}{u}" for x, u in sizes if x is not None)])
