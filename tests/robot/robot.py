"""The technician: obeys every card to the letter, types what his meter shows, answers doubts by measuring again.

He knows nothing of the fault. What he did, what it took and how it ended comes back as a Record.
"""

from __future__ import annotations

import re
import time
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from bench import Bench, CannotDo, Fault, capacitors
from costs import Clock
from doubts import true_line
from hands import Hands, Probe, Taken, probe_of
from meter import COLD, Meter, Slips, notation
from tool import Answer, Tool, ToolFailed
from watch import Watch

PATIENCE = 4  # the same card after as many refusals, or as many cards without any progress, is a dead end
MOST_LINES = 250
BATTERY = 9.0  # volts of the block that his meter is shown before and after
SHOWN_AS_ZERO = 0.05  # volts below which a display with one decimal shows 0.0
LETTERS = {"resistor": "R", "capacitor": "C", "electrolytic": "C", "diode": "D", "fuse": "F", "npn": "Q", "fet": "Q"}


@dataclass(frozen=True)
class Habits:
    """How this technician works. other, bind: chance per round of taking another reading than asked, of naming a part unasked."""

    slips: Slips = Slips()
    other: float = 0.03
    bind: float = 0.03


@dataclass
class Record:
    """How a job went. ended: the verdict word of the last card, or why there was none."""

    ended: str = ""
    parts: tuple[str, ...] = ()
    ways: tuple[str, ...] = ()
    suspects: tuple[tuple[str, str, float], ...] = ()
    clock: Clock = field(default_factory=Clock)
    violations: tuple[str, ...] = ()
    unforeseen: tuple[str, ...] = ()
    slips: tuple[str, ...] = ()
    refusals: tuple[str, ...] = ()
    lines: tuple[str, ...] = ()
    doubts: int = 0


class Technician:
    """One job on one board with one tool."""

    def __init__(self, tool: Tool, bench: Bench, three: Mapping[str, str], *, fault: Fault | None, meter: Meter,
                 rng: np.random.Generator, habits: Habits = Habits(), sign: str | None = None) -> None:
        self.tool, self.bench, self.three, self.habits, self.rng, self.sign = tool, bench, three, habits, rng, sign
        self.fault = fault
        self.clock = Clock()
        self.hands = Hands(bench, self.clock, meter, habits.slips, rng)
        self.watch = Watch(bench, fault)
        self.typed: list[str] = []
        self.refusals: list[str] = []
        self.entries: dict[int, list[Taken]] = {}
        self.last: list[Taken] = []
        self.suspects: list[dict[str, Any]] = []
        self.state: dict[str, Any] = {}
        self.stuck = self.asked = 0
        self.told = 0.0  # seconds of his clock that the tool's clock knows of

    # --- the job ---------------------------------------------------------------------------------------------------------

    def work(self) -> Record:
        """From the first card to the last, or until the budget is gone."""
        try:
            answer = self._heard(self.tool.hello)
            while True:
                card = answer.get("card") or {}
                if card.get("kind") == "end":
                    settled = self._settle(answer["doubt"]) if answer.get("doubt") else None  # an end that asks is none yet
                    if settled is None:
                        return self._record(str(card.get("verdict")), card)
                    answer = settled
                    continue
                if self.clock.spent:
                    return self._record("budget", card)
                if self.stuck >= PATIENCE or len(self.typed) >= MOST_LINES:
                    return self._record("stuck", card)
                answer = self._step(answer, card)
        except CannotDo as cannot:
            return self._record(f"cannot: {cannot}", {})
        except ToolFailed as failed:
            return self._record(f"tool failed: {failed}", {})

    def _step(self, answer: Answer, card: Mapping[str, Any]) -> Answer:
        if answer.get("doubt"):
            settled = self._settle(answer["doubt"])
            if settled is not None:
                return settled
            if not card:  # a page shows the question alone until it is said that the reading stands
                return self.tool.keep()  # type: ignore[no-any-return, attr-defined]
        kind = card.get("kind")
        if kind == "start":
            return self._start(card)
        if kind == "act":
            return self._act(card)
        if kind == "round":
            return self._round(card)
        raise ToolFailed(f"a card of kind {kind!r}, which the protocol does not know")

    def _say(self, line: str) -> Answer:
        self.clock.key(line)
        if hasattr(self.tool, "pass_time"):
            self.tool.pass_time(self.clock.seconds - self.told)
        self.told = self.clock.seconds
        self.typed.append(line)
        return self._heard(self.tool.send(line))

    def _heard(self, answer: Answer) -> Answer:
        if answer.get("refused"):
            self.refusals.append(f"{self.typed[-1] if self.typed else ''} -> {answer['refused']}")
            self.stuck += 1
        elif answer.get("line") is not None:
            self.stuck = 0
        else:
            self.stuck += 1 if self.typed else 0
        if answer.get("suspects"):
            self.suspects = list(answer["suspects"])
        self.state = answer.get("state") or self.state
        return answer

    def _record(self, ended: str, card: Mapping[str, Any]) -> Record:
        mine = self.bench.alias
        parts = tuple(mine.get(str(p), str(p)) for p in card.get("parts", ())) if card.get("kind") == "end" else ()
        ways = tuple(str(w) for w in card.get("ways", ())) if card.get("kind") == "end" else ()
        named = [(str(s.get("part")), str(s.get("way")), float(s.get("odds", 0.0))) for s in self.suspects]
        ranked = tuple((mine.get(part, part), way, odds) for part, way, odds in named)
        return Record(ended, parts, ways, ranked, self.clock, tuple(self.watch.violations), tuple(self.watch.unforeseen),
                      tuple(self.hands.slipped), tuple(self.refusals), tuple(self.typed), self.asked)

    # --- cards -----------------------------------------------------------------------------------------------------------

    def _start(self, card: Mapping[str, Any]) -> Answer:
        ask = str(card.get("ask", "")).split("|")[0].strip()
        if ask not in self.three:
            raise ToolFailed(f"a start card that asks for {ask!r}")
        return self._say(f"{ask}: {self.three[ask]}")

    def _act(self, card: Mapping[str, Any]) -> Answer:
        do = str(card.get("do", "")).strip()
        if not do:
            raise ToolFailed("an act card that says nothing to do")
        self.watch.before_act(do, card, self.suspects)
        word, _, rest = do.partition(" ")
        hand = getattr(self, f"_do_{word.replace('-', '_')}", None)
        if hand is None:
            raise CannotDo(do)
        return hand(rest.strip(), card)

    def _do_off(self, rest: str, card: Mapping[str, Any]) -> Answer:
        self.bench.switch_off()
        return self._say(str(card.get("type") or "off").strip())

    _do_unplugged = _do_off

    def _do_on(self, rest: str, card: Mapping[str, Any]) -> Answer:
        self.clock.switch_on()
        self.bench.switch_on()
        return self._say(str(card.get("type") or "on").strip())

    def _do_tell(self, rest: str, card: Mapping[str, Any]) -> Answer:
        """Reads the print of a part that is asked for by its place; has no eyes for tracks and the rest, and goes on without."""
        place = str(card.get("about") or "")
        if not card.get("type") and self.bench.knows(place) and place not in self.bench.alias.values():
            return self._bind(place)
        return self._say("card")

    def _do_lamp(self, rest: str, card: Mapping[str, Any]) -> Answer:
        found = re.search(r"\d+(\.\d+)?", rest)
        self.clock.look()
        self.bench.fit_lamp(float(found.group()) if found else None)
        return self._say(str(card.get("type") or f"lamp {rest}").strip())

    def _do_press(self, rest: str, card: Mapping[str, Any]) -> Answer:
        self.clock.look()
        self.bench.press(rest)
        return self._say(str(card.get("type") or f"press {rest}").strip())

    def _do_release(self, rest: str, card: Mapping[str, Any]) -> Answer:
        self.clock.look()
        self.bench.release(rest)
        return self._say(str(card.get("type") or f"release {rest}").strip())

    def _do_dead(self, rest: str, card: Mapping[str, Any]) -> Answer:
        """Discharges the capacitors that the card names, and no others, and types what the meter shows there afterwards; with the
        battery before and after them where the card asks for it. A card with a wait is the second look: nothing is discharged."""
        self.bench.switch_off()
        names = self._named(card, rest)
        again = card.get("wait") is not None
        before = self.clock.seconds
        if again:
            self._wait(float(card["wait"]))
            self.clock.look_again(len(names))
        else:
            self.clock.discharge()
        self.bench.pass_time(max(5.0, self.clock.seconds - before))
        shown = [self.hands.meter.shown("v", self._left_on(name, drain=not again)) for name in names]
        if "meter" not in card:
            return self._say(" ".join(["dead", *(f"{n} {notation('v', v)}V" for n, v in zip(names, shown, strict=True))]))
        source = f"{notation('v', self.hands.meter.shown('v', BATTERY))}V"
        words = [notation("v", v) for v in shown]
        first = [source] if card["meter"] == "prove" else []
        last = [source] if any(abs(v) < SHOWN_AS_ZERO for v in shown) else []
        return self._say(" ".join(["dead", *first, *words, *last]))

    def _wait(self, seconds: float) -> None:
        """Lets the minute pass; a tool with a clock of its own in another process has to be waited for."""
        self.clock.seconds += seconds
        if not hasattr(self.tool, "pass_time"):
            time.sleep(seconds)

    def _left_on(self, name: str, *, drain: bool) -> float:
        """Volts across a part of the unplugged set, after the discharge tool if anything much was there."""
        part = self.bench.part(name)
        if part.ref not in {p.ref for p in capacitors(self.bench.circuit)}:
            return 0.0
        if drain and abs(self.bench.volts_on(part.ref)) > 1.0:
            self.bench.drain(part.ref)
        return self.bench.volts_on(part.ref)

    def _do_meter(self, rest: str, card: Mapping[str, Any]) -> Answer:
        """The battery once more."""
        self.clock.look()
        return self._say(f"meter {notation('v', self.hands.meter.shown('v', BATTERY))}V")

    def _do_confirm(self, rest: str, card: Mapping[str, Any]) -> Answer:
        """Reads the going-live list and says yes to it."""
        self.clock.look()
        return self._say(str(card.get("type") or "yes").strip())

    def _named(self, card: Mapping[str, Any], rest: str) -> list[str]:
        """Capacitors on a discharge card: its list if it has one, else the names in its line, else those in its text."""
        listed = card.get("caps") or card.get("at")
        if listed:
            return [str(c.get("where") if isinstance(c, Mapping) else c) for c in listed]
        caps = {p.ref for p in capacitors(self.bench.circuit)}
        for text in (rest, str(card.get("type", "")), str(card.get("text", "")), " ".join(map(str, card.get("confirm") or ()))):
            words = [w.strip(".,;:()") for w in text.split()]
            names = [w for w in dict.fromkeys(words) if self.bench.knows(w) and self.bench.part(w).ref in caps]
            if names:
                return names
        return []

    def _do_lift(self, rest: str, card: Mapping[str, Any]) -> Answer:
        name, _, pin = rest.partition(".")
        if not self.bench.knows(name):
            raise CannotDo(f"lift {rest}: no such part on this board")
        self.clock.lift()
        self.bench.lift(name, pin or None)
        return self._say(str(card.get("type") or f"lift {rest}").strip())

    def _do_refit(self, rest: str, card: Mapping[str, Any]) -> Answer:
        self.clock.lift()
        self.bench.refit(rest.partition(".")[0])
        return self._say(str(card.get("type") or f"refit {rest}").strip())

    def _do_remove(self, rest: str, card: Mapping[str, Any]) -> Answer:
        if not self.bench.knows(rest):
            raise CannotDo(f"remove {rest}: no such part on this board")
        self.clock.take_out(len(self.bench.part(rest).pins))
        self.bench.remove(rest)
        return self._say(str(card.get("type") or f"remove {rest}").strip())

    def _do_unplug(self, rest: str, card: Mapping[str, Any]) -> Answer:
        if not rest or not self.bench.knows(rest):
            return self._do_off(rest, card)
        self.clock.look()
        self.bench.remove(rest)
        return self._say(str(card.get("type") or f"unplug {rest}").strip())

    def _do_see(self, rest: str, card: Mapping[str, Any]) -> Answer:
        """A look; the sign was drawn with the board."""
        self.clock.look()
        part = self.fault[0] if self.fault else ""
        seen = f"see {part} {self.sign}" if self.sign and (not rest or rest == part) else "see nothing"
        return self._say(seen)

    _do_look = _do_see

    def _do_name(self, rest: str, card: Mapping[str, Any]) -> Answer:
        return self._bind(rest.split(" ")[0])

    _do_bind = _do_name

    # --- readings --------------------------------------------------------------------------------------------------------

    def _round(self, card: Mapping[str, Any]) -> Answer:
        if self.rng.random() < self.habits.bind:
            bound = {"mains", *self.bench.alias.values()}
            spare = [p.ref for p in self.bench.circuit.parts if p.place and p.ref not in bound]
            return self._bind(spare[int(self.rng.integers(len(spare)))])
        self.watch.before_round(card)
        if self.rng.random() < self.habits.other:
            return self._another(card)
        probes = [probe_of(card, entry) for entry in card.get("probes", ())]
        if not probes:
            raise ToolFailed("a round card without probes")
        taken = [self.hands.take(p) for p in probes]
        answer = self._say(" ".join(t.text for t in taken))
        if answer.get("refused") and (answer.get("card") or {}).get("kind") != "act":
            return self._one_by_one(card, taken, answer)
        return self._wrote(answer, taken)  # after a refusal that asks for an act: the act first, these readings once more then

    def _one_by_one(self, card: Mapping[str, Any], taken: list[Taken], answer: Answer) -> Answer:
        """The line was refused as a whole: the same values again, each with its place in front."""
        for t, entry in zip(taken, card["probes"], strict=True):
            head = str(entry.get("type") or f"{t.probe.where} ")
            value = t.text if t.wander is None else notation("v", t.value) + " shaky"
            answer = self._say(f"{head}{value}")
            if not answer.get("refused"):
                self._wrote(answer, [t])
        return answer

    def _wrote(self, answer: Answer, taken: list[Taken]) -> Answer:
        self.last = taken
        last = answer.get("line")
        if isinstance(last, int):
            # a round is logged as one line a value, the answer names the last of them
            for back, one in enumerate(reversed(taken)):
                self.entries[last - back] = [one]
        return answer

    def _another(self, card: Mapping[str, Any]) -> Answer:
        """Something he'd rather read: a net of this board against the black lead as it is, typed as `where value`."""
        black = str(self.state.get("black") or card["probes"][0]["black"])
        taboo = set(self.bench.circuit.switching) | set(self.bench.circuit.cant) | {black}
        nets = [n for n in self.bench.circuit.nets if n not in taboo and (n in self.hands.hot) == (black in self.hands.hot)]
        if not nets:
            return self._round_as_asked(card)
        net = nets[int(self.rng.integers(len(nets)))]
        function = "v" if self.bench.plugged else "r"
        taken = self.hands.take(Probe(function, net, black, net, None))
        tail = "" if self.bench.plugged else " r"
        return self._wrote(self._say(f"{net} to {black} {taken.text}{tail}"), [taken])

    def _round_as_asked(self, card: Mapping[str, Any]) -> Answer:
        taken = [self.hands.take(probe_of(card, entry)) for entry in card["probes"]]
        return self._wrote(self._say(" ".join(t.text for t in taken)), taken)

    def _bind(self, place: str) -> Answer:
        """Reads the designator and the marking off the board: `R17 start-up-R 470k`."""
        part = self.bench.part(place)
        letter = LETTERS.get(part.family, "P")
        designator = f"{letter}{201 + len(self.bench.alias)}"
        marks = {"ohms": "r", "farads": "c"}
        shown = [notation(f, part.values[k]) for k, f in marks.items() if k in part.values and letter in "RC"]
        value = shown[0] if shown else ""
        answer = self._say(f"{designator} {place} {value}".strip())
        if not answer.get("refused"):
            self.bench.alias[designator] = part.ref
        return answer

    # --- doubts ----------------------------------------------------------------------------------------------------------

    def _settle(self, doubt: Mapping[str, Any]) -> Answer | None:
        """Measures again what the doubt is about and answers with the truth; None when there is nothing to type."""
        self.asked += 1
        if self.asked > 20:
            raise ToolFailed("more than 20 doubts in one job")
        about = self.entries.get(doubt.get("line") or -1, self.last)
        again = [(t, self.hands.take(t.probe, careful=True)) for t in about if self._still_there(t)]
        line = true_line(doubt.get("type") or {}, again, plugged=self.bench.plugged, lamp=self.bench.lamp)
        return self._say(line) if line else None

    def _still_there(self, taken: Taken) -> bool:
        return (taken.probe.function in COLD) != self.bench.plugged
