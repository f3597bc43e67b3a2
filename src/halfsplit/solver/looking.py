"""What a part sees when it looks out of its pins at the dead circuit: is there a junction that takes its current over?"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from halfsplit.parts.stamper import JUNCTION
from halfsplit.solver.cold import impedance
from halfsplit.solver.network import Network

SWITCHING = 1e6  # at which a coil of microhenries keeps its ends apart [Hz]
NEAR = 15.0  # what still counts as the same place [ohm]
JOINS = 1e-2  # a conductance above this may join two nets [S]


def conducts(network: Network, a: str, k: str) -> NDArray[np.bool_]:
    """Whether some junction of a dead network lies forwards from net a to net k, with no coil in between (batch,)."""
    lin, _, _, _, devices = network.pattern.ends
    weak = [bool(x) for x in np.atleast_1d((network.lin[1] < JOINS).all(0))]
    root = list(range(network.size + 1))

    def find(x: int) -> int:
        while root[x] != x:
            x = root[x]
        return x

    for joined, away in zip(lin, np.asarray(weak), strict=True):
        if not away and (joined[2:] < 0).all():
            root[find(int(joined[0]) % (network.size + 1))] = find(int(joined[1]) % (network.size + 1))
    start, end = (find(network.nets[net] % (network.size + 1)) for net in (a, k))
    names = {place: name for name, place in network.nets.items()}
    kinds = network.pattern.kinds
    near = [
        d
        for d in np.flatnonzero(kinds == JUNCTION)
        if find(int(devices[d, 0]) % (network.size + 1)) == start and find(int(devices[d, 1]) % (network.size + 1)) == end
    ]
    out: NDArray[np.bool_] = np.zeros(network.batch, bool)
    if near:
        pairs = [p for d in near for p in ((a, names[int(devices[d, 0])]), (names[int(devices[d, 1])], k))]
        seen = np.abs(impedance(network, SWITCHING, pairs)).reshape(network.batch, len(near), 2)
        good = (seen < NEAR).all(2) & (network.devices[:, near, 0] > 0.0)
        out[good.any(1)] = True
    return np.asarray(out)
