"""What one unit cost, where what was paid may have bought a pair."""

from __future__ import annotations

from sqlalchemy.orm import Session

from triptych.catalog.errors import BadInput
from triptych.catalog.records import PricePer
from triptych.catalog.stock.articles import Model, model_named


def cost_of_one(session: Session, speaker: str, amount: int, per: PricePer | None, *, single: bool) -> int:
    """What one unit cost, in minor units, of what an amount bought each or a pair of.

    Raises
    ------
    BadInput
        It is sold in pairs, and it isn't said what the amount bought.
    NotFound
        No loudspeaker has that name.
    """
    return of_one(amount, bought(model_named(session, speaker), per, single=single))


def bought(model: Model, per: PricePer | None, *, single: bool = False) -> PricePer:
    """What an amount buys of a loudspeaker: each, where nobody says more of what is no pair.

    Raises
    ------
    BadInput
        It is sold in pairs, and it isn't said.
    """
    if per is None and model.pack == 2 and not single:
        raise BadInput(f"{model.name} is sold in pairs, and it isn't said what the amount buys: say --per pair or each")
    return per or PricePer.EACH


def of_one(amount: int, per: PricePer) -> int:
    """What one of them takes, the next minor unit up."""
    return amount if per is PricePer.EACH else (amount + 1) // 2
