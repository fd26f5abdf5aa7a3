"""The price: which of several amounts is asked today, of what, with or without tax; and what a dealer sells."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from triptych.catalog.datasheet.amounts import amounts
from triptych.catalog.datasheet.asked_price import FORMER_PRICE, LIST
from triptych.catalog.datasheet.draft import Draft, ReadOffer
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.joining import RANGED
from triptych.catalog.datasheet.price_rows import EVERY_PRICE
from triptych.catalog.datasheet.price_tax import RATE, put_tax
from triptych.catalog.datasheet.sheet_words import EACH, FORMER, LISTED_PRICE, OTHER_GOODS, PAIR, PASSING, TODAY
from triptych.catalog.datasheet.sold_words import LEGEND
from triptych.catalog.numerals import NUMERAL, numeral
from triptych.catalog.quantities import Kind
from triptych.catalog.records import PricePer, SoldAs

_SIGNS: Final = (
    ("USD", r"us ?\$|\busd(?![a-z])|\bu\.s\. ?\$"),
    ("AUD", r"\ba(?:u)?\$|\baud\b"),
    ("CAD", r"\bc(?:a|dn)?\$|\bcad\b(?!\.)"),
    ("NZD", r"\bnz\$|\bnzd\b"),
    ("SGD", r"\bs\$|\bsgd\b"),
    ("EUR", r"€|\beuros?\b|\beur(?![a-z])"),
    ("GBP", r"£|\bgbp(?![a-z])|\bpounds?(?: sterling)?\b"),
    ("CHF", r"\bchf\b|\bsfr\b|\bfr\.(?= ?\d)"),
    ("SEK", r"\bsek\b"),
    ("NOK", r"\bnok\b"),
    ("DKK", r"\bdkk\b"),
    ("PLN", r"\bpln\b|(?<![a-z])zl\b"),
    ("JPY", r"\bjpy\b|\byen\b"),
    ("CNY", r"\bcny(?![a-z])|\brmb(?![a-z])"),
)
_ANY_SIGN: Final = "|".join(rf"(?:{pattern})" for _, pattern in _SIGNS) + r"|\$|¥"
_MONEY: Final = re.compile(
    rf"(?P<before>{_ANY_SIGN})?\s?(?<![\d.,])(?P<number>(?>{NUMERAL}))(?:,-)?(?![\d%])(?:\s?(?P<after>{_ANY_SIGN}))?"
)
_NO_MONEY: Final = re.compile(
    rf"{RATE.pattern}|(?<![\d.,/-])\d{{1,2}}[./-]\d{{1,2}}[./-](?:\d{{2}}|\d{{4}})(?![\d.,/-])|"
    r"(?<![\d.,/-])\d{1,2}[./]20\d\d\b|\b(?!\s*20\d\d\s*$)(?<=[a-z]\s)20\d\d\b(?=\s*$)"
)
"""A tax rate, a date, a year behind a word."""
_DIFFERENCE: Final = re.compile(
    r"\s*(?:more|less|cheaper|dearer|mehr|weniger|teurer|billiger|gunstiger|plus cher|moins cher|de plus|de moins|"
    r"mas|menos|"
    r"in piu|in meno|duurder|goedkoper|meer|minder|wiecej|mniej|drozej|taniej)\b(?! (?:information|infos))"
)
"""Behind an amount that is a difference of two prices: '900 zl wiecej'."""
_STATED: Final = re.compile(r"\d[\d.]*,(?:-|\d\d)(?!\d)")
"""An amount without a sign: what stands before it says nothing of the next."""
_ASKED: Final = re.compile(
    r"\b(?:costs?|kostet|kosten?|costa(?:no)?|coute(?:nt)?|cuestan?|kosztuj\w+|now)"
    r"(?: (?:about|around|nu|nur|ongeveer|etwa|rund|circa|environ|ca\.?))? ?$"
)
"""Before an amount without a sign: 'kostet 890'."""
_SOLD_BY: Final = re.compile(
    r" ?(?:/ ?(?:pr|pair|paar|paire|coppia|ea|each|stuck|stuk|szt)\b|(?:ea|each)\b|"
    r"per (?:stuk|stuck|paar|pair|pezzo)\b|"
    r"(?:das|le|la|il|the|a|het|za) (?:pair|paar|paire|coppia|paio|pareja|pare|stuck|piece)\b)"
)
"""Behind an amount without a sign: '329.95/pr'."""
_SAVED: Final = re.compile(
    r"\b(?:you save|save|saving|sie sparen|ersparnis|sparen|oszczedzasz|risparmi\w*|economis\w*|ahorr\w*|bespaar\w*|"
    r"korting|remise|sconto|rabat\w*)\W{0,3}(?:di|de|von|of|van)? ?(?:[€£$] ?)?"
    r"(?P<number>\d[\d., ]*\d|\d) ?(?P<share>%)?"
)
"""What is saved on a former price."""
_MEASURE: Final = re.compile(r"\s?(?:kgs?|lbs?|mm|cm|db|k?hz|w|watts?|ohms?|ω|lit(?:er|re)s?|g)\b")
"""Behind a number that is no money: 'brutto 34,9 kg'."""
_MONTHLY: Final = (
    r"^\s*(?:(?:/|per|pro|a|al|par|por|im|na) ?|(?:for|over|x|fur|uber|sur|en|in|durante|per|gedurende|przez) \d{1,2} )"
    r"(?:months?|monat|mois|mes[ei]?|maand|mies)"
)
"""Behind an instalment: '/ month', 'for 12 months'."""
_BY_PAYING: Final = re.compile(
    r"\s*(?:for|by|with|if you pay|when paid|bei|per|par|con|en|in|bij|via|przy|za) ?"
    r"(?:a |an |in |by |la )?(?:bank transfer|cash|vorkasse|uberweisung|barzahlung|bonifico|contanti|virement|especes|"
    r"transferencia|efectivo|al contado|overschrijving|contante?|bankoverschrijving|gotowk\w+|przelew\w*)"
)
"""Behind the lower of two prices of one offer: 'or 1,040 for bank transfer'."""
_ELSE: Final = "what something else costs"
_LISTED_KEY: Final = re.compile(r"^(?:s?rrp|msrp|list(?: price)?|uvp|pvp|listino|adviesprijs)\b")
"""A label of the maker's own price."""
_SOLD: Final = re.compile(
    r"\b(?:sold|available|verkauf\w*|erhaltlich|vendue?s?|vendid[oa]s?|vendut[oaie]|verkocht|"
    r"sprzedawan\w*) [^.,;()\d]{3,40}|"
    r"\b(?:einzeln|paarweise|singly|individually) (?:erhaltlich|verkauft|available|sold)"
)
"""How it is sold, told beside its price."""
_UNLESS: Final = re.compile(
    r"\b(?:unless (?:otherwise )?(?:noted|stated|marked)|sauf (?:mention|indication)|sofern nicht|wenn nicht anders|"
    r"salvo (?:que|dove|indica|nota)|"
    r"tenzij|o ile nie)\b"
)
"""What holds of all prices that say nothing else: 'each unless noted'."""
_OF_SALE: Final = re.compile(r"(?:units? of sale|sales? units?|verkaufseinheit\w*|unite de vente|unidad de venta)")
"""What a price is for without saying which that is."""
_TWO: Final = re.compile(
    r"\b(?:2|two|zwei|deux|due|dos|twee|dwie) ?(?:szt|pcs|pc|st|stk|stuck|pz|pezzi|uds?|stuks?|pieces)\b\.?"
)
"""Two of them, which is a pair and not each."""
_ONE_PAIR: Final = re.compile(
    r"\b(?:one|1|a|single|ein|eine|un|une|una|een|jedn\w+) (?=(?:sets?\b|pairs?|paar|paire|coppia|pareja|par[aey]?)\b)"
)

_PRICE_IS: Final = re.compile(
    r"\b(?:prices?|preise?|prix|prezz[oi]|precios?|prij(?:s|zen)|cen[ay])\b[^,;.\d]{0,24}"
    r"\b(?:is|are|ist|sind|est|sont|es|son|e|sono|zijn|jest|sa|gelten|gilt)\b"
)
"""A sentence about the price: what it says of each or a pair tells not how one is sold."""
_OF_PRICE: Final = re.compile(r"\b(?:price|\w*preis|prix|prezzo|precio|\w*prij[sz]|cena|s?rrp|msrp|uvp|pvp)")
_NO_PAIR: Final = re.compile(
    r"\b(?:not|nicht|kein|pas|non|no|niet|nie)(?: (?:a|per|the|for|fur|das|pro|pour|la|une|le|el|por|il|het|za|e|est))*"
    r" (?:pairs?|paar|paire|coppia|coppie|pareja|par[aey]?)\b"
)
"""What a price or a weight is said not to be of."""


def read_price(entry: SheetEntry, draft: Draft) -> bool:
    """Note every amount of an entry with its terms; `settle` decides which is the price."""
    if entry.key and re.search(r"carriage|shipping|versand|porto", entry.key):
        return False
    weighs = {amount.kind for amount in amounts(entry.value)} == {Kind.MASS}
    if weighs and not re.search(_ANY_SIGN, entry.value):
        # what a packed one weighs: 'brutto 34,9 kg'
        return False
    put_tax(entry, draft)
    if not entry.key and (_UNLESS.search(entry.value) or EVERY_PRICE.search(entry.value)):
        draft.per = _per("", entry.value, entry)
        return True
    found = list(_offers(entry))
    draft.offers += found
    if found and (sold := _SOLD.search(entry.value)):
        read_sold(replace(entry, key="", value=sold[0]), draft)
    draft.savings += [
        (amount, bool(match["share"])) for match in _SAVED.finditer(entry.value) for amount in numeral(match["number"])
    ]
    return bool(found) or read_sold(entry, draft) or draft.known("tax") is not None


def _offers(entry: SheetEntry) -> Iterator[ReadOffer]:
    text = _NO_MONEY.sub(lambda match: " " * len(match[0]), entry.value)
    found = [match for match in _MONEY.finditer(text) if re.search(r"[1-9]", match["number"])]
    found = [match for match in found if match["before"] or match["after"] or not _MEASURE.match(text, match.end())]
    # '8 86 340 €' are figures of three columns that ran together, and none tells where the price begins
    found = [match for match in found if " " not in match["number"] or not re.search(r"\d\s*$", text[: match.start()])]
    signed = [match for match in found if match["before"] or match["after"]]
    # a table's bare cell is an amount, and beside amounts with a sign no bare number is one
    signed += [match for match in found if match not in signed and any(_ranged(text, match, one) for one in signed)]
    signed += [one for one in found if signed and one not in signed and _SOLD_BY.match(text, one.end("number"))]
    signed += [one for one in found if signed and one not in signed and LISTED_PRICE.search(text[: one.start()])]
    bare = found if entry.key else [match for match in found if _is_asked(text, match)]
    found = sorted(signed, key=lambda match: match.start()) or [
        match for match in bare if len(found) == 1 or len(re.sub(r"\D", "", match["number"])) > 2
    ]
    beside: str | None = None
    for place, match in enumerate(found):
        start = found[place - 1].end() if place else 0
        end = found[place + 1].start() if place + 1 < len(found) else len(text)
        before, after = text[start : match.start()], text[match.end() : end]
        own = re.split(r"[,;|(]\s(?!la |a |par )|\s-\s", after)[0] if place + 1 < len(found) else after
        if place + 1 < len(found) and "(" in own and ")" not in own[own.rfind("(") :]:
            # the bracket is about the next amount
            own = own[: own.rfind("(")]
        sign = _code(match["before"] or match["after"] or "", match["number"]) or _named(entry)
        aside = _aside(before if place else f"{entry.key} {before}", own)
        if aside is None and place and before.rfind("(") > before.rfind(")") and not _today(before):
            # what a bracket adds to the cost of the post
            aside = beside if beside == _ELSE else None
        beside = aside
        yield ReadOffer(
            match["number"],
            sign,
            _per(before if place or len(found) > 1 else "", own, entry, first=not place),
            _ELSE if OTHER_GOODS.match(entry.value) else aside,
            _today(before),
            entry.raw,
        )


def _is_asked(text: str, match: re.Match[str]) -> bool:
    """Whether the words at a number without a sign say that it is money."""
    return bool(_ASKED.search(text[: match.start("number")]) or _SOLD_BY.match(text, match.end("number")))


def _ranged(text: str, one: re.Match[str], other: re.Match[str]) -> bool:
    """Whether two amounts are a range."""
    first, second = sorted((one, other), key=lambda match: match.start())
    linked = re.fullmatch(rf"\s*{RANGED}\s*", text[first.end() : second.start()])
    if re.match(r"-[^\W\d]", text[second.end() :]):
        # a number of days behind an amount is no second one
        return False
    sizes = [len(re.sub(r"\D", "", one["number"])) for one in (first, second)]
    # a year before a price is no range: '2017 a 860 euro'
    return bool(linked) and sizes[0] <= sizes[1]


def _aside(before: str, after: str) -> str | None:
    """Why an amount is not what is asked today, by the words at it."""
    near = _STATED.split(re.split(r"(?<!\bn)(?<!\bn[or])[.;|]\s", before)[-1])[-1]
    if near.endswith("~~"):
        # as a page strikes it
        return FORMER_PRICE
    if re.search(_MONTHLY, after):
        return "an instalment"
    if _BY_PAYING.match(after):
        return "for one way of paying"
    if LISTED_PRICE.search(near) or _LISTED_KEY.match(before):
        return LIST
    if FORMER.search(near) or re.search(
        r"^\s*(?:when new|a l'epoque|last year|new\b|neu\b|at the outlet|back (?:in|then)|(?:de )?(?:port|frais|"
        r"shipping|versand|porto)\b)",
        after,
    ):
        return FORMER_PRICE
    return _ELSE if PASSING.search(near) or _DIFFERENCE.match(after) else None


def _today(before: str) -> bool:
    """Whether the words before an amount say that it is asked now."""
    return TODAY.search(re.split(r"[.;|]\s", before)[-1]) is not None


def _per(before: str, after: str, entry: SheetEntry, *, first: bool = False) -> PricePer | None:
    for words in (
        re.split(r"[,;]\s", after)[0],
        after,
        before,
        f"{entry.key} {entry.value}" if first or not before else entry.key,
    ):
        words = _NO_PAIR.sub(" ", words)
        pair, each = PAIR.search(words), EACH.search(_bare(words))
        if bool(pair) != bool(each):
            return PricePer.PAIR if pair else PricePer.EACH
    return None


def _bare(words: str) -> str:
    """Words without those for two and for one pair, which are none for each."""
    return _ONE_PAIR.sub(" ", _TWO.sub(" ", words))


def _code(sign: str, number: str) -> str | None:
    found = next((code for code, pattern in _SIGNS if sign and re.fullmatch(pattern, sign)), None)
    if found is None and sign == "¥":
        return "¥" if re.search(r"[.,]\d\d$", number) else "JPY?"
    return found or ("$" if sign == "$" else None)


def _named(entry: SheetEntry) -> str | None:
    """The currency that the key names, or the words after the amount."""
    for text in (entry.key, entry.value):
        if found := next((code for code, pattern in _SIGNS if re.search(pattern, text)), None):
            return found
        if sign := re.search(r"[$¥]", text):
            return _code(sign[0], "0")
    return None


def only_currency(text: str) -> str | None:
    """Return the one currency that a folded text names; None where it names none, several or a sign of many countries.

    >>> only_currency("449 · port free from 400 €"), only_currency("£20 or 25 €"), only_currency("$20")
    ('EUR', None, None)
    """
    found = [code for code, pattern in _SIGNS if code not in ("CAD", "SGD") and re.search(pattern, text)]
    return found[0] if len(found) == 1 and not re.search(r"[$¥]", text) else None


def _sold_by(text: str) -> tuple[bool, bool]:
    """Whether words say that a pair is sold, and that one is."""
    text = _NO_PAIR.sub(" ", text)
    pair = PAIR.search(text) or re.search(r"paarweise|par paire|a coppie|por parejas|in pairs", text)
    single = EACH.search(_bare(text)) or re.search(
        r"singly|individually|einzeln|separat|singol|per one|stuksgewijs", text
    )
    return bool(pair), bool(single)


def read_sold(entry: SheetEntry, draft: Draft) -> bool:
    """Take the smallest quantity sold."""
    if LEGEND.search(entry.value) or _OF_SALE.search(entry.value):
        return False
    pair, single = _sold_by(entry.value)
    told = pair or single
    if not told:
        pair, single = _sold_by(entry.key)
    if not pair and not single:
        return False
    if _PRICE_IS.search(entry.value) and pair != single:
        # 'sold in pairs only; the price above is for one'
        draft.per = PricePer.PAIR if pair else PricePer.EACH
        return True
    sold = SoldAs.EITHER if pair and single else SoldAs.PAIR if pair else SoldAs.SINGLE
    # by the label of a price alone nobody says that one can't be had
    flags = () if told or not _OF_PRICE.search(entry.key) else ("told by what the price is for",)
    draft.put("sold_as", sold, entry.raw, flags, inferred=bool(flags))
    return True
