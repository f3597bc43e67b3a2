"""What the meter itself does to a live reading: the Thevenin resistance of a settled state, at DC and at mains frequency.

Slopes of the devices are averaged over the cycle. Exact for linear nets, which is where loading matters
(dividers of megohms, nets that a fault has left floating); near a conducting junction the source is stiff anyway.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from halfsplit.solver.cold import spots
from halfsplit.solver.network import Array
from halfsplit.solver.powered import Periodic
from halfsplit.solver.threads import groups, spread

STRIDE = 2  # every second step of the cycle is looked at
Pairs = Sequence[tuple[str, str]]


def slopes_of(solved: Periodic) -> Array:
    """Slopes of the devices averaged over the solved cycle (batch, devices, 5, 5) [S]; zero in unresolved rows."""
    from halfsplit.solver.compiled.spots import slopes_batch

    network = solved.network
    slopes = np.zeros((network.batch, len(network.pattern.kinds), 5, 5))
    batch = network.batch
    wave, devices = np.ascontiguousarray(solved.wave), np.ascontiguousarray(network.devices)
    spread(slopes_batch, groups(batch), batch, wave, network.pattern.net, devices, slopes, STRIDE)
    slopes[~solved.ok] = 0.0
    return np.asarray(np.nan_to_num(slopes, nan=0.0, posinf=0.0, neginf=0.0))


def thevenin(solved: Periodic, pairs: Pairs, hertz: float, slopes: Array | None = None) -> NDArray[np.complex128]:
    """Source impedance between net pairs (batch, pairs) [ohm] at hertz (0 = DC). slopes: of its devices, where already known."""
    return spots(solved.network, hertz, pairs, slopes_of(solved) if slopes is None else slopes, solved.network.sources[2])
