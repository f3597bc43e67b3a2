"""Explanations that are solved beside the single faults: two at once, and something that nobody has drawn.

Units come from the solver with tolerances and severities that the table was not made of; the true pair never reaches the engine.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis import build
from halfsplit.diagnosis.beside import name_of, worth_solving
from halfsplit.diagnosis.outlook import Reading
from halfsplit.diagnosis.posterior import posterior
from halfsplit.diagnosis.suspects import both
from halfsplit.diagnosis.undrawn import sites
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import make_suspects


@pytest.fixture(scope="module")
def linear():
    circuit = start_circuit("linear 12V 1A, 5V 0.3A", Unit("radio", 230.0, 50.0, "II", 30.0), ())
    table = Table(circuit, make_suspects(circuit))
    return table, [table.cold(), *(table.live(c) for c in table.conditions() if c.powered)]


def row(table, part, way):
    return next(i for i, s in enumerate(table.suspects) if (s.row.part, s.row.way) == (part, way))


def unit(table, blocks, suspect, unknown=(), seed=31, severity=0.4):
    """What every column shows on one fresh unit."""
    fresh = build.draw(table.circuit, table.suspects[:1], seed=seed)
    one = replace(fresh, suspects=(table.suspects[0], suspect), severity=np.full((2, fresh.draws), severity))
    if unknown:
        from halfsplit.diagnosis.suspects import as_marked

        one = replace(one, healthy={**one.healthy, **{p.ref: as_marked(p, one.units) for p in unknown}})
    wider = table.circuit.with_parts((*table.circuit.parts, *unknown))
    conditions = [c for c in table.conditions() if c.powered]
    shown = [build.cold_block(wider, one, blocks[0].columns)]
    shown += [build.live_block(wider, one, c, b.columns) for c, b in zip(conditions, blocks[1:], strict=True)]
    return np.concatenate([b.value[1, :, 3] for b in shown])


def read(outlook, shown, wanted, seed=5):
    """Readings of these columns, by (function, red, black), with a meter's half a percent."""
    rng = np.random.default_rng(seed)
    at = [next(j for j, c in enumerate(outlook.columns) if (c.function, c.red, c.black) == w) for w in wanted]
    return [Reading(j, float(shown[j] * (1 + 0.004 * rng.standard_normal()))) for j in at]


def odds_of_pair(post, outlook, a, b):
    return sum(p.odds for p in post.pairs if {outlook.rows[p.a].part, outlook.rows[p.b].part} == {a, b})


RAILS = [("v", "raw", "0V"), ("v", "+12", "0V"), ("v", "+5", "0V")]


def test_two_faults_that_make_together_what_neither_makes_alone_are_found_once_they_are_solved(linear):
    """A regulator shorted through takes its output's shorted capacitor to the rail before it: neither fault alone pulls that down."""
    table, blocks = linear
    outlook = table.outlook(blocks)
    pair = both(table.suspects[row(table, "5V-regulator", "through")], table.suspects[row(table, "5V-out-cap", "short")])
    shown = unit(table, blocks, pair)
    readings = read(outlook, shown, [*RAILS, *(("r", rail, "0V") for rail in ("+5", "raw", "+12"))])
    alone = posterior(outlook, readings)
    wider = table.grown(outlook, blocks, worth_solving(alone, outlook))
    solved = posterior(wider, readings)
    names = ("5V-regulator", "5V-out-cap")
    assert odds_of_pair(solved, wider, *names) > max(0.5, 2 * odds_of_pair(alone, outlook, *names))
    first = next(iter(solved.involved))
    assert first == "5V-regulator"  # which put the capacitor to more than it stands
    root = solved.pairs[0].root
    assert root is not None and wider.rows[root].part == "5V-regulator"


def test_rows_beside_the_single_ones_have_no_odds_of_their_own_and_all_odds_sum_to_one(linear):
    table, blocks = linear
    outlook = table.outlook(blocks)
    a, b = sorted((row(table, "5V-regulator", "through"), row(table, "5V-out-cap", "short")))
    wider = table.grown(outlook, blocks, [(a, b)])
    wider = table.with_places(wider, [(x, True) for x in blocks], table.places()[:3])
    assert wider.singles == outlook.singles == len(table.suspects)
    shown = unit(table, blocks, table.suspects[row(table, "reservoir", "open")])
    post = posterior(wider, read(outlook, shown, RAILS))
    assert not post.row_odds[wider.singles :].any()
    assert post.row_odds.sum() + post.not_on_sheet + post.two_at_once == pytest.approx(1.0, abs=1e-9)
    assert sum(odds for _, odds in post.undrawn) <= post.not_on_sheet + 1e-12
    assert next(iter(post.involved)) == "reservoir"


def test_a_solved_pair_shows_what_the_solver_says_of_both_at_once(linear):
    table, blocks = linear
    a, b = sorted((row(table, "5V-regulator", "through"), row(table, "reservoir", "open")))
    wider = table.grown(table.outlook(blocks), blocks, [(a, b)])
    got = wider.value[wider.doubles[0].row, [j for j, c in enumerate(wider.columns) if c.key.startswith("on|v|+5|")][0]]
    pair = both(table.suspects[a], table.suspects[b])
    assert name_of(pair).count(" + ") == 1
    shown = unit(table, blocks, pair)[[j for j, c in enumerate(wider.columns) if c.key.startswith("on|v|+5|")][0]]
    assert got.min() * 0.9 <= shown <= got.max() * 1.1


def test_a_load_that_nobody_has_drawn_is_placed(linear):
    """18 ohm from the 12 V rail to 0 V, where the sheet has a load and capacitors that have other values at every hand: the rail
    and what feeds it sag, and ohms at the rail are too low for any of them. The place is named first."""
    table, blocks = linear
    outlook = table.outlook(blocks)
    place = next(s for s in sites(table.circuit) if s.place == "raw to 0V")
    shown = unit(table, blocks, place.suspect, (place.part,), severity=0.45)  # 50 ohm
    wanted = [c for c in outlook.columns if c.function in ("r", "v") and {c.red, c.black} & {"raw", "+12"} and "0V" in (c.red, c.black)]
    readings = read(outlook, shown, list(dict.fromkeys((c.function, c.red, c.black) for c in wanted)))
    wider = table.with_places(outlook, [(b, True) for b in blocks], table.places())
    post = posterior(wider, readings)
    bare = posterior(outlook, readings)
    assert "raw to 0V" in [u.place for u, _ in post.undrawn[:3]]
    assert post.not_on_sheet >= bare.not_on_sheet


def test_what_puts_a_part_to_more_than_it_stands_is_its_likely_killer():
    """Physics of the solved set, no list of kinds: a shorted chopper leaves the bulk's current to the sense resistor (before the
    fuse has gone); a dropper capacitor that is short leaves the mains to its series resistor. Common practice names both."""
    for start, unit_, killer, victim in (
        ("flyback with controller 16/10V; out 24V 1.5A", Unit("x", 230.0, 50.0, "II", 45.0), "switch", "sense-R"),
        ("dropper, 24V relay board; heater 580W", Unit("x", 230.0, 50.0, "I", 600.0), "dropper-C", "fusible-R"),
    ):
        circuit = start_circuit(start, unit_, ())
        table = Table(circuit, make_suspects(circuit))
        kills = table.kills()
        dead = {s.row.part for i, s in enumerate(table.suspects) if kills[row(table, killer, "short"), i] > 1}
        assert victim in dead
        assert (kills[0] == 1).all()  # nothing wrong kills nothing
        assert np.mean(kills > 1) < 0.05
