"""Cold readings: what ohms, diode test, capacitance and ESR show on a dead, discharged circuit, with time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from halfsplit.errors import InputError
from halfsplit.parts.stamper import JUNCTION
from halfsplit.solver.network import Array, Network
from halfsplit.solver.threads import groups, spread

OHM_VOLTS = 0.5  # open-circuit volts of the ohms test; below a junction's knee (common practice)
OHM_RANGES = np.array([600.0, 6e3, 60e3, 600e3, 6e6, 60e6])
DIODE_VOLTS, DIODE_OHMS, DIODE_LIMIT = 3.0, 3e3, 2.5
TIMES = np.array([3.0, 15.0])
LATE = TIMES[-1:]  # when a reading is taken down
ESR_HERTZ, CAP_HERTZ = 1e5, 100.0
FIRST_SHARE, GROWTH = 25.0, 1.15  # steps in time, see _grid


@dataclass(frozen=True)
class ColdAsk:
    """One cold reading of one row of the batch. function: r or d."""

    row: int
    red: str
    black: str
    function: str


def cold_readings(network: Network, asks: Sequence[ColdAsk]) -> tuple[Array, NDArray[np.bool_]]:
    """Shown after 3 s and after 15 s (asks, 2) [ohm or V], inf = OL; and where the solution failed (asks,)."""
    rows = np.array([a.row for a in asks], np.int64)
    return read_cold(network, rows, [(a.red, a.black) for a in asks], np.array([a.function == "d" for a in asks], bool))


def read_cold(
    network: Network, rows: NDArray[np.int64], pairs: Sequence[tuple[str, str]], diode: NDArray[np.bool_], times: Array = TIMES
) -> tuple[Array, NDArray[np.bool_]]:
    """Shown at each of times (asks, times) and where the solution failed (asks,), for arrays of asks: rows of the batch, net pairs
    (red, black), and whether it is the diode test (asks,) each."""
    # compiled code is loaded only when something is to be solved
    from halfsplit.solver.compiled.cold import cold_batch

    if not len(rows):
        return np.zeros((0, len(times))), np.zeros(0, bool)
    kinds: dict[tuple[tuple[str, str], bool], int] = {}
    at = np.array([kinds.setdefault((pair, bool(d)), len(kinds)) for pair, d in zip(pairs, diode, strict=True)], np.int64)
    found = [_places(network, *pair) for pair, _ in kinds]
    batch = network.batch
    wanted = np.zeros((batch, len(kinds)), bool)
    wanted[rows, at] = True
    shown, failed = np.zeros((batch, len(kinds), len(times))), np.zeros((batch, len(kinds)), bool)
    spread(
        cold_batch,
        groups(batch),
        batch,
        wanted,
        np.array([ends for ends, _ in found], np.int64)[:, None],
        np.array([pos for _, pos in found], np.int64)[:, None],
        np.array([d for _, d in kinds], bool),
        np.array([OHM_VOLTS, DIODE_VOLTS]),
        np.array([*OHM_RANGES, DIODE_OHMS]),
        DIODE_LIMIT,
        _grid(tuple(times)),
        shown,
        failed,
        network.pattern.net,
        network.values,
    )
    return shown[rows, at], failed[rows, at]


@lru_cache(maxsize=8)
def _grid(times: tuple[float, ...]) -> Array:
    """Steps up to each of times: effective length [s], what it takes of the state before and of that one step earlier, 1 where a
    time is reached (steps, 4). Steps of 1/25 of the first time, growing by 1.15: against exp(-t/RC) of any RC, 0.6 % at worst (computed)."""
    rows, now, before = [], 0.0, 0.0
    wish = times[0] / FIRST_SHARE
    for time in times:
        count = 1
        while wish * (GROWTH**count - 1) / (GROWTH - 1) < time - now:
            count += 1
        first = (time - now) * (GROWTH - 1) / (GROWTH**count - 1)
        for k in range(count):
            h = first * GROWTH**k
            q = h / before if before else 0.0
            a0 = (1 + 2 * q) / (1 + q)
            rows.append((h / a0, (1 + q) / a0, q * q / (1 + q) / a0, float(k == count - 1)))
            before = h
        now, wish = time, before * GROWTH
    return np.array(rows)


def _places(network: Network, red: str, black: str) -> tuple[tuple[int, int], tuple[int, int, int, int]]:
    """The two nodes of a net pair and where a conductance between them is stamped."""
    size, pos = network.size, network.pattern.tape.pos
    i, j = (n if n >= 0 else size for n in (network.nets[red], network.nets[black]))
    if i < size and j < size and pos[i, j] == network.pattern.tape.count:
        raise InputError(f"no place for a meter between nets {red} and {black}; name the pair when the network is built")
    return (i, j), (int(pos[i, i]), int(pos[i, j]), int(pos[j, i]), int(pos[j, j]))


def impedance(network: Network, hertz: float, pairs: Sequence[tuple[str, str]]) -> NDArray[np.complex128]:
    """Small-signal impedance of a dead circuit between net pairs (batch, pairs) [ohm]; junctions as they are at no volts."""
    slopes = np.zeros((network.batch, len(network.pattern.kinds), 5, 5))
    for d in np.flatnonzero(network.pattern.kinds == JUNCTION):
        slope = network.devices[:, d, 0] / network.devices[:, d, 1]  # at no volts; megohms
        slopes[:, d, 0, 0] = slopes[:, d, 1, 1] = slope
        slopes[:, d, 0, 1] = slopes[:, d, 1, 0] = -slope
    return spots(network, hertz, pairs, slopes, np.zeros_like(network.sources[2]))


def spots(
    network: Network, hertz: float, pairs: Sequence[tuple[str, str]], slopes: Array, sources: Array
) -> NDArray[np.complex128]:
    """Impedance between net pairs (batch, pairs) [ohm] at hertz, 0 = DC, capacitors open.

    slopes: of the devices (batch, devices, 5, 5) [S]. sources: conductance of each source (batch, sources) [S].
    """
    from halfsplit.solver.compiled.spots import spots_batch

    jw, size = 2j * np.pi * hertz, network.size
    farads, esr = network.caps
    henry, ohms = network.coils
    cap_y = 1.0 / (esr + 1.0 / (jw * farads)) if hertz > 0 else np.zeros(farads.shape, complex)
    ends = np.array([[network.nets[red], network.nets[black]] for red, black in pairs], np.int64).reshape(-1, 2)
    out = np.zeros((network.batch, len(pairs)), complex)
    spread(
        spots_batch,
        groups(network.batch),
        network.batch,
        out,
        np.where(ends < 0, size, ends),
        network.pattern.net,
        network.values.lin_w,
        network.values.lin_g,
        cap_y,
        1.0 / (ohms + jw * henry),
        sources.astype(complex),
        slopes,
    )
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
