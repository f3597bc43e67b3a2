"""Sheets and tables for callers: a circuit from a sheet's text, the expected-readings table, plain-data questions."""

from __future__ import annotations

import re
from typing import Any

from halfsplit.circuit.assemble import build_circuit, with_loose_legs
from halfsplit.circuit.model import Circuit
from halfsplit.circuit.sheet import SheetText, read_sheet_bytes
from halfsplit.circuit.starting import start_circuit
from halfsplit.diagnosis.columns import DEAD
from halfsplit.diagnosis.posterior import posterior
from halfsplit.diagnosis.proposal import healthy_band
from halfsplit.errors import InputError
from halfsplit.jobs.fold import fold
from halfsplit.jobs.log import read_log
from halfsplit.jobs.refusals import refuse_circuit, refuse_unit
from halfsplit.jobs.table import Table
from halfsplit.jobs.weigh import make_suspects
from halfsplit.parts import FAMILIES

_STAMP = re.compile(rb"\d{4}-\d\d-\d\dT")  # how every line of a log begins
METERS = {
    "v": "DC volts",
    "ac": "AC volts",
    "max": "MAX",
    "min": "MIN",
    "r": "ohms",
    "d": "diode test",
    "c": "capacitance",
    "esr": "ESR",
    "every": "a watch",
}


def circuit_of_sheet(text: SheetText) -> Circuit:
    """The circuit of a sheet that was read; refuses what the trade refuses. Raises InputError."""
    ask = refuse_unit(text.unit.words, text.unit.volts, text.unit.watts)
    if ask is not None:
        raise InputError(ask.question)
    start = None if text.start is None else start_circuit(text.start.text, text.unit, tuple(i.text for i in text.symptom))
    circuit = with_loose_legs(build_circuit(text, FAMILIES, start), FAMILIES)
    again = refuse_circuit(circuit)
    if again is not None:
        raise InputError(again.question)
    return circuit


def circuit_from_sheet(data: bytes, name: str) -> Circuit:
    """The circuit of a sheet file."""
    return circuit_of_sheet(read_sheet_bytes(data, name))


def sheet_entries(data: bytes, name: str) -> list[tuple[str, str]]:
    """A sheet file as the (key, words) lines that a job's log would hold; checked as a whole first."""
    text = read_sheet_bytes(data, name)
    circuit_of_sheet(text)
    return entries_of(text)


def entries_of(text: SheetText) -> list[tuple[str, str]]:
    """A sheet that was read as the (key, words) lines that a job's log would hold."""
    out = [("unit", text.unit_item.text), ("symptom", "; ".join(i.text for i in text.symptom) or "not said")]
    if text.start is not None:
        out.append(("start", text.start.text))
    out += [("way", i.text) for i in text.ways]
    out += [("parts", i.text) for i in text.parts]
    out += [("does", f"{a.text}: {b.text}") for a, b in text.does]
    if text.cold:
        out.append(("cold", ", ".join(i.text for i in text.cold)))
    if text.cant:
        out.append(("cant", ", ".join(i.text for i in text.cant)))
    return out


def circuit_of_file(data: bytes, name: str) -> Circuit:
    """The circuit of a sheet file, or of the log of a job as far as it has come."""
    if not _STAMP.match(data):
        return circuit_from_sheet(data, name)
    circuit = fold(read_log(data, name).lines).circuit
    if circuit is None:
        raise InputError(f"{name}: this job has no starting sheet yet; enter unit, symptom and start first")
    return circuit


def expected_readings(data: bytes, name: str) -> list[dict[str, Any]]:
    """Healthy band of every reading worth taking, as plain data. data: a sheet file, or the log of a job."""
    return expected_of(circuit_of_file(data, name))


def expected_of(circuit: Circuit) -> list[dict[str, Any]]:
    """Healthy band of every reading worth taking on this circuit."""
    table = Table(circuit, make_suspects(circuit)[:1])
    blocks = [table.cold(), *(table.live(c) for c in table.conditions() if c.powered)]
    outlook = table.outlook(blocks)
    post = posterior(outlook, [])
    out = []
    for i, column in enumerate(outlook.columns):
        band = healthy_band(outlook, post, i)
        ends = None if band is None else ["OL" if x == float("inf") else float(x) for x in band]
        out.append(
            {
                "state": column.state if column.state != DEAD else "dead",
                "function": column.function,
                "meter": METERS[column.function],
                "red": column.red,
                "black": column.black,
                "where": column.where,
                "unit": column.unit,
                "healthy": ends,
            }
        )
    return out
