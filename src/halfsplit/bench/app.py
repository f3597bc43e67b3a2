"""The routes of the page. Each one calls the desk or the shelf and gives plain data back; none decides anything of the trade."""

from __future__ import annotations

from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import asdict, replace
from importlib.resources import files
from pathlib import Path
from typing import Annotated, Any

from fastapi import FastAPI, Header, Query, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, Response, StreamingResponse
from fastapi.staticfiles import StaticFiles
from pydantic import BaseModel, Field

from halfsplit.bench import begin, say
from halfsplit.bench.desk import Changed, Desk, Held
from halfsplit.bench.guard import Door, Guard
from halfsplit.bench.shelf import BIGGEST_UPLOAD, Intake
from halfsplit.bench.stream import events
from halfsplit.errors import HalfsplitError, InputError

STATIC = Path(str(files("halfsplit.bench"))) / "static"
DEVICE = r"^[0-9a-z]{8,32}$"
Name = Annotated[str, Field(max_length=40)]


class Line(BaseModel):
    """One line as typed. key: made once by the device, the same when sent again. stamp: of the view it was typed against."""

    line: str = Field(max_length=1000)
    key: str = Field(pattern=DEVICE)
    stamp: str = Field(max_length=16)
    device: str = Field(pattern=DEVICE)


class Who(BaseModel):
    """A device and what it is called."""

    device: str = Field(pattern=DEVICE)
    name: Name = ""


class NewJob(BaseModel):
    """What is known when a set comes in."""

    unit: str = Field(max_length=200)
    symptom: str = Field(max_length=300)
    start: str = Field(default="", max_length=300)
    sheet: str = Field(default="", max_length=20000)
    ticket: Name = ""
    limit: float | None = Field(default=None, ge=1, le=10000)


class Limits(BaseModel):
    """What may still be changed of the intake."""

    ticket: Name | None = None
    limit: float | None = Field(default=None, ge=1, le=10000)
    closed: bool | None = None


class Answered(BaseModel):
    """What became of a line."""

    taken: bool
    again: bool = False
    refused: str | None = None


class Problem(BaseModel):
    """What is wrong and what to do."""

    error: str


NO = {code: {"model": Problem} for code in (400, 401, 403, 404, 409, 413, 421, 422)}


def make_app(desk: Desk, door: Door) -> FastAPI:
    """The page over one desk."""
    stopping = False

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        yield
        desk.close()

    app = FastAPI(title="halfsplit bench page", version="1", docs_url=None, redoc_url=None, openapi_url="/api/openapi.json", lifespan=life)
    app.state.stop = lambda: None

    @app.exception_handler(HalfsplitError)
    async def wrong(request: Request, bad: HalfsplitError) -> JSONResponse:
        code = 409 if isinstance(bad, (Changed, Held)) else 404 if "there is no job" in str(bad) or "has no photograph" in str(bad) else 400
        return JSONResponse({"error": str(bad)}, code)

    @app.exception_handler(RequestValidationError)
    async def malformed(request: Request, bad: RequestValidationError) -> JSONResponse:
        first = bad.errors()[0]
        return JSONResponse({"error": f"{'.'.join(str(x) for x in first['loc'])}: {first['msg']}"}, 422)

    @app.get("/", include_in_schema=False)
    def page() -> HTMLResponse:
        return HTMLResponse((STATIC / "index.html").read_text(encoding="utf-8"), headers={"cache-control": "no-store"})

    app.mount("/static", StaticFiles(directory=STATIC), name="static")

    @app.get("/api/jobs", responses=NO)
    def jobs() -> list[dict[str, Any]]:
        """Every job, the last worked on first."""
        return [begin.summary(desk, job) for job in desk.shelf.ids()]

    @app.get("/api/starts", responses=NO)
    def starts() -> list[dict[str, str]]:
        """The starting sheets, each with a line to go by."""
        return begin.starts()

    @app.post("/api/jobs", responses=NO)
    def new_job(new: NewJob) -> dict[str, str]:
        """Begin a job. What the trade refuses is refused here."""
        intake = Intake(ticket=new.ticket.strip(), limit=new.limit)
        return {"job": begin.new_job(desk, new.unit, new.symptom, new.start, new.sheet, intake)}

    @app.get("/api/jobs/{job}", responses=NO)
    def view(job: str) -> dict[str, Any]:
        """The whole view as it stands."""
        return desk.job(job).view()

    @app.post("/api/jobs/{job}/lines", responses=NO)
    def enter(job: str, line: Line) -> Answered:
        """Take one line once; acknowledged when it is on the disk. What it means comes over the stream."""
        return Answered(**{k: v for k, v in desk.job(job).enter(line.line, line.key, line.stamp, line.device).items() if k != "answer"})

    @app.get("/api/jobs/{job}/events", responses={**NO, 200: {"content": {"text/event-stream": {}}}}, response_class=StreamingResponse)
    async def stream(job: str, device: Annotated[str, Query(pattern=DEVICE)], name: Annotated[str, Query(max_length=40)] = "") -> StreamingResponse:
        """Every change of this job, as server-sent events."""
        return StreamingResponse(events(desk.job(job), device, name, lambda: stopping), media_type="text/event-stream", headers={"cache-control": "no-store"})

    @app.post("/api/jobs/{job}/hold", responses=NO)
    def hold(job: str, who: Who) -> dict[str, bool]:
        """Take the probes over."""
        desk.job(job).hold(who.device, who.name)
        return {"ok": True}

    @app.post("/api/jobs/{job}/hand-over", responses=NO)
    def hand_over(job: str, who: Who) -> dict[str, bool]:
        """Give the probes away."""
        desk.job(job).hand_over(who.device)
        return {"ok": True}

    @app.post("/api/jobs/{job}/limits", responses=NO)
    def limits(job: str, said: Limits) -> dict[str, Any]:
        """Ticket, minutes that may be spent, closed or not."""
        desk.shelf.path(job)
        intake = replace(desk.shelf.intake(job), **{k: v for k, v in said.model_dump(exclude_unset=True).items() if k == "limit" or v is not None})
        desk.shelf.keep(job, intake)
        desk.job(job).publish()
        return {k: v for k, v in asdict(intake).items() if k != "placement"}

    @app.post("/api/jobs/{job}/photos", responses=NO, openapi_extra={"requestBody": {"content": {"image/jpeg": {}, "image/png": {}, "image/webp": {}}}})
    async def add_photo(job: str, request: Request, content_length: Annotated[int | None, Header()] = None) -> Response:
        """A photograph as the body."""
        desk.shelf.path(job)
        if (content_length or 0) > BIGGEST_UPLOAD:
            return JSONResponse({"error": f"at most {BIGGEST_UPLOAD / 1e6:.0f} MB"}, 413)
        data = bytearray()
        async for piece in request.stream():
            data += piece
            if len(data) > BIGGEST_UPLOAD:
                return JSONResponse({"error": f"at most {BIGGEST_UPLOAD / 1e6:.0f} MB"}, 413)
        import asyncio

        name = await asyncio.to_thread(desk.shelf.add_photo, job, bytes(data))
        await asyncio.to_thread(desk.job(job).publish)
        return JSONResponse({"photo": name})

    @app.get("/api/jobs/{job}/photos/{name}", responses={**NO, 200: {"content": {"image/jpeg": {}}}}, response_class=Response)
    def photo(job: str, name: str) -> Response:
        """One photograph."""
        desk.shelf.path(job)
        return Response(desk.shelf.photo(job, name), media_type="image/jpeg", headers={"cache-control": "private, max-age=86400"})

    @app.get("/api/say", responses={**NO, 200: {"content": {"audio/wav": {}}}, 204: {}}, response_class=Response)
    def aloud(text: Annotated[str, Query(max_length=600)]) -> Response:
        """A text in this machine's voice; empty where it has none."""
        wav = say.spoken(text)
        return Response(status_code=204) if wav is None else Response(wav, media_type="audio/wav")

    def stop() -> None:
        nonlocal stopping
        stopping = True

    app.state.stop = stop
    app.add_middleware(Guard, door=door)
    return app


__all__ = ["InputError", "make_app"]
