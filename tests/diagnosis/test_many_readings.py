"""Every cold reading of a real starting sheet typed in: what agrees must not bring up a second fault, or something not drawn.

SOURCE  units made here from the engine's own spreads, with fresh tolerances and half a per cent of meter error. Computed.
BOUND   both explanations begin at 5 % each and explain nothing here that the true row does not: they have to lose. Weighed
        reading by reading they took 0.38 of the odds in the mean, and 0.87 at most.
"""

from __future__ import annotations

import numpy as np
import pytest

from halfsplit.circuit.sheet import Item, read_unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.build import Drawn, cold_block, draw
from halfsplit.diagnosis.outlook import Reading
from halfsplit.diagnosis.posterior import posterior
from halfsplit.diagnosis.suspects import draw_values
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import make_suspects

UNITS = 8


@pytest.fixture(scope="module")
def sheet():
    circuit = start_circuit("linear 12V 1A, 5V", read_unit(Item("radio, 230V 50Hz, class II, 30W", 1, 1, "unit")), ())
    table = Table(circuit, make_suspects(circuit))
    block = table.cold()
    # What a unit shows is solved for row `want` alone, as if it were the healthy one of a table of its own.
    return circuit, table.suspects, table.outlook([block]), block.columns


def units_with(sheet, part, way):
    """(units, columns) what fresh units with this fault show cold."""
    circuit, suspects, _, columns = sheet
    want = next(s for s in suspects if (s.row.part, s.row.way) == (part, way))
    few = draw(circuit, (suspects[0], want), draws=UNITS, times=1, seed=99)
    fresh = Drawn(few.suspects, draw_values(circuit, UNITS, np.random.default_rng(9), nominal_first=False), few.severity)
    return cold_block(circuit, fresh, columns).value[1].T


# A few shorted turns read cold like the fuse that they have opened: the odds of the two stand together.
@pytest.mark.parametrize(
    ("part", "way", "alike"), [("lead", "open", ()), ("fuse", "open", ("transformer",)), ("reservoir", "open", ())]
)
def test_readings_that_agree_bring_up_nothing_else(sheet, part, way, alike):
    outlook, rng = sheet[2], np.random.default_rng(4)
    others, found = [], []
    for shown in units_with(sheet, part, way):
        values = shown * (1 + 0.005 * rng.standard_normal(len(shown)))
        post = posterior(outlook, [Reading(j, float(x)) for j, x in enumerate(values) if not np.isnan(x)])
        others.append(post.two_at_once + post.not_on_sheet)
        found.append(sum(post.part_odds[p] for p in (part, *alike)))
        assert next(iter(post.part_odds)) == part
    assert max(others) < 0.1
    assert np.mean(found) > 0.7
