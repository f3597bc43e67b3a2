"""The power state of every side, from what the log says happened: safety.Islands, fed in order."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from halfsplit.jobs.safety import Go, Island, Islands, NoGo, bench_off, bench_on, prove_dead, saw_volts
from halfsplit.jobs.standing import Happened

METER = "the meter"  # one job, one meter
Volts = Mapping[str, float]


@dataclass(frozen=True)
class Places:
    """What the events need of the board.

    sides: side -> capacitor to be read -> volts that a heavy explanation leaves on it [V], inf where not known.
    at: event -> side -> capacitor -> volts it read there. known: event -> volts a reading had to show on the set while on, None
    where nobody can say. side_of: net -> side.
    """

    sides: Mapping[str, Volts]
    at: Callable[[Happened], Mapping[str, Volts]]
    known: Callable[[Happened], float | None]
    side_of: Callable[[str], str]


@dataclass(frozen=True)
class Power:
    """islands after the last event; answers: side -> what the last `dead` came to there, empty after anything else."""

    islands: Islands
    answers: Mapping[str, Go | NoGo]


def power_of(happened: Sequence[Happened], places: Places) -> Power:
    """Everything that happened, in order, with the capacitors that have to be read as they are known now."""
    state = Islands({name: Island(named=tuple(caps)) for name, caps in places.sides.items()})
    answers: Mapping[str, Go | NoGo] = {}
    for event in happened:
        answers = {}
        if event.kind == "on":
            state = state.plugged_in()
        elif event.kind == "off":
            state = state.unplugged()
        elif event.kind == "sitting":
            state = state.forgotten()
        elif event.kind == "bench":
            state = _bench(state, event, places)
        elif event.kind == "meter" and event.before is not None and event.known is not None:
            state = state.meter_showed(METER, read=event.before, known=event.known, now=event.at)
        elif event.kind == "read":
            state = _read(state, event, places)
        elif event.kind == "dead":
            state, answers = _dead(state, event, places)
    return Power(state, answers)


def _dead(state: Islands, event: Happened, places: Places) -> tuple[Islands, Mapping[str, Go | NoGo]]:
    """Live, dead, live: the source before, the capacitors of each side, the source after."""
    if event.before is not None:
        state = state.meter_showed(METER, read=event.before, known=event.before, now=event.at)
    answers: dict[str, Go | NoGo] = {}
    for side, volts in places.at(event).items():
        state, answers[side] = prove_dead(state, side, volts, meter=METER, now=event.at, expected=places.sides[side])
    if event.after is not None:
        state = state.meter_showed(METER, read=event.after, known=event.after, now=event.at)
    return state, answers


def _read(state: Islands, event: Happened, places: Places) -> Islands:
    """A reading on the set proves the meter while on, and says what a capacitor holds while off."""
    if event.taken is None or event.taken.entry.value is None:
        return state
    known = places.known(event)
    if known is not None:
        state = state.meter_showed(METER, read=event.taken.entry.value, known=known, now=event.at)
    for side, volts in places.at(event).items():
        for name, v in volts.items():
            state = saw_volts(state, side, name, v)
    return state


def _bench(state: Islands, event: Happened, places: Places) -> Islands:
    if event.net is not None:
        return bench_on(state, places.side_of(event.net))
    for name, side in state.sides.items():
        state = bench_off(state, name) if side.power == "bench" else state
    return state
