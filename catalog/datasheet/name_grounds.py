"""What beside its place tells that a piece of a heading is the maker's name, or the model's."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import AND
from triptych.catalog.datasheet.name_parts import (
    bare_name,
    describes_only,
    ends_as_model,
    is_house,
    without_form,
    without_legal_form,
)
from triptych.catalog.datasheet.word_groups import word_groups

_JOINED: Final = re.compile(rf"^[^\W\d_][\w'’]* (?:&|{AND}) [^\W\d_][\w'’]*(?: \w+)?$")
"""Two names that sign together: 'Osier & Finch'."""
_WORDS: Final = word_groups("names.toml")
_WORKSHOP: Final = re.compile(rf"^{_WORDS['workshop']}\b|\S {_WORDS['workshop_end']}$")
_WORD: Final = r"[^\W\d_a-zß-ÿąćęłńśźż][\w'’&-]*"
_RUN: Final = rf"{_WORD}(?: (?:{_WORD}|&|\d+[\w.]*|{_WORDS['within']}(?= [^\W\d_a-zß-ÿąćęłńśźż])))*"
_SAYS: Final = rf"{_WORDS['says']}\s*:?"
"""Words that only a maker stands behind."""
_FROM: Final = re.compile(
    rf"(?P<model>{_RUN})(?P<what>(?: [^\W\d_A-ZÀ-ÞĄĆĘŁŃŚŹŻ][\w-]*){{0,2}}?),?\s+\(?"
    rf"(?i:(?P<says>{_SAYS})|(?P<may>{_WORDS['may_say']}))\s+(?P<maker>{_RUN})"
)
_BRACKETED: Final = re.compile(rf"(?P<model>{_RUN}) \((?P<maker>{_RUN})\)")
_CODE: Final = re.compile(r"(?<![\w-])(?P<letters>[A-Z]{2,4})-?[A-Z]?\d{1,4}[A-Z]{0,3}\w?(?![\w-])")
_ARTICLE: Final = re.compile(rf"^(?:{_WORDS['article']}\s+)+(?=\S)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Ordered:
    """Two pieces of a heading as maker and model, and which of them nothing but the order tells."""

    maker: str
    model: str
    placed: frozenset[str]


def in_order(first: str, second: str, titles: Sequence[str], text: str) -> Ordered:
    """Return two pieces as maker and model: as they stand, unless what is said of them tells otherwise.

    >>> in_order("Brindle C", "Osier & Finch", ["Brindle C - centre channel", "Osier & Finch"], "").maker
    'Osier & Finch'
    >>> sorted(in_order("Tarn Hollow Audio", "Wren", ["Tarn Hollow Audio", "Wren"], "").placed)
    ['model']
    >>> sorted(in_order("Sallow", "Wren", ["Sallow", "Wren"], "").placed)
    ['maker', 'model']
    """
    made = [signs_as_maker(one, titles, text) for one in (first, second)]
    named = [signs_as_model(one, titles) for one in (first, second)]
    apart = not any(first in one and second in one for one in titles)
    swapped = made[1] + named[0] > made[0] + named[1] and (made[1] or apart)
    maker, model = (second, first) if swapped else (first, second)
    sure = made[int(swapped)]
    placed = set() if sure else {"maker"}
    if not named[int(not swapped)]:
        placed.add("model")
    return Ordered(maker, model, frozenset(placed))


def signs_as_maker(name: str, titles: Iterable[str], text: str) -> bool:
    """Return whether more than its place tells that a name is a maker's.

    It ends as makers' names do, stands before a legal form, joins two names, owns something, or is an address.
    """
    words = name.split()
    if is_house(words) or _JOINED.match(name) or _WORKSHOP.match(folded(name)):
        return True
    line = next((one for one in titles if name in one), "")
    if line and without_form(line) != line.strip(" ."):
        return True
    if re.search(rf"(?<!\w){re.escape(name)}['’]s?\s", text):
        return True
    letters = re.sub(r"[^a-z0-9]", "", folded(name))
    hosts = re.findall(r"(?:www\.|https?://(?:www\.)?|@)([a-z0-9.-]+)\.[a-z]{2,}", text.casefold())
    return len(letters) > 3 and any(letters in re.sub(r"[^a-z0-9]", "", host) for host in hosts)


def signs_as_model(name: str, titles: Iterable[str]) -> bool:
    """Return whether more than its place tells that a name is a model's: how it ends, or what its line calls it."""
    if ends_as_model(name.split()[-1]) and len(name.split()) > 1:
        return True
    if re.search(r"\d", name):
        return True
    line = next((one for one in titles if name in one), name)
    rest = line.replace(name, " ").strip(" -–—:,|·")
    return bool(rest) and describes_only(rest)


def said_of(line: str) -> tuple[str, str] | None:
    """Return maker and model of a sentence that says whose the model is.

    >>> said_of("Die neue Kiebitz 3 aus der Manufaktur Moorauer Klang")
    ('Moorauer Klang', 'Kiebitz 3')
    >>> said_of("mes Passerin 45 (Atelier du Merisier)"), said_of("We met in May by the sea")
    (('Atelier du Merisier', 'Passerin 45'), None)
    """
    for match in _BRACKETED.finditer(line):
        if is_house(match["maker"].split()) or _WORKSHOP.match(folded(match["maker"])):
            return _cleaned(match["maker"], match["model"])
    for match in _FROM.finditer(line):
        maker, model = _cleaned(match["maker"], match["model"])
        ends = ends_as_model(model.split()[-1]) and len(model.split()) > 1
        if not model or describes_only(model):
            continue
        if is_house(maker.split()) or (ends and (match["says"] or len(maker) > 3)):
            return maker, model
    return None


def _cleaned(maker: str, model: str) -> tuple[str, str]:
    return without_legal_form(maker), bare_name(_ARTICLE.sub("", model))


def of_code(lines: Iterable[str]) -> tuple[str, str] | None:
    """Return maker and model where a code has the letters of names that stand together: 'Harbour Crane' of HC-502.

    >>> of_code(["Hot Sale!! Harbour Crane Home Theater Sound HC-502 OEM", "20 years"])
    ('Harbour Crane', 'HC-502')
    """
    text = "\n".join(lines)
    for code in _CODE.finditer(text):
        words = [r"\b" + re.escape(letter) + r"(?:[a-zß-ÿąćęłńśźż]+|[A-Z]+)" for letter in code["letters"]]
        found = re.search(" ".join(words), text)
        if found and code[0] not in found[0]:
            rest = re.match(
                r"(?: (?:Audio|Acoustics?|Electronics|Sound|Akustik|HiFi|Electroacoustics?))?", text[found.end() :]
            )
            return f"{found[0]}{rest[0] if rest else ''}", code[0]
    return None
