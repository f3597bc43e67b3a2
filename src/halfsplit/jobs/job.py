"""One job: a line in, what it means and what to do next out. Everything is rebuilt from the log; the log is all there is."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from halfsplit.circuit.model import Circuit
from halfsplit.errors import EntryError, InputError, Refused
from halfsplit.jobs.advice import Advice, advise, prior_odds
from halfsplit.jobs.checks import NOT_STARTED, Moment, check
from halfsplit.jobs.entry import (
    AnswerEntry,
    AskEntry,
    CardView,
    CorrectEntry,
    Entry,
    LookEntry,
    ReadingEntry,
    StateEntry,
    StrikeEntry,
    parse_line,
)
from halfsplit.jobs.fold import fold, step
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.kit import Kit, default_kit
from halfsplit.jobs.log import JobLog, LogLine
from halfsplit.jobs.odds_record import OddsRecord
from halfsplit.jobs.record import record
from halfsplit.jobs.refusals import refuse_circuit
from halfsplit.jobs.safety import COLD_FUNCTIONS
from halfsplit.jobs.sheet_edit import edits, protectors_lost, sheet_lines, sheet_text
from halfsplit.jobs.sheets import sheet_entries
from halfsplit.jobs.standing import Standing
from halfsplit.jobs.table import Table
from halfsplit.jobs.tell import guessed_values, to_trace
from halfsplit.jobs.weigh import make_suspects

Clock = Callable[[], datetime]
Answer = dict[str, Any]
HELD = {"max": "v", "min": "v"}  # extremes that the meter holds on DC volts
START_ORDER = ("unit", "symptom", "start")


def local_now() -> datetime:
    """The wall clock with its offset."""
    return datetime.now().astimezone()


class Job:
    """A job open on its log. `first()` before any line, then `send(line)`; both give one JSON-able answer."""

    def __init__(
        self,
        path: Path | str,
        *,
        kit: Kit | None = None,
        clock: Clock = local_now,
        progress: Callable[[str], None] = lambda text: None,
    ) -> None:
        self.kit = kit or default_kit()
        self.clock, self.progress = clock, progress
        self.log = JobLog.open(Path(path), clock=clock)
        self._opened_after = len(self.log.lines())
        self.standing: Standing = self._stand()
        self.table: Table | None = None
        self.advice: Advice | None = None
        self.cleared: set[str] = set()
        self.asked: set[str] = set()  # doubts
        self.traced: set[str] = set()  # things to look at
        self.record = OddsRecord()  # of the odds after each entry, for who draws them

    # ---- the protocol

    def first(self) -> Answer:
        """The state of the job before anything is typed."""
        self.advice = self._advise()
        return self._answer(None, "", None)

    def send(self, line: str) -> Answer:
        """Take one line. What is refused is not logged, and the answer says why and what to do."""
        try:
            entries = self.take(line)
        except InputError as no:
            return self.refusal(str(no))
        return self.think(entries)

    def refusal(self, why: str) -> Answer:
        """The answer to a line that was not taken; a round whose leave ran out meanwhile gives way to what is due."""
        card = self._card
        if card.get("kind") == "round" and card["function"] in COLD_FUNCTIONS:
            gate = self._gate()
            if not all(gate.may_read(p["function"], p["red"], p["black"]) for p in card["probes"]):
                self.advice = self._advise(set(self.asked), set(self.traced))  # asked with a refusal is not shown, and so not used up
        return self._answer(None, "refused.", why)

    def take(
        self, line: str, key: str | None = None, may: Callable[[tuple[Entry, ...]], None] = lambda entries: None
    ) -> tuple[Entry, ...]:
        """Check a line and put it on disk. Raises InputError; then nothing was logged. key: of the message that brought it.
        may: raises where who brought it may not say this."""
        entries = parse_line(line, self.standing.names, self.standing.sticky, self._card_view())
        entries = tuple(self._with_function(e) for e in entries)
        may(entries)
        trial = self.standing
        for entry in entries:
            self._check(entry)
            if isinstance(entry, StrikeEntry):
                self._check_strike(line)
            trial = step(trial, entry, 0, self.clock().timestamp())  # what can't be read back later is not logged now
        if not any(self._counts(e) for e in entries):
            return entries
        self.log.append_all(self._as_logged(line, entries), key)
        return entries

    def think(self, entries: tuple[Entry, ...]) -> Answer:
        """Read the log anew and say what it means."""
        before = self.standing
        self.standing = self._stand()
        if self.standing.circuit is not before.circuit and self.standing.circuit != before.circuit:
            self.table = None
        if self.standing.looks != before.looks and self.table is not None:
            rows = make_suspects(self.table.circuit, self._looks())
            if [s.row for s in rows] != [s.row for s in self.table.suspects]:
                self.table = None  # a part that looks new brings rows of its own
        self.advice = self._advise()
        number = self.standing.last if self.standing.last != before.last else None
        found = [f for f in self.advice.found if f["line"] > before.last]
        answer = self._answer(number, self._said(entries), None, found)
        return self._told(answer) if any(isinstance(e, AskEntry) and e.word == "tell" for e in entries) else answer

    def _told(self, answer: Answer) -> Answer:
        """The answer to `tell`: what would be worth seeing, and what the readings make of values nobody could read."""
        a = self.advice
        if a is None or a.weighed is None or self.table is None:
            return {**answer, "tell": {"trace": [], "values": []}}
        trace = [{k: v for k, v in t.items() if k != "key"} for t in to_trace(a.weighed, self.table, a.rate)]
        told: Answer = clean({"trace": trace, "values": guessed_values(a.weighed, self.table)})
        return {**answer, "tell": told}

    def _check_strike(self, line: str) -> None:
        """A strike that takes a protector off the sheet is refused."""
        lines = self.log.lines()
        then = fold((*lines, LogLine(len(lines) + 1, self.clock(), line)), self._opened_after)
        lost = protectors_lost(self.standing.circuit, then.circuit)
        if lost:
            raise Refused(f"{', '.join(lost)}: a protector that stood on the sheet stays on it; there is no waiver. Enter its line corrected instead")

    def sheet_text(self) -> str:
        """The sheet as it stands, as a text."""
        return sheet_text(sheet_lines(self.log.lines(), self.standing.names))

    def take_sheet(self, text: str, key: str | None = None) -> int:
        """Enter what the edited sheet says differently; how many lines that took. Raises SheetError, Refused; then nothing was logged."""
        lines = edits(sheet_lines(self.log.lines(), self.standing.names), self.standing.circuit, text)
        for line in lines:
            if line.startswith("unit:"):
                self._check(parse_line(line, self.standing.names, self.standing.sticky)[0])
        if lines:
            self.log.append_all(lines, key)
        return len(lines)

    def unweighed(self, why: str) -> Answer:
        """The answer where the engine failed: no card of before stays on show, for the set may stand otherwise by now. Solves nothing."""
        card = {"kind": "act", "do": "no", "text": why, "type": "no", "minutes": 0.0, "hazard": "H0", "confirm": []}
        self.advice = Advice(card=card)
        power = self.standing.power
        return self._answer(None, "", None, power=(power, {"hot": power}, []))

    def begin_new_sitting(self) -> Answer:
        """Nobody knows what was done to the set since the last line: what was proven dead is so no more."""
        self._opened_after = len(self.log.lines())
        return self.think(())

    def begin_from_sheet(self, data: bytes, name: str) -> None:
        """Enter a sheet file's lines into a fresh job. Raises InputError; then nothing was logged."""
        if self.log.lines():
            raise EntryError(f"{name}: this job has begun already; give a new job file")
        for key, words in sheet_entries(data, name):
            self.log.append(f"{key}: {words}")
        self.standing = self._stand()

    def entered(self) -> list[dict[str, Any]]:
        """The log line by line with what became of each (jobs/record.py)."""
        told: list[dict[str, Any]] = clean(record(self.log.lines(), self.advice.found if self.advice else [], self.standing.lost))
        return told

    def prompt(self) -> str:
        """State and black lead, always in sight."""
        s = self.standing
        pressed = "".join(f" +{p}" for p in sorted(s.pressed))
        pressed += (f"; {s.mark}" if s.mark else "") + ("; on the twin" if s.twin else "")
        power, sides, _ = self._power()
        told = power if len(set(sides.values())) < 2 else ", ".join(f"{side} {state}" for side, state in sides.items())
        return f"[{told}{pressed}; black {s.black or 'own 0 V'}] > "

    # ---- pieces

    def _stand(self) -> Standing:
        return fold(self.log.lines(), self._opened_after)

    @property
    def _card(self) -> Mapping[str, Any]:
        """The card on show."""
        return self.advice.card if self.advice else {}

    def _counts(self, entry: Entry) -> bool:
        """Whether an entry belongs in the log: questions don't, and a yes only to the going-live list on show."""
        if isinstance(entry, AnswerEntry):
            return entry.answer == "y" and self._card.get("do") == "confirm"
        return not isinstance(entry, AskEntry)

    def _card_view(self) -> CardView | None:
        card = self._card
        if card.get("kind") == "round":
            return CardView(probes=tuple((p["where"], HELD.get(p["function"], p["function"])) for p in card["probes"]))
        if card.get("caps"):
            return CardView(caps=tuple(card["caps"]), prove=card.get("meter") == "prove")
        return None

    def _with_function(self, entry: Entry) -> Entry:
        """A bare value answers the card's probe with the card's black lead, which is what was on show."""
        if not isinstance(entry, ReadingEntry) or entry.card is None or self.advice is None:
            return entry
        probe = self.advice.card["probes"][entry.card]
        entry = replace(entry, red_net=probe["red"], black_net=probe["black"], function=entry.function or probe["function"])
        if entry.max is not None or entry.min is not None or entry.value is None:  # the extreme was typed as one, or there is only what the display does
            return replace(entry, function=HELD.get(str(entry.function), entry.function))
        if probe["function"] in HELD and entry.value is not None:
            held = replace(entry, value=None)
            return replace(held, max=entry.value) if probe["function"] == "max" else replace(held, min=entry.value)
        return entry

    def _as_logged(self, line: str, entries: tuple[Entry, ...]) -> list[str]:
        """Text for the log: bare values get their places written out, so that the log can be read without the cards; a switch-on
        that answers the mains side's going-live list is its yes too."""
        if len(entries) == 1 and isinstance(entries[0], StateEntry):
            return self._state_as_logged(line, entries[0])
        if not any(isinstance(e, ReadingEntry) and e.card is not None for e in entries):
            return [line]
        out = []
        for e in entries:
            if isinstance(e, ReadingEntry) and e.card is not None and self.advice is not None:
                probe = self.advice.card["probes"][e.card]
                value = e.shown or (f"{e.lo:g}..{e.hi:g}" if e.lo is not None and e.hi is not None else "")
                alone = " lifted" if probe.get("alone") else ""
                typed = bool(HELD.keys() & set(value.split()))
                moves = e.value is None and e.max is None and e.min is None  # what the display does, not what it held
                held = f"{probe['function']} " if probe["function"] in HELD and not typed and not moves else ""
                mark = f"{e.mark}: " if e.mark else ""
                function = "" if held or typed or e.function in value.split() else e.function  # typed with the value it stands there already
                out.append(f"{mark}{probe['point']} {held}{value} {function}{alone}{' twin' if e.of_twin else ''}".replace("  ", " ").strip())
        return out

    def _state_as_logged(self, line: str, entry: StateEntry) -> list[str]:
        if entry.kind == "on" and self._card.get("do") == "on" and self._card.get("live") == "hot":
            return [line, "yes"]
        if entry.kind == "dead" and not any(name in line.split() for name, _ in entry.dead) and entry.dead:
            before, after = ("" if v is None else f" {v:g}V" for v in (entry.before, entry.after))
            return [f"dead{before} " + " ".join(f"{name} {volts:g}V" for name, volts in entry.dead) + after]
        return [line]

    def _check(self, entry: Entry) -> None:
        check(entry, Moment(self.standing, self._card, self._gate, frozenset(self.cleared)))

    def _gate(self) -> Gate:
        table = self._table()
        odds = self.advice.odds if self.advice is not None and self.advice.odds is not None else None
        if odds is None or len(odds) != len(table.suspects):
            odds = prior_odds(table.suspects)
        return Gate(self.standing, table, self.kit, odds, self.clock().timestamp())

    def _power(self) -> tuple[str, dict[str, str], list[str]]:
        """Power of the whole set, of each side, and the capacitors that the proofs stand on. Solves nothing before the first proof."""
        power = self.standing.power
        if power not in ("unplugged", "bench") or not any(h.kind == "dead" for h in self.standing.happened):
            return power, {"hot": power}, []
        gate = self._gate()
        sides = {side: gate.islands.power(side, gate.now) for side in gate.sides}
        return "dead" if gate.is_dead() else power, sides, sorted(gate.dead_names())

    def _table(self) -> Table:
        circuit = self.standing.circuit
        if circuit is None:
            raise EntryError(NOT_STARTED)
        if self.table is None or self.table.circuit != circuit:
            ask = refuse_circuit(circuit, cleared=self.cleared)
            if ask is not None:
                raise Refused(ask.question)
            self.table = Table(circuit, make_suspects(circuit, self._looks()), self.progress)
        return self.table

    def _looks(self) -> list[LookEntry]:
        return [look for _, look in self.standing.looks]

    def _advise(self, asked: set[str] | None = None, traced: set[str] | None = None) -> Advice:
        have = {key for key, _ in self.standing.sheet}
        for key in START_ORDER:
            if key not in have and not (key == "start" and have & {"ways", "way"}):
                return Advice(card={"kind": "start", "ask": key, "type": f"{key}: "})
        try:
            table = self._table()
        except Refused as no:
            return Advice(
                card={
                    "kind": "end",
                    "verdict": "refused",
                    "parts": [],
                    "ways": [],
                    "text": str(no),
                    "cause": None,
                    "power": "not cleared for power",
                }
            )
        asked = self.asked if asked is None else asked
        traced = self.traced if traced is None else traced
        advice = advise(self.standing, table, self.kit, self.clock().timestamp(), asked, traced, self.log.lines())
        self.record.note(self.standing, table, advice)
        return advice

    def _said(self, entries: tuple[Entry, ...]) -> str:
        """Two words for the ear."""
        if self.advice is not None and self.advice.found and any(isinstance(e, ReadingEntry) for e in entries):
            last = self.advice.found[-1]
            return f"{last['verdict']}. noted." + (f" {last['note']}." if "note" in last else "")
        if any(isinstance(e, StrikeEntry) for e in entries):
            return "struck."
        if any(isinstance(e, CorrectEntry) for e in entries):
            return "corrected."
        return "noted."

    def _answer(
        self,
        number: int | None,
        said: str,
        refused: str | None,
        found: Sequence[Mapping[str, Any]] = (),
        *,
        power: tuple[str, dict[str, str], list[str]] | None = None,
    ) -> Answer:
        s, a = self.standing, self.advice or Advice(card={})
        stands, sides, dead = power or self._power()
        lost = [f"line {n} no longer fits: {why}" for n, why in s.lost]
        answer: Answer = clean(
            {
                "line": number,
                "ok": refused is None,
                "said": said,
                "refused": refused,
                "state": {
                    "power": stands,
                    "sides": sides,
                    "lamp": s.lamp,
                    "pressed": sorted(s.pressed),
                    "black": s.sticky.black,
                    **({"mark": s.mark} if s.mark else {}),
                    **({"twin": True} if s.twin else {}),
                    "dead": dead,
                    "refit": [*s.acts.refs, *(ref for _, ref in s.pulled), *([s.dummy.told] if s.dummy else [])],
                    "follow": s.follow,
                },
                "found": found,
                "suspects": a.suspects,
                "pairs": a.pairs,
                "nothing_wrong": a.nothing_wrong,
                "not_on_sheet": a.not_on_sheet,
                **({} if a.comes_and_goes is None else {"comes_and_goes": a.comes_and_goes}),
                "undrawn": a.undrawn,
                "blocks": a.blocks,
                "cleared": a.cleared,
                "doubt": a.doubt if refused is None else None,
                "speak": a.speak,
                "warn": [*a.warn, *lost],
                "card": a.card,
            }
        )
        return answer


def clean(x: Any) -> Any:
    """JSON-able: infinities as text, not-a-number as null, arrays as lists."""
    if isinstance(x, Mapping):
        return {str(k): clean(v) for k, v in x.items()}
    if isinstance(x, (list, tuple, set, frozenset)):
        return [clean(v) for v in x]
    if isinstance(x, bool) or x is None or isinstance(x, (str, int)):
        return x
    value = float(x)
    return None if math.isnan(value) else ("OL" if math.isinf(value) else value)


def open_job(path: Path | str, *, kit: Kit | None = None, clock: Clock = local_now) -> Job:
    """Open or begin a job on its log file."""
    return Job(path, kit=kit, clock=clock)


def circuit_of_job(job: Job) -> Circuit | None:
    """The circuit as the job knows it, for callers outside."""
    return job.standing.circuit


__all__ = ["Job", "circuit_of_job", "clean", "open_job"]
