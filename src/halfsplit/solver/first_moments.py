"""What a held MAX saw before the display came to rest: a part that ran, gave up and latched."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from halfsplit.circuit.model import Circuit
from halfsplit.parts import family_of
from halfsplit.solver.network import Array
from halfsplit.solver.powered import Powered

Latches = Mapping[str, tuple[float, float]]


def latches_of(circuit: Circuit) -> Latches:
    """Parts that may give up and latch: ref -> (state that they end in, state before it)."""
    modes = {p.ref: family_of(p).mode for p in circuit.parts}
    return {ref: mode.gave_up for ref, mode in modes.items() if mode is not None and mode.gave_up is not None}


def held_max(powered: Powered, red: str, black: str, latches: Latches) -> Array:
    """MAX between two nets (batch,) [V]: that of the display, or what stood there while a part that has latched since still ran.

    Where it ran it is held right at the limit that made it give up (see Mode), so the volts at the end of that cycle are those of the burst.
    """
    shown = powered.reading(red, black, "max")
    network, refs = powered.solved.network, list(powered.modes)
    ends = network.nets[red], network.nets[black]
    for ref, (ended, before) in latches.items():
        gave_up = powered.modes[ref] == ended
        for key, visit in powered.visits.items():
            if np.frombuffer(key, np.uint8)[refs.index(ref)] != before:
                continue
            for row in (r for r in visit.places if gave_up[r]):
                one, two = (visit.volts[visit.places[row], at] if at >= 0 else 0.0 for at in ends)
                shown[row] = max(shown[row], one - two)
    return shown
