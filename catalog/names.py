"""Names: which characters one may hold, and the known ones that a mistyped one is nearest to."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from typing import Final

from triptych.catalog.errors import BadInput

LONGEST_NAME: Final = 120

_ALIKE: Final = 60
"""From here on two names are near, of 100 for the same; tried on mistyped names, no source."""


_UNSEEN: Final = re.compile(
    r"[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]"
)
"""What Python calls printable and no terminal shows: joiners, fillers, variation selectors."""


def clean_name(text: str) -> str:
    """Return a name in one spelling: composed characters, single blanks, nothing that does not show.

    Raises
    ------
    BadInput
        The name holds what does not show, such as control characters and marks of direction, or is too long.
    """
    refuse_hidden(text.strip())
    # composing accents by the thousand takes minutes, so what is far too long is not composed first
    far = len(text) > 10 * LONGEST_NAME
    name = re.sub(r"\s+", " ", text if far else unicodedata.normalize("NFC", text)).strip()
    if len(name) > LONGEST_NAME:
        raise BadInput(f"{_told(text)} has {len(name)} characters; {LONGEST_NAME} are the most")
    return name


def refuse_hidden(text: str, *, note: bool = False) -> None:
    """Refuse a text that holds what nobody sees: the one check of every name, and of notes, which may have lines.

    Raises
    ------
    BadInput
        Shows the text with what is hidden in it written out.
    """
    if text.isprintable() and (text.isascii() or not _UNSEEN.search(text)):
        return
    if any(_hides(character, note) for character in text):
        what = "control characters" if note else "characters that do not print"
        raise BadInput(f"{_told(text)} holds {what}; take them out")


def _hides(character: str, note: bool) -> bool:
    kind = unicodedata.category(character)
    if note:
        return (kind in ("Cc", "Cs") and character not in "\n\t") or character in "\ufffe\uffff"
    return (not character.isprintable() and kind != "Zs") or _UNSEEN.match(character) is not None


def _told(text: str) -> str:
    shown = repr(text if len(text) <= LONGEST_NAME else text[: LONGEST_NAME - 1] + "…")
    return "".join(f"\\u{ord(one):04x}" if _UNSEEN.match(one) else one for one in shown)


def nearest(name: str, known: Iterable[str], most: int = 1) -> list[str]:
    """Return at most so many known names that are near one, the nearest first.

    >>> nearest("surounds", ["mains", "centre", "surrounds"])
    ['surrounds']
    """
    # hints are seldom needed, and most commands never load what finds them
    from rapidfuzz import fuzz, process

    near = process.extract(name, list(known), scorer=fuzz.WRatio, limit=most, score_cutoff=_ALIKE)
    return [found for found, _, _ in near]
