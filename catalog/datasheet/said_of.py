"""Sentences about several loudspeakers, taken apart: what of each is said of whom."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import Final

from triptych.catalog.datasheet.enclosure import enclosures_in
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import AND, BETWEEN, RANGED
from triptych.catalog.datasheet.mentions import ARTICLE, Calls, Mention, calls_of, mentions, of_all
from triptych.catalog.datasheet.owner import RESPECTIVELY
from triptych.catalog.datasheet.parts import Piece, SheetPart
from triptych.catalog.datasheet.price_tax import tax_in
from triptych.catalog.datasheet.sheet_words import OTHER_GOODS, PREDECESSOR, RIVAL
from triptych.catalog.datasheet.text_cells import Cell, Line

_END: Final = re.compile(r"[.;!?]\s+(?=\D)|[.;!?]\s*$")
_ABBREVIATED: Final = re.compile(
    r"\b(?:max|min|approx|ca|circa|incl|inkl|excl|nom|rec|resp|bzw|vs|env|ud|cad|ok|ung|zzgl|no|nr|freq|imp|sens|dim)$",
    re.IGNORECASE,
)
_WARNING: Final = re.compile(
    r"^\W*(?:do not|don't|never|caution|warning|keep|achtung|vorsicht|niemals|stellen sie|ne (?:jamais|pas)|attention|"
    r"attenzione|non |no (?:coloque|ponga|exceda)|nunca|nooit|let op|nie |uwaga)|"
    r"\b(?:at least|mindestens|au moins|almeno|al menos|minstens|co najmniej)\b.{0,30}"
    r"\b(?:wall|wand|mur|parete|pared|muur|scian)",
    re.IGNORECASE,
)
"""A sentence that tells what to do, and nothing of a loudspeaker."""
_EXCEPT: Final = re.compile(
    r"\b(?:except|but for|apart from|außer|ausser|bis auf|sauf|excepto|salvo|tranne|eccetto|"
    r"behalve|uitgezonderd|oprócz|poza)\b",
    re.IGNORECASE,
)
OF_A_KIND: Final = re.compile(
    r"\W*(?:the|der|die|das|el|la|le|il|lo|de|het)\s+(?:cent(?:re|er|ral\w*|raal)|tower|floor\w*|bookshel\w*|stand\w*|"
    r"regal\w*|colonn\w*|columna|torre|estanter\w*|biblioth\w*|diffusor\w*|zuil\w*|boekenplank\w*)\b",
    re.IGNORECASE,
)
"""A sentence that opens with a kind of loudspeaker."""
_COMPARED: Final = re.compile(
    rf"\b(?:like|than|as|wie|als|comme|como|come|zoals|dan|jak|niż|niz)\s+(?:{ARTICLE}\s+|l['’])?$", re.IGNORECASE
)
"""Before a loudspeaker to which another one is compared, of which nothing else is said there."""
_BRACKET: Final = re.compile(r"\([^()]*\)")
_CLAUSE: Final = re.compile(r"[,;:]\s+(?![^(]*\))")
_OPENING: Final = re.compile(rf"[\s,;]*(?:(?:{AND}|while|während|mentre|mientras|terwijl)\s)?\s*")
_COLON: Final = re.compile(r"\s?:?")
_AMOUNT: Final = (
    rf"\d[\d.,]*(?:\s?(?:{RANGED}|/)\s?\d[\d.,]*)*\s?-?"
    r"(?:mm|cm|kg|lbs?|dB|k?Hz|k\b|W|watts?|Ω|ohms?|″|\"|inch(?:es)?|in\b)?"
)
_BEFORE: Final = re.compile(rf"(?:{_AMOUNT}|[^\W\d]+)\s*$")
_ON: Final = re.compile(
    rf"\b(?:on|for|in|with|at|bei|für|auf|mit|pour|sur|avec|en|para|con|per|su|nel|nella|voor|op|bij|met|dla|w|z)\s+"
    rf"(?:{ARTICLE}\s+)?$|\b(?:beim|im|nel|nella|sul|sulla|per il|per la|du|au)\s+$",
    re.IGNORECASE,
)
_FIGURE: Final = r"\d+(?:[.,]\d+)?(?:[ -]\d/\d)?"
_UNIT: Final = r"(?:\s?-?(?:mm|cm|kg|lbs?\b|dB|k?Hz|W\b|Ω|ohms?|inch(?:es)?|in\b|\"|″))?"
_AND: Final = rf"(?:\s*,?\s+(?:{AND}|bzw\.|&)\s+(?:an? |eine?n? |une? |een )?|\s*/\s*)"
_IN_TURN: Final = re.compile(
    r",?\s*\b(?:respectively|respectivement|rispettivamente|respectivamente|odpowiednio|respectievelijk|jeweils)\b",
    re.IGNORECASE,
)
_OF_ONE: Final = re.compile(
    rf"\b(?:{BETWEEN}|x-?o(?:ver)?|cross\w*|trenn\w*|coupure|corte|taglio|incrocio|"
    r"scheiding\w*|podział\w*|bi-?amp\w*)\b",
    re.IGNORECASE,
)
"""Words of a clause in which two values may be of one loudspeaker: a range, two hand-overs."""
_SIZED: Final = re.compile(r"\d\s?-?(?:mm|cm|inch|in\b|\"|″|W\b|watt|Ω|ohm)|^(?!.*(?:kg|lb|dB)).*/", re.IGNORECASE)
"""Values of which one loudspeaker may have several: drivers, a range of watts, alternatives."""


def said_of(parts: Sequence[SheetPart], line: Line) -> list[tuple[SheetPart, Piece]]:
    """Return what the sentences of a line say of each loudspeaker that they name; nothing where they name none."""
    if not re.search(r"[^\W\d]{3}", line.text) or len(parts) < 2:
        return []
    calls = calls_of(parts)
    found: list[tuple[SheetPart, Piece]] = []
    carried = 0
    for start, end in _sentences(line.text):
        said = line.text[start:end]
        # 'The centre has two' is of no one that was named before
        carried = calls.everyone if of_all(said) else 0 if OF_A_KIND.match(said) else carried
        if _is_of_others(said):
            continue
        every = mentions(said, calls, carried)
        own = [one for one in every if not _COMPARED.search(said[: one.start])]
        named = own if own or carried else every
        # the tax is that of all prices, whosoever was told of before
        carried = calls.everyone if not named and tax_in(folded(said)) is not None else carried
        owners, carried = _owners(said, named, calls, carried)
        if not any(owners) or is_warning(said):
            continue
        shared = not {0, calls.everyone}.symmetric_difference({0, *owners})
        for place, part in enumerate(parts):
            kept = "".join(one if who >> place & 1 else " " for one, who in zip(said, owners, strict=True))
            if bare := kept.strip(" ,;"):
                at = start + kept.index(bare)
                cell = Cell(bare, line.start + at, at)
                found.append((part, Piece(cell, shared=shared, apart=True, followed=not named)))
    return found if any(who for who in found) else []


def _is_of_others(said: str) -> bool:
    """Whether a sentence tells of a rival, of an earlier model, or of stands and such that go with one."""
    small = folded(said)
    return any(one.search(small) for one in (RIVAL, PREDECESSOR)) or OTHER_GOODS.match(small.lstrip()) is not None


def is_warning(text: str) -> bool:
    """Return whether a sentence tells what to do with a loudspeaker, and no figure of it.

    >>> is_warning("Never hang the Wren C on less than four screws"), is_warning("The Wren C weighs 8 kg")
    (True, False)
    """
    return _WARNING.search(text) is not None


def apart(parts: Sequence[SheetPart], line: Line) -> list[tuple[SheetPart, Piece]]:
    """Return the same of a line that sets one apart from the rest, or gives one's value in brackets; else nothing."""
    if not of_all(line.text, anywhere=True):
        return []
    calls = calls_of(parts)
    named = mentions(line.text, calls)
    brackets = [match.span() for match in _BRACKET.finditer(line.text)]
    some = [one for one in named if one.who != calls.everyone]
    bracketed = any(left < one.start < right for one in some for left, right in brackets)
    everyone = of_all(line.text) or len(some) < len(named)
    return said_of(parts, line) if some and everyone and (bracketed or len(list(_sentences(line.text))) > 1) else []


def _sentences(text: str) -> Iterator[tuple[int, int]]:
    ends = [
        mark.end()
        for mark in _END.finditer(text)
        if not _ABBREVIATED.search(text, max(0, mark.start() - 8), mark.start())
    ]
    for start, end in pairwise(sorted({0, *ends, len(text)})):
        if text[start:end].strip():
            yield start, end


def _owners(said: str, named: Sequence[Mention], calls: Calls, carried: int) -> tuple[list[int], int]:
    """Of whom each character of a sentence is said, and of whom what follows may be."""
    brackets = [match.span() for match in _BRACKET.finditer(said)]
    outside = [one for one in named if not any(left < one.start < right for left, right in brackets)]
    inside = [one for one in named if one not in outside]
    owners = _segments(said, outside, carried if not outside else 0, calls)
    if (but := _EXCEPT.search(said)) and outside and outside[-1].start >= but.start():
        owners[: but.start()] = [calls.everyone & ~outside[-1].who] * but.start()
    if inside and not outside and not carried:
        owners = [calls.everyone] * len(said)
    for left, right in brackets:
        _within(said, (left, right), [one for one in inside if left < one.start < right], owners)
    last = carried if not outside else outside[-1].who if len({one.who for one in outside}) == 1 else 0
    if RESPECTIVELY.search(folded(said)):
        _in_order(said, outside, calls, owners, sure=True)
    elif last == calls.everyone:
        _in_order(said, outside, calls, owners, sure=False)
    for one in named:
        end = one.end + len(_COLON.match(said, one.end)[0])  # type: ignore[index]
        owners[one.start : end] = [0] * (end - one.start)
    return owners, last


def _segments(said: str, outside: Sequence[Mention], carried: int, calls: Calls) -> list[int]:
    """Each mention owns what follows it, or what goes before it where 'on the' leads to each."""
    owners = [carried] * len(said)
    if not outside:
        return owners
    clause = max((mark.end() for mark in _CLAUSE.finditer(said, 0, outside[0].start)), default=0)
    first = re.compile(r"\d").search(said, clause)
    if len(outside) > 1 and all(_ON.search(said, 0, one.start) for one in outside) and first:
        edges = [min(first.start(), outside[0].start), *(one.end for one in outside)]
        for one, (left, right) in zip(outside, pairwise(edges), strict=True):
            joined = _OPENING.match(said, left, right)
            start = joined.end() if joined else left
            owners[left:start] = [0] * (start - left)
            owners[start:right] = [one.who] * (right - start)
        owners[: edges[0]] = [calls.everyone] * edges[0]
        return owners
    edges = [*(one.start for one in outside), len(said)]
    for one, (left, right) in zip(outside, pairwise(edges), strict=True):
        owners[left:right] = [one.who & ~_boxed_apart(said, (left, right), one, outside)] * (right - left)
    lead = said[: edges[0]]
    who = outside[0].who if len(outside) == 1 else calls.everyone if not re.search(r"\d", lead) else 0
    if len(outside) == 1 and _told_before(lead, said[outside[0].end :]):
        # the last of a list whose others are not known by what it calls them
        who = 0
    owners[: edges[0]] = [who] * edges[0]
    return owners


def _told_before(lead: str, rest: str) -> bool:
    """Whether a name has a value behind it as others before it have: '50 15-100 W, 60 20-125 W, C 20-150 W'."""
    value = _VALUE.search(rest)
    before = [match["unit"] for match in _VALUE.finditer(lead)]
    return value is not None and before.count(value["unit"]) > 1


_VALUE: Final = re.compile(r"\d\s?-?(?P<unit>mm|cm|kg|lbs?|dB|k?Hz|W|Ω|ohms?|inch|in)(?!\w)")


def _boxed_apart(said: str, span: tuple[int, int], one: Mention, outside: Sequence[Mention]) -> int:
    """Whom a sentence gives a box of their own behind that of the series they are in: 'Fen: ported, Fen C sealed'."""
    apart_from = 0
    if one.who.bit_count() > 1 and enclosures_in(folded(said[slice(*span)])):
        for other, following in zip(outside, [*outside[1:], None], strict=True):
            text = said[other.end : following.start if following else len(said)]
            if (
                other.start > one.start
                and other.who != one.who
                and not other.who & ~one.who
                and enclosures_in(folded(text))
            ):
                apart_from |= other.who
    return apart_from


def _within(said: str, span: tuple[int, int], inside: Sequence[Mention], owners: list[int]) -> None:
    """What a bracket says of some is theirs instead of the amount before it: '30-100 W (Major: 30-180 W)'."""
    if not inside:
        return
    left, right = span
    before = _BEFORE.search(said, 0, left)
    theirs = 0
    for one in inside:
        theirs |= one.who
    names = re.sub(rf"[\s,/&():]|\b{AND}\b", "", _without(said[left:right], inside, left))
    if names and before and not re.search(r"\d", before[0]):
        amounts = [one for one in re.finditer(_AMOUNT, said[:left]) if not _CLAUSE.search(said, one.end(), left)]
        before = amounts[-1] if amounts else None
    at = before.span() if before else (left, left)
    if not names:
        for place in range(*at):
            owners[place] &= theirs
        owners[left:right] = [0] * (right - left)
        return
    edges = [*(one.start for one in inside), right - 1]
    for place in range(*at):
        owners[place] &= ~theirs
    owners[left:right] = [0] * (right - left)
    for one, (start, end) in zip(inside, pairwise(edges), strict=True):
        owners[start:end] = [one.who] * (end - start)


def _without(text: str, inside: Sequence[Mention], at: int) -> str:
    for one in reversed(inside):
        text = text[: one.start - at] + text[one.end - at :]
    return text


def _in_order(said: str, outside: Sequence[Mention], calls: Calls, owners: list[int], *, sure: bool) -> None:
    """As many values as loudspeakers, one for each in the order of their names."""
    order = [one.who for one in outside if one.who.bit_count() == 1]
    if len(order) != calls.count or len(set(order)) != calls.count:
        order = [1 << place for place in range(calls.count)]
    value = rf"{_FIGURE}{_UNIT}"
    every = calls.everyone
    for match in re.finditer(
        rf"(?<![\w.,/-])(?:{value})(?:(?:{_AND}|,\s+){value}){{{calls.count - 1}}}(?![\w/]|[.,]\d)", said
    ):
        clause = said[max(said.rfind(mark, 0, match.start()) for mark in ",;:") + 1 : match.start()]
        if not re.search(_AND, match[0]) or (not sure and (_SIZED.search(match[0]) or _OF_ONE.search(clause))):
            continue
        values = list(re.finditer(value, match[0]))
        whole = all(re.search(r"[^\d\s.,/-]", one[0]) for one in values)
        owners[match.start() : match.end()] = [0] * (match.end() - match.start())
        for who, one in zip(order, values, strict=True):
            figure = re.match(_FIGURE, one[0])
            end = one.end() if whole or figure is None else one.start() + figure.end()
            owners[match.start() + one.start() : match.start() + end] = [who] * (end - one.start())
            if sure:
                _left_out(said, owners)
            if not whole and one is values[-1]:
                rest = (match.start() + end, match.end())
                owners[slice(*rest)] = [every] * (rest[1] - rest[0])


def _left_out(said: str, owners: list[int]) -> None:
    """Leave out the word that says that values stand in order, once each has its own."""
    for match in _IN_TURN.finditer(said):
        owners[match.start() : match.end()] = [0] * (match.end() - match.start())
