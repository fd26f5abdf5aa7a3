"""The price: which of several amounts is asked today, of what, with or without tax; and what a dealer sells."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Final

from triptych.catalog.datasheet.draft import Draft, ReadOffer
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import RANGED
from triptych.catalog.datasheet.price_rows import EVERY_PRICE, LEGEND
from triptych.catalog.datasheet.price_tax import RATE, put_tax
from triptych.catalog.datasheet.result import ReadStatus
from triptych.catalog.datasheet.sheet_words import EACH, FORMER, LISTED_PRICE, OTHER_GOODS, PAIR, PASSING, TODAY
from triptych.catalog.money import HIGHEST_PRICE, finer_than_money
from triptych.catalog.numerals import NUMERAL, numeral
from triptych.catalog.records import PricePer, SoldAs, Tax

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
_LIST: Final = "the maker's price, beside another that is asked"
_LISTED_KEY: Final = re.compile(r"^(?:s?rrp|msrp|list(?: price)?|uvp|pvp|listino|adviesprijs)\b")
"""A label of the maker's own price."""
_FORMER: Final = "a former price, or what somebody paid"
_SOLD: Final = re.compile(
    r"\b(?:sold|available|verkauf\w*|erhaltlich|vendue?s?|vendid[oa]s?|vendut[oaie]|verkocht|"
    r"sprzedawan\w*) [^.,;()\d]{3,40}|"
    r"\b(?:einzeln|paarweise|singly|individually) (?:erhaltlich|verkauft|available|sold)"
)
"""How it is sold, told beside its price."""
_PRICE_OF: Final = re.compile(
    r"(?:price|preis|prix|prezzo|precio|prijs|cena)\W+(?:is )?(?:per|pro|par|por|za|a|je|la|le|del?|du|der)\b"
)
"""What a price is of, told where no amount stands: '(prijs per stuk)'."""
_UNLESS: Final = re.compile(
    r"\b(?:unless (?:otherwise )?(?:noted|stated|marked)|sauf (?:mention|indication)|sofern nicht|wenn nicht anders|"
    r"salvo (?:que|dove|indica|nota)|"
    r"tenzij|o ile nie)\b"
)
"""What holds of all prices that say nothing else: 'each unless noted'."""
_ROUNDED: Final = 0.005
"""By what share two amounts may miss the tax between them, as they are rounded; common practice, no source."""
_OF_SALE: Final = re.compile(r"(?:units? of sale|sales? units?|verkaufseinheit\w*|unite de vente|unidad de venta)")
"""What a price is for without saying which that is."""
_TWO: Final = re.compile(
    r"\b(?:2|two|zwei|deux|due|dos|twee|dwie) ?(?:szt|pcs|pc|st|stk|stuck|pz|pezzi|uds?|stuks?|pieces)\b\.?"
)
"""Two of them, which is a pair and not each."""
_ASK_PER: Final = "each or a pair?"


def read_price(entry: SheetEntry, draft: Draft) -> bool:
    """Note every amount of an entry with its terms; `settle` decides which is the price."""
    if entry.key and re.search(r"carriage|shipping|versand|porto", entry.key):
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
    for place, match in enumerate(found):
        start = found[place - 1].end() if place else 0
        end = found[place + 1].start() if place + 1 < len(found) else len(text)
        before, after = text[start : match.start()], text[match.end() : end]
        own = re.split(r"[,;|(]\s(?!la |a |par )|\s-\s", after)[0] if place + 1 < len(found) else after
        sign = _code(match["before"] or match["after"] or "", match["number"]) or _named(entry)
        yield ReadOffer(
            match["number"],
            sign,
            _per(before if place else "", own, entry),
            "what something else costs"
            if OTHER_GOODS.match(entry.value)
            else _aside(before if place else f"{entry.key} {before}", own),
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
    near = _STATED.split(re.split(r"[.;|]\s", before)[-1])[-1]
    if near.endswith("~~"):
        # as a page strikes it
        return _FORMER
    if re.search(r"^\s*(?:/|per|pro|a|al|par|por|im) ?(?:month|monat|mois|mese?|maand|mies)", after):
        return "an instalment"
    if LISTED_PRICE.search(near) or _LISTED_KEY.match(before):
        return _LIST
    if FORMER.search(near) or re.search(
        r"^\s*(?:when new|a l'epoque|last year|new\b|neu\b|at the outlet|back (?:in|then)|(?:de )?(?:port|frais|"
        r"shipping|versand|porto)\b)",
        after,
    ):
        return _FORMER
    return "what something else costs" if PASSING.search(near) or _DIFFERENCE.match(after) else None


def _today(before: str) -> bool:
    """Whether the words before an amount say that it is asked now."""
    return TODAY.search(re.split(r"[.;|]\s", before)[-1]) is not None


def _per(before: str, after: str, entry: SheetEntry) -> PricePer | None:
    for words in (
        re.split(r"[,;]\s", after)[0],
        after,
        before,
        f"{entry.key} {entry.value}" if not before else entry.key,
    ):
        pair, each = PAIR.search(words), EACH.search(_TWO.sub(" ", words))
        if bool(pair) != bool(each):
            return PricePer.PAIR if pair else PricePer.EACH
    return None


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


def settle(draft: Draft) -> None:
    """Take the one amount that is asked today; of a pair's and one's the first, of two others none."""
    asked = [offer for offer in draft.offers if offer.aside is None]
    asked = [offer for offer in asked if offer.today] or asked
    asked = _less_savings(asked, draft) or asked
    asked = asked or [offer for offer in draft.offers if offer.aside == _LIST]
    if not draft.offers:
        return
    if not asked:
        draft.refuse("price", draft.offers[0].aside or "", draft.offers[0].raw, "what does it cost today?")
        return
    amounts = {one.printed for one in asked}
    raw = " | ".join(dict.fromkeys(one.raw for one in asked))
    if (
        len(amounts) > 1
        and len({one.currency for one in asked}) == len(amounts)
        and None not in {one.currency for one in asked}
    ):
        _of_several_currencies(asked, draft, raw)
        return
    if len(amounts) > 1 and (before := _before_tax(asked, draft)) is not None:
        draft.put("tax", Tax.EXCLUDED, raw, ("the other amount is this with tax",), inferred=True)
        asked = [before]
    elif len(amounts) > 1 and not _told_apart(asked):
        draft.refuse("price", "more than one amount, so the price is not clear", raw, "what does one cost?")
        return
    beside = [one for one in draft.offers if one in asked or one.aside in (_LIST, _FORMER)]
    _put(asked[0], draft, [one for one in beside if one.printed != asked[0].printed])


def _before_tax(asked: Sequence[ReadOffer], draft: Draft) -> ReadOffer | None:
    """The first of two amounts in one cell, where the second is that with the tax that the sheet states."""
    rate, tax = draft.known("tax_rate"), draft.known("tax")
    if rate is None or len(asked) != 2 or asked[0].raw != asked[1].raw or tax is Tax.INCLUDED:
        return None
    low, high = (_amount(one.printed, _of_country(one.currency)) for one in asked)
    if low is None or high is None or abs(float(high) / float(low) - 1 - rate) > _ROUNDED:
        return None
    return asked[0]


def _less_savings(asked: Sequence[ReadOffer], draft: Draft) -> list[ReadOffer]:
    """The lower of two amounts, where the other less what is saved gives it."""
    values = {one.printed: _amount(one.printed, one.currency) for one in asked}
    for one in asked:
        for other in asked:
            low, high = values[one.printed], values[other.printed]
            if low is None or high is None or low >= high:
                continue
            for saved, share in draft.savings:
                left = high * (100 - saved) / 100 if share else high - saved
                if abs(left - low) <= (low / 100 if share else 0):
                    return [offer for offer in asked if offer.printed == one.printed]
    return []


def _of_several_currencies(asked: Sequence[ReadOffer], draft: Draft, raw: str) -> None:
    """Take the amount in the currency that a person says, and tell the others; where nobody does, ask."""
    code = draft.known("currency") if "currency" in draft.given else None
    said = next((offer for offer in asked if _of_country(offer.currency) == code), None)
    if said is not None:
        _put(said, draft, [offer for offer in asked if offer is not said])
        return
    codes = ", ".join(str(_of_country(offer.currency)) for offer in asked)
    why = f"more than one amount, in {codes}"
    draft.refuse("price", why, raw, f"{why}; say the currency, or what one costs")


def drop_terms(draft: Draft) -> None:
    """Leave out the terms of a price that is not known: without an amount they are about nothing."""
    if draft.known("price") is None:
        for column in {"tax", "tax_rate", "currency", "price_per"} - draft.given:
            draft.fields.pop(column, None)


def _told_apart(asked: Sequence[ReadOffer]) -> bool:
    """Whether two amounts are those of one and of a pair."""
    return len(asked) == 2 and {one.per for one in asked} == {PricePer.PAIR, PricePer.EACH}


def _put(offer: ReadOffer, draft: Draft, others: Sequence[ReadOffer]) -> None:
    code = _of_country(offer.currency)
    amount = _amount(offer.printed, code)
    if amount is None:
        draft.refuse("price", f"{offer.printed!r} is no price that can be read", offer.raw)
        return
    flags = [_also(one, offer) for one in others]
    draft.put("price", amount, offer.raw, flags)
    if code is None:
        draft.refuse("currency", "not stated", offer.raw, "in which currency is the price?")
    elif code != offer.currency:
        sign = "$" if code == "USD" else "¥"
        why = f"'{sign}' without a country; taken as {code}"
        draft.put("currency", code, offer.raw, (why,), inferred=True)
        draft.ask("currency", f"'{sign}' of which country?")
    else:
        draft.put("currency", code, offer.raw)
    per = offer.per or draft.per or _told_elsewhere(draft)
    if per is None and draft.known("sold_as") is SoldAs.PAIR and draft.fields["sold_as"].status is ReadStatus.READ:
        draft.put("price_per", PricePer.PAIR, offer.raw, ("sold in pairs, so taken for a pair's",), inferred=True)
    elif per is None:
        draft.refuse("price_per", "not stated", offer.raw, _ASK_PER)
    else:
        draft.put("price_per", per, offer.raw)
    if draft.known("tax") is None:
        draft.ask("tax", "is tax in the price?")


def _told_elsewhere(draft: Draft) -> PricePer | None:
    """What the price is of, as words away from its amount say."""
    sold = draft.fields.get("sold_as")
    if sold is None or not _PRICE_OF.search(folded(sold.raw)):
        return None
    return {SoldAs.PAIR: PricePer.PAIR, SoldAs.SINGLE: PricePer.EACH}.get(sold.value)


def _of_country(currency: str | None) -> str | None:
    """The currency that a sign without a country most often is."""
    return {"$": "USD", "¥": "CNY", "JPY?": "JPY"}.get(currency or "", currency)


def _also(one: ReadOffer, taken: ReadOffer) -> str:
    """What a flag tells of an amount that is not taken, and why."""
    per = f" {one.per.value}" if one.per else ""
    currency = f" {one.currency}" if one.currency and one.currency != taken.currency else ""
    return f"also stated: {one.printed}{currency}{per}{f', {one.aside}' if one.aside else ''}"


def _amount(printed: str, code: str | None) -> Decimal | None:
    """The amount; a mark before three digits stands for thousands, for no money has three decimals here."""
    amounts = [amount for amount in numeral(printed) if 0 < amount <= HIGHEST_PRICE]
    if re.search(r"[.,]\d{3}$", printed):
        amounts = [amount for amount in amounts if amount == int(amount) and amount >= 1000]
    known = [amount for amount in amounts if not finer_than_money(amount, code)]
    return known[0] if len(known) == 1 else None


def _sold_by(text: str) -> tuple[bool, bool]:
    """Whether words say that a pair is sold, and that one is."""
    pair = PAIR.search(text) or re.search(r"paarweise|par paire|a coppie|por parejas|in pairs", text)
    single = EACH.search(_TWO.sub(" ", text)) or re.search(
        r"singly|individually|einzeln|separat|singol|per one|stuksgewijs", text
    )
    return bool(pair), bool(single)


def read_sold(entry: SheetEntry, draft: Draft) -> bool:
    """Take the smallest quantity sold."""
    if LEGEND.search(entry.value) or _OF_SALE.search(entry.value):
        return False
    pair, single = _sold_by(entry.value)
    if not pair and not single:
        pair, single = _sold_by(entry.key)
    if not pair and not single:
        return False
    sold = SoldAs.EITHER if pair and single else SoldAs.PAIR if pair else SoldAs.SINGLE
    draft.put("sold_as", sold, entry.raw)
    return True
