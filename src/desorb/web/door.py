"""The door of the server: what is looked at before any handler, and what every answer carries.

Contents: Door (an ASGI layer: host, origin, size and pace of the body, headers of every answer).
A page of another site must not be able to make this one write, so an unsafe request needs the Origin of this server
[ASVS 3.5.1-3.5.3], and a name that is not ours is turned away, so that no foreign name can be pointed at this machine.
"""

from __future__ import annotations

import asyncio
import json
import logging
import re
import time

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from desorb.errors import DesorbError
from desorb.service.received_photos import LARGEST_PHOTO
from desorb.web.authorisation import knock
from desorb.web.desk import LOOPBACK_NAMES, Desk

SAFE = ("GET", "HEAD", "OPTIONS")
MEBIBYTE = 1 << 20
LARGEST_BODY = 4 * MEBIBYTE
LARGEST_FILE = 64 * MEBIBYTE  # a table or a plan
LARGEST_UNSENT = 256 * MEBIBYTE  # a file of unsent work, with its photos
LARGEST_BAG = 2048 * MEBIBYTE
LONGEST_SILENCE = 20.0  # seconds between two pieces of a body
LONGEST_START = 60.0  # seconds for a body, and beside them what it takes at the slowest pace
SLOWEST_PACE = 8192  # bytes a second; setting of ours: a poor telephone line is faster
HOST = re.compile(r"(\[[0-9a-f:.]+\]|[a-z0-9.-]+)(?::[0-9]{1,5})?")
NUMBER = re.compile(r"[0-9]{1,15}")
ONCE = (b"host", b"origin", b"content-length", b"sec-fetch-site")  # a second one could say something else
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


class Door:
    """Wraps the application."""

    def __init__(self, app: ASGIApp, desk: Desk) -> None:
        self.app = app
        self.desk = desk
        self.own = {name.casefold() for name in (*LOOPBACK_NAMES, *desk.names)}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
        elif scope["type"] == "http":
            await self._http(scope, receive, send)
        else:
            await send({"type": "websocket.close", "code": 1008})  # there is nothing of that kind here

    async def _http(self, scope: Scope, receive: Receive, send: Send) -> None:
        begun = False

        async def with_headers(message: Message) -> None:
            nonlocal begun
            if message["type"] == "http.response.start":
                begun = True
                message["headers"] = _with_headers(scope, message.get("headers", []))
            await send(message)

        refusal = self._refusal(scope)
        if refusal:
            await self._answer(scope, with_headers, *refusal)
            return
        if scope["method"] not in SAFE:
            try:
                turned_away = await run_in_threadpool(knock, Request(scope), self.desk)
            except DesorbError as problem:  # the list of devices cannot be read: nobody is let in
                await self._answer(scope, with_headers, 503, problem.what, problem.next_step)
                return
            if turned_away is not None:
                await self._answer(scope, with_headers, 403, turned_away.what, turned_away.next_step)
                return
        try:
            await self.app(scope, _Body(receive, _limit_of(scope["path"])), with_headers)
        except Exception as problem:  # the last resort: a person gets an answer, whatever happened
            if begun:
                return  # it was answered and logged where it happened
            logging.getLogger("desorb.web").error("unexpected", exc_info=problem)
            await self._answer(scope, with_headers, 500, "something went wrong inside desorb", "do it again")

    def _refusal(self, scope: Scope) -> tuple[int, str, str] | None:
        names = [name for name, _ in scope["headers"]]
        if any(names.count(name) > 1 for name in ONCE):
            return 400, "a header stands twice that may stand once", "send the request again"
        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        host = headers.get("host", "").casefold()
        form = HOST.fullmatch(host)
        if form is None or form[1] not in self.own:
            return 400, "this name is not the name of this server", "see 'desorb serve --help' for names on a network"
        if scope["method"] in SAFE:
            return None
        if headers.get("sec-fetch-site", "same-origin") != "same-origin":
            return 403, "a page of another site may not write here", "open desorb's own page"
        if headers.get("origin", "").casefold() != f"{scope['scheme']}://{host}":
            return 403, "a request that writes says where it comes from", "send the Origin of this server"
        length, limit = headers.get("content-length", "0"), _limit_of(scope["path"])
        if not NUMBER.fullmatch(length) or int(length) > limit:
            return 413, "this is too large", f"at most {limit // MEBIBYTE} MiB"
        return None

    async def _answer(self, scope: Scope, send: Send, status: int, what: str, next_step: str) -> None:
        body = {"error": "NotAllowed", "what": what, "got": "", "wanted": "", "next": next_step}
        content = json.dumps(body).encode()
        start = [(b"content-type", b"application/json"), (b"content-length", str(len(content)).encode())]
        await send({"type": "http.response.start", "status": status, "headers": start})
        await send({"type": "http.response.body", "body": content if scope["method"] != "HEAD" else b""})


class _Body:
    """The body of one request, as it arrives: not more than it may be, and not slower than anyone honest sends."""

    def __init__(self, receive: Receive, limit: int) -> None:
        self.receive, self.limit = receive, limit
        self.read, self.ended = 0, False
        self.begun = time.monotonic()

    async def __call__(self) -> Message:
        if self.ended:
            return await self.receive()  # waits for the end of the connection, as long as the answer takes
        left = self.begun + LONGEST_START + self.read / SLOWEST_PACE - time.monotonic()
        try:
            message = await asyncio.wait_for(self.receive(), max(0.0, min(left, LONGEST_SILENCE)))
        except TimeoutError:
            raise HTTPException(408, "the rest of the request did not come", {"connection": "close"}) from None
        self.read += len(message.get("body", b""))
        if self.read > self.limit:
            words = f"this is too large; at most {self.limit // MEBIBYTE} MiB"
            raise HTTPException(413, words, {"connection": "close"})
        self.ended = message["type"] != "http.request" or not message.get("more_body", False)
        return message


def _limit_of(path: str) -> int:
    if path.startswith("/api/bags"):
        return LARGEST_BAG
    if path == "/api/unsent":
        return LARGEST_UNSENT
    if "/photos/" in path:
        return LARGEST_PHOTO
    return LARGEST_FILE if path.endswith(("/files", "/plan/source")) else LARGEST_BODY


def _with_headers(scope: Scope, own: list[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    said = {name.lower() for name, _ in own}
    extra = dict(HEADERS)
    if scope["scheme"] == "https":
        extra["strict-transport-security"] = "max-age=31536000"
    if not scope["path"].startswith("/static/"):
        extra["cache-control"] = "no-store"
    return own + [(name.encode(), value.encode()) for name, value in extra.items() if name.encode() not in said]
