"""Sides listed in running text, where one unit stands for several figures: 'hoogte 96, breedte 19,5, diepte 30 cm'."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import AND
from triptych.catalog.datasheet.sheet_words import topics_in

_SIDES: Final = {
    "w": r"wide|across|long|width|breite?|breit|breed(?:te)?|larg(?:eur|hezza|[aeo])?|anch[oa]|anchura|b|"
    r"szer(?:okosci?|oka|oki)?\.?|w",
    "h": r"high|tall|height|hohe|hoch|hoog(?:te)?|haut(?:eur)?|alt(?:ezza|ura|[aeo])?|wys(?:okosci?|oka|oki)?\.?|h",
    "d": r"deep|depth|tief(?:e)?|diep(?:te)?|prof(?:ondeur|ondita|undidad|ond[aeo]?|und[oa])?\.?|fondo|"
    r"gl(?:eb(?:okosci?|oka|oki)?)?\.?|t|p|front to back|front-to-back|d",
}
_FIGURE: Final = r"\d+(?:[.,]\d+)?(?:[ -]\d{1,2}/\d{1,2})?"
_UNIT: Final = (
    r"mm|cm|(?:[cz]enti|mill?i)m[eè]t(?:er|re|ri|ros?)s?|centymetr(?:ow|y)?|"
    r"in(?:ch(?:es)?)?\.?|\"|''|zoll|pouces|pulgadas|pollici"
)
_BY: Final = rf"(?: ?(?:,|;|/|x|·|\+) ?| (?:{AND}|by) |(?<=[a-z]{{3}}) (?=\d))"
_WORD: Final = "|".join(f"(?P<{axis}{{0}}>{words})" for axis, words in _SIDES.items())


def _after(place: int) -> str:
    return (
        rf"(?P<n{place}>{_FIGURE}) ?-?(?P<u{place}>{_UNIT})? ?(?:de |di |in |en |in (?:der|de|het) |w )?"
        rf"(?:{_WORD.format(place)})(?![\w'])"
    )


def _before(place: int) -> str:
    return (
        rf"(?<![\w'])(?:{_WORD.format(place)}) ?[:=]? ?(?:is |of |von |de |di )?"
        rf"(?P<n{place}>{_FIGURE}) ?-?(?P<u{place}>{_UNIT})?(?![\w\"])"
    )


_LISTS: Final = tuple(
    re.compile(
        rf"(?<![\w.,/])(?:{_BY.join(make(place) for place in range(count))})"
        rf"(?:,? ?\(?(?:in |en )?(?P<unit>{_UNIT})\)?(?![\w]))?"
    )
    for make in (_before, _after)
    for count in (3, 2)
)
_LED: Final = re.compile(rf"(?<![\w'])(?:{'|'.join(_SIDES.values())}) ?[:=]? ?$")
"""A side's word right before a list."""
_POLISH: Final = re.compile(
    rf"(?<!\w)([swg]) ({_FIGURE}) ?(mm|cm),? ([swg]) ({_FIGURE}) ?(mm|cm),? ([swg]) ({_FIGURE}) ?(mm|cm)"
)
_POLISH_SIDES: Final = {"s": "w", "w": "h", "g": "d"}
"""szerokosc, wysokosc, glebokosc."""
_CONDITION: Final = re.compile(
    r",? \(?(?:incl\w*|inkl\w*|with|without|less|w/o?|mit|ohne|avec|sans|con|senza|sin|met|zonder|z|bez|compris\w*)\b"
    r"[^.,;()\d-]{2,30}(?:, \d+(?:[.,]\d+)? ?(?:mm|cm|in|\") (?:with|mit|avec|con|met|z)\b(?! \w+ \d)[^.,;()\d]{0,20})?"
    r"|[.,;]? (?:the )?gril\w* adds .{1,20}?(?:inch(?:es)?|mm|cm|\")"
)
"""What belongs to the sides before it: with or without grille or feet, and what a grille adds."""
_NO_BOX: Final = re.compile(
    r"\b(?:lying|on its side|liegend|horizont\w*|couchee?|stands?|stander|carton|box(?:ed)?|packed|verpackt|shelf|"
    r"regal|fach|cabinet|opening|niche|room|zimmer|raum|piece|sala|kamer|tv|screen)\b[^.;]*$"
)


@dataclass(frozen=True, slots=True)
class SideList:
    """A list of sides from `start` to `end` of a text, and the same with a unit at each figure."""

    start: int
    end: int
    plain: str


def side_lists(text: str) -> Iterator[SideList]:
    """Yield the lists of two or three different sides of running text, with one unit or with each its own.

    >>> [one.plain for one in side_lists("hoogte 96, breedte 19,5, diepte 30 cm")]
    ['h 96 cm x w 19,5 cm x d 30 cm']
    >>> [one.plain for one in side_lists("560mm wide, 200 tall, 330 front to back")]
    ['w 560 mm x h 200 mm x d 330 mm']
    """
    small = folded(text)
    if len(small) != len(text):
        small = text.casefold()
    if len(small) != len(text):
        return
    taken = 0
    for match in _POLISH.finditer(small):
        letters, figures = match.groups()[::3], match.groups()[1::3]
        if len(set(letters)) == len(letters):
            taken = match.end()
            sides = zip(letters, figures, match.groups()[2::3], strict=True)
            plain = " x ".join(f"{_POLISH_SIDES[letter]} {figure} {unit}" for letter, figure, unit in sides)
            yield SideList(match.start(), match.end(), plain)
    for match in _in_order(small):
        said = match.groupdict()
        count = sum(name.startswith("n") and name[1:].isdigit() for name in said)
        axes = [next(axis for axis in _SIDES if said[f"{axis}{place}"]) for place in range(count)]
        units = [said[f"u{place}"] for place in range(count)]
        last = said["unit"] or next((unit for unit in reversed(units) if unit), None)
        before = small[max(0, small.rfind(".", 0, match.start()), match.start() - 60) : match.start()]
        chained = re.search(r"\d\D{0,4}[x*/]\s*$", before) or re.match(r"\s*[x*]\s*\w?\d", small[match.end() :])
        # 'Width 530 mm Height 195 mm' has its words before the figures
        if small[match.start()].isdigit() and _LED.search(small, 0, match.start()):
            continue
        if (
            match.start() < taken
            or chained
            or (last is None and count < len(_SIDES))
            or len(set(axes)) < count
            or _elsewhere(before)
        ):
            continue
        taken = match.end()
        filled = [unit or next((one for one in units[place:] if one), None) or last for place, unit in enumerate(units)]
        plain = " x ".join(
            f"{axis} {said[f'n{place}']} {(filled[place] or '').rstrip('.')}".rstrip()
            for place, axis in enumerate(axes)
        )
        more = _CONDITION.match(small, taken)
        taken = more.end() if more else taken
        yield SideList(match.start(), taken, plain + (more[0] if more else ""))


def _in_order(small: str) -> list[re.Match[str]]:
    found = [match for pattern in _LISTS for match in pattern.finditer(small)]
    return sorted(found, key=lambda match: (match.start(), match.start() - match.end()))


def _elsewhere(before: str) -> bool:
    """Whether what stands before a list in its sentence says that it is no box's."""
    return _NO_BOX.search(before) is not None or bool({"elsewhere", "packing"}.intersection(topics_in(before)))
