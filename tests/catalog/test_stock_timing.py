from __future__ import annotations

from datetime import UTC, date, datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.catalog.errors import BadInput
from triptych.catalog.stock.timing import read_until, until_words

# Clocks in the European Union are put forward at 01:00 UTC on the last Sunday of March and back at 01:00 UTC on the
# last Sunday of October: Directive 2000/84/EC, articles 2 and 3 (from memory). In 2027: 28 March and 31 October.
BERLIN = "Europe/Berlin"


@pytest.mark.parametrize(
    ("text", "zone", "instant"),
    [
        ("2026-12-31", "UTC", datetime(2027, 1, 1, tzinfo=UTC)),
        ("2028-02-29", "UTC", datetime(2028, 3, 1, tzinfo=UTC)),
        # the day on which clocks are put forward has 23 hours, and that on which they are put back 25
        ("2027-03-27", BERLIN, datetime(2027, 3, 27, 23, tzinfo=UTC)),
        ("2027-03-28", BERLIN, datetime(2027, 3, 28, 22, tzinfo=UTC)),
        ("2027-10-30", BERLIN, datetime(2027, 10, 30, 22, tzinfo=UTC)),
        ("2027-10-31", BERLIN, datetime(2027, 10, 31, 23, tzinfo=UTC)),
        ("2027-03-28 01:59", BERLIN, datetime(2027, 3, 28, 0, 59, tzinfo=UTC)),
        ("2027-03-28T03:00", BERLIN, datetime(2027, 3, 28, 1, tzinfo=UTC)),
        ("2027-10-31 01:59", BERLIN, datetime(2027, 10, 30, 23, 59, tzinfo=UTC)),
        ("2027-10-31 02:30 +02:00", BERLIN, datetime(2027, 10, 31, 0, 30, tzinfo=UTC)),
        ("2027-10-31 02:30+0100", BERLIN, datetime(2027, 10, 31, 1, 30, tzinfo=UTC)),
        ("2027-10-31T02:30Z", BERLIN, datetime(2027, 10, 31, 2, 30, tzinfo=UTC)),
        ("2027-10-31 03:00", BERLIN, datetime(2027, 10, 31, 2, tzinfo=UTC)),
    ],
)
def test_a_day_holds_to_its_end_where_it_is_meant(text: str, zone: str, instant: datetime) -> None:
    assert read_until(text, zone) == instant


@pytest.mark.parametrize(
    ("text", "zone", "told"),
    [
        ("2027-03-28 02:30", BERLIN, "no such time in Europe/Berlin"),
        ("2027-10-31 02:30", BERLIN, "comes twice .* \\+0200 or \\+0100"),
        ("2026-02-29", "UTC", "no such day"),
        ("2026-13-01", "UTC", "no such day"),
        ("2026-04-31 10:00", "UTC", "no such day"),
        ("2026-04-30 24:30", "UTC", "no such time"),
        ("2026-04-30 10:00+25:00", "UTC", "no such time"),
        ("9999-12-31", "UTC", "too far off"),
        ("9999-12-31 23:59-12:00", "UTC", "too far off"),
        ("31.12.2026", "UTC", "write a day as"),
        ("tomorrow", "UTC", "write a day as"),
        ("٢٠٢٦-١٢-٣١", "UTC", "write a day as"),
        ("", "UTC", "write a day as"),
        ("2026-12-31", "Nowhere/Town", "time zone 'Nowhere/Town'"),
        ("2026-12-31", "../../etc/passwd", "time zone"),
    ],
)
def test_what_is_no_time_or_two_is_refused(text: str, zone: str, told: str) -> None:
    with pytest.raises(BadInput, match=told):
        read_until(text, zone)


# in Santiago and Cairo clocks are put forward at midnight, so that some days begin at 01:00 (tz database, from memory)
ZONES = ("UTC", BERLIN, "America/Santiago", "Africa/Cairo", "Pacific/Kiritimati", "Asia/Kathmandu")


@given(st.dates(date(2026, 1, 1), date(2040, 12, 31)), st.sampled_from(ZONES))
def test_a_day_that_is_asked_for_is_told_as_that_day(day: date, zone: str) -> None:
    month = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"][day.month - 1]
    assert until_words(read_until(day.isoformat(), zone), zone) == f"the end of {day.day} {month} {day.year}"


@pytest.mark.parametrize(
    ("until", "zone", "told"),
    [
        (datetime(2026, 12, 31, 17, 5, tzinfo=UTC), "UTC", "31 Dec 2026 17:05 UTC"),
        (datetime(2027, 1, 1, tzinfo=UTC), BERLIN, "1 Jan 2027 01:00 CET"),
        (datetime(2027, 7, 1, tzinfo=UTC), BERLIN, "1 Jul 2027 02:00 CEST"),
        # what the calendar ends before, or a machine has no zones for, is told in UTC
        (datetime(9999, 12, 31, 20, tzinfo=UTC), "Pacific/Kiritimati", "31 Dec 9999 20:00 UTC"),
        (datetime(2027, 1, 1, tzinfo=UTC), "Nowhere/Town", "the end of 31 Dec 2026"),
    ],
)
def test_another_time_is_told_to_the_minute_where_it_is_meant(until: datetime, zone: str, told: str) -> None:
    assert until_words(until, zone) == told
