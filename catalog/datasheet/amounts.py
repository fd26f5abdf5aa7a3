"""Numbers with their units in folded text: where they stand, what they could mean, how finely they are printed."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import Final

from triptych.catalog.datasheet.joining import AND, OR, WITH
from triptych.catalog.number_texts import typed
from triptych.catalog.numerals import numeral
from triptych.catalog.quantities import Kind
from triptych.catalog.units import KIND_OF, UNITS

_WORDS: Final = sorted((re.escape(word) for word in UNITS if word.isalpha()), key=len, reverse=True)
_UNIT: Final = rf"(?:(?:{'|'.join(_WORDS)})(?![a-zω]|[- ](?:room|ambiente|der|wall))|[\"'°%])"
_IMPERIAL: Final = r"(?:in\b|inch|\"|zoll|pouce|pollic|pulg|duim|lb|pound|oz|ft)"
_DIGITS: Final = (
    r"[0-9]{1,2} [0-9]{3}(?= x [0-9])|[0-9]{1,3} 000(?![0-9])|"
    r"[0-9]{1,3}(?: [0-9]{3})+(?= ?(?:k?hz|mm|w|€|\$|£|eur|gbp|usd|chf)(?![a-z]))|"
    r"[0-9]+(?:[.,][0-9]+)*|[.,][0-9]+"
)
_DENOMINATOR: Final = r"(?:16|32|64|[234568])(?![0-9/])"
_FRACTION: Final = (
    rf"(?:[0-9]{{1,3}}(?: ?- ?| )[0-9]{{1,2}} ?/ ?{_DENOMINATOR}|[0-9]{{1,2}} ?/ ?{_DENOMINATOR}(?=[ -]?{_IMPERIAL}))"
)
_TWO_PARTS: Final = (
    rf"(?P<feet>[0-9]+) ?(?:'|ft\.?) ?-? ?(?P<inches>(?:{_FRACTION}|[0-9]+(?:[.,][0-9]+)?)) ?(?:\"|in\b)"
    r"|(?P<pounds>[0-9]+) ?(?:lbs?|pounds)\.?,? ?(?P<ounces>[0-9]+(?:[.,][0-9]+)?) ?oz"
)
_AMOUNT: Final = re.compile(
    rf"(?<![a-z0-9.,^])(?:{_TWO_PARTS}|(?:(?P<fraction>(?<!/){_FRACTION})|(?P<digits>{_DIGITS}))"
    rf"(?:[ -]?(?P<unit>{_UNIT})\.?)?)(?![0-9^]|e[+-]?[0-9])"
)
_FIRST: Final = re.compile(rf"(?<![a-z0-9])({'|'.join(_WORDS)})\.? ?$")
_LEADING: Final = re.compile(r"(?!(?:ca|approx|about|from|typ|etwa|env|circa)\b)[a-z]{3,}")
_COARSEST: Final = 1 / 8


@dataclass(frozen=True, slots=True)
class WrittenAmount:
    """A number as printed; `numbers` are its readings as plain text, the decimal one first; `step` is in its unit."""

    printed: str
    start: int
    end: int
    numbers: tuple[str, ...]
    step: float
    unit: str | None = None
    sign: str = ""
    comma: bool = False

    @property
    def kind(self) -> Kind | None:
        """What its unit measures; None without a unit, or for volts."""
        return KIND_OF.get(self.unit or "")

    @property
    def bare(self) -> float:
        """The number alone, of its first reading."""
        return self.plain(0)

    def plain(self, reading: int) -> float:
        """The number alone, of one of its readings; of feet and inches the inches."""
        return float(sum(Fraction(part) for part in self.numbers[reading].split() if part[0].isdigit()))


def amounts(text: str, without: Sequence[str] = ()) -> list[WrittenAmount]:
    """Return every number in folded text with the unit it carries.

    Parameters
    ----------
    text : str
        Folded text.
    without : sequence of str
        Spellings that are no units here, such as `w` for the width.

    Examples
    --------
    >>> [(amount.numbers, amount.unit) for amount in amounts('7-1/2" x 178,5 mm, 2.200 hz')]
    [(('7 1/2',), 'in'), (('178.5',), 'mm'), (('2.2', '2200'), 'Hz')]
    """
    return list(_found(text, tuple(without)))


@lru_cache(maxsize=4096)
def _found(text: str, without: tuple[str, ...]) -> tuple[WrittenAmount, ...]:
    """The same piece is looked at by several rules."""
    found = [one for match in _AMOUNT.finditer(text) for one in _amount(match, without)]
    return tuple(_units_first(text, [one for one in found if one.unit or not _is_money(text, one)]))


_SIGN: Final = r"(?:€|£|\$|¥|\b(?:eur|euros?|gbp|usd|chf|pln|zl|jpy|yen)\b)"
_SIGN_BEFORE: Final = re.compile(rf"{_SIGN} ?$")
_SIGN_AFTER: Final = re.compile(rf"(?:,-|,–)? ?{_SIGN}")


def _is_money(text: str, one: WrittenAmount) -> bool:
    """Whether the sign of a currency stands at a number, which is no other quantity then."""
    return bool(_SIGN_AFTER.match(text, one.end) or _SIGN_BEFORE.search(text, max(0, one.start - 6), one.start))


def _amount(match: re.Match[str], without: Sequence[str]) -> Iterator[WrittenAmount]:
    text, start = match.string, match.start()
    for whole, part, names in (("feet", "inches", ("ft", "in")), ("pounds", "ounces", ("lb", "oz"))):
        if match[whole]:
            number = f"{match[whole]} {names[0]} {_spaced(match[part])}"
            yield WrittenAmount(match[0], start, match.end(), (number,), _step(match[part]), names[1])
            return
    printed = match["fraction"] or match["digits"]
    numbers = (_spaced(printed),) if match["fraction"] else readings(printed)
    word = match["unit"]
    if word in without or (word and _label_in_disguise(match)):
        word, end = None, match.end("fraction" if match["fraction"] else "digits")
    else:
        end = match.end()
    if numbers:
        unit = UNITS[word] if word else None
        yield WrittenAmount(
            text[start:end], start, end, numbers, _step(printed), unit, _sign(text, start), "," in printed
        )


def _label_in_disguise(match: re.Match[str]) -> bool:
    """Whether `in` is the preposition: '45 in total'."""
    return match["unit"] == "in" and bool(
        re.match(r"\.? (?:total|all|each|one|two|the|a)\b", match.string[match.end() :])
    )


def _spaced(fraction: str) -> str:
    """'7-1/2' as '7 1/2'."""
    return re.sub(r"(?<=[0-9])(?: ?- ?| )(?=[0-9])", " ", re.sub(r" ?/ ?", "/", fraction)).replace(",", ".")


def readings(digits: str) -> tuple[str, ...]:
    """Return what printed digits can mean, as plain decimals: a mark before three digits may be either.

    Examples
    --------
    >>> readings("17,8"), readings("1,200"), readings("20 000"), readings("1,2,3")
    (('17.8',), ('1.2', '1200'), ('20000',), ())
    """
    return tuple(map(typed, sorted(numeral(digits))))


def _step(printed: str) -> float:
    """The smallest step that the printed digits can show; a fraction is taken to be on a grid of eighths or finer."""
    if "/" in printed:
        return min(1 / int(printed.rpartition("/")[2]), _COARSEST)
    decimals = re.search(r"[.,]([0-9]+)$", printed)
    return float(10.0 ** -len(decimals[1][:12])) if decimals else 1.0


def _sign(text: str, start: int) -> str:
    before = text[:start]
    stripped = before.rstrip()
    if stripped.endswith("±"):
        return "±"
    sign = stripped[-1:]
    if sign not in ("+", "-") or not sign:
        return ""
    close = before.endswith(sign)
    alone = not re.search(r"[0-9a-z\"ω)]$", stripped[:-1])
    return sign if close and alone else ""


def _units_first(text: str, found: list[WrittenAmount]) -> Iterator[WrittenAmount]:
    """Give a bare number the unit that stands before it: 'lbs 31.4', 'mm 546'."""
    from dataclasses import replace

    end = 0
    for amount in found:
        before = text[end : amount.start]
        word = _FIRST.search(before) if amount.unit is None and not amount.sign else None
        end = amount.end
        taken = word and word[1] not in ("k", "in", "w", "v", "m", "g")
        yield replace(amount, unit=UNITS[word[1]]) if word and taken else amount


def contexts(text: str, found: Sequence[WrittenAmount]) -> list[str]:
    """Return the words that belong to each amount: those after it up to a mark, and those before it from a mark on.

    Examples
    --------
    >>> text = "300 mm without grille (315 mm with grille)"
    >>> contexts(text, amounts(text))
    [' without grille ', '( with grille)']
    """
    if not found:
        return []
    leading = _LEADING.search(text[: found[0].start]) is not None
    edges = [edge(text, found[place - 1].end, amount.start, leading) for place, amount in enumerate(found) if place]
    starts, ends = [0, *edges], [*edges, len(text)]
    return [
        f"{text[start : amount.start]}{text[amount.end : end]}"
        for amount, start, end in zip(found, starts, ends, strict=True)
    ]


def edge(text: str, start: int, end: int, leading: bool = False) -> int:
    """Return where the words of one amount end and those of the next begin.

    Parameters
    ----------
    text : str
        Folded text.
    start, end : int
        Where the one amount ends and the next begins.
    leading : bool
        Whether words stand before their amounts, where no mark tells.
    """
    between = text[start:end]
    own = re.match(r"[^()]*?\([^()]*\)", between)
    skipped = own.end() if own and not re.search(r"[,;/]", between[: between.find("(")]) else 0
    mark = re.search(rf"[(,;/|]|\b(?:{AND}|{OR}|{WITH})\b", between[skipped:])
    joined = mark and re.match(r"with|mit|avec|met|con", mark[0])
    if mark and (not joined or re.search(r"\b(?:of|is|von|de|di|van|:)\s*$", between)):
        return start + skipped + mark.start()
    if skipped:
        return start + skipped
    return start if leading or re.search(r"[:=]\s*$", between) else end


def joined(text: str, left: WrittenAmount, right: WrittenAmount) -> bool:
    """Whether two amounts are one figure in two units: '546 mm (21.5 in)'."""
    between = text[left.end : right.start]
    return (
        left.unit is not None
        and right.unit is not None
        and left.unit != right.unit
        and left.kind is right.kind
        and bool(re.fullmatch(r"[\s(/=,;|\[-]*(?:or|oder|ou|o|of)?[\s(]*(?:ca\.?|approx\.?|~)?\s*", between))
    )
