"""What a healthy unit shows at two nodes, as the tool expects it: for the checks against the values that the trade goes by."""

from __future__ import annotations

from halfsplit.circuit.model import Circuit
from halfsplit.diagnosis.columns import Condition, make_column
from halfsplit.diagnosis.posterior import Setting, posterior
from halfsplit.diagnosis.proposal import healthy_band
from halfsplit.jobs.kit import default_kit
from halfsplit.jobs.table import Acts, Table
from halfsplit.jobs.weigh import make_suspects, meter_accuracy


def healthy_table(circuit: Circuit) -> Table:
    """The table of a unit with no other explanation than that nothing is wrong."""
    return Table(circuit, tuple(s for s in make_suspects(circuit) if s.part is None))


def band_at(table: Table, function: str, red: str, black: str, condition: Condition) -> tuple[float, float]:
    """(least, most) [V, ohm] of it between these nodes in that condition."""
    column = make_column(function, red, black, condition.key, where=red)
    outlook = table.outlook([table.extra(column, condition, Acts())])
    found = healthy_band(outlook, posterior(outlook, [], setting=Setting(meter=meter_accuracy(default_kit()))), 0)
    assert found is not None
    return found
