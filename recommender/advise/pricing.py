"""Prices of the catalogue for the lines of a budget that name a loudspeaker and no price."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any, Final

from sqlalchemy.orm import Session

from triptych.catalog.database import reads
from triptych.catalog.database.equipment_rows import equipment_named
from triptych.catalog.database.rows import name_key
from triptych.catalog.equipment_record import EquipmentRecord
from triptych.catalog.errors import NotFound
from triptych.catalog.money import in_words
from triptych.catalog.records import LoudspeakerRecord, PricePer, Role, SoldAs, Tax
from triptych.catalog.words import SaleUnit
from triptych.recommender.advise.equipping import EQUIPPED, pieces_named
from triptych.recommender.money.budget.errors import BadBudget
from triptych.recommender.money.budget.figures import whole

Row = Mapping[str, Any]


def with_catalogue_prices(session: Session, data: Row) -> tuple[dict[str, Any], tuple[str, ...]]:
    """The TOML of a budget with the prices that the catalogue knows filled in, and what was filled in, in words.

    A price that a line states stands. A line that names no loudspeaker of the catalogue stays as it is.

    Raises
    ------
    BadBudget
        The loudspeaker of a line that needs a price has none in the catalogue, or is sold in pairs only.
    NotFound
        A line has neither a price nor a loudspeaker that the catalogue knows; the nearest names are told.
    """
    lines = data.get("line", [])
    if not isinstance(lines, list) or not all(isinstance(row, Mapping) for row in lines):
        return dict(data), ()
    known, pieces = named(session, lines), pieces_named(session, lines)
    filled: list[Row] = []
    notes: list[str] = []
    for at, row in enumerate(lines, start=1):
        where = f"line {at} ({row.get('role', 'no role')})"
        piece = pieces.get(name_key(str(row.get("item") or "")))
        if piece is not None and row.get("price") is None:
            filled.append(_equipped(row, piece, where, notes))
        else:
            filled.append(_filled(session, row, where, known, notes))
    return {**data, "line": filled}, tuple(notes)


def named(session: Session, lines: Iterable[Row]) -> dict[str, reads.Stored]:
    """The loudspeakers that lines name as their item, by the key of their names."""
    return reads.stored_by_key(session, {name_key(str(row["item"])) for row in lines if row.get("item")})


def _filled(session: Session, row: Row, where: str, known: Mapping[str, reads.Stored], notes: list[str]) -> Row:
    item = row.get("item")
    if item and str(row.get("role", "")).strip().casefold() in _MAINS:
        _refuse_other_role(known.get(name_key(str(item))), where)
    found = known.get(name_key(str(item))) if item else None
    if row.get("price") is not None or not item:
        _refuse_untold_pair(row, found, where)
        return row
    if found is None:
        if not row.get("owned", False):
            _refuse_unknown(session, str(item), where, str(row.get("role", "")).strip().casefold() in EQUIPPED)
        return row
    if found.record.price is None:
        if row.get("owned", False):
            return row
        raise BadBudget(f"{where}: {found.record.name} has no price in the catalogue; state one on the line")
    boxes, owned = _boxes(row, found.record, where), row.get("owned", False) is True
    counted = _counted(row, found.record, boxes)
    notes.append(f"{where} takes its price from the catalogue: {price_words(found.record)}{counted}")
    return {**row, **price_keys(found.record, boxes, where, owned=owned)}


def _equipped(row: Row, piece: EquipmentRecord, where: str, notes: list[str]) -> Row:
    """A line that names equipment, with its price."""
    if piece.price is None:
        if row.get("owned", False):
            return row
        raise BadBudget(f"{where}: {piece.name} has no price in the catalogue; state one on the line")
    unit = piece.price_per or SaleUnit.EACH
    count = whole(row.get("quantity", 1), f"{where}: quantity")
    per = str(row.get("per", unit.value)).strip().lower()
    keys: dict[str, Any] = {"price": piece.price, "per": "each", "quantity": count}
    if unit is SaleUnit.PAIR:
        boxes = count * (2 if per == "pair" else 1)
        if boxes % 2:
            raise BadBudget(f"{where}: {piece.name} is sold in pairs only; a quantity of {boxes} cannot be bought")
        keys |= {"per": "pair", "quantity": boxes // 2}
    elif per == "pair":
        keys["quantity"] = 2 * count
    notes.append(f"{where} takes its price from the catalogue: {piece_price_words(piece)}")
    return {**row, **keys, **_currency_and_tax(piece)}


def _asked(price: Decimal | None, currency: str | None) -> str:
    return f"{price} in a currency not told" if price is None or currency is None else in_words(price, currency)


def piece_price_words(piece: EquipmentRecord) -> str:
    """The price of a piece of equipment in the catalogue, with all that is known of it."""
    per = {SaleUnit.PAIR: " a pair", SaleUnit.METRE: " a metre"}.get(piece.price_per or SaleUnit.EACH, " each")
    return f"{_asked(piece.price, piece.currency)}{per}{_TAX_WORDS[piece.tax]}"


_MAINS: Final = ("mains", "main")
_CENTRE: Final = ("centre", "center")


def _refuse_other_role(found: reads.Stored | None, where: str) -> None:
    if found is not None and Role.MAIN not in found.record.roles:
        raise BadBudget(f"{where}: {not_a_main(found.record.name, [role.value for role in found.record.roles])}")


def _refuse_untold_pair(row: Row, found: reads.Stored | None, where: str) -> None:
    """Refuse a price on a line that could be of one or of a pair, of what is sold in pairs."""
    sold = None if found is None else found.record.sold_as
    if found is not None and sold is SoldAs.PAIR and "per" not in row and row.get("owned", False) is not True:
        raise BadBudget(
            f"{where}: {found.record.name} is sold in pairs, and nothing says what its price buys: write per = 'pair', "
            "or 'each' with a quantity of boxes"
        )


def not_a_main(name: str, roles: Iterable[str]) -> str:
    """Say that a loudspeaker is not offered as a main, and how to offer it."""
    now = sorted(roles)
    return (
        f"{name} is offered as {' and '.join(now)}, not as a main; name other mains, or, if it serves as one, "
        f"triptych speaker edit '{name}' --set 'roles={';'.join(['main', *now])}'"
    )


def _refuse_unknown(session: Session, item: str, where: str, equipped: bool) -> None:
    try:
        if equipped:
            equipment_named(session, item)
        reads.stored(session, item)
    except NotFound as problem:
        raise NotFound(
            f"{where}: price is missing, and {problem}; state the price, or name it as it is there"
        ) from None


def _boxes(row: Row, record: LoudspeakerRecord, where: str) -> int:
    """How many boxes a line holds; where it does not say of what its quantity is, of what the catalogue prices.

    A centre is one, where nothing is said.
    """
    if str(row.get("role", "")).strip().casefold() in _CENTRE and "quantity" not in row and "per" not in row:
        return 1
    quantity = whole(row.get("quantity", 1), f"{where}: quantity")
    per = str(row.get("per", record.price_per.value if record.price_per else "each")).strip().lower()
    return quantity * (2 if per == "pair" else 1)


def _counted(row: Row, record: LoudspeakerRecord, boxes: int) -> str:
    """Say how many boxes a quantity of pairs is, where it is not said that it is one of pairs."""
    if record.price_per is not PricePer.PAIR or "per" in row or boxes == 2 or boxes % 2:
        return ""
    return f"; its quantity counts pairs, which makes {boxes} boxes: write per = 'each' where it counts boxes"


def price_keys(record: LoudspeakerRecord, boxes: int, where: str, *, owned: bool = False) -> dict[str, Any]:
    """The keys of a line for so many boxes at their price in the catalogue.

    Raises
    ------
    BadBudget
        It is sold in pairs only, and the number of boxes is odd; what is owned need not be bought.
    """
    if record.price is not None and record.price_per is None and record.sold_as is SoldAs.PAIR:
        raise BadBudget(
            f"{where}: {record.name} is sold in pairs, and the catalogue doesn't say whether its price is of each or "
            f"of a pair: triptych speaker edit '{record.name}' --set price_per=pair, or each"
        )
    price = record.price if record.price is not None else Decimal(0)
    keys: dict[str, Any] = {"price": price, "per": "each", "quantity": boxes, "pieces": boxes}
    if boxes % 2 and record.sold_as is SoldAs.PAIR and not owned:
        raise BadBudget(f"{where}: {record.name} is sold in pairs only; a quantity of {boxes} cannot be bought")
    if record.price_per is PricePer.PAIR:
        keys |= {"price": price / 2} if boxes % 2 else {"per": "pair", "quantity": boxes // 2}
    return keys | _currency_and_tax(record)


def _currency_and_tax(record: LoudspeakerRecord | EquipmentRecord) -> dict[str, Any]:
    keys: dict[str, Any] = {"currency": record.currency} if record.currency else {}
    keys |= {"tax_included": record.tax is Tax.INCLUDED} if record.tax else {}
    return keys | ({"tax_rate": Decimal(str(record.tax_rate))} if record.tax_rate is not None else {})


def price_words(record: LoudspeakerRecord) -> str:
    """The price of a loudspeaker in the catalogue, with all that is known of it."""
    per = f" a {record.price_per.value}" if record.price_per is PricePer.PAIR else " each"
    return f"{_asked(record.price, record.currency)}{per}{_TAX_WORDS[record.tax]}"


_TAX_WORDS: Final = {Tax.INCLUDED: ", tax included", Tax.EXCLUDED: ", before tax", None: ", tax not told"}
