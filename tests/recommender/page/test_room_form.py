"""A room typed into the form and the same room as TOML: one record, and one set of messages."""

from __future__ import annotations

import re
from collections.abc import Callable
from html import unescape
from importlib.resources import files
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import pytest

from tests.recommender.page.served import Reply, Visitor
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.reads import room as stored_room
from triptych.catalog.database.writes import replace_room
from triptych.catalog.fields import SECTIONS
from triptych.catalog.files.room_edits import digest, edited_room
from triptych.catalog.files.rooms import room_from_toml, room_or_problems, toml_of
from triptych.recommender.api import Catalogue
from triptych.recommender.drawing.floor_plan import plan
from triptych.recommender.drawing.front_elevation import front
from triptych.recommender.page import room_form
from triptych.recommender.page.room_form import table_of, texts_of, typed_in

SEED = [one for one in files("triptych.seed_data").iterdir() if one.name.endswith(".toml")]

FEW = {
    "name": "Attic",
    "screen.diagonal": "65 in",
    "screen.aspect": "16:9",
    "screen.bottom": "82 cm",
    "mains.speaker": "bramble thatch trivet tower",
    "seat.1.name": "sofa",
    "seat.1.distance": "3,2 m",
    "place.1.name": "board",
    "place.1.kind": "top",
    "place.1.width": "1.6 m",
    "place.1.height": "300",
    "place.1.depth": '17-3/4"',
    "place.1.base": "520 mm",
    "money.centre": "700 EUR",
}
AS_TOML = """
name = "Attic"
[screen]
diagonal = "65 in"
aspect = "16:9"
bottom = "82 cm"
[mains]
speaker = "bramble thatch trivet tower"
[[seat]]
name = "sofa"
distance = "3,2 m"
[[place]]
name = "board"
kind = "top"
width = "1.6 m"
height = 300
depth = '17-3/4"'
base = "520 mm"
[money]
centre = "700 EUR"
"""


@pytest.mark.parametrize("source", SEED, ids=lambda one: one.name)
def test_every_seed_room_is_the_same_through_the_form(source: Path) -> None:
    room = room_from_toml(source.read_text(encoding="utf-8"), source.name)
    typed = typed_in(tuple(texts_of(room).items()))
    found, problems = room_or_problems(table_of(typed), "the form")
    assert (found, problems) == (room, [])


def test_the_few_fields_give_the_record_of_the_file() -> None:
    found, problems = room_or_problems(table_of(typed_in(tuple(FEW.items()))), "the form")
    assert problems == []
    assert found == room_from_toml(AS_TOML, "attic.toml")


BAD = [
    {"screen.diagonal": "wide"},
    {"screen.diagonal": ""},
    {"seat.1.distance": ""},
    {"place.1.kind": "sofa"},
    {"place.1.height": "3"},
    {"money.centre": "700"},
    {"seat.1.distance": "1.000"},
    {"place.2.name": "board", "place.2.kind": "stand"},
    {"seat.2.name": "left", "seat.2.distance": "3 m"},
]


@pytest.mark.parametrize("change", BAD, ids=lambda one: "-".join(one))
def test_what_the_form_refuses_is_what_the_file_refuses(reader: Visitor, change: dict[str, str]) -> None:
    texts = {**FEW, **change}
    _, problems = room_or_problems(table_of(typed_in(tuple(texts.items()))), "attic.toml")
    answer = reader.post("/room", texts)
    if not problems:  # a picture may be left out
        assert change == {"screen.diagonal": ""} or answer.status == 303
        return
    assert answer.status == 422
    for one in problems:
        assert " ".join(one.complaint.split()) in answer.words
    for value in filter(None, texts.values()):
        assert value.replace('"', "&#34;") in answer.text, "what was typed is kept"
    assert 'aria-invalid="true"' in answer.text or 'class="wrong"' in answer.text


def test_the_drawings_come_anew_in_the_unit_that_is_typed(reader: Visitor) -> None:
    whole = reader.get("/room", FEW)
    assert "Front elevation" in whole.words
    assert "lengths in inches" in whole.words  # one of them is
    metric = reader.get("/room", {**FEW, "place.1.depth": "450"}, HX_Request="true")
    assert "lengths in millimetres" in metric.words
    assert "<html" not in metric.text
    assert "Supposed" in metric.words
    assert "ears are 1000 mm above the floor" in metric.words
    assert "ears are 1000" not in reader.get("/room", {**FEW, "seat.1.ear_height": "1.1 m"}).words


def test_only_what_a_field_changes_is_drawn_again(reader: Visitor, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[str] = []
    for one in (front, plan):

        def counted(*asked: Any, real: Callable[..., str] = one) -> str:
            drawn.append(real.__name__)
            return real(*asked)

        monkeypatch.setattr(room_form, one.__name__, counted)

    def typed(**changes: str) -> list[str]:
        drawn.clear()
        fields = {**FEW, "screen.bottom": "823 mm", **{name.replace("__", "."): text for name, text in changes.items()}}
        assert reader.get("/room", fields, HX_Request="true").text.count("<svg") == 2
        return list(drawn)

    assert typed(seat__1__distance="3.217 m") == ["front", "plan"]
    assert typed(seat__1__distance="3.217 m", money__centre="710 EUR") == []
    assert typed(seat__1__distance="3.218 m") == ["plan"]
    assert typed(seat__1__distance="3.218 m", place__1__base="521 mm") == ["front"]
    assert typed(seat__1__distance="3.218 m", units="in", mains__spacing="101 in") == ["front", "plan"]


@pytest.mark.whole
def test_a_room_that_is_kept_is_ranked_at_once(shopper: Visitor, own_catalogue: Catalogue) -> None:
    answer = shopper.post("/room", FEW)
    assert answer.status == 303
    url = urlsplit(answer.headers["location"])
    assert (url.path, dict(parse_qsl(url.query))["room"]) == ("/centres", "Attic")
    ranked = shopper.ask("GET", answer.headers["location"])
    assert "A centre for Bramble Thatch Trivet Tower in Attic" in ranked.words
    assert re.search(r"Ranked: [1-9]", ranked.words)
    few = "How high above the floor is the ear, and how far is the place's front edge from the front wall?"
    assert f"{few} (without it nobody knows how far to tilt" in ranked.words
    with reading(own_catalogue.engine) as session:
        assert stored_room(session, "attic").mains.speaker == "Bramble Thatch Trivet Tower"
    again = shopper.post("/room", FEW)
    assert (again.status, "already" in again.words) == (422, True)


def test_mains_that_nobody_knows_are_told_at_their_field(reader: Visitor) -> None:
    answer = reader.post("/room", {**FEW, "mains.speaker": "Bramble Thatch Trivet Towr"})
    assert answer.status == 422
    assert "the nearest: 'Bramble Thatch Trivet Tower'" in answer.words
    assert re.search(r'id="mains.speaker-wrong"', answer.text)


@pytest.mark.whole
def test_what_somebody_else_changed_is_noticed(shopper: Visitor, own_catalogue: Catalogue) -> None:
    with reading(own_catalogue.engine) as session:
        room = stored_room(session, "Mill House")
    mine = {**texts_of(room), "seen_name": room.name, "seen": digest(room), "screen.bottom": "90 cm"}
    with writing(own_catalogue.engine) as session:
        replace_room(session, room.name, edited_room(room, {"screen.bottom": "70 cm"}))
    answer = shopper.post("/room", mine)
    assert (answer.status, "somebody has changed" in answer.words) == (409, True)
    assert 'value="90 cm"' in answer.text
    with reading(own_catalogue.engine) as session:
        now = stored_room(session, "Mill House")
    assert now == edited_room(room, {"screen.bottom": "70 cm"})
    assert shopper.post("/room", {**mine, "seen": digest(now)}).status == 303


def test_seats_and_places_are_added_and_taken_out(reader: Visitor) -> None:
    two = reader.get("/room", {**FEW, "add": "seat"})
    assert 'name="seat.2.distance"' in two.text
    typed = {**FEW, "seat.2.name": "aside", "seat.2.distance": "2 m", "seat.3.name": "far", "seat.3.distance": "4 m"}
    left = reader.get("/room", {**typed, "remove": "seat.2"})
    assert 'name="seat.2.name" value="far"' in left.text
    assert "seat.3" not in left.text


@pytest.mark.parametrize("number", ["0001" + "9" * 5000, "00019999", "²"], ids=["long", "zeros", "raised"])
def test_a_field_of_a_seat_that_cannot_be_is_none(reader: Visitor, number: str) -> None:
    page = reader.get("/room", {**FEW, f"seat.{number}.name": "nobody"})
    assert (page.status, 'value="nobody"' in page.text) == (200, False)
    page = reader.get("/money", {f"line.{number}.item": "nobody"})
    assert (page.status, 'value="nobody"' in page.text) == (200, False)


def test_a_room_file_comes_into_the_form_and_out(reader: Visitor) -> None:
    answer = reader.send("/room-file", {"file": ("attic.toml", AS_TOML.encode())})
    assert answer.status == 303
    assert 'value="Attic"' in reader.ask("GET", answer.headers["location"]).text
    bad = reader.send("/room-file", {"file": ("attic.toml", b'name = "a"\n[[seat]]\nnme = "x"\n')})
    assert (bad.status, "attic.toml, [[seat]] 1, nme" in bad.words) == (422, True)
    assert reader.send("/room-file", {"file": ("attic.toml", b"\xff\xfe")}).status == 422
    given = reader.get("/room-file", {"room": "Mill House"})
    assert given.headers["content-disposition"].startswith("attachment")
    room = room_from_toml(given.text, "given")
    assert toml_of(room) == given.text


NASTY = "<img src=x onerror=alert(1)>\"'&{{7*7}}"


@pytest.mark.whole
def test_names_with_markup_are_text(shopper: Visitor) -> None:
    kept = shopper.post("/room", {**FEW, "name": NASTY, "seat.1.name": NASTY, "place.1.name": NASTY})
    assert kept.status == 303
    pages: list[Reply] = [shopper.ask("GET", kept.headers["location"])]
    pages += [shopper.get(path, {"room": NASTY}) for path in ("/room", "/centres", "/mains", "/report", "/")]
    for page in pages:
        assert page.status == 200
        assert "<img src=x" not in page.text


@pytest.mark.slow
def test_what_is_supposed_becomes_ones_own_by_a_button(reader: Visitor) -> None:
    asked = {"name": "Attic", "seat.1.name": "sofa", "seat.1.distance": "3 m", "seat.2.name": "side",
             "seat.2.distance": "3 m", "seat.2.x": "60 cm", "primary": "2", "place.1.name": "bay",
             "place.1.kind": "cavity", "place.1.base": "400", "place.1.depth": "38 cm"}  # fmt: skip
    page = reader.get("/room", asked)
    offers = {unescape(one) for one in re.findall(r'name="own" value="([^"]*)"', page.text)}
    assert "mains.toe_in=0 deg" in offers
    assert {"seat.2.ear_height=1000 mm", "place.1.front=480 mm"} <= offers
    for offer in offers:
        path, _, value = offer.partition("=")
        own = reader.get("/room", {**asked, "own": offer})
        assert f'id="{path}" name="{path}" value="{value}"' in own.text
        assert f'value="{path}=' not in own.text
        told = reader.get("/room", {**asked, path: "33 mm", "own": offer})
        assert f'name="{path}" value="33 mm"' in told.text  # what somebody typed stays
    strange = reader.get("/room", {**asked, "own": "seat.2.nonsense=1"})
    assert strange.status == 200
    assert "nonsense" not in strange.text


def test_every_key_of_a_room_has_its_field_and_says_nothing_twice(reader: Visitor) -> None:
    page = reader.get("/room", {"room": "Mill House"})
    for section in SECTIONS.values():
        for key in section.keys:
            if key != "primary":
                assert f'name="{section.name}{".1" if section.repeated else ""}.{key}"' in page.text
    for label, ask in re.findall(
        r"<label for=[^>]*>([^<]*)</label>\s*<span class=\"ask\"[^>]*>([^<]*)</span>", page.text
    ):
        assert label.casefold() not in ask.casefold(), (label, ask)
