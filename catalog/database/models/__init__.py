"""The tables of the catalogue. Units stand in each column's `info`; unknown is NULL.

A table's module is imported when the table is first asked for here: most commands need few of them.
"""

from __future__ import annotations

from functools import cache
from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

from triptych.catalog.database.models.base import Base

if TYPE_CHECKING:
    import sqlalchemy as sa

    from triptych.catalog.database.models.check_tables import AsBuilt as AsBuilt
    from triptych.catalog.database.models.check_tables import AsBuiltCurve as AsBuiltCurve
    from triptych.catalog.database.models.check_tables import Channel as Channel
    from triptych.catalog.database.models.curve_tables import Curve as Curve
    from triptych.catalog.database.models.equipment_tables import Equipment as Equipment
    from triptych.catalog.database.models.ledger_tables import Grade as Grade
    from triptych.catalog.database.models.ledger_tables import Holding as Holding
    from triptych.catalog.database.models.ledger_tables import Job as Job
    from triptych.catalog.database.models.ledger_tables import LedgerEnd as LedgerEnd
    from triptych.catalog.database.models.ledger_tables import Location as Location
    from triptych.catalog.database.models.ledger_tables import Movement as Movement
    from triptych.catalog.database.models.ledger_tables import MovementKind as MovementKind
    from triptych.catalog.database.models.ledger_tables import Reservation as Reservation
    from triptych.catalog.database.models.loudspeaker_tables import AcousticProfile as AcousticProfile
    from triptych.catalog.database.models.loudspeaker_tables import Crossover as Crossover
    from triptych.catalog.database.models.loudspeaker_tables import Driver as Driver
    from triptych.catalog.database.models.loudspeaker_tables import DriverKind as DriverKind
    from triptych.catalog.database.models.loudspeaker_tables import Family as Family
    from triptych.catalog.database.models.loudspeaker_tables import Loudspeaker as Loudspeaker
    from triptych.catalog.database.models.loudspeaker_tables import LoudspeakerRole as LoudspeakerRole
    from triptych.catalog.database.models.loudspeaker_tables import Maker as Maker
    from triptych.catalog.database.models.loudspeaker_tables import Price as Price
    from triptych.catalog.database.models.loudspeaker_tables import Provenance as Provenance
    from triptych.catalog.database.models.loudspeaker_tables import Series as Series
    from triptych.catalog.database.models.loudspeaker_tables import Source as Source
    from triptych.catalog.database.models.room_tables import Brief as Brief
    from triptych.catalog.database.models.room_tables import Place as Place
    from triptych.catalog.database.models.room_tables import Room as Room
    from triptych.catalog.database.models.room_tables import Seat as Seat
    from triptych.catalog.database.models.rule_tables import BudgetRole as BudgetRole
    from triptych.catalog.database.models.rule_tables import Denominator as Denominator
    from triptych.catalog.database.models.rule_tables import Rule as Rule
    from triptych.catalog.database.models.rule_tables import RuleFitting as RuleFitting
    from triptych.catalog.database.models.rule_tables import RuleForm as RuleForm
    from triptych.catalog.database.models.rule_tables import RuleKind as RuleKind
    from triptych.catalog.database.models.rule_tables import RuleMeasure as RuleMeasure
    from triptych.catalog.database.models.rule_tables import RuleRole as RuleRole
    from triptych.catalog.database.models.rule_tables import RuleSet as RuleSet
    from triptych.catalog.database.models.rule_tables import RuleSide as RuleSide
    from triptych.catalog.database.models.rule_tables import SpendingOrder as SpendingOrder
    from triptych.catalog.database.models.rule_tables import Weight as Weight
    from triptych.catalog.database.models.rule_tables import WeightProfile as WeightProfile
    from triptych.catalog.database.models.signature_table import Signature as Signature
    from triptych.catalog.database.models.trade_tables import Article as Article
    from triptych.catalog.database.models.trade_tables import FileColumn as FileColumn
    from triptych.catalog.database.models.trade_tables import GradePrice as GradePrice
    from triptych.catalog.database.models.trade_tables import Quote as Quote
    from triptych.catalog.database.models.trade_tables import QuoteLine as QuoteLine
    from triptych.catalog.database.models.trade_tables import QuoteState as QuoteState
    from triptych.catalog.database.models.trade_tables import ReorderPoint as ReorderPoint
    from triptych.catalog.database.models.trade_tables import SheetKind as SheetKind
    from triptych.catalog.database.models.trade_tables import Supplier as Supplier
    from triptych.catalog.database.models.trade_tables import SupplierColumn as SupplierColumn
    from triptych.catalog.database.models.trade_tables import SupplierPrice as SupplierPrice
    from triptych.catalog.database.models.trade_tables import SupplyOrder as SupplyOrder

__all__ = ["Base", "every_table"]

_HOMES: Final = {
    name: module
    for module, names in {
        "check_tables": "AsBuilt AsBuiltCurve Channel",
        "curve_tables": "Curve",
        "equipment_tables": "Equipment",
        "ledger_tables": "Grade Holding Job LedgerEnd Location Movement MovementKind Reservation",
        "loudspeaker_tables": "AcousticProfile Crossover Driver DriverKind Family Loudspeaker "
        "LoudspeakerRole Maker Price Provenance Series Source",
        "room_tables": "Brief Place Room Seat",
        "rule_tables": "BudgetRole Denominator Rule RuleFitting RuleForm RuleKind RuleMeasure RuleRole RuleSet "
        "RuleSide SpendingOrder Weight WeightProfile",
        "signature_table": "Signature",
        "trade_tables": "Article FileColumn GradePrice Quote QuoteLine QuoteState ReorderPoint SheetKind Supplier "
        "SupplierColumn SupplierPrice SupplyOrder",
    }.items()
    for name in names.split()
}


def __getattr__(name: str) -> Any:
    if name not in _HOMES:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    found = globals()[name] = getattr(import_module(f"{__name__}.{_HOMES[name]}"), name)
    return found


@cache
def every_table() -> sa.MetaData:
    """Give all tables there are, whoever has asked for some of them before."""
    for module in dict.fromkeys(_HOMES.values()):
        import_module(f"{__name__}.{module}")
    for table in Base.metadata.tables.values():
        for index in table.indexes:
            index.dialect_kwargs["postgresql_where"] = index.info.get("where")
    return Base.metadata
