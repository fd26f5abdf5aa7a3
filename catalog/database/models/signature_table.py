"""Who wrote what, and when: a signature for each row that was made, changed or removed, which triggers leave."""

from __future__ import annotations

import sqlalchemy as sa
from sqlalchemy.orm import Mapped, mapped_column

from triptych.catalog.database.models import base as b


class Signature(b.Base):
    """Who made, changed or removed a row, and when; of a price the number is its loudspeaker's.

    On a server `who` is the login, by the server itself; on SQLite the program puts it there, and it is NULL where
    another program wrote. One that says `{}` is for the proof alone.
    """

    __tablename__ = "signature"
    __table_args__ = (
        sa.CheckConstraint("deed IN ('made', 'changed', 'removed')", name="deed"),
        sa.Index(None, "subject", "number"),
        b.STRICT,
    )

    id: Mapped[b.Key]
    at: Mapped[b.Instant]
    who: Mapped[str | None]
    subject: Mapped[str]
    number: Mapped[int] = mapped_column(info={"unit": "1", "means": "that of the row"})
    deed: Mapped[str]
    said: Mapped[str]
    digest: Mapped[str | None] = mapped_column(info={"means": "that of the signature and of one before it of the row"})
    was: Mapped[str | None] = mapped_column(info={"means": "digest of all that the row said before"})
    becomes: Mapped[str | None] = mapped_column(info={"means": "digest of all that it says then"})
