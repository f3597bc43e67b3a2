"""The joint likelihood of all readings under each row: smoothed particles, with slips taken out one after the other.

A draw is one unit, the same in every reading, so the product over readings stands inside and the mean over draws
outside: a chain of dead rails is one fact. Plain particles starve on severity; each draw therefore becomes a small
Gaussian whose set keeps the mean and covariance of the row (kernel shrinkage after West and Liu-West; recalled).
One inverse a row; leaving a reading out is a step on that inverse, never a second one.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from halfsplit.diagnosis.cells import Bools, Cells
from halfsplit.diagnosis.scale import TAIL, Array

KERNEL = 0.3  # h: share of the row's spread that each draw carries itself, at least
SHRINK = 0.1  # how far the drawn covariance is trusted less between different columns
NEGLIGIBLE = -60.0  # log share of a slip beside the likeliest one, under which it is not worked out
CHUNK = 32  # rows weighed in one go: their arrays stay in the cache, a whole table's do not
MOST_SLIPS = 3  # taken out one after the other; more than that in one row is another explanation
# A gap parts a row's draws into two ways of behaving when it is half of their whole reach, eight widths of a reading, and
# leaves a quarter of them on either side; with less, a tail of severities would be cut off.
GAP_SHARE, GAP_WIDTHS, FEW = 0.5, 8.0, 0.25
LOG_2PI = float(np.log(2 * np.pi))


@dataclass(frozen=True)
class Joint:
    """log_row (R,): log density of all readings. draws (R, D): log weight of each draw given them, each row summing to 1."""

    log_row: Array
    draws: Array


def equal_draws(rows: int, draws: int) -> Array:
    """(rows, draws) log weights before any reading."""
    return np.full((rows, draws), -np.log(draws))


@dataclass(frozen=True)
class _Blocks:
    """Draws of one row that behave alike: numbers in the same readings, and on the same side of every gap. One Gaussian shape
    is fitted to each: over a row that starts in half its draws and not in the others it would lie between the two.
    row (B,), member (B, D), active (B, n)."""

    row: NDArray[np.int64]
    member: Bools
    active: Bools


def _blocks(number: Bools, z: Array, width: Array) -> _Blocks:
    rows, n, draws = number.shape
    above = _above_gap(number, z, width)
    kind = np.concatenate([number, above], axis=1)
    uniform = (kind == kind[:, :, :1]).all(axis=(1, 2))
    row, member, active = [np.flatnonzero(uniform)], [np.ones((int(uniform.sum()), draws), dtype=bool)], [number[uniform, :, 0]]
    for r in np.flatnonzero(~uniform):
        kinds, which = np.unique(kind[r].T, axis=0, return_inverse=True)
        row.append(np.full(len(kinds), r))
        member.append(np.arange(len(kinds))[:, None] == which.reshape(1, -1))
        active.append(kinds[:, :n])
    return _Blocks(np.concatenate(row), np.concatenate(member), np.concatenate(active))


def _above_gap(number: Bools, z: Array, width: Array) -> Bools:
    """(R, n, D) which draws lie above a gap that parts a row's draws in two, much wider than meter and drawing are off."""
    order = np.sort(np.where(number, z, np.inf), axis=2)
    with np.errstate(invalid="ignore"):  # open beside open
        gap = np.diff(order, axis=2)
    gap = np.where(np.isfinite(gap), gap, 0.0)
    if not gap.shape[2]:
        return np.zeros_like(number)
    widest = gap.argmax(axis=2)[:, :, None]
    size = np.take_along_axis(gap, widest, axis=2)
    reach = gap.sum(axis=2, keepdims=True)
    parted = (size > GAP_SHARE * reach) & (size > GAP_WIDTHS * width[:, :, None])
    above = number & (z > np.take_along_axis(order, widest, axis=2))
    few = np.minimum(above.sum(axis=2), (number & ~above).sum(axis=2)) < FEW * z.shape[2]
    return np.asarray(parted & above & ~few[:, :, None])


def _covariance(cells: Cells, deviation: Array, draws: NDArray[np.int64]) -> tuple[Array, Array]:
    """What each draw carries itself plus meter and model (B, n, n), and the share h (B,) of the block's spread in it.

    draws (B,): how many there are. Shared errors fill the cells beside the diagonal.
    """
    same_fact = cells.fact[:, None] == cells.fact[None, :]
    same_function = np.array([[a == b for b in cells.function] for a in cells.function])
    spread = np.einsum("rid,rjd->rij", deviation, deviation, optimize=True) * np.where(same_fact, 1.0, 1.0 - SHRINK)
    noise = np.where(same_function, cells.gain[:, :, None] * cells.gain[:, None, :], 0.0)
    noise += np.where(same_fact, cells.model[:, :, None] * cells.model[:, None, :], 0.0)
    at = np.arange(noise.shape[1])
    # A repeat without counts would make two lines equal; a thousandth of the width keeps the inverse sound.
    noise[:, at, at] += np.maximum(cells.own, 1e-3 * cells.width) ** 2 + 1e-18
    kernel = _kernel(spread, noise, draws)
    return np.asarray(kernel[:, None, None] ** 2 * spread + noise), kernel


def _kernel(spread: Array, noise: Array, draws: NDArray[np.int64]) -> Array:
    """(B,) the kernel's width for so many draws in as many directions as the readings really tell apart.

    The more directions, the emptier is the space between a few draws, up to one Gaussian for all: normal reference rule
    (Silverman 1986, section 4.3; from memory). Directions are counted by how much of each the noise leaves to see.
    """
    directions = np.einsum("rii->r", np.linalg.solve(spread + noise, spread))
    power = 1.0 / (directions + 4.0)
    return np.asarray(np.clip((4.0 / (directions + 2.0) / draws) ** power, KERNEL, 0.97))


def joint(cells: Cells, log_weight: Array) -> Joint:
    """Weigh each row by all readings at once. log_weight (R, D) of the draws beforehand, each row summing to 1."""
    if not len(cells.found):
        return Joint(np.zeros(len(log_weight)), log_weight)
    if len(log_weight) <= CHUNK:
        return _joint(cells, log_weight)
    every = np.arange(len(log_weight))
    parts = [_joint(cells.rows(some), log_weight[some]) for some in np.array_split(every, -(-len(every) // CHUNK))]
    return Joint(np.concatenate([p.log_row for p in parts]), np.concatenate([p.draws for p in parts]))


def _joint(cells: Cells, log_weight: Array) -> Joint:
    n = len(cells.found)
    blocks = _blocks(cells.number, np.where(cells.number, cells.predicted, 0.0), cells.width)
    here = cells.rows(blocks.row)
    active = blocks.active
    counts = active[:, :, None] & blocks.member[:, None, :]
    z = np.where(counts, here.predicted, 0.0)
    weight = np.exp(log_weight)[blocks.row][:, None, :] * counts
    share = np.maximum(weight.sum(axis=2, keepdims=True), 1e-300)
    mean = (weight * z).sum(axis=2, keepdims=True) / share
    centred = np.where(counts, z - mean, 0.0)
    cov, kernel = _covariance(here, centred * np.sqrt(weight / share), blocks.member.sum(axis=1))
    resid = np.where(counts, here.found[None, :, None] - mean - np.sqrt(1 - kernel**2)[:, None, None] * centred, 0.0)
    resid = np.where(np.isfinite(resid), resid, 0.0)
    pair = active[:, :, None] & active[:, None, :]
    inverse_of = np.where(pair, cov, np.eye(n))
    total = _without_slips_and_with(here, blocks, np.linalg.inv(inverse_of), np.linalg.slogdet(inverse_of)[1], resid)
    event = np.where(cells.number, 0.0, cells.event).sum(axis=1)
    per_draw = np.full(log_weight.shape, -np.inf)
    at = np.nonzero(blocks.member)
    per_draw[blocks.row[at[0]], at[1]] = total[at]
    per_draw += event + log_weight
    top = per_draw.max(axis=1, keepdims=True)
    safe = np.where(np.isfinite(top), top, 0.0)
    with np.errstate(divide="ignore"):
        log_row = (safe + np.log(np.exp(per_draw - safe).sum(axis=1, keepdims=True)))[:, 0]
    draws = np.where(np.isfinite(log_row)[:, None], per_draw - safe, log_weight)
    draws = draws - np.log(np.exp(draws).sum(axis=1, keepdims=True))
    return Joint(log_row + cells.steady.sum(axis=1), draws)


def _without_slips_and_with(cells: Cells, blocks: _Blocks, precision: Array, logdet: Array, resid: Array) -> Array:
    """(B, D) log density of the numbers: no slip, plus one slip anywhere, plus a second and third beside the worst.

    A slipped reading has the nonsense density, or lies in the tail three times as wide as stated round what the others
    let expect.
    """
    slips, active = cells.slips, blocks.active
    pull = precision @ resid
    base = -0.5 * ((resid * pull).sum(axis=1) + logdet[:, None] + active.sum(axis=1)[:, None] * LOG_2PI)
    if not slips.chance.any():
        return np.asarray(base)
    good = np.log((1.0 - slips.chance) * (1.0 - TAIL))
    base = base + (active * good).sum(axis=1)[:, None]
    total, active = base, active.copy()
    wide = 8.0 * cells.width**2  # tail of three widths: nine variances, one of them already inside
    every = np.arange(len(active))
    pull = np.array(pull)
    room = np.empty_like(pull)
    mass = np.broadcast_to(slips.mass[:, :, None], (*active.shape, 1))
    for turn in range(min(MOST_SLIPS, active.shape[1])):
        k = np.maximum(np.einsum("bii->bi", precision), 1e-100)  # its square is still a number
        var = 1.0 / k + wide
        square = np.multiply(pull, pull, out=room)
        # What leaving each reading out is worth, and what it then shows: nonsense, or the tail round what the others let expect.
        step = square * (0.5 / k)[:, :, None]
        step += (0.5 * (LOG_2PI - np.log(k)) - good + np.where(active, 0.0, -np.inf))[:, :, None]
        step += base[:, None, :]
        top = step.max(axis=1)
        top = np.where(np.isfinite(top), top, 0.0)
        part = step - top[:, None, :]
        counts = part > NEGLIGIBLE  # in a row far off that is one reading, not all: exponentials cost most
        square *= (-0.5 / (k * k * var))[:, :, None]
        tail = np.exp(square, out=np.zeros_like(square), where=counts)
        thick = ((1 - slips.chance) * TAIL / np.sqrt(2 * np.pi * var))[:, :, None]
        tail *= thick
        tail += mass
        part = np.exp(part, out=np.zeros_like(part), where=counts)
        part *= tail
        with np.errstate(divide="ignore"):
            total = np.logaddexp(total, top + np.log(part.sum(axis=1)))
        if turn + 1 == min(MOST_SLIPS, active.shape[1]):
            break
        worst = _worst(part, top)
        with np.errstate(divide="ignore"):
            base = step[every, worst] + np.log(np.exp(square[every, worst]) * thick[every, worst] + mass[every, worst])
        active[every, worst] = False
        column, by = precision[every, :, worst], k[every, worst]
        pull -= column[:, :, None] * (pull[every, worst] / by[:, None])[:, None, :]
        precision = precision - column[:, :, None] * (column / by[:, None])[:, None, :]
        precision[every, worst, worst] = 1.0
    return np.asarray(total)


def _worst(part: Array, top: Array) -> NDArray[np.int64]:
    """(B,) the reading whose leaving-out explains most, over the draws that count."""
    weight = np.exp(top - top.max(axis=1, keepdims=True))
    return np.asarray((part * weight[:, None, :]).sum(axis=2).argmax(axis=1), dtype=np.int64)
