"""The page served to tests as it is to people: over a socket, by uvicorn, on a free port."""

from __future__ import annotations

import http.client
import re
import threading
import uuid
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from dataclasses import replace as changed
from html import unescape
from typing import Any
from urllib.parse import urlencode

from triptych.recommender.api import Catalogue
from triptych.recommender.page.guard import Guard
from triptych.recommender.page.serving import Served, guarded, listening, server_of


@dataclass(frozen=True)
class Reply:
    """What came back."""

    status: int
    headers: Mapping[str, str]
    body: bytes

    @property
    def text(self) -> str:
        return self.body.decode()

    @property
    def words(self) -> str:
        """What a reader sees, on one line."""
        return " ".join(unescape(re.sub(r"<(style|script).*?</\1>|<[^>]*>", " ", self.text, flags=re.S)).split())


@dataclass
class Visitor:
    """Somebody with a browser, or with less."""

    port: int
    cookie: str = ""
    host: str = ""
    sent: dict[str, str] = field(default_factory=dict)

    @property
    def own(self) -> str:
        return self.host or f"127.0.0.1:{self.port}"

    def ask(self, method: str, path: str, body: bytes = b"", headers: Mapping[str, str] | None = None) -> Reply:
        link = http.client.HTTPConnection("127.0.0.1", self.port, timeout=240)
        said = {"Host": self.own, **({"Cookie": self.cookie} if self.cookie else {}), **self.sent, **(headers or {})}
        try:
            link.request(method, path, body, said)
            answer = link.getresponse()
            return Reply(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read())
        finally:
            link.close()

    def get(self, path: str, pairs: Mapping[str, str] | Sequence[tuple[str, str]] = (), **headers: str) -> Reply:
        said = urlencode(pairs if isinstance(pairs, Sequence) else list(pairs.items()))
        told = {name.replace("_", "-"): value for name, value in headers.items()}
        return self.ask("GET", f"{path}?{said}" if said else path, headers=told)

    def post(self, path: str, pairs: Mapping[str, str] | Sequence[tuple[str, str]] = (), **headers: str) -> Reply:
        body = urlencode(pairs if isinstance(pairs, Sequence) else list(pairs.items())).encode()
        told = {name.replace("_", "-"): value for name, value in headers.items()}
        form = {"Content-Type": "application/x-www-form-urlencoded", "Origin": f"http://{self.own}"}
        return self.ask("POST", path, body, {**form, **told})

    def send(self, path: str, files: Mapping[str, tuple[str, bytes]], pairs: Mapping[str, str] | None = None) -> Reply:
        mark = uuid.uuid4().hex
        parts = [
            f'--{mark}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{value}\r\n'.encode()
            for name, value in (pairs or {}).items()
        ]
        parts += [
            f'--{mark}\r\nContent-Disposition: form-data; name="{name}"; filename="{called}"\r\n\r\n'.encode()
            + content
            + b"\r\n"
            for name, (called, content) in files.items()
        ]
        body = b"".join(parts) + f"--{mark}--\r\n".encode()
        form = {"Content-Type": f"multipart/form-data; boundary={mark}", "Origin": f"http://{self.own}"}
        return self.ask("POST", path, body, form)

    def enter(self, key: str | None) -> Reply:
        answer = self.get("/enter", {"key": key or ""})
        self.cookie = answer.headers.get("set-cookie", "").partition(";")[0]
        return answer


@dataclass(frozen=True)
class House:
    """A page that is served, and the visitor who opened its address."""

    guard: Guard
    port: int
    visitor: Visitor


@contextmanager
def serving(
    catalogue: Catalogue, *, enter: bool = True, served: Served | None = None, **bounds: Any
) -> Iterator[House]:
    """Serve a catalogue's page while the block lasts; the server sees that it is over within a tenth of a second."""
    bound = listening(Served("127.0.0.1", 0))  # the server closes it
    port = bound.getsockname()[1]
    guard = changed(guarded(catalogue, served or Served("127.0.0.1", port), port), **bounds)
    server = server_of(guard, "critical")
    threading.Thread(target=server.run, kwargs={"sockets": [bound]}).start()
    try:
        visitor = Visitor(port)
        if enter:
            assert visitor.enter(guard.keys.address).status == 303
        yield House(guard, port, visitor)
    finally:
        server.should_exit = True
