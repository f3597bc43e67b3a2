"""halfsplit work: the loop. One line in, the answer out."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import click

from halfsplit.cli.common import kit_option, open_or_exit
from halfsplit.cli.show import show
from halfsplit.errors import InputError


@click.command()
@click.argument("job", type=click.Path(dir_okay=False, path_type=Path))
@click.option("--json", "as_json", is_flag=True, help="One JSON object a line, for other programs.")
@click.option("--sheet", type=click.Path(exists=True, dir_okay=False, path_type=Path), help="Begin the job from a sheet file.")
@kit_option
def work(job: Path, as_json: bool, sheet: Path | None, kit: Path | None) -> None:
    """Work on JOB, a log file that is made if it isn't there. Type a line: what was read, seen or done."""
    opened = open_or_exit(job, kit, as_json=as_json, sheet=sheet)

    def out(answer: dict[str, Any]) -> None:
        if as_json:
            sys.stdout.write(json.dumps(answer) + "\n")
            sys.stdout.flush()
        else:
            click.echo(show(answer))

    out(opened.first())
    interactive = sys.stdin.isatty() and not as_json
    while True:
        if interactive:
            sys.stdout.write(opened.prompt())
            sys.stdout.flush()
        raw = sys.stdin.buffer.readline()
        if not raw:
            return
        if not raw.endswith(b"\n"):
            click.echo("the last line was cut short and was not taken; type it again", err=True)
            sys.exit(2)
        try:
            line = raw.decode("utf-8").rstrip("\r\n")
        except UnicodeDecodeError:
            out({**opened.send(""), "ok": False, "refused": "this line is not UTF-8 text; type it again"})
            continue
        if not line.strip():
            continue
        if line.strip().lower() in ("quit", "bye"):
            return
        if as_json:
            out(opened.send(line))
        else:
            _said(opened, line, out)


def _said(opened: Any, line: str, out: Any) -> None:
    """On disk and acknowledged first; the thinking comes after."""
    try:
        entries = opened.take(line)
    except InputError as no:
        out(opened.refusal(str(no)))
        return
    click.echo("noted.")
    out(opened.think(entries))
