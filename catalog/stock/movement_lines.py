"""What is asked of the ledger: one movement of alike units, checked before anything is read."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from triptych.catalog.database import rows
from triptych.catalog.database.models import Grade, MovementKind
from triptych.catalog.database.models.ledger_tables import INTO, OUT_OF
from triptych.catalog.errors import BadInput, NotFound
from triptych.catalog.money import LARGEST_AMOUNT

LARGEST_QUANTITY: Final = 1_000_000
"""The largest quantity that one movement is taken to mean."""

LONGEST: Final = 500
"""How many characters a name, serial or note has at most."""

FIRST_DAY: Final = (1, 1, 2)
LAST_DAY: Final = (9999, 12, 29)
"""Days that can be told in any time zone lie between them."""

UNDO: Final = "undo of line {}"
"""What the note of a line begins with that takes another back, for people; `undoes_id` is what counts."""

JOINED: Final = "joined to a pair: "
"""What the notes of the three counts begin with by which two singles are joined to a pair."""

REFUNDED: Final = "refunded"
"""What the note of a return begins with whose money was given back: nothing is owed in its place."""

ARRIVING: Final = (MovementKind.TRANSFER_IN, MovementKind.REGRADE_IN, MovementKind.SPLIT_IN)
"""Movements that end another: `from_id` is its number."""

LEAVING: Final = (MovementKind.TRANSFER_OUT, MovementKind.REGRADE_OUT, MovementKind.SPLIT_PAIR)
"""Movements that another ends: `to` says where."""


LENT: Final = "lent to {}"
"""What the location of what is lent to a job is called."""


def at_place(location: str, *, quoted: bool = False) -> str:
    """Say where units are; what is lent is at no place of ours.

    >>> at_place("shop"), at_place("lent to Mill House", quoted=True)
    ('at shop', "lent to 'Mill House'")
    """
    start = LENT.format("")
    before, name = (start, location.removeprefix(start)) if location.startswith(start) else ("at ", location)
    return before + (repr(name) if quoted else name)


def to_place(location: str) -> str:
    """Say where units go.

    >>> to_place("van"), to_place("lent to Mill House")
    ('to van', 'lent to Mill House')
    """
    return location if location.startswith(LENT.format("")) else f"to {location}"


@dataclass(frozen=True, slots=True)
class Target:
    """Where units go that leave for elsewhere: a location, grade and pack of the same model and finish."""

    location: str
    grade: Grade
    pack: int | None = None


@dataclass(frozen=True, slots=True)
class MovementLine:
    """One movement to be written: units of one model, finish and grade at one location.

    Attributes
    ----------
    quantity : int
        Loudspeakers, also where they come in pairs; only a count can be negative.
    until : date or datetime, optional
        Until when a reservation holds; of a day to its end in UTC.
    pack : int, optional
        2 for pairs, 1 for singles; as the model is sold where None.
    to : Target, optional
        Where it goes, for what leaves for elsewhere.
    from_id : int, optional
        The number of the movement that this one ends, for what comes from elsewhere.
    amount, currency : int and str, optional
        Of one, without tax: the cost of what came or the price of a sale. [minor unit]
    undoes_id : int, optional
        The number of the line that this one takes back.
    carries_id : int, optional
        The number of the reservation that this one carries on elsewhere.
    """

    loudspeaker_id: int
    kind: MovementKind
    quantity: int
    location: str
    grade: Grade = Grade.NEW
    finish: str | None = None
    job: str | None = None
    until: date | datetime | None = None
    reservation_id: int | None = None
    serial: str | None = None
    note: str | None = None
    pack: int | None = None
    to: Target | None = None
    from_id: int | None = None
    order_id: int | None = None
    quote_id: int | None = None
    amount: int | None = None
    currency: str | None = None
    who: str | None = None
    undoes_id: int | None = None
    carries_id: int | None = None

    @property
    def units(self) -> str:
        """The movement in words, for a message."""
        if self.kind is MovementKind.COUNT and self.quantity < 0:
            return f"count out {-self.quantity}"
        return f"{self.kind_words} {self.quantity}"

    @property
    def place(self) -> str:
        """Where it is, for a message."""
        return at_place(self.location, quoted=True)

    @property
    def kind_words(self) -> str:
        """Its kind as people read it."""
        return self.kind.value.replace("_", " ")

    @property
    def grade_words(self) -> str:
        """Its grade as people read it."""
        return self.grade.value.replace("_", " ")


def instant(until: date | datetime) -> datetime:
    """Give the instant at which something that holds until then lapses; a day holds to its end in UTC.

    >>> instant(date(2026, 12, 31)).isoformat()
    '2027-01-01T00:00:00+00:00'
    """
    if isinstance(until, datetime) and until.tzinfo is None:
        raise BadInput(f"{until.isoformat()}: a time needs a zone")
    if not FIRST_DAY < until.timetuple()[:3] < LAST_DAY:
        raise BadInput(f"until {until.isoformat()}: that is too far off")
    if isinstance(until, datetime):
        return until.astimezone(UTC)
    return datetime.combine(until + timedelta(days=1), time(), UTC)


def effect_of(line: MovementLine) -> int:
    """Give what a line adds to what is on hand."""
    return line.quantity if line.kind in INTO else -line.quantity if line.kind in OUT_OF else 0


def refuse_incomplete(line: MovementLine) -> None:
    """Refuse a line that no ledger could hold.

    Raises
    ------
    BadInput
        It is incomplete, or its quantity is none.
    """
    _refuse_quantity(line)
    refuse_unstorable(line)
    if line.kind is MovementKind.RESERVE and (line.job is None or line.until is None):
        raise BadInput("a reservation needs a job and a date until which it holds")
    if line.until is not None and line.kind is not MovementKind.RESERVE:
        raise BadInput(f"a {line.kind_words} has no date until which it holds")
    if line.kind is MovementKind.RELEASE and line.reservation_id is None:
        raise BadInput("a release needs the number of its reservation")
    if line.reservation_id is not None and line.kind not in (MovementKind.RELEASE, MovementKind.SELL):
        raise BadInput(f"a {line.kind_words} does not end a reservation")
    if line.kind in (MovementKind.COUNT, MovementKind.WRITE_OFF) and not (line.note or "").strip():
        raise BadInput(
            f"a {line.kind.value.replace('_', '-')} that changes what is on hand needs a reason: give --reason"
        )
    if line.kind is MovementKind.RETURN and line.grade is not Grade.QUARANTINE:
        raise BadInput("a return goes to quarantine first; regrade it when it has been looked at")
    if line.kind in (MovementKind.RESERVE, MovementKind.SELL) and line.grade is Grade.QUARANTINE:
        raise BadInput("what is in quarantine is neither sold nor promised: regrade it first")
    if (line.kind in ARRIVING) != (line.from_id is not None) or (line.kind in LEAVING) != (line.to is not None):
        raise BadInput(f"a {line.kind_words} needs its other half: write both as one")


def _refuse_quantity(line: MovementLine) -> None:
    if not isinstance(line.quantity, int) or isinstance(line.quantity, bool):
        raise BadInput(f"quantity {line.quantity!r}: give a whole number")
    if line.amount is not None and not 0 <= line.amount <= LARGEST_AMOUNT:
        raise BadInput(f"amount {line.amount}: must be from 0 to {LARGEST_AMOUNT} minor units")
    sign_free = line.kind is MovementKind.COUNT
    if line.quantity == 0 or abs(line.quantity) > LARGEST_QUANTITY or (line.quantity < 0 and not sign_free):
        raise BadInput(f"quantity {line.quantity}: must be from 1 to {LARGEST_QUANTITY}")
    if line.serial is not None and abs(line.quantity) > 2:
        raise BadInput(f"serial {line.serial!r} names one unit, not {line.quantity}")


def refuse_unstorable(line: MovementLine) -> None:
    """Refuse a line with numbers or texts that no database could be asked for.

    Raises
    ------
    BadInput
        A text is blank, too long, or none that a database holds.
    NotFound
        A number is none that a row could have.
    """
    for name in ("loudspeaker_id", "reservation_id", "from_id", "order_id", "quote_id", "undoes_id", "carries_id"):
        number = getattr(line, name)
        if number is not None and not 1 <= number < 2**31:
            raise NotFound(f"nothing has the number {number}")
    for name in ("location", "job", "finish", "serial", "note", "who"):
        text = getattr(line, name)
        if text is None:
            continue
        if not (text.isascii() and text.isprintable()):
            rows.refuse_unstorable("the movement", text, name)
        if len(text) > LONGEST:
            raise BadInput(f"{name}: {len(text)} characters are more than {LONGEST}")
    if not line.location.strip():
        raise BadInput("the movement has no location")
    for name in ("job", "finish", "serial"):
        text = getattr(line, name)
        if text is not None and not text.strip():
            raise BadInput(f"{name} is blank: name one, or leave it out")


def refuse_text(name: str, text: str | None) -> None:
    """Refuse text that is blank, too long, or none that a database holds.

    Raises
    ------
    BadInput
        Names what it is.
    """
    if text is None:
        return
    rows.refuse_unstorable(name, text)
    if not text.strip():
        raise BadInput(f"{name} is blank: name one, or leave it out")
    if len(text) > LONGEST:
        raise BadInput(f"{name}: {len(text)} characters are more than {LONGEST}")
