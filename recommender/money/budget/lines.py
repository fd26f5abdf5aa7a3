"""A budget's lines, brought to one currency and one tax basis: that of the limit."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from triptych.catalog.money import minor_digits, round_half_up
from triptych.catalog.names import nearest
from triptych.recommender.money.budget.errors import BadBudget
from triptych.recommender.money.budget.figures import amount, currency, minor, number, tax_rate, whole

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
PER = ("each", "pair", "lot")

_HEAD = frozenset({"currency", "limit", "tax_included", "tax_rate", "rates", "line"})
_LINE = frozenset(
    {"role", "item", "price", "per", "quantity", "pieces", "currency", "tax_included", "tax_rate", "owned", "fixed"}
)


@dataclass(frozen=True, slots=True)
class Line:
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
    """

    role: str
    price: int | None
    pieces: int = 1
    item: str | None = None
    owned: bool = False
    fixed: bool = False

    @property
    def amount(self) -> int:
        """What the line takes from the limit. [minor units]."""
        return 0 if self.owned or self.price is None else self.price

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
    lines : tuple of Line
        In the order of the file.
    cautions : tuple of str
        What had to be supposed while reading.
    """

    currency: str
    limit: int
    tax_included: bool
    lines: tuple[Line, ...]
    cautions: tuple[str, ...] = ()

    @property
    def total(self) -> int:
        """What the lines take from the limit. [minor units]."""
        return sum(line.amount for line in self.lines)

    def amount(self, roles: Sequence[str]) -> int:
        """What the lines of these roles take from the limit. [minor units]."""
        return sum(line.amount for line in self.lines if line.role in roles)


@dataclass(frozen=True, slots=True)
class Basis:
    """The currency, the tax basis and the rates that a budget's lines are brought to."""

    currency: str
    tax_included: bool
    tax_rate: Fraction | None
    rates: Mapping[str, Fraction]


def read_budget(data: Mapping[str, Any], also: frozenset[str] = frozenset()) -> Budget:
    """A budget from a mapping with the keys of the contract.

    Raises
    ------
    BadBudget
        A key or a value cannot be taken, or an exchange or tax rate that is needed is not there.
    """
    _known_keys(data, _HEAD | also, "the head")
    cautions: list[str] = []
    basis = read_basis(data, cautions)
    limit = read_limit(data, basis)
    rows = data.get("line", [])
    if not isinstance(rows, list) or not all(isinstance(row, Mapping) for row in rows):
        raise BadBudget("line: write each line as a [[line]] table")
    lines = tuple(read_line(row, f"line {at}", basis, cautions) for at, row in enumerate(rows, start=1))
    return Budget(basis.currency, limit, basis.tax_included, lines, tuple(cautions))


def read_basis(data: Mapping[str, Any], cautions: list[str]) -> Basis:
    """The currency and the tax basis that the head of a budget states."""
    if "currency" not in data:
        raise BadBudget("the head: currency is missing; write, for instance, currency = 'EUR'")
    if "tax_included" not in data:
        cautions.append("the head does not say whether the limit includes tax; taken to include it")
    rates = data.get("rates", {})
    if not isinstance(rates, Mapping):
        raise BadBudget("rates: write a [rates] table such as USD = 0.92, what one unit is in the budget's currency")
    return Basis(
        currency(data["currency"], "the head"),
        _yes_no(data.get("tax_included", True), "the head: tax_included"),
        tax_rate(data.get("tax_rate"), "the head: tax_rate"),
        {currency(code, "rates"): _positive(rate, f"rates: {code}") for code, rate in rates.items()},
    )


def read_limit(data: Mapping[str, Any], basis: Basis) -> int:
    """The limit of a budget. [minor units]."""
    if "limit" not in data:
        raise BadBudget("the head: limit is missing; write what may be spent")
    value, mark = amount(data["limit"], "the head: limit", basis.currency)
    if mark not in (None, basis.currency):
        raise BadBudget(f"the head: limit is in {mark} and currency is {basis.currency}; write both in one")
    if value <= 0:
        raise BadBudget(f"the head: limit is {value}; it must be above zero")
    return minor(value, basis.currency, "the head: limit")


def read_line(row: Mapping[str, Any], place: str, basis: Basis, cautions: list[str]) -> Line:
    """One line, brought to the limit's currency and tax basis; tax is rounded once, on the whole line."""
    role = read_role(row.get("role"), place)
    where = f"{place} ({role})"
    _known_keys(row, _LINE, where)
    owned = _yes_no(row.get("owned", False), f"{where}: owned")
    per, quantity = _per(row, where), whole(row.get("quantity", 1), f"{where}: quantity")
    return Line(
        role=role,
        price=_line_price(row, quantity, where, basis, cautions, owned),
        pieces=_pieces(row, per, quantity, role, where, cautions),
        item=str(row["item"]) if row.get("item") else None,
        owned=owned,
        fixed=_yes_no(row.get("fixed", False), f"{where}: fixed"),
    )


def read_role(value: object, where: str) -> str:
    """A role by its own word or by another that people use for it."""
    word = str(value).strip().lower() if value is not None else ""
    role = ALSO_CALLED.get(word, word)
    if role not in ROLES:
        said = f"role is {value!r}" if word else "role is missing"
        raise BadBudget(f"{where}: {said}{_nearest(word, (*ROLES, *ALSO_CALLED))}; roles are {', '.join(ROLES)}")
    return role


def _line_price(
    row: Mapping[str, Any], quantity: int, where: str, basis: Basis, cautions: list[str], owned: bool
) -> int | None:
    if row.get("price") is None:
        if owned:
            return None
        raise BadBudget(f"{where}: price is missing; state it, or say owned = true if it is paid for")
    stated = currency(row["currency"], where) if row.get("currency") else None
    value, mark = amount(row["price"], f"{where}: price", stated or basis.currency)
    if value < 0:
        raise BadBudget(f"{where}: price is {value}; a price is not below zero")
    exchanged = Fraction(value) * quantity * _exchange(stated, mark, where, basis)
    taxed = exchanged * _tax_factor(row, where, basis, cautions)
    return round_half_up(taxed * 10 ** minor_digits(basis.currency))


def _exchange(stated: str | None, mark: str | None, where: str, basis: Basis) -> Fraction:
    if mark and stated and mark != stated:
        raise BadBudget(f"{where}: the price is in {mark} and currency is {stated}; write one of them")
    code = stated or mark or basis.currency
    if code == basis.currency:
        return Fraction(1)
    if code not in basis.rates:
        raise BadBudget(
            f"{where}: the price is in {code} and the budget in {basis.currency}; add a [rates] table "
            f"with {code} = what one {code} is in {basis.currency}"
        )
    return basis.rates[code]


def _tax_factor(row: Mapping[str, Any], where: str, basis: Basis, cautions: list[str]) -> Fraction:
    if "tax_included" not in row:
        words = "includes" if basis.tax_included else "excludes"
        cautions.append(f"{where} does not say whether its price includes tax; taken as the limit, which {words} it")
    included = _yes_no(row.get("tax_included", basis.tax_included), f"{where}: tax_included")
    rate = tax_rate(row.get("tax_rate"), f"{where}: tax_rate")
    rate = basis.tax_rate if rate is None else rate
    if included == basis.tax_included:
        return Fraction(1)
    if rate is None:
        has, limit = ("includes", "excludes") if included else ("excludes", "includes")
        raise BadBudget(f"{where}: the price {has} tax and the limit {limit} it; state tax_rate, in percent")
    return 1 / (1 + rate) if included else 1 + rate


def _pieces(row: Mapping[str, Any], per: str, quantity: int, role: str, where: str, cautions: list[str]) -> int:
    if "pieces" in row:
        return whole(row["pieces"], f"{where}: pieces")
    if per == "lot" and role in LOUDSPEAKER_ROLES:
        cautions.append(f"{where} does not say how many boxes its lot holds; judged as one box (state pieces)")
    return quantity * (2 if per == "pair" else 1)


def _per(row: Mapping[str, Any], where: str) -> str:
    per = str(row.get("per", "each")).strip().lower()
    if per not in PER:
        raise BadBudget(f"{where}: per is {row['per']!r}; write each, pair or lot")
    return per


def _positive(value: object, where: str) -> Fraction:
    rate = number(value, where)
    if rate <= 0:
        raise BadBudget(f"{where} is {value!r}; write a number above zero")
    return Fraction(rate)


def _yes_no(value: object, where: str) -> bool:
    if isinstance(value, bool):
        return value
    raise BadBudget(f"{where} is {value!r}; write true or false")


def _known_keys(data: Mapping[str, Any], known: frozenset[str], where: str) -> None:
    for key in data:
        if key not in known:
            raise BadBudget(f"{where}: '{key}' is not known{_nearest(key, sorted(known))}")


def _nearest(word: str, known: Sequence[str]) -> str:
    near = nearest(word, known)
    return f"; did you mean '{near[0]}'?" if near else ""
