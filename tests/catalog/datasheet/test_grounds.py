"""What a statement cannot carry alone is told to be doubtful, and nothing else of it changes.

The sheets are invented. What each rule takes for doubtful was tried on what the reader had silently wrong in sheets
that nobody had opened; no source outside.
"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.catalog.datasheet.corpus_check import sheets
from triptych.catalog.datasheet import ReadStatus, SheetRecord, read_datasheet
from triptych.catalog.datasheet.grounds import weighed
from triptych.catalog.datasheet.parts import SheetPart
from triptych.catalog.datasheet.result import GIVEN, ReadField
from triptych.catalog.datasheet.said_of import said_of
from triptych.catalog.datasheet.text_cells import Cell, Line
from triptych.catalog.records import Enclosure, PricePer, Tax, TweeterType


def _record(**fields: tuple[object, str]) -> SheetRecord:
    return SheetRecord({name: ReadField(value, ReadStatus.READ, (), raw) for name, (value, raw) in fields.items()})


def _doubts(records: list[SheetRecord], text: str = "") -> list[set[str]]:
    """Which columns of each loudspeaker are flagged or refused."""
    made = weighed(records, [], text)
    return [{name for name, one in record.fields.items() if one.flags} for record in made]


_PLAIN = {"model": ("Wren 2", "Wren 2"), "sensitivity": (87.0, "87 dB"), "weight": (8.0, "8 kg")}
_OTHER = {"model": ("Wren 4", "Wren 4"), "sensitivity": (89.0, "89 dB"), "weight": (19.0, "19 kg")}


def test_what_is_plainly_told_of_two_is_not_doubted() -> None:
    assert _doubts([_record(**_PLAIN), _record(**_OTHER)]) == [set(), set()]


@pytest.mark.parametrize("name", ["Barcode Impedance Sensitivity Woofer", "Code Empfindlichkeit Impedanz"])
def test_everything_under_a_tables_head_is_refused(name: str) -> None:
    first, second = weighed([_record(**_OTHER), _record(**(_PLAIN | {"model": (name, name)}))], [], "")
    assert all(not one.flags for one in first.fields.values())
    assert {second.fields[column].status for column in ("sensitivity", "weight")} == {ReadStatus.REFUSED}
    assert second.fields["sensitivity"].flags[0].endswith("is a table's head and no name")
    assert [one.partition(":")[0] for one in second.questions] == ["model"]


def test_a_sentence_is_hardly_a_name_unless_a_person_says_so() -> None:
    odd = _record(**(_PLAIN | {"model": ("The 10 is the same", "The 10 is the same")}))
    assert _doubts([odd, _record(**_OTHER)])[0] == {"sensitivity", "weight"}
    said = replace(odd, fields={**odd.fields, "model": replace(odd.fields["model"], flags=(GIVEN,))})
    assert _doubts([said, _record(**_OTHER)])[0] == {"model"}


def test_a_name_from_two_lines_is_doubted() -> None:
    records = [_record(**(_PLAIN | {"model": ("WREN A", "WREN A")})), _record(**_OTHER)]
    assert _doubts(records, "WREN\nA sealed box. 87 dB. 8 kg")[0] == {"sensitivity", "weight"}
    assert _doubts(records, "Wren  A\nsealed box. 87 dB. 8 kg")[0] == set()


def test_two_of_one_name_may_be_one() -> None:
    apart = _record(model=("Lark Wren 2", ""), impedance_nominal=(8.0, "8 ohm"))
    assert _doubts([_record(**_PLAIN), apart]) == [{"sensitivity", "weight"}, {"impedance_nominal"}]
    figures = {"width": (0.2, "w"), "height": (0.3, "h"), "depth": (0.25, "d")}
    twice = [_record(**(_PLAIN | figures)), _record(**(_PLAIN | figures))]
    assert all(len(one) == 5 for one in _doubts(twice))
    other = _record(**(_PLAIN | figures | {"weight": (9.0, "9 kg")}))
    assert _doubts([twice[0], other]) == [set(), set()]


def test_a_stand_of_a_list_is_no_loudspeaker() -> None:
    stand = _record(model=("Perch", ""), height=(0.6, "60 cm"), price=(79, "79"))
    priced = [_record(**(one | {"price": (price, str(price))})) for one, price in ((_PLAIN, 500), (_OTHER, 900))]
    assert _doubts([*priced, stand]) == [set(), set(), {"height", "price"}]
    sub = _record(model=("Perch", ""), height=(0.4, "40 cm"), price=(450, "450"))
    assert _doubts([priced[0], sub])[1] == set(), "of two, one may have little told of it"


@pytest.mark.parametrize(
    ("column", "value", "raw", "doubted"),
    [
        ("tax", Tax.INCLUDED, "Not including sales tax", True),
        ("tax", Tax.EXCLUDED, "Not including sales tax", False),
        ("tax", Tax.INCLUDED, "incl. 19 % MwSt., ohne Versand", False),
        ("price_per", PricePer.PAIR, "Stückpreis 1.595 € (nicht Paar)", True),
        ("price_per", PricePer.EACH, "£340 each, no more when these are gone", False),
        ("midrange_count", 1, "MIDRANGE: n/a", True),
        ("tweeter_type", TweeterType.RIBBON, "Hochtöner außer dem Bändchen sind Kalotten", True),
        ("woofer_count", 1, "on ajoute un second haut-parleur de grave", True),
        ("woofer_count", 2, "two 16 cm woofers", False),
        ("enclosure", Enclosure.PORTED, "Wren bass reflex, Wren C sealed", True),
        ("enclosure", Enclosure.PORTED, "Sensitivity (Wren bass reflex): 87 dB", True),
        ("enclosure", Enclosure.PORTED, "Design: bass reflex", False),
        ("enclosure", Enclosure.PORTED, "Charge : bass-reflex, cavité médium close", False),
        ("sold_as", "pair", "RRP pair: –", True),
        ("weight", 13.6, "Weight: 13.6 kg (two units)", False),
        ("weight", 13.6, "Masa: 13,6 kg / 2 sztuki, 2 unites", True),
        ("price", 46, "FOB Northport USD 46", True),
        ("price", 149, "MSRP (the stands 149.00 a pair): 798.00", True),
        ("price", 149, "Price: 149.00. Warranty: 10 years", False),
    ],
)
def test_the_words_of_a_statement_may_say_otherwise(column: str, value: object, raw: str, doubted: bool) -> None:
    assert (column in _doubts([_record(**{column: (value, raw)})])[0]) is doubted


def test_a_statement_that_names_several_others_is_doubted() -> None:
    names = {name: _record(**(_PLAIN | {"model": (name, name)})) for name in ("A1", "A2", "A5")}
    raw = "Amplifier: A1 20 to 80 W, A2 20 to 100 W, A5 30 to 160 W"
    listed = replace(
        names["A5"], fields={**names["A5"].fields, "amplifier_max": ReadField(80.0, ReadStatus.READ, (), raw)}
    )
    assert _doubts([names["A1"], names["A2"], listed])[2] == {"amplifier_max"}


def test_three_ways_have_two_hand_overs_and_a_waveguide_no_plain_dome() -> None:
    told = {"crossover": ((2500.0,), "Crossover: 2.5 kHz"), "tweeter_type": (TweeterType.DOME, "25 mm dome")}
    assert _doubts([_record(**told)], "Three-way. 25 mm dome in our waveguide")[0] == {"crossover", "tweeter_type"}
    assert _doubts([_record(**told)], "Two-way. 25 mm dome")[0] == set()
    assert _doubts([_record(**told)], "Ways\n3")[0] == {"crossover"}


def test_what_is_far_from_all_others_is_doubted() -> None:
    box = {"width": (0.2, "w"), "height": (0.35, "h"), "depth": (0.25, "d")}
    names = [
        {**_PLAIN, **box, "model": (name, name), "weight": (kg, f"{kg} kg")} for name, kg in (("A1", 8.0), ("A2", 9.0))
    ]
    light = {**_PLAIN, **box, "model": ("A3", "A3"), "weight": (2.0, "2 kg"), "sensitivity": (98.0, "98 dB")}
    doubted = _doubts([_record(**one) for one in (*names, light)])
    assert doubted == [set(), set(), {"width", "height", "depth", "weight", "sensitivity"}]
    assert _doubts([_record(**names[0]), _record(**light)])[1] == set(), "of two, nobody knows which is odd"


@pytest.mark.parametrize(
    ("line", "column", "doubted"),
    [
        # common practice, no source: domes take over at 1 to 4 kHz, horns down to some 500 Hz
        ("Tweeter: 25 mm dome; Crossover: 250 Hz", "crossover", True),
        ("Tweeter: 25 mm dome; Crossover: 2500 Hz", "crossover", False),
        ("Tweeter: 44 mm horn; Crossover: 700 Hz", "crossover", False),
        # geometry: three of 180 mm are longer than 500 mm
        ("W x H x D: 200 x 500 x 260 mm; Woofer: 3 x 180 mm", "woofer_count", True),
        ("W x H x D: 200 x 700 x 260 mm; Woofer: 3 x 180 mm", "woofer_count", False),
        # common practice, no source
        ("Power handling: 1 W; Recommended amplifier: 20-100 W", "power_handling", True),
        ("Power handling: 80 W; Recommended amplifier: 20-100 W", "power_handling", False),
    ],
)
def test_figures_that_hardly_go_together_are_suspect(line: str, column: str, doubted: bool) -> None:
    field = read_datasheet("Maker: Oatfell\nModel: Wren\n" + line.replace("; ", "\n")).records[0].fields[column]
    assert any(flag.startswith("suspect") or "disagree" in flag for flag in field.flags) is doubted


def test_a_sentence_that_goes_on_names_nobody() -> None:
    parts = [SheetPart(Cell(name, 0, 0)) for name in ("Wren 2", "Wren 4")]
    said = "The Wren 2 has 87 dB. It weighs 6.1 kg. The Wren 4 weighs 19 kg."
    found = [(piece.body.text, piece.followed) for _, piece in said_of(parts, Line(said, 0, (), ruled=False))]
    assert [followed for text, followed in found if "kg" in text] == [True, False]


@pytest.mark.examples
@pytest.mark.parametrize("folder", ["several", "solo"])
def test_weighing_twice_is_weighing_once_and_no_value_becomes_another(folder: str) -> None:
    for sheet in sheets(folder):
        read = read_datasheet(sheet.text)
        again = weighed(read.records, [], read.text)
        for before, after in zip(read.records, again, strict=True):
            for name, one in before.fields.items():
                assert after.fields[name].value in (one.value, None)
                assert set(one.flags) <= set(after.fields[name].flags) or after.fields[name].value is None
