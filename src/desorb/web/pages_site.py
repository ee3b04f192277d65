"""The page for the site: one shell, its service worker, its manifest and the list of files that it keeps.

Contents: the router; files_of_site (every file the shell needs, found by following its own imports); kept_on_device.
After the first visit everything on the list lies on the device, so the page opens without any network.
"""

from __future__ import annotations

import hashlib
import json
import re
from pathlib import Path

from fastapi import APIRouter, Request
from starlette.responses import JSONResponse, Response

from desorb.web.pages import FOLDER, page
from desorb.web.static_files import served_bytes

router = APIRouter(prefix="/site")

STATIC = FOLDER / "static"
WORKER = STATIC / "site" / "service-worker.js"
ROOTS = ("paper.css", "site.css", "plan.css", "theme.js", "site/icon.svg", "site/app.js")
_IMPORT = re.compile(
    r"""^\s*(?:import|export)\b[^"';]*?["'](\.{1,2}/[^"']+)["']|\bimport\(["'](\.{1,2}/[^"']+)["']\)""", re.M
)


def files_of_site() -> list[Path]:
    """The files of the shell: the roots, and every module that they import, in plain order."""
    waiting, found = [STATIC / name for name in ROOTS], set[Path]()
    while waiting:
        path = waiting.pop().resolve()
        if path in found or not path.is_file():
            continue
        found.add(path)
        if path.suffix == ".js":
            named = _IMPORT.findall(path.read_text(encoding="utf-8"))
            waiting += [path.parent / (one or other) for one, other in named]
    return sorted(found)


def kept_on_device(request: Request) -> dict[str, str]:
    """Every address that the device keeps, with the SHA-256 of what it answers: the worker keeps nothing else."""
    bodies = {"/site/": bytes(shell(request).body), "/site/manifest.webmanifest": bytes(manifest().body)}
    for path in files_of_site():
        bodies[f"/static/{path.relative_to(STATIC.resolve()).as_posix()}"] = served_bytes(path)
    return {address: hashlib.sha256(body).hexdigest() for address, body in bodies.items()}


def _version(digests: dict[str, str]) -> str:
    parts = [*(f"{address} {digest}" for address, digest in digests.items()), WORKER.read_text(encoding="utf-8")]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:16]


@router.get("/")
def shell(request: Request) -> Response:
    return page(request, "site.html")


@router.get("/service-worker.js")
def service_worker(request: Request) -> Response:
    """Served from here, so that it may look after everything under /site/; before it stands what it keeps."""
    digests = kept_on_device(request)
    head = f"self.SITE = {json.dumps({'version': _version(digests), 'digests': digests})};\n"
    return Response(head + WORKER.read_text(encoding="utf-8"), media_type="text/javascript")


@router.get("/files.json")
def files(request: Request) -> Response:
    """What the device keeps, and a version that changes when any of it does."""
    digests = kept_on_device(request)
    return JSONResponse({"version": _version(digests), "files": list(digests)})


@router.get("/manifest.webmanifest")
def manifest() -> Response:
    """What a browser asks for before it puts the page on the home screen."""
    return JSONResponse(
        {
            "name": "desorb on site", "short_name": "desorb", "start_url": "/site/", "scope": "/site/", "display": "standalone",
            "background_color": "#fbfaf7", "theme_color": "#1b2733", "lang": "en",
            "icons": [{"src": "/static/site/icon.svg", "sizes": "any", "type": "image/svg+xml"}],
        },
        media_type="application/manifest+json",
    )  # fmt: skip
