"""Keeps everybody out but the page itself.

Names other than loopback are refused, so that no foreign site can pass for this one by its address; so are requests of other
sites, and writes without the token of this start.
"""

import hmac
from collections.abc import Mapping
from urllib.parse import parse_qsl

from starlette.datastructures import Headers, MutableHeaders
from starlette.requests import Request
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

READING = ("GET", "HEAD")
MOST_FORM_BYTES = 64 * 1024
TOKEN_HEADER, TOKEN_FIELD = "x-mixproof-token", "token"
FORM = "application/x-www-form-urlencoded"
OWN_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; media-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
HEADERS = {
    "content-security-policy": OWN_POLICY,
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}


class Guard:
    """Wraps the application: nothing reaches it unchecked."""

    def __init__(self, app: ASGIApp, hosts: frozenset[str], token: str) -> None:
        """Take the names this server goes by, with their port."""
        self._app, self._hosts, self._token = app, hosts, token

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or refuse it."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self._app(scope, receive, send)
            return

        async def send_guarded(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
            await send(message)

        refused = self._refused(scope["method"], Headers(scope=scope))
        if not refused and scope["method"] not in READING:
            refused = await self._refused_write(Request(scope, receive))
        if refused:
            await PlainTextResponse(f"{refused}\n", 403)(scope, receive, send_guarded)
        else:
            await self._app(scope, receive, send_guarded)

    def _refused(self, method: str, headers: Headers) -> str:
        if headers.get("host", "").lower() not in self._hosts:
            return "This server answers only to its own address on this machine."
        origin = headers.get("origin")
        if origin is not None and origin.lower() not in {f"http://{host}" for host in self._hosts}:
            return "A page of another site asked for this; it is refused."
        site = headers.get("sec-fetch-site", "same-origin")
        if method not in READING and site not in ("same-origin", "none"):
            return "A page of another site sent this form; it is refused."
        return ""

    async def _refused_write(self, request: Request) -> str:
        fields: Mapping[str, str] = {}
        if request.method == "POST" and request.headers.get("content-type", "").partition(";")[0].strip().lower() == FORM:
            body = await _body(request)
            if body is None:
                return "This form is larger than any of this page."
            fields = dict(parse_qsl(body.decode("utf-8", "replace"), keep_blank_values=True))
        request.scope.setdefault("state", {})["fields"] = fields
        sent = request.headers.get(TOKEN_HEADER) or fields.get(TOKEN_FIELD, "")
        if not hmac.compare_digest(sent.encode(), self._token.encode()):
            return "This page is from an earlier start of the server. Load it anew, and do it again."
        return ""


async def _body(request: Request) -> bytes | None:
    """Return a form's bytes, or None for too many."""
    body = bytearray()
    async for chunk in request.stream():
        body += chunk
        if len(body) > MOST_FORM_BYTES:
            return None
    return bytes(body)


def fields_of(request: Request) -> Mapping[str, str]:
    """Return the fields of the form that was sent."""
    fields: Mapping[str, str] = request.state.fields
    return fields
