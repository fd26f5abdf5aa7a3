"""A budget's lines, brought to one currency and one tax basis: that of the limit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from enum import Enum
from fractions import Fraction
from typing import Annotated, TypeVar

from triptych.catalog.inputs import shown
from triptych.catalog.money import MOST_MONEY, minor_digits, round_half_up
from triptych.recommender.money.budget.errors import BadBudget
from triptych.recommender.money.budget.figures import (
    amount,
    currency,
    minor,
    rate_of_exchange,
    run_of_cable,
    tax_rate,
    whole,
    within,
)
from triptych.recommender.money.budget.fitting import Asks, Gives
from triptych.recommender.money.budget.toml_records import Read, Table, as_it_is, meant, read, tables

LOUDSPEAKER_ROLES = ("mains", "centre", "surrounds", "wides", "heights")
SPEAKERS_AND_SUB = (*LOUDSPEAKER_ROLES, "sub")
AUDIO_TOTAL = (*SPEAKERS_AND_SUB, "electronics", "accessories", "calibration")
ROLES = (*AUDIO_TOTAL, "display")

# Other words that people write for a role.
ALSO_CALLED = {
    "main": "mains",
    "center": "centre",
    "surround": "surrounds",
    "wide": "wides",
    "height": "heights",
    "subs": "sub",
    "subwoofer": "sub",
    "subwoofers": "sub",
    "accessory": "accessories",
}


class Per(Enum):
    """What a price is the price of."""

    EACH = "each"
    PAIR = "pair"
    LOT = "lot"


@dataclass(frozen=True, slots=True)
class BudgetLine:
    """One line of a budget, in minor units of the budget's currency and on the limit's tax basis.

    Parameters
    ----------
    role : str
        One of `ROLES`.
    item : str or None
        What is bought, if it has a name yet.
    price : int or None
        The whole line; unknown only where the line is owned. [minor units]
    pieces : int
        How many boxes the line holds.
    owned : bool
        It is paid for already: it counts nothing towards the total.
    fixed : bool
        Its price is not to be changed by a mend.
    quantity : int
        How many its file counts, at one price each.
    serves : str
        The role that a stand, a mount or a cable is for; empty where that is not told.
    run : float or None
        How long the cable to each of its boxes is. [m]
    asks : Asks or None
        What a loudspeaker of the catalogue asks of what drives and bears it.
    gives : Gives or None
        What a piece of equipment of the catalogue gives.
    """

    role: str
    price: int | None
    pieces: int = 1
    item: str | None = None
    owned: bool = False
    fixed: bool = False
    quantity: int = 1
    serves: str = ""
    run: float | None = None
    asks: Asks | None = None
    gives: Gives | None = None

    @property
    def amount(self) -> int:
        """What the line takes from the limit. [minor units]."""
        return 0 if self.owned or self.price is None else self.price

    @property
    def there(self) -> bool:
        """Whether anything is there: money, what is owned, or what has a name and is given for nothing."""
        return bool(self.owned or self.amount or self.item)

    @property
    def step(self) -> int:
        """By multiples of this its amount changes, so that each that is counted has a whole price. [minor units]."""
        return self.quantity if self.amount % self.quantity == 0 else 1

    @property
    def one(self) -> Fraction | None:
        """What one box of the line costs, bought or owned. [minor units]."""
        return None if self.price is None else Fraction(self.price, self.pieces)

    @property
    def label(self) -> str:
        """The line as it is named in a sentence."""
        return f"the {self.role}" + (f" ({self.item})" if self.item else "")


@dataclass(frozen=True, slots=True)
class Budget:
    """A limit and the lines under it.

    Parameters
    ----------
    currency : str
        Three letters.
    limit : int
        What may be spent. [minor units]
    tax_included : bool
        Whether the limit, and so every amount here, has tax in it.
    lines : tuple of BudgetLine
        In the order of the file.
    cautions : tuple of str
        What had to be supposed while reading.
    """

    currency: str
    limit: int
    tax_included: bool
    lines: tuple[BudgetLine, ...]
    cautions: tuple[str, ...] = ()

    @property
    def total(self) -> int:
        """What the lines take from the limit. [minor units]."""
        return sum(line.amount for line in self.lines)

    def amount(self, roles: Sequence[str]) -> int:
        """What the lines of these roles take from the limit. [minor units]."""
        return sum(line.amount for line in self.lines if line.role in roles)


def read_role(value: object, where: str) -> str:
    """A role by its own word or by another that people use for it."""
    word = str(value).strip().lower() if value is not None else ""
    role = ALSO_CALLED.get(word, word)
    if role not in ROLES:
        said = f"role is {shown(value)}" if word else "role is missing"
        raise BadBudget(f"{where}: {said}{meant(word, (*ROLES, *ALSO_CALLED))}; roles are {', '.join(ROLES)}")
    return role


def _loudspeaker_role(value: object, where: str) -> str:
    role = read_role(value, where)
    if role not in SPEAKERS_AND_SUB:
        raise BadBudget(f"{where}: serves is {shown(value)}; name the loudspeakers: {', '.join(SPEAKERS_AND_SUB)}")
    return role


def _currency(value: object, where: str) -> str:
    # what is wrong with a currency names it already
    return currency(value, where.removesuffix(": currency"))


def _currency_if_any(value: object, where: str) -> str | None:
    return _currency(value, where) if value else None


def _rates(value: object, where: str) -> dict[str, Fraction]:
    if not isinstance(value, Mapping):
        raise BadBudget(f"{where}: write a [rates] table such as USD = 0.92, what one unit is in the budget's currency")
    found = {currency(code, where): rate_of_exchange(rate, f"{where}: {code}") for code, rate in value.items()}
    if len(found) < len(value):
        twice = next(code for code in found if sum(code == currency(one, where) for one in value) > 1)
        raise BadBudget(f"{where}: {twice} stands twice")
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class MoneyBasis:
    """The currency, the tax basis and the rates that a budget's lines are brought to."""

    currency: Annotated[str, Read(_currency, "write, for instance, currency = 'EUR'")]
    tax_included: bool = True
    tax_rate: Annotated[Fraction | None, Read(tax_rate)] = None
    rates: Annotated[Mapping[str, Fraction], Read(_rates)] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Head(MoneyBasis):
    """A budget as its file has it: the limit as it is written, and its lines unread."""

    limit: Annotated[object, Read(as_it_is, "write what may be spent")]
    line: Annotated[Sequence[Table], Read(tables)] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class LineTable:
    """A line as its file has it: the price as it is written, beside all that says what it is a price of."""

    role: Annotated[str, Read(read_role)]
    item: str = ""
    price: Annotated[object, Read(as_it_is)] = None
    per: Per = Per.EACH
    quantity: Annotated[int, Read(whole)] = 1
    pieces: Annotated[int | None, Read(whole)] = None
    currency: Annotated[str | None, Read(_currency_if_any)] = None
    tax_included: bool | None = None
    tax_rate: Annotated[Fraction | None, Read(tax_rate)] = None
    owned: bool = False
    fixed: bool = False
    serves: Annotated[str, Read(_loudspeaker_role)] = ""
    run: Annotated[float | None, Read(run_of_cable)] = None


Headed = TypeVar("Headed", bound=Head)


def read_headed(kind: type[Headed], data: Table) -> tuple[Headed, Budget]:
    """What stands above the lines, for a plan more than for a budget, and the budget that it makes with them.

    Raises
    ------
    BadBudget
        A key or a value cannot be taken, or an exchange or tax rate that is needed is not there.
    """
    head = read(kind, data, "the head")
    cautions: list[str] = []
    if "tax_included" not in data:
        cautions.append("the head does not say whether the limit includes tax; taken to include it")
    if head.rates.get(head.currency, 1) != 1:
        raise BadBudget(
            f"the head: rates: {head.currency} is the budget's own currency, and 1 of it is 1; leave it out"
        )
    limit = _limit(head)
    lines = tuple(read_line(row, f"line {at}", head, cautions) for at, row in enumerate(head.line, start=1))
    cautions += _silent_on_tax(head, lines)
    if sum(line.pieces for line in lines if line.role == "mains") == 1:
        cautions.append("the mains are one box, and one is no pair: state quantity = 2, or per = 'pair'")
    return head, Budget(head.currency, limit, head.tax_included, lines, tuple(cautions))


def _silent_on_tax(head: Head, lines: Sequence[BudgetLine]) -> list[str]:
    """One caution for all lines that do not say whether tax is in their price."""
    numbered = enumerate(zip(head.line, lines, strict=True), start=1)
    silent = [
        f"{at} ({line.role})"
        for at, (row, line) in numbered
        if row.get("price") is not None and row.get("tax_included") is None
    ]
    if not silent:
        return []
    taken = f"taken as the limit, which {'includes' if head.tax_included else 'excludes'} it"
    if len(silent) == 1:
        return [f"line {silent[0]} does not say whether its price includes tax; {taken}"]
    named = f"{', '.join(silent[:-1])} and {silent[-1]}"
    return [f"lines {named} do not say whether their prices include tax; {taken}"]


def _limit(head: Head) -> int:
    value, mark = amount(head.limit, "the head: limit", head.currency)
    if mark not in (None, head.currency):
        raise BadBudget(f"the head: limit is in {mark} and currency is {head.currency}; write both in one")
    if value <= 0:
        raise BadBudget(f"the head: limit is {value}; it must be above zero")
    return minor(value, head.currency, "the head: limit")


def read_line(row: Table, place: str, basis: MoneyBasis, cautions: list[str]) -> BudgetLine:
    """One line, brought to the limit's currency and tax basis; tax is rounded once, on the whole line."""
    where = f"{place} ({read_role(row.get('role'), place)})"
    line = read(LineTable, row, where)
    return BudgetLine(
        role=line.role,
        price=_price(line, where, basis),
        pieces=_pieces(line, where, cautions),
        item=line.item or None,
        owned=line.owned,
        fixed=line.fixed,
        quantity=line.quantity,
        serves=line.serves,
        run=line.run,
    )


def _price(line: LineTable, where: str, basis: MoneyBasis) -> int | None:
    if line.price is None:
        if line.owned:
            return None
        raise BadBudget(f"{where}: price is missing; state it, or say owned = true if it is paid for")
    value, mark = amount(line.price, f"{where}: price", line.currency or basis.currency)
    minor(value, line.currency or mark or basis.currency, f"{where}: price")
    exchanged = Fraction(value) * line.quantity * _exchange(line, mark, where, basis)
    taxed = exchanged * _tax_factor(line, where, basis)
    within(taxed, Decimal(0), MOST_MONEY, f"{where}: price for all of the line")
    return round_half_up(taxed * 10 ** minor_digits(basis.currency))


def _exchange(line: LineTable, mark: str | None, where: str, basis: MoneyBasis) -> Fraction:
    if mark and line.currency and mark != line.currency:
        raise BadBudget(f"{where}: the price is in {mark} and currency is {line.currency}; write one of them")
    code = line.currency or mark or basis.currency
    if code == basis.currency:
        return Fraction(1)
    if code not in basis.rates:
        raise BadBudget(
            f"{where}: the price is in {code} and the budget in {basis.currency}; add a [rates] table "
            f"with {code} = what one {code} is in {basis.currency}"
        )
    return basis.rates[code]


def _tax_factor(line: LineTable, where: str, basis: MoneyBasis) -> Fraction:
    rate = basis.tax_rate if line.tax_rate is None else line.tax_rate
    if line.tax_included in (None, basis.tax_included):
        return Fraction(1)
    if rate is None:
        has, limit = ("includes", "excludes") if line.tax_included else ("excludes", "includes")
        raise BadBudget(f"{where}: the price {has} tax and the limit {limit} it; state tax_rate, in percent")
    return 1 / (1 + rate) if line.tax_included else 1 + rate


def _pieces(line: LineTable, where: str, cautions: list[str]) -> int:
    if line.pieces is not None:
        return line.pieces
    if line.per is Per.LOT and line.role in LOUDSPEAKER_ROLES:
        cautions.append(f"{where} does not say how many boxes its lot holds; judged as one box (state pieces)")
    return line.quantity * (2 if line.per is Per.PAIR else 1)
