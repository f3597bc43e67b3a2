"""The drawing of each job: made once for a sheet; as the sheet grows what was placed stays where it is."""

from __future__ import annotations

import json
import threading
from pathlib import Path
from typing import Any

from halfsplit.bench.shelf import Shelf, whole_file
from halfsplit.circuit.model import Circuit

MOST = 24  # drawings that are remembered


class Drawings:
    """Drawings of a shelf's jobs, with the places of their parts in a file beside the log."""

    def __init__(self, shelf: Shelf) -> None:
        self.shelf = shelf
        self._lock = threading.Lock()
        self._made: list[tuple[str, Circuit, dict[str, Any]]] = []  # the newest last

    def of(self, job: str, circuit: Circuit) -> dict[str, Any]:
        """{"svg": text, "data": places of parts, pins and nets} of a job's circuit as it stands."""
        with self._lock:
            for name, known, made in self._made:
                if name == job and known == circuit:
                    return made
            return self._draw(job, circuit, self._places(job))

    def tidy(self, job: str, circuit: Circuit) -> dict[str, Any]:
        """Drawn anew from nothing: what was placed may move."""
        with self._lock:
            return self._draw(job, circuit, None)

    def file(self, job: str, circuit: Circuit, ending: str) -> tuple[bytes, str]:
        """For print: the file's bytes and its media type. ending: svg or pdf."""
        from halfsplit.drawing import draw, to_pdf, to_svg

        with self._lock:
            drawing = draw(circuit, self._places(job))
        if ending == "pdf":
            return to_pdf(drawing), "application/pdf"
        return to_svg(drawing, standalone=True).encode(), "image/svg+xml"

    def _draw(self, job: str, circuit: Circuit, kept: dict[str, Any] | None) -> dict[str, Any]:
        from halfsplit.drawing import draw, placement_of, to_data, to_svg

        drawing = draw(circuit, kept)
        whole_file(self._file(job), json.dumps(placement_of(drawing)).encode())
        made = {"svg": to_svg(drawing), "data": to_data(drawing)}
        self._made = [*(m for m in self._made[1 - MOST :] if m[0] != job or m[1] != circuit), (job, circuit, made)]
        return made

    def _places(self, job: str) -> dict[str, Any] | None:
        """Where the parts stood; None where nothing was drawn yet, or the file is of no use: then it is drawn from nothing."""
        try:
            places = json.loads(self._file(job).read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        return places if isinstance(places, dict) else None

    def _file(self, job: str) -> Path:
        return self.shelf.path(job).with_suffix(".places.json")
