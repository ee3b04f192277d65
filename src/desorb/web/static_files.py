"""The static files as they go out: compressed, and the scripts of the site page without their comment lines.

Contents: served_bytes; static_files. A phone at the edge of a village fetches the scripts once over a slow line; their
comments are an eighth of the compressed weight. Whole lines only: what stands behind code stays, so no text is touched.
"""

from __future__ import annotations

import re
from pathlib import Path

from starlette.middleware.gzip import GZipMiddleware
from starlette.responses import FileResponse, Response
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp, Scope

_COMMENT_LINE = re.compile(rb"^[ \t]*//.*\n", re.M)
_KEPT = ("etag", "last-modified")


def served_bytes(path: Path) -> bytes:
    """What the address of this file answers, before compression.

    Parameters: path, a file under web/static. Returns its bytes; of a script under site/ without whole comment lines.
    """
    held = path.read_bytes()
    return _COMMENT_LINE.sub(b"", held) if path.suffix == ".js" and "site" in path.parts else held


class _Files(StaticFiles):
    async def get_response(self, path: str, scope: Scope) -> Response:
        answer = await super().get_response(path, scope)
        if not isinstance(answer, FileResponse) or not str(answer.path).endswith(".js"):
            return answer
        headers = {name: answer.headers[name] for name in _KEPT}
        return Response(served_bytes(Path(answer.path)), media_type="text/javascript", headers=headers)


def static_files(folder: Path) -> ASGIApp:
    """The application that answers under /static. Nothing secret stands there, so that compressing it gives nothing away."""
    return GZipMiddleware(_Files(directory=folder), minimum_size=500)
