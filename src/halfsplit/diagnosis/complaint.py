"""What the complaint says of every explanation: would this fault have made the set do what its owner saw?

The set is solved with each fault; what its loads, heaters and motors then do is held against the words of the complaint.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis.intake import said_wrong
from halfsplit.diagnosis.suspects import Suspect
from halfsplit.parts import family_of
from halfsplit.solver.powered import Powered

DISAGREES = 0.08  # odds factor of a row that would not do what was said: owners misremember (bench estimate)
FUSE_DISAGREES = 0.02  # a fuse has been looked at (bench estimate)
Bools = NDArray[np.bool_]


@dataclass(frozen=True)
class Seen:
    """What every row (rows,) would be seen to do."""

    dead: Bools
    some_dead: Bools
    low: Bools
    high: Bools
    at_rest: Bools
    pulsing: Bools
    fuse_gone: Bools
    sagging: Bools


def seen_of(circuit: Circuit, suspects: Sequence[Suspect], solved: Mapping[str, Powered]) -> Seen | None:
    """What the owner would see, per row, from the nominal solutions of every condition; None where nothing is visible
    and no fuse is there to look at."""
    ratio: list[NDArray[np.float64]] = []
    rest: list[NDArray[np.float64]] = []
    valley: list[NDArray[np.float64]] = []
    pulsing, blown = [], []
    for powered in solved.values():
        pulsing.append(powered.pulsing)
        blown += [mode > 0.5 for ref, mode in powered.modes.items() if family_of(circuit.part(ref)).heard_as_fuse]
        for part in circuit.parts:
            if not family_of(part).visible:
                continue
            a, b = list(part.pins.values())[:2]
            # of a load that is fed in bursts: half of what they reach, as the eye and the ear take it
            rms = np.hypot(0.5 * (powered.reading(a, b, "min") + powered.reading(a, b, "max")), powered.reading(a, b, "ac"))
            low = powered.valley(a, b)
            if low[0] > 1.0:
                valley.append(low / low[0])
            (ratio if rms[0] > 1.0 else rest).append(rms / rms[0] if rms[0] > 1.0 else rms)
    if not ratio and not blown:
        return None
    r = np.stack(ratio) if ratio else np.ones((1, len(suspects)))  # nothing to be seen or heard: its fuse is looked at all the same

    def flag(x: NDArray[np.bool_] | np.bool_) -> Bools:
        return np.asarray(x, dtype=np.bool_)

    with np.errstate(invalid="ignore"):
        open_fuse = np.array(
            [
                s.part is not None and family_of(s.part).heard_as_fuse and s.way is not None and s.way.kind == "open"
                for s in suspects
            ]
        )
        return Seen(
            dead=flag((r < 0.15).all(0)),
            some_dead=flag((r < 0.15).any(0)),
            low=flag((r < 0.93).any(0)),
            high=flag((r > 1.07).any(0)),
            at_rest=flag((np.stack(rest) > 10.0).any(0) if rest else np.zeros(r.shape[1], bool)),
            pulsing=flag(np.stack(pulsing).any(0)),
            fuse_gone=(np.stack(blown).any(0) if blown else np.zeros(r.shape[1], bool)) | open_fuse,
            sagging=flag((np.stack(valley) < 0.93).any(0) if valley else np.zeros(r.shape[1], bool)),
        )


def complaint_factors(symptom: Sequence[str], seen: Seen | None) -> NDArray[np.float64] | None:
    """Factor on every row's prior (rows,); None where the complaint says nothing that can be solved for."""
    said = said_wrong(symptom)
    if seen is None or not said:
        return None
    fits: dict[str, Bools] = {
        "dead": seen.dead | (seen.some_dead & seen.pulsing),
        "no output": seen.some_dead,
        "half dead": seen.some_dead & ~seen.dead,
        "resets": seen.pulsing | ((seen.low | seen.sagging) & ~seen.dead),
        "hiccup": seen.pulsing,
        "low output": (seen.low & ~seen.dead) | seen.pulsing | (seen.sagging & ~seen.dead),
        "hum": seen.sagging,
        "high output": seen.high,
        "always on": seen.at_rest,
    }
    out = np.ones(len(seen.dead))
    for key, agrees in fits.items():
        if key in said:
            out *= np.where(agrees, 1.0, DISAGREES)
    if "fuse open" in said:
        out *= np.where(seen.fuse_gone, 1.0, FUSE_DISAGREES)
    if "fuse intact" in said:
        out *= np.where(seen.fuse_gone, FUSE_DISAGREES, 1.0)
    return out
