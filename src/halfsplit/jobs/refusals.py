"""What is not repaired with this tool: by the words of the unit, and by the signature of the circuit when no word is there.

The classes are those of the trade's own list (common practice); a hard stop, not a warning to click away.
A word in another word's company ("stands next to a microwave oven") or a word merely near ("mircowave") asks one question
that only a plain yes settles. Nothing here learns, and nothing here can be switched off.
"""

from __future__ import annotations

import difflib
import math
import re
import unicodedata
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass

from halfsplit.circuit.model import Circuit, Part
from halfsplit.errors import DomainError, Refused
from halfsplit.units import format_quantity, parse_ratings

STOP = "Stop: this class of equipment is outside what this tool supports"
HIGH_VOLTS = 1000.0  # [V] peak; common practice: "CRT and other > 1 kV circuits" go to specialists


@dataclass(frozen=True)
class Ask:
    """One question that stands before the job. key: what it settles, to be handed back in `cleared` after a plain yes."""

    key: str
    question: str


@dataclass(frozen=True)
class Kind:
    """One refused class. refuse: what it is called; anywhere: refused even before another noun; ask: words merely near.

    over_watts: refused only above this power [W]; an unknown power is asked about.
    """

    key: str
    what: str
    refuse: tuple[str, ...] = ()
    anywhere: tuple[str, ...] = ()
    ask: tuple[str, ...] = ()
    over_watts: float | None = None
    question: str = ""


def _list(text: str) -> tuple[str, ...]:
    return tuple(item.strip() for item in text.split(",") if item.strip())


KINDS: tuple[Kind, ...] = (
    Kind("microwave", "a microwave oven", _list("microwave oven, microwave, combi microwave, microwave grill, magnetron")),
    Kind(
        "high-volts",
        "a picture tube or another circuit above 1 kV",
        _list(
            "crt, crt monitor, crt television, crt tv, cathode ray tube, picture tube, tube television, tube tv, neon sign,"
            "neon transformer, plasma globe, plasma ball, electric fence, fence energiser, fence energizer, bug zapper,"
            "insect killer, ozone generator, tesla coil, electrostatic precipitator, ccfl, ccfl inverter, ignition coil,"
            "insulation tester, cattle prod, stun gun, eht"
        ),
        ask=_list(
            "television, tv, oscilloscope, video monitor, computer monitor, arcade monitor, lcd monitor, ioniser, ionizer,"
            "photocopier, copier, high voltage, hv, neon, plasma, spark"
        ),
        question="Is it certain that it holds no picture tube, cold-cathode lamp, corona wire or anything else above 1 kV?",
    ),
    Kind(
        "flash",
        "a flash, strobe or laser driver",
        _list(
            "flash, flashgun, studio flash, flash generator, flash head, flash tube, xenon tube, strobe, stroboscope,"
            "strobe light, strobe lamp, speedlight, laser, lazer, laser driver, laser cutter, laser engraver, laser projector,"
            "laser show, laser pointer, laser diode, laser tube, laser welder"
        ),
        ask=_list("xenon, laser printer"),
    ),
    Kind("x-ray", "an X-ray set", _list("x ray, x ray tube, x ray generator, roentgen")),
    Kind(
        "medical",
        "medical, life-safety or fire-alarm equipment",
        _list(
            "defibrillator, aed, infusion pump, syringe pump, patient monitor, oxygen concentrator, dialysis machine, cpap,"
            "breathing machine, nebuliser, nebulizer, pacemaker, hospital bed, patient lift, fire alarm, smoke alarm,"
            "smoke detector, heat detector, carbon monoxide alarm, co alarm, gas alarm, gas detector, emergency light,"
            "emergency lighting, exit sign, nurse call, sprinkler, dentist chair, dental chair, surgical light,"
            "anaesthetic machine"
        ),
        anywhere=_list("medical, life support, life safety, surgical, fire alarm"),
        ask=_list("ventilator, incubator, hospital, patient, dental, alarm"),
        question="Is it certain that nobody's life or health hangs on it: neither medical nor life-safety nor fire-alarm?",
    ),
    Kind("lift", "a lift", _list("lift, elevator, escalator, stairlift, passenger lift, dumb waiter, hoist")),
    Kind(
        "gas",
        "gas ignition or a boiler",
        _list(
            "boiler, gas boiler, combi boiler, gas furnace, furnace, gas oven, gas hob, gas cooker, gas fire, gas heater,"
            "gas grill, gas water heater, gas valve, gas solenoid, gas ignition, gas igniter, gas burner, oil burner,"
            "pellet stove, burner control, flame sensor, flame rod, flame detector"
        ),
        ask=_list("gas, burner, igniter, ignitor, flame"),
        question="Is it certain that it neither lights nor lets through gas or oil?",
    ),
    Kind(
        "refrigerant",
        "a refrigerant circuit",
        _list("refrigerant, refrigerant circuit, sealed system, refrigerant compressor"),
        ask=_list(
            "refrigerator, fridge, freezer, air conditioner, air conditioning, heat pump, dehumidifier, ice maker,"
            "wine cooler, water cooler, ice cream maker, compressor"
        ),
        question="Is it certain that only the electrics are worked on and the refrigerant circuit stays closed?",
    ),
    Kind(
        "fixed-wiring",
        "fixed wiring",
        _list(
            "consumer unit, fuse board, fuse box, distribution board, breaker panel, breaker box, house wiring, fixed wiring,"
            "wall socket, mains socket, meter box, switchboard, electric shower, three phase motor, light switch"
        ),
        ask=_list("hard wired, three phase, wall switch"),
    ),
    Kind(
        "solar",
        "a solar inverter or battery storage",
        _list(
            "solar inverter, pv inverter, grid tie inverter, microinverter, string inverter, hybrid inverter, battery storage,"
            "home battery, house battery, solar battery, storage battery"
        ),
        ask=_list("solar, photovoltaic, grid tie"),
    ),
    Kind(
        "vehicle-pack",
        "the pack of an electric vehicle, e-bike or scooter",
        _list(
            "ev, ev charger, ev battery, ev pack, electric car, electric vehicle, e bike, ebike, e bike battery, e scooter,"
            "electric scooter, electric bike, electric bicycle, scooter pack, scooter battery, hoverboard, wallbox,"
            "traction battery, mobility scooter, golf cart, fork lift, forklift"
        ),
        ask=_list("scooter, pedelec, traction"),
    ),
    Kind(
        "lithium",
        "a damaged or series lithium pack",
        anywhere=_list(
            "swollen lithium, swollen battery, swollen cell, swollen pack, battery swollen, pack swollen, cell swollen,"
            "puffed battery, bloated battery, puffed pack, bloated pack, battery puffed, battery bloated,"
            "swollen lipo, puffed lipo"
        ),
        ask=_list("lithium, li ion, lipo, lifepo4, 18650, battery, power bank, cordless, swollen, puffed, bloated"),
        question="Is it certain that no lithium pack of cells in series and no swollen, hot, wet or boiled battery, nor one under"
        " 2.5 V a cell, is part of the job?",
    ),
    Kind(
        "welding",
        "a welding set above 1 kVA",
        _list(
            "welder, welding inverter, welding machine, welding set, arc welder, tig welder,"
            "mig welder, spot welder, plasma cutter"
        ),
        over_watts=1000.0,
    ),
    Kind(
        "ups",
        "an uninterruptible supply above 1 kVA",
        _list("ups, uninterruptible supply, uninterruptible power supply, uninterruptable power supply"),
        over_watts=1000.0,
    ),
    Kind(
        "recall",
        "an appliance under recall",
        anywhere=_list("recalled, under recall, recall"),
        question="Is it certain that this appliance is under no recall?",
    ),
)

_ENDS_HEAD = frozenset(  # after these words something else is spoken of, not the set itself
    "with for next near beside besides under from of in on at by against behind above below to without like inside off than"
    " that which as used via into over".split()
)
_SENTENCE = frozenset(
    "is are was were be does do did doesn not no non never isn wasn won will can cannot stands standing stand sits has have had"
    " gets looks comes makes made cut said says lies shares because when while".split()
)
_PRETEND = frozenset("toy model play doll dummy mock imitation egg rice coffee espresso tv desk usb".split())
_SAME_THING = frozenset(
    "unit set machine appliance device board pcb control controller panel module supply psu power driver inverter transformer"
    " circuit repair system equipment apparatus gear dead broken old faulty spare combi pack battery type".split()
)


@dataclass(frozen=True)
class _Hit:
    kind: Kind
    word: str
    sure: bool


def _tokens(text: str) -> list[str]:
    """Plain lower-case words in the singular; hyphens part words, accents fall."""
    flat = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().lower().replace("'s", "").replace("'", "")
    return [_singular(word) for word in re.findall(r"[a-z0-9.]*[a-z0-9]", flat)]


def _singular(word: str) -> str:
    if len(word) > 4 and word.endswith("ies"):
        return word[:-3] + "y"
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word


def _segments(text: str) -> list[list[str]]:
    """The unit's words between commas and the like; "oven, microwave" also the other way round."""
    said = [words for piece in re.split(r"[,;:/()\[\]+&\n]|\band\b|\bor\b", text, flags=re.I) if (words := _tokens(piece))]
    return said + ([said[1] + said[0]] if len(said) > 1 else [])


def _places(term: str, words: list[str]) -> Iterable[tuple[int, int]]:
    """Where the term stands in the words, written apart or together."""
    want = "".join(_tokens(term))
    longest = len(_tokens(term)) + 1
    for start in range(len(words)):
        for stop in range(start + 1, min(start + longest, len(words)) + 1):
            if "".join(words[start:stop]) == want:
                yield start, stop


def _names_it(words: list[str], start: int, stop: int) -> bool:
    """Whether the noun at start..stop is what the set is, and not its neighbour, its trimming or a toy."""
    head = next((i for i, word in enumerate(words) if word in _ENDS_HEAD), len(words))
    before, after = words[:start], words[stop:head]
    if stop > head or _SENTENCE & set(words[:head]) or _PRETEND & set(before):
        return False
    return all(word in _SAME_THING or word[0].isdigit() for word in after)


def _found(text: str, kinds: Iterable[Kind] = KINDS) -> list[_Hit]:
    hits: list[_Hit] = []
    for words in _segments(text):
        for kind in kinds:
            for term in kind.refuse + kind.anywhere:
                for start, stop in _places(term, words):
                    head_only = words[:start] + words[start:stop] if term in kind.anywhere else words
                    hits.append(_Hit(kind, term, _names_it(head_only, start, stop)))
            hits.extend(_Hit(kind, term, False) for term in kind.ask for _ in _places(term, words))
        hits.extend(_near(words, kinds))
    return hits


def _near(words: list[str], kinds: Iterable[Kind]) -> Iterable[_Hit]:
    """Words spelt almost like a refused one. Short words are left alone: every third would be near."""
    runs = {"".join(words[i:j]) for i in range(len(words)) for j in range(i + 1, min(i + 3, len(words)) + 1)}
    for kind in kinds:
        for term in kind.refuse + kind.anywhere:
            want = "".join(_tokens(term))
            if len(want) < 5 or want in runs:
                continue
            close = [run for run in runs if abs(len(run) - len(want)) <= 2 and run[:1] == want[:1]]
            if difflib.get_close_matches(want, close, n=1, cutoff=0.86):
                yield _Hit(kind, term, False)


def _question(kind: Kind, word: str) -> Ask:
    own = kind.question or f"Is it certain that what is on the bench is not {kind.what}, nor a part of one?"
    return Ask(
        kind.key, f"{word!r} is near {kind.what}, which this tool does not support. {own} (yes goes on, anything else ends here)"
    )


def refuse_unit(
    words: str, volts: float, watts: float | None = None, *, symptom: str = "", cleared: Collection[str] = ()
) -> Ask | None:
    """Refuse by what the unit is called.

    Parameters: words, as written under `unit`; volts, mains [V rms]; watts, rated power [W], None or <= 0 where not known;
    symptom, read only for the state of batteries; cleared, keys of Asks that were answered with a plain yes.
    Returns: None, go on; or the next Ask.
    Raises: Refused naming the class and the word; DomainError for impossible volts.
    """
    if not math.isfinite(volts) or volts <= 0:
        raise DomainError(f"unit: mains of {volts:g} V cannot be; write what the label says, like 230V 50Hz")
    peak_said = [float(kv) for kv in re.findall(r"(\d+(?:\.\d+)?)\s*kV\b", words)]
    if volts >= HIGH_VOLTS or any(kv >= 1 for kv in peak_said):
        raise Refused(f"{STOP}: {words.strip()!r} works above 1 kV. Hand it to a specialist.")
    battery = [kind for kind in KINDS if kind.key == "lithium"]
    hits = [*_found(words), *_found(symptom, battery)]
    known_watts = watts if watts is not None and math.isfinite(watts) and watts > 0 else None
    asks: list[Ask] = []
    for hit in hits:
        limit = hit.kind.over_watts
        if limit is not None and known_watts is not None and known_watts <= limit:
            continue
        if hit.sure and (limit is None or known_watts is not None):
            raise Refused(f"{STOP}: {hit.kind.what} ({hit.word!r} in {words.strip()!r}). Hand it to a specialist.")
        asks.append(_question(hit.kind, hit.word))
    if volts > 260:
        asks.append(
            Ask(
                "mains-volts",
                f"{volts:g} V is no plug-and-socket voltage. Is it certain that the set is single-phase, with a "
                "plug, and not part of fixed wiring?",
            )
        )
    return next((ask for ask in asks if ask.key not in cleared), None)


def settle(ask: Ask, answer: bool | None) -> str:
    """The key to put into `cleared`. Only True clears; no answer is a no. Raises Refused."""
    if answer is not True:
        raise Refused(f"{STOP}: {ask.question.split(' is near ')[0]}. It stays so until the answer is a plain yes.")
    return ask.key


# ---- by signature: the parts themselves, whatever they are called

STORED_JOULES = 0.05
"""[J] at rated volts. Ordinary supplies hold parts of 1 kV and more: clamp 2.2n/1kV 1 mJ, resonant 22n/1kV 11 mJ, snubber
10n/2kV 20 mJ [computed]. Storage of the refused classes begins well above: 1u/2.1kV of a microwave oven 2.2 J, the 2n
of a picture tube at 25 kV 0.6 J [computed]; 0.25 J is a heavy shock (safety notice, read second-hand). 0.05 J stands
between, on the safe side."""
POLARISED_PINS = frozenset({"+", "-"})
DOORKNOB_VOLTS = (
    5000.0  # [V] no part of an ordinary supply is rated so high, but for Y class, whose impulse rating may be written
)
DOORKNOB_FARADS = 10e-9  # [F] the largest Y capacitor made is below this (common practice: leakage bounds it)


def _volts_of(part: Part) -> float | None:
    known = [bag["volts"] for bag in (part.ratings, part.values) if "volts" in bag]
    return max(abs(v) for v in known) if known else None


def _storage(part: Part, working: float | None) -> tuple[bool | None, str]:
    """(True refused, None not known, False harmless) and why."""
    farads, volts = part.values.get("farads"), max(_volts_of(part) or 0.0, abs(working or 0.0))
    if "farads" not in part.values and "farads" not in part.doubts:
        return False, ""
    if volts < HIGH_VOLTS:
        return False, ""
    if farads is None or "farads" in part.doubts or "volts" in part.doubts:
        return None, f"{part.ref} stands at {volts:g} V and its value is not sure"
    joules = 0.5 * farads * volts**2
    text = f"{part.ref} holds {joules:.2g} J at {volts:g} V"
    polarised = POLARISED_PINS <= set(part.pins)
    class_y = any(re.fullmatch(r"y[1-4]?", tag.lower()) for tag in part.tags) and farads <= DOORKNOB_FARADS
    if class_y and not polarised and abs(working or 0.0) < HIGH_VOLTS:
        return False, ""
    return joules >= STORED_JOULES or polarised or volts >= DOORKNOB_VOLTS, text


def _winding_volts(part: Part, mains: float) -> float:
    """Highest peak volts a winding of this part can give by its ratio [V]; 0 where no ratio is written."""
    out = abs(part.values.get("out", 0.0))
    if out == 0.0:
        return 0.0
    rated = abs(part.values.get("volts", 0.0))
    scale = max(1.0, mains / rated) if rated >= 0.5 * mains else 1.0  # a low-volt primary never sees the mains
    return math.sqrt(2.0) * out * scale


_CHEMISTRY = ("lithium", "li ion", "liion", "lipo", "lifepo4", "li po", "18650", "21700")
_OTHER_CELLS = ("lead acid", "lead", "nimh", "nicd", "alkaline", "zinc")
ONE_CELL = 4.4  # [V] a single lithium cell stands at 4.2 V full, 4.35 V in the high-volt kinds (common practice)


def _is_cell(part: Part) -> bool:
    said = f"{part.family} {part.words} {' '.join(part.tags)} {part.place or ''}"
    named = any(list(_places(term, _tokens(said))) for term in (*_CHEMISTRY, "battery", "cell", "batt", "pack"))
    lettered = re.fullmatch(r"(B|BT|BAT|BATT|CELL)\d+[a-z]?", part.ref, flags=re.I) is not None
    return named or (lettered and POLARISED_PINS <= set(part.pins) and _volts_of(part) is not None)


def _said_of(part: Part) -> list[str]:
    return _tokens(f"{part.family} {part.words} {' '.join(sorted(part.tags))} {part.place or ''}")


def _lithium(circuit: Circuit) -> tuple[bool | None, str]:
    """Cells of lithium in series: one cell's volts each and joined plus to minus, or one part above one cell's volts."""
    cells = [part for part in circuit.parts if _is_cell(part)]
    for part in cells:
        volts, said = _volts_of(part), _said_of(part)
        lithium = any(list(_places(term, said)) for term in _CHEMISTRY)
        other = any(list(_places(term, said)) for term in _OTHER_CELLS)
        if lithium and (volts is None or volts > ONE_CELL):
            return True, f"{part.ref} is a lithium pack of cells in series"
        mates = [
            p
            for p in cells
            if p.ref != part.ref
            and set(p.pins.values()) & set(part.pins.values())
            and set(p.pins.values()) != set(part.pins.values())
        ]
        if mates and not other and all(_single(p) for p in (part, *mates)):
            return True, f"{part.ref} and {mates[0].ref} are cells of about {volts or 3.7:g} V in series"
        if not other and (lithium or volts is None or volts > ONE_CELL):
            return None, f"{part.ref} is a battery of a kind that is not said"
    return False, ""


def _single(part: Part) -> bool:
    volts = _volts_of(part)
    return volts is None or 3.0 <= volts <= ONE_CELL


_PART_KINDS = tuple(
    kind for kind in KINDS if kind.key not in ("lithium", "lift", "fixed-wiring", "recall", "solar", "ups", "welding")
)


def refuse_circuit(
    circuit: Circuit, *, cleared: Collection[str] = (), working_volts: Mapping[str, float] | None = None
) -> Ask | None:
    """Refuse by what the circuit is, with the telling word left out.

    Parameters: cleared, keys of Asks answered yes; working_volts, part -> highest volts found across it by solving [V peak].
    Returns: None or the next Ask. Raises: Refused naming the part.
    """
    working = working_volts or {}
    asks: list[Ask] = []

    def judge(key: str, verdict: bool | None, why: str) -> None:
        if verdict:
            raise Refused(f"{STOP}: {why}. Hand it to a specialist.")
        if verdict is None:
            asks.append(
                Ask(
                    key,
                    f"{why} is near what this tool does not support. Is it certain that it is not: less than 1 kV and "
                    f"{STORED_JOULES:g} J, or one sound cell alone? (yes goes on, anything else ends here)",
                )
            )

    for part in circuit.parts:
        judge(f"storage:{part.ref}", *_storage(part, working.get(part.ref)))
        volts = max(_winding_volts(part, circuit.unit.volts), abs(working.get(part.ref, 0.0)) if "out" in part.values else 0.0)
        judge(f"winding:{part.ref}", volts > HIGH_VOLTS, f"{part.ref} winds up to {volts:.0f} V peak")
        for hit in _found(f"{part.words}, {part.place or ''}, {', '.join(sorted(part.tags))}, {part.ref}", _PART_KINDS):
            judge(f"part:{part.ref}", hit.sure, f"{part.ref} is {hit.kind.what} ({hit.word!r})")
            asks.append(Ask(f"part:{part.ref}", _question(hit.kind, f"{hit.word} at {part.ref}").question))
    judge("cells", *_lithium(circuit))
    return next((ask for ask in asks if ask.key not in cleared), None)


# ---- acts that defeat a protector, by family, by words and by path

Predicate = Callable[[Part], bool]
_GUARD_WORDS = _list(
    "interlock, door switch, lid switch, crowbar, bms, protective earth, earth, earth wire, speaker protect, protector,"
    "thermal link, thermal fuse, thermal cut out, bimetal, fuse, mov, varistor, guard"
)
_BRIDGING = frozenset("bridge bypass short link jumper strap defeat foil override wire tape loop join bond".split())
_FITTING = frozenset("fit replace swap change use put".split())
_DELETING = frozenset("delete omit skip discard scrap forget".split())
_TAKING = frozenset("lift remove pull cut unsolder desolder unplug take clip".split())
_PORTS = (  # pins of one part that are not joined by copper or current path: coil and contact, winding and winding, lamp and cell
    ({"c+", "c-"}, {"com", "no"}),
    ({"p1", "p2"}, {"s1", "s2"}),
    ({"p+", "p-"}, {"a+", "a-"}, {"s+", "s-"}),
    ({"a", "k"}, {"c", "e"}),
    ({"a", "k"}, {"t1", "t2"}),
    ({"a1", "a2"}, {"b1", "b2"}),
)
_WINDINGS = (("s1", "s2"), ("s+", "s-"), ("a+", "a-"))


def is_guard(part: Part, is_protector: Predicate) -> bool:
    """A protector by its family, or by what it is called on the sheet."""
    said = _tokens(f"{part.words} {part.place or ''} {' '.join(sorted(part.tags))}")
    return is_protector(part) or any(list(_places(term, said)) for term in _GUARD_WORDS)


def check_act(words: str, circuit: Circuit, is_protector: Predicate) -> tuple[str, ...]:
    """Refuse bridging, up-rating or leaving out a protector.

    Parameters: words, the act as typed ("bridge TL1", "fit F1 T6.3A", "lift R14.1"); is_protector, from the family.
    Returns: designators that go on the refit list. Raises: Refused, with the part named.
    """
    tokens = words.replace(",", " ").split()
    if not tokens:
        return ()
    verb, rest = tokens[0].lower(), tokens[1:]
    targets = [part for word in rest if (part := _part_named(word, circuit)) is not None]
    if verb in _BRIDGING:
        _check_bridge(words, rest, targets, circuit, is_protector)
    elif verb in _FITTING:
        for part in targets[:1]:
            if is_guard(part, is_protector):
                _check_rating(words, part, rest)
    elif verb in _DELETING:
        for part in targets:
            if is_guard(part, is_protector):
                raise Refused(f"{words!r}: {part.ref} is a protector and stays. There is no waiver; it stands on the refit list.")
        return tuple(part.ref for part in targets)
    elif verb in _TAKING:
        return tuple(part.ref for part in targets)
    return ()


def _part_named(word: str, circuit: Circuit) -> Part | None:
    names = {name.lower(): part for name, part in circuit.names.items()}
    nets = {net.lower() for net in circuit.nets}
    bare = word.strip("()").lower()
    return names.get(bare) or (None if bare in nets else names.get(bare.split(".")[0]))


def _check_bridge(words: str, rest: list[str], targets: list[Part], circuit: Circuit, is_protector: Predicate) -> None:
    for part in targets:
        if is_guard(part, is_protector) and not _only_pins(rest, part):
            raise Refused(
                f"{words!r}: {part.ref} is a protector; it is never bridged. Fit the right one, once its cause is found."
            )
    said = _tokens(" ".join(rest))
    if not targets and any(list(_places(term, said)) for term in _GUARD_WORDS):
        raise Refused(f"{words!r}: a protector is never bridged. Fit the right one, once its cause is found.")
    ends = [net for word in rest if (net := _net_named(word, circuit)) is not None]
    if len(targets) == 1 and not ends and len(targets[0].pins) == 2:
        ends = list(targets[0].pins.values())
    for i, red in enumerate(ends):
        for black in ends[i + 1 :]:
            if any({red, black} == set(pair) for pair in _mains(circuit)):
                raise Refused(f"{words!r}: that joins both poles of the mains. Nothing is found that way.")
            for ref in bypassed(red, black, circuit, is_protector):
                raise Refused(
                    f"{words!r}: that way leads round {ref}, a protector. It is never bridged, nor by way of other parts."
                )


def _only_pins(rest: list[str], part: Part) -> bool:
    """Whether the act names single pins of this part ("bridge F1.a bulk") and not the part: then the path decides."""
    return any("." in word and word.lower().startswith(part.ref.lower() + ".") for word in rest) and part.ref.lower() not in map(
        str.lower, rest
    )


def _net_named(word: str, circuit: Circuit) -> str | None:
    nets = {net.lower(): net for net in circuit.nets}
    bare = word.strip("()").lower()
    if bare in nets:
        return nets[bare]
    name, _, pin = bare.partition(".")
    part = {n.lower(): p for n, p in circuit.names.items()}.get(name)
    return {p.lower(): net for p, net in part.pins.items()}.get(pin) if part and pin else None


def _ports(part: Part) -> Iterable[set[str]]:
    """Nets of one part that current can pass between."""
    for split in _PORTS:
        if set().union(*split) <= set(part.pins):
            rest = set(part.pins) - set().union(*split)
            yield from ({part.pins[pin] for pin in port} for port in split)
            yield {part.pins[pin] for pin in rest}
            return
    yield set(part.pins.values())


def _sources(circuit: Circuit) -> Iterable[tuple[str, str]]:
    """(feed, return) pairs that a protector can stand behind: the mains, and each secondary winding, either way round."""
    yield from _mains(circuit)
    for part in circuit.parts:
        for one, other in _WINDINGS:
            if {one, other} <= set(part.pins):
                yield part.pins[one], part.pins[other]
                yield part.pins[other], part.pins[one]


def _mains(circuit: Circuit) -> list[tuple[str, str]]:
    wired = [(part.pins["L"], part.pins["N"]) for part in circuit.parts if set(part.pins) == {"L", "N"}]
    return wired + ([("L", "N")] if {"L", "N"} <= set(circuit.nets) else [])


def _reached(start: str, walls: set[str], circuit: Circuit, without: str) -> set[str]:
    found, todo = {start}, [start]
    joined = [port for part in circuit.parts if part.ref != without and set(part.pins) != {"L", "N"} for port in _ports(part)]
    while todo:
        net = todo.pop()
        for port in joined:
            if net in port:
                fresh = port - found - walls
                found |= fresh
                todo.extend(fresh)
    return found


def bypassed(red: str, black: str, circuit: Circuit, is_protector: Predicate) -> tuple[str, ...]:
    """Protectors that a wire from red to black would lead round: one end before it, the other reached only through it."""
    out: list[str] = []
    for part in circuit.parts:
        if not is_guard(part, is_protector):
            continue
        nets = set(part.pins.values())
        if {red, black} == nets or any(_leads_round(red, black, feed, back, part, circuit) for feed, back in _sources(circuit)):
            out.append(part.ref)
    return tuple(dict.fromkeys(out))


def _leads_round(red: str, black: str, feed: str, back: str, part: Part, circuit: Circuit) -> bool:
    if back in (red, black) or back in part.pins.values():
        return False  # joining to the return is a short in front of or behind the protector, not a way round it
    walls = {back, *circuit.grounds.values()} - {feed}
    whole = _reached(feed, walls, circuit, without="")
    before = _reached(feed, walls, circuit, without=part.ref)
    behind = whole - before
    return (red in before and black in behind) or (black in before and red in behind)


def _check_rating(words: str, part: Part, rest: list[str]) -> None:
    """What is fitted in a protector's place has to be what stood there: amps, degrees, clamp volts and speed."""
    wanted = parse_ratings([word for word in rest if word.lower() not in (part.ref.lower(), (part.place or "").lower())])
    for new in wanted.quantities:
        old, firm = _old_rating(part, new.unit)
        if not firm:
            continue
        if old is None:
            raise Refused(f"{words!r}: what {part.ref} was marked is not known. Read its marking into the sheet first.")
        falls = new.unit == "ohm" and not new.value >= old * 0.9999  # fewer ohms let more through before it opens
        if new.doubtful or falls or not (new.unit == "ohm" or new.value <= old * 1.0001):
            raise Refused(
                f"{words!r}: {part.ref} was {format_quantity(old, new.unit)}; a protector is never up-rated. Fit the same."
            )
        marks = {tag.upper() for tag in part.tags} & {"T", "F", "FF", "TT", "M"}
        if new.unit == "A" and new.mark and marks and new.mark not in marks:
            raise Refused(f"{words!r}: {part.ref} was of speed {min(marks)}, not {new.mark}. Fit the same speed.")


def _old_rating(part: Part, unit: str) -> tuple[float | None, bool]:
    """(the old value or None, whether it decides). What sets the function must not rise; what it only has to stand may.

    A resistor that protects (ohms are written) opens by its watts: these must not rise, nor its ohms fall.
    """
    if unit in ("W", "ohm"):
        name = "watts" if unit == "W" else "ohms"
        sure = not ({name, "part"} & part.doubts or part.assumed)
        return (part.values.get(name, part.ratings.get(name)) if sure else None), "ohms" in part.values
    keys = {"A": ("amps",), "C": ("celsius", "degrees", "temperature", "temp"), "V": ("volts",)}.get(unit, ())
    for key in keys:
        if key in part.doubts or (part.assumed and key in part.values) or (part.assumed and unit == "C"):
            return None, True  # supposed is not read
        if key in part.values:
            return part.values[key], True
        if key in part.ratings and unit == "C":
            return part.ratings[key], True
    if unit == "A":
        return None, "amps" not in part.ratings
    return None, unit == "C"


def check_sheet_edit(before: Circuit, after: Circuit, is_protector: Predicate) -> None:
    """Refuse an edit of the sheet that takes a protector out of it, up-rates it or leads round it.

    A designator bound to a place keeps the place: that is no loss. Raises: Refused naming the part.
    """
    for old in before.parts:
        if not is_guard(old, is_protector):
            continue
        new = next((p for p in after.parts if p.ref == old.ref or (old.place and p.place == old.place)), None)
        if new is None:
            if old.assumed and {old.ref, old.place, old.family} & after.absent:
                continue  # looked for and not there: the starting sheet had only supposed it
            raise Refused(
                f"{old.ref} is a protector and can't be taken off the sheet; it stays on the refit list. There is no waiver."
            )
        if new.family != old.family or len(set(new.pins.values())) < len(set(old.pins.values())):
            raise Refused(f"{old.ref} is a protector and the edit turns it into something else or joins its ends. Put it back.")
        for key in ("amps", "volts", "celsius"):
            was, now = old.values.get(key), new.values.get(key)
            if was is not None and now is not None and not old.assumed and key not in old.doubts and now > was * 1.0001:
                raise Refused(f"{old.ref} is a protector marked {was:g} and the edit makes it {now:g}. Put the marking back.")
