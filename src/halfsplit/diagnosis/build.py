"""Builds the outlook: solves every suspect in every state, nominal first, draws only where a suspect moves something."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Circuit, Part
from halfsplit.diagnosis.columns import ALONE, Condition
from halfsplit.diagnosis.fed import read_fed
from halfsplit.diagnosis.outlook import Column, Outlook
from halfsplit.diagnosis.suspects import Suspect, as_marked, draw_values, failed_values, not_there, severities
from halfsplit.parts import family_of
from halfsplit.parts.base import Array
from halfsplit.parts.common import pressing
from halfsplit.parts.filament import AHEAD, filament_ohms
from halfsplit.solver.cold import (
    CAP_HERTZ,
    ESR_HERTZ,
    LATE,
    ColdAsk,
    cold_readings,
    impedance,
    read_cold,
    shown_esr,
    shown_farads,
)
from halfsplit.solver.first_moments import Latches, held_max, latches_of
from halfsplit.solver.loading import slopes_of, thevenin
from halfsplit.solver.network import build_network
from halfsplit.solver.powered import Powered, solve_powered

DRAWS = 16  # severities, each with tolerances of its own, in which a row's moved cells are solved
UNITS = 5  # healthy units solved for each of them: what a fault doesn't move is known that much better
METER_OHMS = 10e6
MOST_METERS = 600  # solutions with the meter in, of one condition and chunk
WEAK_OHMS, WEAK_VOLTS = 2e6, 0.03  # what stands behind so much and shows so much is read with the meter in the network
Progress = Callable[[str, float], None]
Values = dict[str, dict[str, Array]]
Again = Callable[["Drawn", tuple[Part, ...]], "Block"]
Opened = Mapping[str, NDArray[np.bool_]]  # protector -> rows (rows,) in which it has opened for good
Opening = Callable[[Circuit, "Drawn"], Opened]
HELD = 5  # of so many draws the last has its protector whole all the same: slow, fitted anew, not yet switched on (bench estimate)


@dataclass(frozen=True)
class Block:
    """Columns of one state with their values (rows, columns, units) and where the display would pulse (rows, columns).

    stress: (ref, rating) -> largest stress over rating in this state, nominal (rows,).
    again: the same columns for other suspects (the healthy one first) on the same units, with parts added that nobody has drawn.
    """

    columns: tuple[Column, ...]
    value: Array
    pulsing: NDArray[np.bool_]
    stress: Mapping[tuple[str, str], Array]
    unresolved: int = 0
    again: Again | None = field(default=None, repr=False, compare=False)


@dataclass(frozen=True)
class Drawn:
    """The suspects with everything random fixed, so that every state and every act sees the same units.

    healthy: part values (units,). severity (rows, draws). One unit is the same in every column; a row's draws are its first
    units, and stand again beside all the others: many tolerances are cheap on a healthy set, and few of them starve the odds.
    """

    suspects: tuple[Suspect, ...]
    healthy: Values
    severity: Array

    @property
    def draws(self) -> int:
        return int(self.severity.shape[1])

    @property
    def units(self) -> int:
        return int(next(len(x) for v in self.healthy.values() for x in v.values()))


def draw(circuit: Circuit, suspects: Sequence[Suspect], *, draws: int = DRAWS, times: int = UNITS, seed: int = 1) -> Drawn:
    """Fix tolerances of draws * times units, and the severities."""
    rng = np.random.default_rng(seed)
    lots = [draw_values(circuit, draws, rng, nominal_first=not k) for k in range(times)]
    healthy = {ref: {k: np.concatenate([lot[ref][k] for lot in lots]) for k in values} for ref, values in lots[0].items()}
    return Drawn(tuple(suspects), healthy, np.stack([severities(draws, rng) for _ in suspects]))


def _beside(own: Array, units: int) -> Array:
    """(..., draws) -> (..., units): each draw again and again."""
    return np.asarray(own[..., np.arange(units) % own.shape[-1]])


def _lay(value: Array, rows: NDArray[np.int64], moved: NDArray[np.bool_], own: Array) -> None:
    """Put what these rows move, solved in own draws (len(rows), draws, columns), into value (all rows, columns, units)."""
    for at, r in enumerate(rows):
        value[r, moved[r]] = _beside(own[at][:, moved[r]].T, value.shape[2])


def _tile(drawn: Drawn, pairs: NDArray[np.int64]) -> Values:
    """Part values of a flat batch of (row, draw) pairs (batch, 2)."""
    out: Values = {ref: {k: x[pairs[:, 1]].copy() for k, x in v.items()} for ref, v in drawn.healthy.items()}
    for row in np.unique(pairs[:, 0]):
        at = np.flatnonzero(pairs[:, 0] == row)
        suspect = drawn.suspects[row]
        own = {part.ref: {k: x[at] for k, x in out[part.ref].items()} for part, _ in suspect.faults if part.ref in out}
        if not own:
            continue
        for ref, changed in failed_values(suspect, own, drawn.severity[row, pairs[at, 1]]).items():
            for k, x in changed.items():
                out[ref][k][at] = x
    return out


def _only(values: Values, circuit: Circuit) -> Values:
    """Values of the parts of a circuit; what is no part of the set (the bench supply) is as it is marked."""
    count = next((len(x) for v in values.values() for x in v.values()), 1)
    return {p.ref: values[p.ref] if p.ref in values else as_marked(p, count) for p in circuit.parts}


def _pairs(rows: Sequence[int] | NDArray[np.int64], draws: Sequence[int] | NDArray[np.int64]) -> NDArray[np.int64]:
    return np.array([(r, d) for r in rows for d in draws], np.int64).reshape(-1, 2)


def nothing_opened(circuit: Circuit, drawn: Drawn) -> Opened:
    """Nobody has ever switched it on."""
    return {}


def opened_for_good(circuit: Circuit, solved: Sequence[Powered]) -> Opened:
    """Protectors that open for good in any of these states, and in which rows: whoever used the set has seen to it before it came in."""
    out: dict[str, NDArray[np.bool_]] = {}
    for powered in solved:
        for ref, mode in powered.modes.items():
            family = family_of(circuit.part(ref))
            if family.protector and family.mode is not None and family.mode.latching:
                out[ref] = out.get(ref, np.zeros(len(mode), bool)) | (mode > 0.5)
    return {ref: rows for ref, rows in out.items() if rows.any()}


def cold_block(
    circuit: Circuit,
    drawn: Drawn,
    columns: Sequence[Column],
    healthy: Array | None = None,
    opening: Opening = nothing_opened,
) -> Block:
    """Ohms, diode, capacitance and ESR of a dead circuit. Cells that a suspect doesn't move are copied from the healthy draws.

    healthy (columns, units): what these units show with nothing wrong, where it is known already. opening: which protectors each
    suspect has opened before the set came in."""
    rows, draws = len(drawn.suspects), drawn.draws
    opened = opening(circuit, drawn)
    first = _cold_values(circuit, drawn, columns, _pairs(range(rows), [0]), opened=opened).reshape(rows, len(columns))
    units = _cold_values(circuit, drawn, columns, _pairs([0], range(drawn.units))).T if healthy is None else healthy
    value = np.broadcast_to(units, (rows, *units.shape)).copy()
    moved = ~_same(first, first[0], columns)
    some = np.flatnonzero(moved.any(1))
    own = np.repeat(first[some][:, None], draws, axis=1)  # draw 0 is nominal, and has been solved
    if len(some) and draws > 1:
        pairs = _pairs(some, range(1, draws))
        got = _cold_values(circuit, drawn, columns, pairs, moved[pairs[:, 0]], opened)
        own[:, 1:] = got.reshape(len(some), draws - 1, len(columns))
    _lay(value, some, moved, own)

    def again(other: Drawn, undrawn: tuple[Part, ...]) -> Block:
        return cold_block(circuit.with_parts((*circuit.parts, *undrawn)), other, columns, units, opening)

    return Block(tuple(columns), value, np.zeros((rows, len(columns)), bool), {}, again=again)


def steady(circuit: Circuit, drawn: Drawn, columns: Sequence[Column]) -> tuple[Column, ...]:
    """Columns worth offering: a diode test that still climbs between 3 and 15 s on a healthy set (a big capacitor across it
    charges) shows whatever the moment gives, and is left out."""
    values = _only(_tile(drawn, _pairs([0], [0])), circuit)
    network = build_network(circuit, values, 1, powered=False, pairs=[(c.red, c.black) for c in columns])
    diodes = [c for c in columns if c.function == "d"]
    shown, _ = cold_readings(network, [ColdAsk(0, c.red, c.black, "d") for c in diodes])
    with np.errstate(invalid="ignore"):
        climbs = np.abs(shown[:, 1] - shown[:, 0]) > 0.02 + 0.05 * np.abs(shown[:, 0])
        climbs |= np.isinf(shown[:, 1]) & ~np.isinf(shown[:, 0])
    out = {c.key for c, moving in zip(diodes, climbs, strict=True) if moving}
    return tuple(c for c in columns if c.key not in out)


def _same(a: Array, b: Array, columns: Sequence[Column]) -> NDArray[np.bool_]:
    """Where two readings can't be told apart by any meter (half a percent, and a floor per function)."""
    floor = np.array([{"r": 0.02, "d": 2e-3, "esr": 0.005, "c": 1e-11}.get(c.function, 1e-3) for c in columns])
    with np.errstate(invalid="ignore"):
        close = np.isfinite(b) & (np.abs(a - b) <= 0.004 * np.abs(b) + floor)  # next to OL nothing finite is the same
    return np.asarray(close | (a == b))


def _cold_values(
    circuit: Circuit,
    drawn: Drawn,
    columns: Sequence[Column],
    pairs: NDArray[np.int64],
    wanted: NDArray[np.bool_] | None = None,
    opened: Opened | None = None,
) -> Array:
    batch = len(pairs)
    values = _only(_tile(drawn, pairs), circuit)
    for ref, rows in (opened or {}).items():
        mode = family_of(circuit.part(ref)).mode if ref in values else None
        if mode is not None:
            values[ref][mode.param] = np.where(rows[pairs[:, 0]] & (pairs[:, 1] % HELD != HELD - 1), 1.0, values[ref][mode.param])
    network = build_network(circuit, values, batch, powered=False, pairs=[(c.red, c.black) for c in columns])
    out = np.full((batch, len(columns)), np.nan)
    read = np.array([c.function in ("r", "d") for c in columns], bool)
    at, js = np.nonzero(np.broadcast_to(read, out.shape) if wanted is None else wanted & read)
    nets = [(c.red, c.black) for c in columns]
    diode = np.array([c.function == "d" for c in columns], bool)
    shown, failed = read_cold(network, at, [nets[j] for j in js], diode[js], LATE)
    out[at, js] = np.where(failed, np.nan, shown[:, 0])
    for function, hertz, show in (("esr", ESR_HERTZ, shown_esr), ("c", CAP_HERTZ, shown_farads)):
        here = [j for j, c in enumerate(columns) if c.function == function]
        if here:
            out[:, here] = show(impedance(network, hertz, [nets[j] for j in here]))
    return out


def fed_ohms_block(circuit: Circuit, drawn: Drawn, condition: Condition, columns: Sequence[Column]) -> Block:
    """Ohms and diode tests on the dead side of a set that the bench supply feeds."""
    rows, draws = len(drawn.suspects), drawn.draws

    def read(pairs: NDArray[np.int64]) -> Array:
        values = press(_only(_tile(drawn, pairs), circuit), circuit, condition)
        return np.stack([read_fed(circuit, values, len(pairs), c) for c in columns], 1)

    first, units = read(_pairs(range(rows), [0])), read(_pairs([0], range(drawn.units))).T
    value = np.broadcast_to(units, (rows, *units.shape)).copy()
    moved = ~_same(first, first[0], columns)
    some = np.flatnonzero(moved.any(1))
    own = np.repeat(first[some][:, None], draws, axis=1)
    if len(some) and draws > 1:
        own[:, 1:] = read(_pairs(some, range(1, draws))).reshape(len(some), draws - 1, len(columns))
    _lay(value, some, moved, own)

    def again(other: Drawn, undrawn: tuple[Part, ...]) -> Block:
        return fed_ohms_block(circuit.with_parts((*circuit.parts, *undrawn)), other, condition, columns)

    return Block(tuple(columns), value, np.zeros((rows, len(columns)), bool), {}, again=again)


def alone_block(circuit: Circuit, drawn: Drawn, columns: Sequence[Column], opening: Opening = nothing_opened) -> Block:
    """The same readings on a part that is out of the circuit: only its own rows move, and those that have opened it."""
    rows, draws = len(drawn.suspects), drawn.draws
    opened = opening(circuit, drawn)
    value = np.zeros((rows, len(columns), drawn.units))
    by_part: dict[str, list[int]] = {}
    for j, column in enumerate(columns):
        by_part.setdefault(column.part or "", []).append(j)
    for ref, js in by_part.items():
        part = circuit.part(ref)
        single = circuit.with_parts((part,))
        gone = opened.get(ref, np.zeros(rows, bool))
        own = [r for r, s in enumerate(drawn.suspects) if gone[r] or any(p.ref == ref for p, _ in s.faults)]
        some = [columns[j] for j in js]
        value[:, js] = _cold_values(single, drawn, some, _pairs([0], range(drawn.units))).T
        got = _cold_values(single, drawn, some, _pairs(own, range(draws)), opened={ref: gone}).reshape(len(own), draws, len(js))
        value[np.ix_(own, js)] = _beside(got.transpose(0, 2, 1), drawn.units)

    def again(other: Drawn, undrawn: tuple[Part, ...]) -> Block:
        return alone_block(circuit.with_parts((*circuit.parts, *undrawn)), other, columns, opening)

    return Block(tuple(columns), value, np.zeros((rows, len(columns)), bool), {}, again=again)


def block_of(
    whole: Circuit, here: Circuit, drawn: Drawn, condition: Condition, columns: Sequence[Column], nominal: Powered | None = None
) -> Block:
    """Columns of one state, whichever it is, of a set that was never switched on before. whole: with every part; here: as it stands."""
    if columns[0].state == ALONE:
        return alone_block(whole, drawn, columns)
    return live_block(here, drawn, condition, columns, nominal) if condition.powered else cold_block(here, drawn, columns)


def press(values: Values, circuit: Circuit, condition: Condition) -> Values:
    """Values with the outputs of pressed controls driven."""
    out = dict(values)
    for control in condition.pressed:
        for output in circuit.controls[control]:
            ref, _, pin = output.rpartition(".")
            if ref in out and family_of(circuit.part(ref)).outputs:
                out[ref] = {**out[ref], pressing(pin): np.ones_like(next(iter(out[ref].values())))}
    return out


LAMP_TURNS = 8
LAMP_NEAR = 5e-3  # of its ohms: as near as the filament's own law is not


def behind_lamp(
    circuit: Circuit,
    values: Values,
    batch: int,
    watts: float,
    start: Powered | None,
    rows: NDArray[np.int64] | None,
    pressed: bool = False,
) -> Powered:
    """The same set with a tungsten lamp in series with the mains: filament ohms follow its own rms volts, averaged over the cycle."""
    volts = np.broadcast_to(np.asarray(values["mains"]["volts"], float), (batch,))
    line = np.broadcast_to(np.asarray(values["mains"]["ohms"], float), (batch,))
    hot = np.square(circuit.unit.volts) / watts
    ohms = np.full(batch, 0.3 * hot)
    solved = None
    for _ in range(LAMP_TURNS):
        lit = {**values, "mains": {**values["mains"], "ohms": line + ohms}}
        solved = solve_powered(
            circuit,
            lit,
            batch,
            start=start if solved is None else solved,
            rows=rows if solved is None else None,
            switched_on=solved is None,
            pressed=pressed,
        )
        steps = solved.solved.wave.shape[2]
        phase = np.sin(2 * np.pi * (np.arange(steps) + 1) / steps)
        outlet = circuit.part("mains").pins["L"]
        across = (np.sqrt(2.0) * volts[:, None] * phase - solved.solved.volts(outlet)) * (ohms / (line + ohms))[:, None]
        rms = np.sqrt((across**2).mean(1))
        wanted = filament_ohms(hot, rms / circuit.unit.volts)
        if np.all(np.abs(wanted - ohms) < LAMP_NEAR * ohms):
            break
        ohms = ohms * (wanted / ohms) ** AHEAD
    assert solved is not None  # LAMP_TURNS is not zero
    return solved


def solve_rows(
    circuit: Circuit,
    drawn: Drawn,
    condition: Condition,
    pairs: NDArray[np.int64],
    *,
    start: Powered | None = None,
    rows: NDArray[np.int64] | None = None,
    units: Powered | None = None,
) -> Powered:
    """Powered state of a flat batch of (row, draw) pairs. start, rows: nominal sets to begin from; units: the healthy sets of all draws."""
    values = press(_only(_tile(drawn, pairs), circuit), circuit, condition)
    if condition.lamp:
        return behind_lamp(circuit, values, len(pairs), condition.lamp, start, rows, bool(condition.pressed))
    return solve_powered(
        circuit,
        values,
        len(pairs),
        start=start,
        rows=rows,
        units=units,
        unit=pairs[:, 1],
        switched_on=True,
        pressed=bool(condition.pressed),
    )


def live_read(
    powered: Powered, columns: Sequence[Column], hertz: float, latches: Latches | None = None
) -> tuple[Array, NDArray[np.bool_], NDArray[np.bool_]]:
    """What a 10 Mohm meter shows (batch, columns), where it would not stand still, and where its own current turns junctions on or
    off, so that what stands there without it says little. latches: parts that may have run before they latched, for MAX."""
    if not columns:
        return np.zeros((len(powered.ok), 0)), np.zeros((len(powered.ok), 0), bool), np.zeros((len(powered.ok), 0), bool)
    nets = [(c.red, c.black) for c in columns]
    raw = np.stack([_unloaded(powered, c, latches or {}) for c in columns], 1)
    slopes = slopes_of(powered.solved)
    z = np.zeros(raw.shape, complex)
    for frequency, here in ((0.0, [c.function != "ac" for c in columns]), (hertz, [c.function == "ac" for c in columns])):
        js = np.flatnonzero(here)
        z[:, js] = thevenin(powered.solved, [nets[j] for j in js], frequency, slopes)
    pulses = np.stack([powered.pulses(c.red, c.black, c.function) for c in columns], 1) & powered.pulsing[:, None]
    timed = np.array([c.function == "every" for c in columns])
    shown = np.where(timed, raw, raw * np.abs(METER_OHMS / (METER_OHMS + z)))
    weak = (np.abs(z) > WEAK_OHMS) & (np.abs(shown) > WEAK_VOLTS) & powered.ok[:, None]
    return shown, pulses & ~timed, weak & np.array([c.function == "v" for c in columns])


def _unloaded(powered: Powered, column: Column, latches: Latches) -> Array:
    """What a meter without ohms of its own would show, or a watch (batch,)."""
    if column.function == "every":
        return powered.period()
    if column.function == "max" and latches:
        return held_max(powered, column.red, column.black, latches)
    return powered.reading(column.red, column.black, column.function)


def meter_in(
    circuit: Circuit,
    drawn: Drawn,
    condition: Condition,
    columns: Sequence[Column],
    asks: Sequence[tuple[int, int, int]],
    nominal: Powered,
) -> Array:
    """DC volts (asks,) of (row, draw, column) with the meter's own 10 Mohm in the network; nominal: the rows as they stand without it."""
    nets = list(dict.fromkeys((columns[j].red, columns[j].black) for _, _, j in asks))
    meters = [not_there(f"meter {k}", a, b) for k, (a, b) in enumerate(nets)]
    wider = circuit.with_parts((*circuit.parts, *meters))
    pairs = np.array([(r, d) for r, d, _ in asks], np.int64)
    values = press(_only(_tile(drawn, pairs), circuit), circuit, condition)
    at = np.array([nets.index((columns[j].red, columns[j].black)) for _, _, j in asks])
    for k, meter in enumerate(meters):
        idle = as_marked(meter, len(asks))
        values[meter.ref] = {**idle, "ohms": np.where(at == k, METER_OHMS, idle["ohms"])}
    solved = solve_powered(wider, values, len(asks), start=nominal, rows=pairs[:, 0], pressed=bool(condition.pressed))
    shown = np.stack([solved.reading(a, b, "v") for a, b in nets], 1)[np.arange(len(asks)), at]
    return np.asarray(np.where(solved.ok, shown, np.nan))


def live_block(
    circuit: Circuit,
    drawn: Drawn,
    condition: Condition,
    columns: Sequence[Column],
    nominal: Powered | None = None,
    progress: Progress | None = None,
    units: tuple[Array, Powered | None] | None = None,
) -> Block:
    """Powered readings of one condition for every suspect and draw.

    units: what the healthy units show (columns, units), and their solution if it is of this very network; None: not solved yet.
    """
    rows, draws, hertz = len(drawn.suspects), drawn.draws, circuit.unit.hertz
    if nominal is None:
        nominal = solve_nominal(circuit, drawn, condition)
    latches = latches_of(circuit)
    first, pulsing, weak = live_read(nominal, columns, hertz, latches)
    if units is None:
        zero = np.zeros(drawn.units, np.int64)
        solved = solve_rows(circuit, drawn, condition, _pairs([0], range(drawn.units)), start=nominal, rows=zero)
        units = (live_read(solved, columns, hertz, latches)[0].T, solved)
    healthy, base = units
    value = np.broadcast_to(healthy, (rows, len(columns), drawn.units)).copy()
    # A set whose fuse is gone is dead, whatever the tolerances: its nominal volts stand for all draws.
    gone = _fuse_gone(circuit, nominal)
    value[gone] = first[gone][:, :, None]
    cells = ~_same(first, first[0], columns)
    moved = np.flatnonzero(cells.any(1) & ~gone)
    unresolved = int((~nominal.ok).sum())
    chunk = max(1, 600 // draws)
    for k in range(0, len(moved), chunk):
        some = moved[k : k + chunk]
        own = np.repeat(first[some][:, None], draws, axis=1)  # draw 0 is nominal, and has been solved
        if draws > 1:
            pairs = _pairs(some, range(1, draws))
            solved = solve_rows(circuit, drawn, condition, pairs, start=nominal, rows=pairs[:, 0], units=base)
            got, pulses, _ = live_read(solved, columns, hertz, latches)
            own[:, 1:] = got.reshape(len(some), draws - 1, len(columns))
            pulsing[some] |= pulses.reshape(len(some), draws - 1, len(columns)).sum(1) + pulsing[some] > 0.4 * draws
            unresolved += int((~solved.ok).sum())
        hang = [(int(r), int(j)) for r in some for j in np.flatnonzero(weak[r] & cells[r])]
        if hang and not condition.lamp:
            places = {int(r): k for k, r in enumerate(some)}
            # a dark string of LEDs has hundreds of such cells: a few draws then stand for those that follow them
            stride = min(-(-len(hang) * draws // MOST_METERS), draws)
            asks = [(r, d, j) for r, j in hang for d in range(0, draws, stride)]
            shown = meter_in(circuit, drawn, condition, columns, asks, nominal)
            for (r, d, j), x in zip(asks, shown, strict=True):
                if np.isfinite(x):
                    own[places[r], d : d + stride, j] = x
        _lay(value, some, cells, own)
        if progress:
            progress(condition.key, (k + len(some)) / max(len(moved), 1))

    def again(other: Drawn, undrawn: tuple[Part, ...]) -> Block:
        wider = circuit.with_parts((*circuit.parts, *undrawn))
        return live_block(wider, other, condition, columns, units=(healthy, None if undrawn else base))

    return Block(tuple(columns), value, pulsing, stress_of(circuit, nominal, drawn, condition), unresolved, again)


def _fuse_gone(circuit: Circuit, powered: Powered) -> NDArray[np.bool_]:
    """Rows in which a fuse has opened for good."""
    opened = opened_for_good(circuit, [powered])
    out = np.zeros(len(powered.ok), bool)
    for ref, rows in opened.items():
        if family_of(circuit.part(ref)).heard_as_fuse:
            out |= rows
    return out


def solve_nominal(circuit: Circuit, drawn: Drawn, condition: Condition) -> Powered:
    """Every suspect at its nominal values in one condition."""
    healthy = solve_rows(circuit, drawn, condition, _pairs([0], [0]))
    rows = np.arange(len(drawn.suspects))
    return solve_rows(circuit, drawn, condition, _pairs(rows, [0]), start=healthy, rows=np.zeros(len(rows), np.int64))


def stress_of(circuit: Circuit, nominal: Powered, drawn: Drawn, condition: Condition) -> dict[tuple[str, str], Array]:
    """(ref, rating) -> stress over rating for every row (rows,); NaN where unknown. Only ratings that the sheet knows."""
    loads = loads_of(circuit, nominal, drawn, condition)
    rated = {(p.ref, name): p.ratings.get(name, p.values.get(name)) for p in circuit.parts for name, _ in family_of(p).ratings}
    return {key: loads[key] / most for key, most in rated.items() if most}


def loads_before_the_fuse(circuit: Circuit, nominal: Powered, drawn: Drawn, condition: Condition) -> dict[tuple[str, str], Array]:
    """As loads_of, but where a fuse has gone: what the parts bore in the moment before, with fuses that hold whatever comes."""
    out = loads_of(circuit, nominal, drawn, condition)
    gone = np.flatnonzero(_fuse_gone(circuit, nominal))
    if len(gone):
        fuses = [(p.ref, f.main_value) for p in circuit.parts if (f := family_of(p)).heard_as_fuse and f.mode and f.mode.latching]
        held = {ref: {**drawn.healthy[ref], name: drawn.healthy[ref][name] * 1e6} for ref, name in fuses if name}
        some = Drawn(tuple(drawn.suspects[r] for r in gone), {**drawn.healthy, **held}, drawn.severity[gone])
        for key, load in loads_of(circuit, solve_nominal(circuit, some, condition), some, condition).items():
            out[key] = out[key].copy()
            out[key][gone] = load
    return out


def loads_of(circuit: Circuit, nominal: Powered, drawn: Drawn, condition: Condition) -> dict[tuple[str, str], Array]:
    """(ref, rating) -> what the part bears in every row (rows,), in the rating's unit; NaN where unknown."""
    from halfsplit.solver.powered import Probe

    values = press(_only(_tile(drawn, _pairs(range(len(drawn.suspects)), [0])), circuit), circuit, condition)
    for ref, mode in nominal.modes.items():
        spec = family_of(circuit.part(ref)).mode
        if spec is not None:
            values[ref] = {**values[ref], spec.param: mode}
    out = {}
    for part in circuit.parts:
        for name, stress in family_of(part).ratings:
            got = stress(Probe(nominal.solved, circuit, part, values), values[part.ref])
            out[part.ref, name] = np.where(nominal.ok, got, np.nan)
    return out


def join(suspects: Sequence[Suspect], blocks: Sequence[Block]) -> Outlook:
    """One table from blocks of several states. Spans grow to what the rows themselves reach."""
    columns = tuple(c for b in blocks for c in b.columns)
    value = np.concatenate([b.value for b in blocks], 1) if blocks else np.zeros((len(suspects), 0, 1))
    pulsing = np.concatenate([b.pulsing for b in blocks], 1) if blocks else np.zeros((len(suspects), 0), bool)
    return Outlook(tuple(s.row for s in suspects), tuple(_spanned(c, value[:, j]) for j, c in enumerate(columns)), value, pulsing)


def _spanned(column: Column, values: Array) -> Column:
    finite = values[np.isfinite(values)]
    if column.live and finite.size and column.function not in ("r", "d"):
        return replace(column, span=max(1.0, float(np.ptp(finite)) * 1.2))
    return column
