"""After a conviction: which drawn parts would have killed it, from the solved set, so that they are cleared before a new one is fitted."""

from __future__ import annotations

from halfsplit.circuit.model import Unit
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.outlook import Reading
from halfsplit.diagnosis.posterior import posterior
from halfsplit.jobs.cards import killers_alive
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import Weighed, make_suspects


def test_an_open_sense_resistor_points_back_at_the_chopper_that_opened_it():
    """Common practice: a source sense resistor is found open because the chopper above it went short."""
    circuit = start_circuit("flyback with controller 16/10V; out 24V 1.5A", Unit("printer", 230.0, 50.0, "II", 45.0), ())
    table = Table(circuit, make_suspects(circuit))
    outlook = table.outlook([table.cold(), table.alone()])
    at = next(j for j, c in enumerate(outlook.columns) if c.part == "sense-R" and c.state == "alone")
    post = posterior(outlook, [Reading(at, float("inf"))])
    rows = [i for i, r in enumerate(post.rows) if r.part == "sense-R" and post.row_odds[i] > 0.1]
    found = killers_alive(Weighed(outlook, post, (), ()), rows)
    assert [(part, way) for part, way, _ in found] == [("switch", "short")]
    assert 0 < found[0][2] < 0.5
    assert killers_alive(Weighed(outlook, post, (), ()), [0]) == []
