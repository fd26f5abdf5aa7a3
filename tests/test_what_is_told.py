"""What a refusal tells to write is taken when it is written: every field that is read, and doors of every kind."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator, Mapping
from dataclasses import is_dataclass
from html import unescape
from pathlib import Path
from typing import Final

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.doors import knock
from tests.recommender.page.served import serving
from tests.test_money_doors import BUDGET, DOORS, FIGURES, TOWER, asked, figured
from triptych.catalog import equipment_record, money, numbers, records
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import Field, fields_of
from triptych.recommender.api import open_catalogue

_QUOTED: Final = r"'[^']*'|\"[^\"]*\""
_TOLD: Final = re.compile(rf"(?:write|such as|one such as) ((?:{_QUOTED})(?:(?:, | or |, or )(?:{_QUOTED}))*)")

TEXTS: Final = (
    "1.299", "19.999", "1,299", "0.5", "0.250", "5", "1/2", "12 abc", "1 2", "12.345.67", "2.500", "1.000", "999.999",
    "1.500 mm", "1,250 kg", "12.000 kHz", "1.200 ohm", "1.299 EUR", "1.299 KWD", "19.999 JPY", "$12", "abc", "-3", "0",
    "1.299 x 60", "90 x 2.500", "90 × 19.999", "abc x 60", "1 2 x 40", "0 x 1.000", "90 by 60 by 30", "1/2 x 90",
)  # fmt: skip
DIGITS: Final = st.from_regex(r"-?[0-9]{1,4}([.,][0-9]{1,4}){0,2}", fullmatch=True)
UNITS: Final = st.sampled_from(["", "", " mm", " m", " in", " kg", " Hz", " ohm", " W", " dB", " %", " EUR", " JPY"])


def told(message: str) -> list[str]:
    """The texts that a message tells to write."""
    return [part[1:-1] for found in _TOLD.finditer(message) for part in re.findall(_QUOTED, found[1])]


def every_field() -> Iterator[tuple[str, Field]]:
    for module in (records, equipment_record):
        for name, kind in vars(module).items():
            if isinstance(kind, type) and is_dataclass(kind):
                yield from ((f"{name}.{one.name}", one) for one in fields_of(kind).values())


FIELDS: Final = dict(every_field())
READERS: Final[Mapping[str, Callable[[str], object]]] = {
    **{name: field.read for name, field in FIELDS.items()},
    "a price": money.price,
    "an amount": money.read_amount,
    "a number": numbers.number,
    "a weight": lambda text: numbers.number(text, least=0, most=1000),
    "a count": lambda text: numbers.whole(text, 0, 2000),
}


def refused(read: Callable[[str], object], text: str) -> str:
    try:
        read(text)
    except BadInput as problem:
        return str(problem)
    return ""


@pytest.mark.parametrize("name", READERS)
def test_a_field_takes_what_its_refusal_tells_to_write(name: str) -> None:
    for text in TEXTS:
        for right in told(refused(READERS[name], text)):
            assert refused(READERS[name], right) == "", (text, right)


SIDES: Final = st.sampled_from(["", "", "", "{} x 60", "90 x {}", "{0} × {0}"])


@pytest.mark.examples
@given(name=st.sampled_from(sorted(READERS)), digits=DIGITS, unit=UNITS, sides=SIDES)
def test_any_field_takes_what_any_refusal_tells_to_write(name: str, digits: str, unit: str, sides: str) -> None:
    text = sides.format(digits + unit) or digits + unit
    for right in told(refused(READERS[name], text)):
        assert refused(READERS[name], right) == "", text


LINE: Final = BUDGET.replace("{0}", "9000").replace("{1}", "EUR") + '%s = "{0}"\n'
JSON: Final = '[{"maker": "Q", "model": "M", "roles": "sub", "price": "{0}", "currency": "EUR"}]'
TOML: Final = '[[speaker]]\nmaker = "Q"\nmodel = "M"\nroles = "sub"\nprice = "{0}"\ncurrency = "EUR"\n'
MORE: Final[Mapping[str, tuple[tuple[str, ...], str]]] = {
    **{name: (words, text) for name, (words, text, _) in FIGURES.items() if name not in ("share", "ratio", "weight")},
    "quantity of a line": (("budget", "check", "{file}"), LINE % "quantity"),
    "pieces of a line": (("budget", "check", "{file}"), LINE % "pieces"),
    "how many are shown": (("match", "--room", "Mill House", "--top", "{0}"), ""),
    "cost": (("stock", "receive", TOWER, "-l", "shop", "--cost", "{0}", "--per", "each"), ""),
    "price of a grade": (("stock", "price", TOWER, "{0}", "--grade", "b_stock"), ""),
    "cap": (("room", "edit", "Mill House", "--set", "money.centre={0}"), ""),
    "gain": (("room", "edit", "Mill House", "--set", "listening.room_gain={0}"), ""),
    "price in JSON": (("speaker", "import", "{file}"), JSON),
    "price in TOML": (("speaker", "import", "{file}"), TOML),
}
"""Doors by how they are called; {0} is the figure. A share, a ratio and a sum are one key, of which only they know."""

FEW: Final = ("1.299", "19.999", "abc", "1 2", "12.345.67")


def said_at(folder: Path, template: Path, name: str, figure: str) -> tuple[int, str]:
    words, text = MORE[name]
    shutil.copy(template, folder / "catalogue.db")
    file = folder / ("asked.json" if text == JSON else "asked.toml")
    file.write_text(text.replace("{0}", figure), encoding="utf-8")
    (folder / "budget.toml").write_text(BUDGET.format(9, "EUR"), encoding="utf-8")
    asked_file = "" if "{file}" in words or not text else str(file)
    called = [word.replace("{0}", figure).replace("{file}", str(file)) for word in words]
    called = [word.replace("{budget}", str(folder / "budget.toml")) for word in called]
    result = knock((*called, *([asked_file] if asked_file else []), "--db", str(folder / "catalogue.db")))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, " ".join(result.output.split())


@pytest.mark.whole
@pytest.mark.parametrize("name", MORE)
def test_a_door_takes_what_its_refusal_tells_to_write(tmp_path: Path, seeded_template: Path, name: str) -> None:
    for text in FEW:
        for right in told(said_at(tmp_path, seeded_template, name, text)[1]):
            code, said = said_at(tmp_path, seeded_template, name, right)
            assert code == 0, (text, right, said)


@pytest.mark.whole
@pytest.mark.parametrize("door", DOORS)
def test_a_door_of_money_takes_what_its_refusal_tells_to_write(
    tmp_path: Path, seeded_template: Path, door: str
) -> None:
    # a surround is in the currency of the mains
    for currency in ("EUR", "JPY", "KWD") if door != "surround" else ("EUR",):
        # an example is in euros
        for text in FEW if currency == "EUR" else FEW[:2]:
            for right in told(asked(tmp_path, seeded_template, door, text, currency)[1]):
                code, said = asked(tmp_path, seeded_template, door, right.removesuffix(f" {currency}"), currency)
                assert code == 0, (text, right, said)


FACTORS: Final = {"share": "sub_cap", "ratio": "centre_at_least_one_main", "share of the limit": "contingency"}
RULE_FILES: Final = ("share", "ratio", "sum of a rule")
FACTOR_TEXTS: Final = (*FEW, "30 %", "1.500 %", "130 %", "1.500 ×", "1/3", "half", "-5", "2.5 EUR")


@pytest.mark.whole
def test_a_rules_factor_takes_what_its_refusal_tells_to_write(tmp_path: Path, seeded_template: Path) -> None:
    database = ("--db", str(shutil.copy(seeded_template, tmp_path / "catalogue.db")))
    knock(("budget", "rules", "copy", "film-first", "mine", *database))

    def edited(rule: str, factor: str) -> tuple[int, str]:
        done = knock(("budget", "rules", "edit", "mine", "--rule", rule, "--factor", factor, *database))
        return done.exit_code, " ".join(done.output.split())

    for rule in FACTORS.values():
        for text in FACTOR_TEXTS:
            for right in told(edited(rule, text)[1]):
                code, said = edited(rule, right)
                assert code == 0 or "no budget can keep" in said, (rule, text, right, said)
    for door in RULE_FILES:
        for text in FACTOR_TEXTS:
            for right in told(figured(tmp_path, seeded_template, door, text)[1]):
                code, said = figured(tmp_path, seeded_template, door, right)
                assert code == 0, (door, text, right, said)


CELLS: Final = ("price", "weight", "width", "sensitivity", "crossover", "tweeter_coverage", "tax_rate", "woofer_count")
CELL_TEXTS: Final = (*FEW, "1.299 x 60", "90 x 19.999", "1.500 mm", "2,500 kg", "$12", 1.2345, -3, True)


@pytest.mark.whole
@pytest.mark.parametrize("column", CELLS)
def test_a_cell_of_a_workbook_takes_what_its_refusal_tells_to_write(
    tmp_path: Path, seeded_template: Path, column: str
) -> None:
    from openpyxl import Workbook

    database = ("--db", str(shutil.copy(seeded_template, tmp_path / "catalogue.db")))

    def imported(cell: object) -> tuple[int, str]:
        book = Workbook()
        assert book.active is not None
        row = {"maker": "Q", "model": "M", "roles": "sub", "price": 900, "currency": "EUR"} | {column: cell}
        book.active.append(list(row))
        book.active.append(list(row.values()))
        book.save(tmp_path / "asked.xlsx")
        done = knock(("speaker", "import", str(tmp_path / "asked.xlsx"), "--dry-run", *database))
        assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
        return done.exit_code, " ".join(done.output.split())

    for cell in CELL_TEXTS:
        for right in told(imported(cell)[1]):
            code, said = imported(right)
            assert code == 0, (cell, right, said)


FORM: Final = {
    "limit": "6000", "currency": "EUR", "tax_included": "yes", "tax_rate": "20", "rules": "film-first",
    "line.1.role": "mains", "line.1.price": "900", "line.1.per": "lot", "line.1.quantity": "2", "line.1.pieces": "2",
    "line.1.run": "4 m",
}  # fmt: skip
FIELDS_OF_FORM: Final = ("limit", "tax_rate", "line.1.price", "line.1.quantity", "line.1.pieces", "line.1.run")


@pytest.mark.whole
def test_a_field_of_a_form_takes_what_its_refusal_tells_to_write(tmp_path: Path, seeded_template: Path) -> None:
    with open_catalogue(str(shutil.copy(seeded_template, tmp_path / "c.db"))) as opened, serving(opened) as house:
        for name in FIELDS_OF_FORM:
            for text in (*FEW, "1.500 mm", "-3", "130 %"):
                page = house.visitor.get("/money", {**FORM, name: text})
                for right in told(unescape(page.text)) if page.status == 422 else ():
                    again = house.visitor.get("/money", {**FORM, name: right})
                    assert again.status == 200, (name, text, right)
