"""Scripts, style sheets and faces: the bench's own files, found by name and never by path."""

from __future__ import annotations

from functools import lru_cache
from importlib import resources

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import Response

__all__ = ["asset", "nothing"]

ASSETS = {
    "bench.css": "text/css",
    "bench.js": "text/javascript",
    "hunting.js": "text/javascript",
    "ledger.js": "text/javascript",
}


async def nothing(request: Request) -> Response:
    """Answer to the browser that asks for a small picture of the page: a handbook has none.

    Parameters
    ----------
    request
        Whatever it is.

    Returns
    -------
    Response
        Empty.
    """
    del request
    return Response(status_code=204)


async def asset(request: Request) -> Response:
    """Answer with one of the bench's own files.

    Parameters
    ----------
    request
        With the file's name in its path.

    Returns
    -------
    Response
        404 where there is no such file.
    """
    name = request.path_params["name"]
    found = await to_thread.run_sync(_asset_bytes, name)
    if found is None:
        return Response("There is no such file.\n", status_code=404, media_type="text/plain")
    content, media = found
    return Response(content, media_type=media, headers={"Cache-Control": "private, max-age=600"})


@lru_cache(maxsize=32)
def _asset_bytes(name: str) -> tuple[bytes, str] | None:
    """One of the bench's own files, the plates' style sheet, or a face; found by name, never by path."""
    if name in ASSETS:
        return resources.files("loomlore.bench").joinpath("assets", name).read_bytes(), ASSETS[name]
    if name == "plate.css":
        return _plate_style().encode(), "text/css"
    from loomlore.drawing.typefaces import FILES, font_file

    faces = {font_file(face).name: font_file(face) for face in FILES}
    if name in faces:
        return faces[name].read_bytes(), "font/ttf"
    return None


def _plate_style() -> str:
    from loomlore.drawing.looks import COLOURS, stylesheet
    from loomlore.drawing.painting import face_rules

    faces = face_rules("/assets").replace("src:", "font-display:swap;src:")
    paper = "".join(f"--{name}:{shades['paper']};" for name, shades in COLOURS.items())
    dark = "".join(f"--{name}:{shades['dark']};" for name, shades in COLOURS.items())
    hues = f":root{{{paper}}}\n@media screen and (prefers-color-scheme:dark){{:root{{{dark}}}}}\n"
    inside = stylesheet("dark", live=True)
    return f"{faces}{hues}{stylesheet('paper', live=True)}@media screen and (prefers-color-scheme:dark){{{inside}}}\n"
