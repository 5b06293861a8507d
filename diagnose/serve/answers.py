"""An answer that says why: as a page where a person looks, else as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from starlette.datastructures import Headers
from starlette.responses import HTMLResponse, JSONResponse, Response

from diagnose.report.blocks import Block, line
from diagnose.report.webpage import web_page
from diagnose.serve.models import Refusal


def answer(
    asked: Headers, status: int, problems: Sequence[str], headers: Mapping[str, str] | None = None, person: str = ""
) -> Response:
    """These sentences, in the form that was asked for."""
    if "text/html" in asked.get("accept", ""):
        blocks = [Block("answer", problems[0]), *map(line, problems[1:])]
        return HTMLResponse(office_page(blocks, person), status, headers)
    return JSONResponse(Refusal(problems=list(problems)).model_dump(), status, headers)


def office_page(blocks: Sequence[Block], person: str, fold: bool = False, **more: object) -> str:
    """A page of the office. more: what its template shows besides; what is not given is not there."""
    shown = {
        "person": person, "signing": None, "find": None, "latest": (), "machines": (), "ways": (), "notes": (), "entered": "",
        "back": (), "site": False,
    }  # fmt: skip
    return web_page(blocks, contents=False, fold=fold, template="office.html", more={**shown, **more})
