"""The list of jobs and the beginning of one."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

from halfsplit.bench.desk import Desk
from halfsplit.bench.shelf import Intake
from halfsplit.circuit.starting import STARTS
from halfsplit.errors import HalfsplitError, InputError, SheetError
from halfsplit.jobs.job import Job
from halfsplit.jobs.log import read_log
from halfsplit.jobs.record import minutes_spent
from halfsplit.jobs.sheet_edit import check_text
from halfsplit.parts import FAMILIES
from halfsplit.units import format_quantity
from halfsplit.units_codes import decode_bands


def summary(desk: Desk, job: str) -> dict[str, Any]:
    """One line of the list: read from the log alone, nothing is solved for it. broken: why the log can't be read."""
    out: dict[str, Any] = {"job": job, "ticket": "", "limit": None, "closed": False, "broken": None}
    try:
        intake = desk.shelf.intake(job)
        out |= {"ticket": intake.ticket, "limit": intake.limit, "closed": intake.closed}
        lines = read_log(desk.shelf.path(job).read_bytes(), job).lines
    except HalfsplitError as bad:
        return {**out, "unit": "", "symptom": "", "minutes": 0.0, "entries": 0, "last": None, "broken": str(bad)}
    said = {key: words.strip() for key, _, words in (x.text.partition(":") for x in lines) if key in ("unit", "symptom")}
    last = lines[-1].time if lines else None
    return {
        **out,
        "unit": said.get("unit", ""),
        "symptom": said.get("symptom", ""),
        "minutes": round(minutes_spent(lines, last.timestamp() if last else 0.0), 1),
        "entries": len(lines),
        "last": None if last is None else last.isoformat(timespec="minutes"),
    }


def starts() -> list[dict[str, str]]:
    """The starting sheets."""
    return [{"name": s.name, "example": s.example} for s in STARTS.values()]


def families() -> list[dict[str, Any]]:
    """Part families for the form: name, the letters of its designators, its pins, unit of its main value."""
    units = {f.name: {p.name: p.unit for p in f.params}.get(f.main_value or "", "") for f in FAMILIES.values()}
    return [
        {"name": f.words[0] if f.words else f.name, "letters": list(f.letters), "pins": list(f.pins), "unit": units[f.name]}
        for f in FAMILIES.values()
        if not f.outlet
    ]


def read_bands(colours: str) -> dict[str, Any]:
    """A resistor by its colours, in words between commas or blanks. Raises InputError."""
    band = decode_bands(colours.replace(",", " ").split())
    return {"ohms": band.ohms, "text": format_quantity(band.ohms, "").replace(" ", ""), "tolerance": band.tolerance}


def look_over(text: str) -> dict[str, Any]:
    """What is wrong with a sheet, with line and column where it has one; else what it holds."""
    try:
        circuit = check_text(text)
    except SheetError as bad:
        return {
            "ok": False,
            "error": str(bad).partition(": ")[2] if bad.line else str(bad),
            "line": bad.line,
            "column": bad.column,
        }
    except InputError as bad:
        return {"ok": False, "error": str(bad), "line": None, "column": None}
    seen = [p for p in circuit.parts if not p.assumed]
    return {"ok": True, "parts": len(circuit.parts), "seen": len(seen), "nets": len(circuit.nets)}


def new_job(desk: Desk, unit: str, symptom: str, start: str, sheet: str, intake: Intake) -> str:
    """Begin a job from three lines, or from a sheet's text; its id. Tried first in a place of its own: what is refused leaves nothing behind."""
    with tempfile.TemporaryDirectory() as folder:
        trial = Path(folder) / "trial.job"
        _enter(Job(trial, kit=desk.kit), unit, symptom, start, sheet)
        lines = [line.text for line in read_log(trial.read_bytes(), "trial").lines]
    job = desk.shelf.begin(unit.split(",")[0])
    desk.shelf.keep(job, intake)
    Job(desk.shelf.path(job), kit=desk.kit).log.append_all(lines)
    return job


def _enter(job: Job, unit: str, symptom: str, start: str, sheet: str) -> None:
    if sheet.strip():
        job.begin_from_sheet(sheet.encode(), "sheet")
        return
    for key, words in (("unit", unit), ("symptom", symptom or "not said"), ("start", start)):
        if key == "start" and not words.strip():
            continue
        try:
            entries = job.take(f"{key}: {' '.join(words.split())}")
        except InputError as no:
            raise InputError(f"{key}: {no}") from None
        if key != "start":  # what the whole set would do is solved when the job is opened
            job.think(entries)
