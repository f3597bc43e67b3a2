"""Who may talk to the page: this machine, or with a token whoever was shown it; never another page in the same browser."""

from __future__ import annotations

import hmac
from collections.abc import Iterable
from dataclasses import dataclass
from http.cookies import CookieError, SimpleCookie
from urllib.parse import parse_qs

from starlette.datastructures import Headers
from starlette.responses import JSONResponse, PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; font-src 'self'; connect-src 'self'; "
    "media-src 'self'; worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(self), microphone=(), geolocation=()",
}
COOKIE = "halfsplit"
SAFE = {"GET", "HEAD"}


@dataclass(frozen=True)
class Door:
    """hosts: `Host` values that are ours, with the port. token: what a device on the network has to show; None: this machine only."""

    hosts: frozenset[str]
    token: str | None = None


def loopback_hosts(port: int) -> frozenset[str]:
    """How this machine calls itself."""
    return frozenset(f"{name}:{port}" for name in ("127.0.0.1", "localhost", "[::1]"))


class Guard:
    """Middleware: host and origin checked on every request, the token where there is one, strict headers on every answer."""

    def __init__(self, app: ASGIApp, door: Door) -> None:
        self.app, self.door = app, door

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        no = self._refuse(scope)

        async def with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                had = {name.lower() for name, _ in message.get("headers", [])}
                extra = [(k.encode(), v.encode()) for k, v in HEADERS.items() if k.encode() not in had]
                message = {**message, "headers": [*message.get("headers", []), *extra]}
            await send(message)

        await (no or self.app)(scope, receive, with_headers)

    def _refuse(self, scope: Scope) -> Response | None:
        headers = Headers(scope=scope)
        host = headers.get("host", "").lower()
        if host not in self.door.hosts:
            return _no(f"this page does not answer to the name {host[:80]!r}; open the address that it was started with", 421, scope)
        if _is_foreign(headers, host, scope):
            return _no("another page asked for this; nothing was done", 403, scope)
        if self.door.token is None:
            return None
        if self._shown(headers, scope) == "query":
            answer = RedirectResponse("/" + scope["path"].lstrip("/\\"), 303)  # `//name` would lead to another machine
            answer.set_cookie(COOKIE, self.door.token, httponly=True, samesite="strict", max_age=30 * 86400)
            return answer
        if self._shown(headers, scope) is None:
            return _no("this device is not known here; scan the code that the bench shows in its terminal", 401, scope)
        return None

    def _shown(self, headers: Headers, scope: Scope) -> str | None:
        """Where the token was shown, if it was."""
        token = self.door.token or ""
        asked = parse_qs(scope.get("query_string", b"").decode("latin-1"))
        if any(_same(t, token) for t in asked.get("token", [])) and scope["method"] in SAFE:
            return "query"
        if any(_same(t, token) for t in _cookies(headers.getlist("cookie"))):
            return "cookie"
        return None


def _is_foreign(headers: Headers, host: str, scope: Scope) -> bool:
    """Whether another page asks. A link to the page itself is no harm; but a picture or a stream of it would look on, and hold the probes."""
    own = f"http://{host}"
    if headers.get("origin", own) != own:
        return True
    return _is_data(scope) and headers.get("sec-fetch-site", "none") not in ("same-origin", "none")


def _is_data(scope: Scope) -> bool:
    return str(scope["path"]).startswith("/api/")


def _no(text: str, code: int, scope: Scope) -> Response:
    """As the page's program reads it, or for the eye."""
    return JSONResponse({"error": text}, code) if _is_data(scope) else PlainTextResponse(text + "\n", code)


def _same(shown: str, token: str) -> bool:
    return hmac.compare_digest(shown.encode(), token.encode())


def _cookies(raw: Iterable[str]) -> list[str]:
    out = []
    for text in raw:
        try:
            jar = SimpleCookie(text)
        except CookieError:
            continue
        out += [jar[COOKIE].value] if COOKIE in jar else []
    return out
