"""Tungsten filament: what it resists at the volts it gets. Shared by the lamp on a sheet and by the lamp in series with a set."""

from __future__ import annotations

from typing import Final

import numpy as np

from halfsplit.parts.base import Array

COLD: Final = 13.0  # hot over cold ohms (common practice; published: 10 to 15, read second-hand, and about 14, recalled)
RISE: Final = 0.45  # R ~ V^0.45, from I ~ V^0.55 (Standard Handbook for Electrical Engineers, 11th ed., p. 22-8, read second-hand)
# Behind a resistor, ohms taken a little wrong come back wrong by 0 to RISE of that. Going further by 1/(1 - RISE/2) meets the middle, and what
# is left is less than a third of it either way.
AHEAD: Final = 1.0 / (1.0 - RISE / 2)


def filament_ohms(hot: Array, share: Array) -> Array:
    """Resistance of a filament, any shape that broadcasts [ohm].

    Parameters: hot, ohms at the rated volts [ohm]; share, rms volts over the rated ones.
    Returns: hot x share^0.45, not below the cold ohms. The law is published down to a tenth of the volts; under that it is carried on.
    """
    return np.asarray(np.maximum(hot * np.maximum(np.asarray(share, float), 1e-6) ** RISE, np.asarray(hot) / COLD))
