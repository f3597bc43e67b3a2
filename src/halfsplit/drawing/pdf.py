"""A drawing on one lying page, as large as fits; its words stay text."""

from __future__ import annotations

import tempfile
from pathlib import Path

from halfsplit.drawing.model import Drawing
from halfsplit.drawing.svg import to_svg

PAGE = (
    '#set page(width: 297mm, height: 210mm, margin: 8mm)\n#align(center + horizon, image("drawing.svg", width: 100%, '
    'height: 100%, fit: "contain"))\n'
)


def to_pdf(drawing: Drawing) -> bytes:
    """The drawing as a PDF."""
    import typst

    with tempfile.TemporaryDirectory() as room:
        (Path(room) / "drawing.svg").write_text(to_svg(drawing, standalone=True), encoding="utf-8")
        (Path(room) / "page.typ").write_text(PAGE, encoding="utf-8")
        return bytes(typst.compile(str(Path(room) / "page.typ")))
