"""halfsplit demo: the main job played on a shipped example."""

from __future__ import annotations

import tempfile
from pathlib import Path

import click

from halfsplit.cli.common import open_or_exit
from halfsplit.cli.show import show
from halfsplit.jobs.examples import DEMO


@click.command()
def demo() -> None:
    """Play a whole job: a dead label printer, from three lines to the part."""
    with tempfile.TemporaryDirectory() as folder:
        kit = Path(folder) / "kit.yaml"
        kit.write_text(DEMO.kit, encoding="utf-8")
        job = open_or_exit(Path(folder) / "demo.job", kit, progress=lambda text: click.echo(f"  ({text})", err=True))
        job.first()
        for line in DEMO.lines:
            click.echo(f"\n> {line}")
            click.echo(show(job.send(line)))
