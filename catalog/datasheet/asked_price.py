"""Which of several amounts of money is the price: what is asked today, in what currency and of what."""

from __future__ import annotations

import re
from collections.abc import Sequence
from decimal import Decimal
from typing import Final

from triptych.catalog.datasheet.draft import Draft, ReadOffer
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.result import ReadStatus
from triptych.catalog.money import HIGHEST_PRICE, finer_than_money
from triptych.catalog.numerals import numeral
from triptych.catalog.records import PricePer, SoldAs, Tax

LIST: Final = "the maker's price, beside another that is asked"
FORMER_PRICE: Final = "a former price, or what somebody paid"
_PRICE_OF: Final = re.compile(
    r"(?:price|preis|prix|prezzo|precio|prijs|cena)\W+(?:is )?(?:per|pro|par|por|za|a|je|la|le|del?|du|der)\b"
)
"""What a price is of, told where no amount stands: '(prijs per stuk)'."""
_ROUNDED: Final = 0.005
"""By what share two amounts may miss the tax between them, as they are rounded; common practice, no source."""
_ASK_PER: Final = "each or a pair?"


def settle(draft: Draft) -> None:
    """Take the one amount that is asked today; of a pair's and one's the first, of two others none."""
    asked = [offer for offer in draft.offers if offer.aside is None]
    asked = [offer for offer in asked if offer.today] or asked
    asked = _less_savings(asked, draft) or asked
    asked = _not_halves(asked, draft) or asked
    asked = asked or [offer for offer in draft.offers if offer.aside == LIST]
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
    beside = [one for one in draft.offers if one in asked or one.aside in (LIST, FORMER_PRICE)]
    _put(asked[0], draft, [one for one in beside if one.printed != asked[0].printed])


def _before_tax(asked: Sequence[ReadOffer], draft: Draft) -> ReadOffer | None:
    """The first of two amounts in one cell, where the second is that with the tax that the sheet states."""
    rate, tax = draft.known("tax_rate"), draft.known("tax")
    if rate is None or len(asked) != 2 or asked[0].raw != asked[1].raw or tax is Tax.INCLUDED:
        return None
    low, high = (_amount(one.printed, _of_country(one.currency)) for one in asked)
    if low is None or high is None or abs(float(high) / float(low) - 1 - rate / 100) > _ROUNDED:
        return None
    return asked[0]


def _not_halves(asked: Sequence[ReadOffer], draft: Draft) -> list[ReadOffer]:
    """The amounts that are no half of a pair's former or listed price: '4 998 (2 499 each)'."""
    beside = [_amount(one.printed, one.currency) for one in draft.offers if one.aside in (LIST, FORMER_PRICE)]
    halves = {amount / 2 for amount in beside if amount is not None}
    each = [one for one in asked if one.per is PricePer.EACH and _amount(one.printed, one.currency) in halves]
    return [one for one in asked if one not in each]


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
