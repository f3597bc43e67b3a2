"""What the customer says, as odds on the suspects: the intake table of the trade.

The factors are bench estimates; a phrase moves odds and never rules anything out. Where the table prints no factor, 3 is
taken. The product of several phrases is held within bounds, because two phrases often tell the same thing.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

NO_FACTOR = 3.0  # bench estimate, where the table names suspects without a number
BOUNDS = (0.05, 30.0)
WORKS_NOW, BROKEN_NOW = 0.15, 0.004  # odds that nothing is wrong: comes and goes, or is plainly dead (bench estimates)


@dataclass(frozen=True)
class RowWords:
    """One suspect as intake sees it: names, its place, family, tags and block in words; kind "open", "short" or "drift"."""

    names: tuple[str, ...]
    kind: str


@dataclass(frozen=True)
class Move:
    """factor on every suspect that bears one of these names and fails in one of these kinds (empty: any)."""

    names: tuple[str, ...]
    kinds: tuple[str, ...]
    factor: float


@dataclass(frozen=True)
class Answer:
    """One line of the table: what people say, and what it moves. several: drop the single-fault assumption."""

    phrases: tuple[str, ...]
    moves: tuple[Move, ...]
    several: bool = False
    advice: str = ""


def _list(text: str) -> tuple[str, ...]:
    return tuple(item.strip() for item in text.split(",") if item.strip())


def _move(names: str, kinds: str, factor: float) -> Move:
    return Move(_list(names), _list(kinds), factor)


_PRIMARY = "varistor, mov, x cap, bridge, mains diode, switch, chopper, bulk cap, bulk, fet"
_SECONDARY = "rectifier, out cap, secondary, output, load, regulator, opto, reference, divider, micro"
_HIGH_OHM = "start up, divider, high ohm, keypad, reset, bleed"

WORKED_ON = _list(
    "someone inside, someone has been inside, somebody inside, opened before, been opened, tried to repair, already repaired,"
    "repaired before, been repaired, worked on before, other shop, another shop, fitted a bigger fuse, bigger fuse, replaced the,"
    "parts replaced, new part, new parts, fresh solder, freshly soldered, soldered before"
)

TABLE: tuple[Answer, ...] = (
    Answer(
        _list(
            "bang, breaker tripped, tripped the breaker, trips the breaker, fuse black, black fuse, fuse blown black, exploded,"
            "flash and bang,"
            "rcd tripped, tripped the rcd"
        ),
        (_move(_PRIMARY, "short", 10.0), _move(_SECONDARY, "", 0.3)),
    ),
    Answer(
        _list("fuse blown, blown fuse, blew fuse, blew its fuse, blows fuses, fuse open, fuse gone"),
        (_move(_PRIMARY, "short", NO_FACTOR),),
    ),
    Answer(
        _list(
            "fuse good, fuse ok, fuse okay, fuse intact, fuse fine, fuse not blown"
        ),  # switch not shorted in >= 95 % (estimate)
        (_move(_PRIMARY, "short", 0.05), _move("fuse", "open", 0.05)),
    ),
    Answer(
        _list(
            "found dead, dead in the morning, dead overnight, died overnight, overnight in standby, died in standby,"
            "always on standby"
        ),
        (_move("start up, vcc cap, vcc, standby", "", 5.0),),
    ),
    Answer(
        _list(
            "slow to start, slow start, starts slowly, better warm, better when warm, worse cold, worse when cold,"
            "ticks then runs,"
            "runs after a while, needs several tries, won't wake when cold"
        ),
        (_move("electrolytic", "drift", 8.0),),
    ),
    Answer(
        _list(
            "stops warm, stops when warm, stops when hot, restarts cold, restarts when cold, tap changes it, knock helps,"
            "tapping helps,"
            "cuts out when warm, loose contact, fails when hot"
        ),
        (
            _move("joint, track, thermal link, link, stat, lead", "open", 6.0),
            _move("fet, npn, pnp, diode, regulator, opto, controller", "open", 6.0),
        ),
    ),
    Answer(
        _list("storm, thunderstorm, lightning, power cut, power failure, power outage, blackout, surge, after storm"),
        (_move("varistor, mov, fuse, bridge, mains diode, switch, chopper, antenna, phone, data", "", 10.0),),
        several=True,
    ),
    Answer(
        _list(
            "wrong supply voltage, wrong voltage, wrong mains, 230 into 120, 230v into 120v, 240 into 120, plugged into 230,"
            "wrong outlet"
        ),
        (
            _move("varistor, mov, bulk cap, bulk", "short", 10.0),
            _move("transformer, thermal link, link", "open", 10.0),
            _move("regulator", "", 10.0),
        ),
    ),
    Answer(
        _list("smell then still works, smell, smelt, smells, burning smell, smoke, burnt smell"),
        (_move("x cap, y cap, suppressor, transformer", "", NO_FACTOR), _move("resistor", "", NO_FACTOR)),
    ),
    Answer(
        _list(
            "tick, ticking, rhythmic tick, ticks every second, ticks once a second, hiccup, clicks rhythmically, pulsing, chirp"
        ),
        (
            _move("rectifier, out cap, load, secondary", "short", NO_FACTOR),
            _move("vcc cap, vcc", "", NO_FACTOR),
            _move("opto, reference, divider, latch", "", NO_FACTOR),
        ),
    ),
    Answer(
        _list("spill, spilt, liquid, coffee in it, water, wet, insect, ant, damp, moisture, corroded, corrosion"),
        (_move(_HIGH_OHM, "drift", NO_FACTOR), _move("keypad, switch", "", NO_FACTOR)),
    ),
    Answer(
        WORKED_ON,
        (),
        several=True,
        advice="inspect before all else: wrong part or polarity, bridged protector, missing insulator, swapped connectors",
    ),
    Answer(
        _list("works on bench, works on the bench, works here, works now, no fault found"),
        (),
        advice="ask for the whole set-up: wall socket, lead, load, source, user setting, heat in the cabinet",
    ),
)

# What is said to be wrong, in the words the rest of the program keys on
WRONG: dict[str, tuple[str, ...]] = {
    "dead": _list(
        "dead, dead set, no sign of life, nothing happens, does not start, doesn't start, won't start, won't turn on,"
        "does not turn on,"
        "no power, blank, dark, not working, does nothing, will not start, won't power up"
    ),
    "no output": _list(
        "no output, no heat, does not heat, doesn't heat, no sound, no light, silent, no motor, does not turn, no rail, no volts,"
        "never ready, not heating"
    ),
    "half dead": _list("half dead, standby led on, only led, display fine, lights but, light but no, partly works"),
    "resets": _list(
        "display resets, resets, reset, restarts, starts again, reboots, display blanks, boots again, now and then boots"
    ),
    "hiccup": _list("tick, ticking, hiccup, chirp, pulsing"),
    "fuse open": _list("fuse blown, blown fuse, blew fuse, blew its fuse, blows fuses, fuse open, fuse black, fuse gone"),
    "fuse intact": _list("fuse good, fuse ok, fuse okay, fuse intact, fuse fine, fuse not blown"),
    "low output": _list("low output, output low, weak, sags, dim, slow, low volts, half power, half speed, half heat"),
    "high output": _list(
        "high output, output high, battery boiled, boiled, too hot, over volt, over voltage, too high, full speed"
    ),
    "hum": _list("hum, hums, humming, buzz, buzzing"),
    "always on": _list("always on, never stops, full speed, full on, full brightness, overheats, does not stop, doesn't stop"),
}
_COMES_AND_GOES = _list(
    "works now, works on bench, works on the bench, works here, intermittent, sometimes, now and then, comes and goes,"
    "no fault found, on and off, once in a while, occasionally"
)
# The fault is not always there while the set is used. "Works now" alone says no more than that it may have been nothing.
_NOW_AND_THEN = _list(
    "intermittent, sometimes, now and then, comes and goes, once in a while, occasionally, from time to time, at times,"
    "now and again, after a while, after some minutes, when warm, when hot, when cold, once warm, once it is warm, stops warm,"
    "restarts cold, better warm, worse cold, tap changes it, knock helps, tapping helps, loose contact, every few days"
)
_NOT = frozenset("no not never without non neither".split())
_FILLER = frozenset("the a an it its is was were has have had been of at in".split())


def _stem(word: str) -> str:
    if len(word) > 4 and word.endswith("ied"):
        word = word[:-3] + "y"
    for tail in ("ing", "ed", "ly", "es", "s"):
        if word.endswith(tail) and len(word) - len(tail) >= 3 and not word.endswith("ss"):
            word = word[: -len(tail)]
            break
    if len(word) > 3 and word[-1] == word[-2] and word[-1] not in "aeiousl":
        word = word[:-1]  # tripp, resett
    return word[:-1] if len(word) > 3 and word.endswith("e") else word


def _tokens(text: str) -> list[str]:
    """Stems without filler words. Words like "then" and "on" stay: "now and then" is more than "now"."""
    plain = text.lower().replace("\u2019", "'").replace("n't", " not").replace("wont", "will not").replace("'s", "")
    words = re.findall(r"[a-z0-9]+", plain)
    return [_stem(word) for word in words if word not in _FILLER]


def _stands(phrase: str, said: list[str]) -> bool:
    """Whether the phrase stands in what was said, and is not denied just before."""
    want = _tokens(phrase)
    for i in range(len(said) - len(want) + 1):
        if said[i : i + len(want)] == want and not (_NOT & set(said[max(0, i - 1) : i]) and want[0] not in _NOT):
            return True
    return False


def heard(phrases: Sequence[str], symptom: Sequence[str]) -> str | None:
    """The longest of the phrases that the symptom says, None if it says none of them."""
    said = [_tokens(line) for text in symptom for line in re.split(r"[;.]", text)]
    hits = [phrase for phrase in phrases if any(_stands(phrase, line) for line in said)]
    return max(hits, key=lambda phrase: len(_tokens(phrase)), default=None)


def _bears(name: str, row: RowWords) -> bool:
    want = _tokens(name)
    return any(said[i : i + len(want)] == want for said in map(_tokens, row.names) for i in range(len(said) - len(want) + 1))


@dataclass(frozen=True)
class SymptomOdds:
    """factors (rows,) on the priors; why: for each row the phrases and factors that moved it.

    several: think of more than one fault. advice: what to do or ask first. heard: the phrases understood.
    """

    factors: NDArray[np.float64]
    why: tuple[tuple[tuple[str, float], ...], ...]
    several: bool
    advice: tuple[str, ...]
    heard: tuple[str, ...]


def symptom_odds(symptom: Sequence[str], rows: Sequence[RowWords]) -> SymptomOdds:
    """Factors on the suspects from what the customer said.

    Parameters: symptom, texts as written; rows, the suspects in words. Returns: factors in the rows' order, each within BOUNDS.
    """
    answers = [(phrase, answer) for answer in TABLE if (phrase := heard(answer.phrases, symptom)) is not None]
    why: list[tuple[tuple[str, float], ...]] = []
    for row in rows:
        moved = [(phrase, _factor(answer, row)) for phrase, answer in answers]
        why.append(tuple((phrase, factor) for phrase, factor in moved if factor != 1.0))
    factors = np.array([np.prod([factor for _, factor in moved] or [1.0]) for moved in why], dtype=np.float64)
    return SymptomOdds(
        factors=np.clip(factors, *BOUNDS),
        why=tuple(why),
        several=any(answer.several for _, answer in answers),
        advice=tuple(answer.advice for _, answer in answers if answer.advice),
        heard=tuple(phrase for phrase, _ in answers),
    )


def _factor(answer: Answer, row: RowWords) -> float:
    """The first move that fits: within one answer a suspect is moved once."""
    for move in answer.moves:
        if (not move.kinds or row.kind in move.kinds) and any(_bears(name, row) for name in move.names):
            return move.factor
    return 1.0


def said_wrong(symptom: Sequence[str]) -> frozenset[str]:
    """What the symptom says is wrong: keys of WRONG. A set that restarts, or of which half works, is not dead."""
    found = frozenset(key for key, phrases in WRONG.items() if heard(phrases, symptom) is not None)
    return found - {"dead"} if found & {"resets", "half dead"} else found


def nothing_wrong_odds(symptom: Sequence[str]) -> float:
    """Odds that nothing is wrong with the set, before any reading."""
    return WORKS_NOW if heard(_COMES_AND_GOES, symptom) is not None else BROKEN_NOW


def comes_and_goes(symptom: Sequence[str]) -> bool:
    """Whether the symptom says that the fault is there at some times and not at others."""
    return heard(_NOW_AND_THEN, symptom) is not None
