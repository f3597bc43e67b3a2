"""The routes of the page. Each one calls the desk or the shelf and gives plain data back; none decides anything of the trade."""

from __future__ import annotations

import asyncio
from dataclasses import asdict
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Header, Query, Request
from fastapi import Path as PathOf
from fastapi.responses import JSONResponse, Response, StreamingResponse

from halfsplit.bench import begin, say
from halfsplit.bench.desk import Desk
from halfsplit.bench.messages import DEVICE, NO, Answered, Limits, Line, NewJob, SheetEdit, SheetText, Who
from halfsplit.bench.shelf import BIGGEST_UPLOAD, Intake
from halfsplit.bench.stream import events
from halfsplit.jobs.odds_history import odds_history
from halfsplit.jobs.predicted_spread import spread
from halfsplit.jobs.predicted_wave import waveform

router = APIRouter(prefix="/api", responses=NO)


def desk_of(request: Request) -> Desk:
    """The desk that this app serves."""
    desk: Desk = request.app.state.desk
    return desk


TheDesk = Annotated[Desk, Depends(desk_of)]
Net = Annotated[str, Query(max_length=60)]
State = Annotated[str | None, Query(max_length=80)]


@router.get("/jobs")
def jobs(desk: TheDesk) -> list[dict[str, Any]]:
    """Every job, the last worked on first."""
    return [begin.summary(desk, job) for job in desk.shelf.ids()]


@router.get("/starts")
def starts() -> list[dict[str, str]]:
    """The starting sheets, each with a line to go by."""
    return begin.starts()


@router.get("/families")
def families() -> list[dict[str, Any]]:
    """Part families, for adding a part by form."""
    return begin.families()


@router.get("/bands")
def bands(colours: Annotated[str, Query(max_length=120)]) -> dict[str, Any]:
    """A resistor's value by its colours."""
    return begin.read_bands(colours)


@router.post("/jobs")
def new_job(desk: TheDesk, new: NewJob) -> dict[str, str]:
    """Begin a job. What the trade refuses is refused here."""
    intake = Intake(ticket=new.ticket.strip(), limit=new.limit)
    return {"job": begin.new_job(desk, new.unit, new.symptom, new.start, new.sheet, intake)}


@router.get("/jobs/{job}")
def view(desk: TheDesk, job: str) -> dict[str, Any]:
    """The whole view as it stands."""
    return desk.job(job).view()


@router.post("/jobs/{job}/lines")
def enter(desk: TheDesk, job: str, line: Line) -> Answered:
    """Take one line once; acknowledged when it is on the disk. What it means comes over the stream."""
    return Answered(**desk.job(job).enter(line.line, line.key, line.stamp, line.device))


@router.get("/jobs/{job}/events", responses={200: {"content": {"text/event-stream": {}}}}, response_class=StreamingResponse)
async def stream(
    desk: TheDesk,
    request: Request,
    job: str,
    device: Annotated[str, Query(pattern=DEVICE)],
    name: Annotated[str, Query(max_length=40)] = "",
) -> StreamingResponse:
    """Every change of this job, as server-sent events."""
    return StreamingResponse(
        events(desk.job(job), device, name, request.app.state.stopping.is_set),
        media_type="text/event-stream",
        headers={"cache-control": "no-store"},
    )


@router.get("/jobs/{job}/drawing")
def drawing(desk: TheDesk, job: str) -> dict[str, Any]:
    """The sheet drawn: an SVG, and where its parts, pins and nets are."""
    return desk.drawings.of(job, desk.circuit(job))


@router.get(
    "/jobs/{job}/drawing.{ending}",
    responses={200: {"content": {"image/svg+xml": {}, "application/pdf": {}}}},
    response_class=Response,
)
def drawing_file(desk: TheDesk, job: str, ending: Annotated[str, PathOf(pattern="^(svg|pdf)$")]) -> Response:
    """The drawing as a file for print."""
    data, kind = desk.drawings.file(job, desk.circuit(job), ending)
    name = f'attachment; filename="{job}.{ending}"'
    return Response(data, media_type=kind, headers={"content-disposition": name})


@router.post("/jobs/{job}/tidy")
def tidy(desk: TheDesk, job: str) -> dict[str, Any]:
    """The same, drawn anew from nothing."""
    return desk.drawings.tidy(job, desk.circuit(job))


@router.get("/jobs/{job}/odds")
def odds(desk: TheDesk, job: str) -> dict[str, Any]:
    """How the odds moved with each entry; asked again while `left` is above 0."""
    return desk.job(job).with_job(lambda j: odds_history(j, within=0.3))


@router.get("/jobs/{job}/spread")
def spread_at(desk: TheDesk, job: str, red: Net, black: Net, function: Net, alone: bool = False, state: State = None) -> dict[str, Any]:
    """What healthy units and the heaviest suspects would show at a place."""
    return desk.job(job).with_job(lambda j: spread(j, red, black, function, alone, state=state))


@router.get("/jobs/{job}/wave")
def wave(desk: TheDesk, job: str, red: Net, black: Net, state: State = None) -> dict[str, Any]:
    """The predicted waveform of a net over one mains period."""
    return desk.job(job).with_job(lambda j: waveform(j, red, black, state=state))


@router.get("/jobs/{job}/sheet")
def sheet(desk: TheDesk, job: str) -> dict[str, str]:
    """The sheet as it stands."""
    return {"text": desk.job(job).with_job(lambda j: j.sheet_text())}


@router.post("/jobs/{job}/sheet")
def edit_sheet(desk: TheDesk, job: str, edit: SheetEdit) -> dict[str, int]:
    """Enter what the text says differently, as lines of the log."""
    return {"lines": desk.job(job).edit_sheet(edit.text, edit.key, edit.device)}


@router.post("/sheet/check")
def check_sheet(sheet: SheetText) -> dict[str, Any]:
    """Look a sheet over: the first fault with its place, or how many parts and nets it has."""
    return begin.look_over(sheet.text)


@router.post("/jobs/{job}/hold")
def hold(desk: TheDesk, job: str, who: Who) -> dict[str, bool]:
    """Take the probes over."""
    desk.job(job).hold(who.device, who.name)
    return {"ok": True}


@router.post("/jobs/{job}/hand-over")
def hand_over(desk: TheDesk, job: str, who: Who) -> dict[str, bool]:
    """Give the probes away."""
    desk.job(job).hand_over(who.device)
    return {"ok": True}


@router.post("/jobs/{job}/limits")
def limits(desk: TheDesk, job: str, said: Limits) -> dict[str, Any]:
    """Ticket, minutes that may be spent, closed or not."""
    desk.shelf.path(job)
    given = said.model_dump(exclude_unset=True)
    intake = desk.shelf.change(job, **{k: v for k, v in given.items() if k == "limit" or v is not None})
    desk.job(job).publish()
    return asdict(intake)


@router.post(
    "/jobs/{job}/photos",
    responses=NO,
    openapi_extra={"requestBody": {"content": {"image/jpeg": {}, "image/png": {}, "image/webp": {}}}},
)
async def add_photo(
    desk: TheDesk, job: str, request: Request, content_length: Annotated[int | None, Header()] = None
) -> Response:
    """A photograph as the body."""
    desk.shelf.path(job)
    if (content_length or 0) > BIGGEST_UPLOAD:
        return JSONResponse({"error": f"at most {BIGGEST_UPLOAD / 1e6:.0f} MB"}, 413)
    data = bytearray()
    async for piece in request.stream():
        data += piece
        if len(data) > BIGGEST_UPLOAD:
            return JSONResponse({"error": f"at most {BIGGEST_UPLOAD / 1e6:.0f} MB"}, 413)
    name = await asyncio.to_thread(desk.shelf.add_photo, job, bytes(data))
    await asyncio.to_thread(desk.job(job).publish)
    return JSONResponse({"photo": name})


@router.get("/jobs/{job}/photos/{name}", responses={200: {"content": {"image/jpeg": {}}}}, response_class=Response)
def photo(desk: TheDesk, job: str, name: str) -> Response:
    """One photograph."""
    desk.shelf.path(job)
    return Response(desk.shelf.photo(job, name), media_type="image/jpeg", headers={"cache-control": "private, max-age=86400"})


@router.get("/say", responses={200: {"content": {"audio/wav": {}}}, 204: {}}, response_class=Response)
def aloud(desk: TheDesk, text: Annotated[str, Query(max_length=600)]) -> Response:
    """A text in this machine's voice; empty where it has none."""
    wav = say.spoken(text)
    return Response(status_code=204) if wav is None else Response(wav, media_type="audio/wav")
