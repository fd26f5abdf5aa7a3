"""The steps that bring a database from one version of the tables to the next."""

from typing import Final

BASE: Final = "0012"
"""The oldest revision that can be upgraded: steps before it were never released."""

HEAD: Final = "0026"
"""The newest revision; a test holds both to the files in `versions`. Here, so that a check needs no Alembic."""
