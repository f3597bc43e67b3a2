"""What may be done with the hands, decided by pure functions on frozen data before a card is shown.

Every answer is Go or NoGo; NoGo says the reason and the remedy. What is not known is a no. `off` is never `dead`.
The clock is an argument [s]; nothing here reads it, learns, or can be lowered from outside.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from halfsplit.circuit.model import Circuit
from halfsplit.errors import InputError, UnknownName
from halfsplit.jobs.refusals import check_act as check_act
from halfsplit.jobs.refusals import check_sheet_edit as check_sheet_edit

DEAD_VOLTS = 10.0  # [V] common practice: verify < 10 V before hands and ohms
ZERO_VOLTS = 0.05  # [V] what a display with one decimal shows as 0.0: also what an open lead shows
DEAD_LASTS = 1800.0  # [s] 30 min, the project's safety rules, no. 2
KNOWN_VOLTS = 5.0  # [V] from here on a known voltage proves a meter
RECOVERY = 60.0  # [s] dielectric recovery of several %: verify again after 1 min (common practice)
PROOF_WITHIN = 120.0  # [s] the second "live" of live-dead-live follows the reading it vouches for
SELV_VOLTS = 60.0  # [V] H1 ends here (trade convention; also ES1 dc of IEC 62368-1, recalled)
COLD_OHMS = 1e6  # [ohm] L and N to the cold 0 V, both above
HEAVY_ODDS = 0.01  # a row above 1 % counts in every safety decision

COLD_FUNCTIONS = frozenset({"r", "d", "c", "esr"})
VOLT_FUNCTIONS = frozenset({"v", "ac", "max", "min", "hz"})
CURRENT_FUNCTIONS = frozenset({"a", "ma", "i"})
LOOK_FUNCTIONS = frozenset({"look", "count", "temp"})
POWERS = ("unknown", "unplugged", "dead", "on", "bench")


@dataclass(frozen=True)
class Go:
    """Yes. note: what has to be said all the same."""

    note: str = ""

    def __bool__(self) -> bool:
        return True


@dataclass(frozen=True)
class NoGo:
    """No. reason names the part or node; remedy is what makes it possible, or that nothing does."""

    reason: str
    remedy: str = ""

    def __bool__(self) -> bool:
        return False

    def __str__(self) -> str:
        return f"{self.reason}; {self.remedy}" if self.remedy else self.reason


# ---- power and proof of each island

_LAPSED: Mapping[str, object] = {"power": "unplugged", "proven": None, "first": None, "rechecked": False, "waiting": None}


@dataclass(frozen=True)
class Island:
    """One side of the boundary. named: capacitors to be read before it can be dead, None while nobody has worked them out.

    charged: highest volts on each since the last power: seen, or held to be likely on a side that was fed. last: last volts.
    proven, first: times of the latest and the first proof [s]. fed: it had power in this job, or may have had it between two sittings.
    """

    power: str = "unknown"
    named: tuple[str, ...] | None = None
    charged: Mapping[str, float] = field(default_factory=dict)
    last: Mapping[str, float] = field(default_factory=dict)
    proven: float | None = None
    first: float | None = None
    rechecked: bool = False
    waiting: tuple[float, str] | None = None  # time and meter of zeros that a second "live" would make good
    fed: bool = False

    @property
    def recovering(self) -> tuple[str, ...]:
        """Capacitors that were really charged: some of it creeps back after they were emptied."""
        return tuple(name for name, volts in self.charged.items() if not volts < DEAD_VOLTS)


@dataclass(frozen=True)
class Islands:
    """All sides. known: meter -> when it last showed a voltage that was known beforehand [s]."""

    sides: Mapping[str, Island]
    known: Mapping[str, float] = field(default_factory=dict)

    def side(self, name: str) -> Island:
        if name not in self.sides:
            raise UnknownName("island", name, self.sides)
        return self.sides[name]

    def _with(self, name: str, **changes: object) -> Islands:
        return replace(self, sides={**self.sides, name: replace(self.side(name), **changes)})  # type: ignore[arg-type]

    def _all(self, power: str) -> Islands:
        return replace(
            self, sides={n: Island(power, s.named, fed=s.fed or power in ("on", "unknown")) for n, s in self.sides.items()}
        )

    def power(self, name: str, now: float) -> str:
        """unknown, unplugged, dead, on or bench; dead only as long as the proof holds. A clock gone backwards ends it."""
        side = self.side(name)
        if side.power == "dead" and (side.proven is None or not 0 <= now - side.proven <= DEAD_LASTS):
            return "unplugged"
        return side.power

    def recheck_due(self, name: str, now: float) -> bool:
        """Whether the minute of recovery is over and what was really charged was not read again."""
        due = self.recheck_at(name)
        return due is not None and now >= due

    def recheck_at(self, name: str) -> float | None:
        """When a dead side has to be read again [s]; None where nothing on it was charged, or it was read again already."""
        side = self.side(name)
        if side.power != "dead" or side.rechecked or side.first is None or not side.recovering:
            return None
        return side.first + RECOVERY

    def plugged_in(self) -> Islands:
        """Plugged in or switched on, wherever the switch stands: every side is live and every proof gone."""
        return self._all("on")

    def unplugged(self) -> Islands:
        """Switched off and pulled out. Not dead: the bulk of a dead supply holds for minutes. A bench supply is off with it."""
        return self._all("unplugged")

    def forgotten(self) -> Islands:
        """A new sitting, a reload or a lost connection: nothing is known, and no meter is proven."""
        return replace(self._all("unknown"), known={})

    def needing(self, name: str, capacitors: Collection[str]) -> Islands:
        """These capacitors have to be read on this side. One more than was read ends the proof."""
        side = self.side(name)
        names = tuple(dict.fromkeys(capacitors))
        unread = any(not abs(side.last.get(cap, math.inf)) < DEAD_VOLTS for cap in names)
        return self._with(
            name, named=names, **(_LAPSED if unread and side.power == "dead" else {"waiting": None} if unread else {})
        )

    def meter_showed(self, meter: str, *, read: float, known: float, now: float) -> Islands:
        """The meter showed a voltage known beforehand (proving unit, battery, the inlet while on). Within 10 %, at least 5 V."""
        if not (math.isfinite(read) and abs(known) >= KNOWN_VOLTS and abs(read - known) <= 0.1 * abs(known)):
            return self
        state = replace(self, known={**self.known, meter: now})
        for name, side in state.sides.items():
            if (
                side.waiting
                and side.waiting[1] == meter
                and 0 <= now - side.waiting[0] <= PROOF_WITHIN
                and side.power == "unplugged"
            ):
                state = state._dead(name, side.waiting[0])  # dead since the zeros were read, not since they were made good
        return state

    def _dead(self, name: str, now: float) -> Islands:
        side = self.side(name)
        first = side.first if side.first is not None and 0 <= now - side.first <= DEAD_LASTS else now
        rechecked = first == side.first and (side.rechecked or now - first >= RECOVERY)
        return self._with(name, power="dead", proven=now, first=first, rechecked=rechecked, waiting=None)


def saw_volts(state: Islands, island: str, capacitor: str, volts: float) -> Islands:
    """Any volts reading at a named capacitor: remembers that it was charged; 10 V or more on a dead side ends the proof."""
    side = state.side(island)
    top = max(side.charged.get(capacitor, 0.0), abs(volts))
    alive = not abs(volts) < DEAD_VOLTS
    changes = (_LAPSED if side.power == "dead" else {"waiting": None}) if alive else {}
    return state._with(island, charged={**side.charged, capacitor: top}, last={**side.last, capacitor: volts}, **changes)


def prove_dead(
    state: Islands,
    island: str,
    volts: Mapping[str, float],
    *,
    meter: str,
    now: float,
    expected: Mapping[str, float] | None = None,
) -> tuple[Islands, Go | NoGo]:
    """Take the volts read at each named capacitor as the proof that a side is dead.

    On a side that is dead already, those that were really charged are enough: that is the second look after a minute, and
    the half hour goes on from the whole proof.

    Parameters: volts, capacitor -> read [V]; meter, whose; now [s]; expected, capacitor -> volts it may still hold [V].
    Returns: the new state (readings count even when it is a no) and Go or NoGo.
    """
    before = state.side(island)
    if before.power in ("on", "unknown", "bench"):
        return state, NoGo(f"the {island} side is {before.power}, not unplugged", "pull the plug and say `off` first")
    if before.named is None:
        return state, NoGo(f"which capacitors of the {island} side hold a charge has not been worked out", "name them first")
    again = state.power(island, now) == "dead" and bool(before.recovering) and set(before.recovering) <= volts.keys()
    missing = [] if again else [name for name in before.named if name not in volts]
    missing += [name for name, v in before.last.items() if name not in volts and name not in missing and abs(v) >= DEAD_VOLTS]
    if missing or not volts:
        return state, NoGo(
            f"no volts read at {', '.join(missing) or 'any point of this side'}", "read DC volts there: dead NAME VOLTS"
        )
    strange = [name for name, v in volts.items() if not math.isfinite(v)]
    if strange:
        return state, NoGo(f"{strange[0]} has no volts", "a number is needed, OL is none")
    new = state
    for name, v in volts.items():
        new = saw_volts(new, island, name, v)
    if before.fed:
        new = _held_charged(new, island, expected or {})
    worst = max(volts, key=lambda name: abs(volts[name]))
    if abs(volts[worst]) >= DEAD_VOLTS:
        return new, NoGo(
            f"{worst} holds {volts[worst]:.3g} V", "discharge it through the tool, then read again; under 10 V is wanted"
        )
    shown = state.known.get(meter)
    if shown is None or not 0 <= now - shown <= DEAD_LASTS:
        return new, NoGo(
            "this meter has not shown a known voltage yet",
            "read a source you know, then the capacitors, then the source again: `dead 9V NAME VOLTS 9V`",
        )
    doubted = [name for name, v in volts.items() if _open_lead_would_show(name, v, before, expected or {})]
    if doubted:
        return new._with(island, power="unplugged", waiting=(now, meter)), NoGo(
            f"0.0 V at {doubted[0]}, which was charged: an open lead shows the same",
            "read the known source again with the same leads, within two minutes",
        )
    if again and not set(before.named) <= volts.keys():
        late = before.first is not None and now - before.first >= RECOVERY
        return new._with(island, rechecked=before.rechecked or late), Go()
    return new._dead(island, now), Go("read again after one minute: capacitors recover")


def _held_charged(state: Islands, island: str, expected: Mapping[str, float]) -> Islands:
    """After power a capacitor counts as charged to what a likely explanation puts on it, whoever emptied it unseen."""
    side = state.side(island)
    top = {name: max(side.charged.get(name, 0.0), abs(v)) for name, v in expected.items()}
    return state._with(island, charged={**side.charged, **top})


def _open_lead_would_show(name: str, volts: float, before: Island, expected: Mapping[str, float]) -> bool:
    """Exact zero on a capacitor that was or may be charged. A low reading before it, still falling, is trusted."""
    if abs(volts) >= ZERO_VOLTS:
        return False
    was = max(before.charged.get(name, 0.0), abs(expected.get(name, 0.0)))
    falling = ZERO_VOLTS <= abs(before.last.get(name, 0.0)) < DEAD_VOLTS
    return was >= DEAD_VOLTS and not falling


# ---- readings


@dataclass(frozen=True)
class Board:
    """What the gates need to know of the board. A net left out of a mapping is not known: hot, and of unknown volts.

    island_of: net -> side. proven_cold: sides read as isolated. switching, cant: nets no meter may touch, no probe reaches.
    peak: net -> highest volts against its ground in any heavy row, lamp and lifted legs as they stand [V].
    rating: what the meter stands, from the kit [V]. isolated_supply: the set hangs on an isolation transformer.
    confirmed: sides or nets whose going-live list was said yes to, this power cycle.
    """

    island_of: Mapping[str, str]
    proven_cold: frozenset[str] = frozenset()
    switching: frozenset[str] = frozenset()
    cant: frozenset[str] = frozenset()
    peak: Mapping[str, float] = field(default_factory=dict)
    rating: float = 0.0
    isolated_supply: bool = False
    confirmed: frozenset[str] = frozenset()

    def side(self, net: str) -> str:
        return self.island_of.get(net, "hot")

    def is_cold(self, net: str) -> bool:
        return self.side(net) in self.proven_cold and self.side(net) != "hot"


def may_measure(state: Islands, function: str, net: str, *, board: Board, now: float, black: str | None = None) -> Go | NoGo:
    """Whether this reading may be proposed or taken. net: red; black: where the black lead sits, None if not said."""
    nets = (net,) if black is None else (net, black)
    powers = {n: state.power(board.side(n), now) for n in nets}
    for n in nets:
        if n in board.cant and function not in LOOK_FUNCTIONS:
            return NoGo(f"no probe reaches {n}", "read the same node elsewhere")
    if function in LOOK_FUNCTIONS:
        return Go()
    if function in COLD_FUNCTIONS:
        return _may_read_cold(state, function, powers, board=board, now=now)
    if function in CURRENT_FUNCTIONS:
        return _may_read_current(net, powers, board)
    if function not in VOLT_FUNCTIONS:
        raise UnknownName("meter function", function, sorted(COLD_FUNCTIONS | VOLT_FUNCTIONS | CURRENT_FUNCTIONS))
    return _may_read_volts(nets, powers, board)


def _may_read_cold(state: Islands, function: str, powers: Mapping[str, str], *, board: Board, now: float) -> Go | NoGo:
    for n, power in powers.items():
        side = board.side(n)
        if power != "dead":
            names = ", ".join(state.side(side).named or ()) or f"the capacitors of the {side} side"
            remedy = f"off, then dead: read the volts at {names}"
            return NoGo(f"{function} at {n}: the {side} side is {power}, not proven dead", remedy)
        if state.recheck_due(side, now):
            return NoGo(
                f"{function} at {n}: a minute is over since the {side} side was dead",
                "read its capacitors once more: they recover",
            )
    return Go()


def _may_read_current(net: str, powers: Mapping[str, str], board: Board) -> Go | NoGo:
    if not board.is_cold(net) or any(power not in ("bench", "dead", "on") for power in powers.values()):
        return NoGo(f"current in series at {net} on the mains side", "read the volts across a resistor you know, and divide")
    return Go()


def _may_read_volts(nets: tuple[str, ...], powers: Mapping[str, str], board: Board) -> Go | NoGo:
    if "unknown" in powers.values():
        return NoGo("how the set stands is not known", "say `off` when it is unplugged, or `on`")
    live = [n for n, power in powers.items() if power in ("on", "bench")]
    for n in live:
        if n in board.switching:
            return NoGo(
                f"{n} switches at hundreds of volts a microsecond: a meter there lies or dies", "read a node beside it, or cold"
            )
        if n not in board.peak or not math.isfinite(board.peak[n]):
            return NoGo(f"the highest volts at {n} are not known", "solve first, or stay cold")
        if abs(board.peak[n]) > board.rating:
            return NoGo(f"{n} may reach {abs(board.peak[n]):.0f} V peak, the meter stands {board.rating:.0f} V", "stay cold")
        if powers[n] == "on" and not board.is_cold(n):
            if not board.isolated_supply:
                return NoGo(f"{n} is on the mains side and there is no isolation transformer", "stay cold, or read the cold side")
            if not {n, board.side(n)} & board.confirmed:
                return NoGo(f"{n} is on the mains side", "say yes to the going-live list first")
    return Go()


# ---- hazard, and the words for it


def hazard(net: str, volts: float | None, *, proven_cold: bool, dead: bool, energy: float | None = None) -> str:
    """H0 dead .. H3 mains side live or not proven dead. volts: highest there, None not known; energy: stored behind it [J]."""
    if dead:
        return "H0"
    if not proven_cold:
        return "H3"
    harmless = volts is not None and abs(volts) <= SELV_VOLTS and (energy is None or energy < 10.0)
    return "H1" if harmless else "H2"  # 10 J: can burn (general practice, recalled in the limits table)


def caution(net: str, volts: float | None, level: str, *, lead: str = "") -> str:
    """The one caution at the moment it matters: names the lead, the node and the volts."""
    where = f"{lead} ({net})" if lead else net
    said = "volts not known" if volts is None else f"{abs(volts):.0f} V"
    return {
        "H0": "",
        "H1": f"{where}: {said}, isolated. Don't slip across its neighbours.",
        "H2": f"{where}: {said}, isolated, enough to burn. One probe clipped.",
        "H3": f"{where}: {said}, mains side. It can kill. One hand, one probe clipped before power.",
    }[level]


def live_card_confirm(
    net: str,
    volts: float | None,
    *,
    black: str,
    capacitors: Mapping[str, float | None],
    transformer_va: float | None,
    set_watts: float,
) -> tuple[str, ...]:
    """What has to be true before a live card on the mains side, each a line to be said yes to.

    capacitors: place -> volts it will hold while on and after, None not known. Raises InputError if isolation can't be had:
    then no such card exists.
    """
    if transformer_va is None or not transformer_va >= 2 * set_watts:
        have = "no isolation transformer" if not transformer_va else f"an isolation transformer of {transformer_va:.0f} VA"
        raise InputError(
            f"{have} for a set of {set_watts:.0f} W: no mains-side card. Stay cold, or put a dummy in place of the load"
        )
    held = [
        f"{name} holds {'unknown volts' if v is None else f'{abs(v):.0f} V'}, and keeps it after the plug is out"
        for name, v in capacitors.items()
    ]
    return (
        f"The set alone hangs on the isolation transformer ({transformer_va:.0f} VA); nothing on it is earthed.",
        "An RCD upstream does not protect here.",
        f"The black lead is clipped on {black} before power; one hand only, eyes shielded.",
        f"{net} may show {'unknown volts' if volts is None else f'{abs(volts):.0f} V'}.",
        *held,
        "I am competent and permitted to work on live equipment where I am.",
    )


# ---- the cold side

_OPENS_BOUNDARY = "it shows topology, not the strength of the insulation"


def boundary_parts(circuit: Circuit, claims: Collection[str]) -> tuple[str, ...]:
    """Parts with a pin on each side of the claimed boundary; what a person has to name by eye."""
    cold = set(claims)
    return tuple(p.ref for p in circuit.parts if 0 < sum(net in cold for net in p.pins.values()) < len(p.pins))


def prove_cold(
    expected: Collection[str], named: Collection[str], *, ohms_l: float | None, ohms_n: float | None, breach_odds: float | None
) -> Go | NoGo:
    """Whether a claimed side counts as isolated.

    expected: boundary_parts; named: those named by eye; ohms_l, ohms_n: L and N to its 0 V, dead [ohm], inf = OL, None not read;
    breach_odds: odds of the rows that join the sides (shorted Y capacitor, tracking, failed opto), None not worked out.
    """
    unseen = sorted(set(expected) - set(named))
    if not expected or unseen:
        return NoGo(
            f"boundary parts not named by eye: {', '.join(unseen) or 'none is on the sheet'}",
            "follow the gap and name each part across it",
        )
    for pin, ohms in (("L", ohms_l), ("N", ohms_n)):
        if ohms is None or math.isnan(ohms):
            return NoGo(f"{pin} to this 0 V has not been read", "both dead, ohms from the plug to it; above 1 Mohm is wanted")
        if not ohms > COLD_OHMS:
            return NoGo(f"{pin} to this 0 V reads {ohms:.3g} ohm: it is joined to the mains", "treat it as hot")
    if breach_odds is None or not breach_odds <= HEAVY_ODDS:
        return NoGo("a fault that joins this side to the mains is not out", "clear the Y capacitor, the opto and the gap first")
    return Go(_OPENS_BOUNDARY)


# ---- switching on


@dataclass(frozen=True)
class Damage:
    """One heavy row, solved with the acts as they stand: what a part is put to. None: not known."""

    part: str
    rating: str
    unit: str
    limit: float | None
    stress: float | None
    odds: float
    row: str = ""


@dataclass(frozen=True)
class Waiver:
    """Written consent: only for a cause not found. name and reason are kept in the log."""

    name: str
    reason: str

    @property
    def stands(self) -> bool:
        return bool(self.name.strip()) and len(self.reason.split()) >= 2


@dataclass(frozen=True)
class SwitchOn:
    """Facts for the switch. solved: the damage rows were worked out with the acts, lamp and loads as they stand.

    Default values are the unknown ones, so that what is forgotten is a no. set_watts: of the set as it stands (a dummy
    counts as itself). isolated: it is to hang on the isolation transformer. cold_gate: all cold checks passed.
    """

    solved: bool = False
    damage: tuple[Damage, ...] = ()
    protectors_out: tuple[str, ...] = ()
    protectors_changed: tuple[str, ...] = ()
    limiters_out: tuple[str, ...] = ()
    refit: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()
    convicted: tuple[str, ...] = ()
    cause_open: bool = True
    waiver: Waiver | None = None
    fitted: tuple[str, ...] = ()
    cold_gate: bool | None = None
    bench_on: bool = False
    isolated: bool = False
    transformer_va: float | None = None
    set_watts: float | None = None


def may_switch_on(facts: SwitchOn) -> Go | NoGo:
    """Whether mains may be put on the set as it stands. The first reason, gravest first."""
    if facts.protectors_out:
        return NoGo(f"{facts.protectors_out[0]} is a protector and is out", "refit it; there is no waiver")
    if facts.protectors_changed:
        return NoGo(
            f"{facts.protectors_changed[0]} is a protector and is bridged or up-rated", "fit the right one; there is no waiver"
        )
    if facts.limiters_out:
        return NoGo(f"{facts.limiters_out[0]} limits the volts or the current and is out", "refit it, or read cold")
    if facts.refit:
        return NoGo(f"still to be refitted: {', '.join(facts.refit)}", f"refit {facts.refit[0]}")
    if facts.bench_on:
        return NoGo("the bench supply is still connected", "take it off first")
    for answer in (_damage_answer(facts), _repair_answer(facts), _source_answer(facts)):
        if answer is not None:  # not `or`: a NoGo is false
            return answer
    return Go("eyes shielded, lid or cover on for the first second")


def _damage_answer(facts: SwitchOn) -> NoGo | None:
    if not facts.solved:
        return NoGo("what would happen to the parts has not been worked out", "solve the heavy rows with the acts as they stand")
    if facts.doubts:
        return NoGo(
            f"{facts.doubts[0]} stands with a question mark and the answer depends on it", "read it off the part, or measure it"
        )
    heavy = [row for row in facts.damage if not row.odds <= HEAVY_ODDS]
    for row in heavy:
        if row.stress is None or row.limit is None or not math.isfinite(row.stress) or math.isnan(row.limit):
            return NoGo(f"{row.part}: its {row.rating} or what it is put to is not known", "give the marking, or stay cold")
        if not abs(row.stress) <= row.limit:
            tale = f" if {row.row}" if row.row else ""
            return NoGo(
                f"{row.part} would be put to {abs(row.stress):.3g} {row.unit} of {row.limit:.3g} {row.unit}{tale}", "stay cold"
            )
    return None


def _repair_answer(facts: SwitchOn) -> NoGo | None:
    if facts.convicted and facts.cause_open and not (facts.waiver and facts.waiver.stands):
        return NoGo(
            f"the cause of {facts.convicted[0]} is open", "clear what could have killed it, or waive in writing: name and reason"
        )
    if facts.fitted and facts.cold_gate is not True:
        return NoGo(f"{facts.fitted[0]} was fitted and the cold gate has not been passed", "do the cold checks first")
    return None


def _source_answer(facts: SwitchOn) -> NoGo | None:
    if not facts.isolated:
        return None
    watts, have = facts.set_watts, facts.transformer_va
    if watts is None or not watts > 0:
        return NoGo("the watts of the set are not known", "read them off the label")
    if have is None or not have >= 2 * watts:
        size = "no isolation transformer" if not have else f"an isolation transformer of {have:.0f} VA"
        return NoGo(f"{size} for {watts:.0f} W; twice the watts is wanted", "plan it cold, or with a dummy in place of the load")
    return None


def may_bench(
    state: Islands,
    island: str,
    *,
    volts: float,
    amps: float,
    healthy: float | None,
    weakest: float | None,
    polarity: bool,
    now: float,
) -> Go | NoGo:
    """Bench DC into one side: unplugged, every other side proven dead, no more volts than healthy, amps from the weakest part.

    healthy: the rail's own volts [V]; weakest: what the weakest part of all heavy rows stands [A]; polarity: said and agreed.
    """
    own = state.power(island, now)
    if own not in ("unplugged", "dead", "bench"):
        return NoGo(f"the set is {own}", "unplug it first")
    others = [name for name in state.sides if name != island and state.power(name, now) != "dead"]
    if others:
        return NoGo(
            f"the {others[0]} side is not proven dead: the bench supply could feed it", f"prove the {others[0]} side dead first"
        )
    if healthy is None or weakest is None:
        return NoGo("the healthy volts or the weakest part are not known", "work them out first")
    if not 0 < volts <= healthy:
        return NoGo(f"{volts:g} V into a rail of {healthy:g} V", f"at most {healthy:g} V, above 0")
    if not 0 < amps <= weakest:
        return NoGo(f"{amps:g} A where the weakest part stands {weakest:g} A", f"set the limit to {weakest:g} A")
    return Go() if polarity else NoGo("the polarity has not been agreed", "say where plus goes")


def bench_on(state: Islands, island: str) -> Islands:
    """The bench supply feeds this side; the proof of the others stands, its own is gone."""
    return state._with(island, power="bench", proven=None, first=None, rechecked=False, waiting=None, fed=True)


def bench_off(state: Islands, island: str) -> Islands:
    """The bench supply is off: its side is unplugged, not dead; the other sides keep their proof."""
    return state._with(island, power="unplugged", proven=None, first=None, rechecked=False, waiting=None)
