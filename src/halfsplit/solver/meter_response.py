"""What the AC range of a meter makes of a waveform: true rms or average-responding, with or without the DC part."""

from __future__ import annotations

import math

import numpy as np

from halfsplit.solver.network import Array

FORM_FACTOR = math.pi / (2 * math.sqrt(2.0))  # rms over rectified mean of a sine; how average-responding meters are marked


def _ac(wave: Array, coupled: bool) -> Array:
    wave = np.asarray(wave, float)
    return wave - wave.mean(-1, keepdims=True) if coupled else wave


def true_rms(wave: Array, *, coupled: bool = True) -> Array:
    """Root mean square of whole cycles.

    Parameters: wave (..., steps), whole cycles in even steps [V]. coupled: through a capacitor, as most meters read; the mean is lost.
    Returns: (...,) [V].
    """
    return np.asarray(np.sqrt((_ac(wave, coupled) ** 2).mean(-1)))


def average_responding(wave: Array, *, coupled: bool = True) -> Array:
    """What a rectifier meter marked for sines shows: 1.111 times the rectified mean (parameters and shape as true_rms)."""
    return np.asarray(FORM_FACTOR * np.abs(_ac(wave, coupled)).mean(-1))
