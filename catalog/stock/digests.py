"""The digest of a line of the ledger: of the digest before it in its holding, and of all that the line says.

On a server a trigger makes it, by the same rule: `migrations/sql/0016_postgresql.sql`.
"""

from __future__ import annotations

import hashlib
import json
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

MORE: Final = ("undoes_id", "carries_id")
"""What it says after that, where there is any of it: older lines have none."""

_EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND: Final = timedelta(microseconds=1)


def digest_of(before: str | None, line: Mapping[str, Any], holding: Mapping[str, Any]) -> str:
    """Give the SHA-256 of a line, in hexadecimal digits, where that of the line before it is `before`."""
    said = [line["loudspeaker_id"], line["holding_id"], *(holding[name] for name in HOLDING)]
    values = [before, *map(_plain, said), *(_plain(line[name]) for name in LINE)]
    more = [line[name] for name in MORE]
    values += more if any(more) else []
    return hashlib.sha256(json.dumps(values, ensure_ascii=False).encode("utf-8", "surrogatepass")).hexdigest()


def _plain(value: Any) -> Any:
    if isinstance(value, datetime):
        return (value - _EPOCH) // _MICROSECOND
    return value.value if isinstance(value, Enum) else value
