"""What all tables share: names of constraints, kinds of columns, enums by value, STRICT tables on SQLite."""

from __future__ import annotations

import enum
from collections.abc import Callable, Iterable
from datetime import UTC, datetime
from decimal import Decimal
from typing import Annotated, Any, Final

import sqlalchemy as sa
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.orm import DeclarativeBase, mapped_column

from triptych.catalog.fields import Field

CONSTRAINT_NAMES: Final = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}
"""Every constraint has a name, so that a migration can drop it."""

STRICT: Final = {"sqlite_strict": True}
"""SQLite checks the type of every value, as PostgreSQL does."""


def of_some(name: str, *columns: str, where: str, unique: bool = False) -> sa.Index:
    """Give an index of the rows for which something holds; each that a line is in makes it slower to write.

    PostgreSQL is told by `every_table`: its dialect, which the tables would load here, is a fortieth of a command.
    """
    condition = sa.text(where)
    return sa.Index(name, *columns, unique=unique, sqlite_where=condition, info={"where": condition})


def _named(name: str, *types: type[sa.types.TypeEngine[Any]]) -> None:
    for kind in types:
        compiles(kind, "sqlite")(_spelling(name))


def _spelling(name: str) -> Callable[..., str]:
    return lambda element, compiler, **options: name


# A STRICT table takes INTEGER, REAL, TEXT and BLOB only, so each type must be spelled as one of them.
_named("TEXT", sa.String, sa.Text, sa.Enum, sa.Date, sa.DateTime, sa.JSON)
_named("REAL", sa.Double)
_named("INTEGER", sa.Boolean, sa.BigInteger)


class UtcTime(sa.types.TypeDecorator[datetime]):
    """An instant: stored in UTC, always aware."""

    impl = sa.DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: sa.Dialect) -> datetime | None:
        """Refuse a time without a zone; store the rest in UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError(f"a time needs a zone: {value!r}")
        return value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: sa.Dialect) -> datetime | None:
        """Give the zone back where the database has none."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


_BY_VALUE: Final[dict[str, Any]] = {
    "values_callable": lambda members: [member.value for member in members],
    "native_enum": False,
    "create_constraint": True,
    "length": 32,
}


def by_value(kind: type[enum.Enum], name: str) -> sa.Enum:
    """Give the column type of an enum, held by a CHECK of that `name`; needed where a table has the enum twice."""
    return sa.Enum(kind, name=name, **_BY_VALUE)


def positive(*columns: str) -> list[sa.CheckConstraint]:
    """Give one CHECK a column: above zero."""
    return [sa.CheckConstraint(f"{column} > 0", name=f"{column}_positive") for column in columns]


def not_negative(*columns: str) -> list[sa.CheckConstraint]:
    """Give one CHECK a column: zero or more."""
    return [sa.CheckConstraint(f"{column} >= 0", name=f"{column}_not_negative") for column in columns]


def checks(described: Iterable[Field], prefix: str = "") -> list[sa.CheckConstraint]:
    """Give one CHECK a column whose field has a sign."""
    made = {"> 0": positive, ">= 0": not_negative}
    return [check for field in described if field.check for check in made[field.check](prefix + field.name)]


def add_columns(table: type[Base], described: Iterable[Field], prefix: str = "", *, nullable: bool = False) -> None:
    """Give a table one column a field; all of them can be NULL where the fields as a whole can be unknown."""
    for field in described:
        null = nullable or field.optional
        setattr(table, prefix + field.name, mapped_column(_type_of(field), nullable=null, info=_info(field)))


def _type_of(field: Field) -> sa.types.TypeEngine[Any]:
    if issubclass(field.type, enum.Enum):
        return by_value(field.type, field.type.__name__.lower())
    if field.about.form == "currency":
        return sa.String(3)
    return _TYPES[field.type]


_TYPES: Final[dict[type, sa.types.TypeEngine[Any]]] = {
    float: sa.Double(),
    int: sa.Integer(),
    bool: sa.Boolean(),
    str: sa.String(),
    Decimal: sa.BigInteger(),
}


def _info(field: Field) -> dict[str, str]:
    told = {"means": field.about.meaning}
    if field.quantity is not None:
        return told | {"unit": field.quantity.unit}
    return told | {"unit": "minor unit of the currency"} if field.type is Decimal else told


Key = Annotated[int, mapped_column(primary_key=True)]
NameKey = Annotated[str, mapped_column(sa.String().with_variant(sa.String(collation="C"), "postgresql"))]
Metres = Annotated[float, mapped_column(sa.Double, info={"unit": "m"})]
Decibels = Annotated[float, mapped_column(sa.Double, info={"unit": "dB"})]
Hertz = Annotated[float, mapped_column(sa.Double, info={"unit": "Hz"})]
Degrees = Annotated[float, mapped_column(sa.Double, info={"unit": "deg"})]
Percent = Annotated[float, mapped_column(sa.Double, info={"unit": "%"})]
Count = Annotated[int, mapped_column(info={"unit": "1"})]
MinorUnits = Annotated[int, mapped_column(sa.BigInteger, info={"unit": "minor unit of the currency"})]
Currency = Annotated[str, mapped_column(sa.String(3))]
Instant = Annotated[datetime, mapped_column(UtcTime)]


class Base(DeclarativeBase):
    """All tables of the catalogue."""

    metadata = sa.MetaData(naming_convention=CONSTRAINT_NAMES)
    type_annotation_map = {enum.Enum: sa.Enum(enum.Enum, **_BY_VALUE)}  # noqa: RUF012  SQLAlchemy reads it once
