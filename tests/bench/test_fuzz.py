"""Whatever is sent to the page, it answers as its own description says and never with an error of the program."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
import schemathesis
from fastapi.routing import APIRoute
from hypothesis import HealthCheck, given, settings
from schemathesis import GenerationMode
from schemathesis.checks import CHECKS, load_all_checks
from schemathesis.python import asgi

from bench_support import FUSED, HERE, begin, desk_on
from halfsplit.bench.app import make_app
from halfsplit.bench.guard import Door
from halfsplit.bench.routes import router

JOB = "1-night-light"
# lines that mean something, so that not only the refusals are tried
LINES = ("off", "dead 9V mains 0.3V", "R1 1k", "1k", "on", "no", "no 3", "see nothing", "was 2k", "way: mid C1(1u) N", "tell", "twin", "ok")


CHECKED = [
    load_all_checks() or CHECKS.get_one(name)
    for name in ("not_a_server_error", "status_code_conformance", "content_type_conformance", "response_schema_conformance")
]


@pytest.fixture(scope="module")
def api(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Any]:
    """The page's own description, over a desk with one job that a third of the requests find."""
    folder = tmp_path_factory.mktemp("fuzz")
    begin(folder, JOB, sheet=FUSED)
    desk = desk_on(folder)
    close = desk.close
    desk.close = lambda wait=True: None  # type: ignore[method-assign]  # each request in this process starts and ends the application
    desk.job(JOB).hold(HERE, "bench tablet")
    app = make_app(desk, Door(frozenset({asgi.HOST}), None))
    schema = schemathesis.openapi.from_asgi("/api/openapi.json", app)
    turn = iter(range(10**9))

    @schema.hook
    def map_path_parameters(context: Any, path_parameters: dict[str, Any]) -> dict[str, Any]:
        return {**path_parameters, "job": JOB} if path_parameters and "job" in path_parameters and next(turn) % 3 else path_parameters

    @schema.hook
    def map_body(context: Any, body: Any) -> Any:
        number = next(turn)
        if isinstance(body, dict) and "stamp" in body and number % 4:
            body = {**body, "stamp": desk.job(JOB).view()["stamp"], "device": HERE}
            return {**body, "line": LINES[number // 4 % len(LINES)]} if number % 2 else body
        if isinstance(body, dict) and "text" in body and number % 4:
            return {**body, "text": FUSED.replace("2k2", f"{number}R"), "device": HERE}
        return body

    yield schema
    close()


# the event stream never ends by itself
ASKS = [(m, r) for r in router.routes if isinstance(r, APIRoute) for m in r.methods if not r.path.endswith("/events")]
CASES = [
    pytest.param(method, route.path, mode, id=f"{method} {route.path} {mode.value}")
    for method, route in ASKS
    for mode in GenerationMode
    # where nothing but a name is said nothing can be said wrongly
    if mode is GenerationMode.POSITIVE or route.dependant.query_params or route.dependant.body_params
]


@pytest.mark.parametrize(("method", "path", "mode"), CASES)
def test_every_answer_is_as_described(api: Any, method: str, path: str, mode: GenerationMode) -> None:
    """Status, content type and content, for what is asked properly and for what isn't; no error of the program."""

    @settings(max_examples=25, deadline=None, derandomize=True, database=None, suppress_health_check=list(HealthCheck))
    @given(case=api[path][method].as_strategy(generation_mode=mode))
    def ask(case: schemathesis.Case) -> None:
        case.call_and_validate(checks=CHECKED)

    ask()
