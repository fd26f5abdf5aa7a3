"""The routes of the page: each parses, calls what a command calls, and renders."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from functools import partial
from pathlib import Path
from typing import Final

from starlette.applications import Starlette
from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, Response
from starlette.routing import Route

from triptych.catalog.database import signing
from triptych.catalog.errors import BadInput, CatalogError, DatabaseProblem, NotFound, Overtaken, Refused
from triptych.recommender.advise.memory import Memory
from triptych.recommender.advise.processors import processors
from triptych.recommender.api import Catalogue
from triptych.recommender.page import (
    books,
    centres,
    counter,
    counter_quotes,
    installed,
    papers,
    pasting,
    purse,
    room_form,
    systems,
    welcome,
)
from triptych.recommender.page.asked import Upload, Visit, said_in
from triptych.recommender.page.guard import Turned
from triptych.recommender.page.rendering import drawing_style, shown
from triptych.recommender.page.turns import Busy, Turns

Work = Callable[[Visit], Response]

STATIC: Final = {
    "page.css": "text/css",
    "page.js": "text/javascript",
    "htmx.min.js": "text/javascript",
    "htmx.LICENSE.txt": "text/plain",
    "mark.svg": "image/svg+xml",
}
"""The files that come with the page."""

QUICK_AT_ONCE: Final = 4
"""So many answers that take no time are given at once, beside those that are worked out."""

WORKED_OUT: Final = frozenset(
    (
        *("/centres", "/centre", "/compare", "/answer", "/money", "/datasheet", "/import", "/demo"),
        *("/fit-sheet", "/report", "/labels", "/quote"),
    )
)
"""What takes a processor for a while: as many at once as there are processors, and a drawing needn't wait for it."""

MOST_FIELDS: Final = 600
"""More than any form here has."""

STATUS: Final = (
    *((NotFound, 404), (Overtaken, 409), (Refused, 409), (BadInput, 422)),
    *((DatabaseProblem, 503), (Busy, 503)),
)

ROUTES: Final[tuple[tuple[str, str, Work], ...]] = (
    ("/", "GET", welcome.start),
    ("/demo", "POST", welcome.take_demo),
    ("/import", "POST", welcome.take_file),
    ("/mains", "GET", welcome.mains),
    ("/loudspeaker", "GET", welcome.loudspeaker),
    ("/datasheet", "GET", pasting.paste),
    ("/datasheet", "POST", pasting.look),
    ("/room", "GET", room_form.room),
    ("/room", "POST", room_form.keep),
    ("/room-file", "POST", room_form.take_file),
    ("/room-file", "GET", room_form.as_file),
    ("/centres", "GET", centres.ranking),
    ("/centre", "GET", centres.centre),
    ("/compare", "GET", centres.beside),
    ("/answer", "POST", centres.answer),
    ("/money", "GET", purse.money),
    ("/plan", "POST", systems.begin),
    ("/plan", "GET", systems.plan),
    ("/plan-stop", "POST", systems.stop),
    ("/counter", "GET", counter.counter),
    ("/counter", "POST", counter.move),
    ("/quote", "POST", counter_quotes.quote),
    ("/quote", "GET", papers.quote),
    ("/ledger", "POST", counter.arrive),
    ("/books", "GET", books.books),
    ("/books", "POST", books.keep),
    ("/installed", "GET", installed.installed),
    ("/installed", "POST", installed.check),
    ("/installed-keep", "POST", installed.keep),
    ("/fit-sheet", "GET", papers.fit_sheet),
    ("/report", "GET", papers.report),
    ("/labels", "GET", papers.labels),
)
"""Every address, how it is asked, and what answers it."""


def site(catalogue: Catalogue) -> Starlette:
    """The page of a catalogue, without its guard."""
    memory, quick, slow = Memory(catalogue.engine), Turns(QUICK_AT_ONCE), Turns(processors())
    routes = [Route("/static/{name}", _static, methods=["GET"])]
    for path, how, work in ROUTES:
        turns = slow if path in WORKED_OUT else quick
        routes.append(Route(path, _route(work, catalogue, memory, turns), methods=[how]))
    handlers = {Turned: _turned(catalogue), HTTPException: _no_such(catalogue), Exception: _fault(catalogue)}
    return Starlette(routes=routes, exception_handlers=handlers)


def _route(work: Work, catalogue: Catalogue, memory: Memory, turns: Turns) -> Callable[[Request], Awaitable[Response]]:
    async def answered(request: Request) -> Response:
        asked = await _asked(request, catalogue, memory)

        async def wanted() -> bool:
            # a slider that is moved on lets go of what it asked; what is to be done is done, whoever stays to see it
            return request.method != "GET" or not await request.is_disconnected()

        try:
            given = await turns.take(partial(_answer, work, asked), wanted)
        except Busy as problem:
            return refusal(asked, problem)
        return Response(status_code=204) if given is None else given

    return answered


def _answer(work: Work, asked: Visit) -> Response:
    try:
        return work(asked)
    except CatalogError as problem:
        return refusal(asked, problem)


def refusal(asked: Visit, problem: CatalogError) -> Response:
    """What the catalogue refuses, as a page or as a part of one."""
    status = next((code for kind, code in STATUS if isinstance(problem, kind)), 422)
    template = "refusal_part.html.j2" if asked.fragment else "refusal.html.j2"
    return shown(template, asked, status, problem=str(problem), step="")


async def _asked(request: Request, catalogue: Catalogue, memory: Memory) -> Visit:
    fields: list[tuple[str, str]] = []
    files: dict[str, Upload] = {}
    changes = request.method == "POST"  # nothing else is signed
    if changes:
        async with request.form(max_fields=MOST_FIELDS, max_files=12) as form:
            for name, value in form.multi_items():
                if isinstance(value, UploadFile):
                    content = await value.read()
                    if value.filename:
                        files[name] = Upload(value.filename, content)
                else:
                    fields.append((name, value))
    historical = request.headers.get("hx-history-restore-request") == "true"
    return Visit(
        catalogue,
        request.path_params,
        said_in(request.scope.get("query_string", b"").decode("latin-1")),
        tuple(fields),
        files,
        request.headers.get("hx-request") == "true" and not historical,
        request.headers.get("hx-current-url", ""),
        request.scope.get("who") or (signing.whoever() if changes else None),
        memory,
    )


async def _static(request: Request) -> Response:
    name = request.path_params["name"]
    if name == "drawings.css":
        return Response(drawing_style(), media_type="text/css", headers={"cache-control": "max-age=600"})
    if name not in STATIC:
        raise HTTPException(404)
    path = Path(__file__).parent / "static" / name
    return FileResponse(path, media_type=STATIC[name], headers={"cache-control": "max-age=600"})


def _turned(catalogue: Catalogue) -> Callable[[Request, Exception], Awaitable[Response]]:
    async def told(request: Request, turned: Exception) -> Response:
        status = turned.status if isinstance(turned, Turned) else 500
        return shown("refusal.html.j2", Visit(catalogue), status, problem=str(turned), step="")

    return told


def _fault(catalogue: Catalogue) -> Callable[[Request, Exception], Awaitable[Response]]:
    async def told(request: Request, fault: Exception) -> Response:
        words = (
            "A fault of the program, not of what you typed: its traceback is in the terminal. Nothing half is written."
        )
        return shown("refusal.html.j2", Visit(catalogue), 500, problem=words, step="")

    return told


def _no_such(catalogue: Catalogue) -> Callable[[Request, Exception], Awaitable[Response]]:
    async def told(request: Request, problem: Exception) -> Response:
        status = problem.status_code if isinstance(problem, HTTPException) else 500
        words = {404: "There is no page of that address.", 405: "That address isn't asked so."}
        told = words.get(status, "What was sent can't be read as a form; nothing was done.")
        return shown("refusal.html.j2", Visit(catalogue), status, problem=told, step="")

    return told
