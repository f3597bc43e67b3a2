"""From how the job stands to what is likely: which columns were read, the posterior, the proposals, the verdict."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis.beside import BEST, UNDRAWN_WORTH, worth_solving
from halfsplit.diagnosis.build import Block
from halfsplit.diagnosis.columns import ALONE, DEAD, make_column
from halfsplit.diagnosis.intake import RowWords, comes_and_goes, nothing_wrong_odds, symptom_odds
from halfsplit.diagnosis.intermittent import Spread, shares, spread
from halfsplit.diagnosis.mistakes import Mistake
from halfsplit.diagnosis.outlook import Column, Outlook, Reading
from halfsplit.diagnosis.posterior import Posterior, Setting, healthy_row, posterior
from halfsplit.diagnosis.replaced import after_fitting, leaving_out
from halfsplit.diagnosis.scale import METER
from halfsplit.diagnosis.sizes import size_shown
from halfsplit.diagnosis.slips import Slip
from halfsplit.diagnosis.suspects import Suspect, suspects
from halfsplit.diagnosis.wrong_part import looks_new, worked_on, wrong_suspects
from halfsplit.jobs.coming import said_odds, thinks_of_it
from halfsplit.jobs.entry import LookEntry
from halfsplit.jobs.kit import Kit
from halfsplit.jobs.mistaken import job_mistakes
from halfsplit.jobs.safety import COLD_FUNCTIONS
from halfsplit.jobs.standing import Standing, Taken
from halfsplit.jobs.table import Acts, Table
from halfsplit.jobs.twins import like_the_twin, twin_readings
from halfsplit.parts import family_of
from halfsplit.parts.base import Array

FED = frozenset({"v", "r", "d"})  # what is worked out of a set that the bench supply feeds
LOOK_NOT_SEEN = 0.6  # how surely a look at the board would have caught a visible sign (bench estimate)


def make_suspects(circuit: Circuit, looks: Iterable[LookEntry] = ()) -> tuple[Suspect, ...]:
    """Every row with its prior: rate, share, symptom. looks: what was seen; new parts and fresh solder bring wrong parts up."""
    plain = suspects(circuit)
    words = [RowWords(() if s.part is None else _names(s), "" if s.way is None else s.way.kind) for s in plain]
    moved = symptom_odds(circuit.symptom, words)
    factors = {(s.row.part, s.row.way): float(f) for s, f in zip(plain, moved.factors, strict=True) if s.part is not None}
    rows = suspects(circuit, factors, nothing_wrong_odds(circuit.symptom))
    new = [look.where for look in looks if looks_new(look.signs)]
    inside = worked_on(circuit.symptom) or None in new
    return (*rows, *wrong_suspects(circuit, rows, [n for n in new if n], inside=inside))


def _names(suspect: Suspect) -> tuple[str, ...]:
    part = suspect.part
    assert part is not None  # the caller has looked
    return tuple(
        dict.fromkeys(x for x in (part.ref, part.place or "", part.family, *family_of(part).words, *sorted(part.tags)) if x)
    )


@dataclass(frozen=True)
class Weighed:
    """What the readings say. taken: the readings of post in its order; unread: those of which nothing could be made, with why.
    coming: the rows that come and go, None in a job that has no word of such.
    said (rows,): log odds that its marks, tries and good starts gave them."""

    outlook: Outlook
    post: Posterior
    taken: tuple[Taken, ...]
    unread: tuple[str, ...]
    coming: Spread | None = None
    said: Array | None = None

    @property
    def odds(self) -> Array:
        """(suspects,) odds of each single fault, whether it is always there or comes and goes."""
        if self.coming is not None:
            return self.coming.together(self.post.row_odds)
        return self.post.row_odds[: self.outlook.singles]

    @property
    def safe_odds(self) -> Array:
        """(suspects,) the same for safety: never less than they were without marks, tries and good starts, which are only said."""
        if self.coming is None or self.said is None:
            return self.odds
        unsaid = self.post.row_odds * np.exp(-self.said)  # as one fault alone: the rest of the odds only makes them less
        return np.maximum(self.odds, self.coming.together(unsaid / max(float(unsaid.sum()), 1e-300)))

    @property
    def open(self) -> int:
        """How many of the columns, the first ones, stand for readings taken as the set is now."""
        return len(self.outlook.columns) if self.coming is None else self.coming.plain

    def suspect(self, row: int) -> int:
        """The suspect that a row of the outlook is about."""
        return row if self.coming is None else int(self.coming.origin[row])


def weigh(standing: Standing, table: Table, kit: Kit, blocks: list[Block]) -> Weighed:
    """Posterior over the suspects from everything read and seen. blocks: the columns that may be proposed next."""
    circuit = table.circuit
    places: dict[str, int] = {}
    for block in blocks:
        for column in block.columns:
            places.setdefault(column.key, len(places))
    extra: list[Block] = []
    unread: list[str] = []

    def read_as(taken: Taken, column: Column, value: float, pulsing: bool) -> list[Reading]:
        """The reading with its column's number, solved now where no block holds it; none where its place is gone."""
        here = taken.acts.nets(circuit) if column.state == ALONE else taken.acts.nets(taken.condition.stands(circuit))
        if not {column.red, column.black} <= here:
            unread.append(f"{taken.entry.where}: no such place any more")
            return []
        key = column.key
        renewed = taken.acts.fresh != standing.acts.fresh and column.state.startswith(DEAD)
        plain = column.state == ALONE or not (taken.acts.refs or renewed)
        if not plain:
            key = f"{key}|{sorted(taken.acts.refs)}" + (f"|new {sorted(taken.acts.fresh)}" if renewed else "")
        if key not in places:
            block = table.extra(column, taken.condition, taken.acts if not plain else Acts(fresh=standing.acts.fresh))
            places[key] = len(places)
            extra.append(block)
        return [Reading(places[key], value, pulsing, "shaky" in taken.entry.flags or "creeping" in taken.entry.flags)]

    got = [(r, t) for t in standing.readings for read in columns_read(t, circuit) for r in read_as(t, *read)]
    readings, used = [r for r, _ in got], [t for _, t in got]
    good = [(r, t) for t in twin_readings(standing) for read in columns_read(t, circuit) for r in read_as(t, *read)]
    held = [*blocks, *extra]
    outlook = table.outlook(held)
    readings = _sized(readings, outlook, circuit)
    setting = Setting(meter=meter_accuracy(kit))
    read_in = {c.key: c for c in (t.condition for t in used)}
    lamps = {t.lamp for t in standing.readings if t.lamp is not None}
    mistakes: tuple[Mistake | Slip, ...] | None = job_mistakes(outlook, table, [r.column for r in readings], read_in, lamps)
    units, unlike = like_the_twin(outlook, table, good, setting.meter)
    unread += unlike
    coming = None
    if thinks_of_it(standing, circuit):
        read = [(r.column, t.entry.mark) for r, t in zip(readings, used, strict=True)]
        coming, at = spread(outlook, shares(table.heard()), standing.mark, read, said=comes_and_goes(circuit.symptom))
        outlook, readings = coming.outlook, [replace(r, column=c) for r, c in zip(readings, at, strict=True)]
        mistakes = None  # where else a reading may have been taken is known for the plain rows and columns only

    def seen(after: float, before: float = math.inf) -> np.ndarray | None:
        looks = look_odds(standing, table.suspects, after, before)
        if coming is None:
            return looks
        said = said_odds(standing, coming, table.suspects, circuit, after, before)
        return said if looks is None else said + looks[coming.origin]

    done = -1
    off = {ref for _, ref in standing.pulled}
    last = max((line for line, _ in standing.pulled), default=-1)
    # what was read before a part was fitted, or left off the board, speaks of the old one; so does what is read of it by itself
    alone = {t.line: t.entry.part for r, t in zip(readings, used, strict=True) if t.entry.part in off and outlook.columns[r.column].state == ALONE}
    for line, name in sorted((*standing.fitted, *standing.pulled)):
        if name not in circuit.names:
            continue
        old = [r for r, t in zip(readings, used, strict=True) if done < t.line < line or (line == last and t.line in alone)]
        before = posterior(outlook, old, looks=seen(done, line), setting=setting, mistakes=mistakes)
        outlook = (leaving_out if (line, name) in standing.pulled else after_fitting)(outlook, before, circuit.part(name).ref)
        done = line
    now = [(r, t) for r, t in zip(readings, used, strict=True) if t.line > done and t.line not in alone]
    if coming is not None:  # what comes and goes is solved nowhere beside another fault: such a job screens its pairs only
        post = posterior(outlook, [r for r, _ in now], looks=seen(done), setting=setting)
    else:
        outlook, post = _with_what_they_call_for(table, outlook, held, [r for r, _ in now], seen(done), setting, mistakes)
    said = None if coming is None else said_odds(standing, coming, table.suspects, circuit, done)
    post = replace(post, units=units)
    return Weighed(outlook, post, tuple(t for _, t in now), tuple(unread), coming, said)


ROUNDS = 2  # of solving pairs: those that fall make room for others


def _with_what_they_call_for(
    table: Table,
    outlook: Outlook,
    blocks: list[Block],
    readings: list[Reading],
    looks: np.ndarray | None,
    setting: Setting,
    mistakes: Sequence[Mistake | Slip] | None,
) -> tuple[Outlook, Posterior]:
    """Weigh, solve what the readings call for beside the single faults, and weigh again."""

    def weighed(wider: Outlook) -> Posterior:
        seen = None if looks is None else np.concatenate([looks, np.zeros(len(wider.rows) - len(looks))])
        return posterior(wider, readings, looks=seen, setting=setting, mistakes=mistakes)

    post = weighed(outlook)
    pairs: tuple[tuple[int, int], ...] = ()
    for _ in range(ROUNDS):
        more = worth_solving(post, outlook)
        if not more or not readings:
            break
        pairs = (*pairs, *more)
        outlook = table.grown(outlook, blocks, pairs)
        post = weighed(outlook)
    if post.not_on_sheet > UNDRAWN_WORTH and len(readings) > 1:
        read = {outlook.columns[r.column].key for r in readings}
        places = table.places()
        rough = table.with_places(outlook, [(b, any(c.key in read for c in b.columns)) for b in blocks], places, rough=True)
        best = {u.place for u, _ in weighed(rough).undrawn[:BEST]}
        outlook = table.with_places(outlook, [(b, True) for b in blocks], [p for p in places if p.place in best])
        post = weighed(outlook)
    return outlook, post


def _sized(readings: list[Reading], outlook: Outlook, circuit: Circuit) -> list[Reading]:
    """The readings, told to allow for another size where they show that of a part nobody has seen the print of."""
    row = healthy_row(outlook.rows)
    if row is None:
        return readings
    healthy = [float(outlook.value[row, r.column, 0]) for r in readings]
    shown = [size_shown(circuit, outlook.columns[r.column], x) for r, x in zip(readings, healthy, strict=True)]
    return [r if part is None else replace(r, sized=x) for r, part, x in zip(readings, shown, healthy, strict=True)]


def meter_accuracy(kit: Kit) -> Mapping[str, tuple[float, float]]:
    """Function -> (fraction of reading, counts in SI) for the likelihood."""
    out = dict(METER)
    for function, ranges in kit.ranges.items():
        if function in out:
            out[function] = (max(ranges.percent, 1e-4), out[function][1])
    for held in ("max", "min"):
        out[held] = (out["v"][0] * 2, out["v"][1] * 2)
    return out


def columns_read(taken: Taken, circuit: Circuit) -> list[tuple[Column, float, bool]]:
    """Columns that one entry reads, each with its value and whether the display moved."""
    e = taken.entry
    if e.red_net is None or e.black_net is None or e.function is None:
        return []
    if taken.power == "bench" and not (taken.fed is not None and e.function in FED):
        return []  # how much, and on which rail, is not known; or a reading that isn't worked out in a set fed so: it weighs nothing
    pulsing = "pulsing" in e.flags
    state = taken.condition.key
    part = None
    if taken.power in ("on", "bench"):
        pass
    elif e.function in COLD_FUNCTIONS:
        off = set(taken.acts.refs) | ({circuit.part(e.part).ref} if e.part and e.flags & {"lifted", "removed"} else set())
        if e.part and circuit.part(e.part).ref in off:
            state, part = ALONE, circuit.part(e.part).ref
    else:
        return []  # volts on a dead set belong to safety, not to the odds
    if taken.power == "on" and e.function in COLD_FUNCTIONS:
        return []

    def column(function: str, red: str, black: str) -> Column:
        return make_column(function, red, black, state, where=e.where, part=part)

    out: list[tuple[Column, float, bool]] = []
    main = e.value if e.value is not None else (0.5 * (e.lo + e.hi) if e.lo is not None and e.hi is not None else None)
    if main is not None and not math.isnan(main):
        out.append((column(e.function, e.red_net, e.black_net), main, pulsing))
    if e.value2 is not None:
        out.append((column(e.function, e.black_net, e.red_net), e.value2, pulsing))
    for held, value in (("max", e.max), ("min", e.min)):
        if value is not None and e.function == "v":
            out.append((column(held, e.red_net, e.black_net), value, False))
    if e.every is not None and taken.power == "on":
        out.append((column("every", e.red_net, e.black_net), e.every, False))
    return out


def look_odds(
    standing: Standing, rows: tuple[Suspect, ...], after: float = -math.inf, before: float = math.inf
) -> np.ndarray | None:
    """Log odds of every row from what was seen and smelt between two lines; "nothing" counts against rows that mostly show."""
    looks = [look for line, look in standing.looks if after < line < before]
    if not looks:
        return None
    out = np.zeros(len(rows))
    for look in looks:
        for i, suspect in enumerate(rows):
            signs = dict(suspect.way.looks) if suspect.way is not None else {}
            if look.nothing:
                shows = min(0.9, sum(signs.values()))
                out[i] += math.log(1.0 - LOOK_NOT_SEEN * shows)
            elif suspect.part is not None and look.where in (suspect.part.ref, suspect.part.place):
                hit = max(
                    (p for sign, p in signs.items() if any(sign in word or word in sign for word in look.signs)), default=0.02
                )
                out[i] += math.log(max(hit, 0.02) / 0.01)
    return out
