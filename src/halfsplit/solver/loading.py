"""What the meter itself does to a live reading: the Thevenin resistance of a settled state, at DC and at mains frequency.

Slopes of the devices are averaged over the cycle. Exact for linear nets, which is where loading matters
(dividers of megohms, nets that a fault has left floating); near a conducting junction the source is stiff anyway.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from halfsplit.solver.network import Array
from halfsplit.solver.powered import Periodic


def thevenin(solved: Periodic, pairs: Sequence[tuple[str, str]], hertz: float) -> NDArray[np.complex128]:
    """Source impedance between net pairs (batch, pairs) [ohm] at hertz (0 = DC)."""
    from halfsplit.solver import kernel

    network = solved.network
    size, batch = network.size, network.batch
    dk, dn, dp = network.devices
    slopes = np.zeros((batch, len(dk), 5, 5))
    kernel.slopes_batch(solved.wave, dk, dn, dp, slopes)
    a = np.zeros((batch, size, size), complex)
    a[:, np.arange(size), np.arange(size)] = 1e-12
    n, w, g = network.lin
    for e in range(n.shape[0]):
        _stamp(a, n[e], g[:, e, None, None] * w[:, e, :, None] * w[:, e, None, :])
    pair = np.array([[1.0, -1.0], [-1.0, 1.0]])
    jw = 2j * np.pi * hertz
    cn, c, r = network.caps
    ln, lh, lr = network.coils
    sn, _dc, _pk, sg = network.sources
    if hertz > 0:
        for e in range(cn.shape[0]):
            _stamp(a, cn[e], (1.0 / (r[:, e] + 1.0 / (jw * c[:, e])))[:, None, None] * pair)
    for e in range(ln.shape[0]):
        _stamp(a, ln[e], (1.0 / (lr[:, e] + jw * lh[:, e]))[:, None, None] * pair)
    for e in range(sn.shape[0]):
        _stamp(a, sn[e], sg[:, e][:, None, None] * pair)
    for k in range(len(dk)):
        _stamp(a, dn[k], slopes[:, k])
    out = np.zeros((batch, len(pairs)), complex)
    inverse = _inverse(a, solved.ok)
    zero = np.zeros(batch, complex)
    for k, (red, black) in enumerate(pairs):
        p, q = network.nets[red], network.nets[black]
        pp, qq = (inverse[:, i, i] if i >= 0 else zero for i in (p, q))
        pq, qp = (inverse[:, i, j] if i >= 0 and j >= 0 else zero for i, j in ((p, q), (q, p)))
        out[:, k] = pp + qq - pq - qp
    return out


def _inverse(a: NDArray[np.complex128], ok: NDArray[np.bool_]) -> NDArray[np.complex128]:
    """Inverse of every row's matrix. Unresolved rows, whose readings are NaN anyway, get the unit matrix; a row whose slopes
    happen to cancel is moved off by a nanosiemens."""
    bad = ~ok | ~np.isfinite(a).all(axis=(1, 2))
    a[bad] = np.eye(a.shape[1])
    try:
        return np.asarray(np.linalg.inv(a))
    except np.linalg.LinAlgError:
        return np.asarray(np.linalg.inv(a + 1e-9 * np.eye(a.shape[1])))


def _stamp(a: NDArray[np.complex128], nodes: NDArray[np.int64], block: NDArray[np.complex128] | Array) -> None:
    for i, p in enumerate(nodes):
        for j, q in enumerate(nodes):
            if p >= 0 and q >= 0:
                a[:, p, q] += block[:, i, j]
