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
    from halfsplit.drawing import to_svg
    from halfsplit.jobs.sheets import circuit_of_file

    try:
        kind = ".svg" if out is None else out.suffix.lower()
        if kind not in (".svg", ".pdf"):
            raise InputError(f"{out}: can't draw into that; name it .svg or .pdf")
        svg = to_svg(schematic(circuit_of_file(file.read_bytes(), str(file))), standalone=True)
        if out is None:
            click.echo(svg, nl=False)
            return
        out.write_bytes(_pdf(svg) if kind == ".pdf" else svg.encode())
    except HalfsplitError as bad:
        fail(bad)
    click.echo(f"{out} written")


def _pdf(svg: str) -> bytes:
    """The drawing on one lying page, as large as fits; its words stay text."""
    import tempfile

    try:
        import typst
    except ImportError:
        raise InputError("PDF needs the library typst; install it, or draw into .svg") from None

    page = (
        '#set page(width: 297mm, height: 210mm, margin: 8mm)\n#align(center + horizon, image("drawing.svg", width: 100%, '
        'height: 100%, fit: "contain"))\n'
    )
    with tempfile.TemporaryDirectory() as room:
        (Path(room) / "drawing.svg").write_text(svg, encoding="utf-8")
        (Path(room) / "page.typ").write_text(page, encoding="utf-8")
        return bytes(typst.compile(str(Path(room) / "page.typ")))
