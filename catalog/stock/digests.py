"""The digest of a line of the ledger: of the digest before it in its holding, and of all that the line says.

On a server a trigger makes it, by the same rule: `migrations/sql/0025_postgresql.sql`.
"""

from __future__ import annotations

import hashlib
import json
import time
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from enum import Enum
from typing import Any, Final

HOLDING: Final = ("location_id", "grade", "pack", "finish_key")
"""What a digest says of the holding of its line."""

LINE: Final = (
    "sequence",
    "kind",
    "quantity",
    "effect",
    "on_hand",
    "tracked",
    "job_id",
    "until",
    "reservation_id",
    "from_id",
    "to_holding_id",
    "order_id",
    "quote_id",
    "serial",
    "serial_sequence",
    "amount",
    "currency",
    "at",
    "who",
    "note",
)
"""What it says of the line, after its loudspeaker and holding."""

MORE: Final = ("undoes_id", "carries_id", "deed_number")
"""What it says after that; older lines have no deed, and say the others where there is any of them."""

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND: Final = timedelta(microseconds=1)


def digest_of(before: str | None, line: Mapping[str, Any], holding: Mapping[str, Any], *, server: bool = False) -> str:
    """Give the SHA-256 of a line, in hexadecimal digits, where that of the line before it is `before`.

    On a server a line has its own number before it is written, and says it too.
    """
    said = [line["loudspeaker_id"], line["holding_id"], *(holding[name] for name in HOLDING)]
    values = [before, *map(_plain, said), *(_plain(line[name]) for name in LINE)]
    more = [line[name] for name in MORE]
    if line["deed_number"] is None:
        more = more[:-1] if any(more) else []
    elif server:
        more.append(line["id"])
    values += more
    return hashlib.sha256(json.dumps(values, ensure_ascii=False).encode("utf-8", "surrogatepass")).hexdigest()


def deed_number() -> int:
    """Give a file's next deed a number: the microsecond in which it begins, as one writes at a time."""
    return time.time_ns() // 1000


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return (value - _EPOCH) // _MICROSECOND
    return value.value if isinstance(value, Enum) else value
