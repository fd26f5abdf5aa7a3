"""The page served: where it listens, under which names, and what is told of it."""

from __future__ import annotations

import ipaddress
import socket
import threading
import webbrowser
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

from triptych.catalog.errors import BadInput
from triptych.recommender.api import Catalogue, open_catalogue

if TYPE_CHECKING:
    import uvicorn

    from triptych.recommender.page.guard import Guard

LOOPBACK: Final = "127.0.0.1"

CONNECTIONS: Final = 256
"""More at once than an office has browsers."""

IDLE: Final = 15
"""A connection on which nothing is asked is let go after this. [s]."""


@dataclass(frozen=True, slots=True)
class Served:
    """Where the page listens; `passwords` holds hashes by name where it listens beyond its own machine."""

    address: str
    port: int
    names: tuple[str, ...] = ()
    passwords: dict[str, str] | None = None

    def hosts(self, port: int) -> frozenset[str]:
        """What the Host of a request may be."""
        if self.passwords is None:
            return frozenset({f"{LOOPBACK}:{port}", f"localhost:{port}"})
        own = f"[{self.address}]" if ":" in self.address else self.address
        return frozenset({f"{own}:{port}".casefold(), *(name.casefold() for name in self.names)})


def wanted(port: int, listen: str, passwords: Path | None, names: tuple[str, ...]) -> Served:
    """What the options ask for.

    Raises
    ------
    BadInput
        It would listen beyond its own machine without a password file, or the address is none.
    """
    from triptych.recommender.page.passwords import read_passwords

    if not listen:
        if passwords or names:
            raise BadInput("--passwords and --name go with --listen: without it the page serves this machine alone")
        return Served(LOOPBACK, port)
    try:
        address = str(ipaddress.ip_address(listen))
    except ValueError:
        raise BadInput(f"--listen {listen!r}: an address such as 192.168.1.20 is wanted") from None
    if passwords is None:
        raise BadInput(
            "--listen needs --passwords FILE: others would reach the catalogue without one. triptych page"
            " --hash-password gives a line for it; put TLS in front"
        )
    return Served(address, port, names, read_passwords(passwords))


def serve(db: str | None, served: Served, *, open_browser: bool, tell: Callable[[str], None]) -> None:
    """Serve the page of a catalogue until somebody ends it.

    Raises
    ------
    BadInput
        The port is taken.
    DatabaseProblem
        The catalogue can't be opened.
    """
    with open_catalogue(db) as catalogue, listening(served) as bound:
        port = bound.getsockname()[1]
        guard = guarded(catalogue, served, port)
        url = _address(guard, served, port)
        _told(served, url, tell)
        if open_browser and served.passwords is None:
            threading.Timer(0.3, webbrowser.open, [url]).start()
        server_of(guard, "warning").run(sockets=[bound])


def server_of(guard: Guard, log_level: str) -> uvicorn.Server:
    """What serves a page: bounded in connections, in how long one is idle, and in how long headers take."""
    import uvicorn

    from triptych.recommender.page.impatience import ImpatientProtocol

    config = uvicorn.Config(
        guard, http=ImpatientProtocol, log_level=log_level, access_log=False, server_header=False,
        timeout_keep_alive=IDLE, limit_concurrency=CONNECTIONS, lifespan="off", proxy_headers=False,
    )  # fmt: skip
    return uvicorn.Server(config)


def guarded(catalogue: Catalogue, served: Served, port: int) -> Guard:
    """The page of a catalogue behind its guard."""
    from triptych.recommender.page.guard import Guard, Keys
    from triptych.recommender.page.site import site

    keys, cookie = Keys(), f"triptych_{port}"
    app = site(catalogue)
    if served.passwords is None:
        return Guard(app, served.hosts(port), keys, cookie)
    from triptych.recommender.page.log_in import with_log_in

    guard = Guard(app, served.hosts(port), keys, cookie, by_password=True)
    with_log_in(app, guard, served.passwords)
    return guard


def listening(served: Served) -> socket.socket:
    """A socket that listens where the page is served.

    Raises
    ------
    BadInput
        The port is taken.
    """
    family = socket.AF_INET6 if ":" in served.address else socket.AF_INET
    # asyncio sends a short part at once only where it is told that this is TCP; else a browser waits 40 ms for each
    made = socket.socket(family, socket.SOCK_STREAM, socket.IPPROTO_TCP)
    made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        made.bind((served.address, served.port))
        made.listen(CONNECTIONS)
    except OSError as problem:
        made.close()
        raise BadInput(
            f"--port {served.port} at {served.address}: {problem.strerror}: name another, or leave it out"
        ) from None
    return made


def _address(guard: Guard, served: Served, port: int) -> str:
    if served.passwords is not None:
        return f"http://{served.names[0] if served.names else f'{served.address}:{port}'}/"
    return f"http://{LOOPBACK}:{port}/enter?key={guard.keys.address}"


def _told(served: Served, url: str, tell: Callable[[str], None]) -> None:
    tell(f"the page: {url}")
    if served.passwords is None:
        tell("it opens once, in one browser, and serves this machine alone; Ctrl-C ends it")
        return
    tell("others reach it and log in by name. What they send can be read on the way: put TLS in front, a reverse")
    tell("proxy that passes the Host on, and name that host with --name; over plain http nobody can log in")
