"""The password file of a page that listens beyond its own machine: a name and an argon2 hash a line."""

from __future__ import annotations

import getpass
import threading
from pathlib import Path
from typing import Final

from triptych.catalog.errors import BadInput
from triptych.catalog.inputs import read_text

SHORTEST_PASSWORD: Final = 12
"""A password has at least so many characters."""

_one_at_a_time: Final = threading.Lock()
"""Checking a password takes memory and time on purpose: nobody makes it take more by asking at once."""


def read_passwords(path: Path) -> dict[str, str]:
    """Return the hashes by name.

    Raises
    ------
    BadInput
        The file can't be read, others than its owner may read it, or a line is no name and argon2 hash.
    """
    found = {}
    text = read_text(path)
    if path.stat().st_mode & 0o077:
        raise BadInput(f"{path}: others may read it; chmod 600 keeps it to you")
    for number, line in enumerate(text.splitlines(), 1):
        name, mark, hashed = line.strip().partition(":")
        if not line.strip():
            continue
        if not mark or not name or not hashed.startswith("$argon2"):
            raise BadInput(f"{path}, line {number}: is no name, ':' and argon2 hash; triptych page --hash-password")
        found[name] = hashed
    if not found:
        raise BadInput(f"{path}: names nobody; triptych page --hash-password gives a line for it")
    return found


def right(hashes: dict[str, str], name: str, password: str) -> bool:
    """Whether a name has that password; one that nobody has takes as long."""
    from argon2 import PasswordHasher
    from argon2.exceptions import Argon2Error, InvalidHashError

    any_hash = next(iter(hashes.values()))
    with _one_at_a_time:
        try:
            return PasswordHasher().verify(hashes.get(name, any_hash), password) and name in hashes
        except (Argon2Error, InvalidHashError):
            return False


def asked_line() -> str:
    """Ask for a name and a password, and return their line of the file."""
    from argon2 import PasswordHasher

    name = input("Name: ").strip()
    if not name or ":" in name:
        raise BadInput("the name is blank or has a ':' in it; give another")
    password = getpass.getpass("Password: ")
    if len(password) < SHORTEST_PASSWORD:
        raise BadInput(f"the password has {len(password)} characters: {SHORTEST_PASSWORD} are the least")
    if getpass.getpass("Once more: ") != password:
        raise BadInput("the two are not the same; nothing was written")
    return f"{name}:{PasswordHasher().hash(password)}"
