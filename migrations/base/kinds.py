"""What the tables of the base are made of: kinds of columns on both engines, CHECKs, keys. Part of a step: it stays."""

from __future__ import annotations

from typing import Any, Final

import sqlalchemy as sa

TABLES: Final = sa.MetaData(
    naming_convention={
        "ix": "ix_%(table_name)s_%(column_0_N_name)s",
        "uq": "uq_%(table_name)s_%(column_0_N_name)s",
        "ck": "ck_%(table_name)s_%(constraint_name)s",
        "fk": "fk_%(table_name)s_%(column_0_N_name)s",
        "pk": "pk_%(table_name)s",
    }
)

Kind = sa.types.TypeEngine[Any]

# A STRICT table of SQLite takes INTEGER, REAL, TEXT and BLOB only.
_TEXT: Final = sa.TEXT()
WHOLE: Final = sa.Integer()
MONEY: Final = sa.BigInteger().with_variant(sa.INTEGER(), "sqlite")
NUMBER: Final[Kind] = sa.Double().with_variant(sa.REAL(), "sqlite")
YES_NO: Final = sa.Boolean().with_variant(sa.INTEGER(), "sqlite")
TEXT: Final = sa.String().with_variant(_TEXT, "sqlite")
KEY: Final = sa.String().with_variant(sa.String(collation="C"), "postgresql").with_variant(_TEXT, "sqlite")
CODE: Final = sa.String(3).with_variant(_TEXT, "sqlite")
WORD: Final = sa.String(32).with_variant(_TEXT, "sqlite")
DAY: Final = sa.Date().with_variant(_TEXT, "sqlite")
INSTANT: Final = sa.DateTime(timezone=True).with_variant(_TEXT, "sqlite")
JSON: Final = sa.JSON().with_variant(_TEXT, "sqlite")
BYTES: Final = sa.LargeBinary()


def table(name: str, *items: sa.schema.SchemaItem) -> None:
    """Add a table to TABLES."""
    sa.Table(name, TABLES, *items, sqlite_strict=True)


def must(kind: Kind, names: str) -> list[sa.Column[Any]]:
    """Give columns that every row fills; names stand apart by spaces, here and below."""
    return [sa.Column(name, kind, nullable=False) for name in names.split()]


def some(kind: Kind, names: str) -> list[sa.Column[Any]]:
    """Give columns that may be unknown."""
    return [sa.Column(name, kind) for name in names.split()]


def word(name: str, words: str, *, must: bool = False, check: str = "") -> list[sa.schema.SchemaItem]:
    """Give a column that holds one of a few words, and its CHECK, named as the column where it has no other name."""
    said = ", ".join(f"'{one}'" for one in words.split())
    return [
        sa.Column(name, WORD, nullable=not must),
        sa.CheckConstraint(f"{name} IN ({said})", name=check or name),
    ]


def named() -> list[sa.schema.SchemaItem]:
    """Give what has a number and a name of its own; `name_key` is the spelling that names are compared by."""
    columns = [*must(WHOLE, "id"), *must(TEXT, "name"), *must(KEY, "name_key")]
    return [*columns, check("named", "name_key <> ''"), primary("id"), unique("name_key")]


def check(name: str, condition: str) -> sa.CheckConstraint:
    """Give a CHECK."""
    return sa.CheckConstraint(condition, name=name)


def positive(names: str) -> list[sa.CheckConstraint]:
    """Give one CHECK a column: above zero."""
    return [check(f"{name}_positive", f"{name} > 0") for name in names.split()]


def not_negative(names: str) -> list[sa.CheckConstraint]:
    """Give one CHECK a column: zero or more."""
    return [check(f"{name}_not_negative", f"{name} >= 0") for name in names.split()]


def primary(names: str) -> sa.PrimaryKeyConstraint:
    """Give a primary key."""
    return sa.PrimaryKeyConstraint(*names.split())


def unique(names: str) -> sa.UniqueConstraint:
    """Give a key that no two rows share."""
    return sa.UniqueConstraint(*names.split())


def points(names: str, to: str, *, ondelete: str | None = None) -> sa.ForeignKeyConstraint:
    """Give a foreign key from columns to `table.column`."""
    return sa.ForeignKeyConstraint(names.split(), to.split(), ondelete=ondelete)


def index(name: str, names: str, *, where: str = "", unique: bool = False) -> sa.Index:
    """Give an index, of some rows only where `where` says which: each that a row is in makes it slower to write."""
    some_rows = sa.text(where) if where else None
    return sa.Index(name, *names.split(), unique=unique, sqlite_where=some_rows, postgresql_where=some_rows)
