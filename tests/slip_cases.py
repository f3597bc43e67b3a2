"""Units drawn from the table of a real starting sheet, read as a bench meter reads, with one slip or one lasting mistake in it.

The unit is one draw of one row, which is taken out of the table that weighs it; the drawn circuit is off by 1 %, the meter by up to
0.8 %. The row is drawn by its prior. Five readings cold, then five live.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from halfsplit.circuit.sheet import Item, read_unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.columns import Condition
from halfsplit.diagnosis.outlook import Outlook, Reading
from halfsplit.diagnosis.posterior import Posterior, posterior
from halfsplit.diagnosis.slips import Slip
from halfsplit.jobs.entry import ReadingEntry
from halfsplit.jobs.lists import doubt_of
from halfsplit.jobs.mistaken import job_mistakes
from halfsplit.jobs.standing import Taken
from halfsplit.jobs.table import Acts, Table
from halfsplit.jobs.weigh import Weighed, make_suspects

OLD = ("mains off", "wrong kind of volts")  # what was reckoned with before slips were told apart


@dataclass(frozen=True)
class Sheet:
    table: Table
    outlook: Outlook
    conditions: Mapping[str, Condition]


def sheet_of(start: str) -> Sheet:
    circuit = start_circuit(start, read_unit(Item("radio, 230V 50Hz, class II, 30W", 1, 1, "unit")), ())
    table = Table(circuit, make_suspects(circuit))
    on = Condition(True)
    return Sheet(table, table.outlook([table.cold(), table.live(on)]), {on.key: on})


def shown(column, x, rng):
    """A bench meter: 0.5 % and 5 mV of volts, 0.5 % of the diode test, 0.8 % and 0.05 ohm."""
    if not math.isfinite(x):
        return x
    if column.function in ("v", "ac", "max"):
        return x * (1 + 0.005 * rng.uniform(-1, 1)) + 0.005 * rng.standard_normal()
    if column.function == "d":
        return x * (1 + 0.005 * rng.uniform(-1, 1)) + 0.001 * rng.standard_normal()
    lead = 0.05 * rng.standard_normal() if column.function == "r" else 0.0
    return max(x * (1 + 0.008 * rng.uniform(-1, 1)) + lead, 0.0)


def _far(x, y):
    """The slip shows on paper."""
    if math.isinf(x) or math.isinf(y):
        return math.isinf(x) != math.isinf(y)
    return abs(x - y) > 0.1 * abs(y) + 0.05


@dataclass(frozen=True)
class Case:
    """part: the true one. which: the entries that are wrong, counted from 0."""

    outlook: Outlook
    clean: tuple[Reading, ...]
    bad: tuple[Reading, ...]
    which: tuple[int, ...]
    mistakes: tuple
    part: str


def case_of(sheet: Sheet, kind: str, seed: int) -> Case | None:
    """One unit with a mistake of this kind ("" for none); None where it would not show."""
    rng, full = np.random.default_rng(seed), sheet.outlook
    prior = np.array([r.prior if r.part else 0.0 for r in full.rows])
    row, draw = int(rng.choice(len(prior), p=prior / prior.sum())), int(rng.integers(full.value.shape[2]))
    outlook = replace(full, value=np.delete(full.value, draw, axis=2))
    can = [i for i in range(len(full.columns)) if not math.isnan(full.value[row, i, draw])]
    cold = rng.permutation([i for i in can if not full.columns[i].live])[:5]
    live = rng.permutation([i for i in can if full.columns[i].live])[:5]
    columns = [int(i) for i in (*cold, *live)]
    gap = 1 + 0.01 * rng.standard_normal(len(full.columns))

    def read(i: int) -> float:
        return shown(full.columns[i], full.value[row, i, draw] * gap[i], rng)

    clean = [Reading(i, read(i), bool(full.pulsing[row, i])) for i in columns]
    mistakes = job_mistakes(outlook, sheet.table, columns, sheet.conditions, ())
    bad, which = list(clean), []
    single = {m.name: m for m in mistakes if isinstance(m, Slip)}
    factor = float(rng.uniform(1.05, 1.3))
    for j in rng.permutation(len(columns)) if kind in single or kind == "no contact" else range(len(columns) if kind else 0):
        i, column = columns[j], full.columns[columns[j]]
        if kind == "no contact":
            x = math.inf if column.function in ("r", "d", "esr") else 0.02 * rng.standard_normal()
        elif kind in single:
            ways = [w for w in single[kind].ways.get(i, ()) if not math.isnan(full.value[row, w.column, draw])]
            if not ways:
                continue
            way = ways[int(rng.integers(len(ways)))]
            x = (clean[j].value if way.column == i else read(way.column)) * way.factor
            if kind == "prefix" and not max(way.least, 0.1) <= abs(clean[j].value) < math.inf:
                continue
        elif kind == "flat meter battery":
            x = clean[j].value * factor
        elif not column.live or kind == "black" and column.black != "0V":
            continue
        else:
            x = 0.01 * rng.standard_normal() if kind == "mains off" or rng.random() < 0.5 else 2.0 * rng.standard_normal()
        if _far(x, clean[j].value) or kind == "flat meter battery":
            bad[j] = Reading(i, float(x))
            which.append(int(j))
            if kind in single or kind == "no contact":
                break
    if kind and len(which) < (1 if kind in single or kind == "no contact" else 2):
        return None
    return Case(outlook, tuple(clean), tuple(bad), tuple(which), mistakes, full.rows[row].part)


def weighed_of(outlook: Outlook, post: Posterior) -> Weighed:
    """These readings as lines 1, 2, ... of a log."""
    state = {"power": "on", "pressed": frozenset(), "lamp": None, "acts": Acts()}
    taken = []
    for i, r in enumerate(post.readings, start=1):
        where = outlook.columns[r.column].where
        taken.append(Taken(line=i, entry=ReadingEntry(text="", where=where, value=r.value, shown=f"{r.value:g}"), **state))
    return Weighed(outlook, post, tuple(taken), ())


def question(outlook: Outlook, post: Posterior):
    """What would be asked after these readings."""
    return doubt_of(weighed_of(outlook, post), set(), len(post.readings))


@dataclass
class Count:
    """Over the cases in which the true part is first without any mistake."""

    cases: int = 0
    before: int = 0  # true part first, slips not told apart
    after: int = 0
    asked: int = 0
    rightly: int = 0  # about the right entry, with the right kind
    loss: float = 0.0  # sum of what slips told apart cost in log loss


def count(sheet: Sheet, kind: str, cases: int) -> Count:
    out, seed = Count(), 0
    while out.cases < cases:
        seed += 1
        case = case_of(sheet, kind, seed)
        if case is None or first(posterior(case.outlook, case.clean, mistakes=case.mistakes)) != case.part:
            continue
        old = posterior(case.outlook, case.bad, mistakes=tuple(m for m in case.mistakes if m.name in OLD))
        new = posterior(case.outlook, case.bad, mistakes=case.mistakes)
        asked = question(case.outlook, new)
        out.cases += 1
        out.before += first(old) == case.part
        out.after += first(new) == case.part
        out.asked += asked is not None
        out.rightly += bool(asked and asked["name"].startswith(kind) and {j + 1 for j in case.which} & set(asked["lines"]))
        out.loss += math.log(old.involved[case.part]) - math.log(new.involved[case.part])
    return out


def first(post: Posterior) -> str:
    return next(iter(post.part_odds))
