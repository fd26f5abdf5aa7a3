"""One class a failure; the command line turns each into one line and exit code 1."""

from __future__ import annotations


class CatalogError(Exception):
    """The catalogue, or what was given to it, says no."""


class NotFound(CatalogError):
    """Nothing in the catalogue has that name."""


class BadInput(CatalogError):
    """A file, a cell or an option holds something that cannot be taken."""


class UnreadableQuantity(BadInput):
    """A text is not a quantity of the kind that is wanted, or could be two."""


class Refused(CatalogError):
    """A change would break an invariant; nothing was written."""


class Overtaken(CatalogError):
    """What a change was worked out from has been changed by somebody else meanwhile; nothing was written."""


class DatabaseProblem(CatalogError):
    """The database cannot be opened, migrated or reached."""


class Unreached(DatabaseProblem):
    """The server is away; nothing was written, so the same can be done again."""
