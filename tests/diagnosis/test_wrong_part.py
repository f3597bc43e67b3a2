"""A wrong part fitted by somebody before: rows of their own, only where something says that somebody was inside.

SOURCE  values and thresholds of the parts: generic types (recalled). Units are made from the engine's own model, computed.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from halfsplit.circuit.sheet import Item, read_unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.build import Drawn, alone_block, cold_block
from halfsplit.diagnosis.outlook import Reading
from halfsplit.diagnosis.posterior import posterior
from halfsplit.diagnosis.suspects import draw_values
from halfsplit.diagnosis.wrong_part import INSIDE, LOOKS_NEW
from halfsplit.jobs.entry import LookEntry
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import make_suspects
from halfsplit.parts import FAMILIES
from halfsplit.repair.cause import cause_text

UNIT = read_unit(Item("radio, 230V 50Hz, class II, 30W", 1, 1, "unit"))


def circuit_of(*symptom):
    return replace(start_circuit("dropper, 24V relay board", UNIT, ()), symptom=symptom)


def look(where, *signs):
    return LookEntry(text="see", sense="see", where=where, signs=signs)


def wrong_odds(rows):
    """Part -> odds that it is a wrong one, before any reading."""
    total = sum(s.row.prior for s in rows)
    odds = {s.row.part: 0.0 for s in rows}
    for s in rows:
        if s.way is not None and s.way.kind == "wrong":
            odds[s.row.part] += s.row.prior / total
    return odds


def test_a_set_that_nobody_touched_has_no_such_rows():
    assert not any(s.way and s.way.kind == "wrong" for s in make_suspects(circuit_of("dead"), [look("zener", "domed")]))


@pytest.mark.parametrize(
    "said", ["someone has been inside", "dead; repaired before", "new parts in it", "fresh solder at the relay"]
)
def test_words_of_the_complaint_bring_them_up(said):
    """Together they have the odds of INSIDE, and the others keep theirs among each other."""
    rows, plain = make_suspects(circuit_of(said)), make_suspects(circuit_of("nothing of the kind"))
    assert sum(wrong_odds(rows).values()) == pytest.approx(INSIDE)
    kept = [s.row.prior for s in rows if not (s.way and s.way.kind == "wrong")]
    assert kept == pytest.approx([s.row.prior for s in plain])


def test_a_part_that_looks_new_brings_up_its_own_rows_only():
    odds = wrong_odds(make_suspects(circuit_of("dead"), [look("driver-R", "looks new")]))
    assert odds["driver-R"] == pytest.approx(LOOKS_NEW)
    assert sum(odds.values()) == pytest.approx(LOOKS_NEW)


def test_every_wrong_part_moves_its_own_value_and_nothing_else_died():
    """Each family's own rows: another value of the same parameters, finite, and a tale that names no killer."""
    seen = 0
    for part in circuit_of().parts:
        family = FAMILIES[part.family]
        for way in family.wrong:
            seen += 1
            values = {p.name: np.full(3, p.default) for p in family.params}
            changed = way.change(values, np.array([0.0, 0.5, 1.0]))
            assert set(changed) <= set(values)
            assert all(np.isfinite(x).all() and not np.allclose(x, values[k], rtol=0.1) for k, x in changed.items())
            told = cause_text(part, way.name, kind=way.kind).text(part.ref)
            assert "belongs there" in told
            assert "died of age" not in told
    assert seen > 10
    assert sum(w.share for w in FAMILIES["resistor"].wrong) == pytest.approx(1.0)


@pytest.mark.parametrize(("said", "least", "most"), [("somebody inside", 0.75, 1.0), ("", 0.0, 0.05)])
def test_a_decade_too_low_is_found_once_somebody_was_inside(said, least, most):
    """470 ohm where 4k7 belongs, read in circuit and with a leg up. Where nobody was inside no row makes it."""
    circuit = circuit_of(f"relay does not click; {said}")
    rows = make_suspects(circuit)
    table = Table(circuit, rows)
    cold, alone = table.cold(), table.alone()
    outlook = table.outlook([cold, alone])
    values = draw_values(circuit, 1, np.random.default_rng(5), nominal_first=False)
    values["driver-R"]["ohms"] *= 0.1
    unit = Drawn((rows[0],), values, np.zeros((1, 1)))
    shown = np.concatenate([f(circuit, unit, b.columns).value[0, :, 0] for f, b in ((cold_block, cold), (alone_block, alone))])
    picks = [
        j
        for j, c in enumerate(outlook.columns)
        if c.where in ("driver-R", "zener", "coil-diode", "bleed-R") and not np.isnan(shown[j])
    ]
    post = posterior(outlook, [Reading(j, float(shown[j])) for j in picks])
    wrong = sum(
        o for row, o in zip(post.rows, post.row_odds, strict=True) if (row.part, row.way) == ("driver-R", "wrong part, low")
    )
    assert least <= wrong <= most
    assert said or post.not_on_sheet + post.two_at_once > 0.5
