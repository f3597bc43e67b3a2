"""Picture: a node's volts over one period of the mains, healthy and under the heaviest suspects. Data with its text twin.

The waveform is the one that every powered reading is taken from: nothing is solved for the picture that the job does not solve
anyway.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from halfsplit.diagnosis.columns import Condition
from halfsplit.jobs.entry_names import own_blacks
from halfsplit.jobs.gate import Gate
from halfsplit.jobs.job import Job, clean
from halfsplit.jobs.picture_words import refused, told_apart
from halfsplit.jobs.predicted_place import condition_now, conditions_known, heaviest, not_yet, untouched, where_of
from halfsplit.jobs.standing import Standing
from halfsplit.parts.base import Array
from halfsplit.solver.powered import Powered
from halfsplit.units import format_quantity

SUSPECTS = 3
STILL = 2e-3  # [V] peak to peak below which there is no ripple to speak of
AVERAGED = "The converter is solved as an average over its switching: ripple at that frequency is not in this picture."
HOT = (
    "Mains side, or not proven isolated: a picture to compare with, not a reading to take; the earth clip of an oscilloscope may "
    "short the mains there."
)
Plain = dict[str, Any]


def waveform(job: Job, red: str, black: str, *, state: str | None = None) -> Plain:
    """Volts between two nets over one period of the mains, all parts at nominal values: a healthy set and the heaviest suspects.

    state: of a card, "on+bake" say, for a set that is not on yet; None: as the set is on now, with its lamp, pressed controls and
    acts.

    Returns red, black, where, state, hertz (mains), ms: (steps,) from the mains' rise through nought; healthy and suspects:
    {"name", "part", "way", "odds", "volts" (steps,) or null where no periodic state was found, "other" (steps,) the second state
    of a display that will not stand still, else null, "mean", "ripple" (peak to peak), "rms" (with its DC), "ac" (without) [V],
    "frequency" of the ripple [Hz] or null}; averaged, caution: words or null; text: the same in words. Where there is nothing to
    show, only refused and text.
    """
    s, advice, table = job.standing, job.advice, job.table
    if advice is None or advice.weighed is None or table is None:
        return refused(not_yet(advice))
    circuit, weighed = table.circuit, advice.weighed
    gate = Gate(s, table, job.kit, weighed.odds if advice.odds is None else advice.odds, 0.0)
    condition = _condition(s, state, conditions_known(s, table, gate), condition_now(s, gate))
    if isinstance(condition, str):
        return refused(condition)
    if why := untouched(circuit, s, red, black, live=True):
        return refused(why)
    solved = table.nominal(condition, replace(s.acts, fresh=frozenset()))
    if not {red, black} <= solved.solved.network.nets.keys():
        return refused(f"{red} to {black} is not in the circuit as it stands on the bench.")
    healthy = {"name": "nothing wrong", "part": None, "way": None, "odds": weighed.post.nothing_wrong,
               **wave_of(solved, weighed.post.healthy or 0, red, black, circuit.unit.hertz)}  # fmt: skip
    suspects = []
    for i in heaviest(table, weighed, SUSPECTS):
        row = table.suspects[i].row
        suspects.append({"name": f"{row.part} {row.way}", "part": row.part, "way": row.way, "odds": float(weighed.odds[i]),
                         **wave_of(solved, i, red, black, circuit.unit.hertz)})  # fmt: skip
    steps = solved.solved.wave.shape[2]
    where = where_of(red, black, own_blacks(circuit))
    averaged = AVERAGED if circuit.switching else None
    caution = HOT if "hot" in (gate.side_of(red), gate.side_of(black)) else None
    plain: Plain = clean(
        {
            "refused": None,
            "red": red,
            "black": black,
            "where": where,
            "state": condition.key,
            "hertz": circuit.unit.hertz,
            "ms": [1e3 * (k + 1) / steps / circuit.unit.hertz for k in range(steps)],  # a step's volts are those at its end
            "healthy": healthy,
            "suspects": suspects,
            "averaged": averaged,
            "caution": caution,
            "text": " ".join(x for x in (wave_text(where, condition.key, healthy, suspects), averaged, caution) if x),
        }
    )
    return plain


def _condition(s: Standing, state: str | None, known: dict[str, Condition], now: Condition) -> Condition | str:
    """The condition to draw, or why there is none."""
    if state is not None:
        found = known.get(state)
        if found is None:
            return f"This set is not solved in the state {state}."
        return found if found.powered else "The set is dead in this state: there is no waveform."
    if s.power == "bench":
        return "The bench supply feeds the set, and a set fed so is not solved: there is no waveform."
    return now if s.power == "on" else "The set is not on: there is no waveform."


def wave_of(solved: Powered, row: int, red: str, black: str, hertz: float) -> Plain:
    """The waveform of one row with its figures. hertz: of the mains."""
    if not solved.ok[row]:
        return {"volts": None, "other": None, **dict.fromkeys(("mean", "ripple", "rms", "ac", "frequency"))}
    volts = solved.solved.volts(red)[row] - solved.solved.volts(black)[row]
    other = None
    if solved.pulsing[row] and len(solved.other):
        one = solved.other[int(solved.pulsing[:row].sum())]
        i, j = solved.solved.network.nets[red], solved.solved.network.nets[black]
        other = [float(v) for v in (one[i] if i >= 0 else 0.0) - (one[j] if j >= 0 else np.zeros(one.shape[1]))]
    return {"volts": [float(v) for v in volts], "other": other, **figures_of(volts, hertz)}


def figures_of(volts: Array, hertz: float) -> Plain:
    """Mean, ripple peak to peak, rms with and without the DC [V] and the ripple's strongest frequency [Hz] of one period
    (steps,)."""
    mean, ripple = float(volts.mean()), float(np.ptp(volts))
    strongest = int(np.argmax(np.abs(np.fft.rfft(volts - mean))[1:])) + 1
    return {
        "mean": mean,
        "ripple": ripple,
        "rms": float(np.sqrt(np.mean(volts**2))),
        "ac": float(volts.std()),
        "frequency": hertz * strongest if ripple > STILL else None,
    }


def wave_text(where: str, state: str, healthy: Plain, suspects: Sequence[Plain]) -> str:
    """What each set drawn has there, those that have the same together."""
    good = _has(healthy)
    apart = told_apart(good, suspects, [_has(p) for p in suspects])
    said = f"{where} over one mains period ({state}), parts as marked and faults of middling degree: a healthy set has {good}"
    return said + "".join(f"; {who}: {what or 'the same'}" for who, what in apart) + "."


def _has(p: Plain) -> str:
    if p["volts"] is None:
        return "no steady state that could be drawn"
    wander = ", not standing still, one of its two states drawn" if p["other"] is not None else ""
    mean, ripple, ac = (format_quantity(p[k], "V") for k in ("mean", "ripple", "ac"))
    if p["frequency"] is None:
        return f"a steady {mean}{wander}"
    if abs(p["mean"]) < p["ac"]:
        return f"{ripple} peak to peak at {p['frequency']:g} Hz, {ac} on an AC range{wander}"
    return f"{mean} DC with {ripple} peak to peak of ripple at {p['frequency']:g} Hz{wander}"


__all__ = ["waveform"]
