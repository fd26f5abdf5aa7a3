"""Logging in, where the page listens beyond its own machine."""

from __future__ import annotations

import anyio
import anyio.to_thread
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from triptych.recommender.page.guard import LOG_IN, Guard
from triptych.recommender.page.passwords import right
from triptych.recommender.page.rendering import environment


def with_log_in(app: Starlette, guard: Guard, hashes: dict[str, str]) -> None:
    """Give the page a place to log in."""

    def form(name: str, problem: str, status: int) -> Response:
        words = environment().get_template("log_in.html.j2").render(name=name, problem=problem)
        return HTMLResponse(words.lstrip(), status)

    async def shown(request: Request) -> Response:
        return form("", "", 200)

    async def sent(request: Request) -> Response:
        async with request.form(max_fields=4, max_files=0) as given:
            name, password = str(given.get("name", ""))[:200], str(given.get("password", ""))[:1000]
        if not await anyio.to_thread.run_sync(right, hashes, name, password):
            await anyio.sleep(1.0)
            return form(name, "No such name and password.", 403)
        answer = RedirectResponse("/", 303)
        answer.headers["set-cookie"] = guard.cookie_line(guard.keys.admit(name))
        return answer

    app.router.routes[:0] = [
        Route(LOG_IN, shown, methods=["GET"]),
        Route(LOG_IN, sent, methods=["POST"]),
    ]
