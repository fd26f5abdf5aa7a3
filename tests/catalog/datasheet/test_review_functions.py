"""The functions by which a sheet is looked through, asked about, corrected and stored, whoever asks."""

from __future__ import annotations

from pathlib import Path

import pytest

from triptych.catalog.database.engine import open_catalogue, reading
from triptych.catalog.database.reads import loudspeaker
from triptych.catalog.datasheet import Fate
from triptych.catalog.datasheet.review import (
    OpenQuestion,
    SheetReview,
    answered,
    changes,
    corrected,
    open_questions,
    open_review,
    review_lines,
    review_rows,
)
from triptych.catalog.datasheet.texts import sheet_text
from triptych.catalog.errors import BadInput
from triptych.catalog.files.sheet_storing import plan_sheet, store_sheet

TEXT = "Maker: Oatfell\nModel: Wren Tower\nRoles: main\nImpedance: 4-8 ohms\nSensitivity: 88 dB (1 W/1 m)\nSince 1998"


def impedance(review: SheetReview) -> OpenQuestion:
    return next(one for one in open_questions(review) if one.column == "impedance_nominal")


def test_lines_hold_every_number_where_it_stands() -> None:
    review = open_review(TEXT, "wren.txt")
    for line in review_lines(review):
        for one in line.numbers:
            assert line.text[one.start - line.start : one.end - line.start] == one.text
    assert sum(len(line.numbers) for line in review_lines(review)) == len(review.sheet.numbers)


def test_an_answer_gives_another_review_and_says_what_it_changed() -> None:
    before = open_review(TEXT, "wren.txt")
    after = answered(before, impedance(before), "4 ohm")
    told = {one.column: (one.before.split(" (")[0], one.after) for one in changes(before, after)}
    assert told["impedance_nominal"] == ("refused", "4 ohm")
    assert told["sensitivity"] == ("refused", "91.01 dB")
    assert before.said == ({},)


def test_a_review_made_anew_of_text_and_what_was_said_is_the_same() -> None:
    before = open_review(TEXT, "wren.txt")
    after = answered(before, impedance(before), "impedance_nominal=4 ohm, weight=14.2 kg")
    assert open_review(TEXT, "wren.txt", after.said) == after
    assert [(row.column, row.value) for row in review_rows(after, 0) if row.column == "weight"] == [
        ("weight", "14.2 kg")
    ]


@pytest.mark.parametrize(
    ("answer", "why"), [("about four", "'about four' is no quantity"), ("weight=x", "weight: 'x'")]
)
def test_an_answer_that_cannot_be_read_is_told(answer: str, why: str) -> None:
    review = open_review(TEXT, "wren.txt")
    with pytest.raises(BadInput, match=why):
        answered(review, impedance(review), answer)


def test_a_correction_of_no_column_is_refused() -> None:
    with pytest.raises(BadInput, match="'wieght' is no column"):
        corrected(open_review(TEXT, "wren.txt"), 0, {"wieght": "14 kg"})


def test_a_plan_is_stored_with_what_is_whose(tmp_path: Path) -> None:
    engine = open_catalogue(f"sqlite:///{tmp_path}/some.db", quiet=True)
    review = corrected(open_review(TEXT, "a/wren.txt"), 0, {"impedance_nominal": "4 ohm"})
    plan = plan_sheet(engine, review)
    assert (plan.names, plan.kept, plan.cleared, plan.doubts) == ("Oatfell Wren Tower", (), (), ())
    assert store_sheet(engine, plan).added == 1
    with reading(engine) as session:
        found = loudspeaker(session, "Oatfell Wren Tower")
    assert (found.figures["impedance_nominal"].source, found.figures["sensitivity"].source) == (
        "given by hand",
        "wren.txt",
    )


def test_what_a_known_figure_loses_is_told_and_refused(tmp_path: Path) -> None:
    engine = open_catalogue(f"sqlite:///{tmp_path}/some.db", quiet=True)
    review = corrected(open_review(TEXT, "wren.txt"), 0, {"weight": "14 kg"})
    store_sheet(engine, plan_sheet(engine, review))
    plan = plan_sheet(engine, corrected(review, 0, {"weight": ""}))
    assert plan.cleared == ("--set weight= clears '14 kg' of 'Oatfell Wren Tower'",)
    with pytest.raises(BadInput, match="nothing stored"):
        store_sheet(engine, plan)
    assert store_sheet(engine, plan, clear=True).changed == 1


def test_bytes_are_text_or_refused() -> None:
    assert sheet_text("Größe".encode("utf-16"), "x") == "Größe"
    assert sheet_text("Größe".encode("cp1252"), "x") == "Größe"
    with pytest.raises(BadInput, match="no text file"):
        sheet_text(b"\x00\x01", "x")


def test_what_a_person_says_is_unknown_is_shown_as_it_will_be_stored() -> None:
    review = open_review("Oatfell Wren 3\nWidth: 200 mm\nWeight: 8.4 kg\n", "wren.txt")
    after = corrected(review, 0, {"weight": ""})
    assert [(one.column, one.after) for one in changes(review, after)] == [("weight", "not there")]
    assert "weight" not in {row.column for row in review_rows(after, 0)}
    assert "8.4" in [one.text for one in after.sheet.numbers if one.fate is Fate.NOT_READ]


def test_a_series_in_the_models_name_is_stored_and_said_again_makes_no_second_one(tmp_path: Path) -> None:
    engine = open_catalogue(f"sqlite:///{tmp_path}/some.db", quiet=True)
    text = "Heron C2\nWidth: 546 mm\nHeight: 178 mm\n\nHeron C4\nWidth: 612 mm\nHeight: 190 mm\n"
    by_hand = {"maker": "Plover", "roles": "centre"}
    review = open_review(text, "herons.txt", by_hand, models=["Heron C2", "Heron C4"])
    assert [record.values["series"] for record in review.sheet.records] == ["Heron", "Heron"]
    assert store_sheet(engine, plan_sheet(engine, review)).added == 2
    again = open_review(text, "herons.txt", by_hand | {"series": "Heron"}, models=["Heron C2", "Heron C4"])
    for one in (again, review):
        saved = store_sheet(engine, plan_sheet(engine, one))
        assert (saved.added, saved.unchanged) == (0, 2)
    with reading(engine) as session:
        found = loudspeaker(session, "Plover Heron C2")
    assert (found.series, found.model, found.family) == ("Heron", "C2", "Plover Heron")


def test_a_sheet_keeps_how_a_known_name_is_divided(tmp_path: Path) -> None:
    engine = open_catalogue(f"sqlite:///{tmp_path}/some.db", quiet=True)
    text = "Maker: Plover\nModel: Heron C2\nRoles: centre\nWidth: 546 mm\n"
    assert store_sheet(engine, plan_sheet(engine, open_review(text, "heron.txt"))).added == 1
    told = open_review("Series: Heron\n" + text.replace("546", "547"), "heron.txt")
    assert store_sheet(engine, plan_sheet(engine, told)).changed == 1
    with pytest.raises(BadInput, match="divide the name as it is there"):
        plan_sheet(engine, corrected(told, 0, {"series": "Heron"}))


SIDES = "Maker: Oatfell\nModel: Wren Tower\nDimensions: 178 x 300 x 240 mm\nWeight: 6.1 kg\nGrille: 240 mm"


@pytest.mark.parametrize(
    ("answer", "sides"),
    [
        ("whd", ("178 mm", "300 mm", "240 mm")),
        ("H x B x T", ("300 mm", "178 mm", "240 mm")),
        ("depth, width, height", ("300 mm", "240 mm", "178 mm")),
    ],
)
def test_the_order_of_sides_is_an_answer(answer: str, sides: tuple[str, str, str]) -> None:
    review = open_review(SIDES, "wren.txt")
    asked = next(one for one in open_questions(review) if one.text.startswith("width, height, depth"))
    assert asked.text.endswith("such as whd")
    after = answered(review, asked, answer)
    shown = {row.column: row.value for row in review_rows(after, 0)}
    assert (shown["width"], shown["height"], shown["depth"]) == sides
    assert not any(one.text.startswith("width, height, depth") for one in open_questions(after))


@pytest.mark.parametrize("answer", ["yes", "wh", "wwd", "178"])
def test_what_is_no_order_of_three_sides_is_told(answer: str) -> None:
    review = open_review(SIDES, "wren.txt")
    asked = next(one for one in open_questions(review) if one.text.startswith("width, height, depth"))
    with pytest.raises(BadInput, match="such as whd"):
        answered(review, asked, answer)


def test_what_a_person_says_has_no_number_of_the_text_as_its_source() -> None:
    after = corrected(
        open_review("Maker: Oatfell\nModel: Wren\nBox of 240 mm\n8 ohm", "wren.txt"), 0, {"depth": "240 mm"}
    )
    said = [one for one in after.sheet.numbers if one.text == "240"]
    assert [one.fate for one in said] == [Fate.NOT_READ]
