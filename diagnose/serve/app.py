"""Every address of the office and what is behind it."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Annotated, Literal
from urllib.parse import parse_qs
from uuid import UUID

import anyio.to_thread
from anyio import CapacityLimiter
from fastapi import APIRouter, FastAPI, HTTPException, Request
from fastapi import Path as InPath
from fastapi.exceptions import RequestValidationError
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException as AnyHTTPException
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response

from diagnose import store
from diagnose.rulebook import to_data
from diagnose.serve import pages
from diagnose.serve.guard import SIGN_IN, Guard, cookie_name
from diagnose.serve.models import (
    NO_VISIT,
    NOT_SO,
    NOTHING_HERE,
    TOO_LARGE,
    TOO_SLOW,
    WRONG_CODE,
    Greeting,
    Receipt,
    Refusal,
    Sending,
    answer,
)
from diagnose.serve.site import File, Office
from diagnose.store import Arrived, Version
from diagnose.workshop.bookpage import book_page
from diagnose.yamlfile import InputProblems

SHOWN = 8  # problems of one visit that are told
HASHING = 2  # access codes that are looked at at once: each takes 16 MB and a while
_NO_JSON = "it cannot be read as JSON"
VisitId = Annotated[str, InPath(pattern=r"^[0-9a-f]{32}$")]


def make_app(office: Office) -> Guard:
    """The whole office as an ASGI application."""
    guard = Guard(office)

    async def broken(request: Request, error: Exception) -> Response:
        return guard.said(error, request.headers)

    app = FastAPI(openapi_url=None, docs_url=None, redoc_url=None, redirect_slashes=False)
    app.add_exception_handler(AnyHTTPException, _refused)
    app.add_exception_handler(RequestValidationError, _misshapen)
    app.add_exception_handler(Exception, broken)
    app.include_router(_phones(office))
    app.include_router(_looking(office))
    app.include_router(_signing(office))
    app.include_router(_site(office))
    guard.app = app
    return guard


async def _refused(request: Request, error: Exception) -> Response:
    assert isinstance(error, AnyHTTPException)
    words = {404: NOTHING_HERE, 405: NOT_SO, 408: TOO_SLOW, 413: TOO_LARGE}
    if error.status_code not in words:  # FastAPI's own, of a body that breaks the reader
        return answer(request.headers, 422, [NO_VISIT.format(what=_NO_JSON)])
    return answer(request.headers, error.status_code, [words[error.status_code]], error.headers, request.state.person)


async def _misshapen(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)
    places = {str(each["loc"][0]) for each in error.errors()}
    if "path" in places or "query" in places:
        return answer(request.headers, 404, [NOTHING_HERE], person=request.state.person)
    first = error.errors()[0]
    if first["type"] == "json_invalid":
        return answer(request.headers, 422, [NO_VISIT.format(what=_NO_JSON)])
    own = str(first.get("ctx", {}).get("error", "")) if first["type"] == "value_error" else ""
    return answer(request.headers, 422, [NO_VISIT.format(what=own or "it holds other things, or in another shape")])


# -- phones ------------------------------------------------------------------------------------------------------------


def _phones(office: Office) -> APIRouter:
    router = APIRouter(prefix="/office")

    @router.get("/here")
    def here(request: Request) -> Greeting:
        """That the page comes from an office, and who is signed in."""
        return Greeting(person=request.state.person)

    @router.put("/sent/{uuid}", response_model=Receipt)
    def sent(uuid: UUID, sending: Sending, request: Request) -> Receipt | JSONResponse:
        """Keeps one version of a visit; the same again changes nothing, and is answered as before."""
        digest = store.digest_as_json([sending.based_on, sending.visit])
        at = datetime.fromtimestamp(office.now(), UTC).isoformat(timespec="seconds")
        version = Version(str(uuid), digest, sending.based_on, request.state.person, at)
        if (there := store.already_here(office.store, version)) is not None:
            return Receipt(digest=digest, visit=there, new=False)
        try:
            entered = store.entered(sending.visit, office.book.own)
        except InputProblems as error:
            told = [f"{problem.what}. {problem.fix}" for problem in error.problems[:SHOWN]]
            return JSONResponse(Refusal(problems=told).model_dump(), 422)
        id, new = store.take(office.store, version, entered)
        return Receipt(digest=digest, visit=id, new=new)

    return router


# -- who looks ---------------------------------------------------------------------------------------------------------


def _looking(office: Office) -> APIRouter:
    router = APIRouter(prefix="/office", default_response_class=HTMLResponse)
    book = json.dumps(to_data(office.book), separators=(",", ":")).encode()

    def found(id: str) -> Arrived:
        there = store.arrived(office.store, id)
        if there is None:
            raise HTTPException(404)
        return there

    @router.get("/")
    def first(request: Request, name: str = "") -> str:
        return pages.first_page(office, request.state.person, name)

    @router.get("/machines/{number}")
    def machine(request: Request, number: Annotated[int, InPath(ge=1, le=2**31 - 1)]) -> str:
        known = store.machine_numbered(office.store, number)
        if known is None:
            raise HTTPException(404)
        return pages.machine_page(office, request.state.person, known)

    @router.get("/visits/{id}")
    def visit(request: Request, id: VisitId) -> str:
        return pages.visit_page(office, request.state.person, found(id))

    @router.get("/visits/{id}/report/{whose}")
    def report(request: Request, id: VisitId, whose: Literal["customer", "office"]) -> Response:
        try:
            return HTMLResponse(pages.report_page(office, found(id), whose))
        except InputProblems as error:
            return answer(request.headers, 422, [f"{error.problems[0].what}."], person=request.state.person)

    @router.get("/visits/{id}/file")
    def file(id: VisitId) -> Response:
        named = {"Content-Disposition": f'attachment; filename="visit-{id[:SHOWN]}.yaml"'}
        return Response(found(id).visit.text.encode(), media_type="application/yaml", headers=named)

    @router.get("/book")
    def rules() -> str:
        return book_page(office.book)

    @router.get("/book.json")
    def compiled() -> Response:
        return Response(book, media_type="application/json")

    return router


# -- signing in and out ------------------------------------------------------------------------------------------------


def _signing(office: Office) -> APIRouter:
    router = APIRouter(prefix="/office")
    few = CapacityLimiter(HASHING)
    cookie = cookie_name(office)

    @router.get("/sign-in")
    def ask(to: str = "page") -> HTMLResponse:
        return HTMLResponse(pages.sign_in_page("office" if to == "office" else "page"))

    @router.post("/sign-in")
    async def sign_in(request: Request) -> Response:
        form = _form(await request.body())
        session = await anyio.to_thread.run_sync(
            store.sign_in, office.store, form.get("code", ""), office.now(), limiter=few
        )
        to = "office" if form.get("to") == "office" else "page"
        if session is None:
            return HTMLResponse(pages.sign_in_page(to, WRONG_CODE), 403)
        back = RedirectResponse("/office/" if to == "office" else "/", 303)
        back.set_cookie(
            cookie, session, max_age=store.SESSION_LASTS, path="/", secure=office.secure, httponly=True, samesite="lax"
        )
        return back

    @router.post("/sign-out")
    async def sign_out(request: Request) -> Response:
        await run_in_threadpool(store.sign_out, office.store, request.cookies.get(cookie, ""))
        back = RedirectResponse(SIGN_IN, 303)
        back.delete_cookie(cookie, path="/", secure=office.secure, httponly=True, samesite="lax")
        return back

    return router


def _form(body: bytes) -> dict[str, str]:
    """What was typed into a form; what is no form holds nothing."""
    try:
        fields = parse_qs(body.decode("ascii"), max_num_fields=8)
    except ValueError:
        return {}
    return {name: values[0] for name, values in fields.items()}


# -- the phone page ----------------------------------------------------------------------------------------------------


def _site(office: Office) -> APIRouter:
    router = APIRouter()
    site = office.site

    @router.get("/")
    def page(request: Request) -> Response:
        return (
            RedirectResponse("/office/", 303) if site is None else _put(request, site.files["index.html"], site.policy)
        )

    @router.get("/{name}")
    def part(request: Request, name: str) -> Response:
        if site is None or name not in site.files:
            raise HTTPException(404)
        return _put(request, site.files[name], site.policy)

    return router


def _put(request: Request, file: File, policy: str) -> Response:
    headers = {
        "ETag": file.tag, "Cache-Control": "no-cache", "Content-Security-Policy": policy, "Vary": "Accept-Encoding",
    }  # fmt: skip
    if request.headers.get("if-none-match") == file.tag:
        return Response(status_code=304, headers=headers)
    if file.packed and "gzip" in request.headers.get("accept-encoding", ""):
        return Response(file.packed, media_type=file.kind, headers={**headers, "Content-Encoding": "gzip"})
    return Response(file.content, media_type=file.kind, headers=headers)
