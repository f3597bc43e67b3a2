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
from halfsplit.circuit.starting.others import by_eye, other_lines, start_of
from halfsplit.diagnosis import build
from halfsplit.diagnosis.columns import ALONE, Condition
from halfsplit.diagnosis.outlook import Column, Reading
from halfsplit.diagnosis.posterior import Posterior, posterior
from halfsplit.diagnosis.scale import Array, span_on_scale
from halfsplit.diagnosis.suspects import Suspect
from halfsplit.errors import InputError, ModelLimit
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.read_again import side_by_side, standing_under, stood
from halfsplit.jobs.standing import Standing
from halfsplit.jobs.weigh import Weighed, columns_read, make_suspects
from halfsplit.solver.powered import Powered

WRONG_START = 0.02  # odds that a job was begun from the wrong sheet, shared by all the others (bench estimate)
OTHER_SIZES = 0.2  # odds that the sheet is right and its assumed sizes are not (bench estimate)
SAY = 0.6  # odds above which another sheet is named
UNEXPLAINED = 0.5  # odds of two faults or of something not on the sheet from which the others are looked at
POOR = 1.0  # nats a reading by which the best row has to beat nonsense
FEW = 3  # readings below this tell no sheet from another
NOT_THERE = 0.1  # that a place was found and read which the sheet hasn't got, for each such place (bench estimate)
OWN_SHARE = 0.2  # of WRONG_START that lies in the volts of this sheet and not in another one (bench estimate)
OPEN_ANYWHERE = 0.3  # how often a place that the other sheet hasn't got would show OL (bench estimate)
DRAWS, TIMES = 4, 6
Progress = Callable[[str], None]


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
            here = condition.stands(self.circuit)
            if condition.powered and condition.key not in self.nominal:
                self.nominal[condition.key] = build.solve_nominal(here, self.drawn, condition)
            block = build.block_of(self.circuit, here, self.drawn, condition, columns, self.nominal.get(condition.key))
            for j, column in enumerate(block.columns):
                self.cells[column.key] = (column, block.value[:, j], block.pulsing[:, j])


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
    said = next((words for key, words in reversed(s.sheet) if key == "start"), None)
    if said is None:
        return None
    found: list[tuple[str, float]] = []
    for line, prior in _priors(said, here.unit.watts).items():
        evidence = evidence_under(line, here, weighed, log, progress)
        if evidence is not None:
            found.append((line, evidence + np.log(prior)))
    whole = float(np.logaddexp.reduce([now + np.log(1.0 - WRONG_START - OTHER_SIZES), *(x for _, x in found)]))
    if not np.isfinite(whole):
        return None  # no sheet at all can show this: it speaks of the readings, not of the sheet
    odds = {line: float(np.exp(x - whole)) for line, x in found if line != said}
    if not odds:
        return None
    # lines of one sheet speak together: which size it has is seen later
    together = {line: sum(o for other, o in odds.items() if _same_sheet(line, other, said)) for line in odds}
    line = max(odds, key=lambda x: (together[x], odds[x]))
    return BetterStart(line, together[line], by_eye(said, line)) if together[line] > SAY else None


def _same_sheet(a: str, b: str, said: str) -> bool:
    """Whether two lines call the same sheet; another size of the one that was said stands by itself."""
    return start_of(a) is start_of(b) and (start_of(a) is not start_of(said) or a == b)


def _priors(said: str, watts: float | None) -> dict[str, float]:
    """Start lines to be weighed with their odds beforehand: this one with other sizes, each other sheet, a step in the volts."""
    sheets: dict[str, list[str]] = {}
    for line in other_lines(said, watts):
        sheets.setdefault(start.name if (start := start_of(line)) else "", []).append(line)
    own = start_of(said)
    mine = sheets.pop(own.name, []) if own else []
    share = OWN_SHARE if mine and sheets else float(not sheets)
    return (
        {said: OTHER_SIZES}
        | {line: (1 - share) * WRONG_START / len(sheets) / len(lines) for lines in sheets.values() for line in lines}
        | {line: share * WRONG_START / len(mine) for line in mine}
    )


def evidence_under(
    line: str, here: Circuit, weighed: Weighed, log: Sequence[LogLine], progress: Progress = lambda text: None
) -> float | None:
    """Log density of the readings of `weighed` under another start line; None where that sheet can't be built or solved.

    A reading at a place that is not on that sheet counts as nonsense there: somebody has put a probe on it.
    """
    there = standing_under(line, here, log)
    if there is None or there.circuit is None:
        return None
    pairs = side_by_side(weighed.taken, there.readings)
    trial = _trial(there.circuit)
    wanted: list[tuple[Column, Condition]] = []
    values: list[Reading] = []
    lost, absent = 0.0, set[str]()
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
        # with legs up elsewhere, or fed by the bench supply: not solved on the other sheet
        unsolved = (bool(taken.acts.refs) and column.state != ALONE) or taken.fed is not None
        if (
            not fits
            or unsolved
            or other is None
            or not {read[index][0].red, read[index][0].black} <= nets
            or stood(other) != stood(taken)
        ):
            lost += _nonsense(column, reading.value) + (0.0 if taken.entry.where in absent else float(np.log(NOT_THERE)))
            absent.add(taken.entry.where)
            continue
        wanted.append((read[index][0], other.condition))
        values.append(replace(reading, column=len(values)))
    if len(values) < FEW:
        return None
    if any(column.key not in trial.cells for column, _ in wanted):
        progress(f"weighing the readings on another starting sheet: {line}")
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
