"""The steps that bring a database from one version of the tables to the next."""

from typing import Final

HEAD: Final = "0012"
"""The newest revision; a test holds it to the files in `versions`. Here, so that a check needs no Alembic."""
