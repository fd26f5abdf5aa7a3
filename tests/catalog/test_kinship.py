from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
import sqlalchemy as sa
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from tests.catalog.stock_shop import CENTRE, LAST, TOWER, made_quote, open_shop
from triptych.catalog import stock
from triptych.catalog.database import profiles, reads, writes
from triptych.catalog.database.engine import reading, writing
from triptych.catalog.database.kinship import Kindred, add_kin_name, doubts, kin_names
from triptych.catalog.database.models import Family, Maker, Price, QuoteLine, Series
from triptych.catalog.database.renaming import merge_kin, remove_kin, rename_kin, rename_loudspeaker
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.names import TRADE_WORDS, NearNames
from triptych.catalog.records import LoudspeakerRecord, MainsPosition, Role, RoomRecord, Seat
from triptych.catalog.stock import proof, quotes
from triptych.catalog.stock.quote_lines import Item

# common practice, no source: how makers' names come out of lists, letters and fingers
ONE_MAKER = [
    ("Bramble Thatch", "BrambleThatch"),
    ("Bramble Thatch", "Bramble-Thatch"),
    ("Bramble Thatch", "Bramble Tatch"),
    ("Bramble Thatch", "Brambel Thatch"),
    ("Bramble Thatch", "Bramble Thatch Ltd."),
    ("Bramble Thatch", "The Bramble Thatch Company"),
    ("Oatfell", "Oatfell Audio"),
    ("Oatfell", "Oatfel"),
    ("Larch & Pail", "Larch and Pail"),
    ("Larch & Pail", "LarchAndPail"),
    ("Mk II Oatfell", "MkII Oatfell"),
]
TWO_MAKERS = [
    ("Oatfell", "Oakfield"),
    ("Linden", "Linden II"),
    ("Linden II", "Linden III"),
    ("Linden IV", "Linden VI"),
    ("Linden MkII", "Linden Mk III"),
    ("Linden A", "Linden B"),
    ("Linden 100", "Linden 200"),
    ("North Audio", "South Audio"),
    ("AB", "AC"),
    ("Audio", "Acoustics"),
]


@pytest.mark.parametrize(("one", "other"), ONE_MAKER)
def test_a_maker_is_known_again_by_a_slip(one: str, other: str) -> None:
    assert NearNames(["Sorrel Loom", one], TRADE_WORDS).meant(other) == one
    assert NearNames(["Sorrel Loom", other], TRADE_WORDS).meant(one) == other


@pytest.mark.parametrize(("one", "other"), TWO_MAKERS)
def test_names_that_a_number_or_a_letter_tells_apart_are_two(one: str, other: str) -> None:
    assert NearNames([one], TRADE_WORDS).meant(other) is None
    assert NearNames([other], TRADE_WORDS).meant(one) is None


@given(st.lists(st.text("abcde", min_size=3, max_size=8), unique=True, min_size=1, max_size=6), st.text("abcdef"))
def test_what_is_found_among_many_is_found_alone(known: list[str], name: str) -> None:
    alone = [one for one in known if NearNames([one]).meant(name)]
    assert (NearNames(known).meant(name) in alone) if alone else NearNames(known).meant(name) is None


def _speaker(maker: str, series: str | None = None, family: str | None = None, model: str = "X") -> LoudspeakerRecord:
    return LoudspeakerRecord(maker, model, series=series, family=family, roles=frozenset({Role.CENTRE}))


def _doubted(session: Session, *records: LoudspeakerRecord) -> list[tuple[str, str, str]]:
    return [(doubt.kin.value, doubt.name, doubt.near) for doubt in doubts(session, records)]


def test_new_names_are_doubted_and_known_ones_not(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [CENTRE, _speaker("Sorrel Loom", "Heddle", "Sorrel Loom Heddle")])
        assert _doubted(session, CENTRE, replace(CENTRE, maker="OATFELL", series="linden")) == []
        assert _doubted(session, _speaker("Oatfel")) == [("maker", "Oatfel", "Oatfell")]
        assert _doubted(session, _speaker("Oatfell", "Lindn")) == [("series", "Lindn", "Linden")]
        # another maker's series of nearly the name is its own
        assert _doubted(session, _speaker("Sorrel Loom", "Lindn")) == []
        assert _doubted(session, _speaker("Oatfell", family="Sorrel Lom Heddle")) == [
            ("family", "Sorrel Lom Heddle", "Sorrel Loom Heddle")
        ]
        # a family made of maker and series is left to those
        new = _speaker("Sorrel Loom", "Hedle", "Sorrel Loom Hedle")
        assert _doubted(session, new) == [("series", "Hedle", "Heddle")]
        # two new names that are near each other are told too
        assert _doubted(session, _speaker("Plum Anvil"), _speaker("PlumAnvil")) == [
            ("maker", "PlumAnvil", "Plum Anvil")
        ]


def test_a_name_made_on_purpose_is_doubted_no_more(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [CENTRE])
        [doubt] = doubts(session, [_speaker("Oatfell", "Lindens")])
        assert doubt.made == "triptych series add 'Oatfell Lindens'"
        assert add_kin_name(session, Kindred.SERIES, "oatfell Lindens")
        assert not add_kin_name(session, Kindred.SERIES, "Oatfell lindens")
        assert doubts(session, [_speaker("Oatfell", "Lindens")]) == []
        assert add_kin_name(session, Kindred.MAKER, "Oatfel")
        assert doubts(session, [_speaker("Oatfel")]) == []
        with pytest.raises(BadInput, match="does not begin with a known maker"):
            add_kin_name(session, Kindred.SERIES, "Nobody Linden")
        with pytest.raises(BadInput, match="blank"):
            add_kin_name(session, Kindred.MAKER, "  ")
        with pytest.raises(BadInput, match="do not print"):
            add_kin_name(session, Kindred.FAMILY, "a\x07b")


def _sold_and_quoted(session: Session) -> Any:
    """A shop with a history of its centres, a room of its mains, and what the catalogue says of both."""
    shop = open_shop(session, towers=2, centres=3)
    quotes.accept(session, made_quote(session, "Mill House", [Item(CENTRE.name, 1)])[0])
    writes.save_room(
        session,
        RoomRecord(
            "Mill",
            seats=(Seat("middle", 3.0, primary=True),),
            places=(),
            mains=MainsPosition(speaker="OATFELL linden tower"),
        ),
    )
    profile = profiles.StoredProfile(shop.centre, 1, 7, b"p")
    profiles.save_profiles(session, [profile])
    return shop


def _kept(session: Session, number: int) -> Any:
    [item] = reads.stored_by_id(session, [number])
    lines = session.execute(
        sa.text("SELECT id, kind, quantity, amount, job_id FROM movement WHERE loudspeaker_id = :n ORDER BY id"),
        {"n": number},
    ).all()
    prices = session.execute(sa.select(Price.amount, Price.valid_from).where(Price.loudspeaker_id == number)).all()
    return lines, prices, stock.available(session, number), dict(item.record.figures)


@pytest.mark.whole
def test_renaming_keeps_stock_quotes_prices_and_rooms(engine: sa.Engine) -> None:
    with writing(engine) as session:
        shop = _sold_and_quoted(session)
        before = {number: _kept(session, number) for number in (shop.tower, shop.centre)}
        quoted = session.execute(sa.select(QuoteLine.__table__)).all()
        assert rename_kin(session, Kindred.MAKER, "OATFELL", "Oat Fell") == 3
        assert rename_kin(session, Kindred.SERIES, "Oat Fell Linden", "Lime") == 3
        assert rename_kin(session, Kindred.FAMILY, "Linden", "Limes") == 3
        record = rename_loudspeaker(session, "oat fell lime centre", {"model": "Middle", "series": "Plum"})
        assert record.name == "Oat Fell Plum Middle"
        assert {number: _kept(session, number) for number in before} == before
        assert session.execute(sa.select(QuoteLine.__table__)).all() == quoted != []
        assert [one.name for one in reads.loudspeakers(session)] == [
            "Oat Fell Lime Old Centre",
            "Oat Fell Lime Tower",
            "Oat Fell Plum Middle",
        ]
        assert reads.room(session, "Mill").mains == MainsPosition(speaker="Oat Fell Lime Tower")
        [item] = reads.stored_by_id(session, [shop.centre])
        assert item.revision == 5
        assert reads.profiles(session)["revision"] == [5]
        assert [finding for finding in proof.check(session) if not finding.holds] == []
        with pytest.raises(NotFound, match="Oat Fell Lime Tower"):
            reads.stored(session, TOWER.name)


@pytest.mark.whole
def test_a_family_that_is_maker_and_series_goes_along(engine: sa.Engine) -> None:
    with writing(engine) as session:
        own = _speaker("Oatfell", "Linden", "Oatfell Linden")
        guest = _speaker("Sorrel Loom", "Heddle", "Oatfell Linden")
        writes.save_loudspeakers(session, [own, guest])
        rename_kin(session, Kindred.MAKER, "Oatfell", "Oakfell")
        rename_kin(session, Kindred.SERIES, "Oakfell Linden", "Lime")
        assert [one.family for one in reads.loudspeakers(session)] == ["Oakfell Lime", "Oakfell Lime"]
        # one alone takes the family of its new series, and the others keep theirs
        rename_loudspeaker(session, "Oakfell Lime X", {"series": "Plum"})
        assert [one.family for one in reads.loudspeakers(session)] == ["Oakfell Plum", "Oakfell Lime"]
        assert [one.whole for one in kin_names(session, Kindred.SERIES)] == ["Oakfell Plum", "Sorrel Loom Heddle"]


@pytest.mark.whole
def test_makers_become_one_with_their_series_and_families(engine: sa.Engine) -> None:
    with writing(engine) as session:
        shop = _sold_and_quoted(session)
        before = _kept(session, shop.centre)
        slip = [
            _speaker("Oat Fell", "Linden", "Oat Fell Linden", "Wide"),
            _speaker("Oat Fell", "Plum", "Oat Fell Plum", "Wide"),
            _speaker("Oat Fell", model="Bare"),
        ]
        writes.save_loudspeakers(session, slip)
        assert merge_kin(session, Kindred.MAKER, "oat fell", "oatfell") == 3
        assert [(one.whole, one.loudspeakers) for one in kin_names(session, Kindred.MAKER)] == [("Oatfell", 6)]
        assert [(one.whole, one.loudspeakers) for one in kin_names(session, Kindred.SERIES)] == [
            ("Oatfell Linden", 4),
            ("Oatfell Plum", 1),
        ]
        assert {one.name: one.family for one in reads.loudspeakers(session) if one.model in ("Wide", "Bare")} == {
            "Oatfell Bare": None,
            "Oatfell Linden Wide": "Oatfell Linden",
            "Oatfell Plum Wide": "Oatfell Plum",
        }
        assert merge_kin(session, Kindred.FAMILY, "Oatfell Linden", "Linden") == 1
        assert _kept(session, shop.centre) == before
        for table, count in ((Maker, 1), (Series, 2), (Family, 2)):
            assert session.scalar(sa.select(sa.func.count()).select_from(table)) == count


def test_series_become_one(engine: sa.Engine) -> None:
    with writing(engine) as session:
        mine = [
            _speaker("Oatfell", "Linden", "Oatfell Linden", "A"),
            _speaker("Oatfell", "Lindn", "Oatfell Lindn", "B"),
            _speaker("Sorrel Loom", "Lindn", None, "C"),
        ]
        writes.save_loudspeakers(session, mine)
        assert merge_kin(session, Kindred.SERIES, "Oatfell Lindn", "Oatfell Linden") == 1
        assert [(one.name, one.family) for one in reads.loudspeakers(session)] == [
            ("Oatfell Linden A", "Oatfell Linden"),
            ("Oatfell Linden B", "Oatfell Linden"),
            ("Sorrel Loom Lindn C", None),
        ]
        with pytest.raises(BadInput, match="of two makers"):
            merge_kin(session, Kindred.SERIES, "Sorrel Loom Lindn", "Oatfell Linden")
        with pytest.raises(BadInput, match="one series already"):
            merge_kin(session, Kindred.SERIES, "Oatfell Linden", "oatfell linden")


def test_no_two_loudspeakers_come_to_have_one_name(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [_speaker("Oatfell", "Linden"), _speaker("Oat Fell", "Linden")])
        before = reads.loudspeakers(session)
        for act in (
            lambda: merge_kin(session, Kindred.MAKER, "Oat Fell", "Oatfell"),
            lambda: rename_loudspeaker(session, "Oat Fell Linden X", {"maker": "Oatfell"}),
        ):
            with pytest.raises(BadInput, match=r"named as another is, 'Oatfell Linden X'"):
                act()
        with pytest.raises(BadInput, match="triptych maker merge 'Oat Fell' Oatfell makes one"):
            rename_kin(session, Kindred.MAKER, "Oat Fell", "Oatfell")
        with pytest.raises(BadInput, match=r"'Oatfel' is new, and 'Oatfell' is known.*maker merge 'Oat Fell' Oatfel"):
            rename_kin(session, Kindred.MAKER, "Oat Fell", "Oatfel")
        assert reads.loudspeakers(session) == before


def test_a_new_name_may_be_what_another_of_them_had(engine: sa.Engine) -> None:
    with writing(engine) as session:
        chain = [_speaker("A", model="B C"), _speaker("A", model="C")]
        writes.save_loudspeakers(session, chain)
        assert rename_kin(session, Kindred.MAKER, "A", "A B") == 2
        assert [one.name for one in reads.loudspeakers(session)] == ["A B B C", "A B C"]
        assert rename_kin(session, Kindred.MAKER, "A B", "A") == 2
        assert [one.name for one in reads.loudspeakers(session)] == ["A B C", "A C"]


def test_what_nothing_has_can_be_removed_and_what_something_has_not(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [CENTRE, LAST])
        for kin, name in ((Kindred.MAKER, "Oatfell"), (Kindred.SERIES, "oatfell linden"), (Kindred.FAMILY, "Linden")):
            with pytest.raises(BadInput, match="2 loudspeakers, 'Oatfell Linden Centre' first"):
                remove_kin(session, kin, name)
        add_kin_name(session, Kindred.SERIES, "Oatfell Lime")
        remove_kin(session, Kindred.SERIES, "OATFELL LIME")
        with pytest.raises(NotFound, match="no series is named 'Oatfell Lime'; the nearest: 'Oatfell Linden'"):
            remove_kin(session, Kindred.SERIES, "Oatfell Lime")


def test_names_are_listed_with_how_many_have_them(engine: sa.Engine) -> None:
    with writing(engine) as session:
        writes.save_loudspeakers(session, [CENTRE, TOWER, _speaker("Bramble", "Low")])
        add_kin_name(session, Kindred.MAKER, "Zero")
        assert [(one.whole, one.loudspeakers) for one in kin_names(session, Kindred.MAKER)] == [
            ("Bramble", 1),
            ("Oatfell", 2),
            ("Zero", 0),
        ]
    with reading(engine) as session:
        assert [one.whole for one in kin_names(session, Kindred.SERIES)] == ["Bramble Low", "Oatfell Linden"]
