"""The ranking in a browser: the numbers and words of the very functions that the commands call."""

from __future__ import annotations

import re
from typing import Any

import pytest

from tests.recommender.page.served import Visitor
from triptych.catalog.database.engine import reading
from triptych.catalog.database.reads import stored
from triptych.catalog.files.room_edits import edited_room
from triptych.recommender.advise.advice import Advice
from triptych.recommender.advise.answering import StoodWhere, what_changed
from triptych.recommender.api import Catalogue

MILL = {"room": "Mill House"}
FIRST = "Bramble Thatch Trivet Stacked Centre"
WAITS = "Nettle Barrow Trug Centre"


@pytest.fixture(scope="module")
def mill(read_catalogue: Catalogue) -> Advice:
    return read_catalogue.match("Mill House")


def shown(catalogue: Catalogue, **options: Any) -> list[str]:
    return first_of(catalogue.match(options.pop("room", "Mill House"), **options))


def first_of(advice: Advice) -> list[str]:
    return [f"{one.rank}{'*' if one.conditional else ''} {one.speaker}" for one in advice.ranked[:8]]


def ranked(page: str) -> list[str]:
    entries = re.findall(r'<span class="rank">(.*?)</span> <a [^>]*><bdi>(.*?)</bdi>', page)
    return [f"{rank} {name}" for rank, name in entries]


@pytest.mark.whole
def test_the_ranking_is_that_of_match(reader: Visitor, mill: Advice) -> None:
    page = reader.get("/centres", MILL)
    assert ranked(page.text) == first_of(mill)
    assert f"Ranked: {len(mill.ranked)}" in page.words
    assert f"One answer away: {len(mill.pending)}" in page.words
    assert f"Ruled out everywhere: {len(mill.excluded)}" in page.words
    first = mill.ranked[0]
    assert f"score {first.score:.0f} ({first.score_low:.0f} to {first.score_high:.0f})" in page.words
    for words in mill.cautions:
        assert words in page.words


@pytest.mark.whole
def test_sliders_ask_what_options_ask(reader: Visitor, read_catalogue: Catalogue, mill: Advice) -> None:
    weights = {"timbre": 5, "coverage": 80, "headroom": 5, "aim": 5, "surroundings": 0, "balance": 0, "reach": 5}
    asked = {**MILL, "cap": "600 EUR", **{f"weight.{name}": str(value) for name, value in weights.items()}}
    page = reader.get("/centres", asked)
    assert ranked(page.text) == shown(read_catalogue, cap=600, currency="EUR", weights=weights)
    louder = edited_room(
        read_catalogue.room("Mill House"), {"listening.target_peak": "100", "seat.corner.regular": "no"}
    )
    page = reader.get("/centres", {**MILL, "target": "100", "try.seat.corner": "no"})
    assert ranked(page.text) == shown(read_catalogue, room=louder)
    still = reader.get("/centres", {**MILL, "target": "95", "try.seat.corner": "yes"})
    assert ranked(still.text) == first_of(mill)
    room = read_catalogue.room("Mill House")
    flat = edited_room(room, {f"place.{one.name}.tilt_limit": "0" for one in room.places})
    untilted = reader.get("/centres", {**MILL, "tilt": "0"})
    assert ranked(untilted.text) == shown(read_catalogue, room=flat) != shown(read_catalogue)
    assert ranked(reader.get("/centres", {**MILL, "tilt": "30"}).text) == shown(read_catalogue)


@pytest.mark.whole
def test_what_a_slider_changed_is_told(reader: Visitor) -> None:
    reader.get("/centres", MILL)
    url = f"http://{reader.own}/centres?room=Mill+House"
    part = reader.get("/centres", {**MILL, "cap": "500"}, HX_Request="true", HX_Current_URL=url)
    assert "<html" not in part.text
    assert f"{FIRST} was." in part.words
    assert "is first now" in part.words
    same = reader.get("/centres", MILL, HX_Request="true", HX_Current_URL=url)
    assert "Nobody's place and score changed." in same.words


@pytest.mark.parametrize(
    ("before", "after", "told"),
    [
        ({"a": 80.0, "b": 70.0}, {"b": 81.0, "a": 80.0}, ["b is first now, with 81; a was.", "2 of 2 stand in"]),
        ({"a": 80.0}, {"a": 74.0}, ["a stays first, with 74 instead of 80."]),
        ({"a": 80.0}, {}, ["Nothing passes every gate any more.", "No longer ranked: a."]),
        ({}, {"a": 80.0}, ["a is first; nothing passed before.", "New ranked: a."]),
        ({"a": 80.0}, {"a": 80.0, "c": 3.0}, ["New ranked: c."]),
        ({"a": 80.0}, {"a": 80.0}, ["Nobody's place and score changed."]),
    ],
)
def test_the_words_of_a_change(before: dict[str, float], after: dict[str, float], told: list[str]) -> None:
    found = what_changed(StoodWhere(before, (len(before), 0, 0)), StoodWhere(after, (len(after), 0, 0)))
    for words in told:
        assert any(line.startswith(words) for line in found), found


@pytest.mark.parametrize(
    ("asked", "status", "told"),
    [
        ({"room": "Mill Hous"}, 404, "the nearest: 'Mill House'"),
        ({**MILL, "mains": "Bramble Thatch Trivet Towr"}, 404, "the nearest"),
        ({**MILL, "cap": "lots"}, 422, "cap"),
        ({**MILL, "cap": "-5"}, 422, "cap"),
        ({**MILL, "target": "loud"}, 422, "target_peak"),
        ({**MILL, "weight.timbre": "much"}, 422, "the weight of timbre"),
        ({**MILL, "weight.timbre": "nan"}, 422, "the weight of timbre"),
        ({**MILL, "weight.taste": "3"}, 422, "no criterion is named 'taste'"),
        ({**MILL, "try.seat.attic": "no"}, 422, "no seat is named 'attic'"),
        ({**MILL, "try.seat.corner": "perhaps"}, 422, "true or false"),
    ],
)
def test_what_cannot_be_asked_is_told(reader: Visitor, asked: dict[str, str], status: int, told: str) -> None:
    page = reader.get("/centres", asked)
    assert (page.status, told in page.words) == (status, True), page.words[-400:]
    if status == 422:  # the form stays, with what was typed
        assert 'name="weight.coverage"' in page.text
        assert "cap" not in asked or f'value="{asked["cap"]}"' in page.text


@pytest.mark.whole
def test_an_answer_given_in_place_ranks_again(shopper: Visitor, own_catalogue: Catalogue) -> None:
    with reading(own_catalogue.engine) as session:
        revision = stored(session, WAITS).revision
    asked = {"name": WAITS, "revision": str(revision), "impedance_nominal": "8", "impedance_minimum": "6.4"}
    bad = shopper.post("/answer?room=Mill+House", {**asked, "impedance_nominal": "a lot"}, HX_Request="true")
    assert bad.status == 422
    assert "impedance_nominal" in bad.words
    assert 'value="a lot"' in bad.text
    done = shopper.post("/answer?room=Mill+House", asked, HX_Request="true")
    assert done.status == 200
    with reading(own_catalogue.engine) as session:
        found = stored(session, WAITS)
    assert (found.record.impedance_nominal, found.record.figures["impedance_nominal"].source) == (8.0, "speaker edit")
    assert WAITS not in [one.speaker for one in own_catalogue.match("Mill House").pending]
    late = shopper.post("/answer?room=Mill+House", {**asked, "impedance_nominal": "4"}, HX_Request="true")
    assert (late.status, "somebody has changed it since" in late.words) == (409, True)
    assert shopper.post("/answer?room=Mill+House", {"name": WAITS}).status == 422


@pytest.mark.whole
def test_one_centre_has_its_drawings_gates_and_criteria(reader: Visitor, read_catalogue: Catalogue) -> None:
    page = reader.get("/centre", {**MILL, "name": FIRST, "place": "top of the unit"})
    entry = read_catalogue.explain(FIRST, "Mill House", place="top of the unit").ranked[0]
    for title in ("Front elevation", "Side section", "Plan", "What each seat hears of the centre"):
        assert title in page.words
    for gate in entry.gates:
        assert gate.why in page.words
    assert reader.get("/centre", {**MILL, "name": "No Such"}).status == 404
    assert reader.get("/centre", {**MILL, "name": FIRST, "place": "attic"}).status == 404


@pytest.mark.whole
def test_two_stand_side_by_side(reader: Visitor, read_catalogue: Catalogue) -> None:
    names = [FIRST, "Kettle Moss Bobbin Centre"]
    page = reader.get("/compare", [("room", "Mill House"), *(("pick", name) for name in names)])
    found = read_catalogue.compare(names, "Mill House")
    for one in found.standings:
        assert one.speaker in page.words
    for difference in found.differences:
        assert f"{difference.points[1]:+.1f}" in page.words
    assert reader.get("/compare", [("room", "Mill House"), ("pick", FIRST)]).status == 422
    four = [("pick", name) for name in (*names, "Kettle Moss Bobbin Low Centre", "Cobble Mere Pestle Centre")]
    assert reader.get("/compare", [("room", "Mill House"), *four]).status == 422


@pytest.mark.slow
def test_fit_sheet_and_report_are_those_of_the_commands(reader: Visitor) -> None:
    sheet = reader.get("/fit-sheet", {**MILL, "name": FIRST})
    assert "Raise" in sheet.words or "raise" in sheet.words
    assert "sha256-" in sheet.headers["content-security-policy"]
    report = reader.get("/report", MILL)
    assert f"Take the {FIRST}" in report.words
    for path, asked in (("/fit-sheet", {**MILL, "name": FIRST}), ("/report", MILL)):
        printed = reader.get(path, {**asked, "form": "pdf"})
        assert (printed.headers["content-type"], printed.body[:5]) == ("application/pdf", b"%PDF-")
    refused = reader.get("/fit-sheet", {**MILL, "name": FIRST, "place": "media unit bay"})
    assert (refused.status, "can't go in media unit bay" in refused.words) == (409, True)


def test_mains_are_found_by_a_few_letters(reader: Visitor) -> None:
    page = reader.get("/mains", {"q": "trivet tow", **MILL})
    assert "Bramble Thatch Trivet Tower" in page.words
    assert "Kettle Moss" not in page.words
    assert "/centres?room=Mill+House&amp;mains=Bramble" in page.text
    part = reader.get("/mains", {"q": "qqqq"}, HX_Request="true")
    assert "<html" not in part.text
    assert "None of the mains" in part.words
    assert "sensitivity" in reader.get("/loudspeaker", {"name": FIRST}).words


@pytest.mark.whole
def test_a_list_is_imported_and_what_is_wrong_with_it_told(shopper: Visitor) -> None:
    head = b"maker,model,roles,width\n"
    done = shopper.send("/import", {"file": ("shop.csv", head + b"Oatfell,Wren,centre,400\n")})
    assert "added 1, changed 0, unchanged 0" in done.words
    again = shopper.send("/import", {"file": ("shop.csv", head + b"Oatfell,Wren,centre,400\n")})
    assert "unchanged 1" in again.words
    bad = shopper.send("/import", {"file": ("shop.csv", head + b"Oatfell,Lark,centre,broad\n")})
    assert (bad.status, "nothing changed" in bad.words) == (422, True)
    for name in ("shop.txt", "../../etc/passwd", "shop.csv\x00.exe"):
        assert shopper.send("/import", {"file": (name, head)}).status in (400, 422)
    assert shopper.send("/import", {}).status in (400, 422)
