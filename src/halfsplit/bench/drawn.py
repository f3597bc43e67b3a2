"""The drawing of each job: made once for a sheet; as the sheet grows what was placed stays where it is."""

from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import Any

from halfsplit.bench.shelf import Shelf, whole_file
from halfsplit.circuit.model import Circuit
from halfsplit.drawing import Drawing, draw, placement_of, to_data, to_pdf, to_svg

MOST = 24  # drawings that are remembered


class Drawings:
    """Drawings of a shelf's jobs, with the places of their parts in a file beside the log."""

    def __init__(self, shelf: Shelf) -> None:
        self.shelf = shelf
        self._lock = threading.Lock()
        self._made: list[tuple[str, Circuit, Drawing]] = []  # the newest last

    def of(self, job: str, circuit: Circuit) -> dict[str, Any]:
        """{"svg": text, "data": places of parts, pins and nets} of a job's circuit as it stands."""
        return as_shown(self._of(job, circuit))

    def tidy(self, job: str, circuit: Circuit) -> dict[str, Any]:
        """Drawn anew from nothing: what was placed may move."""
        with self._lock:
            return as_shown(self._draw(job, circuit, None))

    def file(self, job: str, circuit: Circuit, ending: str) -> tuple[bytes, str]:
        """For print: the file's bytes and its media type. ending: svg or pdf."""
        drawing = self._of(job, circuit)
        if ending == "pdf":
            return to_pdf(drawing), "application/pdf"
        return to_svg(drawing, standalone=True).encode(), "image/svg+xml"

    def _of(self, job: str, circuit: Circuit) -> Drawing:
        with self._lock:
            known = (drawing for name, drawn, drawing in self._made if name == job and drawn == circuit)
            return next(known, None) or self._draw(job, circuit, self._places(job))

    def _draw(self, job: str, circuit: Circuit, kept: dict[str, Any] | None) -> Drawing:
        drawing = draw(circuit, kept)
        whole_file(self._file(job), json.dumps(placement_of(drawing)).encode())
        self._made = [*(m for m in self._made[1 - MOST :] if m[0] != job or m[1] != circuit), (job, circuit, drawing)]
        return drawing

    def _places(self, job: str) -> dict[str, Any] | None:
        """Where the parts stood; None where nothing was drawn yet, or the file is of no use: then it is drawn from nothing."""
        try:
            places = json.loads(self._file(job).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        return places if isinstance(places, dict) else None

    def _file(self, job: str) -> Path:
        return self.shelf.path(job).with_suffix(".places.json")


def as_shown(drawing: Drawing) -> dict[str, Any]:
    """A drawing as the page takes it."""
    return {"svg": to_svg(drawing), "data": to_data(drawing)}
