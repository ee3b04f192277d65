"""The door of the server: what is looked at before any handler, and what every answer carries.

Contents: Door (an ASGI layer: host, origin, size of the body, headers of every answer).
A page of another site must not be able to make this one write, so an unsafe request needs the Origin of this server
[ASVS 3.5.1-3.5.3], and a name that is not ours is turned away, so that no foreign name can be pointed at this machine.
"""

from __future__ import annotations

import json
from urllib.parse import urlsplit

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from desorb.web.desk import LOOPBACK_NAMES, Desk

SAFE = ("GET", "HEAD", "OPTIONS")
MEBIBYTE = 1 << 20
LARGEST_BODY = 4 * MEBIBYTE
LARGEST_FILE = 64 * MEBIBYTE  # a photo or a table
LARGEST_BAG = 2048 * MEBIBYTE
CONTENT_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; font-src 'self';"
    " manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'; object-src 'none'"
)
HEADERS = {
    "content-security-policy": CONTENT_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "geolocation=(), microphone=(), camera=(self)",
}


class _TooLarge(Exception):
    pass


class Door:
    """Wraps the application."""

    def __init__(self, app: ASGIApp, desk: Desk) -> None:
        self.app = app
        self.desk = desk
        self.own = {name.casefold() for name in (*LOOPBACK_NAMES, *desk.names)}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        refusal = self._refusal(scope, headers)
        if refusal:
            await self._answer(scope, send, *refusal)
            return
        limit, read = _limit_of(scope["path"]), 0
        begun = False

        async def counted() -> Message:
            nonlocal read
            message = await receive()
            read += len(message.get("body", b""))
            if read > limit:
                raise _TooLarge
            return message

        async def with_headers(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                message["headers"] = _with_headers(scope, message.get("headers", []))
            await send(message)

        try:
            await self.app(scope, counted, with_headers)
        except _TooLarge:
            if not begun:
                await self._answer(scope, send, 413, "this is too large", f"at most {limit // MEBIBYTE} MiB")

    def _refusal(self, scope: Scope, headers: dict[str, str]) -> tuple[int, str, str] | None:
        host = headers.get("host", "")
        if _name_of(host) not in self.own:
            return 400, "this name is not the name of this server", "see 'desorb serve --help' for names on a network"
        if scope["method"] in SAFE:
            return None
        if headers.get("sec-fetch-site", "same-origin") != "same-origin":
            return 403, "a page of another site may not write here", "open desorb's own page"
        if headers.get("origin", "") != f"{scope['scheme']}://{host}":
            return 403, "a request that writes says where it comes from", "send the Origin of this server"
        length = headers.get("content-length", "0")
        if not length.isdigit() or int(length) > _limit_of(scope["path"]):
            return 413, "this is too large", f"at most {_limit_of(scope['path']) // MEBIBYTE} MiB"
        return None

    async def _answer(self, scope: Scope, send: Send, status: int, what: str, next_step: str) -> None:
        body = {"error": "NotAllowed", "what": what, "got": "", "wanted": "", "next": next_step}
        content = json.dumps(body).encode()
        start = [(b"content-type", b"application/json"), (b"content-length", str(len(content)).encode())]
        await send({"type": "http.response.start", "status": status, "headers": _with_headers(scope, start)})
        await send({"type": "http.response.body", "body": content if scope["method"] != "HEAD" else b""})


def _name_of(host: str) -> str:
    return (urlsplit(f"//{host}").netloc.rsplit(":", 1)[0] if not host.endswith("]") else host).casefold()


def _limit_of(path: str) -> int:
    if path.startswith("/api/bags"):
        return LARGEST_BAG
    return LARGEST_FILE if "/photos/" in path or path.endswith(("/files", "/plan/source")) else LARGEST_BODY


def _with_headers(scope: Scope, own: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    said = {name.lower() for name, _ in own}
    extra = dict(HEADERS)
    if scope["scheme"] == "https":
        extra["strict-transport-security"] = "max-age=31536000"
    if not scope["path"].startswith("/static/"):
        extra["cache-control"] = "no-store"
    return own + [(name.encode(), value.encode()) for name, value in extra.items() if name.encode() not in said]
