"""Names: which characters one may hold, how they are compared, and the known ones that a mistyped one is near."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Collection, Iterable
from typing import Final

from triptych.catalog.errors import BadInput

LONGEST_NAME: Final = 120

_ALIKE: Final = 60
"""From here on two names are near, of 100 for the same; tried on mistyped names, no source."""


_UNSEEN: Final = re.compile(
    r"[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u2800\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]"
)
"""What Python calls printable and no terminal shows: joiners, fillers, variation selectors."""


def name_key(*parts: str | None) -> str:
    """Give the text by which names are compared: without case, with single blanks.

    >>> name_key("Oatfell", None, " LINDEN  Tower")
    'oatfell linden tower'
    """
    name = " ".join(filter(None, parts))
    if name.isascii():  # nothing to compose
        return " ".join(name.lower().split())
    name = unicodedata.normalize("NFKC", name).casefold()
    return " ".join(unicodedata.normalize("NFKC", name).split())


def clean_name(text: str) -> str:
    """Return a name in one spelling: composed characters, single blanks, nothing that does not show.

    Raises
    ------
    BadInput
        The name holds what does not show, such as control characters and marks of direction, or is too long.
    """
    if len(text) <= LONGEST_NAME and text.isascii() and text.isprintable() and "  " not in text:
        return text.strip()  # as most are written
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
    if shows(text):
        return
    if any(_hides(character, note) for character in text):
        what = "control characters" if note else "characters that do not print"
        raise BadInput(f"{_told(text)} holds {what}; take them out")


def shows(text: str) -> bool:
    """Tell whether every character of a text is one that a terminal shows."""
    return text.isprintable() and (text.isascii() or not _UNSEEN.search(text))


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


def mistaken_for(name: str, known: Iterable[str]) -> str | None:
    """Give the known name that another was nearly certainly meant to be; None where it is a name of its own.

    >>> mistaken_for("shpo", ["van", "shop"])
    'shop'
    >>> mistaken_for("shop 2", ["shop 1"])
    """
    return NearNames(known).meant(name)


_LOOKED_AT: Final = 5
"""So many of the nearest names are looked at, as all of a large catalogue would take long."""


def meant_by(key: str, known: Collection[str]) -> str | None:
    """Give the key of the known name that another means: mistyped, or without what only one begins with.

    >>> meant_by("linden tower", ["orchard linden tower", "orchard plum wide"])
    'orchard linden tower'
    """
    ends = [name for name in known if name.endswith(f" {key}")]
    return ends[0] if len(ends) == 1 else mistaken_for(key, nearest(key, known, _LOOKED_AT))


TRADE_WORDS: Final = frozenset(
    {
        *("acoustic", "acoustics", "acoustique", "akustik", "audio", "hifi", "labs", "lautsprecher", "loudspeaker"),
        *("loudspeakers", "sound", "speaker", "speakers", "co", "company", "corp", "gmbh", "inc", "limited", "llc"),
        *("ltd", "plc", "sa", "sarl", "spa", "srl", "the"),
    }
)
"""Words that makers' names are written with or without. Common practice, no source."""

_LABEL: Final = re.compile(r"\d+|(?<![^\W_])(?:[ivx]{2,5}|[^\W_])(?![^\W_])")
"""What tells names of one stem apart: a number, a Roman one too, or a lone letter."""

_MARK: Final = re.compile(r"(?<![^\W_])(mk|mark)(?=[ivx]+(?![^\W_])|\d)")

_OTHER: Final = re.compile(r"[\W_]+")


class NearNames:
    """Known names, of which it gives the one that another was nearly certainly meant to be.

    That is one an edit or two away, blanks and signs apart; what numbers, Roman numerals or lone letters tell apart,
    such as shop 1 and shop 2, is not near. `idle` words count for nothing.
    """

    def __init__(self, known: Iterable[str] = (), idle: frozenset[str] = frozenset()) -> None:
        self._idle = idle
        self._stems: dict[tuple[str, ...], dict[str, str]] = {}
        for name in known:
            self.add(name)

    def add(self, name: str) -> None:
        """Take a name in; the first in the order of the alphabet stands for those of one stem."""
        labels, stem = self._parts(name)
        stems = self._stems.setdefault(labels, {})
        stems[stem] = min(name, stems.get(stem, name))

    def meant(self, name: str) -> str | None:
        """Give the known name that this one is near; None where it is a name of its own."""
        from rapidfuzz import process
        from rapidfuzz.distance import OSA

        labels, stem = self._parts(name)
        stems = self._stems.get(labels, {})
        near = process.extract(stem, stems.keys(), scorer=OSA.distance, score_cutoff=_MOST_EDITS, limit=None)
        found = [(int(edits), stems[other]) for other, edits, _ in near if edits <= _allowed(stem, other)]
        return min(found)[1] if found else None

    def _parts(self, name: str) -> tuple[tuple[str, ...], str]:
        """What tells a name apart from others of its stem, and the stem."""
        key = _MARK.sub(r"\1 ", name_key(name.replace("&", " and ")))
        telling = " ".join(word for word in key.split() if word.strip(".,") not in self._idle)
        if len(_OTHER.sub("", telling)) >= _SHORTEST:
            key = telling
        return tuple(label.lstrip("0") for label in _LABEL.findall(key)), _OTHER.sub("", _LABEL.sub("", key))


_MOST_EDITS: Final = 2
_SHORTEST: Final = 3
"""A stem of fewer letters is near no other."""


def _allowed(stem: str, other: str) -> int:
    """Count the slips of the fingers that may lie between two stems of one name; -1 where either says too little."""
    shorter = min(len(stem), len(other))
    if shorter < _SHORTEST:
        return -1
    # two edits leave little of a short word, and with the first letter gone they are rather north and south
    return _MOST_EDITS if shorter > 5 and stem[0] == other[0] else 1
