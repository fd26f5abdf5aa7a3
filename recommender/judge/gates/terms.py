"""Can it be had, for the money, and is the place safe for it? Money, supply, hazard."""

from __future__ import annotations

from typing import Final

import numpy as np

from triptych.recommender.judge.gates.fit import PLAIN_PLASTERBOARD, SLACK
from triptych.recommender.judge.verdicts import Case, GateVerdicts, Verdict, judge
from triptych.recommender.scene.arrays import BoolArray, Boxes, FloatArray, Life, PlaceFigures, Purse, Sold


def comparable_price(boxes: Boxes, purse: Purse) -> FloatArray:
    """Each price on the tax basis of the cap; NaN where the price, or a rate that is needed, isn't known.

    A price of which nobody said whether tax is in it is taken on the cap's own basis.
    """
    rate = np.where(np.isnan(boxes.tax_rate), purse.tax_rate, boxes.tax_rate) / 100
    if purse.tax_included:
        return np.where(boxes.price_taxed == 0, boxes.price * (1 + rate), boxes.price)
    return np.where(boxes.price_taxed == 1, boxes.price / (1 + rate), boxes.price)


def money(boxes: Boxes, purse: Purse) -> GateVerdicts:
    """The price of one centre against the cap, both on the cap's tax basis; the margin is what is left of it."""
    price = comparable_price(boxes, purse)
    basis = "tax included" if purse.tax_included else "before tax"
    foreign = (boxes.currency != purse.currency) & (purse.currency >= 0) & (boxes.currency >= 0)
    margin = purse.cap - price
    unrated = np.isnan(price)
    # tax can only add to a price without it, so one that is over the cap before tax is over it after
    # and one that is within a cap before tax with its tax in it is within it without
    under_anyway = unrated & (not purse.tax_included) & (boxes.price <= purse.cap + SLACK)
    over_anyway = unrated & purse.tax_included & (boxes.price > purse.cap + SLACK)
    no_tax, no_currency = boxes.price_taxed < 0, boxes.currency < 0
    return judge(
        "money", "currency", margin,
        [
            (bool(np.isnan(purse.cap)), Case(Verdict.PASS, "no cap was set")),
            (np.isnan(boxes.price),
             Case(Verdict.UNKNOWN, "no price is on file", "What does one cost, and is tax in that?")),
            (foreign, Case(Verdict.UNKNOWN, "its price is in another currency than the cap",
                           "What does one cost in the currency of the cap?")),
            (over_anyway, Case(Verdict.FAIL, "{stated:.2f} before tax is over the cap of {cap:.2f} already")),
            (under_anyway, Case(Verdict.PASS, "{stated:.2f} with tax in it is within the cap of {cap:.2f} before tax")),
            (unrated, Case(Verdict.UNKNOWN, "the rate of tax for its price isn't known",
                           "At what rate is its price of {stated:.2f} taxed?")),
            (margin < -SLACK,
             Case(Verdict.FAIL, f"{{price:.2f}} is {{over:.2f}} over the cap of {{cap:.2f}}, {basis}")),
            (no_tax & no_currency,
             Case(Verdict.CONDITIONAL, f"{{price:.2f}} of {{cap:.2f}}, if it is in the cap's currency and {basis}",
                  "In which currency is its price, and is tax in it?", "dearer")),
            (no_tax,
             Case(Verdict.CONDITIONAL, f"{{price:.2f}} of {{cap:.2f}}, if it is {basis}",
                  "Is tax in its price?", "dearer")),
            (no_currency,
             Case(Verdict.CONDITIONAL, f"{{price:.2f}} of {{cap:.2f}}, {basis}, if it is in the cap's currency",
                  "In which currency is its price?", "dearer")),
            (True, Case(Verdict.PASS, f"{{price:.2f}} of {{cap:.2f}}, {basis}")),
        ],
        price=price, stated=boxes.price, cap=purse.cap, over=-margin,
        dearer=np.where(_over_with_tax(boxes, price, purse), ANOTHER_BASIS, 0.0),
    )  # fmt: skip


ANOTHER_BASIS: Final = 0.2
"""How often a price of which nobody said so is before tax where the cap has it in [1]. Common practice, no source."""

USUAL_TAX: Final = 20.0
"""A rate of tax where none is stated [%]. Common practice: 19 to 25 in most of Europe."""


def open_tax(boxes: Boxes, purse: Purse) -> FloatArray:
    """The part of each price that may come on top as tax, where the cap has it in and nobody said that it is in [1]."""
    rate = np.where(np.isnan(boxes.tax_rate), USUAL_TAX, boxes.tax_rate) / 100
    return np.where((boxes.price_taxed < 0) & purse.tax_included, rate, 0.0)


def _over_with_tax(boxes: Boxes, price: FloatArray, purse: Purse) -> BoolArray:
    """Whether a price would be over the cap if tax came on top of it, where nobody said that it is in."""
    return price * (1 + open_tax(boxes, purse)) > np.maximum(price, purse.cap)


def supply(boxes: Boxes, in_stock: bool) -> GateVerdicts:
    """Whether one can be bought, and whether one can be promised where that was asked; the margin is in units."""
    available = boxes.available
    gone = boxes.life == Life.DISCONTINUED
    return judge(
        "supply", "units", available,
        [
            (in_stock & ~(available >= 1),
             Case(Verdict.FAIL, "no new one in stock that could be promised now")),
            (boxes.sold == Sold.PAIR,
             Case(Verdict.FAIL, "sold in pairs only, not singly: ask the dealer for a single one")),
            (gone & ~(available >= 1),
             Case(Verdict.CONDITIONAL, "discontinued, no new one in stock: used or ex-display only", fails="not_had")),
            (gone, Case(Verdict.CONDITIONAL, "discontinued: {available:.0f} left in stock, no more to come")),
            (boxes.life == Life.LAST_OF_LINE, Case(Verdict.CONDITIONAL, "last of its line: no more to come")),
            ((boxes.sold == Sold.UNKNOWN) & boxes.usually_pairs,
             Case(Verdict.CONDITIONAL, "whether one is sold singly isn't stated: mains usually come in pairs",
                  "Is one sold singly?", "pairs_only")),
            (available >= 1, Case(Verdict.PASS, "{available:.0f} in stock to promise")),
            (boxes.sold == Sold.UNKNOWN,
             Case(Verdict.PASS, "how it is sold isn't stated; centres come singly; stock wasn't asked for")),
            (True, Case(Verdict.PASS, "sold singly; stock wasn't asked for")),
        ],
        available=available, not_had=NOT_HAD, pairs_only=PAIRS_ONLY,
    )  # fmt: skip


NOT_HAD: Final = 0.5
"""How often a discontinued model can't be found any more [1]. Common practice, no source."""

PAIRS_ONLY: Final = 0.6
"""How often a main of which nobody said how it is sold comes in pairs only [1]. Common practice, no source."""


def hazard(boxes: Boxes, place: PlaceFigures) -> GateVerdicts:
    """Heat, and what a wall is made of: *unknown* until a person has answered."""
    on_wall = place.kind == "wall"
    spare = PLAIN_PLASTERBOARD - boxes.weight
    return judge(
        "hazard", "kg", np.where(on_wall & (place.wall == "plasterboard"), spare, np.nan),
        [
            (place.hot != "no", Case(Verdict.UNKNOWN, "the place gets hot, or may",
                                    "How warm does it get there in use, and what does the loudspeaker's manual "
                                    "allow?")),
            (not on_wall, Case(Verdict.PASS, "no heat and no wall fixing")),
            (place.wall in ("", "unknown"), Case(Verdict.UNKNOWN, "what the wall is made of isn't known",
                                                "Is the wall masonry, stud, or plasterboard alone?")),
            ((place.wall == "plasterboard") & ~(spare >= 0),
             Case(Verdict.UNKNOWN, f"plain plasterboard bears {PLAIN_PLASTERBOARD} kg at most",
                  "Is there a stud, a noggin or masonry behind the plasterboard to fix the mount to?")),
            (place.wall == "plasterboard",
             Case(Verdict.PASS, f"{{weight:.1f}} kg: plain plasterboard bears up to {PLAIN_PLASTERBOARD} kg, with "
                                "fixings made for it")),
            (place.wall == "stud", Case(Verdict.CONDITIONAL, "fix the mount into the studs, not the board")),
            (True, Case(Verdict.PASS, "a wall that bears it, with fixings made for it")),
        ],
        weight=boxes.weight,
    )  # fmt: skip
