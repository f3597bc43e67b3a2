"""The job's outlook: blocks solved once per circuit, acts and condition, and single columns on demand."""

from __future__ import annotations

import json
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.model import Circuit, circuit_to_data
from halfsplit.diagnosis import build
from halfsplit.diagnosis.beside import Kept, grown, name_of, with_places
from halfsplit.diagnosis.columns import (
    ALONE,
    DEAD,
    Condition,
    alone_columns,
    cold_columns,
    conditions,
    fed_columns,
    live_columns,
    make_column,
)
from halfsplit.diagnosis.complaint import complaint_factors, seen_of
from halfsplit.diagnosis.dummy import Dummy
from halfsplit.diagnosis.kills import overstressed
from halfsplit.diagnosis.outlook import Column, Outlook
from halfsplit.diagnosis.suspects import Suspect
from halfsplit.diagnosis.undrawn import Site, sites
from halfsplit.jobs.safety import HEAVY_ODDS
from halfsplit.parts.base import Array
from halfsplit.solver import loops
from halfsplit.solver.powered import Powered

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Acts:
    """What is off the board: legs lifted as (ref, pin), parts removed or unplugged. fresh: fitted anew and not switched on since."""

    lifted: frozenset[tuple[str, str]] = frozenset()
    removed: frozenset[str] = frozenset()
    fresh: frozenset[str] = frozenset()

    def on(self, circuit: Circuit) -> Circuit:
        """The circuit as it stands on the bench."""
        parts = []
        for part in circuit.parts:
            if part.ref in self.removed:
                continue
            up = {pin for ref, pin in self.lifted if ref == part.ref}
            pins = {pin: f"{part.ref}.{pin}^" if pin in up else net for pin, net in part.pins.items()}
            parts.append(replace(part, pins=pins))
        return circuit.with_parts(tuple(parts))

    def nets(self, circuit: Circuit) -> frozenset[str]:
        """Every net that a probe may touch: those of the sheet, and each lifted leg."""
        return frozenset({*circuit.nets, *(f"{ref}.{pin}^" for ref, pin in self.lifted)})

    @property
    def refs(self) -> tuple[str, ...]:
        """Every part with a leg up or out."""
        return tuple(dict.fromkeys([*(r for r, _ in sorted(self.lifted)), *sorted(self.removed)]))


@dataclass
class Solved:
    """Everything solved of one circuit, whatever its priors. Shared by all jobs of this process that have the same circuit."""

    drawn: build.Drawn
    blocks: dict[tuple[Acts, str], build.Block] = field(default_factory=dict)
    powered: dict[tuple[Acts, str], Powered] = field(default_factory=dict)
    beside: Kept = field(default_factory=Kept)
    kills: Array | None = None
    opened: dict[tuple[str, ...], build.Opened] = field(default_factory=dict)  # by explanations: cold and alone ask for the same


def reckoned_with(odds: Array) -> NDArray[np.int64]:
    """Rows that count in a safety decision; the healthy one where none is that likely. odds (rows,)."""
    rows = np.flatnonzero(odds > HEAVY_ODDS)
    return rows if len(rows) else np.array([0])


_KEPT: OrderedDict[str, Solved] = OrderedDict()
KEEP = 8  # circuits kept solved; tens of megabytes each


def _solved(circuit: Circuit, suspects: tuple[Suspect, ...]) -> Solved:
    """The kept solutions of this circuit, or a fresh place for them."""
    key = json.dumps([circuit_to_data(replace(circuit, symptom=())), [(s.row.part, s.row.way) for s in suspects]], sort_keys=True)
    if key not in _KEPT:
        _KEPT[key] = Solved(build.draw(circuit, suspects))
        while len(_KEPT) > KEEP:
            _KEPT.popitem(last=False)
    _KEPT.move_to_end(key)
    return _KEPT[key]


@dataclass
class Table:
    """Blocks of one circuit with one set of suspects. Everything is solved once and kept."""

    circuit: Circuit
    suspects: tuple[Suspect, ...]
    progress: Progress = lambda text: None
    solved: Solved = field(init=False)
    _heard: tuple[Suspect, ...] | None = None

    def __post_init__(self) -> None:
        self.solved = _solved(self.circuit, self.suspects)

    @property
    def drawn(self) -> build.Drawn:
        return self.solved.drawn

    @property
    def _blocks(self) -> dict[tuple[Acts, str], build.Block]:
        return self.solved.blocks

    @property
    def _powered(self) -> dict[tuple[Acts, str], Powered]:
        return self.solved.powered

    def heard(self) -> tuple[Suspect, ...]:
        """The suspects with what the complaint says of each: solved once, then kept."""
        if self._heard is None:
            solved = {c.key: self.nominal(c) for c in self.conditions() if c.powered}
            factors = complaint_factors(self.circuit.symptom, seen_of(self.circuit, self.suspects, solved))
            kept = self.suspects
            if factors is not None:
                kept = tuple(
                    replace(s, row=replace(s.row, prior=s.row.prior * float(f), unheard=s.row.prior)) if s.part is not None else s
                    for s, f in zip(self.suspects, factors, strict=True)
                )
            self._heard = kept
        return self._heard

    # ---- solving

    def _tell(self, what: str) -> None:
        if not loops.ready():
            self.progress("making the solver ready for this machine, once; about half a minute")
        self.progress(what)

    def nominal(self, condition: Condition, acts: Acts = Acts()) -> Powered:
        """Every suspect at nominal values in a powered condition."""
        key = (acts, condition.key)
        if key not in self._powered:
            self._tell(f"solving {condition.key}: {len(self.suspects)} explanations")
            self._powered[key] = build.solve_nominal(acts.on(condition.stands(self.circuit)), self.drawn, condition)
        return self._powered[key]

    def opening(self, fresh: frozenset[str] = frozenset()) -> build.Opening:
        """Which protectors each suspect has opened for good by the time the set comes in: it was plugged in, and every control used."""

        def opened(circuit: Circuit, drawn: build.Drawn) -> build.Opened:
            key = tuple(name_of(s) for s in drawn.suspects)
            if key not in self.solved.opened:
                states = [c for c in self.conditions() if c.powered]
                strange = [p for p in circuit.parts if p.ref not in self.circuit.names]
                whole = self.circuit.with_parts((*self.circuit.parts, *strange))
                own = drawn is self.drawn
                solved = [self.nominal(c) if own else build.solve_nominal(whole, drawn, c) for c in states]
                self.solved.opened[key] = build.opened_for_good(whole, solved)
            return {ref: rows for ref, rows in self.solved.opened[key].items() if ref not in fresh}

        return opened

    def opened(self) -> build.Opened:
        """Protectors that have opened for good by the time the set comes in, and in which explanations."""
        return self.opening()(self.circuit, self.drawn)

    def cold(
        self, without: frozenset[str] = frozenset(), fresh: frozenset[str] = frozenset(), dummy: Dummy | None = None
    ) -> build.Block:
        """All cold readings in circuit, and the insulation of a claimed cold side. fresh: parts fitted anew and not switched on since."""
        condition = Condition(False, without=without, dummy=dummy)
        key = (Acts(fresh=fresh), condition.key)
        if key not in self._blocks:
            here = condition.stands(self.circuit)
            columns = [*cold_columns(here, condition.key), *insulation_columns(here, condition.key)]
            columns = list(build.steady(here, self.drawn, columns))
            self._tell(f"solving {len(columns)} cold readings")
            self._blocks[key] = build.cold_block(here, self.drawn, columns, opening=self.opening(fresh))
        return self._blocks[key]

    def alone(self, fresh: frozenset[str] = frozenset()) -> build.Block:
        """Every part by itself. fresh: parts fitted anew and not switched on since."""
        key = (Acts(fresh=fresh), ALONE)
        if key not in self._blocks:
            columns = alone_columns(self.circuit)
            self._blocks[key] = build.alone_block(self.circuit, self.drawn, columns, opening=self.opening(fresh))
        return self._blocks[key]

    def live(self, condition: Condition) -> build.Block:
        """All powered readings of one condition."""
        key = (Acts(), condition.key)
        if key not in self._blocks:
            nominal = self.nominal(condition)
            here = condition.stands(self.circuit)
            columns = live_columns(here, condition, *self.references(nominal))
            self._tell(f"solving {condition.key}: {len(columns)} readings with tolerances")
            self._blocks[key] = build.live_block(here, self.drawn, condition, columns, nominal)
        return self._blocks[key]

    def fed(self, condition: Condition) -> list[build.Block]:
        """What may be read of a set that the bench supply feeds so."""
        here = condition.stands(self.circuit)
        volts, ohms = fed_columns(self.circuit, condition)
        out = []
        for key, columns in ((condition.key, volts), (f"{condition.key} r", ohms)):
            if columns and (Acts(), key) not in self._blocks:
                self._tell(f"solving {condition.key}: {len(columns)} readings")
                self._blocks[Acts(), key] = (
                    build.fed_ohms_block(here, self.drawn, condition, columns)
                    if columns is ohms
                    else build.live_block(here, self.drawn, condition, columns, self.nominal(condition))
                )
            out += [self._blocks[Acts(), key]] if columns else []
        return out

    def references(self, nominal: Powered) -> tuple[dict[str, tuple[str, str]], frozenset[str]]:
        """How each net is best read on a healthy set: net -> (function, other lead); and nets worth an AC look as well."""
        how: dict[str, tuple[str, str]] = {}
        ripple: set[str] = set()
        islands = islands_of(self.circuit)
        for net in self.circuit.nets:
            if net not in nominal.solved.network.nets:
                continue
            ground = self.circuit.grounds.get(islands[net], "N")
            dc, ac = (float(nominal.reading(net, ground, f)[0]) for f in ("v", "ac"))
            if islands[net] == "hot" and ac > 0.4 * abs(dc) and ac > 2.0:
                against_n = float(nominal.reading(net, "N", "ac")[0])
                how[net] = ("ac", "N") if against_n > 2.0 else ("ac", "L")
            elif ac > 3.0 * abs(dc) and ac > 1.0:
                how[net] = ("ac", ground)
            elif ac > 0.005 * abs(dc) and abs(dc) > 3.0:
                ripple.add(net)
        return how, frozenset(ripple)

    def across_gap(self) -> build.Block:
        """Ohms from the mains and its 0 V to the 0 V of the claimed cold side, and across every part that reaches over the gap."""
        key = (Acts(), "gap")
        if key not in self._blocks:
            self._blocks[key] = build.cold_block(self.circuit, self.drawn, gap_columns(self.circuit))
        return self._blocks[key]

    def extra(self, column: Column, condition: Condition, acts: Acts) -> build.Block:
        """One column that no block holds: another pair of places, or with legs up."""
        key = (acts, column.key)
        if key not in self._blocks:
            circuit = acts.on(condition.stands(self.circuit))
            if column.state == ALONE:  # as of a part read the other way round than its family would
                self._blocks[key] = build.alone_block(self.circuit, self.drawn, [column], opening=self.opening(acts.fresh))
            elif condition.fed is not None and column.function in ("r", "d"):
                self._blocks[key] = build.fed_ohms_block(circuit, self.drawn, condition, [column])
            elif not condition.powered:
                self._blocks[key] = build.cold_block(circuit, self.drawn, [column], opening=self.opening(acts.fresh))
            else:
                acts = replace(acts, fresh=frozenset())
                self._blocks[key] = build.live_block(circuit, self.drawn, condition, [column], self.nominal(condition, acts))
        return self._blocks[key]

    # ---- what the rest of the job asks

    def outlook(self, blocks: list[build.Block]) -> Outlook:
        """One table of these blocks."""
        return replace(build.join(self.heard(), blocks), kills=self.kills())

    def grown(self, outlook: Outlook, blocks: Sequence[build.Block], pairs: Sequence[tuple[int, int]]) -> Outlook:
        """The outlook with these pairs of its rows solved."""
        self._tell(f"solving {len(pairs)} pairs of faults")
        return grown(outlook, blocks, self.drawn, pairs, self.solved.beside)

    def with_places(
        self, outlook: Outlook, blocks: Sequence[tuple[build.Block, bool]], places: Sequence[Site], *, rough: bool = False
    ) -> Outlook:
        """The outlook with something that is not on the sheet at each of these places; blocks: with whether they were read."""
        self._tell(f"trying {len(places)} places for something that is not on the sheet")
        among = len(self.places())
        return with_places(outlook, blocks, self.drawn, places, among, self.solved.beside, rough=rough)

    def places(self) -> tuple[Site, ...]:
        """Every place where something that is not on the sheet may sit."""
        return sites(self.circuit)

    def kills(self) -> Array:
        """How much likelier each row comes with another than by chance, since that puts its part to more than it stands (rows, rows)."""
        if self.solved.kills is None:
            states = [c for c in self.conditions() if c.powered]
            loads = [build.loads_before_the_fuse(self.circuit, self.nominal(c), self.drawn, c) for c in states]
            self.solved.kills = overstressed(self.suspects, loads)
        return self.solved.kills

    def cap_volts(self, conditions_on: list[Condition]) -> dict[str, Array]:
        """Most volts on every capacitor in any of these conditions, per row: ref -> (rows,) [V]; NaN where not known."""
        out: dict[str, Array] = {}
        for condition in conditions_on:
            solved = self.nominal(condition)
            for part in self.circuit.parts:
                if part.holds_charge:
                    ends = list(part.pins.values())[:2]
                    peak = solved.peak(ends[0], ends[1])
                    out[part.ref] = np.fmax(out.get(part.ref, peak), peak)
        return out

    def peak_volts(self, condition: Condition, odds: Array) -> dict[str, float]:
        """Net -> highest volts against its own 0 V in any heavy row [V]; NaN where such a row is not solved. odds (rows,)."""
        solved = self.nominal(condition)
        islands = islands_of(self.circuit)
        heavy = reckoned_with(odds)
        return {
            net: float(solved.peak(net, self.circuit.grounds.get(islands[net], "N"))[heavy].max())
            for net in self.circuit.nets
            if net in solved.solved.network.nets
        }

    def healthy_volts(self, red: str, black: str) -> float | None:
        """DC volts between two nets of the healthy set, on, nothing pressed: the most that its tolerances give [V]; None where
        not solved."""
        column = make_column("v", red, black, Condition(True).key, where=f"{red} to {black}")
        volts = self.extra(column, Condition(True), Acts()).value[0, 0]
        return None if np.isnan(volts).any() else float(volts[np.argmax(np.abs(volts))])

    def healthy_ohms(self, red: str, black: str) -> float | None:
        """Lowest ohms between two nets of a healthy dead set within its tolerances [ohm]; None where not solved."""
        column = make_column("r", red, black, DEAD, where=f"{red} to {black}")
        lowest = float(self.extra(column, Condition(False), Acts()).value[0, 0].min())
        return None if np.isnan(lowest) else lowest

    def conditions(
        self, lamp: float | None = None, without: frozenset[str] = frozenset(), dummy: Dummy | None = None
    ) -> tuple[Condition, ...]:
        """Dead, on, and on with each control pressed; behind the lamp if one is in series, without the loads that are unplugged, with the dummy."""
        return tuple(replace(c, lamp=lamp if c.powered else None, without=without, dummy=dummy) for c in conditions(self.circuit))


def gap_columns(circuit: Circuit) -> tuple[Column, ...]:
    """Where a joint between the sides must show as ohms: any joint runs through a part that has pins on both."""
    islands = islands_of(circuit)
    pairs = [(n, circuit.grounds.get("cold", "")) for n in ("L", "N", circuit.grounds.get("hot", "N"))]
    for part in circuit.parts:
        sides = {side: [n for n in part.pins.values() if islands[n] == side] for side in ("hot", "cold")}
        pairs += [(hot, cold) for hot in sides["hot"] for cold in sides["cold"]]
    known = [(a, b) for a, b in dict.fromkeys(pairs) if a in islands and b in islands]
    return tuple(make_column("r", a, b, DEAD, where=f"{a} to {b}") for a, b in known)


def insulation_columns(circuit: Circuit, state: str = DEAD) -> tuple[Column, ...]:
    """L and N to the 0 V of a claimed cold side: what makes the claim count."""
    cold = circuit.grounds.get("cold")
    if not cold or "L" not in circuit.nets:
        return ()
    return tuple(make_column("r", line, cold, state, where=f"{line} to {cold}") for line in ("L", "N"))
