"""A firm's week by the commands that README and help name: three people, either engine; all of it recomputed by hand.

What is on hand, promised, earned and in value is worked out again from rows read in plain SQL: IAS 2, paragraphs 23 to
27 (first in first out for alike units, specific identification for those that can be told apart).
"""

from __future__ import annotations

import json
import re
from collections import Counter, defaultdict
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path
from typing import Any, Final

import pytest
import sqlalchemy as sa
from typer.testing import CliRunner

from tests.catalog.stock_shop import CENTRE, TOWER, shop_in
from triptych.recommender.cli import app

pytestmark = [pytest.mark.slow, pytest.mark.whole]

C, T = CENTRE.name, TOWER.name
MILL, BARN = ("--job", "Mill House"), ("--job", "Barn")
SHOP, VAN = ("-l", "shop"), ("-l", "van 1")

Do = Callable[..., Any]


@pytest.fixture
def do(engine: sa.Engine, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Do:
    shop_in(engine)
    url = engine.url.render_as_string(hide_password=False)
    monkeypatch.setenv("TRIPTYCH_DB", url)
    monkeypatch.setenv("COLUMNS", "200")
    monkeypatch.chdir(tmp_path)

    def command(who: str, *words: str, code: int = 0) -> Any:
        result = CliRunner().invoke(app, list(words), env={"TRIPTYCH_USER": who, "TERM": "dumb"})
        assert result.exception is None or isinstance(result.exception, SystemExit), (words, result.exception)
        assert result.exit_code == code, (words, result.output)
        return result

    return command


def _told(do: Do, *words: str) -> Any:
    return json.loads(do("anna", *words, "--format", "json").stdout)


def _monday(do: Do) -> None:
    """Anna opens the shop: places, suppliers, prices, numbers of articles, points; the first delivery."""
    for place in ("shop", "store", "van 1"):
        do("anna", "stock", "location", place, "--zone", "Europe/Lisbon")
    do("anna", "supplier", "add", "Harbour Trading", "--lead-time", "9")
    do("anna", "supplier", "add", "Quay", "--lead-time", "2")
    Path("prices.csv").write_text(f"Loudspeaker,Trade,per\n{C},290,each\n{T},480,each\n")
    names = ("--map", "Loudspeaker=speaker", "--map", "Trade=cost", "--currency", "EUR")
    do("anna", "supplier", "prices", "Harbour Trading", "prices.csv", "--from", "2020-01-01", *names)
    do("anna", "supplier", "article", C, "HC 20", "--supplier", "Harbour Trading", "--finish", "oak")
    do("anna", "supplier", "reorder", C, "--least", "3", "--up-to", "6", "--finish", "oak")
    (due,) = _told(do, "supplier", "reorder")
    assert (due["to_order"], due["supplier"], due["article"]) == (6, "Harbour Trading", "HC 20")
    Path("note.csv").write_text(
        "article,speaker,quantity,cost,per,serial,finish\n"
        'HC 20,,4,"290,50 EUR",,,\n'
        f"HC 20,,,300 EUR,,A1;A2,\n"
        f",{T},4,1 020 EUR,each,,ash\n"
    )
    about = ("--delivery", "4711", "--supplier", "Harbour Trading", *SHOP)
    do("anna", "stock", "deliver", "note.csv", *about, "--dry-run")
    do("anna", "stock", "deliver", "note.csv", *about)
    assert "has come already" in do("anna", "stock", "deliver", "note.csv", *about, code=1).stderr
    # without its finish it is asked about, at the counter and in a file alike
    assert "--new-finish" in do("anna", "stock", "receive", T, *SHOP, code=1).stderr
    Path("bare.csv").write_text(f"speaker,quantity\n{T},2\n")
    assert "--new-finish" in do("anna", "stock", "deliver", "bare.csv", "--delivery", "2", *SHOP, code=1).stderr
    do("anna", "stock", "labels", "--delivery", "4711", "--out", "labels.html")


def _tuesday(do: Do) -> None:
    """Ben promises, quotes, orders and lends; he mistypes a sale and takes it back."""
    do("ben", "stock", "reserve", C, "--finish", "oak", *SHOP, *MILL, "--until", "2999-12-31")
    items = (f"2 x {C}, oak", f"2 x {T}, ash")
    do("ben", "quote", "make", *items, *MILL, "--discount", "10", *SHOP)
    accepted = do("ben", "quote", "accept", "1").stderr
    assert "is part of quote 1 now" in accepted
    assert "all of quote 1 is reserved until the end of 31 Dec 2999" in accepted
    order = ("--supplier", "Harbour Trading", "--expected", "2999-01-10", "--finish", "oak")
    do("ben", "supplier", "order", C, "-n", "2", *MILL, *order)
    do("ben", "stock", "lend", C, "--finish", "oak", "--serial", "A2", *SHOP, *BARN, "--until", "2999-01-05")
    line = re.search(r"line (\d+)", do("ben", "stock", "sell", C, "--finish", "oak", *SHOP).stderr)
    assert line is not None
    do("ben", "stock", "undo", line[1], "--note", "another model")
    do("ben", "job", "new", "Mill Huose")
    do("ben", "job", "merge", "Mill Huose", "--into", "Mill House")
    assert "did you mean 'Mill House'" in do("ben", "stock", "reserve", C, *SHOP, "--job", "Mil House", code=1).stderr


def _wednesday(do: Do) -> None:
    """Carla drives: what was ordered comes reserved, moves to the van, and is delivered in parts; one comes back."""
    came = do("carla", "stock", "receive", C, "-n", "2", "--order", "1", "--cost", "295 EUR", *SHOP).stderr
    assert "reserved for Mill House, for whom it was ordered" in came
    do("carla", "stock", "transfer", C, "-n", "2", "--finish", "oak", *MILL, *SHOP, "--to", "van 1")
    do("carla", "quote", "sell", "1", f"1 x {C}", "--finish", "oak")
    do("carla", "stock", "return", C, "--finish", "oak", *MILL, *SHOP, "--note", "sounds rough")
    do("carla", "quote", "sell", "1")
    assert "1 came back" not in do("carla", "quote", "list").stdout
    (quoted, _) = _told(do, "quote", "show", "1")["lines"]
    assert (quoted["delivered"], quoted["to_come"], quoted["returned"]) == (2, 0, 1)
    (line,) = [one for one in _told(do, "job", "show", "Mill House")["lines"] if one["speaker"] == C]
    assert (line["installed"], line["returned"], line["outstanding"]) == (1, 1, 2)
    do("carla", "stock", "sell", C, "--finish", "oak", *MILL, *SHOP, "--price", "400 EUR")
    (line,) = [one for one in _told(do, "job", "show", "Mill House")["lines"] if one["speaker"] == C]
    assert (line["installed"], line["returned"], line["outstanding"]) == (2, 0, 1)


def _thursday(do: Do) -> None:
    """Anna looks at what is there: a count from a file, a pair split and joined, grades and their prices."""
    do("anna", "stock", "regrade", C, "--from", "quarantine", "--grade", "b_stock", "--finish", "oak", *SHOP)
    do("anna", "stock", "price", C, "--grade", "b_stock", "--price", "310 EUR")
    assert "310" in do("anna", "stock", "available", C, "-n", "50").stdout
    do("anna", "stock", "split", T, "--finish", "ash", *SHOP, "--serial", "L,R")
    do("anna", "stock", "join", T, "--finish", "ash", *SHOP, "--serial", "L,R", "--pair", "LR")
    found = do("anna", "stock", "join", T, "--finish", "ash", *SHOP, "--serial", "L,R", code=1).stderr
    assert "0 on hand" in found
    do("anna", "stock", "transfer", C, "-n", "1", "--finish", "oak", *SHOP, "--to", "store", "--send")
    sent = _told(do, "stock", "ledger", "--last", "1")[0]["number"]
    do("anna", "stock", "arrive", str(sent))
    there = do("anna", "stock", "list", "--format", "csv").stdout
    Path("june.csv").write_text(there)
    assert "changed 0" in do("anna", "stock", "import", "june.csv", "--reason", "June").stderr


def _friday(do: Do) -> None:
    """Ben brings back the loan, sells what is B-stock, writes off, prints; names are mended."""
    do("ben", "stock", "bring-back", C, "--finish", "oak", "--serial", "A2", *BARN, *SHOP)
    do("ben", "stock", "sell", C, "--grade", "b_stock", "--finish", "oak", *SHOP, *BARN, "--price", "310 EUR")
    do("ben", "stock", "write-off", C, "--finish", "oak", "--serial", "A1", *SHOP, "--reason", "fell off the van")
    do("ben", "quote", "print", "1", "--out", "quote.html")
    assert "10 %" in Path("quote.html").read_text()
    do("ben", "maker", "rename", "Oatfell", "Oatfield")
    do("ben", "maker", "rename", "Oatfield", "Oatfell")
    assert [one["serial"] for one in _told(do, "stock", "find", "A")] == ["A1", "A2"]


WEEK: Final = (_monday, _tuesday, _wednesday, _thursday, _friday)


def test_a_week_is_what_plain_rows_say_of_it(do: Do, engine: sa.Engine) -> None:
    for day in WEEK:
        day(do)
        assert "invariants hold" in do("anna", "stock", "check").stderr
    with engine.connect() as connection:
        lines = [row._asdict() for row in connection.execute(sa.text(LINES))]
    # on a server it is the login, whatever is said
    people = {"anna", "ben", "carla"} if engine.dialect.name == "sqlite" else {engine.url.username}
    assert {one["who"] for one in lines} == people
    assert _on_hand(lines) == _listed(_told(do, "stock", "list"))
    assert _promised(lines) == Counter(
        {(one["job"], one["speaker"]): one["units"] for one in _told(do, "stock", "reservations")}
    )
    value, margins = _replayed(lines)
    # two of the quote's centres and its pair, and the replacement of one that came back; the other was B-stock
    assert {job: units for job, (units, _, _) in margins.items()} == {"Mill House": 4, "Barn": 1}
    assert value == {
        (one["speaker"], one["finish"], one["grade"]): Decimal(str(one["cost"])) for one in _told(do, "stock", "value")
    }
    assert margins == {
        one["key"]: (one["units"], Decimal(str(one["net"])), Decimal(str(one["cost"])))
        for one in _told(do, "stock", "margin", "--by", "job")
    }


LINES: Final = """
SELECT m.id, m.kind, m.quantity, m.amount, m.serial, m.who, m.from_id, m.undoes_id, m.reservation_id, j.name AS job,
    h.finish, h.grade, h.pack, p.name AS place, k.name_key AS speaker, m.note
  FROM movement m JOIN holding h ON h.id = m.holding_id JOIN location p ON p.id = h.location_id
    JOIN loudspeaker k ON k.id = h.loudspeaker_id LEFT JOIN job j ON j.id = m.job_id ORDER BY m.id
"""
"""The ledger in plain SQL."""

IN: Final = ("receive", "transfer_in", "regrade_in", "split_in", "return", "count")
OUT: Final = ("sell", "transfer_out", "regrade_out", "split_pair", "write_off")
NAMES: Final = {C.casefold(): C, T.casefold(): T}


def _on_hand(lines: list[dict[str, Any]]) -> Counter[tuple[str, str, str | None, str]]:
    found: Counter[tuple[str, str, str | None, str]] = Counter()
    for one in lines:
        sign = 1 if one["kind"] in IN else -1 if one["kind"] in OUT else 0
        found[NAMES[one["speaker"]], one["place"], one["finish"], one["grade"]] += sign * one["quantity"]
    return +found


def _listed(there: list[dict[str, Any]]) -> Counter[tuple[str, str, str | None, str]]:
    found: Counter[tuple[str, str, str | None, str]] = Counter()
    for one in there:
        found[one["speaker"], one["location"], one["finish"], one["grade"]] += one["on_hand"]
    return found


def _promised(lines: list[dict[str, Any]]) -> Counter[tuple[str, str]]:
    found: Counter[tuple[str, str]] = Counter()
    job = {one["id"]: one["job"] for one in lines}
    for one in lines:
        if one["kind"] == "reserve":
            found[one["job"], NAMES[one["speaker"]]] += one["quantity"]
        elif one["reservation_id"]:
            found[job[one["reservation_id"]], NAMES[one["speaker"]]] -= one["quantity"]
    return +found


Value = dict[tuple[str, str | None, str], Decimal]
Margins = dict[str | None, tuple[int, Decimal, Decimal]]


def _replayed(lines: list[dict[str, Any]]) -> tuple[Value, Margins]:
    """Give what the stock cost and what jobs left: every unit one entry, in the order in which they came."""
    units: list[dict[str, Any]] = []
    undone = {one["undoes_id"] for one in lines}
    for one in lines:
        if one["id"] in undone or one["undoes_id"]:
            continue
        sort = {name: one[name] for name in ("speaker", "finish")}
        alike = [unit for unit in units if all(unit[name] == value for name, value in sort.items())]
        there = [unit for unit in alike if (unit["grade"], unit["serial"]) == (one["grade"], one["serial"])]
        left = [unit for unit in alike if unit.get("out") == one["from_id"] and one["from_id"]]
        kind, quantity = one["kind"], abs(one["quantity"])
        if kind == "receive":
            new = sort | {"grade": one["grade"], "serial": one["serial"], "cost": Decimal(one["amount"]) / 100}
            units += [dict(new) for _ in range(quantity)]
        elif kind == "sell":
            for unit in there[:quantity]:
                unit |= {"grade": "sold", "job": one["job"], "price": Decimal(one["amount"]) / 100, "at": one["id"]}
        elif kind == "return":
            sold = [unit for unit in alike if unit["grade"] == "sold" and unit["job"] == one["job"]]
            for unit in sorted(sold, key=lambda unit: -unit["at"])[:quantity]:
                unit["grade"] = "quarantine"
        elif kind in ("regrade_out", "split_pair"):
            for unit in there[:quantity]:
                unit |= {"grade": kind, "out": one["id"]}
        elif kind in ("regrade_in", "split_in"):
            for unit in left[:quantity]:
                unit |= {"grade": one["grade"], "serial": one["serial"], "out": None}
        elif kind == "count" and one["quantity"] < 0:
            there[0]["grade"] = "joining"
        elif kind == "count":
            for unit in [unit for unit in alike if unit["grade"] == "joining"]:
                unit |= {"grade": one["grade"], "serial": one["serial"]}
        elif kind == "write_off":
            there[0]["grade"] = "lost"
    value: defaultdict[Any, Decimal] = defaultdict(Decimal)
    margins: Margins = {}
    for unit in units:
        if unit["grade"] == "sold":
            number, net, cost = margins.get(unit["job"], (0, Decimal(0), Decimal(0)))
            margins[unit["job"]] = number + 1, net + unit["price"], cost + unit["cost"]
        elif unit["grade"] != "lost":
            value[NAMES[unit["speaker"]], unit["finish"], unit["grade"]] += unit["cost"]
    return dict(value), margins
