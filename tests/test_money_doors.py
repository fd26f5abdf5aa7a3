"""One bound and one voice for money at every door that takes it, by the program as people call it."""

from __future__ import annotations

import json
import shutil
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Final

import pytest

from tests.doors import knock
from tests.quick_ones import quick_of

TOWER: Final = "Bramble Thatch Trivet Tower"
ROOM: Final = (
    'name = "r"\n[[seat]]\nname = "a"\ndistance = "3 m"\nprimary = true\n[money]\ncentre = "{}"\ncurrency = "{}"\n'
)
BUDGET: Final = 'currency = "{1}"\nlimit = "{0}"\ntax_included = true\n[[line]]\nrole = "mains"\nprice = 1\n'
LINE: Final = 'currency = "{1}"\nlimit = 10\ntax_included = true\n[[line]]\nrole = "mains"\nprice = "{0}"\n'
LINES: Final = '[[line]]\nrole = "mains"\nprice = 1\n'
PLAN: Final = 'currency = "EUR"\nlimit = 10\ntax_included = true\n{}\n[want]\ncentre = 1\n{}\n'
RULES: Final = (
    'name = "x"\n[[rule]]\nname = "a"\nform = "cap"\nkind = "should"\nroles = ["mains"]\nfactor = "{}"\nof = ["{}"]\n'
)
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
    "receive": ("stock", "receive", TOWER, "-l", "shop", "--cost", "{0} {1}", "--per", "each"),
    "supplier": ("supplier", "prices", "Harbour", "prices.csv"),
}
"""How each door is called; {0} is the amount and {1} the currency."""


def asked(folder: Path, template: Path, door: str, amount: str, currency: str) -> tuple[int, str]:
    database = ("--db", str(folder / "catalogue.db"))
    if not (folder / "catalogue.db").exists():
        shutil.copy(template, folder / "catalogue.db")
        if door == "supplier":
            assert knock(("supplier", "add", "Harbour", *database)).exit_code == 0
    for name, text in FILES.items():
        (folder / name).write_text(text.format(amount, currency), encoding="utf-8")
    words = [word.format(amount, currency) for word in DOORS[door]]
    words = [str(folder / word) if word in FILES else word for word in words]
    result = knock((*words, *database))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    if result.exit_code == 0:
        (folder / "catalogue.db").unlink()  # the next begins anew; what is refused leaves it as it was
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
    code, said = asked(tmp_path, seeded_template, door, "25000000", "EUR")
    assert (code, "is out of range for a price; write a number from 0 to 9,999,999" in said) == (1, True), said
    code, said = asked(tmp_path, seeded_template, door, "25000000", "IDR")
    assert code == 0, said


RATE: Final = "is outside the plausible range 0 to 60 %"
EXCHANGE: Final = "is out of range; write a number from 0.000001 to 1,000,000"
POINTS: Final = "is out of range; write a number from 0 to 1,000"
SUM: Final = "is out of range; write a number from 0 to 1,000,000,000,000"
FIGURES: Final = {
    "tax of a loudspeaker": (("speaker", "add", "--maker", "Q", "--model", "M", "--roles", "sub", "--price", "5 EUR",
                              "--tax-rate", "{0}"), "", RATE),
    "tax of a figure": (("speaker", "edit", TOWER, "--set", "tax_rate={0}"), "", RATE),
    "tax of equipment": (("equipment", "add", "--maker", "Q", "--model", "E", "--kind", "source", "--price", "5 EUR",
                          "--tax-rate", "{0}"), "", RATE),
    "tax of a quote": (("quote", "make", TOWER, "--job", "J", "--tax-rate", "{0}"), "", RATE),
    "tax of a budget": (("budget", "check"), BUDGET.format(9, "EUR").replace("[[", 'tax_rate = "{0}"\n[['), RATE),
    "tax of a line": (("budget", "check"), BUDGET.format(9, "EUR") + 'tax_rate = "{0}"\n', RATE),
    "discount": (("quote", "make", TOWER, "--job", "J", "--discount", "{0}"), "",
                 "is outside the plausible range 0 to 100 %"),
    "exchange": (("budget", "check"), BUDGET.format(9, "EUR").replace("[[", '[rates]\nUSD = "{0}"\n[['), EXCHANGE),
    "steps": (("budget", "plan"), PLAN.format('steps = ["{0}"]', ""), SUM),
    "should_costs": (("budget", "plan"), PLAN.format('should_costs = "{0}"', ""), POINTS),
    "indifference": (("budget", "plan"), PLAN.format('indifference = "{0}"', ""), POINTS),
    "points of a role": (("budget", "plan"), PLAN.format("", '[weights]\nfront = "{0}"'), POINTS),
    "run of a cable": (("budget", "plan"), PLAN.format("", '[runs]\ncentre = "{0}"'),
                       "is outside the plausible range 0.1 to 100 m"),
    "time limit": (("budget", "plan", "--time-limit", "{0}"), PLAN.format("", ""),
                   "is out of range; write a number from 0 to 86,400 seconds"),
    "weight": (("weights", "set", "mine", "timbre={0}"), "", POINTS),
    "file of weights": (("match", "--room", "Mill House", "--weights"), 'timbre = "{0}"\n', POINTS),
    "share": (("budget", "check", "{budget}", "--rules"), RULES.format("{0}", "limit"),
              "is out of range; write a number from 0 to 1, or from 0 % to 100 %"),
    "ratio": (("budget", "check", "{budget}", "--rules"), RULES.format("{0}", "centre"), POINTS),
    "sum of a rule": (("budget", "check", "{budget}", "--rules"), RULES.format("{0}", "money"), SUM),
}  # fmt: skip
"""How each door of a rate, a share, a weight or a time is called, its file in the end, what it says of its range."""


def figured(folder: Path, template: Path, door: str, figure: str) -> tuple[int, str]:
    words, text, _ = FIGURES[door]
    database = ("--db", str(folder / "catalogue.db"))
    if not (folder / "catalogue.db").exists():
        shutil.copy(template, folder / "catalogue.db")
    if door == "weight":
        knock(("weights", "copy", "default", "mine", *database))
    (folder / "budget.toml").write_text(BUDGET.format(9, "EUR"), encoding="utf-8")
    (folder / "asked.toml").write_text(text.replace("{0}", figure), encoding="utf-8")
    called = [word.replace("{0}", figure).replace("{budget}", str(folder / "budget.toml")) for word in words]
    result = knock((*called, *([str(folder / "asked.toml")] if text else []), *database))
    assert result.exception is None or isinstance(result.exception, SystemExit), result.exception
    return result.exit_code, " ".join(result.output.split())


OFTEN: Final = (
    *("tax of a loudspeaker", "tax of equipment", "tax of a quote", "discount", "time limit", "steps", "weight"),
    *("share", "ratio", "sum of a rule"),
)


@pytest.mark.parametrize("door", quick_of(FIGURES, OFTEN))
def test_a_rate_a_share_or_a_time_out_of_range_is_refused_with_its_range(
    tmp_path: Path, seeded_template: Path, door: str
) -> None:
    for figure in ("1000000000000001", "1" + "0" * 40, "-5"):
        code, said = figured(tmp_path, seeded_template, door, figure)
        assert (code, FIGURES[door][2] in said) == (1, True), said
    for figure, why in (("1e400", "is written with an exponent"), ("nan", "that can be read"), ("inf", "can be read")):
        code, said = figured(tmp_path, seeded_template, door, figure)
        assert (code, why in said) == (1, True), said


def test_a_discount_of_three_quarters_is_one_and_none_is_refused(tmp_path: Path, seeded_template: Path) -> None:
    assert figured(tmp_path, seeded_template, "discount", "75")[0] == 0
    code, said = figured(tmp_path, seeded_template, "discount", "0")
    assert (code, "is no discount; write a number above 0, up to 100 %" in said) == (1, True), said


PAIR: Final = "Bramble Thatch Thimble Shelf"
OF_A_PAIR: Final = {
    "option": ("speaker", "add", "--maker", "Q", "--model", "M", "--roles", "main", "--price", "400 EUR", "--sold-as",
               "pair", "--price-per", "{0}"),
    "set": ("speaker", "edit", PAIR, "--set", "price=400 EUR", "--set", "price_per={0}"),
    "file": ("speaker", "import", "pairs.csv"),
    "supplier": ("supplier", "prices", "Harbour", "prices.csv"),
    "line": ("budget", "check", "line.toml"),
}  # fmt: skip
"""How each door is told what a price of a loudspeaker that is sold in pairs buys, {0}; nothing where that is empty."""

PAIRS: Final = {
    "pairs.csv": "maker,model,roles,price,currency,sold_as,price_per\nQ,M,main,400,EUR,pair,{}\n",
    "prices.csv": f"speaker,retail,currency,per\n{PAIR},400,EUR,{{}}\n",
    "line.toml": f'currency = "EUR"\nlimit = 900\n[[line]]\nrole = "surrounds"\nitem = "{PAIR}"\nprice = 400\n{{}}\n',
}


@pytest.mark.whole
def test_a_price_of_what_is_sold_in_pairs_says_what_it_buys(tmp_path: Path, seeded_template: Path) -> None:
    database = ("--db", str(tmp_path / "catalogue.db"))
    for door, words in OF_A_PAIR.items():
        for per in ("", "pair", "each"):
            shutil.copy(seeded_template, tmp_path / "catalogue.db")
            knock(("supplier", "add", "Harbour", *database))
            for name, text in PAIRS.items():
                said = f'per = "{per}"' if per and name == "line.toml" else per
                (tmp_path / name).write_text(text.format(said), encoding="utf-8")
            called = [str(tmp_path / word) if word in PAIRS else word.format(per) for word in words]
            result = knock((*called, *database))
            told = " ".join(result.output.split())
            assert (result.exit_code, "is sold in pairs" in told) == ((0, False) if per else (1, True)), (door, told)
    assert knock(("supplier", "prices", "Harbour", str(tmp_path / "prices.csv"), *database)).exit_code == 0
    (tmp_path / "prices.csv").write_text(PAIRS["prices.csv"].format(""), encoding="utf-8")
    result = knock(("supplier", "prices", "Harbour", str(tmp_path / "prices.csv"), "--per", "pair", *database))
    assert (result.exit_code, "changed 1" in result.output) == (0, True), result.output


@pytest.mark.whole
def test_a_price_that_was_kept_before_that_was_asked_is_of_nobody_knows_what(
    tmp_path: Path, seeded_template: Path
) -> None:
    shutil.copy(seeded_template, tmp_path / "catalogue.db")
    database = ("--db", str(tmp_path / "catalogue.db"))
    with closing(sqlite3.connect(tmp_path / "catalogue.db")) as kept:
        kept.execute("update price set per = null")
        kept.commit()
    (tmp_path / "line.toml").write_text(PAIRS["line.toml"].replace("price = 400", "").format(""), encoding="utf-8")
    (tmp_path / "plan.toml").write_text('currency = "EUR"\nlimit = 9000\n[want]\nsurrounds = 2\n', encoding="utf-8")
    for words in (("budget", "check", str(tmp_path / "line.toml")), ("quote", "make", PAIR, "--job", "J")):
        result = knock((*words, *database))
        assert (result.exit_code, "of each or of a pair" in result.output) == (1, True), result.output
    result = knock(("budget", "plan", str(tmp_path / "plan.toml"), "--format", "json", *database))
    reasons = {one["reason"]: one["speakers"] for one in json.loads(result.stdout)["left_out"]}
    assert PAIR in reasons["sold in pairs, and whether its price is of each or of a pair is not told"]
