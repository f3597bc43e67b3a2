"""The robot technician on one case: what differs from the plain robot is what he has on his sheet, and that every claim is kept."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from perf.isolation.case import Case
from perf.isolation.fingers import Planned, PlannedHands
from perf.isolation.kept import KeptBoard
from perf.isolation.scoring import Claims, claims_of, with_the_rest

from bench import Bench
from hands import Hands
from meter import NO_SLIPS, Meter, Slips, draw_meter
from robot import Habits, Record, Technician
from tool import Answer, Tool, ToolFailed

OTHER_END = 0.3  # how often he puts the probe on the other of two nets that his sheet takes for one
SEES_IT = 0.5  # how often he can tell on a dead set whether the fault is there (he warmed or tapped the place)


@dataclass
class Said:
    """What the tool claimed after its answers, each with the number of readings it rests on."""

    claims: list[tuple[int, Claims]] = field(default_factory=list)
    questions: int = 0

    def add(self, readings: int, claims: Claims) -> None:
        """Acts change no odds: the same claims once more are not counted twice."""
        if claims and (not self.claims or self.claims[-1][1] != claims):
            self.claims.append((readings, claims))

    @property
    def prior(self) -> Claims:
        """The first odds with a suspect in them: what the three lines alone say."""
        return next((c for n, c in self.claims if n == 0 and len(c) > 2), self.claims[0][1] if self.claims else {})

    @property
    def last(self) -> Claims:
        return self.claims[-1][1] if self.claims else {}


class Shy:
    """A board whose fault comes and goes. showing is set by who watches it."""

    def __init__(self, bad: KeptBoard, good: KeptBoard) -> None:
        self.bad, self.good, self.showing = bad, good, True
        self._ran = bad

    def __getattr__(self, name: str) -> Any:
        return getattr(self.bad if self.showing else self.good, name)

    def live(self, pressed: Any = (), lamp: float | None = None) -> Any:
        self._ran = self.bad if self.showing else self.good
        return self._ran.live(pressed, lamp)

    def charge(self, ref: str, seconds: float = 10.0) -> float:
        """What is left is what the last powered state left, whether the fault shows by now or not."""
        return self._ran.charge(ref, seconds)

    def lift(self, ref: str, pin: str) -> None:
        for board in (self.bad, self.good):
            board.lift(ref, pin)

    def remove(self, ref: str) -> None:
        for board in (self.bad, self.good):
            board.remove(ref)

    def refit(self, ref: str) -> None:
        for board in (self.bad, self.good):
            board.refit(ref)

    def discharge(self, ref: str) -> None:
        for board in (self.bad, self.good):
            board.discharge(ref)


class Sitter(Technician):
    """One case with one tool. After `work()`, `said` holds the claims."""

    def __init__(self, case: Case, tool: Tool, bench: Bench, rng: np.random.Generator, *, sign: str | None = None) -> None:
        root = case.flaws[0].fault if case.flaws else None
        rate = case.slips / 4.0
        places = not case.nets and [key for key, _ in case.sheet] == ["unit", "symptom", "start"]  # else there are none left to name
        habits = Habits(Slips(rate, rate, rate, rate) if rate else NO_SLIPS, other=0.0 if case.nets else 0.03,
                        bind=0.0 if not places else 0.2 if case.questions else 0.03)
        super().__init__(tool, bench, dict(case.sheet), fault=root, meter=draw_meter(rng), rng=rng, habits=habits, sign=sign)
        self.case, self.said = case, Said()
        if case.slip:
            self.hands: Hands = PlannedHands(bench, self.clock, self._meter, rng, Planned(case.slip, case.slip_at))
        self.mark = ""

    @property
    def _meter(self) -> Meter:
        return self.hands.meter

    # --- what the tool says

    def _heard(self, answer: Answer) -> Answer:
        heard = super()._heard(answer)
        if answer.get("suspects"):
            everything = getattr(self.tool, "everything", dict)()
            self.said.add(self.clock.readings, with_the_rest(claims_of(answer, self.bench.alias), everything, self.bench.alias))
        return heard

    # --- readings on a sheet that is not the board

    def _round(self, card: Mapping[str, Any]) -> Answer:
        if self.case.questions and self.said.questions >= self.case.questions:
            self.habits = Habits(self.habits.slips, self.habits.other, 0.0)
        unknown = self._unknown(card)
        if unknown:
            return self._say(f"cant {unknown}")
        if self.case.comes_and_goes:
            self._watch_it()
        return super()._round(self._on_the_board(card))

    def _bind(self, place: str) -> Answer:
        self.said.questions += 1
        return super()._bind(place)

    def _unknown(self, card: Mapping[str, Any]) -> str:
        """A net of his sheet that this board hasn't got."""
        nets = set(self.bench.circuit.nets)
        for entry in card.get("probes", ()):
            for net in (str(entry["red"]), str(entry["black"])):
                plain = net.split(".")[0] if net not in nets else net
                if not (set(self.case.nets.get(net, (net,))) & nets) and not (plain != net and self.bench.knows(plain)):
                    return net
        return ""

    def _on_the_board(self, card: Mapping[str, Any]) -> Mapping[str, Any]:
        """The card with the nets where his probes really go."""
        if not self.case.nets:
            return card
        probes = [{**p, "red": self._real(p, "red"), "black": self._real(p, "black")} for p in card.get("probes", ())]
        return {**card, "probes": [p if p["red"] != p["black"] else {**p, "black": o["black"]}
                                   for p, o in zip(probes, card.get("probes", ()), strict=True)]}

    def _real(self, entry: Mapping[str, Any], lead: str) -> str:
        net = str(entry[lead])
        ends = self.case.nets.get(net, (net,))
        part = str(entry.get("where") or "").split(" ")[0]
        if len(ends) > 1 and self.bench.knows(part):
            mine = [n for n in self.bench.part(part).pins.values() if n in ends]
            if mine:
                return mine[0 if lead == "red" else -1]
        return ends[-1] if len(ends) > 1 and float(self.rng.random()) < OTHER_END else ends[0]

    # --- faults that come and go

    def _watch_it(self) -> None:
        """Whether the fault is there during this round, and whether he can tell."""
        board = self.bench.board
        assert isinstance(board, Shy)
        board.showing = bool(self.rng.random() < 0.5)
        self.bench._live = None
        can_tell = self.bench.plugged or bool(self.rng.random() < SEES_IT)
        self.mark = ("bad: " if board.showing else "ok: ") if can_tell else ""

    def _say(self, line: str) -> Answer:
        mark, self.mark = self.mark, ""
        return super()._say(mark + line)

    # --- acts

    def _left_on(self, name: str, *, drain: bool) -> float:
        """A capacitor of the sheet that the board hasn't got holds nothing."""
        return super()._left_on(name, drain=drain) if self.bench.knows(name) else 0.0


def start_work(case: Case, tool: Tool, board: Any, rng: np.random.Generator, sign: str | None = None) -> tuple[Record, Said]:
    """The whole job."""
    sitter = Sitter(case, tool, Bench(case.circuit, board), rng, sign=sign)
    try:
        record = sitter.work()
    except ToolFailed as failed:
        record = sitter._record(f"tool failed: {failed}", {})
    return record, sitter.said
