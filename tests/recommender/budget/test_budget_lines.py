"""Reading budgets: what is taken, what is refused, and in what words."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.recommender.budget.shopping import MAINS, budget, head, line, parse_budget, read_budget
from triptych.catalog.money import money, to_amount, to_minor
from triptych.recommender.advise.planning.wanted import read_wanted
from triptych.recommender.money.budget.errors import BadBudget
from triptych.recommender.money.budget.figures import amount
from triptych.recommender.money.budget.toml_records import parse


@given(minor=st.integers(0, 10**12), currency=st.sampled_from(["EUR", "JPY", "KWD"]))
def test_money_goes_out_and_comes_back_the_same(minor: int, currency: str) -> None:
    assert to_minor(to_amount(minor, currency), currency) == minor


# ISO 4217: two digits for the euro, none for the yen, three for the Kuwaiti dinar.
@pytest.mark.parametrize(("currency", "text"), [("EUR", "12.34 EUR"), ("JPY", "1234 JPY"), ("KWD", "1.234 KWD")])
def test_digits_after_the_point_are_the_currency_s(currency: str, text: str) -> None:
    assert money(1234, currency) == text


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1100", "1100"),
        ("1100.5", "1100.5"),
        ("1100,50", "1100.50"),
        ("1 100", "1100"),
        ("1'100.50", "1100.50"),
        ("1,100.50", "1100.50"),
        ("1.100,50", "1100.50"),
        ("1.100.000", "1100000"),
    ],
)
def test_numbers_in_text(text: str, value: str) -> None:
    assert amount(text, "here") == (Decimal(value), None)


@pytest.mark.parametrize("text", ["1,100", "eleven", "1.1.1", "", "1100 each", "1100 XYZ", "$1100", "1e400"])
def test_text_that_is_no_number_or_could_be_two_is_refused(text: str) -> None:
    with pytest.raises(BadBudget, match="here: "):
        amount(text, "here")


@given(cents=st.integers(1, 10**7), rate=st.integers(0, 30), quantity=st.integers(1, 9))
def test_tax_put_on_and_taken_off_again_is_the_same_to_the_cent(cents: int, rate: int, quantity: int) -> None:
    price = to_amount(cents, "EUR")
    read = {
        "role": "sub",
        "price": price,
        "quantity": quantity,
        "tax_included": False,
    }
    taxed = read_budget({"currency": "EUR", "limit": 1, "tax_included": True, "tax_rate": rate, "line": [read]})
    whole = {"role": "sub", "price": to_amount(taxed.total, "EUR"), "tax_included": True}
    bare = read_budget({"currency": "EUR", "limit": 1, "tax_included": False, "tax_rate": rate, "line": [whole]})
    assert abs(bare.total - cents * quantity) <= 1


def test_a_line_that_does_not_say_its_tax_is_taken_as_the_limit_and_that_is_said() -> None:
    read = budget(line("sub", 500, more=""))
    assert read.total == 50_000
    assert read.cautions == (
        "line 1 (sub) does not say whether its price includes tax; taken as the limit, which includes it",
    )


def test_of_several_lines_that_do_not_say_their_tax_it_is_said_once() -> None:
    silent = [line(role, 500, more="") for role in ("heights", "centre", "accessories")]
    read = budget(*silent, line("sub", 500), top=head(more="tax_included = false\ntax_rate = 20"))
    assert read.cautions == (
        "lines 1 (heights), 2 (centre) and 3 (accessories) do not say whether their prices include tax; "
        "taken as the limit, which excludes it",
    )


def test_a_lot_of_loudspeakers_whose_number_is_not_said_is_pointed_out() -> None:
    (caution,) = budget(line("surrounds", 500, "lot")).cautions
    assert "state pieces" in caution


def test_other_words_for_a_role_are_understood() -> None:
    read = budget(line("center", 1), line("Subwoofer", 1), line("surround", 1))
    assert [one.role for one in read.lines] == ["centre", "sub", "surrounds"]


def test_the_keys_of_a_plan_are_none_of_a_budget() -> None:
    text = head() + MAINS + "[want]\ncentre = 1\n"
    assert len(read_wanted(parse(text, "the plan")).fixed.lines) == 1
    with pytest.raises(BadBudget, match="the head: 'want' is not known"):
        parse_budget(text)


@pytest.mark.parametrize(
    ("lines", "top", "words"),
    [
        (
            (line("sub", 5, more="tax_included = false"),),
            head(more="tax_included = true"),
            "state tax_rate, in percent",
        ),
        ((line("sub", 5),), head(more="tax_included = false"), "includes tax and the limit excludes it"),
        (
            (line("sub", 5, more='currency = "USD"'),),
            None,
            r"line 1 \(sub\): the price is in USD and the budget in EUR",
        ),
        ((line("sub", '"5 USD"'),), None, r"add a \[rates\] table"),
        ((line("sub", '"5 USD"', more='currency = "GBP"'),), None, "write one of them"),
        ((MAINS, line("sub", -1)), None, r"line 2 \(sub\): price is out of range"),
        ((line("sub", "nan"),), None, "is no number that can be read"),
        ((line("subs woofer", 1),), None, "role is 'subs woofer'; did you mean 'sub"),
        ((line("sub", 1, "box"),), None, "write each, pair or lot"),
        ((line("sub", 1, quantity=0),), None, "whole number from 1"),
        ((line("sub", 1, more='tax_included = "yes"'),), None, "write true or false"),
        ((line("sub", 1, more="quantty = 2"),), None, "'quantty' is not known; did you mean 'quantity'"),
        (('[[line]]\nrole = "sub"\n',), None, "price is missing"),
        (("[[line]]\nprice = 1\n",), None, "line 1: role is missing"),
        ((), 'limit = 5\ncurrency = "EURO"\n', "three letters"),
        ((), 'currency = "EUR"\n', "limit is missing"),
        ((), "limit = 5\n", "currency is missing"),
        ((), head(0), "above zero"),
        ((), head(5, "tax_rate = 120"), "plausible range 0 to 60 %"),
        ((), 'currency = "EUR"\nlimit = 5.001\n', "5.001 EUR: EUR has 2 decimals"),
        ((), "limit = ", "is no TOML"),
        ((), head() + "line = 5\n", r"\[\[line\]\] table"),
        ((), head() + "rates = 5\n", r"\[rates\] table"),
        ((), head() + "[rates]\nUSD = 0\n", "out of range"),
        ((), head() + "[rates]\nEUR = 2\n", "EUR is the budget's own currency"),
        ((), head() + "[rates]\nUSD = 0.9\nusd = 0.8\n", "USD stands twice"),
        ((line("sub", "19.999"),), None, r"line 1 \(sub\): price: 19.999 EUR: EUR has 2 decimals, no more"),
        ((line("sub", '"10.5 JPY"'),), head() + "[rates]\nJPY = 0.006\n", "JPY has 0 decimals, no more"),
        ((line("sub", "1" * 40),), None, "price is too large"),
        ((line("sub", f"[{'1' * 40}]"),), None, "a whole number in it is too large"),
        ((line("sub", 5, more="item = true"),), None, "item is true; write a text"),
    ],
)
def test_what_cannot_be_taken_is_refused_with_its_place_and_its_cure(
    lines: tuple[str, ...], top: str | None, words: str
) -> None:
    with pytest.raises(BadBudget, match=words):
        budget(*lines, top=top)
