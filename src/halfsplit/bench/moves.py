"""Which lines only the device that holds the probes may enter, and which want a set that somebody knows to be dead."""

from __future__ import annotations

from halfsplit.errors import InputError
from halfsplit.jobs.entry import AnswerEntry, Entry, ReadingEntry, StateEntry, Sticky, StrikeEntry, parse_line
from halfsplit.jobs.fold import amendments
from halfsplit.jobs.job import Job
from halfsplit.jobs.log import LogLine
from halfsplit.jobs.safety import COLD_FUNCTIONS

MOVES_POWER = {"off", "on", "dead", "meter", "bench", "lamp", "press", "release"}


def wants_dead(entries: tuple[Entry, ...]) -> bool:
    """Ohms and the like."""
    return any(isinstance(e, ReadingEntry) and e.function in COLD_FUNCTIONS for e in entries)


def moves_power(entries: tuple[Entry, ...]) -> bool:
    """Whether a line says how the set stands, or says yes to a list that leads there."""
    return any(isinstance(e, AnswerEntry) or (isinstance(e, StateEntry) and e.kind in MOVES_POWER) for e in entries)


def strikes_power(job: Job, line: str, entries: tuple[Entry, ...]) -> bool:
    """Whether a strike, in the end, takes a line back that moved the power, or brings one back."""
    if not any(isinstance(e, StrikeEntry) for e in entries):
        return False
    lines = job.log.lines()
    strikes = amendments((*lines, LogLine(len(lines) + 1, job.clock(), line)))[2]
    number = len(lines) + 1
    while number in strikes:
        number = strikes[number]
    text = next((x.text for x in lines if x.number == number), "")
    try:
        return moves_power(parse_line(text, job.standing.names, Sticky()))
    except InputError:
        return False
