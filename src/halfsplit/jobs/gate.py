"""Safety seen from the job: the facts of one moment, handed to the functions of jobs/safety.py. No rule of its own stands here."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from halfsplit.circuit.model import Circuit, Part
from halfsplit.diagnosis.columns import Condition
from halfsplit.diagnosis.outlook import Column
from halfsplit.jobs.entry import ReadingEntry
from halfsplit.jobs.isolation import cold_nets, isolation
from halfsplit.jobs.kit import Kit, functions_available
from halfsplit.jobs.power import METER, Places, Power, power_of
from halfsplit.jobs.safety import DEAD_LASTS, KNOWN_VOLTS, PROOF_WITHIN, Board, Go, Island, Islands, NoGo, may_measure
from halfsplit.jobs.standing import Happened, Standing
from halfsplit.jobs.table import Table, reckoned_with
from halfsplit.parts import family_of
from halfsplit.parts.base import Array
from halfsplit.repair.discharge import HeavyCap, heavy_caps

NAMED_JOULES = 1e-4  # [J] bench estimate: above this the volts of a capacitor are read before ohms


def is_protector(part: Part) -> bool:
    """A part that nobody may bridge, up-rate or leave out."""
    return family_of(part).protector or "fusible" in part.tags


def _load_watts(circuit: Circuit, ref: str) -> float:
    """Power of a load that hangs on the mains and can be unplugged [W]; 0 for any other part, and for one on a side claimed cold:
    what is on the far side of a transformer doesn't take volts squared over ohms of the mains."""
    part = circuit.part(ref)
    ohms = part.values.get("ohms", 0.0)
    if (
        not family_of(part).visible
        or ohms <= 0
        or "ohms" in part.doubts
        or not circuit.cold_claims.isdisjoint(part.pins.values())
    ):
        return 0.0
    return min(circuit.unit.volts, part.ratings.get("volts", part.values.get("volts", math.inf))) ** 2 / ohms


@dataclass(frozen=True)
class Gate:
    """What safety needs of one moment. odds (rows,): of every explanation now. now [s].

    claimed: the sides as the sheet claims them, for the bench supply; else a cold side is one only once it is proven.
    """

    standing: Standing
    table: Table
    kit: Kit
    odds: Array
    now: float
    claimed: bool = False

    @property
    def circuit(self) -> Circuit:
        return self.table.circuit

    # ---- the sides and what has to be read on each

    @cached_property
    def isolated(self) -> Go | NoGo:
        """Whether the claimed cold side counts as isolated."""
        return isolation(self.standing, self.table, self.odds)

    @cached_property
    def _cold(self) -> frozenset[str]:
        return cold_nets(self.circuit) if self.claimed or self.isolated else frozenset()

    def side_of(self, net: str) -> str:
        """hot, or cold where that is proven (or only the claim is asked for)."""
        return "cold" if net in self._cold else "hot"

    @property
    def sides(self) -> tuple[str, ...]:
        return ("hot", "cold") if self._cold else ("hot",)

    def _side_of_part(self, part: Part) -> str:
        """A part that reaches across counts as hot."""
        return "cold" if all(self.side_of(net) == "cold" for net in part.pins.values()) else "hot"

    @cached_property
    def heavy(self) -> tuple[HeavyCap, ...]:
        """Capacitors that a heavy explanation may leave above 10 V, switched on plainly or as the set has been on.

        0.25 J hurts a hand; a tenth of a millijoule still lies to an ohmmeter, so these are named too.
        """
        been_on = [t.condition for t in self.standing.readings if t.power == "on"]
        volts = self.table.cap_volts(list(dict.fromkeys([Condition(True), *been_on])))
        rows = reckoned_with(self.odds)
        most = {ref: float(v[rows].max()) for ref, v in volts.items()}
        left = {ref: None if np.isnan(v) else v for ref, v in most.items()}  # not solved is not known: its rated volts count
        here = self.standing.acts.on(self.circuit)
        pairs: dict[frozenset[str], HeavyCap] = {}
        for cap in heavy_caps(here, left, more_than=NAMED_JOULES):
            pairs.setdefault(frozenset(here.part(cap.ref).pins.values()), cap)  # straight across it: emptied and read with it
        return tuple(pairs.values())

    @cached_property
    def caps(self) -> Mapping[str, tuple[HeavyCap, ...]]:
        """Side -> what has to be read there; the plug where no capacitor of the whole set is heavy."""
        out = self._by_side(self.heavy)
        if not any(out.values()):
            out = self._by_side(self._read_last())
        if not any(out.values()):
            out["hot"] = tuple(HeavyCap(p.ref, p.place, None, 0.0, 0.0) for p in self.circuit.parts if family_of(p).outlet)
        return out

    def _by_side(self, caps: Iterable[HeavyCap]) -> dict[str, tuple[HeavyCap, ...]]:
        where = [(self._side_of_part(self.circuit.part(cap.ref)), cap) for cap in caps]
        return {side: tuple(cap for own, cap in where if own == side) for side in self.sides}

    def _read_last(self) -> tuple[HeavyCap, ...]:
        """Capacitors at which the set was last found dead. What was asked for then was more than is asked for now, so it still counts."""
        said = [[ref for ref, _ in e.volts] for e in self.standing.happened if e.kind == "dead" and e.volts]
        parts = [self.circuit.part(ref) for ref in (said[-1] if said else ()) if ref in self.circuit.names]
        return tuple(HeavyCap(p.ref, p.place, None, 0.0, 0.0) for p in parts if p.holds_charge)

    def named(self, sides: Collection[str]) -> tuple[HeavyCap, ...]:
        """What has to be read on these sides; where they hold nothing, what the set holds elsewhere shows that it is off."""
        own = tuple(cap for side in self.sides if side in sides for cap in self.caps[side])
        return own or tuple(cap for caps in self.caps.values() for cap in caps)

    # ---- dead or not

    @cached_property
    def power(self) -> Power:
        """safety.Islands after everything that happened."""
        sides = {
            side: {cap.ref: math.inf if cap.volts is None else cap.volts for cap in caps} for side, caps in self.caps.items()
        }
        return power_of(self.standing.happened, Places(sides, self._volts_at, self._known_volts, self.side_of))

    @property
    def islands(self) -> Islands:
        return self.power.islands

    def dead_sides(self) -> frozenset[str]:
        """Sides whose proof holds now."""
        return frozenset(side for side in self.sides if self.islands.power(side, self.now) == "dead")

    def is_dead(self) -> bool:
        """Every side proven dead."""
        return len(self.dead_sides()) == len(self.sides)

    def dead_names(self) -> tuple[str, ...]:
        """Capacitors on whose volts the proof of the dead sides stands."""
        refs = [ref for side in self.sides if side in self.dead_sides() for ref in self.islands.side(side).last]
        return tuple(self.circuit.part(ref).place or ref for ref in refs)

    def waiting(self, sides: Collection[str]) -> bool:
        """A zero was read there that the known source, read once more, would make good."""
        due = [self.islands.side(side).waiting for side in sides if side not in self.dead_sides()]
        return any(w is not None and 0 <= self.now - w[0] <= PROOF_WITHIN for w in due)

    def meter_proven(self) -> bool:
        """The meter has shown a known voltage within the half hour."""
        at = self.islands.known.get(METER)
        return at is not None and 0 <= self.now - at <= DEAD_LASTS

    def recheck(self, sides: Collection[str]) -> tuple[tuple[HeavyCap, ...], float] | None:
        """Capacitors to be read once more on these sides and in how many seconds (0: now); None where there are none."""
        due = {side: at for side in sides if (at := self.islands.recheck_at(side)) is not None}
        if not due:
            return None
        names = {ref for side in due for ref in self.islands.side(side).recovering}
        return tuple(cap for cap in self.named(due) if cap.ref in names), max(0.0, max(due.values()) - self.now)

    def _volts_at(self, event: Happened) -> dict[str, dict[str, float]]:
        """Side -> capacitor -> volts: what was read, and what lay straight across it then; a leg lifted later takes no proof back."""
        out: dict[str, dict[str, float]] = {}
        ends = self._ends(event)
        for part, volts in self._parts_read(event, ends):
            across = [c.ref for c in self.heavy if c.ref in ends and ends[c.ref] == ends.get(part.ref)]
            for ref in across or [part.ref]:
                out.setdefault(self._side_of_part(self.circuit.part(ref)), {})[ref] = volts
        if out and event.kind == "dead":  # a side that can hold nothing is dead once the set is shown to be off
            every = {ref: volts for read in out.values() for ref, volts in read.items()}
            out |= {side: every for side in self.sides if not self.caps[side]}
        return out

    def _ends(self, event: Happened) -> Mapping[str, frozenset[str]]:
        """Part on the board at that time -> the nets it was on."""
        return {part.ref: frozenset(part.pins.values()) for part in event.acts.on(self.circuit).parts}

    def _parts_read(self, event: Happened, ends: Mapping[str, frozenset[str]]) -> list[tuple[Part, float]]:
        """Parts whose volts this event says, the set being off; names that are gone from the sheet say nothing any more.
        ends: as of _ends."""
        if event.taken is None:
            known = self.circuit.names
            return [(known[name], volts) for name, volts in event.volts if name in known]
        e = event.taken.entry
        if event.taken.power == "on" or e.function != "v" or e.value is None:
            return []
        nets = frozenset(n for n in (e.red_net, e.black_net) if n)
        return [(self.circuit.part(cap.ref), e.value) for cap in self.heavy if ends.get(cap.ref) == nets][:1]

    def _known_volts(self, event: Happened) -> float | None:
        """What the healthy set shows there: a meter that shows it too has good leads. Nothing below 5 V, nothing that moved."""
        taken = event.taken
        if taken is None or taken.power != "on" or taken.acts.refs or taken.entry.flags & {"pulsing", "shaky"}:
            return None
        e = taken.entry
        if e.function not in ("v", "ac") or e.red_net is None or e.black_net is None:
            return None
        solved = self.table.nominal(taken.condition)
        if not {e.red_net, e.black_net} <= solved.solved.network.nets.keys():
            return None
        volts = float(solved.reading(e.red_net, e.black_net, e.function)[0])
        return volts if abs(volts) >= KNOWN_VOLTS else None

    # ---- the isolation transformer

    def isolation_ok(self, without: frozenset[str] = frozenset()) -> bool:
        """Twice the watts of the set as it stands; a heater that is unplugged doesn't count."""
        return self.kit.isolation is not None and self.kit.isolation >= 2.0 * self.watts(without)

    def watts(self, without: frozenset[str]) -> float:
        """Watts of the set less what is unplugged: the label's, less volts squared over ohms of each [W]."""
        off = sum(_load_watts(self.circuit, ref) for ref in without)
        return max(self.circuit.unit.watts - off, 10.0) if off else self.circuit.unit.watts

    def to_unplug(self) -> frozenset[str]:
        """Loads to unplug so that the rest fits on the isolation transformer; none where it fits, or where that can't help."""
        off = set(self.standing.unplugged)
        loads = sorted(
            (p.ref for p in self.circuit.parts if _load_watts(self.circuit, p.ref) > 0 and p.ref not in off),
            key=lambda r: -_load_watts(self.circuit, r),
        )
        while not self.isolation_ok(frozenset(off)) and loads:
            off.add(loads.pop(0))
        return frozenset(off) if self.isolation_ok(frozenset(off)) else self.standing.unplugged

    # ---- may it be read

    def board(self, condition: Condition | None = None, *, confirmed: bool = False) -> Board:
        """What safety.may_measure asks of the board. condition: while on so; None: nothing is on. confirmed: take it as said."""
        return Board(
            island_of={net: self.side_of(net) for net in self.circuit.nets},
            proven_cold=frozenset({"cold"}) if self._cold and not self.claimed else frozenset(),
            switching=self.circuit.switching,
            cant=self.circuit.cant | self.standing.cant,
            peak={} if condition is None else self.peaks(condition),
            rating=self.kit.rating or 0.0,
            isolated_supply=condition is not None and self.isolation_ok(condition.without),
            confirmed=frozenset({"hot"}) if confirmed or self.standing.confirmed else frozenset(),
        )

    def peaks(self, condition: Condition) -> dict[str, float]:
        """Net -> highest volts against the 0 V of its side in any heavy row while on so [V]."""
        return self.table.peak_volts(condition, self.odds)

    def side_is_cold(self, column: Column) -> bool:
        """Both leads on the proven cold side."""
        return all(self.side_of(net) == "cold" for net in (column.red, column.black))

    def may_read(self, function: str, red: str, black: str, condition: Condition | None = None) -> Go | NoGo:
        """Whether this may be read as things stand now. condition: how the set is on, None: it isn't."""
        return may_measure(self.islands, function, red, board=self.board(condition), now=self.now, black=black)

    def may_propose(self, column: Column, condition: Condition | None) -> Go | NoGo:
        """Whether this reading may be on the card on show, as things stand now."""
        return self.may_read(column.function, column.red, column.black, condition)

    def may_take(self, entry: ReadingEntry) -> Go | NoGo:
        """Whether a reading of the dead set that was typed may be taken as things stand now; a no says the line to type first."""
        red, black = entry.red_net or "", entry.black_net or ""
        answer = self.may_read(entry.function or "", red, black)
        sides = {self.side_of(red), self.side_of(black)}
        if answer or {red, black} & self.board().cant:
            return answer
        due = self.recheck(sides)
        caps = due[0] if sides <= self.dead_sides() and due is not None else self.named(sides - self.dead_sides() or sides)
        first = (
            ""
            if sides <= self.dead_sides()
            else {"unplugged": "", "bench": "`bench none`, then "}.get(self.standing.power, "`off`, then ")
        )
        remedy = f"{first}`{self.dead_line(caps)}` with the volts read there"
        return NoGo(answer.reason if isinstance(answer, NoGo) else "", remedy)

    def dead_line(self, caps: Sequence[HeavyCap]) -> str:
        """The line to type once the volts at these were read; the source in front where this meter has shown none yet."""
        source = "" if self.meter_proven() else "9V "
        return f"dead {source}" + " ".join(f"{cap.name} 0.3V" for cap in caps)

    def allowed(self, columns: Sequence[Column], powered: Sequence[Condition], go_on: Mapping[str, bool]) -> list[int]:
        """Columns that this bench can read and that safety lets be read once their state is reached, all that it asks done.

        powered: conditions that the columns are of. go_on: state -> whether it may be switched on so.
        """
        can = functions_available(self.kit)
        boards = {c.key: self.board(c, confirmed=True) for c in powered if go_on.get(c.key, False)}
        fed = {c.key: c for c in powered if c.fed is not None}  # ohms on its dead side, volts on the other: as things stand
        on = Islands({side: Island("on") for side in self.sides})
        dead = Islands({side: Island("dead", (), proven=self.now, first=self.now) for side in self.sides})
        cold = self.board()

        def may(c: Column) -> bool:
            if c.state in fed:
                return bool(self.may_read(c.function, c.red, c.black, fed[c.state]))
            state, board = (on, boards[c.state]) if c.live else (dead, cold)
            return bool(may_measure(state, c.function, c.red, board=board, now=self.now, black=c.black))

        return [
            i
            for i, c in enumerate(columns)
            if c.function in can
            and (not c.live or c.state in boards)
            and may(c)
            and (not c.live or self._pair_peak(c, powered) <= (self.kit.rating or 0.0))
        ]

    def _pair_peak(self, column: Column, powered: Sequence[Condition]) -> float:
        """Highest volts between the two leads in any heavy row [V], what the meter itself has to stand; NaN where not solved."""
        solved = self.table.nominal(next(c for c in powered if c.key == column.state))
        rows = reckoned_with(self.odds)
        return float(solved.peak(column.red, column.black)[rows].max())

    def condition(self) -> Condition:
        """On as it would be, or is, with what is pressed, in series and unplugged."""
        s = self.standing
        return Condition(True, s.pressed, s.lamp, s.unplugged, dummy=s.dummy)
