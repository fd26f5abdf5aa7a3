"""The door of the page: who may knock, from where, with how much, and what a browser is told to leave alone."""

from __future__ import annotations

import asyncio
import secrets
from dataclasses import dataclass, field
from html import escape
from http.cookies import SimpleCookie
from typing import Any, Final
from urllib.parse import parse_qs, urlsplit

from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_UPLOADED: Final = 12_000_000
"""More than a datasheet or a list of loudspeakers has. [bytes]."""

UPLOAD_SECONDS: Final = 30.0
"""How long what is sent may take. [s]."""

PAGE_POLICY: Final = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; "
    "form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
)
"""What a browser is told: nothing runs and nothing is fetched that doesn't come from here."""

BROWSER_TOLD: Final = {
    "content-security-policy": PAGE_POLICY,
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "cache-control": "no-store",
}

OPEN: Final = ("/static/",)
"""What anybody who reaches the page may read: its own style and script, which say nothing of the catalogue."""

LOG_IN: Final = "/log-in"
ENTER: Final = "/enter"

LONGEST_QUERY: Final = 16_000
"""More than a room typed whole into a form has. [characters]."""


class Turned(Exception):  # it is no fault of the program
    """A request that is not let in, with what is told."""

    def __init__(self, status: int, words: str) -> None:
        super().__init__(words)
        self.status, self.words = status, words


@dataclass(slots=True)
class Keys:
    """Who has been let in: the address that opens once, and the cookies that it became."""

    address: str | None = field(default_factory=lambda: secrets.token_urlsafe(32))
    sessions: dict[str, str] = field(default_factory=dict)

    def enter(self, key: str) -> str | None:
        """Give a cookie for the address that opens once; None where it is another, or was used."""
        if self.address is None or not secrets.compare_digest(key.encode(), self.address.encode()):
            return None
        self.address = None
        return self.admit()

    def admit(self, name: str = "") -> str:
        """Give a cookie to somebody who has shown who they are, by name where that was asked."""
        made = secrets.token_urlsafe(32)
        self.sessions[made] = name
        return made

    def whose(self, cookie: str) -> str | None:
        """The name of whom a cookie was given to, empty where none was asked; None where it is no cookie of ours."""
        given = list(self.sessions.items())
        return next((name for one, name in given if secrets.compare_digest(cookie.encode(), one.encode())), None)


@dataclass(frozen=True, slots=True)
class Guard:
    """Wraps the page.

    Parameters
    ----------
    hosts : frozenset of str
        What the Host of a request may be, with its port.
    cookie : str
        The name of the cookie, one a port: cookies know no ports.
    by_password : bool
        Whether who comes without a cookie is shown where to log in.
    """

    app: ASGIApp
    hosts: frozenset[str]
    keys: Keys
    cookie: str
    by_password: bool = False
    most: int = MOST_UPLOADED
    seconds: float = UPLOAD_SECONDS

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or say why not."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        send = _telling(send)
        try:
            headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
            self._from_here(scope, headers)
            if scope["path"] == ENTER:
                await self._enter(scope, send)
                return
            if not self._let_in(scope, headers):
                await self._show_in(scope, send)
                return
            sends = "content-length" in headers or "transfer-encoding" in headers
            body = _Bounded(receive, self.most, self.seconds, headers.get("content-length", "")) if sends else receive
            await self.app(scope, body, send)
        except Turned as turned:
            await _answer(send, turned.status, turned.words)

    def _from_here(self, scope: Scope, headers: dict[str, str]) -> None:
        """Refuse what another page sends, and what reaches the page by another name."""
        if headers.get("host", "").casefold() not in self.hosts:
            raise Turned(421, "This page is not served under that name.")
        if len(scope.get("query_string", b"")) > LONGEST_QUERY:
            raise Turned(414, "The address is too long: more than any form here asks for.")
        origin, fetched = headers.get("origin"), headers.get("sec-fetch-site")
        changes = scope["method"] not in ("GET", "HEAD")
        if scope["method"] not in ("GET", "HEAD", "POST"):
            raise Turned(405, "Only reading and posting is done here.")
        if origin is not None and urlsplit(origin).netloc.casefold() not in self.hosts:
            raise Turned(403, "Another page asked for this; nothing was done.")
        if changes and origin is None and fetched != "same-origin":
            raise Turned(403, "It isn't said which page asks for this; nothing was done.")
        if fetched in ("cross-site", "same-site") and scope["path"] != ENTER and not _navigates(scope, headers):
            raise Turned(403, "Another page asked for this; nothing was done.")

    def _let_in(self, scope: Scope, headers: dict[str, str]) -> bool:
        if scope["path"].startswith(OPEN) or (self.by_password and scope["path"] == LOG_IN):
            return True
        jar: SimpleCookie = SimpleCookie()
        try:
            jar.load(headers.get("cookie", ""))
        except Exception:  # whatever is wrong with it, it is no cookie of ours
            return False
        found = jar.get(self.cookie)
        whose = None if found is None else self.keys.whose(found.value)
        scope["who"] = whose or None
        return whose is not None

    async def _enter(self, scope: Scope, send: Send) -> None:
        key = parse_qs(scope.get("query_string", b"").decode("latin-1")).get("key", [""])[0]
        made = None if self.by_password else self.keys.enter(key)
        if made is None:
            raise Turned(403, "This address opens once, and was used or is another's. Start triptych page again.")
        await _answer(send, 303, "", (("location", "/"), ("set-cookie", self.cookie_line(made))))

    async def _show_in(self, scope: Scope, send: Send) -> None:
        if self.by_password:
            await _answer(send, 303, "", (("location", LOG_IN),))
            return
        raise Turned(403, "Open the address that triptych page told in the terminal; it opens once.")

    def cookie_line(self, value: str) -> str:
        """The header that gives somebody a cookie."""
        secure = "; Secure" if self.by_password else ""
        return f"{self.cookie}={value}; HttpOnly; SameSite=Strict; Path=/{secure}"


class _Bounded:
    """What is sent, in no more bytes and seconds than anything here needs."""

    def __init__(self, receive: Receive, most: int, seconds: float, stated: str) -> None:
        self._receive, self._most = receive, most
        self._end = asyncio.get_running_loop().time() + seconds
        self._read, self._whole = 0, False
        if stated and (not stated.isdecimal() or int(stated) > most):
            raise Turned(413, _TOO_MUCH.format(most / 1e6))

    async def __call__(self) -> Message:
        if self._whole:
            return await self._receive()
        left = self._end - asyncio.get_running_loop().time()
        try:
            message: Message = await asyncio.wait_for(self._receive(), max(left, 0.001))
        except TimeoutError:
            raise Turned(408, "What was sent took too long; nothing was done. Send it again.") from None
        self._read += len(message.get("body", b""))
        self._whole = not message.get("more_body", False)
        if self._read > self._most:
            raise Turned(413, _TOO_MUCH.format(self._most / 1e6))
        return message


_TOO_MUCH: Final = "That is more than {:.0f} MB, which no datasheet and no list here has; nothing was done."


def _navigates(scope: Scope, headers: dict[str, str]) -> bool:
    """Whether somebody followed a link here, which reads nothing for the page that it was on."""
    return scope["method"] == "GET" and headers.get("sec-fetch-mode") == "navigate"


def _telling(send: Send) -> Send:
    """Tell the browser what to leave alone with every answer that doesn't say it itself."""

    async def told(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers: list[Any] = list(message.get("headers", ()))
            said = {name.lower() for name, _ in headers}
            headers += [
                (one.encode(), words.encode()) for one, words in BROWSER_TOLD.items() if one.encode() not in said
            ]
            message = {**message, "headers": headers}
        await send(message)

    return told


async def _answer(send: Send, status: int, words: str, headers: tuple[tuple[str, str], ...] = ()) -> None:
    body = (
        '<!doctype html><html lang="en"><meta charset="utf-8"><title>Triptych</title>'
        '<link rel="stylesheet" href="/static/page.css"><main class="alone">'
        f"<h1>Triptych</h1><p>{escape(words)}</p></main>"
    ).encode()
    given = [(b"content-type", b"text/html; charset=utf-8"), (b"content-length", str(len(body)).encode())]
    given += [(name.encode(), value.encode()) for name, value in headers]
    await send({"type": "http.response.start", "status": status, "headers": given})
    await send({"type": "http.response.body", "body": body})
