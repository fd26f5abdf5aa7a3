from __future__ import annotations

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st

from triptych.catalog.database.engine import writing
from triptych.catalog.errors import NotFound
from triptych.catalog.names import mistaken_for
from triptych.catalog.stock.locations import (
    KnownLocations,
    common_zone,
    known_name,
    locations,
    save_location,
)


@pytest.mark.parametrize(
    ("name", "known"),
    [
        ("shpo", "shop"),
        ("shoop", "Shop"),
        ("shp", "shop"),
        ("hsop", "shop"),
        ("ahop", "shop"),
        ("shoo", "shop"),
        ("vna", "van"),
        ("shop-1", "shop 1"),
        ("shop 01", "shop 1"),
        ("shpo 1", "shop 1"),
        ("Harbor stroe", "Harbour store"),
        ("harbourstore", "Harbour store"),
        ("wherehouse", "warehouse"),
        ("Cafe", "Café"),
    ],
)
def test_a_slip_of_the_fingers_is_near(name: str, known: str) -> None:
    assert mistaken_for(name, ["somewhere else", known]) == known
    assert mistaken_for(known, ["somewhere else", name]) == name


@pytest.mark.parametrize(
    ("name", "known"),
    [
        ("shop 1", "shop 2"),
        ("A1", "A2"),
        ("A1", "B1"),
        ("shop", "shop 2"),
        ("rack 12", "rack 21"),
        ("shelf a", "shelf b"),
        ("HALL_A", "HALL_B"),
        ("shop", "store"),
        ("van", "bay"),
        ("van", "shop"),
        ("north store", "south store"),
        ("east", "west"),
        ("Northside", "Southside"),
        ("upstairs", "downstairs"),
        ("shop", "shop floor"),
        ("a", "b"),
        ("½", "¼"),
        ("--", "=="),
    ],
)
def test_a_name_of_its_own_is_not(name: str, known: str) -> None:
    assert mistaken_for(name, [known]) is None
    assert mistaken_for(known, [name]) is None


@given(st.text(max_size=30), st.text(max_size=30))
def test_any_two_names_are_compared_and_in_either_order_alike(one: str, other: str) -> None:
    assert (mistaken_for(one, [other]) is None) == (mistaken_for(other, [one]) is None)


@given(st.text(alphabet="abcdefgh", min_size=4, max_size=12), st.integers(0, 999), st.integers(0, 999))
def test_numbers_tell_places_apart(name: str, first: int, second: int) -> None:
    assert (mistaken_for(f"{name} {first}", [f"{name} {second}"]) is None) == (first != second)


def test_a_name_is_new_known_or_refused(engine: sa.Engine) -> None:
    with writing(engine) as session:
        assert KnownLocations([]).is_new("shop")
        with pytest.raises(NotFound, match="there is none yet"):
            known_name(session, "shop")
        save_location(session, "shop", "UTC")
        known = [place.name for place in locations(session)]
        assert not KnownLocations(known).is_new(" SHOP ")
        assert KnownLocations(known).is_new("van")
        with pytest.raises(
            NotFound, match=r"did you mean 'shop'\?.*: triptych stock location shpo; nothing was written"
        ):
            KnownLocations(known).is_new("shpo")
        assert known_name(session, "Shop") == "shop"
        with pytest.raises(NotFound, match="did you mean 'shop'"):
            known_name(session, "shpo")


def test_many_locations_are_counted_and_not_all_named(engine: sa.Engine) -> None:
    with writing(engine) as session:
        for number in range(12):
            save_location(session, f"rack {number}", "UTC")
        with pytest.raises(NotFound, match="known are rack 0, rack 1, "):
            known_name(session, "loft")
        save_location(session, "van", "UTC")
        with pytest.raises(NotFound, match="13 are known: triptych stock location lists them"):
            known_name(session, "loft")
        with pytest.raises(NotFound, match="did you mean 'van'"):
            known_name(session, "vna")


def test_a_zone_that_all_share_is_that_of_the_house(engine: sa.Engine) -> None:
    with writing(engine) as session:
        assert common_zone(session) == "UTC"
        save_location(session, "shop", "Europe/Lisbon")
        save_location(session, "van", "Europe/Lisbon")
        assert common_zone(session) == "Europe/Lisbon"
        save_location(session, "depot", "Europe/Berlin")
        assert common_zone(session) == "UTC"
