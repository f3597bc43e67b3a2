"""The wrong starting sheet: where the readings cannot be explained, the same lines are weighed on the other starting sheets.

Only said, never done: a sheet is changed by whoever looks at the board. Solved when wanted only, for the places read so far.
"""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Circuit, circuit_to_data
from halfsplit.circuit.starting.others import by_eye, other_lines, start_of, translation
from halfsplit.diagnosis import build
from halfsplit.diagnosis.columns import ALONE, Condition
from halfsplit.diagnosis.outlook import Column, Reading
from halfsplit.diagnosis.posterior import Posterior, posterior
from halfsplit.diagnosis.scale import Array, span_on_scale
from halfsplit.diagnosis.suspects import Suspect
from halfsplit.errors import InputError, ModelLimit
from halfsplit.jobs.fold import circuit_of, fold
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.standing import Standing, Taken
from halfsplit.jobs.weigh import Weighed, columns_read, condition_of, make_suspects
from halfsplit.solver.powered import Powered

WRONG_START = 0.02  # odds that a job was begun from the wrong sheet, shared by all the others (bench estimate)
OTHER_SIZES = 0.2  # odds that the sheet is right and its assumed sizes are not (bench estimate)
SAY = 0.6  # odds above which another sheet is named
UNEXPLAINED = 0.5  # odds of two faults or of something not on the sheet from which the others are looked at
POOR = 1.0  # nats a reading by which the best row has to beat nonsense
FEW = 3  # readings below this tell no sheet from another
OPEN_ANYWHERE = 0.3  # how often a place that the other sheet hasn't got would show OL (bench estimate)
DRAWS, TIMES = 4, 6
Progress = Callable[[str], None]
SHEET_WORDS = ("parts", "way", "ways", "does", "cold", "twin", "cant")


@dataclass(frozen=True)
class BetterStart:
    """A start line under which the readings are likelier. odds: of it against this sheet and all others looked at."""

    line: str
    odds: float
    checks: tuple[str, ...]

    def text(self) -> str:
        """One warning for the bench."""
        look = "; ".join(self.checks)
        return f"The readings fit `start: {self.line}` better ({100 * self.odds:.0f} %). Look for: {look}. If so, type `start: {self.line}`."


@dataclass
class _Trial:
    """One other sheet, solved as far as it was asked for."""

    circuit: Circuit
    suspects: tuple[Suspect, ...]
    drawn: build.Drawn
    nominal: dict[str, Powered] = field(default_factory=dict)
    cells: dict[str, tuple[Column, Array, NDArray[np.bool_]]] = field(default_factory=dict)

    def solve(self, wanted: Sequence[tuple[Column, Condition]]) -> None:
        """Every column not yet solved, those of one condition together."""
        new = {column.key: (column, condition) for column, condition in wanted if column.key not in self.cells}
        for key in dict.fromkeys(condition.key + ("|alone" if c.state == ALONE else "") for c, condition in new.values()):
            some = [(c, k) for c, k in new.values() if k.key + ("|alone" if c.state == ALONE else "") == key]
            columns, condition = [c for c, _ in some], some[0][1]
            block = self._block(columns, condition)
            for j, column in enumerate(block.columns):
                self.cells[column.key] = (column, block.value[:, j], block.pulsing[:, j])

    def _block(self, columns: list[Column], condition: Condition) -> build.Block:
        if columns[0].state == ALONE:
            return build.alone_block(self.circuit, self.drawn, columns)
        here = condition.stands(self.circuit)
        if not condition.powered:
            return build.cold_block(here, self.drawn, columns)
        if condition.key not in self.nominal:
            self.nominal[condition.key] = build.solve_nominal(here, self.drawn, condition)
        return build.live_block(here, self.drawn, condition, columns, self.nominal[condition.key])


_KEPT: OrderedDict[str, _Trial] = OrderedDict()
KEEP = 12


def _trial(circuit: Circuit) -> _Trial:
    circuit = loosened(circuit)
    key = json.dumps(circuit_to_data(circuit), sort_keys=True)
    if key not in _KEPT:
        rows = make_suspects(circuit)
        _KEPT[key] = _Trial(circuit, rows, build.draw(circuit, rows, draws=DRAWS, times=TIMES))
        while len(_KEPT) > KEEP:
            _KEPT.popitem(last=False)
    _KEPT.move_to_end(key)
    return _KEPT[key]


def loosened(circuit: Circuit) -> Circuit:
    """The circuit with every size in doubt that nobody has named: on a sheet that nobody chose they are mere usual ones."""
    return circuit.with_parts(tuple(replace(p, doubts=p.doubts | set(p.values)) if p.assumed else p for p in circuit.parts))


def log_evidence(post: Posterior) -> float:
    """Log density of the readings under the whole sheet, everything that may be beside its rows included."""
    prior = np.array([row.prior for row in post.rows])
    best = int(np.argmax(post.row_odds))
    alone = 1.0 - post.setting.not_on_sheet - post.setting.two_at_once
    with np.errstate(divide="ignore"):
        return float(np.log(prior[best] / prior.sum()) + post.evidence[best] + np.log(alone) - np.log(post.row_odds[best]))


def unexplained(weighed: Weighed) -> bool:
    """Whether the sheet makes poor sense of what was read."""
    post = weighed.post
    if len(post.readings) < FEW:
        return False
    if post.not_on_sheet > UNEXPLAINED or post.not_on_sheet + post.two_at_once > 0.5 + 0.5 * UNEXPLAINED:
        return True
    nonsense = sum(_nonsense(weighed.outlook.columns[r.column], r.value) for r in post.readings)
    return float(post.evidence.max()) - nonsense < POOR * len(post.readings)


def _nonsense(column: Column, value: float) -> float:
    """Log density of a reading at a place of which nothing is known."""
    return float(np.log(OPEN_ANYWHERE) if np.isinf(value) else -np.log(span_on_scale(column)))


def better_start(
    s: Standing, weighed: Weighed, log: Sequence[LogLine], progress: Progress = lambda text: None
) -> BetterStart | None:
    """The starting sheet that the readings fit better, None where there is none or this one explains them."""
    here = s.circuit
    if here is None or not here.start or start_of(here.start) is None or not unexplained(weighed):
        return None
    now = log_evidence(posterior(weighed.outlook, weighed.post.readings, setting=weighed.post.setting))
    lines = [line for line, words in ((x, _start_words(x.text)) for x in log) if words is not None]
    said = _start_words(lines[-1].text) if lines else None
    if said is None:
        return None
    others = other_lines(said)
    found: list[tuple[str, float, float]] = []
    for line in (said, *others):
        progress(f"weighing the readings on another starting sheet: {line}")
        evidence = evidence_under(line, here, weighed, log)
        if evidence is not None:
            found.append((line, evidence, OTHER_SIZES if line == said else WRONG_START / len(others)))
    logs = np.array([now + np.log(1.0 - WRONG_START - OTHER_SIZES), *(e + np.log(prior) for _, e, prior in found)])
    odds = np.exp(logs - np.logaddexp.reduce(logs))
    line, most = max(
        ((line, float(o)) for (line, _, _), o in zip(found, odds[1:], strict=True)), key=lambda x: x[1], default=(said, 0.0)
    )
    return BetterStart(line, most, by_eye(said, line)) if most > SAY and line != said else None


def _start_words(text: str) -> str | None:
    key, colon, words = text.partition(":")
    return words.strip() if colon and key.strip().lower() == "start" else None


def evidence_under(line: str, here: Circuit, weighed: Weighed, log: Sequence[LogLine]) -> float | None:
    """Log density of the readings of `weighed` under another start line; None where that sheet can't be built or solved.

    A reading at a place that is not on that sheet counts as nonsense there: somebody has put a probe on it.
    """
    there = _standing_under(line, here, log)
    if there is None or there.circuit is None:
        return None
    pairs = _side_by_side(weighed.taken, there.readings)
    trial = _trial(there.circuit)
    wanted: list[tuple[Column, Condition]] = []
    values: list[Reading] = []
    lost = 0.0
    nets = {*there.circuit.nets}
    done: dict[int, int] = {}
    for reading, taken in zip(weighed.post.readings, weighed.taken, strict=True):
        column = weighed.outlook.columns[reading.column]
        index = done.get(id(taken), 0)
        done[id(taken)] = index + 1
        other = pairs.get(id(taken))
        read = [] if other is None else columns_read(other, there.circuit)
        mine = columns_read(taken, here)
        fits = other is not None and len(read) == len(mine) and index < len(read)
        if not fits or other is None or not {read[index][0].red, read[index][0].black} <= nets or _stood(other) != _stood(taken):
            lost += _nonsense(column, reading.value)
            continue
        wanted.append((read[index][0], condition_of(other)))
        values.append(replace(reading, column=len(values)))
    if len(values) < FEW:
        return None
    try:
        trial.solve(wanted)
    except (InputError, ModelLimit):
        return None
    cells = [trial.cells[column.key] for column, _ in wanted]
    block = build.Block(
        tuple(c for c, _, _ in cells), np.stack([v for _, v, _ in cells], 1), np.stack([p for _, _, p in cells], 1), {}
    )
    outlook = build.join(trial.suspects, [block])
    return log_evidence(posterior(outlook, values, setting=weighed.post.setting)) + lost


def _stood(taken: Taken) -> tuple[bool, int, float | None, int]:
    """How the set stood, in what two sheets share."""
    return taken.power == "on", len(taken.pressed), taken.lamp, len(taken.acts.refs)


def _side_by_side(mine: Sequence[Taken], other: Sequence[Taken]) -> dict[int, Taken]:
    """id of a reading -> the same reading on the other sheet; a line that came out as another number of readings is left out."""
    out: dict[int, Taken] = {}
    unique = list({id(t): t for t in mine}.values())
    for number in {t.line for t in unique}:
        here, there = [t for t in unique if t.line == number], [t for t in other if t.line == number]
        if len(here) == len(there):
            out |= {id(a): b for a, b in zip(here, there, strict=True)}
    return out


def _standing_under(line: str, here: Circuit, log: Sequence[LogLine]) -> Standing | None:
    """The log read again with another start line; sheet lines that do not fit that sheet are left out."""
    try:
        unit = [
            (k.strip(), w.strip()) for k, _, w in (x.text.partition(":") for x in log) if k.strip().lower() in ("unit", "symptom")
        ]
        bare = circuit_of((*unit, ("start", line)))
    except InputError:
        return None
    if bare is None:
        return None
    words = translation(here, bare)
    lines = [replace(x, text=_said_there(x.text, line, words)) for x in log]
    whole = fold(tuple(lines))
    if whole.circuit is not None and not any(_is_sheet(x.text) for x in lines if x.number in {n for n, _ in whole.lost}):
        return whole
    kept: list[LogLine] = []
    for x in lines:  # one sheet line more at a time, as long as the sheet still builds
        if _is_sheet(x.text):
            trial = fold((*(k for k in kept if not _reads(k)), x))
            if trial.lost:
                continue
        kept.append(x)
    out = fold(tuple(kept))
    return out if out.circuit is not None else None


def _is_sheet(text: str) -> bool:
    return text.partition(":")[0].strip().lower() in SHEET_WORDS and ":" in text


def _reads(x: LogLine) -> bool:
    """Not a line of the sheet: a reading, a state, a look."""
    return not (_is_sheet(x.text) or x.text.partition(":")[0].strip().lower() in ("unit", "symptom", "start"))


def _said_there(text: str, start: str, words: dict[str, str]) -> str:
    key = text.partition(":")[0].strip().lower()
    if key == "start" and ":" in text:
        return f"start: {start}"
    if key in ("unit", "symptom"):
        return text
    return " ".join(words.get(word, word) for word in text.split())


__all__ = ["BetterStart", "better_start", "evidence_under", "log_evidence", "unexplained"]
