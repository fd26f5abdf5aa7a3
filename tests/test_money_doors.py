"""One bound and one voice for money at every door that takes it, by the program as people call it."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import Final

import pytest

from tests.doors import knock

pytestmark = pytest.mark.whole

TOWER: Final = "Bramble Thatch Trivet Tower"
ROOM: Final = (
    'name = "r"\n[[seat]]\nname = "a"\ndistance = "3 m"\nprimary = true\n[money]\ncentre = "{}"\ncurrency = "{}"\n'
)
BUDGET: Final = 'currency = "{1}"\nlimit = "{0}"\ntax_included = true\n[[line]]\nrole = "mains"\nprice = 1\n'
LINE: Final = 'currency = "{1}"\nlimit = 10\ntax_included = true\n[[line]]\nrole = "mains"\nprice = "{0}"\n'
FILES: Final = {
    "speakers.csv": "maker,model,roles,price,currency\nQ,M,sub,{},{}\n",
    "pieces.csv": "maker,model,kind,price,currency\nQ,E,source,{},{}\n",
    "prices.csv": "maker,series,model,retail,currency\nBramble Thatch,Trivet,Tower,{},{}\n",
    "room.toml": ROOM,
    "budget.toml": BUDGET,
    "line.toml": LINE,
}
DOORS: Final = {
    "option": (
        "speaker",
        "add",
        "--maker",
        "Q",
        "--model",
        "M",
        "--roles",
        "sub",
        "--price",
        "{0}",
        "--currency",
        "{1}",
    ),
    "set": ("speaker", "edit", TOWER, "--set", "price={0}", "--set", "currency={1}"),
    "file": ("speaker", "import", "speakers.csv"),
    "filter": ("speaker", "list", "--max-price", "{0} {1}"),
    "equipment": ("equipment", "add", "--maker", "Q", "--model", "E", "--kind", "source", "--price", "{0} {1}"),
    "equipment file": ("equipment", "import", "pieces.csv"),
    "match": ("match", "--room", "Mill House", "--budget", "{0} {1}"),
    "surround": ("match", "--room", "Mill House", "--surround-price", "{0} {1}"),
    "room": ("room", "import", "room.toml"),
    "limit": ("budget", "check", "budget.toml"),
    "line": ("budget", "check", "line.toml"),
    "receive": ("stock", "receive", TOWER, "-l", "shop", "--cost", "{0} {1}"),
    "supplier": ("supplier", "prices", "Harbour", "prices.csv"),
}
"""How each door is called; {0} is the amount and {1} the currency."""


def asked(folder: Path, template: Path, door: str, amount: str, currency: str) -> tuple[int, str]:
    shutil.copy(template, folder / "catalogue.db")
    for name, text in FILES.items():
        (folder / name).write_text(text.format(amount, currency), encoding="utf-8")
    words = [word.format(amount, currency) for word in DOORS[door]]
    words = [str(folder / word) if word in FILES else word for word in words]
    if door == "supplier":
        assert knock(("supplier", "add", "Harbour", "--db", str(folder / "catalogue.db"))).exit_code == 0
    result = knock((*words, "--db", str(folder / "catalogue.db")))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, " ".join(result.output.split())


@pytest.mark.parametrize("door", DOORS)
def test_what_no_money_is_is_refused_in_one_voice(tmp_path: Path, seeded_template: Path, door: str) -> None:
    for amount in ("1000000000001", "1" + "0" * 40, "-5"):
        code, said = asked(tmp_path, seeded_template, door, amount, "IDR")
        assert (code, "is out of range; write a number from 0 to 1,000,000,000,000" in said) == (1, True), said


@pytest.mark.parametrize("door", DOORS)
def test_an_exponent_and_an_unknown_currency_are_told(tmp_path: Path, seeded_template: Path, door: str) -> None:
    code, said = asked(tmp_path, seeded_template, door, "1e400", "EUR")
    assert (code, "exponent" in said or "out of range" in said) == (1, True), said
    code, said = asked(tmp_path, seeded_template, door, "900", "EUX")
    assert (code, "currency 'EUX' is no code of ISO 4217: did you mean EUR?" in said) == (1, True), said


PRICES: Final = ("option", "set", "file", "equipment", "equipment file", "supplier", "receive")


@pytest.mark.parametrize("door", PRICES)
def test_ten_million_is_a_price_where_the_currency_needs_it(tmp_path: Path, seeded_template: Path, door: str) -> None:
    code, said = asked(tmp_path, seeded_template, door, "25000000", "IDR")
    assert code == 0, said
    code, said = asked(tmp_path, seeded_template, door, "25000000", "EUR")
    assert (code, "is out of range for a price; write a number from 0 to 9,999,999" in said) == (1, True), said
