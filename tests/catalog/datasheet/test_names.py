"""Who makes a loudspeaker and what it is called: told by words, by their order with a question, or not at all."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from triptych.catalog.cli import datasheet, speaker
from triptych.catalog.datasheet import read_datasheet
from triptych.catalog.datasheet.titles import PLACED

BODY = "\nWidth: 480 mm\nHeight: 170 mm\nDepth: 290 mm\nWeight: 10.4 kg\nNominal impedance: 6 ohms\n"


def named(heading: str, **given: str) -> tuple[object, object, set[str]]:
    """Maker, model and which of them are to be asked."""
    fields = read_datasheet(heading + BODY, given).records[0].fields
    maker, model = (fields[name].value if name in fields else None for name in ("maker", "model"))
    return maker, model, {name for name in ("maker", "model") if name in fields and PLACED in fields[name].flags}


@pytest.mark.parametrize(
    ("heading", "maker", "model"),
    [
        ("Brindle C - centre channel\nOsier & Finch", "Osier & Finch", "Brindle C"),
        ("Osier & Finch\nBrindle C - centre channel", "Osier & Finch", "Brindle C"),
        ("BRINDLE C\nOSIER & FINCH", "OSIER & FINCH", "BRINDLE C"),
        ("Brindle C\nby Osier Works", "Osier Works", "Brindle C"),
        ("THE BRINDLE C\nBY OSIER WORKS", "OSIER WORKS", "BRINDLE C"),
        ("Brindle C\nTarn Hollow Audio Ltd", "Tarn Hollow Audio", "Brindle C"),
        ("Brindle 2\nAcústica Sotoverde\nwww.acusticasotoverde.es", "Acústica Sotoverde", "Brindle 2"),
        ("Sallow C2 - centre loudspeaker\nOrchard Dusk\nOrchard Dusk's second centre.", "Orchard Dusk", "Sallow C2"),
        ("Osier & Finch\nBrindle C\nOsier & Finch\nBrindle C", "Osier & Finch", "Brindle C"),
        ("Der Brindle C von Eichenau Audio", "Eichenau Audio", "Brindle C"),
        ("Sallow Hi-Fi\nShop | Brands | Visit\nOsier Works Brindle M2 Speaker\nSKU: 4", "Osier Works", "Brindle M2"),
        (
            "Sotoverde\nTienda / Altavoces / Osier Acústica / Brindle 6\nOSIER ACÚSTICA BRINDLE 6 (pareja)",
            "Osier Acústica",
            "BRINDLE 6",
        ),
        ("Shed-Forum\nThema: Osier Brindle 8 – taugt die was?", "Osier", "Brindle 8"),
        ("Osier Audio\nLoudspeakers | Stands | Journal | Find a dealer\nBrindle 3", "Osier Audio", "Brindle 3"),
        ("Brindle C\nOwner's manual\nOsier Wharf, makers since 1990", "Osier Wharf", "Brindle C"),
        ("salut, voilà les caracs de mes Osier Brindle (colonnes)", "Osier", "Brindle"),
        ("OSIER WHARF        page 3 of 4\nBrindle 5 - bookshelf speaker", "OSIER WHARF", "Brindle 5"),
        ("Osier Wharf Sallow LCR-60 Owner's Manual", "Osier Wharf", "Sallow LCR-60"),
        ("Pebble Creek Acoustics PC-4 Bookshelf Speakers", "Pebble Creek Acoustics", "PC-4"),
    ],
)
def test_words_and_marks_tell_which_is_which(heading: str, maker: str, model: str) -> None:
    assert named(heading)[:2] == (maker, model)


@pytest.mark.parametrize("heading", ["Sallow\nWren", "Wren\nSallow"])
def test_what_only_the_order_tells_is_asked(heading: str) -> None:
    [record] = read_datasheet(heading + BODY).records
    assert named(heading)[2] == {"maker", "model"}
    assert [question.split(":")[0] for question in record.questions[:2]] == ["maker", "model"]


@pytest.mark.parametrize(("maker", "model"), [("Sallow", "Wren"), ("wren", "Sallow")])
def test_who_makes_it_settles_which_is_the_model(maker: str, model: str) -> None:
    assert named("Sallow\nWren", maker=maker)[1:] == (model, set())


def test_a_line_that_names_it_is_not_told_as_not_read() -> None:
    assert read_datasheet("Sallow\nWren" + BODY).records[0].unread == ()


def test_what_a_label_says_is_never_asked() -> None:
    assert named("Maker: Sallow\nModel: Wren") == ("Sallow", "Wren", set())


def test_a_list_with_a_column_of_makers_gives_each_its_own() -> None:
    rows = ("Merk            Type         Prijs", "Duinrand Audio  Tapuit 1     € 499 /paar")
    text = "\n".join((*rows, "Zilverberk      Putter       € 750 /paar"))
    found = [(one.values["maker"], one.values["model"]) for one in read_datasheet(text).records]
    assert found == [("Duinrand Audio", "Tapuit 1"), ("Zilverberk", "Putter")]


@pytest.fixture
def sheet(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TRIPTYCH_DB", str(tmp_path / "some.db"))
    path = tmp_path / "wren.txt"
    path.write_text(f"Sallow\nWren{BODY}", encoding="utf-8")
    return path


def save(sheet: Path, *arguments: str, answers: str = "") -> Result:
    return CliRunner().invoke(
        datasheet.app, ["read", str(sheet), "--save", "--roles", "centre", *arguments], input=answers
    )


def stored() -> list[str]:
    told = json.loads(CliRunner().invoke(speaker.app, ["list", "--format", "json"]).stdout)
    return [one["maker"] + "/" + one["model"] for one in told["loudspeakers"]]


@pytest.mark.whole
def test_where_nobody_is_asked_a_placed_name_is_refused_with_how_to_say_it(sheet: Path) -> None:
    result = save(sheet, "--yes")
    assert result.exit_code != 0
    assert "say --maker 'Sallow' if it is" in result.stderr
    assert "say --model 'Wren' if it is" in result.stderr
    assert stored() == []
    assert save(sheet, "--yes", "--maker", "Wren").exit_code == 0
    assert stored() == ["Wren/Sallow"]


def test_before_storing_a_placed_name_is_asked(sheet: Path) -> None:
    result = save(sheet, answers="yes\nyes\ny\n")
    assert "maker: is it 'Sallow'?" in result.stderr
    assert stored() == ["Sallow/Wren"]


def test_an_answer_puts_right_what_stands_the_other_way_round(sheet: Path) -> None:
    assert save(sheet, answers="Wren\ny\n").exit_code == 0
    assert stored() == ["Wren/Sallow"]


def test_what_is_left_open_is_not_stored(sheet: Path) -> None:
    result = save(sheet, answers="\n\ny\n")
    assert result.exit_code != 0
    assert stored() == []


@pytest.mark.whole
def test_a_loudspeaker_known_under_that_name_needs_no_asking(sheet: Path) -> None:
    save(sheet, "--yes", "--maker", "Sallow")
    assert save(sheet, "--yes").exit_code == 0


def test_adding_from_a_sheet_refuses_a_placed_name_too(sheet: Path) -> None:
    result = CliRunner().invoke(speaker.app, ["add", "--from", str(sheet), "--roles", "centre"])
    assert "say --maker 'Sallow' if it is" in result.stderr


def test_a_heading_of_names_that_were_taken_is_not_told_as_not_read() -> None:
    text = "Price list\n\nCentres\nOatfell Linden Centre;480 EUR\nTowers\nOatfell Linden Tower;1200 EUR\n"
    both = read_datasheet(text).records
    assert [record.values["model"] for record in both] == ["Oatfell Linden Centre", "Oatfell Linden Tower"]
    assert [record.unread for record in both] == [(), ()]
    other = read_datasheet("Oatfell Linden Centre\nWidth: 500 mm\nFinish as the Oatfell Linden Tower\n").records[0]
    assert other.unread == ("Finish as the Oatfell Linden Tower",), "that one gave no name"
    headed = read_datasheet("Oatfell\nLinden Series\n\nLinden Centre\nWidth 500 mm\n").records[0]
    assert "Linden Series" not in headed.unread


TWO = "Reed 1            Reed C\nWeight   4.8kg    7.9kg\nSensitivity   85dB   88dB\nImpedance   8 ohms   6 ohms\n"


@pytest.mark.parametrize(
    ("title", "maker"),
    [
        ("QUERN LOUDSPEAKERS LTD\nReed Series - technical comparison", "QUERN"),
        ("Hikari\u3000RD\u3000series\u3000Comparison of main specifications", "Hikari"),
        ("Re: which centre speaker, budget 2000", None),
        ("Die Serie Reed", None),
        ("SOSNOWIK Zakład Głośnikowy – Reed – karta katalogowa", "SOSNOWIK"),
    ],
)
def test_who_makes_several_is_told_by_their_title_and_by_no_word_of_a_thread(title: str, maker: str | None) -> None:
    records = read_datasheet(f"{title}\n\n          {TWO}").records
    assert {record.values.get("maker") for record in records} == {maker}


def test_what_of_a_set_a_heading_names_is_no_part_of_the_model() -> None:
    body = "Impedance: 6 ohm    Sensitivity: 89dB\nSize: W 250 x D 320 x H 960 mm    Weight: 18.6KG/pc\n"
    front, centre = read_datasheet(
        f"Red Kelp 5.0 Set, 2 boxes\n\n[Front] RK-F8\n{body}\n[Center] RK-C5\n{body}"
    ).records
    assert [record.values["model"] for record in (front, centre)] == ["RK-F8", "RK-C5"]
    assert {record.values["maker"] for record in (front, centre)} == {"Red Kelp"}
    assert {role.value for role in centre.values["roles"]} == {"centre"}
