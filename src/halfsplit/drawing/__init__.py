"""Sheet to schematic by itself: plug on the left, load on the right, hot and cold apart, false joins impossible."""

from __future__ import annotations

from halfsplit.drawing.data import to_data
from halfsplit.drawing.model import Drawing
from halfsplit.drawing.pdf import to_pdf
from halfsplit.drawing.schematic import draw, placement_of
from halfsplit.drawing.svg import to_svg

__all__ = ["Drawing", "draw", "placement_of", "to_data", "to_pdf", "to_svg"]
