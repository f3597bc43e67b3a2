"""What has to be done before a reading may be taken: power, proof of dead, legs up, the going-live list."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from halfsplit.diagnosis.columns import ALONE, DEAD, Condition, unplugged_in
from halfsplit.diagnosis.outlook import Column
from halfsplit.jobs.cards import (
    Card,
    act_card,
    bench_off_card,
    confirm_card,
    dead_card,
    meter_card,
    off_card,
    on_card,
    recheck_card,
)
from halfsplit.jobs.gate import Gate

A_READING = 20.0  # [s] a reading with the black lead clipped (bench estimate of the trade: 15 to 30 s)
TYPING = 10.0  # [s] and as long to type the round (bench estimate)


def to_dead(gate: Gate, sides: Collection[str]) -> Card:
    """The next act on the way to these sides being proven dead."""
    if gate.standing.power in ("on", "unknown"):
        return off_card()
    if gate.standing.power == "bench":
        return bench_off_card()
    if gate.waiting(sides):
        return meter_card()
    return dead_card(gate, sides)


def sides_of(gate: Gate, columns: Sequence[Column]) -> frozenset[str]:
    """The sides that these readings touch."""
    return frozenset(gate.side_of(net) for c in columns for net in (c.red, c.black))


def in_time(gate: Gate, columns: Sequence[Column]) -> int:
    """How many of these ohms can be read, one after the other, before a charged side has to be looked at again."""
    due = gate.recheck(sides_of(gate, columns))
    return len(columns) if due is None else min(len(columns), max(0, int((due[1] - TYPING) // A_READING)))


def way_there(gate: Gate, columns: Sequence[Column], powered: Sequence[Condition]) -> Card | None:
    """The act that comes before these readings, all of one state; None where they may be taken at once."""
    first = columns[0]
    if first.live:
        return _way_live(gate, columns, next(c for c in powered if c.key == first.state))
    missing = sides_of(gate, columns) - gate.dead_sides()
    if missing:
        return to_dead(gate, missing)
    refs = gate.standing.acts.refs
    if first.state == ALONE and first.part not in refs:
        return _off_the_board(gate, first)
    if first.state.startswith(DEAD) and refs:
        return _refit(refs[0])
    if first.state.startswith(DEAD):
        for load in sorted(unplugged_in(first.state) - gate.standing.unplugged):
            return act_card(f"unplug {load}", f"unplug {load} at its connector: what is left then reads by itself", 0.4, "H0")
    due = gate.recheck(sides_of(gate, columns))
    if due is not None and in_time(gate, columns) == 0:
        return recheck_card(*due)
    return None


def _way_live(gate: Gate, columns: Sequence[Column], wanted: Condition) -> Card | None:
    s = gate.standing
    if wanted.fed is not None:
        return None  # it is read while the bench supply is on, or not at all
    for load in sorted(wanted.without - s.unplugged):
        if s.power == "on":
            return off_card()
        return act_card(
            f"unplug {load}", f"unplug {load} at its connector: the rest then fits on the isolation transformer", 0.4, "H0"
        )
    if s.acts.refs:
        return _refit(s.acts.refs[0], " before power")
    if s.power == "bench":
        return bench_off_card()
    hot = next((c for c in columns if not gate.side_is_cold(c)), None)
    if s.power != "on":
        return on_card(gate, Condition(True, s.pressed & wanted.pressed, s.lamp, s.unplugged, dummy=s.dummy), hot or columns[0])
    for word in sorted(wanted.pressed - s.pressed):
        return act_card(f"press {word}", f"press {word} and keep it so", 0.2, "H3")
    for word in sorted(s.pressed - wanted.pressed):
        return act_card(f"release {word}", f"release {word}", 0.2, "H3")
    return confirm_card(gate, wanted, hot) if hot is not None and not s.confirmed else None


def _refit(ref: str, why: str = "") -> Card:
    return act_card(f"refit {ref}", f"refit {ref}{why}", 3.0, "H0")


def _off_the_board(gate: Gate, column: Column) -> Card:
    if gate.standing.acts.refs:
        return _refit(gate.standing.acts.refs[0], " first")
    part = gate.circuit.part(column.part or "")
    if len(part.pins) == 2:
        pin = next(iter(part.pins))
        return act_card(f"lift {part.ref}.{pin}", f"lift one leg of {part.ref}: in circuit its neighbours hide it", 3.0, "H0")
    return act_card(
        f"remove {part.ref}",
        f"take {part.ref} off the board: in circuit its neighbours hide it",
        3.0 + 0.5 * len(part.pins),
        "H0",
    )
