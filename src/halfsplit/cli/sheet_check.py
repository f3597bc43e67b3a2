"""halfsplit check: read a sheet and say what it holds and what is odd in it."""

from __future__ import annotations

import json
from pathlib import Path

import click

from halfsplit.cli.common import fail
from halfsplit.errors import HalfsplitError


@click.command()
@click.argument("sheet", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="The circuit as plain data.")
def check(sheet: Path, as_json: bool) -> None:
    """Check SHEET: parts, nets, what is assumed, what can't be."""
    from halfsplit.circuit.checks import check_circuit
    from halfsplit.circuit.model import circuit_to_data
    from halfsplit.jobs.sheets import circuit_from_sheet
    from halfsplit.parts import FAMILIES

    try:
        circuit = circuit_from_sheet(sheet.read_bytes(), str(sheet))
        odd = check_circuit(circuit, FAMILIES)
    except HalfsplitError as bad:
        fail(bad)
    if as_json:
        click.echo(json.dumps({"circuit": circuit_to_data(circuit), "odd": odd}))
        return
    seen = [p for p in circuit.parts if not p.assumed]
    u = circuit.unit
    click.echo(f"{u.words}, {u.volts:g} V {u.hertz:g} Hz, class {u.klass}, {u.watts:g} W")
    click.echo(
        f"{len(circuit.parts)} parts ({len(seen)} seen, {len(circuit.parts) - len(seen)} assumed), {len(circuit.nets)} nets"
    )
    for part in circuit.parts:
        values = ", ".join(f"{k} {v:g}" for k, v in part.values.items())
        pins = " ".join(f"{pin}={net}" for pin, net in part.pins.items())
        mark = "~" if part.assumed else " "
        click.echo(f" {mark} {part.ref:14s} {part.family:13s} {pins}  {values}")
    for line in odd:
        click.echo(f"  ? {line}")
