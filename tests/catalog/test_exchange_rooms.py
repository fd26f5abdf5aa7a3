from __future__ import annotations

import re
import textwrap
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import given

from tests.catalog.exchange_records import rooms
from triptych.catalog.errors import BadInput
from triptych.catalog.files.rooms import picture_size, read_room, room_from_toml, room_or_problems, toml_of, write_room
from triptych.catalog.forms import aspect_ratio
from triptych.catalog.records import Amplifier, Back, Hot, Place, PlaceKind, RoomRecord, Screen, WallKind

CONTRACT = """
name = "Mill House"
[screen]
diagonal = "65 in"
aspect = "16:9"
bottom = "820 mm"
transparent = false
[mains]
speaker = "Oatfell Linden Tower"
spacing = "2.6 m"
from_wall = "450 mm"
toe_in = 12
axis_height = "920 mm"
[[seat]]
name = "middle"
x = 0
distance = "3.0 m"
ear_height = "1.02 m"
primary = true
regular = true
[[place]]
name = "media unit bay"
kind = "cavity"
width = "640 mm"
height = "210 mm"
depth = "380 mm"
base = "340 mm"
front = "520 mm"
back = "closed"
load = "18 kg"
hot = false
wall = "masonry"
gap = "150 mm"
setback = 0
[amplifier]
power = 95
into = 8
lowest_load = 6
trim_range = 12
[listening]
target_peak = 95
room_gain = 3
needs_real_centre = false
[money]
centre = 700
currency = "EUR"
tax_included = true
"""
SEAT = '[[seat]]\nname = "a"\ndistance = 3000\n'


def room(text: str) -> RoomRecord:
    return room_from_toml(textwrap.dedent(text), "room.toml")


def complaints(text: str) -> list[str]:
    with pytest.raises(BadInput) as refusal:
        room(text)
    return str(refusal.value).split("\n")


def test_the_contracts_room_is_read_in_si() -> None:
    found = room(CONTRACT)
    assert found.screen == Screen(diagonal=65 * 0.0254, aspect="16:9", bottom=0.82)
    assert found.places == (
        Place(
            "media unit bay", PlaceKind.CAVITY, 0.64, 0.21, 0.38, 0.34, 0.52,
            Back.CLOSED, 18.0, Hot.NO, WallKind.MASONRY, 0.15, 0.0,
        ),
    )  # fmt: skip
    assert (found.mains.spacing, found.mains.toe_in, found.primary.ear_height) == (2.6, 12.0, 1.02)
    assert found.amplifier == Amplifier(95.0, 8.0, 6.0, 12.0)
    assert found.money is not None
    assert found.money.centre == Decimal(700)


@pytest.mark.examples
@given(rooms())
def test_every_room_reads_back_identical(record: RoomRecord) -> None:
    assert room_from_toml(toml_of(record), "x") == record


def test_a_file_reads_back_identical(tmp_path: Path) -> None:
    write_room(tmp_path / "a.toml", room(CONTRACT))
    assert read_room(tmp_path / "a.toml") == room(CONTRACT)


def test_left_out_is_unknown_or_the_usual_value() -> None:
    found = room(f'name = "r"\n{SEAT}[[place]]\nname = "p"\nkind = "top"\n[screen]\nbottom = 900')
    place = found.places[0]
    assert (place.setback, place.load, place.back, place.wall) == (None, None, None, None)
    assert place.hot is Hot.NO
    assert (found.screen, found.amplifier, found.money) == (Screen(bottom=0.9), None, None)
    assert (found.primary.x, found.primary.regular, found.primary.ear_height) == (0.0, True, None)


def test_a_single_seat_is_primary() -> None:
    assert room(f'name = "r"\n{SEAT}').primary.name == "a"


@pytest.mark.parametrize(
    ("text", "hot"), [("true", Hot.YES), ("false", Hot.NO), ('"unknown"', Hot.UNKNOWN), ('"Yes"', Hot.YES)]
)
def test_hot_has_three_answers(text: str, hot: Hot) -> None:
    assert room(f'name = "r"\n{SEAT}[[place]]\nname = "p"\nkind = "wall"\nhot = {text}').places[0].hot is hot


def test_unknown_is_a_word_or_nothing() -> None:
    found = room(f'name = "r"\n{SEAT}ear_height = "unknown"\n[amplifier]\npower = ""\ninto = 8')
    assert found.seats[0].ear_height is None
    assert found.amplifier == Amplifier(into=8.0)


def test_money_is_exact() -> None:
    money = room(f'name = "r"\n{SEAT}[money]\ncentre = 699.10\ncurrency = "eur"').money
    assert money is not None
    assert (money.centre, money.currency) == (Decimal("699.10"), "EUR")


@pytest.mark.parametrize(
    ("text", "line"),
    [
        (SEAT, "room.toml, name: is not there; it is required"),
        ('name = ""\n' + SEAT, "room.toml, name: is empty or unknown; it is required"),
        ('name = "r"\n', "room.toml, [[seat]]: there is none; describe at least one listening position"),
        (
            'name = "r"\ncolour = 1\n' + SEAT,
            "room.toml, 'colour': is no section or key of a room; known are name, screen",
        ),
        ('name = "r"\n[scren]\n' + SEAT, "room.toml, 'scren': is no section or key of a room; did you mean 'screen'?"),
        ('name = "r"\n[seat]\nname = "a"\n', "room.toml, [seat]: write [[seat]] in double brackets before each seat"),
        ('name = "r"\nscreen = 3\n' + SEAT, "room.toml, [screen]: holds 3; write [screen] once"),
        (
            'name = "r"\n' + SEAT + "ear_hight = 3",
            "[[seat]] 1 'a', ear_hight: is no key of seat; did you mean 'ear_height'?",
        ),
        ('name = "r"\n' + SEAT + 'x = "unknown"', "[[seat]] 1 'a', x: cannot be unknown"),
        ('name = "r"\n' + SEAT + "regular = 3", "[[seat]] 1 'a', regular: holds 3; write true or false"),
        ('name = "r"\n' + SEAT + "ear_height = true", "ear_height: holds true; write text in quotes or a number"),
        ('name = "r"\n' + SEAT + "ear_height = [1]", "ear_height: holds a list; write text in quotes or a number"),
        ('name = "r"\n' + SEAT + "ear_height = 1979-05-27", "ear_height: holds a date or time"),
        ('name = "r"\n' + SEAT + "ear_height = nan", "no quantity that can be read"),
        ('name = "r"\n' + SEAT + "ear_height = 1e999", "ear_height: "),
        ('name = "r"\n' + SEAT + "ear_height = 3", "'3' is outside the plausible range 300 to 6000 mm"),
        ('name = "r"\n' + SEAT + 'ear_height = "1,200 mm"', "could be 1200 mm or 1.2 mm"),
        (
            'name = "r"\n' + SEAT + "primary = true\n" + SEAT,
            "[[seat]], name: 2 are called 'a'; give each a name of its own",
        ),
        (
            'name = "r"\n' + SEAT + SEAT.replace('"a"', '"b"'),
            "primary: no seat is marked; write primary = true at one of 'a', 'b'",
        ),
        (
            'name = "r"\n' + SEAT + "primary = true\n" + SEAT.replace('"a"', '"b"') + "primary = true",
            "primary: 'a', 'b' are all marked",
        ),
        ('name = "r"\n[[seat]]\nname = "a"', "[[seat]] 1 'a', distance: is not there; it is required"),
        ('name = "r"\n' + SEAT + '[[place]]\nname = "p"', "[[place]] 1 'p', kind: is not there; it is required"),
        ('name = "r"\n' + SEAT + '[[place]]\nname = "p"\nkind = "shelf"', "'shelf' is none of cavity, open_shelf, top"),
        (
            'name = "r"\n' + SEAT + '[[place]]\nname = "p"\nkind = "top"\nhot = "maybe"',
            'write true, false or "unknown"',
        ),
        ('name = "r"\n' + SEAT + '[[place]]\nname = "p"\nkind = "top"\nwall = "jelly"', "none of masonry, stud"),
        ('name = "r"\n' + SEAT + "[screen]\ndiagonal = 1651", "[screen], aspect: is not there beside a diagonal"),
        ('name = "r"\n' + SEAT + '[screen]\naspect = "flat"', "'flat' is no shape of a picture"),
        ('name = "r"\n' + SEAT + '[screen]\naspect = "16:0"', "no shape of a picture"),
        (
            'name = "r"\n' + SEAT + "[screen]\ndiagonal = 1000\nwidth = 900\nheight = 900",
            "[screen], diagonal: does not agree",
        ),
        (
            'name = "r"\n' + SEAT + "[screen]\ndiagonal = 1000\nwidth = 1100",
            "[screen], diagonal: is not longer than the sides",
        ),
        ('name = "r"\n' + SEAT + "[money]\ncentre = 700", "[money], currency: is not there beside an amount"),
        (
            'name = "r"\n' + SEAT + '[money]\ncentre = 7.001\ncurrency = "EUR"',
            "[money], centre: 7.001 has more decimals than EUR",
        ),
        ('name = "r"\n' + SEAT + '[money]\ncentre = -7\ncurrency = "EUR"', "'-7' is out of range"),
        ('name = "r"\n' + SEAT + '[money]\ncurrency = "Euros"', "'Euros' is no currency code"),
        ("name = r", "room.toml: is no TOML: Invalid value (at line 1"),
        ("a = " + "[" * 5000, "room.toml: is no TOML"),
        ("a = " + "9" * 5000, "room.toml: is no TOML"),
    ],
)
def test_what_is_wrong_is_named_with_what_would_be_right(text: str, line: str) -> None:
    found = complaints(text)
    assert len(found) == 1
    assert line in found[0]


def test_everything_wrong_is_named_at_once() -> None:
    bad = '[screen]\nbottom = "x"\n[[seat]]\nname = "a"\nx = 1e9\n[[place]]\nkind = "shelf"\n[amplifier]\npwer = 3\n'
    assert sorted(line.removeprefix("room.toml, ").split(": ")[0] for line in complaints(bad)) == [
        "[[place]] 1, kind",
        "[[place]] 1, name",
        "[[seat]] 1 'a', distance",
        "[[seat]] 1 'a', x",
        "[amplifier], pwer",
        "[screen], bottom",
        "name",
    ]


@pytest.mark.parametrize(("content", "said"), [(b"\xff\xfe\x00", "UTF-8"), (None, "No such file")])
def test_a_file_that_cannot_be_read(tmp_path: Path, content: bytes | None, said: str) -> None:
    path = tmp_path / "a.toml"
    if content is not None:
        path.write_bytes(content)
    with pytest.raises(BadInput, match=said):
        read_room(path)


def test_a_byte_order_mark_is_no_matter(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"\xef\xbb\xbf" + CONTRACT.encode())
    assert read_room(path) == room(CONTRACT)


def test_the_picture_follows_from_what_is_stated() -> None:
    """The 3-4-5 triangle; 16:9 of 65 in is 1439 mm by 809 mm (common practice, any table of screen sizes)."""
    assert picture_size(Screen(diagonal=5.0, aspect="4:3")) == pytest.approx((4.0, 3.0), rel=1e-15, abs=0)
    assert picture_size(Screen(width=4.0, diagonal=5.0)) == (4.0, 3.0)
    assert picture_size(Screen(height=3.0, aspect="4:3")) == (4.0, 3.0)
    assert picture_size(Screen(bottom=1.0)) == (None, None)
    assert picture_size(Screen(diagonal=65 * 0.0254, aspect="16:9")) == pytest.approx((1.439, 0.809), rel=1e-3, abs=0)


@pytest.mark.parametrize(
    ("written", "kept", "ratio"), [('"16 x 9"', "16:9", 16 / 9), ("2.35", "2.35", 2.35), ('"2,39:1"', "2.39:1", 2.39)]
)
def test_shapes_of_pictures(written: str, kept: str, ratio: float) -> None:
    screen = room(f'name = "r"\n{SEAT}[screen]\nwidth = 1000\naspect = {written}').screen
    assert screen is not None
    assert screen.aspect == kept
    assert aspect_ratio(kept) == ratio


@pytest.mark.parametrize(
    "money",
    ['centre = "£600"\ncurrency = "GBP"', 'centre = "600 GBP"', 'centre = "$600"\ncurrency = "usd"', 'centre = "£600"'],
)
def test_an_amount_may_carry_the_currency_it_agrees_with(money: str) -> None:
    found = room(f'name = "r"\n{SEAT}[money]\n{money}').money
    assert found is not None
    assert found.centre == 600
    assert found.currency == ("USD" if "$" in money else "GBP")


@pytest.mark.parametrize(
    ("money", "told"),
    [
        ('centre = "£600"\ncurrency = "EUR"', "'£600' is in GBP, and its currency is EUR"),
        ('centre = "$600"', "could be in USD or AUD"),
        ('centre = "-600 GBP"\ncurrency = "GBP"', "is out of range"),
        ('centre = "£600"\ncurrency = "pounds"', "is no currency code"),
    ],
)
def test_an_amount_in_another_currency_is_refused(money: str, told: str) -> None:
    with pytest.raises(BadInput, match=re.escape(told)):
        room(f'name = "r"\n{SEAT}[money]\n{money}')


def test_a_section_that_was_read_before_is_told_of_where_it_stands() -> None:
    seat = {"name": "middle", "distance": "3 m"}
    far = {**seat, "name": "left", "distance": "3 miles"}
    for _ in range(2):
        found, problems = room_or_problems({"name": "r", "seat": [{**seat, "primary": True}], "place": []}, "a.toml")
        assert (found is None, problems) == (False, [])
        # as numbers 1 and True are equal; as what somebody wrote they are not
        _, problems = room_or_problems({"name": "r", "seat": [{**seat, "primary": 2 - 1}, {**far}, {**far}]}, "b.toml")
        where = {(one.file, one.where, one.column) for one in problems}
        assert ("b.toml", "[[seat]] 1 'middle'", "primary") in where
        assert ("b.toml", "[[seat]] 2 'left'", "distance") in where
        assert ("b.toml", "[[seat]] 3 'left'", "distance") in where
