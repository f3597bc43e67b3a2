"""What kills what: a fault that puts another part to more than it stands takes that part with it.

Nothing is asserted of kinds of parts: the stresses are those of the solved set, each against the rating on the sheet.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from halfsplit.diagnosis.suspects import Suspect
from halfsplit.parts.base import Array

OVER = 1.5  # times its rating: makers' margins are not larger (common practice)
RUN_AT = 1 / 3  # of its rating, what a part bears in a sound design where the sheet gives no rating (common practice: a half or less)
LIKELIER = 25.0  # how much likelier two faults are together where the first overstresses the second (bench estimate)


def overstressed(suspects: Sequence[Suspect], loads: Sequence[Mapping[tuple[str, str], Array]]) -> Array:
    """(rows, rows) factor on the odds of the second row beside the first: LIKELIER where the first puts the second's part over
    its rating in a state in which a healthy set (row 0) does not, else 1. loads: a state each, (ref, rating) -> load (rows,)."""
    out = np.ones((len(suspects), len(suspects)))
    parts = {s.part.ref: s.part for s in suspects if s.part is not None}
    over: dict[str, np.ndarray] = {}
    for state in loads:
        for (ref, rating), load in state.items():
            if ref not in parts:
                continue
            rated = parts[ref].ratings.get(rating, parts[ref].values.get(rating)) or load[0] / RUN_AT
            with np.errstate(invalid="ignore"):
                beyond = (load > OVER * rated) & (load > OVER * load[0]) & (rated > 0)
            over[ref] = over.get(ref, np.zeros(len(suspects), bool)) | beyond
    for b, suspect in enumerate(suspects):
        if suspect.part is not None and suspect.part.ref in over:
            mine = np.array([s.part is not None and s.part.ref == suspect.part.ref for s in suspects])
            out[over[suspect.part.ref] & ~mine, b] = LIKELIER
    return out
