"""The commands: parse, call jobs, print. Each command in its own file."""

from __future__ import annotations

import click

from halfsplit.cli import bench, demo, draw, questions, sheet_check, work


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
def main() -> None:
    """Find the part that failed in a dead mains-powered unit: few readings, safe ones first."""


for command in (
    work.work,
    sheet_check.check,
    draw.draw,
    questions.expect,
    questions.suspects,
    questions.next_reading,
    questions.log,
    demo.demo,
    bench.bench,
):
    main.add_command(command)
