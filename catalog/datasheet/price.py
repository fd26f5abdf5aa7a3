"""The price: how much, of what, with or without tax; and what a dealer sells."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Final

from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.lines import Entry
from triptych.catalog.datasheet.words import EACH, PAIR
from triptych.catalog.errors import UnreadableQuantity
from triptych.catalog.money import HIGHEST_PRICE, finer_than_money
from triptych.catalog.numbers import read
from triptych.catalog.numerals import numeral
from triptych.catalog.quantities import LOUDSPEAKER
from triptych.catalog.records import PricePer, SoldAs, Tax

_SIGNS: Final = (
    ("USD", r"us ?\$|\busd\b|\bu\.s\. ?\$"),
    ("AUD", r"\ba(?:u)?\$|\baud\b"),
    ("CAD", r"\bc(?:a|dn)?\$|\bcad\b(?!\.)"),
    ("NZD", r"\bnz\$|\bnzd\b"),
    ("EUR", r"€|\beuros?\b|\beur\b"),
    ("GBP", r"£|\bgbp\b"),
    ("CHF", r"\bchf\b|\bsfr\b|\bfr\.(?= ?\d)"),
    ("SEK", r"\bsek\b"),
    ("NOK", r"\bnok\b"),
    ("DKK", r"\bdkk\b"),
    ("PLN", r"\bpln\b|\bzl\b"),
    ("JPY", r"\bjpy\b"),
)
_INCLUDED: Final = re.compile(
    r"incl\w*\.? ?(?:\w+ ?%? ?)?(?:of )?(?:tax|vat|mwst|gst|btw|ust|sales tax|taxes)|inkl\.?|\bttc\b|"
    r"iva (?:incl|compr|inc)|incl\.? ?(?:iva|tva)|"
    r"tax included|vat included|\binc\.? (?:vat|gst|tax)|btw inbegrepen|toutes taxes|tva comprise|ivato"
)
_EXCLUDED: Final = re.compile(
    r"excl\w*\.? ?(?:of )?(?:tax|vat|mwst|gst|btw|ust|sales tax|taxes|iva|tva)|exkl\.?|zzgl|zuzuglich|"
    r"\bht\b|hors taxes?|iva escl|iva no incl|"
    r"\bsin iva|ex\.? ?(?:vat|gst|tax|btw)|\+ ?(?:vat|iva|tva|mwst)|plus (?:vat|tax)|\bnetto\b|before tax|"
    r"without tax|ohne mwst|\+ iva"
)
_RATE: Final = re.compile(r"(\d{1,2}(?:[.,]\d)?) ?%")
_NUMBER: Final = re.compile(
    r"(?<![\d.,%])\d{1,3}(?:[ '.,]\d{3})+(?:[.,]\d{1,2})?(?!\d)|(?<![\d.,])\d+(?:[.,]\d{1,3})?(?![\d%])"
)
_ASK_PER: Final = "each or a pair?"


def read_price(entry: Entry, draft: Draft) -> bool:
    """Take one price with its terms; refuse a range and two currencies."""
    text = _RATE.sub(" ", entry.value)
    found = [match[0] for match in _NUMBER.finditer(text) if re.search(r"[1-9]", match[0])]
    currencies = _currencies(entry)
    if not found:
        return read_sold(entry, draft)
    found = found if len(found) == 1 else [number for number in found if len(re.sub(r"\D", "", number)) > 1]
    if len(found) != 1 or len(currencies) > 1:
        draft.refuse("price", "more than one amount, so the price is not clear", entry.raw, "what does one cost?")
        return True
    _put_amount(found[0], currencies, entry, draft)
    _put_terms(entry, draft)
    return True


def _currencies(entry: Entry) -> list[str]:
    found = [code for code, pattern in _SIGNS if re.search(pattern, entry.text)]
    bare = re.sub(r"(?:us|au?|c(?:a|dn)?|nz|hk|s)\s?\$", "", entry.text)
    return [*found, "$"] if "$" in bare and "USD" not in found else found


def _put_amount(printed: str, currencies: list[str], entry: Entry, draft: Draft) -> None:
    code = currencies[0] if currencies else None
    amount = _amount(printed, "USD" if code == "$" else code)
    if amount is None:
        draft.refuse("price", f"{printed!r} is no price that can be read", entry.raw)
        return
    draft.put("price", amount, entry.raw)
    if code == "$":
        draft.put("currency", "USD", entry.raw, ("'$' without a country; taken as USD",), inferred=True)
        draft.ask("currency", "'$' of which country?")
    elif code is None:
        draft.refuse("currency", "not stated", entry.raw, "in which currency is the price?")
    else:
        draft.put("currency", code, entry.raw)


def _amount(printed: str, code: str | None) -> Decimal | None:
    """The amount; a mark before three digits stands for thousands, for no money has three decimals here."""
    amounts = [amount for amount in numeral(printed) if 0 < amount <= HIGHEST_PRICE]
    known = [amount for amount in amounts if not finer_than_money(amount, code)]
    return known[0] if len(known) == 1 else None


def _put_terms(entry: Entry, draft: Draft) -> None:
    pair, each = PAIR.search(entry.text), EACH.search(entry.text)
    if bool(pair) != bool(each):
        draft.put("price_per", PricePer.PAIR if pair else PricePer.EACH, entry.raw)
    else:
        draft.refuse("price_per", "both are named" if pair else "not stated", entry.raw, _ASK_PER)
    _put_tax(entry, draft)


def _put_tax(entry: Entry, draft: Draft) -> None:
    excluded, included = _EXCLUDED.search(entry.text), _INCLUDED.search(entry.text)
    if excluded or included:
        draft.put("tax", Tax.EXCLUDED if excluded else Tax.INCLUDED, entry.raw)
        rate = _RATE.search(entry.text)
        if rate and (percent := _percent(rate[0])) is not None:
            draft.put("tax_rate", percent, entry.raw)
    elif draft.known("tax") is None:
        draft.ask("tax", "is tax in the price?")


def _percent(text: str) -> float | None:
    try:
        return read(text, LOUDSPEAKER["tax_rate"])
    except UnreadableQuantity:
        return None


def read_sold(entry: Entry, draft: Draft) -> bool:
    """Take the smallest quantity sold."""
    pair = PAIR.search(entry.text) or re.search(r"paarweise|par paire|a coppie|por parejas|in pairs", entry.text)
    single = EACH.search(entry.text) or re.search(
        r"singly|individually|einzeln|separat|singol|per one|stuksgewijs", entry.text
    )
    if not pair and not single:
        return False
    sold = SoldAs.EITHER if pair and single else SoldAs.PAIR if pair else SoldAs.SINGLE
    draft.put("sold_as", sold, entry.raw)
    return True
