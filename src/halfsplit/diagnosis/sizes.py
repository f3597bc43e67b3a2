"""Other sizes: a part that came with the starting sheet, and whose print nobody has read, may be of another size on this board.

A starting sheet says 2.2 kohm where this board has 2.7; read across, that is neither a fault nor something off the sheet. A reading that
shows nothing but such a part's own value is therefore allowed to be off by a factor. Once the print was read and typed, no more.
"""

from __future__ import annotations

import math

import numpy as np

from halfsplit.circuit.model import Circuit, Part
from halfsplit.diagnosis.outlook import Column
from halfsplit.diagnosis.scale import Array, gauss, scale_of
from halfsplit.parts import family_of

OTHER_SIZE = 0.4  # that it is of another size, for each such part (bench estimate)
REACH = math.log(4.0)  # and then anything from a quarter to four times of it, evenly in ratio (bench estimate)
OWN = 0.15  # log ratio of reading and value within which the reading shows the part's own value
STANDS = 0.4  # log ratio within which a row leaves the reading to that part: tolerances of a capacitor are within it
GRAIN = 0.03  # log width that a draw carries, as the reading stands for itself and draws are few
SI_OF = {"r": "ohm", "c": "F", "esr": "ohm"}


def size_shown(circuit: Circuit, column: Column, healthy: float) -> Part | None:
    """The assumed part whose own value this reading shows, None where there is none. Loads are of the size that their label says.

    Parameters: column, of a dead set or of a part alone. healthy, what it shows on a set with nothing wrong [SI].
    """
    unit = SI_OF.get(column.function)
    if unit is None or column.live or not (math.isfinite(healthy) and healthy > 0):
        return None
    for part in circuit.parts:
        if not part.assumed or family_of(part).visible or not {column.red, column.black} <= set(part.pins.values()):
            continue
        own = [part.values.get(p.name, 0.0) for p in family_of(part).params if p.unit == unit]
        if any(x > 0 and abs(math.log(healthy / x)) < OWN for x in own):
            return part
    return None


def sized_density(column: Column, x: Array, found: float, width: Array, healthy: float) -> Array:
    """(R, D) density on the scale of a reading in cells whose part may be of another size; 0 where a cell is no number.

    x (R, D): what is predicted for the size assumed. width (R, 1): of the reading, on the scale. healthy: with nothing wrong [SI].
    """
    scale, finite = scale_of(column), np.isfinite(x)
    known = np.where(finite & (x > 0), x, healthy)
    core = gauss(scale.forward(found) - scale.forward(known), np.hypot(width, GRAIN * known * scale.slope(known)))
    stands = np.abs(np.log(known / healthy)) < STANDS
    within = found > 0 and abs(math.log(found / healthy)) < REACH
    other = 1.0 / (2.0 * REACH) / (found * float(scale.slope(found))) if within else 0.0
    return np.asarray(np.where(finite, np.where(stands, (1.0 - OTHER_SIZE) * core + OTHER_SIZE * other, core), 0.0))
