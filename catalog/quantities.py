"""What is said of a quantity and of an attribute of a record beside its name and type. Standard library only."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import Final


class Kind(Enum):
    """What a quantity measures, by the unit inside the program."""

    LENGTH = "m"
    MASS = "kg"
    LEVEL = "dB"
    FREQUENCY = "Hz"
    RESISTANCE = "ohm"
    POWER = "W"
    ANGLE = "deg"
    PERCENT = "%"
    COUNT = "1"
    AREA = "mm2"


@dataclass(frozen=True, slots=True)
class Quantity:
    """One number that a loudspeaker or a room has; `low` and `high` are in the unit of its kind."""

    name: str
    kind: Kind
    meaning: str
    low: float
    high: float
    bare_unit: str

    @property
    def unit(self) -> str:
        """The unit inside the program."""
        return self.kind.value


@dataclass(frozen=True, slots=True)
class About:
    """What a record says of one attribute; `catalog/fields.py` makes columns, keys, options, JSON and tables of it.

    Parameters
    ----------
    meaning : str
        What it is, in the words of errors and of the documentation.
    kind : Kind, optional
        What it measures, with its plausible range [unit of the kind]; common practice, no source.
    note : str
        What is added to the meaning where it is told as an option or a column.
    header : str
        The words of option and column where they are not those of the meaning.
    form : str
        What a text or an amount is, where its type does not say it: a key of `forms.FORMS`.
    choices : tuple of float
        The only values there are, where they are few. [unit of the kind].
    mark : str
        What stands between several numbers in one cell.
    required : bool
        Whether a file must state it although a record may leave it out.
    check : str, optional
        The sign that the tables hold a number to, `> 0`, `>= 0` or none, where that is not the sign of its range.
    most : float, optional
        The largest number that is stored, where there is such. [unit of the kind].
    stored : str
        Where it is stored, as `table.column` or `table.row.column`, if not in a column of its own name.
    digits : int
        Decimals in a table for people.
    ask : str
        The question that `room new` asks for it.
    """

    meaning: str
    kind: Kind | None = None
    low: float = 0.0
    high: float = 0.0
    note: str = ""
    header: str = ""
    form: str = "name"
    choices: tuple[float, ...] = ()
    mark: str = ""
    required: bool = False
    check: str | None = None
    most: float | None = None
    stored: str = ""
    digits: int = 0
    ask: str = ""

    def quantity(self, name: str) -> Quantity | None:
        """The quantity of that name that is described, if it is a number; a bare length is in mm."""
        if self.kind is None:
            return None
        unit = "mm" if self.kind is Kind.LENGTH else self.kind.value
        return Quantity(name, self.kind, self.meaning, self.low, self.high, unit)


TAX_RATE: Final = About("rate of tax", Kind.PERCENT, 0.0, 60.0, most=100, stored="price.tax_rate")
"""What every door reads a rate of tax by."""
