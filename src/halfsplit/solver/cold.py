"""Cold readings: what ohms, diode test, capacitance and ESR show on a dead, discharged circuit, with time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfsplit.errors import InputError
from halfsplit.parts.stamper import JUNCTION
from halfsplit.solver.network import Array, Network

OHM_VOLTS = 0.5  # open-circuit volts of the ohms test; below a junction's knee (common practice)
OHM_RANGES = np.array([600.0, 6e3, 60e3, 600e3, 6e6, 60e6])
DIODE_VOLTS, DIODE_OHMS, DIODE_LIMIT = 3.0, 3e3, 2.5
TIMES = np.array([3.0, 15.0])
ESR_HERTZ, CAP_HERTZ = 1e5, 100.0


@dataclass(frozen=True)
class ColdAsk:
    """One cold reading of one row of the batch. function: r or d."""

    row: int
    red: str
    black: str
    function: str


def cold_readings(network: Network, asks: Sequence[ColdAsk]) -> tuple[Array, NDArray[np.bool_]]:
    """Shown after 3 s and after 15 s (asks, 2) [ohm or V], inf = OL; and where the solution failed (asks,)."""
    from halfsplit.solver import kernel  # compiled code is loaded only when something is to be solved

    count = len(asks)
    if not count:
        return np.zeros((0, 2)), np.zeros(0, bool)
    nets = network.nets
    for red, black in {(a.red, a.black) for a in asks}:
        i, j = nets[red], nets[black]
        if i >= 0 and j >= 0 and network.tape.pos[i, j] < 0:
            raise InputError(f"no place for a meter between nets {red} and {black}; name the pair when the network is built")
    shown, failed = np.zeros((count, len(TIMES))), np.zeros(count, np.int64)
    n, w, g = network.lin
    cn, c, r = network.caps
    ln, lh, lr = network.coils
    sn, _dc, _pk, sg = network.sources
    dk, dn, dp = network.devices
    kernel.cold_batch(
        np.array([a.row for a in asks], np.int64),
        np.array([nets[a.red] for a in asks], np.int64),
        np.array([nets[a.black] for a in asks], np.int64),
        np.array([a.function == "d" for a in asks], np.int64),
        OHM_VOLTS,
        OHM_RANGES,
        DIODE_VOLTS,
        DIODE_OHMS,
        DIODE_LIMIT,
        TIMES,
        shown,
        failed,
        network.tape.pos,
        network.tape.arrays,
        n,
        w,
        g,
        cn,
        c,
        r,
        ln,
        lh,
        lr,
        sn,
        sg,
        dk,
        dn,
        dp,
    )
    return shown, failed > 0


def impedance(network: Network, hertz: float, pairs: Sequence[tuple[str, str]]) -> NDArray[np.complex128]:
    """Small-signal impedance of a dead circuit between net pairs (batch, pairs) [ohm]; junctions as they are at no volts."""
    jw, size = 2j * np.pi * hertz, network.size
    a = np.zeros((network.batch, size, size), complex)
    a[:, np.arange(size), np.arange(size)] = 1e-12
    n, w, g = network.lin
    for e in range(n.shape[0]):
        known = [i for i in range(4) if n[e, i] >= 0]
        for i in known:
            for j in known:
                a[:, n[e, i], n[e, j]] += g[:, e] * w[:, e, i] * w[:, e, j]
    cn, c, r = network.caps
    ln, lh, lr = network.coils
    branches = [(cn[e], 1.0 / (r[:, e] + 1.0 / (jw * c[:, e]))) for e in range(cn.shape[0])]
    branches += [(ln[e], 1.0 / (lr[:, e] + jw * lh[:, e])) for e in range(ln.shape[0])]
    for (i, j), y in branches:
        for p, q, s in ((i, i, 1), (j, j, 1), (i, j, -1), (j, i, -1)):
            if p >= 0 and q >= 0:
                a[:, p, q] += s * y
    kinds, dn, dp = network.devices
    for d in np.flatnonzero(kinds == JUNCTION):
        slope = dp[:, d, 0] / dp[:, d, 1]  # at no volts; megohms
        for p, q, s in ((0, 0, 1), (1, 1, 1), (0, 1, -1), (1, 0, -1)):
            i, j = dn[d, p], dn[d, q]
            if i >= 0 and j >= 0:
                a[:, i, j] += s * slope
    inverse = np.linalg.inv(a)

    def at(i: int, j: int) -> NDArray[np.complex128]:
        return np.asarray(inverse[:, i, j] if i >= 0 and j >= 0 else np.zeros(network.batch, complex))

    out = np.zeros((network.batch, len(pairs)), complex)
    for k, (red, black) in enumerate(pairs):
        p, q = network.nets[red], network.nets[black]
        out[:, k] = at(p, p) + at(q, q) - at(p, q) - at(q, p)
    return out


def shown_esr(z: NDArray[np.complex128]) -> Array:
    """What an ESR meter shows for an impedance at 100 kHz [ohm]; inf above 100 ohm."""
    real = np.abs(z.real)
    return np.where(real > 100.0, np.inf, real)


def shown_farads(z: NDArray[np.complex128]) -> Array:
    """What a capacitance meter shows for an impedance at 100 Hz [F]; inf (no reading) where it isn't a capacitance."""
    c = -1.0 / (2 * np.pi * CAP_HERTZ * np.minimum(z.imag, -1e-12))
    lossy = np.abs(z.real) > 3.0 * np.abs(z.imag)
    return np.where(lossy | (c > 0.1), np.inf, c)
