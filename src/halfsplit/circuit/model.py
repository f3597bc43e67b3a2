"""The circuit as plain frozen data: what sheets become, and what everything else reads.

A part sits between nets by its pins. Values are SI floats, only what was written or what a
starting sheet gave; what is missing gets the family's default with a wide spread.
`None` means not known, never no.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from halfsplit.errors import InputError, UnknownName


@dataclass(frozen=True)
class Unit:
    """What stands on the bench. volts [V rms], hertz [Hz], klass "I"|"II"|"III", watts [W]."""

    words: str
    volts: float
    hertz: float
    klass: str
    watts: float


@dataclass(frozen=True)
class Part:
    """One part. ref is its designator or, until one is bound, its place name.

    pins: pin name -> net. values: parameter -> SI value. ratings: rating -> SI value.
    doubts: names of values (or "part", "pin:NAME") written with a question mark.
    assumed: came with a starting sheet and nobody has seen it yet.
    """

    ref: str
    family: str
    pins: Mapping[str, str]
    values: Mapping[str, float] = field(default_factory=dict)
    ratings: Mapping[str, float] = field(default_factory=dict)
    tags: frozenset[str] = frozenset()
    place: str | None = None
    assumed: bool = False
    doubts: frozenset[str] = frozenset()
    words: str = ""

    def loose(self, pin: str) -> str:
        """The net of a leg that nobody has traced: its own."""
        return f"{self.ref}/{pin}"

    @property
    def holds_charge(self) -> bool:
        """It has, or ought to have, a capacitance: on the sheet, or doubted there."""
        return "farads" in self.values or "farads" in self.doubts


@dataclass(frozen=True)
class Circuit:
    """Everything traced or assumed about one unit.

    grounds: island name -> its 0 V net (always has "hot"; a cold island only where a sheet names one).
    cold_claims: nets *claimed* isolated; a claim counts only after it was read.
    controls: control word -> {"PART.output": "high"}; pressing it drives these outputs.
    chain: places or refs from plug to load, for half-splitting and for drawing.
    cant: nets no probe reaches. switching: nets no meter may touch while on.
    fed: parts that work while power is on, all others being as unplugged; None: all. Only while the bench supply feeds one side.
    """

    unit: Unit
    parts: tuple[Part, ...]
    grounds: Mapping[str, str]
    cold_claims: frozenset[str] = frozenset()
    controls: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    chain: tuple[str, ...] = ()
    cant: frozenset[str] = frozenset()
    switching: frozenset[str] = frozenset()
    symptom: tuple[str, ...] = ()
    start: str = ""
    absent: frozenset[str] = frozenset()
    fed: frozenset[str] | None = None

    @property
    def nets(self) -> tuple[str, ...]:
        """Every net, in order of first appearance."""
        return tuple(dict.fromkeys(net for part in self.parts for net in part.pins.values()))

    @property
    def names(self) -> dict[str, Part]:
        """Part by designator and also by place."""
        out = {p.place: p for p in self.parts if p.place}
        out.update({p.ref: p for p in self.parts})
        return out

    def part(self, name: str) -> Part:
        """The part with this designator or place (case ignored). Raises UnknownName."""
        names = self.names
        if name in names:
            return names[name]
        low = {k.lower(): v for k, v in names.items()}
        if name.lower() in low:
            return low[name.lower()]
        raise UnknownName("part", name, names)

    def with_parts(self, parts: tuple[Part, ...]) -> Circuit:
        return replace(self, parts=parts)


def circuit_to_data(circuit: Circuit) -> dict[str, Any]:
    """Plain JSON-able data of a circuit; the inverse of circuit_from_data."""
    u = circuit.unit
    return {
        "unit": {"words": u.words, "volts": u.volts, "hertz": u.hertz, "class": u.klass, "watts": u.watts},
        "parts": [
            {
                "ref": p.ref,
                "family": p.family,
                "pins": dict(p.pins),
                "values": dict(p.values),
                "ratings": dict(p.ratings),
                "tags": sorted(p.tags),
                "place": p.place,
                "assumed": p.assumed,
                "doubts": sorted(p.doubts),
                "words": p.words,
            }
            for p in circuit.parts
        ],
        "grounds": dict(circuit.grounds),
        "cold_claims": sorted(circuit.cold_claims),
        "controls": {k: dict(v) for k, v in circuit.controls.items()},
        "chain": list(circuit.chain),
        "cant": sorted(circuit.cant),
        "switching": sorted(circuit.switching),
        "symptom": list(circuit.symptom),
        "start": circuit.start,
        "absent": sorted(circuit.absent),
    }


def circuit_from_data(data: Mapping[str, Any]) -> Circuit:
    """A circuit from plain data. Raises InputError naming the missing or wrong key."""
    try:
        u = data["unit"]
        unit = Unit(str(u["words"]), float(u["volts"]), float(u["hertz"]), str(u["class"]), float(u["watts"]))
        parts = tuple(
            Part(
                ref=str(p["ref"]),
                family=str(p["family"]),
                pins=dict(p["pins"]),
                values={k: float(v) for k, v in p.get("values", {}).items()},
                ratings={k: float(v) for k, v in p.get("ratings", {}).items()},
                tags=frozenset(p.get("tags", ())),
                place=p.get("place"),
                assumed=bool(p.get("assumed", False)),
                doubts=frozenset(p.get("doubts", ())),
                words=str(p.get("words", "")),
            )
            for p in data["parts"]
        )
    except KeyError as miss:
        raise InputError(f"circuit data lacks the key {miss.args[0]!r}; circuit_to_data shows the whole shape") from None
    except (TypeError, ValueError) as bad:
        raise InputError(f"circuit data: {bad}; circuit_to_data shows the whole shape") from None
    refs = [p.ref for p in parts]
    for ref in refs:
        if refs.count(ref) > 1:
            raise InputError(f"part {ref!r} stands twice in the circuit data; give each its own designator")
    return Circuit(
        unit=unit,
        parts=parts,
        grounds=dict(data.get("grounds", {"hot": "N"})),
        cold_claims=frozenset(data.get("cold_claims", ())),
        controls={k: dict(v) for k, v in data.get("controls", {}).items()},
        chain=tuple(data.get("chain", ())),
        cant=frozenset(data.get("cant", ())),
        switching=frozenset(data.get("switching", ())),
        symptom=tuple(data.get("symptom", ())),
        start=str(data.get("start", "")),
        absent=frozenset(data.get("absent", ())),
    )
