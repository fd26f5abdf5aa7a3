"""After installing, in a browser: the verdict and the words of `verify`, stored with the room by a click."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from tests.quick_ones import quick_after
from tests.recommender.page.served import Reply, Visitor
from tests.recommender.verify.in_room import hole, measured
from triptych.catalog.database.as_built import checks
from triptych.catalog.database.engine import reading
from triptych.catalog.records import CurveKind, CurveRecord
from triptych.recommender.advise import as_built_check
from triptych.recommender.api import Catalogue
from triptych.recommender.installing import built_record, measured_seats, promised
from triptych.recommender.physics.checks import FloatArray
from triptych.recommender.report import built

Files = dict[str, tuple[str, bytes]]

FIRST = "Bramble Thatch Trivet Stacked Centre"


def sent_on(visitor: Visitor, answer: Reply) -> Reply:
    """Where an answer sends a browser on to."""
    assert answer.status == 303, answer.words[:600]
    return visitor.get(answer.headers["location"])


TRIO = measured(hole(1500, 14, 0.15))


def text_of(level: FloatArray) -> bytes:
    rows = zip(TRIO.frequency.tolist(), level.tolist(), strict=True)
    return "\n".join(f"{hertz!r} {decibel!r}" for hertz, decibel in rows).encode()


def curve_of(level: FloatArray) -> CurveRecord:
    return CurveRecord(CurveKind.IN_ROOM, tuple(TRIO.frequency.tolist()), tuple(level.tolist()), "made")


@pytest.fixture(scope="module")
def files() -> Files:
    three = {"left": TRIO.left, "centre": TRIO.centre, "right": TRIO.right}
    return {name: (f"{name}.txt", text_of(level)) for name, level in three.items()}


@pytest.mark.whole
def test_the_verdict_is_that_of_verify(reader: Visitor, read_catalogue: Catalogue, files: Files) -> None:
    room = read_catalogue.room("Mill House")
    three = ([curve_of(level)] for level in (TRIO.left, TRIO.centre, TRIO.right))
    standing = promised(read_catalogue, room, room.mains.speaker, FIRST, "")
    seats = measured_seats([room.primary.name], *three)
    found = as_built_check.check(built_record(seats, standing, room.mains.speaker, "", 0.0), standing)
    said = {"seat": room.primary.name, "speaker": FIRST}
    page = sent_on(reader, reader.send("/installed?room=Mill+House", files, said))
    assert page.status == 200, page.words[:600]
    assert f'value="{FIRST}"' in page.text
    for words in (*built.settings_lines(found), *built.dip_lines(found), *built.promise_lines(found)):
        plain = " ".join(words.translate(dict.fromkeys(map(ord, "\u2068\u2069"))).split())
        assert plain in page.words.translate(dict.fromkeys(map(ord, "\u2068\u2069"))), plain
    assert "Measured: " in page.words
    drawn = re.findall(r"<polyline[^>]*>", page.text)[:3]
    assert [re.findall(r"(mains|centre)-(?:curve|line)", one) for one in drawn] == [["mains"], ["centre"], ["mains"]]
    assert "Centre and mains at the primary seat" in page.words


@pytest.mark.whole
def test_it_is_stored_as_built_by_a_click_and_once(shopper: Visitor, own_catalogue: Catalogue, files: Files) -> None:
    judged = shopper.send("/installed?room=Mill+House", files, {"speaker": FIRST, "place": "top of the unit"})
    page = sent_on(shopper, judged)
    key = re.search(r'name="key" value="([^"]+)"', page.text)
    assert key
    with reading(own_catalogue.engine) as session:
        assert checks(session, "Mill House") == []
    told = sent_on(shopper, shopper.post("/installed-keep?room=Mill+House", {"key": key[1]}))
    assert "stored with Mill House" in told.words
    # back from there reads the verdict again, and sends no file a second time
    back = sent_on(shopper, judged)
    assert (back.status, f'value="{key[1]}"' in back.text, "Measured: " in back.words) == (200, True, True)
    again = sent_on(shopper, shopper.post("/installed-keep?room=Mill+House", {"key": key[1]}))
    assert "holds this measurement already" in again.words
    with reading(own_catalogue.engine) as session:
        [stored] = checks(session, "Mill House")
    assert (stored.speaker, stored.place) == (FIRST, "top of the unit")
    assert "as built" in shopper.get("/report", {"room": "Mill House"}).words.casefold()
    assert shopper.post("/installed-keep?room=Mill+House", {"key": "none"}).status == 404


@pytest.mark.parametrize(
    ("change", "pairs", "told"),
    quick_after(
        [
            ({"left": ("left.txt", b"nothing")}, {}, "left.txt"),
            ({"left": ("left.txt", b"\x00\x01")}, {}, "left.txt"),
            ({"left": ("../../x.txt", b"nothing")}, {}, "x.txt"),
            ({}, {"seat": "attic"}, "no seat named"),
            ({}, {"speaker": "No Such"}, "no loudspeaker is named"),
            ({}, {"trim_set": "loud"}, "the trim was at"),
            ({}, {"trim_set": "90"}, "the trim was at"),
            ({}, {"trim_set": "1.200"}, "could be 1.2 or 1200"),
            ({}, {"place": "attic", "speaker": FIRST}, "attic"),
        ],
        2,
    ),
)
def test_what_cannot_be_judged_is_told_and_kept(
    reader: Visitor,
    files: Files,
    tmp_path: Path,
    change: Files,
    pairs: dict[str, str],
    told: str,
) -> None:
    page = reader.send("/installed?room=Mill+House", {**files, **change}, pairs)
    assert (page.status, told in page.words) == (422, True), page.words[:500]
    for value in (pairs.get("speaker"), pairs.get("trim_set")):
        assert value is None or f'value="{value}"' in page.text
    assert reader.send("/installed?room=Mill+House", {}, {}).status in (400, 422)
