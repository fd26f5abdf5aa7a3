"""Who is let in, and what is told to a browser: attacks on the door, over a real socket."""

from __future__ import annotations

import asyncio
import contextlib
import http.client
import re
import socket
import time
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from starlette.responses import Response

from tests.recommender.page.served import House, Visitor, serving
from triptych.catalog.errors import BadInput
from triptych.recommender.api import Catalogue, open_catalogue
from triptych.recommender.page import serving as served_page
from triptych.recommender.page import site
from triptych.recommender.page.books import VIEWS
from triptych.recommender.page.counter_forms import WHATS
from triptych.recommender.page.impatience import ImpatientProtocol
from triptych.recommender.page.passwords import read_passwords
from triptych.recommender.page.serving import Served, listening, wanted
from triptych.recommender.page.site import ROUTES


@pytest.fixture
def house(read_catalogue: Catalogue) -> Iterator[House]:
    with serving(read_catalogue, enter=False, most=200_000, seconds=0.8) as opened:
        yield opened


def test_the_address_opens_once_and_becomes_a_strict_cookie(house: House) -> None:
    first, thief = Visitor(house.port), Visitor(house.port)
    key = house.guard.keys.address
    assert first.get("/").status == 403
    answer = first.enter(key)
    assert (answer.status, answer.headers["location"]) == (303, "/")
    for word in ("HttpOnly", "SameSite=Strict", "Path=/"):
        assert word in answer.headers["set-cookie"]
    assert first.get("/").status == 200
    assert thief.enter(key).status == 403
    assert thief.get("/").status == 403
    assert Visitor(house.port, cookie=f"{house.guard.cookie}=guessed").get("/mains").status == 403
    assert thief.enter("").status == 403


@pytest.mark.parametrize("host", ["evil.example", "127.0.0.1", "127.0.0.1:1", "evil.example:{port}", ""])
def test_another_name_is_not_served(house: House, host: str) -> None:
    """A foreign name that was made to point here reads nothing, not even with the cookie."""
    mine = house.visitor
    mine.enter(house.guard.keys.address)
    assert mine.ask("GET", "/", headers={"Host": host.format(port=house.port)}).status in (400, 421)
    assert mine.get("/").status == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://127.0.0.1:1", "https://localhost"])
def test_a_foreign_page_can_neither_post_nor_read(house: House, origin: str) -> None:
    mine = house.visitor
    mine.enter(house.guard.keys.address)
    assert mine.post("/demo", Origin=origin).status == 403
    assert mine.get("/", Origin=origin).status == 403
    assert mine.ask("POST", "/demo").status == 403  # nothing says which page asks
    assert mine.get("/mains", Sec_Fetch_Site="cross-site", Sec_Fetch_Mode="no-cors").status == 403
    assert mine.get("/mains", Sec_Fetch_Site="cross-site", Sec_Fetch_Mode="navigate").status == 200
    assert mine.ask("PUT", "/room", headers={"Origin": f"http://{mine.own}"}).status == 405


def test_every_answer_forbids_scripts_frames_and_foreign_requests(house: House) -> None:
    mine = house.visitor
    mine.enter(house.guard.keys.address)
    for path in ("/", "/mains", "/nowhere", "/static/page.css", "/static/nothing", "/centres?room=none"):
        headers = mine.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "'unsafe" not in policy
        assert "frame-ancestors 'none'" in policy
        assert headers["x-content-type-options"] == "nosniff"
    for path in ("/", "/mains"):
        text = mine.get(path).text
        assert "<script>" not in text
        assert " style=" not in text
        assert " onclick=" not in text


def test_a_gigabyte_is_refused_before_it_is_read(house: House) -> None:
    mine = house.visitor
    mine.enter(house.guard.keys.address)
    stated = {"Content-Length": str(10**9), "Origin": f"http://{mine.own}", "Content-Type": "text/plain"}
    with socket.create_connection(("127.0.0.1", house.port), timeout=20) as link:
        head = {"Host": mine.own, "Cookie": mine.cookie, **stated}
        link.sendall(("POST /demo HTTP/1.1\r\n" + "".join(f"{k}: {v}\r\n" for k, v in head.items()) + "\r\n").encode())
        assert b" 413 " in link.recv(200)
    large = mine.send("/import", {"file": ("a.csv", b"x" * 300_000)})
    assert large.status == 413
    assert "nothing was done" in large.words


def test_what_is_sent_without_a_length_is_bounded_too(house: House) -> None:
    mine = house.visitor
    mine.enter(house.guard.keys.address)
    with socket.create_connection(("127.0.0.1", house.port), timeout=20) as link:
        head = f"POST /import HTTP/1.1\r\nHost: {mine.own}\r\nCookie: {mine.cookie}\r\nOrigin: http://{mine.own}\r\n"
        kind = "Content-Type: multipart/form-data; boundary=b\r\nTransfer-Encoding: chunked\r\n\r\n"
        start = b'--b\r\nContent-Disposition: form-data; name="file"; filename="a.csv"\r\n\r\n'
        link.sendall((head + kind).encode() + b"%x\r\n%s\r\n" % (len(start), start))
        for _ in range(5):
            link.sendall(b"%x\r\n%s\r\n" % (60_000, b"y" * 60_000))
        assert b" 413 " in link.recv(200)


def test_a_slow_upload_is_cut_off_while_others_are_served(house: House) -> None:
    mine = house.visitor
    mine.enter(house.guard.keys.address)
    with socket.create_connection(("127.0.0.1", house.port), timeout=20) as link:
        head = f"POST /demo HTTP/1.1\r\nHost: {mine.own}\r\nCookie: {mine.cookie}\r\nOrigin: http://{mine.own}\r\n"
        kind = "Content-Type: application/x-www-form-urlencoded\r\nContent-Length: 1000\r\n\r\n"
        link.sendall((head + kind).encode() + b"a")
        assert mine.get("/mains").status == 200
        began = time.monotonic()
        assert b" 408 " in link.recv(200)
        assert time.monotonic() - began < 10


@pytest.mark.slow
def test_no_path_reaches_the_file_system(house: House, tmp_path: Path) -> None:
    mine = house.visitor
    mine.enter(house.guard.keys.address)
    (tmp_path / "room.toml").write_text('name = "secret"\n[[seat]]\nname = "a"\ndistance = 3000\n')
    for path in ("/static/../guard.py", "/static/..%2fguard.py", "/static/%2e%2e/site.py", "//etc/passwd"):
        assert mine.ask("GET", path).status in (400, 404), path
    for value in (str(tmp_path / "room.toml"), "/etc/passwd", "../../etc/passwd", "file:///etc/passwd"):
        told = mine.get("/centres", {"room": value})
        assert (told.status, "secret" in told.words.replace(value, "")) == (404, False)
        assert mine.get("/centres", {"room": "Mill House", "mains": value}).status == 404
    assert mine.get("/centres", {"room": "Mill House", "weights": "/etc/passwd"}).status == 200  # nobody asks for it


def test_a_fault_is_told_as_ours_and_its_answer_says_as_little(
    read_catalogue: Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_: object) -> None:
        raise RuntimeError("secret")

    monkeypatch.setattr("triptych.recommender.page.welcome.reads.count", breaks)
    with serving(read_catalogue) as opened:
        answer = opened.visitor.get("/")
    assert (answer.status, "A fault of the program" in answer.words) == (500, True)
    assert "secret" not in answer.text
    assert "default-src 'none'" in answer.headers["content-security-policy"]


def test_too_long_an_address_and_too_many_fields_are_refused(house: House) -> None:
    mine = house.visitor
    mine.enter(house.guard.keys.address)
    assert mine.get("/mains", {"q": "x" * 17_000}).status == 414
    assert mine.post("/room", [(f"seat.1.name{i}", "x") for i in range(700)]).status == 400


def test_no_part_of_an_answer_waits_for_the_receipt_of_another() -> None:
    """RFC 1122, 4.2.3.4: a short part would wait for that, and a browser may hold it back by 4.2.3.2."""

    async def told() -> int:
        seen: asyncio.Queue[int] = asyncio.Queue()

        def met(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            seen.put_nowait(writer.get_extra_info("socket").getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()

        bound = listening(Served("127.0.0.1", 0))
        async with await asyncio.start_server(met, sock=bound):
            _, writer = await asyncio.open_connection(*bound.getsockname())
            found = await seen.get()
            writer.close()
        return found

    assert asyncio.run(told())


@pytest.mark.slow
def test_ten_thousand_requests_leave_it_standing(house: House) -> None:
    mine = house.visitor
    stranger = Visitor(house.port)
    assert {stranger.get("/").status for _ in range(10_000)} == {403}
    assert mine.enter(house.guard.keys.address).status == 303
    assert mine.get("/mains").status == 200


def test_beyond_this_machine_a_password_file_is_wanted(tmp_path: Path) -> None:
    with pytest.raises(BadInput, match=r"--listen needs --passwords FILE.*TLS"):
        wanted(0, "0.0.0.0", None, ())
    with pytest.raises(BadInput, match="an address such as"):
        wanted(0, "everywhere", None, ())
    with pytest.raises(BadInput, match="go with --listen"):
        wanted(0, "", tmp_path / "none", ())
    assert wanted(0, "", None, ()) == Served("127.0.0.1", 0)


@pytest.mark.parametrize(
    ("text", "mode", "told"),
    [
        ("", 0o600, "names nobody"),
        ("anna:secret", 0o600, "is no name"),
        ("anna:$argon2id$x", 0o644, "others may read it"),
    ],
)
def test_a_password_file_that_guards_nothing_is_refused(tmp_path: Path, text: str, mode: int, told: str) -> None:
    path = tmp_path / "who"
    path.write_text(text)
    path.chmod(mode)
    with pytest.raises(BadInput, match=told):
        read_passwords(path)


@pytest.mark.slow
def test_somebody_logs_in_by_name_and_password(read_catalogue: Catalogue) -> None:
    from argon2 import PasswordHasher

    hashes = {"anna": PasswordHasher(time_cost=1, memory_cost=64).hash("a long enough one")}
    with serving(read_catalogue, enter=False, served=Served("127.0.0.1", 0, ("shop.example",), hashes)) as house:
        anna = Visitor(house.port, host="shop.example")
        assert (anna.get("/mains").status, anna.get("/mains").headers["location"]) == (303, "/log-in")
        assert anna.get("/log-in").status == 200
        assert anna.enter(house.guard.keys.address).status == 403  # no address opens here
        for name, password in (("anna", "wrong"), ("eve", "a long enough one"), ("", "")):
            assert anna.post("/log-in", {"name": name, "password": password}).status == 403
        done = anna.post("/log-in", {"name": "anna", "password": "a long enough one"})
        assert done.status == 303
        for word in ("Secure", "HttpOnly", "SameSite=Strict"):
            assert word in done.headers["set-cookie"]
        anna.cookie = done.headers["set-cookie"].partition(";")[0]
        assert anna.get("/mains").status == 200
        assert Visitor(house.port, host="shop.example").post("/log-in", Origin="http://evil.example").status == 403


def test_a_port_that_is_taken_is_told(tmp_path: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        port = taken.getsockname()[1]
        with pytest.raises(BadInput, match=f"--port {port} at 127.0.0.1"):
            served_page.serve(str(tmp_path / "c.db"), Served("127.0.0.1", port), open_browser=False, tell=print)


@pytest.mark.slow
def test_an_empty_catalogue_offers_demo_import_and_paste(tmp_path: Path) -> None:
    with open_catalogue(str(tmp_path / "c.db"), quiet=True) as opened, serving(opened) as house:
        start = house.visitor.get("/")
        assert "The catalogue is empty" in start.words
        done = house.visitor.post("/demo")
        assert (done.status, done.headers["location"]) == (303, "/mains?room=Mill+House")
        assert "in the catalogue" in house.visitor.get("/").words
        again = house.visitor.post("/demo")
        assert again.status == 409
        assert "isn't empty any more" in again.words


@pytest.mark.parametrize("begins", [b"", b"GET / HTTP/1.1\r\nHost: x\r\n"])
def test_headers_that_do_not_come_are_not_waited_for(
    house: House, monkeypatch: pytest.MonkeyPatch, begins: bytes
) -> None:
    monkeypatch.setattr(ImpatientProtocol, "headers_within", 0.6)
    mine = house.visitor
    mine.enter(house.guard.keys.address)
    began = time.monotonic()
    with socket.create_connection(("127.0.0.1", house.port), timeout=20) as link:
        link.sendall(begins)
        link.settimeout(0.1)
        left = False
        while not left and time.monotonic() - began < 15:
            try:
                left = link.recv(200) == b""
            except TimeoutError:
                if begins:
                    link.sendall(b"a")  # a letter now and then
            except ConnectionError:
                left = True
    assert left
    assert time.monotonic() - began < 10
    assert mine.get("/mains").status == 200


def test_a_connection_that_is_kept_open_is_not_let_go_amid_an_answer(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ImpatientProtocol, "headers_within", 0.4)
    mine = house.visitor
    mine.enter(house.guard.keys.address)
    link = http.client.HTTPConnection("127.0.0.1", house.port, timeout=20)
    for pause in (0.0, 0.6, 0.6):
        time.sleep(pause)
        link.request("GET", "/mains?q=tower", headers={"Host": mine.own, "Cookie": mine.cookie})
        answer = link.getresponse()
        assert (answer.status, b"Tower" in answer.read()) == (200, True)
    link.close()


@pytest.mark.slow
def test_a_reader_who_takes_nothing_is_let_go_and_holds_nobody_up(
    read_catalogue: Catalogue, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(ImpatientProtocol, "taken_within", 0.5)
    large = b"x" * 30_000_000
    report = ("/report", "GET", lambda _: Response(large))
    routes = tuple(report if one[0] == report[0] else one for one in site.ROUTES)
    monkeypatch.setattr(site, "ROUTES", routes)
    with serving(read_catalogue) as house:
        links = []
        for _ in range(20):
            links.append(socket.create_connection(("127.0.0.1", house.port)))
            asked = f"GET /report HTTP/1.1\r\nHost: {house.visitor.own}\r\nCookie: {house.visitor.cookie}\r\n\r\n"
            links[-1].sendall(asked.encode())
        assert house.visitor.get("/room").status == 200
        assert len(house.visitor.get("/report").body) == len(large)
        time.sleep(1.5)
        for link in links:
            link.settimeout(10)
            got = 0
            with contextlib.suppress(ConnectionError):
                while part := link.recv(1 << 20):
                    got += len(part)
            assert got < len(large)
            link.close()


HOSTILE = "<script>alert(1)</script>\"'><img src=x onerror=alert(2)>{{1234*3}}&amp;"


@pytest.mark.slow
def test_markup_in_every_field_of_every_form_is_text(house: House) -> None:
    mine = house.visitor
    mine.enter(house.guard.keys.address)
    seen: set[tuple[str, ...]] = set()
    for path, method, _ in ROUTES:
        pages = [path] if method == "GET" else []
        for page in [*pages, *PAGES_WITH_FORMS.get(path, ())]:
            got = mine.ask("GET", page)
            for form in re.findall(r"<form\b.*?</form>", got.text, re.S):
                action = re.search(r'(?:form)?action="([^"]*)"', form)
                names = set(re.findall(r'<(?:input|textarea|select)\b[^>]*\bname="([^"]+)"', form))
                target = unescape(action[1]).partition("?")[0] if action else path
                if target.startswith("/") and names and (target, *sorted(names)) not in seen:
                    seen.add((target, *sorted(names)))
                    sent = [(name, HOSTILE) for name in names if name not in ("file", "what", "view")]
                    said = dict(re.findall(r'name="(what|view)" value="([^"]*)"', form)).items()
                    for answer in (mine.get(target, [*sent, *said]), mine.post(target, [*sent, *said])):
                        assert answer.status < 500, (target, names)
                        assert "<script>alert" not in answer.text, (target, names)
                        assert "<img src=x" not in answer.text, (target, names)
                        assert "3702" not in answer.text, (target, names)  # nothing typed is worked out
    assert len(seen) > 20


PAGES_WITH_FORMS = {
    "/counter": [f"/counter?what={what}" for what in WHATS],
    "/books": [f"/books?view={view}" for view in VIEWS],
    "/room": ["/room?room=Mill+House"],
    "/centres": ["/centres?room=Mill+House"],
    "/money": ["/money?limit=900&currency=EUR&line.1.role=mains&line.1.price=300"],
}
