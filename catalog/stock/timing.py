"""Dates and times that people write, as instants in UTC; doubtful ones are refused, never guessed."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, time, timedelta, tzinfo
from typing import Final

from triptych.catalog.errors import BadInput

HOLD: Final = timedelta(days=14)
"""How long a reservation or quote holds where nobody says: common practice without a deposit, no source."""

Until = str | datetime | None
"""Until when something holds: as people write it, as an instant, or as long as is usual."""

_DAY: Final = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_TIME: Final = re.compile(r"(\d{4}-\d{2}-\d{2})[T ](\d{2}:\d{2}(?::\d{2})?)\s*(Z|[+-]\d{2}:?\d{2})?", re.ASCII)


def zone_of(name: str) -> tzinfo:
    """Give a time zone by its IANA name.

    Raises
    ------
    BadInput
        It is not known here.
    """
    from zoneinfo import ZoneInfo

    if name.upper() == "UTC":
        return UTC
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        raise BadInput(f"time zone {name!r}: give one such as UTC or Europe/Lisbon") from None


def read_day(text: str) -> date:
    """Give the day that a text names.

    >>> read_day("2028-02-29")
    datetime.date(2028, 2, 29)

    Raises
    ------
    BadInput
        There is no such day, or it isn't written year-month-day.
    """
    text = text.strip()
    try:
        if _DAY.fullmatch(text):
            return date.fromisoformat(text)
    except ValueError:
        raise BadInput(f"{text!r}: there is no such day") from None
    raise BadInput(f"{text!r}: write a day as 2026-12-31")


def day_of(text: str | None, option: str) -> date | None:
    """Give the day that an option names, None where it names none.

    Raises
    ------
    BadInput
        As `read_day`, and names the option.
    """
    try:
        return None if text is None else read_day(text)
    except BadInput as problem:
        raise BadInput(f"{option} {problem}") from None


def read_until(text: str, zone: str = "UTC") -> datetime:
    """Give the instant until which something holds: a day holds to its end where it is meant, a time to the minute.

    Parameters
    ----------
    text : str
        `2026-12-31`, or `2026-12-31 18:00`, with an offset such as `+01:00` or `Z`, or without.
    zone : str
        The time zone that is meant where the text has no offset.

    Examples
    --------
    >>> read_until("2026-03-29", "Europe/Berlin").isoformat()
    '2026-03-29T22:00:00+00:00'

    Raises
    ------
    BadInput
        There is no such day or time, or, where clocks are put back, two of them.
    """
    found = _TIME.fullmatch(text.strip())
    try:
        if found is None:
            return _midnight_after(read_day(text), zone_of(zone))
        day, clock = read_day(found[1]), time.fromisoformat(found[2])
        if found[3]:
            return datetime.fromisoformat(f"{day}T{found[2]}{found[3]}").astimezone(UTC)
        return _only_one(datetime.combine(day, clock), zone)
    except OverflowError:
        raise BadInput(f"{text!r}: that is too far off; give a day before {date.max}") from None
    except ValueError:
        raise BadInput(f"{text!r}: there is no such time") from None


def hold_until(until: Until, zone: str) -> datetime:
    """Give the instant until which something holds, as an option says it; 14 days from now where it says nothing.

    Raises
    ------
    BadInput
        As `read_until`, and names the option.
    """
    if isinstance(until, datetime):
        return until
    if until is None:
        return datetime.now(UTC) + HOLD
    try:
        return read_until(until, zone)
    except BadInput as problem:
        raise BadInput(f"--until {problem}") from None


def until_words(until: datetime, zone: str = "UTC") -> str:
    """Give the instant until which something holds in words: a day to its end, else a time.

    >>> until_words(datetime(2027, 1, 1, tzinfo=UTC))
    'the end of 31 Dec 2026'
    >>> until_words(datetime(2026, 12, 31, 17, 30, tzinfo=UTC), "Europe/Berlin")
    '31 Dec 2026 18:30 CET'
    """
    try:
        there = zone_of(zone)
        local = until.astimezone(there)
    except (BadInput, OverflowError):
        # a zone that this machine doesn't know, or the last hours that a calendar has
        there, local = UTC, until.astimezone(UTC)
    day = local.date() - timedelta(days=1)
    # clocks may be put forward at midnight, so the end of a day isn't always 00:00
    if _midnight_after(day, there) == until:
        return f"the end of {_day_words(day)}"
    return f"{_day_words(local.date())} {local:%H:%M %Z}"


def _day_words(day: date) -> str:
    return f"{day.day} {day:%b} {day.year}"


def _midnight_after(day: date, zone: tzinfo) -> datetime:
    return datetime.combine(day + timedelta(days=1), time(), zone).astimezone(UTC)


def _only_one(local: datetime, zone: str) -> datetime:
    """Give the instant of a local time that clocks neither leave out, put forward, nor show twice, put back."""
    there = zone_of(zone)
    first, second = (local.replace(tzinfo=there, fold=fold) for fold in (0, 1))
    if first.astimezone(UTC).astimezone(there).replace(tzinfo=None) != local:
        raise BadInput(f"{local}: no such time in {zone}, where clocks are put forward; give another")
    if first.utcoffset() != second.utcoffset():
        offsets = " or ".join(f"{moment:%z}" for moment in (first, second))
        raise BadInput(f"{local}: comes twice in {zone}, where clocks are put back; add its offset, {offsets}")
    return first.astimezone(UTC)
