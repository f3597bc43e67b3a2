"""halfsplit draw: a sheet or a job as a schematic, SVG or PDF."""

from __future__ import annotations

from pathlib import Path

import click

from halfsplit.cli.common import fail
from halfsplit.errors import HalfsplitError, InputError


@click.command()
@click.argument("file", metavar="JOB_OR_SHEET", type=click.Path(exists=True, dir_okay=False, path_type=Path))
@click.option(
    "-o",
    "out",
    type=click.Path(dir_okay=False, path_type=Path),
    help="Where to: NAME.svg or NAME.pdf. Without it: SVG to the screen.",
)
def draw(file: Path, out: Path | None) -> None:
    """Draw the schematic of JOB_OR_SHEET. Assumed parts are dashed; every 0 V net has its own sign."""
    from halfsplit.drawing import draw as schematic
    from halfsplit.drawing import to_pdf, to_svg
    from halfsplit.jobs.sheets import circuit_of_file

    try:
        kind = ".svg" if out is None else out.suffix.lower()
        if kind not in (".svg", ".pdf"):
            raise InputError(f"{out}: can't draw into that; name it .svg or .pdf")
        drawing = schematic(circuit_of_file(file.read_bytes(), str(file)))
        if out is None:
            click.echo(to_svg(drawing, standalone=True), nl=False)
            return
        out.write_bytes(to_pdf(drawing) if kind == ".pdf" else to_svg(drawing, standalone=True).encode())
    except HalfsplitError as bad:
        fail(bad)
    click.echo(f"{out} written")
