"""Which mistakes at the bench may lie behind the readings of a job: those that the columns show, and those that the circuit, the
grounds and the conditions show. Nothing is solved for it: a condition counts that was solved already."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np

from halfsplit.circuit.islands import islands_of
from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis.columns import DEAD, Condition, make_column
from halfsplit.diagnosis.elsewhere import ACROSS, Really
from halfsplit.diagnosis.mistakes import Mistake, standard_mistakes
from halfsplit.diagnosis.outlook import Column, Outlook
from halfsplit.diagnosis.scale import VOLTS
from halfsplit.diagnosis.slips import Slip, put_wrong
from halfsplit.jobs.table import Acts, Table
from halfsplit.solver.powered import Powered


def job_mistakes(
    outlook: Outlook, table: Table, columns: Sequence[int], read_in: Mapping[str, Condition], lamps: Iterable[float]
) -> tuple[Mistake | Slip, ...]:
    """Every mistake worth a thought.

    columns: those that were read. read_in: state of a column -> the condition it stands for. lamps: those in series at any time.
    """
    live = [i for i in sorted(set(columns)) if outlook.columns[i].live and outlook.columns[i].state in read_in]
    return (
        *standard_mistakes(outlook),
        *_other_ground(outlook, table, live, sorted(set(columns))),
        *_other_conditions(outlook, table, live, read_in, lamps),
        *_after_a_trip(outlook, table, live, read_in),
        *put_wrong(outlook, table.circuit, columns),
    )


def _other_ground(outlook: Outlook, table: Table, live: Sequence[int], read: Sequence[int]) -> list[Mistake]:
    """The black lead is still on the 0 V of the other side; of ohms and diode tests what stands there is solved, which costs little."""
    circuit = table.circuit
    islands, out = islands_of(circuit), []
    place = {(c.function, c.red, c.black, c.state): i for i, c in enumerate(outlook.columns)}
    cold = [i for i in read if outlook.columns[i].state == DEAD and outlook.columns[i].function in ("r", "d")]
    for side, ground in circuit.grounds.items():
        there: dict[int, Really] = {}
        for i in (*live, *cold):
            c = outlook.columns[i]
            if c.black not in circuit.grounds.values() or ground in (c.black, c.red):
                continue
            at = place.get((c.function, c.red, ground, c.state))
            if c.function in VOLTS:
                there[i] = ACROSS if at is None or islands.get(c.red) != side else at
            elif i in cold:
                there[i] = _cold(table, c, ground) if at is None else at
        if there:
            ask = f"was the black lead on {ground}?"
            out.append(Mistake(f"black on {ground}", ask, there, share=2.0 / len(circuit.grounds), type=f"black was {ground}"))
    return out


def _cold(table: Table, column: Column, ground: str) -> np.ndarray:
    """(rows,) what this reading would show with black on that ground, at nominal values."""
    other = make_column(column.function, column.red, ground, DEAD, where=f"{column.red} to {ground}")
    return np.asarray(table.extra(other, Condition(False), Acts()).value[:, 0, 0])


def _other_conditions(
    outlook: Outlook, table: Table, live: Sequence[int], read_in: Mapping[str, Condition], lamps: Iterable[float]
) -> list[Mistake]:
    """The set stood otherwise than was said: lamp, one control, one load."""
    place = {(c.function, c.red, c.black, c.state): i for i, c in enumerate(outlook.columns)}
    loads = {ref for c in read_in.values() for ref in c.without}
    found: dict[tuple[str, str, str], dict[int, Really]] = {}
    for i in live:
        column = outlook.columns[i]
        if column.function not in VOLTS:
            continue
        for words, other in _neighbours(read_in[column.state], table.circuit, lamps, loads):
            at = place.get((column.function, column.red, column.black, other.key))
            values = None if at is not None else _solved(table, other, column.red, column.black, column.function)
            if at is not None or values is not None:
                found.setdefault(words, {})[i] = at if at is not None else values
    return [Mistake(name, ask, there, share=0.5, type=line) for (name, ask, line), there in found.items()]


def _neighbours(
    now: Condition, circuit: Circuit, lamps: Iterable[float], loads: Iterable[str]
) -> list[tuple[tuple[str, str, str], Condition]]:
    """Conditions that differ from this one in one thing: (name, question, line to type), condition."""
    out: list[tuple[tuple[str, str, str], Condition]] = []
    if now.lamp is not None:
        out.append((("lamp not in", "was the lamp really in series?", "lamp none"), replace(now, lamp=None)))
    for watts in sorted({w for w in lamps if w != now.lamp}):
        out.append((("lamp still in", f"was the {watts:g} W lamp in series?", f"lamp {watts:g}"), replace(now, lamp=watts)))
    for word in sorted(now.pressed):
        out.append(((f"{word} off", f"was {word} really on?", ""), replace(now, pressed=now.pressed - {word})))
    for word in sorted(set(circuit.controls) - now.pressed):
        out.append(((f"{word} on", f"was {word} on all the same?", ""), replace(now, pressed=now.pressed | {word})))
    for ref in sorted(loads):
        off = ref in now.without
        ask = f"was {ref} plugged in all the same?" if off else f"was {ref} unplugged?"
        out.append(((f"{ref} {'in' if off else 'off'}", ask, ""), replace(now, without=now.without ^ {ref})))
    return out


def _after_a_trip(outlook: Outlook, table: Table, live: Sequence[int], read_in: Mapping[str, Condition]) -> list[Mistake]:
    """After a trip the controller may stay off until its supply has died away: what a hiccup shows while it waits, and no more."""
    there: dict[int, Really] = {}
    for i in live:
        column = outlook.columns[i]
        if column.function != "v":
            continue
        waiting = _solved(table, read_in[column.state], column.red, column.black, "min")
        if waiting is not None and outlook.pulsing[:, i].any():
            there[i] = np.where(outlook.pulsing[:, i], waiting, np.nan)
    ask = "has it tripped and stayed off? unplug it, wait until it is dead, switch on and read MAX in the first second"
    return [Mistake("latched", ask, there, share=0.5)] if there else []


def _solved(table: Table, condition: Condition, red: str, black: str, function: str) -> np.ndarray | None:
    """(rows,) what every explanation shows there at nominal values; None where that condition was never solved."""
    solved: Powered | None = table.solved.powered.get((Acts(), condition.key))
    if solved is None or not {red, black} <= set(solved.solved.network.nets):
        return None
    return solved.reading(red, black, function)
