"""One job: a line in, what it means and what to do next out. Everything is rebuilt from the log; the log is all there is."""

from __future__ import annotations

import math
import time
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

from halfsplit.circuit.model import Circuit
from halfsplit.errors import EntryError, InputError, Refused
from halfsplit.jobs.advice import Advice, advise
from halfsplit.jobs.entry import (
    ActEntry,
    AnswerEntry,
    AskEntry,
    CardView,
    CorrectEntry,
    Entry,
    ReadingEntry,
    SheetEntry,
    StateEntry,
    StrikeEntry,
    parse_line,
)
from halfsplit.jobs.fold import Standing, fold, step
from halfsplit.jobs.gate import COLD_OHMS, DEAD_VOLTS, Gate, is_protector  # noqa: F401
from halfsplit.jobs.kit import Kit, default_kit
from halfsplit.jobs.log import JobLog
from halfsplit.jobs.refusals import check_act, refuse_circuit, refuse_unit
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import COLD_FUNCTIONS, make_suspects

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
        self.standing: Standing = fold(self.log.lines())
        if self.standing.power != "unknown" and self.log.lines():
            # a new sitting: nobody knows what was done to the set since; nothing of the log is changed by that
            self.standing = replace(self.standing, power="unknown", dead={}, proven_at=None)
        self.table: Table | None = None
        self.advice: Advice | None = None
        self.cleared: set[str] = set()
        self.asked: set[str] = set()
        self._lines_at_open = len(self.log.lines())

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
        """The answer to a line that was not taken."""
        return self._answer(None, "refused.", why)

    def take(self, line: str) -> tuple[Entry, ...]:
        """Check a line and put it on disk. Raises InputError; then nothing was logged."""
        entries = parse_line(line, self.standing.names, self.standing.sticky, self._card_view())
        entries = tuple(self._with_function(e) for e in entries)
        trial = self.standing
        for entry in entries:
            self._check(entry)
            trial = step(trial, entry, 0, self.clock().timestamp())  # what can't be read back later is not logged now
        if all(isinstance(e, (AskEntry, AnswerEntry)) for e in entries):
            return entries
        for text in self._as_logged(line, entries):
            self.log.append(text)
        return entries

    def think(self, entries: tuple[Entry, ...]) -> Answer:
        """Read the log anew and say what it means."""
        before = self.standing
        self.standing = self._stand()
        if self.standing.circuit is not before.circuit and self.standing.circuit != before.circuit:
            self.table = None
        self.advice = self._advise()
        number = None if all(isinstance(e, (AskEntry, AnswerEntry)) for e in entries) else self.standing.last
        return self._answer(number, self._said(entries), None, entries)

    def begin_from_sheet(self, data: bytes, name: str) -> None:
        """Enter a sheet file's lines into a fresh job. Raises InputError; then nothing was logged."""
        from halfsplit.jobs.sheets import sheet_entries

        if self.log.lines():
            raise EntryError(f"{name}: this job has begun already; give a new job file")
        for key, words in sheet_entries(data, name):
            self.log.append(f"{key}: {words}")
        self.standing = self._stand()

    def prompt(self) -> str:
        """State and black lead, always in sight."""
        s = self.standing
        pressed = "".join(f" +{p}" for p in sorted(s.pressed))
        return f"[{s.power}{pressed}; black {s.sticky.black or '-'}] > "

    # ---- pieces

    def _stand(self) -> Standing:
        lines = self.log.lines()
        standing = fold(lines)
        fresh = [
            line
            for line in lines[self._lines_at_open :]
            if line.text.split()[:1] and line.text.split()[0].lower() in ("off", "on", "dead", "unplug")
        ]
        if not fresh and standing.power != "unknown" and self._lines_at_open:
            standing = replace(standing, power="unknown", dead={}, proven_at=None)
        return standing

    def _card_view(self) -> CardView | None:
        card = self.advice.card if self.advice else {}
        if card.get("kind") == "round":
            return CardView(probes=tuple((p["where"], HELD.get(p["function"], p["function"])) for p in card["probes"]))
        return None

    def _with_function(self, entry: Entry) -> Entry:
        """A bare value answers the card's probe with the card's black lead, which is what was on show."""
        if not isinstance(entry, ReadingEntry) or entry.card is None or self.advice is None:
            return entry
        probe = self.advice.card["probes"][entry.card]
        entry = replace(entry, red_net=probe["red"], black_net=probe["black"], function=entry.function or probe["function"])
        if probe["function"] in HELD and entry.value is not None:
            held = replace(entry, value=None)
            return replace(held, max=entry.value) if probe["function"] == "max" else replace(held, min=entry.value)
        return entry

    def _as_logged(self, line: str, entries: tuple[Entry, ...]) -> list[str]:
        """Text for the log: bare values get their places written out, so that the log can be read without the cards."""
        if not any(isinstance(e, ReadingEntry) and e.card is not None for e in entries):
            return [line]
        out = []
        for e in entries:
            if isinstance(e, ReadingEntry) and e.card is not None and self.advice is not None:
                probe = self.advice.card["probes"][e.card]
                value = e.shown or (f"{e.lo:g}..{e.hi:g}" if e.lo is not None and e.hi is not None else "")
                alone = " lifted" if probe.get("alone") else ""
                held = f"{probe['function']} " if probe["function"] in HELD else ""
                out.append(f"{probe['point']} {held}{value} {'' if held else e.function}{alone}".replace("  ", " ").strip())
        return out

    def _check(self, entry: Entry) -> None:
        s = self.standing
        if isinstance(entry, SheetEntry) and entry.key == "unit":
            self._check_unit(entry.words)
        if isinstance(entry, ActEntry) and s.circuit is not None:
            check_act(entry.text, s.circuit, is_protector)
            if s.power == "on":
                raise Refused(f"{entry.act}: the set is on; pull the plug, say `off`, then prove it dead")
        if isinstance(entry, ReadingEntry):
            self._check_reading(entry)
        if isinstance(entry, StateEntry) and entry.kind == "on":
            self._check_on()
        if isinstance(entry, StateEntry) and entry.kind == "dead":
            self._check_dead(entry)
        if isinstance(entry, (StateEntry, ActEntry, ReadingEntry)) and s.circuit is None:
            raise EntryError("first say what it is: unit, symptom and start, a line each")

    def _check_unit(self, words: str) -> None:
        from halfsplit.circuit.sheet import Item, read_unit

        unit = read_unit(Item(words, 1, 1, "unit"))
        ask = refuse_unit(unit.words, unit.volts, unit.watts, cleared=self.cleared)
        if ask is not None:
            raise Refused(f"{ask.question} Write the unit without the word if it isn't one.")

    def _check_reading(self, entry: ReadingEntry) -> None:
        s = self.standing
        if entry.function is None:
            raise EntryError(
                f"{entry.shown}: ohms or diode test? write `{entry.where} {entry.shown} r` or `... d`; with volts the set has to be on"
            )
        if entry.function in COLD_FUNCTIONS and not self._gate().is_dead():
            caps = ", ".join(self._gate().missing_caps()) or "its capacitors"
            raise Refused(
                f"{entry.function} at {entry.where}: the set is {s.power}, not proven dead; `off`, then `dead {caps} 0.3V` with the volts read there"
            )
        if entry.function == "a":
            raise Refused("current in series is never read here; read the volts across a known resistor and divide")

    def _check_on(self) -> None:
        gate = self._gate()
        condition = self._condition()
        answer = gate.switch_on(condition)
        if not answer:
            raise Refused(f"not on: {getattr(answer, 'reason', '')}; {getattr(answer, 'remedy', '')}")

    def _check_dead(self, entry: StateEntry) -> None:
        if self.standing.power == "on":
            raise Refused("the set is on; pull the plug and say `off` first")
        circuit = self.standing.circuit
        high = [(n, v) for n, v in entry.dead if abs(v) >= DEAD_VOLTS]
        if high:
            raise Refused(
                f"{high[0][0]} holds {high[0][1]:g} V; discharge it through the tool and read again; under {DEAD_VOLTS:g} V is wanted"
            )
        read = {circuit.part(n).ref for n, _ in entry.dead} if circuit else set()
        missing = [cap.name for cap in self._gate().heavy() if cap.ref not in read]
        if missing:
            raise Refused(
                f"volts at {', '.join(missing)} are wanted too: `dead {' '.join(f'{n} 0.3V' for n in missing)}` with what you read"
            )

    def _gate(self) -> Gate:
        if self.standing.circuit is None:
            raise EntryError("first say what it is: unit, symptom and start, a line each")
        table = self._table()
        odds = self.advice.odds if self.advice is not None and self.advice.odds is not None else None
        if odds is None or len(odds) != len(table.suspects):
            import numpy as np

            odds = np.array([s.row.prior for s in table.suspects])
            odds = odds / odds.sum()
        return Gate(self.standing, table, self.kit, odds, self.clock().timestamp())

    def _condition(self) -> Any:
        from halfsplit.diagnosis.columns import Condition

        return Condition(True, self.standing.pressed, self.standing.lamp, self.standing.unplugged)

    def _table(self) -> Table:
        circuit = self.standing.circuit
        if circuit is None:
            raise EntryError("first say what it is: unit, symptom and start, a line each")
        if self.table is None or self.table.circuit != circuit:
            ask = refuse_circuit(circuit, cleared=self.cleared)
            if ask is not None:
                raise Refused(ask.question)
            self.table = Table(circuit, make_suspects(circuit), self.progress)
        return self.table

    def _advise(self) -> Advice:
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
        return advise(self.standing, table, self.kit, self.clock().timestamp(), self.asked)

    def _said(self, entries: tuple[Entry, ...]) -> str:
        """Two words for the ear."""
        if self.advice is not None and self.advice.found and any(isinstance(e, ReadingEntry) for e in entries):
            return f"{self.advice.found[-1]['verdict']}. noted."
        if any(isinstance(e, StrikeEntry) for e in entries):
            return "struck."
        if any(isinstance(e, CorrectEntry) for e in entries):
            return "corrected."
        return "noted."

    def _answer(self, number: int | None, said: str, refused: str | None, entries: tuple[Entry, ...] = ()) -> Answer:
        s, a = self.standing, self.advice or Advice(card={})
        lost = [f"line {n} no longer fits: {why}" for n, why in s.lost]
        answer: Answer = clean(
            {
                "line": number,
                "ok": refused is None,
                "said": said,
                "refused": refused,
                "state": {
                    "power": s.power,
                    "lamp": s.lamp,
                    "pressed": sorted(s.pressed),
                    "black": s.sticky.black,
                    "dead": sorted(s.dead),
                    "refit": list(s.acts.refs),
                    "follow": s.follow,
                },
                "found": a.found[-6:] if any(isinstance(e, ReadingEntry) for e in entries) else [],
                "suspects": a.suspects,
                "nothing_wrong": a.nothing_wrong,
                "not_on_sheet": a.not_on_sheet,
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


__all__ = ["Job", "circuit_of_job", "clean", "open_job", "time"]
