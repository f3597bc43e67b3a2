"""halfsplit expect, suspects, next, log: one question to a job, one answer."""

from __future__ import annotations

import json
from pathlib import Path

import click

from halfsplit.cli.common import fail, kit_option, open_or_exit
from halfsplit.cli.show import band_text, card_lines, pair_text, places_text
from halfsplit.errors import HalfsplitError

JOB = click.argument("job", type=click.Path(exists=True, dir_okay=False, path_type=Path))
AS_JSON = click.option("--json", "as_json", is_flag=True, help="The same as JSON.")


@click.command()
@click.argument("file", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@AS_JSON
def expect(file: Path, as_json: bool) -> None:
    """What a healthy set would show, at every place worth reading. FILE is a sheet or a job."""
    from halfsplit.jobs.sheets import expected_readings

    try:
        rows = expected_readings(file.read_bytes(), str(file))
    except HalfsplitError as bad:
        fail(bad)
    if as_json:
        click.echo(json.dumps(rows))
        return
    for row in rows:
        click.echo(f"{row['state']:12s} {row['meter']:14s} {row['where']:32s} {band_text(row['healthy'], row['unit'])}")


@click.command()
@JOB
@AS_JSON
@kit_option
def suspects(job: Path, as_json: bool, kit: Path | None) -> None:
    """Who is suspected, with odds and reasons."""
    answer = open_or_exit(job, kit, as_json=as_json).first()
    if as_json:
        click.echo(json.dumps({k: answer[k] for k in ("suspects", "pairs", "nothing_wrong", "not_on_sheet", "undrawn", "blocks", "cleared")}))
        return
    for s in answer["suspects"]:
        click.echo(f"{100 * s['odds']:5.1f} %  {s['part']} {s['way']}: {s['why']}")
    for p in answer["pairs"]:
        click.echo(f"{100 * p['odds']:5.1f} %  {pair_text(p)}")
    click.echo(f"{100 * answer['nothing_wrong']:5.1f} %  nothing wrong")
    click.echo(f"{100 * answer['not_on_sheet']:5.1f} %  not on the sheet{places_text(answer)}")
    if answer["blocks"]:
        click.echo("by block: " + ", ".join(f"{b['block']} {100 * b['odds']:.0f} %" for b in answer["blocks"]))


@click.command("next")
@JOB
@AS_JSON
@kit_option
def next_reading(job: Path, as_json: bool, kit: Path | None) -> None:
    """What to do or read next."""
    answer = open_or_exit(job, kit, as_json=as_json).first()
    click.echo(json.dumps(answer["card"]) if as_json else "\n".join(card_lines(answer["card"])))


@click.command()
@JOB
@AS_JSON
def log(job: Path, as_json: bool) -> None:
    """The entries of a job, one a line."""
    from halfsplit.jobs.log import JobLog

    try:
        lines = JobLog.open(job).lines()
    except HalfsplitError as bad:
        fail(bad)
    if as_json:
        click.echo(json.dumps([{"line": x.number, "time": x.time.isoformat(), "text": x.text} for x in lines]))
        return
    for x in lines:
        click.echo(f"{x.number:4d}  {x.time:%H:%M:%S}  {x.text}")
