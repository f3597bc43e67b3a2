"""Starting sheet: mains transformer, bridge, reservoir, a regulator for each rail."""

from __future__ import annotations

from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part, Unit
from halfsplit.circuit.starting import sizes as sz
from halfsplit.circuit.starting.build import electrolytic, mains_in, part, rail_net
from halfsplit.circuit.starting.words import Clause, refuse_leftovers
from halfsplit.errors import InputError

KNOWN = ("rail", "regulator", "apart", "no switch", "no fuse")
HEADROOM = 4.0  # [V] reservoir above the highest output (common practice: input >= out + 2 at the bottom of 2 V of ripple)
DROPOUT = 2.0  # [V] of a three-terminal type
RIPPLE = 2.0  # [V] peak to peak at full load
QUIESCENT = 5e-3
FIRST_AMPS, NEXT_AMPS = 1.0, 0.1


@dataclass(frozen=True)
class Rail:
    """One regulated output: volts [V], its sign kept, and amps [A]. apart: it has a winding, bridge and reservoir of its own."""

    volts: float
    amps: float
    apart: bool = False


def read(parts: tuple[Clause, ...]) -> tuple[tuple[Rail, ...], frozenset[str], tuple[str, ...]]:
    """(rails, options, what was assumed). A +- size gives two rails."""
    rails: list[Rail] = []
    said: list[str] = []
    options: set[str] = set()
    for clause in parts:
        refuse_leftovers(clause, KNOWN, ("out", "output", "transformer", "regulated", "load", "negative", "minus", "rails"))
        options |= {o for o in ("no switch", "no fuse") if clause.has(*o.split())}
        amps = clause.size("amps")
        for size in (s for s in clause.sizes if s.kind == "volts"):
            given = amps if amps is not None else NEXT_AMPS if rails else FIRST_AMPS
            if amps is None:
                said.append(f"{size.value:g}V {given:g}A")
            minus = size.negative or clause.has("negative") or clause.has("minus")
            signs = (1, -1) if size.both else (-1,) if minus else (1,)
            rails += [Rail(sign * size.value, given, clause.has("apart")) for sign in signs]
    if not rails:
        rails = [Rail(12.0, FIRST_AMPS)]
        said.append("12V 1A")
    _check(rails)
    return tuple(rails), frozenset(options), tuple(said)


def _check(rails: list[Rail]) -> None:
    volts = [r.volts for r in rails]
    for v in volts:
        if volts.count(v) > 1:
            raise InputError(f"start: the rail {v:+g}V stands twice; add the amps up in one, as linear {v:g}V 2A")
        if not 2.5 <= abs(v) <= 40:
            raise InputError(f"start: a rail of {v:g} V is not one of three-terminal regulators (2.5 to 40 V); trace it as ways")


def build(parts: tuple[Clause, ...], unit: Unit, symptom: tuple[str, ...]) -> Circuit:
    """The whole sheet: one winding, bridge and reservoir for the positive rails, another for the negative ones, and one for each rail apart."""
    rails, options, said = read(parts)
    halves = _groups(rails)
    windings = [_winding(group, unit) for _, group, _ in halves]
    line = "primary" if "no switch" not in options else "live"
    line = "inlet" if line == "live" and "no fuse" in options else line
    secondary: list[Part] = []
    for (sign, group, name), (label, va) in zip(halves, windings, strict=True):
        secondary += _raw(sign, label, va, group, unit, line, name)
        secondary += [p for i, r in enumerate(group) for p in _regulated(r, first=i == 0, sign=sign, block=name)]
    front = _front(unit, options, sum(va for _, va in windings))
    everything = (*front, *secondary)
    hot = {net for p in front for net in p.pins.values()} | {line, "L", "N"}
    return Circuit(
        unit=unit,
        parts=everything,
        grounds={"hot": "N", "cold": "0V"},
        cold_claims=frozenset(net for p in secondary for net in p.pins.values()) - hot,
        chain=_chain(everything),
        symptom=symptom,
        start=_text(rails, options, said),
    )


def _groups(rails: tuple[Rail, ...]) -> list[tuple[int, list[Rail], str]]:
    """(sign, rails, name) of every winding. The first positive one has the plain names, the negative one `minus-`, others that of their rail."""
    out: list[tuple[int, list[Rail], str]] = []
    for rail in (*(r for r in rails if r.volts > 0), *(r for r in rails if r.volts < 0)):
        sign = 1 if rail.volts > 0 else -1
        shared = next((g for s, g, _ in out if s == sign and not g[0].apart), None)
        if shared is not None and not rail.apart:
            shared.append(rail)
            continue
        minus, first = "" if sign > 0 else "minus-", not any(s == sign for s, _, _ in out)
        out.append((sign, [rail], minus if first else f"{minus}{abs(rail.volts):g}V-"))
    return out


def _winding(group: list[Rail], unit: Unit) -> tuple[float, float]:
    """(label volts, VA) of the secondary: 1.41 Vac - 1.8 >= Vout + 4, and at mains -10 % the valley still clears the dropout."""
    top = max(abs(r.volts) for r in group)
    amps = sum(r.amps + QUIESCENT for r in group)
    enough = [v for v in sz.SECONDARY_VOLTS if sz.peak(v) - sz.BRIDGE_DROP >= top + HEADROOM]
    for label in enough:
        va = sz.at_least(1.6 * amps * label, sz.TRANSFORMER_VA)  # rms of the winding is about 1.6 x the direct current
        if loaded_reservoir(label, va, amps, unit, mains=0.9) - ripple(amps, unit.hertz) / 2 >= top + DROPOUT:
            return label, va
    raise InputError(
        f"start: no standard secondary up to {sz.SECONDARY_VOLTS[-1]:g} V carries {top:g} V {amps:.2g} A; trace it as ways"
    )


def loaded_reservoir(label: float, va: float, amps: float, unit: Unit, mains: float = 1.0) -> float:
    """Mean reservoir volts at this load [V]; mains: fraction of the nominal volts."""
    t = sz.transformer_values(label, va, volts=unit.volts, hertz=unit.hertz)
    whole = t["rs"] + t["rp"] * (t["out"] / unit.volts) ** 2
    return sz.loaded_dc(off_load=t["out"] * mains, ohms=whole, amps=amps)


def ripple(amps: float, hertz: float) -> float:
    """Ripple of the reservoir chosen for these amps [V peak to peak]."""
    return amps / (2 * hertz * sz.reservoir_farads(amps, hertz, RIPPLE))


def _front(unit: Unit, options: frozenset[str], va: float) -> tuple[Part, ...]:
    fuse = sz.fuse_amps(va / unit.volts)
    after = "inlet" if "no fuse" in options else "live"
    return (
        *mains_in(unit),
        *(() if "no fuse" in options else (part("fuse", "fuse", "a=inlet b=live", {"volts": 250.0}, ("T",), amps=fuse),)),
        *(() if "no switch" in options else (part("switch", "switch", f"a={after} b=primary", {"amps": 4.0}),)),
    )


def _raw(sign: int, label: float, va: float, group: list[Rail], unit: Unit, line: str, neg: str) -> list[Part]:
    """Transformer, bridge and reservoir of one winding; neg: what its places are called by."""
    raw = _raw_net(sign, neg)
    plus, minus = (raw, "0V") if sign > 0 else ("0V", raw)
    amps = sum(r.amps + QUIESCENT for r in group)
    values = sz.transformer_values(label, va, volts=unit.volts, hertz=unit.hertz)
    top = sz.peak(values["out"]) * 1.1  # mains +10 %, off load
    return [
        part(f"{neg}transformer", "transformer", f"p1={line} p2=N s1={neg}sec-a s2={neg}sec-b", {"va": va}, **values),
        part(
            f"{neg}bridge",
            "bridge",
            f"~1={neg}sec-a ~2={neg}sec-b +={plus} -={minus}",
            {"volts": 200.0, "amps": sz.at_least(2 * amps, sz.AMPS)},
        ),
        electrolytic(f"{neg}reservoir", plus, minus, sz.reservoir_farads(amps, unit.hertz, RIPPLE), top),
    ]


def _raw_net(sign: int, block: str) -> str:
    """What the raw rail of a winding is called."""
    return ("raw" if sign > 0 else "raw-neg") if block in ("", "minus-") else f"{block}raw"


def _regulated(rail: Rail, *, first: bool, sign: int, block: str) -> list[Part]:
    """Regulator with its two capacitors and what it feeds. The first rail of a winding has the plain place names."""
    name = block if first else f"{abs(rail.volts):g}V-" if sign > 0 else f"minus-{abs(rail.volts):g}V-"
    net, raw = rail_net(rail.volts), _raw_net(sign, block)
    plus, minus = (net, "0V") if sign > 0 else ("0V", net)
    size = abs(rail.volts)
    return [
        part(f"{name}in-cap", "capacitor", f"a={raw} b=0V", {"volts": 63.0}, farads=330e-9),
        part(
            f"{name}regulator", "regulator", f"in={raw} out={net} gnd=0V", volts=rail.volts, amps=sz.at_least(rail.amps, sz.AMPS)
        ),
        electrolytic(f"{name}out-cap", plus, minus, 100e-6, 1.5 * size),
        part(f"{name}load", "load", f"+={plus} -={minus}", volts=size, amps=rail.amps),
    ]


def _text(rails: tuple[Rail, ...], options: frozenset[str], said: tuple[str, ...]) -> str:
    """The line that gives this very sheet again, with what was assumed in brackets."""
    bits = ", ".join([*(f"{r.volts:g}V {r.amps:g}A{' apart' if r.apart else ''}" for r in rails), *sorted(options)])
    return f"linear {bits}" + (f" (assumed: {', '.join(said)})" if said else "")


def _chain(parts: tuple[Part, ...]) -> tuple[str, ...]:
    """Plug to load; the negative half and further rails follow the first."""
    return tuple(p.ref for p in parts if not p.ref.endswith("in-cap"))  # an input capacitor is no step of the way
