"""A quote as a page to print and hand over: what is offered at what price, until when; nothing of what it costs us."""

from __future__ import annotations

from decimal import Decimal
from html import escape
from typing import Final

from triptych.catalog.money import in_words
from triptych.catalog.stock.quote_reading import Offer, Quoted
from triptych.catalog.stock.timing import until_words, zone_of

_STYLE: Final = """
@page { size: A4; margin: 18mm }
body { font: 11pt/1.45 sans-serif; color: #222; max-width: 178mm; margin: 0 auto }
h1 { font-size: 20pt; font-weight: 600; margin: 0 0 2mm }
table { border-collapse: collapse; width: 100%; margin: 8mm 0 4mm }
th { text-align: left; font-weight: 600; border-bottom: 1.5pt solid #222 }
td { border-bottom: .5pt solid #aaa; vertical-align: top }
th, td { padding: 1.6mm 2mm 1.6mm 0 }
.number { text-align: right; white-space: nowrap }
.sum td { border: 0; font-weight: 600 }
s { color: #777 }
p { margin: 0 0 1.5mm }
@media screen { body { padding: 4mm } }
@media screen and (max-width: 40rem) { th, td { font-size: 9pt } .number { white-space: normal } }
"""

_HEADS: Final = ("Loudspeaker", "Finish", "Condition", "Quantity", "Price", "Total")


def quote_page(offer: Offer) -> str:
    """Give the page of a quote, one self-contained file, with its prices before and after a discount."""
    conditions = any(line.grade != "new" for line in offer.lines)
    shown = [head for head in _HEADS if head != "Condition" or conditions]
    numbers = ("Quantity", "Price", "Total")
    heads = "".join(f"<th{_side(head in numbers)}>{head}</th>" for head in shown)
    body = "".join(_line(line, offer.currency, conditions=conditions) for line in offer.lines)
    until = (
        "This quote has lapsed."
        if offer.state == "lapsed"
        else f"These prices hold until {until_words(offer.until, offer.zone)}."
    )
    made = offer.made_at.astimezone(zone_of(offer.zone))
    facts = (f"For {offer.job}", f"{made.day} {made:%B %Y}", until, offer.note or "", *_tax(offer))
    told = "".join(f"<p>{escape(fact)}</p>" for fact in facts if fact)
    total = f'<tr class="sum"><td colspan="{len(shown) - 1}">Total</td>{_money(offer.total, offer.currency)}</tr>'
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width"><title>Quote {offer.number}</title>'
        f"<style>{_STYLE}</style></head>\n<body><h1>Quote {offer.number}</h1>{told}\n"
        f"<table><thead><tr>{heads}</tr></thead><tbody>{body}{total}</tbody></table>\n</body></html>\n"
    )


def _side(right: bool) -> str:
    return ' class="number"' if right else ""


def _money(amount: Decimal, currency: str, before: str = "") -> str:
    return f'<td class="number">{before}{in_words(amount, currency)}</td>'


def _line(line: Quoted, currency: str, *, conditions: bool) -> str:
    condition = f"<td>{line.grade.replace('_', ' ')}</td>" if conditions else ""
    before = ""
    if line.full_price is not None and line.discount is not None:
        before = f"<s>{in_words(line.full_price, currency)}</s> less {line.discount:g} %<br>"
    per = line.per if line.per == "each" else f"per {line.per}"
    price = f'<td class="number">{before}{in_words(line.price, currency)}<br>{per}</td>'
    out = f"<br>{line.gone_words}" if line.gone_words else ""
    words = f"<td>{escape(line.speaker)}{out}</td><td>{escape(line.finish or '')}</td>{condition}"
    return f'<tr>{words}<td class="number">{line.quantity}</td>{price}{_money(line.total, currency)}</tr>'


def _tax(offer: Offer) -> list[str]:
    """Say what the prices are with tax or without; nothing where no line says so."""
    told = []
    for tax, words in (("included", "include"), ("excluded", "do not include")):
        rates = sorted({line.tax_rate for line in offer.lines if line.tax == tax and line.tax_rate is not None})
        if any(line.tax == tax for line in offer.lines):
            some = "" if all(line.tax == tax for line in offer.lines) else "Some "
            rate = f" of {' and '.join(f'{one:g} %' for one in rates)}" if rates else ""
            told.append(f"{some}{'prices' if some else 'Prices'} {words} tax{rate}.")
    return told
