"""The tables of the catalogue. Units stand in each column's `info`; unknown is NULL."""

from catalog.models.base import Base
from catalog.models.loudspeaker import (
    AcousticProfile,
    Crossover,
    Driver,
    DriverKind,
    Family,
    Figure,
    Loudspeaker,
    LoudspeakerRole,
    Maker,
    Price,
    Series,
    Source,
)
from catalog.models.room import Brief, Place, Room, Seat
from catalog.models.rules import (
    BudgetRole,
    Denominator,
    Rule,
    RuleBasis,
    RuleForm,
    RuleKind,
    RuleSet,
    Weight,
    WeightProfile,
)
from catalog.models.stock import Grade, Movement, MovementKind

__all__ = [
    "AcousticProfile",
    "Base",
    "Brief",
    "BudgetRole",
    "Crossover",
    "Denominator",
    "Driver",
    "DriverKind",
    "Family",
    "Figure",
    "Grade",
    "Loudspeaker",
    "LoudspeakerRole",
    "Maker",
    "Movement",
    "MovementKind",
    "Place",
    "Price",
    "Room",
    "Rule",
    "RuleBasis",
    "RuleForm",
    "RuleKind",
    "RuleSet",
    "Seat",
    "Series",
    "Source",
    "Weight",
    "WeightProfile",
]
