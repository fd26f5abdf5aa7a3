"""Where running text calls loudspeakers by their names, by what is left of a name, or all of them at once."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from triptych.catalog.datasheet.joining import AND, OR
from triptych.catalog.datasheet.parts import SheetPart

ARTICLE: Final = (
    r"(?:the|der|die|das|dem|den|beim|im|la|le|les|el|los|las|il|lo|i|gli|de|het|du|della|del|dello|al|alla|au|a)"
)
_JOINER: Final = re.compile(rf"(?:[\s,/&+]|\b(?:{AND}|{OR})\b|\b{ARTICLE}\b|\bl['’])*", re.IGNORECASE)
_ALL: Final = re.compile(
    r"\b(?:all (?:of them|the models|[\w-]+ models|(?:three|four|two|of these) )?|both(?: of them| models)?|"
    r"each(?= (?:has|have|uses|is))|"
    r"every (?:model|one)|they(?= (?:share|all|both))|"
    r"(?:zij|ze)(?= delen)|sie(?= teilen)|(?:elles|ils)(?= partagent)|"
    r"alle(?: (?:drei|vier|zwei|modelle|boxen))?(?= )|beiden?(?: modellen?)?(?= )|"
    r"(?:toutes|tous)(?= )|(?:les|los|las|i|le) (?:deux|trois|quatre|dos|tres|cuatro|due|tre|quattro)(?= )|"
    r"(?:todos|todas|tutti|tutte|ambos|ambas|entrambi|entrambe)(?= )|allebei|alle drie|oba|obie|wszystkie(?= ))",
    re.IGNORECASE,
)
_TWO: Final = 2
_TWO_OF_ALL: Final = re.compile(
    r"(?:both|beide[nr]?|les deux|los dos|las dos|i due|le due|entramb[ie]|amb[oa]s|allebei|oba|obie)\b", re.IGNORECASE
)
"""Words for two and no more."""
_THROUGHOUT: Final = re.compile(
    r"\b(?:throughout|across the (?:range|family|line)|sur toute la (?:ligne|gamme|série)|"
    r"in der ganzen (?:serie|reihe)|"
    r"en toda la (?:serie|gama|línea)|(?:su|per) tutta la (?:linea|serie|gamma)|(?:over|in) de hele (?:lijn|serie)|"
    r"w całej serii|in common|durchweg|durchgehend|gemeinsam|en commun|en comun|"
    r"in comune|gemeen)\b",
    re.IGNORECASE,
)
_REST: Final = re.compile(
    r"\b(?:the (?:others?|rest|remaining \w+)|die (?:anderen|übrigen)|alle anderen|les autres|l['’]autre|"
    r"los demás|las demás|los otros|el otro|el resto|gli altri|le altre|l['’]altro|de (?:andere|rest|overige)|"
    r"pozostałe)\b",
    re.IGNORECASE,
)
_NEXT: Final = rf"(?:\s*[,/]\s*|\s+(?:{AND}|&|{OR})\s+)"
_UNITS: Final = (
    r"\s?(?:mm|cm|m\b|kg|lbs?\b|dB|k?Hz|W\b|watts?|V\b|ohms?|Ω|″|\"|''|inch|in\.|%|°|x\b|×|[.,:]?\d|[-–]\s?\d|€|£|\$)"
)


@dataclass(frozen=True, slots=True)
class Mention:
    """A place at which loudspeakers are called; `who` has a bit for each."""

    start: int
    end: int
    who: int


@dataclass(frozen=True, slots=True)
class Calls:
    """How a text calls each of several loudspeakers."""

    count: int
    patterns: tuple[tuple[re.Pattern[str], int, tuple[str, ...]], ...]
    """Each with its loudspeakers, and words of which a text has one wherever it fits: looked for first."""
    listed: re.Pattern[str] | None
    """How a list of them goes on by the short."""
    bits: Mapping[str, int]
    """The loudspeaker of each short name."""

    @property
    def everyone(self) -> int:
        """All of them."""
        return (1 << self.count) - 1


def calls_of(parts: Sequence[SheetPart]) -> Calls:
    """Return how loudspeakers are called: by their whole names, and by what no other has of them."""
    series = tuple(part.series.text if part.series else "" for part in parts)
    return _calls(tuple(part.name.text if part.name else "" for part in parts), series)


def _groups(names: Sequence[Sequence[str]], series: Sequence[str]) -> Iterator[tuple[str, int, str]]:
    """How a text calls all of one series: by its name, or by the word that their names open with; and that name."""
    firsts = [words[0] if words and words[0][0].isupper() and len(words[0]) > 2 else "" for words in names]
    for names_of in (series, firsts):
        for name in dict.fromkeys(one.casefold() for one in names_of if one):
            who = sum(1 << place for place, one in enumerate(names_of) if one.casefold() == name)
            if 1 < who.bit_count() < len(names):
                own = rf"(?i:{re.escape(name)})"
                yield rf"(?:(?<=\w )|(?<![\w-])){own}(?=\s?:)", who, name
                yield rf"(?<![\w-]){_SERIES}\s{own}(?![\w-])(?!\s\d)|(?<![\w-]){own}\s{_SERIES}(?!\w)", who, name


_SERIES: Final = r"(?i:series?|séries?|serii|seria|gammes?|linea|línea|linia|lijn|reihe|range|models|modelle|modèles)"


@lru_cache(maxsize=64)
def _calls(called: tuple[str, ...], series: tuple[str, ...]) -> Calls:
    names = [name.split() for name in called]
    lead = _common(names)
    found: list[tuple[str, int, tuple[str, ...]]] = []
    told = Counter(word for words in names for word in {word.casefold() for word in words})
    for place, words in enumerate(names):
        if not words:
            continue
        needs = tuple(word.casefold() for word in words[lead:] or words)
        found += [(pattern, 1 << place, needs) for pattern in _patterns(words, lead, told)]
    # of two names the longer one is tried first: 'Halo Plus' is no 'Halo'
    found.sort(key=lambda one: -len(one[0]))
    found += [(pattern, who, (name,)) for pattern, who, name in _groups(names, series)]
    short = {" ".join(words[lead:]): 1 << place for place, words in enumerate(names) if lead and words[lead:]}
    own = "|".join(map(re.escape, sorted(short, key=len, reverse=True)))
    listed = re.compile(rf"{_NEXT}(?P<own>{own})(?![\w-]|[.,]\d)(?!{_UNITS})") if len(short) > 1 else None
    return Calls(len(called), tuple((re.compile(pattern), bit, needs) for pattern, bit, needs in found), listed, short)


def _common(names: Sequence[Sequence[str]]) -> int:
    """How many words all names open with."""
    count = 0
    while all(len(words) > count for words in names) and len({words[count].casefold() for words in names}) == 1:
        count += 1
    return count


def _patterns(words: Sequence[str], lead: int, told: Mapping[str, int]) -> Iterator[str]:
    whole = r"\s".join(map(re.escape, words))
    yield rf"(?<![\w-])(?i:{whole})(?![\w-]|[.,]\d)"
    own = list(words[lead:])
    if lead and own:
        last = re.escape(words[lead - 1])
        rest = r"\s".join(map(re.escape, own))
        yield rf"(?<![\w-])(?i:{last}\s{rest})(?![\w-]|[.,]\d)"
        yield from _short(own)
    for word in words:
        if told[word.casefold()] == 1 and word[0].isupper() and len(word) > 2:
            yield rf"(?<![\w-])(?:{re.escape(word)}|{re.escape(word.title())})(?![\w-])"


def _short(own: Sequence[str]) -> Iterator[str]:
    """What is left of a name: a word, or a figure or a letter where nothing else can stand."""
    rest = " ".join(own)
    if len(own) == 1 and (rest.isdigit() or (len(rest) <= 2 and not re.fullmatch(r"[A-Z]\d", rest))):
        here = re.escape(rest)
        yield rf"(?:(?<=[(/])|(?<=\(\w, )|(?<=\(\w{{2}}, )|(?<=, )(?=\w+\)))(?-i:{here})(?=[),/:]|\s?:)(?!{_UNITS})"
        yield rf"\b(?i:{ARTICLE})\s{here}(?![\w-])(?!{_UNITS})"
        if rest.isdigit():
            yield rf"(?:^|(?<=[.;] )|(?<=[^\W\d]{{3}} )){here}(?=:\s)"
        if rest.isalpha():
            yield rf"(?<![\w(=-]){here}(?=\s?:?\s\d[\d.,]*\s?(?:[/,;]|dB|kg|Ω))"
    else:
        yield rf"(?<![\w-])(?:{re.escape(rest)}|{re.escape(rest.title())}|{re.escape(rest.upper())})(?![\w-])"


def mentions(text: str, calls: Calls, last: int = 0) -> list[Mention]:
    """Return where a text calls one, several or all of them, in order; those that only joiners part are one.

    `last` is whom the text before it named, whom 'the others' leave out.
    """
    found: list[Mention] = []
    small = text.casefold()
    for pattern, bit, needs in calls.patterns:
        if not any(word in small for word in needs):
            continue
        found += [Mention(m.start(), m.end(), bit) for m in pattern.finditer(text) if _is_free(found, m)]
    for one in list(found):
        found += [also for also in _listed(text, one.end, calls) if _is_free(found, also)]
    for m in _ALL.finditer(text):
        # both of three are two that nothing names
        whole = calls.count <= _TWO or not _TWO_OF_ALL.match(m[0])
        found += [Mention(m.start(), m.end(), calls.everyone if whole else 0)] if _is_free(found, m) else []
    found.sort(key=lambda one: one.start)
    grouped = list(_grouped(text, found))
    for match in _REST.finditer(text):
        before = [one for one in grouped if one.end <= match.start() and one.who != calls.everyone]
        others = calls.everyone & ~(before[-1].who if before else last)
        if others and others != calls.everyone and _is_free(grouped, match):
            grouped.append(Mention(match.start(), match.end(), others))
    return sorted(grouped, key=lambda one: one.start)


def _listed(text: str, end: int, calls: Calls) -> Iterator[Mention]:
    """What a list goes on with, which calls by what no other name has: 'Wren 2, 4 and C'."""
    while match := calls.listed.match(text, end) if calls.listed else None:
        yield Mention(match.start("own"), match.end(), calls.bits[match["own"]])
        end = match.end()


def of_all(text: str, *, anywhere: bool = False) -> bool:
    """Return whether a sentence says of its figures that they hold throughout; `anywhere`, or names all of them."""
    return _THROUGHOUT.search(text) is not None or (anywhere and _ALL.search(text) is not None)


def _is_free(found: Sequence[Mention], match: re.Match[str] | Mention) -> bool:
    start, end = (match.start, match.end) if isinstance(match, Mention) else match.span()
    return all(end <= one.start or one.end <= start for one in found)


def _grouped(text: str, found: Sequence[Mention]) -> Iterator[Mention]:
    """Mentions that nothing but joiners parts as one: 'the Minor and the Major'."""
    last: Mention | None = None
    for one in found:
        if last is not None and _JOINER.fullmatch(text, last.end, one.start):
            last = Mention(last.start, one.end, last.who | one.who)
            continue
        if last is not None:
            yield last
        last = one
    if last is not None:
        yield last
