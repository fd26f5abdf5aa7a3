"""One text at every door: file, sheet, room, option, budget and datasheet make the same number of it, or refuse it."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from decimal import Decimal
from pathlib import Path
from time import process_time

import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from tests.catalog.exchange_records import all_or_nothing
from tests.catalog.one_figure import read_one
from tests.recommender.budget.shopping import read_budget
from triptych.catalog import money, number_texts, numbers
from triptych.catalog.cli import stock_words
from triptych.catalog.datasheet import ReadStatus
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.files.loudspeakers import read_loudspeakers
from triptych.catalog.files.rooms import room_from_toml
from triptych.catalog.files.tables import csv_text
from triptych.catalog.files.workbooks import workbook as sheet
from triptych.catalog.inputs import read_toml
from triptych.catalog.numerals import Mark, decimal_mark
from triptych.catalog.stated_records import record_from_texts
from triptych.recommender.asking import amount as budget_option
from triptych.recommender.money.budget.errors import BadBudget
from triptych.recommender.money.budget.figures import amount as budget_amount
from triptych.recommender.money.budget.toml_records import factor

NAMED = {"maker": "Oatfell", "model": "Wren", "roles": "centre"}
LOCALES: dict[str, tuple[Mark, str]] = {
    "en": (".", ","),
    "de, es, it, nl": (",", "."),
    "fr, pl": (",", "\u202f"),
    "plain blanks": (",", " "),
    "ch": (".", "’"),
    "none": (".", ""),
}


def grouped(value: Decimal, mark: Mark, thousands: str) -> str:
    """A number as a locale writes it."""
    whole, _, decimals = f"{value:,f}".partition(".")
    return whole.replace(",", thousands) + (mark + decimals if decimals else "")


@given(
    st.sampled_from(sorted(LOCALES)),
    st.decimals(min_value=0, max_value=10**12, places=2) | st.decimals(min_value=0, max_value=10**6, places=3),
)
def test_what_a_locale_writes_reads_back_exactly(locale: str, value: Decimal) -> None:
    mark, thousands = LOCALES[locale]
    text = grouped(value, mark, thousands)
    assert numbers.number(text, mark) == value
    assert _or_refusal(text) == value or "could be" in str(_or_refusal(text))


def _or_refusal(text: str) -> Decimal | str:
    try:
        return numbers.number(text)
    except BadInput as refusal:
        return str(refusal)


@given(st.decimals(min_value=Decimal("-1e6"), max_value=Decimal("1e6")))
def test_what_a_file_holds_as_a_number_reads_one_way_only(value: Decimal) -> None:
    text = number_texts.typed(value)
    if len(text) > 64 or "E" in text:
        return
    assert numbers.number(text) == numbers.number(text, ",") == numbers.number(text, ".") == value


def _file(texts: dict[str, str], path: Path, *, workbook: bool) -> dict[str, object]:
    rows = [list(texts), list(texts.values())]
    content = sheet(rows, [False] * len(texts)) if workbook else csv_text(rows).encode()
    path.write_bytes(content)
    (record,) = all_or_nothing(read_loudspeakers(path))
    return {name: getattr(record, name) for name in texts}


def _typed(name: str, text: str) -> object:
    currency = {"currency": "EUR"} if name == "price" else {}
    record, faults = record_from_texts({**NAMED, **currency, name: text}, "an option")
    if record is None:
        raise BadInput(str(faults))
    return getattr(record, name)


def _on_a_sheet(name: str, text: str) -> object:
    """A cell of a datasheet; what is taken with a flag is no silent reading."""
    field = read_one(name, text)
    if field is None or field.value is None or field.status is not ReadStatus.READ or field.flags:
        raise BadInput("not read, or not in silence")
    return field.value


def _place(text: str) -> object:
    quoted = text.replace("\\", "\\\\").replace('"', '\\"')
    seat, place = '[[seat]]\nname = "s"\ndistance = "3 m"', '[[place]]\nname = "p"\nkind = "top"'
    room = room_from_toml(f'name = "r"\n{seat}\n{place}\nwidth = "{quoted}"\n', "room.toml")
    return room.places[0].width


def _readings(text: str, *doors: Callable[[str], object]) -> Iterator[object]:
    for door in doors:
        try:
            value = door(text)
        except (BadInput, BadBudget):
            continue
        if value is not None:
            yield value


MESSY = [
    "546 mm carton",
    "M8 x 300",
    "2 x 165",
    "stable to 400 mm",
    "36-38 in",
    "178¹",
    "1.290",
    "1,290",
    "0.178",
    "1e3",
]
WIDTHS = st.builds(
    "{}{}{}".format,
    st.builds(
        lambda value, locale: grouped(value, *LOCALES[locale]),
        st.decimals(min_value=1, max_value=9999, places=1) | st.decimals(min_value=1, max_value=9, places=3),
        st.sampled_from(sorted(LOCALES)),
    ),
    st.sampled_from(["", " ", "\u00a0"]),
    st.sampled_from(["", "mm", "cm", "m", "in", '"', "zoll", "kg", "x 200", "¹", "²", "e2"]),
)


@pytest.mark.slow
@settings(deadline=None)
@given(WIDTHS | st.sampled_from(MESSY))
@example("1 290")
@example("1\u00a0290,5")
@example("1'290 mm")
@example("546 mm (21.5 in)")
def test_a_width_is_the_same_at_every_door(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.getbasetemp() / "width"
    doors = (
        lambda cell: _file({**NAMED, "width": cell}, path, workbook=False)["width"],
        lambda cell: _file({**NAMED, "width": cell}, path, workbook=True)["width"],
        lambda option: _typed("width", option),
        lambda option: numbers.read(option, LOUDSPEAKER["width"]),
        lambda cell: _on_a_sheet("width", cell),
        _place,
    )
    assert len(set(_readings(text, *doors))) <= 1


PRICES = st.builds(
    "{}{}{}".format,
    st.sampled_from(["", "€", "€ ", "EUR ", "$", "CHF "]),
    st.builds(
        lambda value, locale: grouped(value, *LOCALES[locale]),
        st.decimals(min_value=1, max_value=99_999, places=2)
        | st.integers(1, 99_999).map(Decimal)
        | st.decimals(min_value=1, max_value=9, places=3),
        st.sampled_from(sorted(LOCALES)),
    ),
    st.sampled_from(["", " €", " EUR", ",-", " zł", " each", "*", "²"]),
)


@pytest.mark.slow
@settings(deadline=None)
@given(PRICES)
@example("1.200")
@example("1,299 €")
@example("1 299")
def test_a_price_is_the_same_at_every_door(tmp_path_factory: pytest.TempPathFactory, text: str) -> None:
    path = tmp_path_factory.getbasetemp() / "price"
    in_euro = {**NAMED, "currency": "EUR"}
    doors = (
        lambda cell: _file({**in_euro, "price": cell}, path, workbook=False)["price"],
        lambda cell: _file({**in_euro, "price": cell}, path, workbook=True)["price"],
        lambda option: _typed("price", option),
        lambda option: money.price(option).value,
        lambda option: Decimal(repr(budget_option(option)[0])),
        lambda value: budget_amount(value, "price")[0],
        lambda option: _units(option),
    )
    read = list(_readings(text, *doors))
    assert len(set(read)) <= 1
    # a sheet knows how many decimals its currency has, and may read what is refused elsewhere, never otherwise
    on_a_sheet = set(_readings(text, lambda cell: _on_a_sheet("price", cell)))
    assert not read or on_a_sheet <= set(read)


def _units(option: str) -> Decimal | None:
    amount, code = stock_words.money(option, "--cost")
    return None if amount is None else money.to_amount(amount, code)


@pytest.mark.parametrize("text", ["1e400", "1e999999", "9" * 5000, "0." + "0" * 3000 + "1"])
def test_what_is_no_number_is_refused_at_once_in_one_voice(text: str) -> None:
    said = set()
    for door in (
        lambda: numbers.number(text),
        lambda: numbers.read(text, LOUDSPEAKER["width"]),
        lambda: money.price(text),
        lambda: numbers.whole(text, 0, 9),
        lambda: numbers.percent(text),
    ):
        with pytest.raises(BadInput) as refusal:
            door()
        said.add(str(refusal.value))
    assert len(said) == 1


@pytest.mark.parametrize(
    ("texts", "mark"),
    [
        (["1.200", "899,00"], ","),
        (["1.200", "899.00"], "."),
        (["1.200", "1.234.567"], ","),
        (["1.200", "1'450.50"], "."),
        (["1.200", "1 450"], None),
        (["1.200", "899"], None),
        (["17,8 cm", "17.8 cm"], None),
        (["1,29,999"], "."),
        (["", "unknown", "see drawing 3"], None),
    ],
)
def test_a_column_s_own_cells_tell_its_mark(texts: list[str], mark: Mark | None) -> None:
    assert decimal_mark(texts) == mark


def _prices(tmp_path: Path, *prices: str, mark: Mark | None = None) -> list[Decimal | None]:
    path = tmp_path / "list.csv"
    rows = [[*NAMED, "price", "currency"]]
    rows += [["Oatfell", f"Wren {place}", "centre", price, "EUR"] for place, price in enumerate(prices)]
    path.write_text(csv_text(rows), encoding="utf-8")
    return [record.price for record in all_or_nothing(read_loudspeakers(path, mark=mark))]


def test_a_price_that_could_be_two_is_settled_by_its_column_or_told_or_refused(tmp_path: Path) -> None:
    assert _prices(tmp_path, "1.200", "899,00") == [1200, 899]
    assert _prices(tmp_path, "1.200", mark=",") == [1200]
    with pytest.raises(BadInput, match=r"'1\.200' could be 1\.2 or 1200"):
        _prices(tmp_path, "1.200", "899")


@pytest.mark.parametrize("number", ["1e400", "1e999999", "1e-999999", "9" * 100, "9" * 5000, "nan", "inf"])
def test_what_a_file_cannot_hold_as_a_number_is_refused_at_once(tmp_path: Path, number: str) -> None:
    began = process_time()
    with pytest.raises(BadInput):
        room_from_toml(f'name = "r"\n[[seat]]\nname = "s"\ndistance = {number}\n', "room.toml")
    priced = f'limit = 1\n[[line]]\nrole = "sub"\nprice = {number}'
    for line in (f"limit = {number}", f"limit = 1\ntax_rate = {number}", priced):
        path = tmp_path / "budget.toml"
        path.write_text(f'currency = "EUR"\n{line}\n')
        with pytest.raises((BadInput, BadBudget)):
            read_budget(read_toml(path))
    with pytest.raises(BadBudget):
        factor(Decimal(number) if len(number) < 5000 else 10**5000, "factor")
    assert process_time() - began < 1
