"""Random resistor ladders: outlooks with a truth that the inference never sees, solved here by nodal analysis."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest

from halfsplit.diagnosis.outlook import Column, Outlook, Reading, Row

OPEN, SHORT, RANGE = 1e9, 0.3, 2e7  # [ohm]; RANGE: above it the meter shows OL


def node_volts(series, shunt, volts):
    """(batch, n) volts along a ladder fed with volts (batch,); series, shunt (batch, n) [ohm]."""
    batch, n = series.shape
    g = np.zeros((batch, n, n))
    at = np.arange(n)
    g[:, at, at] += 1 / series + 1 / shunt
    g[:, at[:-1], at[:-1]] += 1 / series[:, 1:]
    g[:, at[:-1], at[1:]] -= 1 / series[:, 1:]
    g[:, at[1:], at[:-1]] -= 1 / series[:, 1:]
    amps = np.zeros((batch, n, 1))
    amps[:, 0, 0] = volts / series[:, 0]
    return np.linalg.solve(g, amps)[:, :, 0], np.einsum("bii->bi", np.linalg.inv(g - _feed(series, n)))


def _feed(series, n):
    """Unplugged, the first series resistor hangs in the air."""
    out = np.zeros((len(series), n, n))
    out[:, 0, 0] = 1 / series[:, 0] - 1e-9
    return out


@dataclass(frozen=True)
class Ladder:
    """A ladder with its outlook, and a way to make units of it."""

    outlook: Outlook
    series: np.ndarray
    shunt: np.ndarray
    volts: float

    def unit(self, row: int, rng: np.random.Generator, gap: float = 0.01):
        """What every column shows on one fresh unit with this row's fault; the circuit as drawn is off by gap."""
        part, way = self.outlook.rows[row].part, self.outlook.rows[row].way
        exact = solve(self.series, self.shunt, self.volts, part, way, rng, 1)[:, 0]
        return exact * (1 + gap * rng.standard_normal(len(exact)))

    def read(self, shown, column: int, rng: np.random.Generator) -> Reading:
        """The meter's reading of one column: 0.5 % and counts, OL above its range."""
        x, volts = float(shown[column]), self.outlook.columns[column].function == "v"
        if not volts and x > RANGE:
            return Reading(column, np.inf)
        noise = (0.005 * rng.uniform(-1, 1) * x) + (0.005 if volts else 0.1) * rng.standard_normal()
        return Reading(column, x + noise if volts else max(x + noise, 0.0))


def solve(series, shunt, volts, part, way, rng, draws):
    """(columns, draws): volts live, then ohms to ground cold."""
    n = len(series)
    s = series * (1 + 0.05 * rng.uniform(-1, 1, (draws, n)))
    p = shunt * (1 + 0.05 * rng.uniform(-1, 1, (draws, n)))
    v = volts * (1 + 0.03 * rng.uniform(-1, 1, draws))
    if part:
        where, k = (s, int(part[1:]) - 1) if part[0] == "S" else (p, int(part[1:]) - 1)
        u = (rng.permutation(draws) + rng.random(draws)) / draws
        where[:, k] = {"open": OPEN, "short": SHORT, "up": where[:, k] * 1.4 * (6 / 1.4) ** u}[way]
    node, ohms = node_volts(s, p, v)
    return np.concatenate([node, ohms], axis=1).T


def build_ladder(seed: int, n: int = 5, draws: int = 48, luck: int = 0) -> Ladder:
    """One random ladder of n sections. luck: another seed for the draws alone."""
    rng = np.random.default_rng(seed)
    series, shunt, volts = 10 ** rng.uniform(2, 4, n), 10 ** rng.uniform(3, 5, n), float(rng.choice([12.0, 24.0, 48.0]))
    rows = [Row("", "nothing wrong", 0.004 * 6 * n)]
    rows += [Row(f"{a}{k + 1}", way, 1.0) for a in "SP" for k in range(n) for way in ("open", "short", "up")]
    draw = np.random.default_rng(1000 * (luck + 1) + seed)
    value = np.stack([solve(series, shunt, volts, r.part, r.way, draw, draws) for r in rows])
    value[:, n:] = np.where(value[:, n:] > RANGE, np.inf, value[:, n:])
    columns = [Column(f"v{k}", "v", f"n{k}", "0", f"n{k}", "on", live=True, hazard="H1", span=volts) for k in range(n)]
    columns += [Column(f"r{k}", "r", f"n{k}", "0", f"n{k}", "dead", span=RANGE, limit=RANGE) for k in range(n)]
    outlook = Outlook(tuple(rows), tuple(columns), value, np.zeros(value.shape[:2], dtype=bool))
    return Ladder(outlook, series, shunt, volts)


@pytest.fixture(scope="session")
def ladder():
    return build_ladder
