"""What the judge reads on a board with marked values, and a file that keeps it: the judge's answers do not hang on the solver."""

from __future__ import annotations

import hashlib
import inspect
import json
import math
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from functools import lru_cache
from pathlib import Path
from types import ModuleType

import bars

sys.path.insert(0, str(Path(__file__).parents[1] / "robot"))

from halfsplit.circuit.model import Circuit
from judge import active, board, class_d, deck, firing, fitted, impedance, meter, modes, passive, powered, spice, stages
from judge.board import Board, JudgeFailed
from judge.fitted import Fitted

LETTERS = {"r": "ohms", "d": "diode", "c": "capacitance", "esr": "esr"}
MODULES = (active, class_d, deck, firing, fitted, meter, passive, spice, stages)  # for a cold reading; the board itself is only the way to them
LIVE = (*MODULES, board, impedance, modes, powered)
REFRESH = 0.4  # from one number on a display to the next (common practice: 2 to 3 a second) [s]
Fault = tuple[str, str]
NONE: Fault = ("", "nothing wrong")
Plain = dict[str, float | bool | str]


@dataclass(frozen=True)
class Ask:
    """One pair of places. kind: "live" (all that a volts display shows there), r, d, c or esr. part: of a reading out of the circuit, then
    red and black are its pins, else nets."""

    kind: str
    red: str
    black: str
    part: str = ""
    pressed: frozenset[str] = frozenset()

    @property
    def name(self) -> str:
        return f"{self.kind}|{self.red}|{self.black}"


@dataclass(frozen=True)
class Shown:
    """value: SI, inf = OL, NaN = the judge failed. stands: it does not move any more. pulsing: it moves for good."""

    value: float
    stands: bool
    pulsing: bool


def shown(function: str, answer: Plain) -> Shown:
    """What a display of this function makes of the judge's answer: v, ac, max, min, pp (peak to peak), r, d, c, esr."""
    if "failed" in answer:
        return Shown(math.nan, False, False)
    if "value" in answer:
        value, before = float(answer["value"]), float(answer["before"])
        if math.isfinite(value) and math.isfinite(before):
            before = value - (value - before) * REFRESH / (meter.LATE - meter.BEFORE)
        return Shown(value, bars.stands(function, before, value), False)
    if function == "pp":
        now, before, low, high = float(answer["pp"]), float(answer["before_pp"]), 0.0, 0.0
    elif function == "ac":
        now, before, low, high = (float(answer[k]) for k in ("ac", "before_ac", "ac_min", "ac_max"))
    else:
        now, before, low, high = (float(answer[k]) for k in ({"v": "dc"}.get(function, function), "before_dc", "min", "max"))
    pulsing = bool(answer["ac_pulsing" if function == "ac" else "pulsing"])
    still = bars.stands(function, before, now)
    if answer["bursts"]:  # of a set that never stands: this display may
        still = function != "pp" and bars.stands(function, low, high)
    return Shown(now, bool(answer["settled"]) and still and not pulsing, pulsing)


# -- keys ---------------------------------------------------------------------------------------------------------


def _of_family(module: ModuleType, name: str) -> set[str]:
    """Families whose emitter or rule this function is."""
    function = getattr(module, name)
    return {f for table in (deck.EMITTERS, modes.RULES) for f, g in table.items() if g is function}


@lru_cache(maxsize=256)
def sources(families: frozenset[str], live: bool) -> str:
    """The judge's own text as far as it bears on boards of these families: a family added elsewhere changes nothing here."""
    out = []
    for module in LIVE if live else MODULES:
        for name, thing in sorted(vars(module).items()):
            if isinstance(thing, float | int | str | tuple) and name.isupper():
                out.append(f"{name} = {thing!r}")
            elif (inspect.isfunction(thing) or inspect.isclass(thing)) and thing.__module__ == module.__name__:
                own = _of_family(module, name) if inspect.isfunction(thing) else set()
                if not own or own & families:
                    out.append(inspect.getsource(thing))
    return "\n".join(out)


def key_of(board: Board, live: bool, part: str, pressed: frozenset[str]) -> str:
    """Hash of all that an answer hangs on: the parts as they are, their islands and bodies (in the deck), the state, the judge's text."""
    parts = [p for p in board.parts() if not part or p.ref == part]
    outputs = sorted(f"{o}={lv}" for word in pressed for o, lv in board.circuit.controls[word].items())
    unit = board.circuit.unit
    text = "" if part else board.deck_text(live)
    told = sources(frozenset(p.family for p in parts), live)
    plain = [[_plain(p) for p in parts], part, outputs, unit.volts, unit.hertz, live, text, told]
    return hashlib.sha256(json.dumps(plain).encode()).hexdigest()[:24]


def _plain(part: Fitted) -> list[object]:
    return [part.ref, part.family, sorted(part.pins.items()), sorted(part.values.items()), sorted(part.tags), part.across, sorted(part.legs.items())]


# -- answers ------------------------------------------------------------------------------------------------------


@dataclass
class Answers:
    """Everything the judge has said, by key and ask. path: where lines are added as they come, so that a broken run goes on; None: nowhere."""

    path: Path | None = None
    kept: dict[str, dict[str, Plain]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if self.path is not None and self.path.exists():
            for line in self.path.read_text(encoding="ascii").splitlines():
                try:
                    one = json.loads(line)
                except json.JSONDecodeError:
                    continue  # the last line of a run that was stopped
                self.kept.setdefault(one["key"], {}).update(one["answers"])

    def add(self, found: Mapping[str, Mapping[str, Plain]]) -> None:
        """Keep, and write down."""
        for key, answers in found.items():
            self.kept.setdefault(key, {}).update(answers)
        if self.path is not None and found:
            with self.path.open("a", encoding="ascii") as out:
                out.writelines(json.dumps({"key": key, "answers": answers}) + "\n" for key, answers in found.items())

    def lacking(self, circuit: Circuit, fault: Fault, asks: Sequence[Ask]) -> list[tuple[str, Ask]]:
        """Those that nobody has asked yet, each with its key."""
        return [(key, ask) for key, ask in keyed(circuit, fault, asks) if ask.name not in self.kept.get(key, {})]


def fresh(circuit: Circuit, fault: Fault) -> Board:
    """A board as marked; the fault at its middle severity."""
    return Board(circuit, None if fault == NONE else fault, 1, spread="none", exact=True)


def keyed(circuit: Circuit, fault: Fault, asks: Sequence[Ask]) -> list[tuple[str, Ask]]:
    """Each ask with the key that its answer is kept under."""
    board = fresh(circuit, fault)
    places = {(a.kind == "live", a.part, a.pressed) for a in asks}
    keys = {at: key_of(board, *at) for at in places}
    return [(keys[a.kind == "live", a.part, a.pressed], a) for a in asks]


def answer(circuit: Circuit, fault: Fault, wanted: Sequence[tuple[str, Ask]]) -> dict[str, dict[str, Plain]]:
    """Ask the judge: key -> ask -> answer. A run that fails is an answer too: {"failed": why}."""
    cold, live = fresh(circuit, fault), fresh(circuit, fault)  # cold as it comes in: never switched on
    out: dict[str, dict[str, Plain]] = {}
    for key, ask in wanted:
        try:
            got = _volts(live, ask) if ask.kind == "live" else _cold(cold, ask)
        except JudgeFailed as failed:
            got = {"failed": str(failed)[:200]}
        out.setdefault(key, {})[ask.name] = got
    return out


def _cold(board: Board, ask: Ask) -> Plain:
    function = LETTERS[ask.kind]
    got = board.alone(ask.part, function, ask.red, ask.black) if ask.part else board.cold(ask.red, ask.black, function)
    return {"value": got.value, "before": got.before}


def _volts(board: Board, ask: Ask) -> Plain:
    state = board.live(ask.pressed)
    got = dict(state.volts(ask.red, ask.black))
    pp = float(got.pop("peak_max")) - float(got.pop("peak_min"))
    return {**{k: v if isinstance(v, bool) else float(v) for k, v in got.items()}, "pp": pp, "bursts": state.pulsing}
