"""From a circuit to the lines of a sheet in the tool's notation: what a technician would have traced."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from halfsplit.circuit.model import Circuit, Part
from halfsplit.circuit.notation import RATING_NAME
from halfsplit.parts import FAMILIES
from halfsplit.parts.base import Family, nothing_follows

Lines = tuple[tuple[str, str], ...]
UNITS = {name: unit for unit, name in RATING_NAME.items()}
PREFIXES = ((1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m"), (1e-6, "u"), (1e-9, "n"), (1e-12, "p"))


@dataclass(frozen=True)
class Retouch:
    """How the technician's sheet differs from the board. leave_out: parts that it lacks. join: net -> the net it is taken for.

    unknown: (part, parameter) -> the value he assumed for it; written with a question mark.
    """

    leave_out: frozenset[str] = frozenset()
    join: Mapping[str, str] = field(default_factory=dict)
    unknown: Mapping[tuple[str, str], float] = field(default_factory=dict)


def quantity(value: float, unit: str) -> str:
    """1500 ohm -> 1.5k, 6.8e-7 F -> 680n, 230 V -> 230V; six figures."""
    scale, prefix = next(((s, p) for s, p in PREFIXES if abs(value) >= s * 0.9999995), PREFIXES[-1])
    number = f"{value / scale:.6g}"
    if unit == "ohm":
        return number + (prefix or "R") if prefix != "m" else f"{value:.6g}R"
    if unit in ("F", "H") or unit == "A":
        return f"{number}{prefix}{unit}"
    return f"{value:.6g}{unit}"


def _part_words(part: Part, family: Family, retouch: Retouch) -> list[str]:
    """[`R1 resistor fusible 100R 1W`, remarks, `pin=net ...`]: main value and ratings by unit, every other parameter by its name."""
    called = family.words[0] if family.words else family.name
    words = [part.ref, called, *sorted(t for t in part.tags if len(t) > 1 and t not in (family.name, called))]
    remarks: list[str] = []
    main = family.main_value
    for param in family.params:
        if param.name not in part.values and param.name not in part.ratings:
            continue
        value = part.values.get(param.name, part.ratings.get(param.name, 0.0))
        assumed = retouch.unknown.get((part.ref, param.name))
        text = quantity(value if assumed is None else assumed, param.unit) + ("" if assumed is None else "?")
        if param.name == main and family.follows is nothing_follows:  # else what stands first is a label, and more is reckoned from it
            words.append(f"({text})" if assumed is not None else text)
        else:
            remarks.append(f"{param.name} {text}")
    known = {p.name for p in family.params}
    words += [quantity(v, UNITS[k]) for k, v in part.ratings.items() if k not in known and k in UNITS]
    legs = [(pin, net) for pin, net in part.pins.items() if not _twice(part, pin, family)]
    pins = " ".join(f"{pin}={retouch.join.get(net, net)}" for pin, net in legs)
    return [" ".join(words), *remarks, pins]


def _plain(part: Part) -> bool:
    """Two pins, and nothing to be said of it that needs a name."""
    return tuple(part.pins) == ("a", "b") and len(_part_words(part, FAMILIES[part.family], Retouch())) == 2


def _twice(part: Part, pin: str, family: Family) -> bool:
    """The family's own name for an output that the sheet calls otherwise."""
    return pin in family.outputs and any(p not in family.pins and part.pins[p] == part.pins[pin] for p in part.pins)


def lines_of(circuit: Circuit, symptom: str, retouch: Retouch | None = None) -> Lines:
    """(key, words) of a whole sheet."""
    how = retouch or Retouch()
    u = circuit.unit
    out = [("unit", f"{u.words}, {u.volts:g}V {u.hertz:g}Hz, class {u.klass}, {u.watts:g}W"), ("symptom", symptom)]
    kept = [p for p in circuit.parts if not FAMILIES[p.family].outlet and p.ref not in how.leave_out]
    walked = next((p for p in kept if _plain(p)), None)  # a sheet without any way is not one to the tool
    for p in kept:
        head, *remarks, pins = _part_words(p, FAMILIES[p.family], how)
        if p is walked:
            a, b = (how.join.get(n, n) for n in p.pins.values())
            out.append(("way", f"{a} {p.ref}({head.partition(' ')[2]}) {b}"))
            continue
        out.append(("parts", ", ".join([head, *remarks, pins])))
    refs = {p.ref for p in kept}
    for control, driven in circuit.controls.items():
        does = "; ".join(f"{pin} {level}" for pin, level in driven.items() if pin.rpartition(".")[0] in refs)
        if does:
            out.append(("does", f"{control}: {does}"))
    nets = {how.join.get(n, n) for p in kept for n in p.pins.values()}
    cold = [n for n in dict.fromkeys(how.join.get(n, n) for n in sorted(circuit.cold_claims)) if n in nets]
    if cold:
        out.append(("cold", ", ".join(cold)))
    return tuple(out)


def traced(circuit: Circuit, taken: Collection[str] = ()) -> Circuit:
    """The same circuit with designators for places, as if it had been traced from nothing."""
    counts: dict[str, int] = {}
    refs: dict[str, str] = {}
    for part in circuit.parts:
        family = FAMILIES[part.family]
        if family.outlet:
            refs[part.ref] = part.ref
            continue
        letters = family.letters[0] if family.letters else "P"
        counts[letters] = counts.get(letters, 0) + 1
        refs[part.ref] = f"{letters}{counts[letters]}"
    places = {p.place: refs[p.ref] for p in circuit.parts if p.place}
    parts = tuple(
        replace(p, ref=refs[p.ref], place=p.place if FAMILIES[p.family].outlet else None, assumed=False, words="") for p in circuit.parts
    )
    controls = {c: {_renamed(pin, {**places, **refs}): level for pin, level in d.items()} for c, d in circuit.controls.items()}
    chain = tuple(places.get(c, refs.get(c, c)) for c in circuit.chain)
    return replace(circuit.with_parts(parts), controls=controls, chain=chain, start="")


def _renamed(pin: str, refs: Mapping[str, str]) -> str:
    ref, _, name = pin.rpartition(".")
    return f"{refs.get(ref, ref)}.{name}"
