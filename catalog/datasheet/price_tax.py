"""Tax: whether a price has it in, and at which rate."""

from __future__ import annotations

import re
from typing import Final

from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.errors import UnreadableQuantity
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.numbers import read
from triptych.catalog.records import Tax

_INCLUDED: Final = re.compile(
    r"incl\w*\.? ?(?:\w+ ?%? ?)?(?:of )?(?:tax|vat|mwst|mehrwert|gst|btw|ust|sales tax|taxes)|"
    r"inkl\w*\.? ?(?:der |ges\w*\.? )*(?:\d+(?:[.,]\d+)? ?% ?)?(?:mwst|ust|mehrwert|steuer)|\bttc\b|"
    r"iva ?(?:\d+ ?% ?)?(?:incl|compr|inc)|incl\w*\.? ?(?:\d+ ?% ?)?(?:iva|tva|vat|btw)|\bbrutto\b|\b(?:z|"
    r"w tym) vat\b|"
    r"(?:einschlie(?:ss|ß)lich|einschl\.?) (?:der |ges\w*\.? )*(?:\d+(?:[.,]\d+)? ?% ?)?(?:mwst|ust|mehrwert|steuer)|"
    r"\bzawieraj?\w* (?:\d+ ?% ?)?vat|"
    r"\biva c(?:omp\w*)?\.?(?= |$)|\b(?:c/ ?iva|con iva|avec tva|mit mwst|met btw|with vat)\b|"
    r"tax in\b|tax included|vat included|\binc\.? (?:vat|gst|tax)|btw inbegrepen|toutes taxes|tva comprise|ivato"
)
_EXCLUDED: Final = re.compile(
    r"\b(?:not|non|nicht|ne|niet|nie) (?:incl\w*|enthalt\w*|compr\w*|inbegrepen|zawier\w*) "
    r"(?:(?:the |die |la |l'|el )?\d* ?%? ?)(?:(?:sales |consumption )?tax|vat|mwst|gst|btw|ust|iva|tva)|"
    r"(?:tax|vat|mwst|gst|btw|ust|iva|tva) (?:\(?\d+(?:[.,]\d+)? ?%\)? )?(?:(?:is|ist|est|es|e) )?"
    r"(?:no[nt]?|nicht|niet|nie) (?:incl|compr|enth|"
    r"inbegr)|"
    r"excl\w*\.? ?(?:of )?(?:\d+(?:[.,]\d+)? ?% ?)?(?:tax|vat|mwst|gst|btw|ust|sales tax|taxes|iva|tva)|"
    r"(?:exkl\w*|zzgl|zuzuglich)\.? ?(?:der |ges\w*\.? )*(?:\d+(?:[.,]\d+)? ?% ?)?(?:mwst|ust|mehrwert|steuer)|"
    r"\bht\b|hors (?:taxes?|tva)|iva ?(?:al )?(?:\d+ ?% ?)?escl|tax extra|\bs/iva|bez vat|vat [^.]*to be added|"
    r"\b(?:sin|mas|senza|piu) iva|\bs\.? ?iva|\bno (?:vat|tax)\b|\bohne (?:mwst|ust)|\b(?:sans|hors) t\.?v\.?a|"
    r"\bzonder btw|"
    r"ex\.? ?(?:vat|gst|tax|btw)|(?:\+|plus) ?(?:\d+(?:[.,]\d+)? ?% ?)?(?:vat|iva|tva|mwst|btw|"
    r"(?:sales )?tax)|\bnetto\b|before (?:sales )?tax|"
    r"tax (?:is )?extra|"
    r"without tax|ohne mwst"
)
TRADE: Final = re.compile(
    r"\b(?:trade|dealers?|h?ek|handler\w*|haendler\w*|inkoop\w*|wholesale|prix ht|map|hors taxes?|rivenditor\w*|"
    r"distribu\w*|hurt\w*|cost price|your cost|net(?:to)? (?:price|preis\w*|prijs)|(?:price|preis|prijs) net(?:to)?|"
    r"ex\.? ?vat|excl?\.? ?vat|achat|einkauf\w*|compra|acquisto|zakup\w*|purchase|grossist\w*|grosshandel\w*|"
    r"revendeur\w*|"
    r"mayorista|reseller\w*|zakupu)\b|^(?:ht|net|netto|cost|dnp|wsp|hap|(?:prix )?net ht|h\.t\.)(?! \w)"
)
"""Words of what the trade pays, which is no price of a loudspeaker here."""
RATE: Final = re.compile(r"(?<![\d.,])(\d{1,2}(?:[.,]\d{1,3})?) ?%")
_TAXED: Final = re.compile(r"\b(?:(?:sales|consumption) tax|vat|mwst|ust|tva|iva|btw|mehrwertsteuer)\b")
_DISCOUNT: Final = re.compile(r"-\s?$|rabat|save|ahorra|deposit|sconto|remise|korting")
_NEAR: Final = 12
"""How near behind a share the word for what it is of stands; tried, no source. [characters]."""


def put_tax(entry: SheetEntry, draft: Draft) -> None:
    """Take whether tax is in the price, and its rate."""
    text = entry.text
    excluded, included = _EXCLUDED.search(text), _INCLUDED.search(_EXCLUDED.sub(" ", text))
    if excluded and included:
        # 'trade net plus VAT, RRP with VAT': the trade's is nothing to a shopper
        text = ", ".join(clause for clause in re.split(r"[,;]\s|\s/\s", text) if not TRADE.search(clause))
        excluded, included = _EXCLUDED.search(text), _INCLUDED.search(_EXCLUDED.sub(" ", text))
    if bool(excluded) != bool(included):
        draft.put("tax", Tax.EXCLUDED if excluded else Tax.INCLUDED, entry.raw)
    elif not excluded and not _TAXED.search(entry.text):
        return
    for rate in RATE.finditer(entry.text):
        percent = _percent(rate[0])
        around = (entry.text[: rate.start()], entry.text[rate.end() : rate.end() + _NEAR])
        if percent is not None and not any(map(_DISCOUNT.search, around)):
            draft.put("tax_rate", percent, entry.raw)
            return


def tax_of(small: str) -> Tax | None:
    """Return whether a label says that a price has tax in, or that it has not; None where it says neither or both.

    >>> tax_of("sin iva"), tax_of("uvp brutto"), tax_of("prezzo")
    (<Tax.EXCLUDED: 'excluded'>, <Tax.INCLUDED: 'included'>, None)
    """
    excluded, included = _EXCLUDED.search(small), _INCLUDED.search(_EXCLUDED.sub(" ", small))
    return None if bool(excluded) == bool(included) else Tax.EXCLUDED if excluded else Tax.INCLUDED


def tax_span(small: str) -> tuple[int, int] | None:
    """Return where a folded sentence says whether prices have tax in, where it says one of both.

    >>> tax_span("prices incl. 20% vat, centres each")
    (7, 20)
    """
    if tax_of(small) is None:
        return None
    found = _EXCLUDED.search(small) or _INCLUDED.search(small)
    return found.span() if found else None


def tax_in(small: str) -> Tax | None:
    """Return whether a sentence without an amount of money says that prices have tax in or not."""
    money = re.search(r"[€£$¥] ?\d|\d ?(?:[€£$¥]|eur|zl\b|usd|chf|pln)", small)
    # 'netto' alone may be a weight's
    if money or not (
        _TAXED.search(small) or re.search(r"\btax|taxes?\b|steuer|pri[cxj]|preis|prezz|precio|cen[ay]\b", small)
    ):
        return None
    return tax_of(small)


def _percent(text: str) -> float | None:
    try:
        return read(text, LOUDSPEAKER["tax_rate"])
    except UnreadableQuantity:
        return None
