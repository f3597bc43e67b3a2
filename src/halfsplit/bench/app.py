"""The page as a web application over one desk."""

from __future__ import annotations

import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from importlib.resources import files
from pathlib import Path

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse
from fastapi.staticfiles import StaticFiles
from starlette.exceptions import HTTPException

from halfsplit.bench.desk import Changed, Desk, Held
from halfsplit.bench.guard import HEADERS, Door, Guard
from halfsplit.bench.routes import router
from halfsplit.bench.shelf import NotThere
from halfsplit.errors import HalfsplitError

STATIC = Path(str(files("halfsplit.bench"))) / "static"


def make_app(desk: Desk, door: Door) -> FastAPI:
    """The page over one desk. app.state.stopping: set to end the event streams before the server waits for them."""

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        yield
        desk.close(wait=False)

    app = FastAPI(
        title="halfsplit bench page", version="1", docs_url=None, redoc_url=None, openapi_url="/api/openapi.json", lifespan=life
    )
    app.state.desk, app.state.stopping = desk, threading.Event()
    app.add_exception_handler(HalfsplitError, _wrong)
    app.add_exception_handler(RequestValidationError, _malformed)
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(Exception, _bug)
    app.add_api_route("/", _page, include_in_schema=False)
    app.include_router(router)
    app.mount("/static", StaticFiles(directory=STATIC), name="static")
    app.add_middleware(Guard, door=door)
    return app


def _page() -> HTMLResponse:
    return HTMLResponse((STATIC / "index.html").read_text(encoding="utf-8"), headers={"cache-control": "no-store"})


async def _wrong(request: Request, bad: Exception) -> JSONResponse:
    """What the user can put right: said with its remedy."""
    code = 409 if isinstance(bad, (Changed, Held)) else 404 if isinstance(bad, NotThere) else 400
    return JSONResponse({"error": str(bad)}, code)


async def _http(request: Request, bad: Exception) -> JSONResponse:
    """What the framework refuses by itself, in the same words' place as the rest."""
    if not isinstance(bad, HTTPException):
        raise bad
    return JSONResponse({"error": bad.detail}, bad.status_code, headers=bad.headers)


async def _bug(request: Request, bad: Exception) -> JSONResponse:
    """An error of the program. It is answered outside the guard, so the guard's headers are put in here."""
    text = f"{type(bad).__name__} in the bench page; what was acknowledged is kept. Its terminal shows where"
    return JSONResponse({"error": text}, 500, headers=HEADERS)


async def _malformed(request: Request, bad: Exception) -> JSONResponse:
    first = bad.errors()[0] if isinstance(bad, RequestValidationError) else {"loc": (), "msg": str(bad)}
    return JSONResponse({"error": f"{'.'.join(str(x) for x in first['loc'])}: {first['msg']}"}, 422)
