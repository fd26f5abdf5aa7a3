"""Nominal and minimum impedance; a range, or what an amplifier may be, is neither."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts, contexts
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.joining import AT, OR, RANGED
from triptych.catalog.datasheet.readings import resolve
from triptych.catalog.fields import LOUDSPEAKER
from triptych.catalog.quantities import Kind

NEVER_BELOW: Final = 0.8
"""Share of the nominal that a minimum should not fall under; IEC 60268-5 as a driver maker's glossary reports it."""

_MINIMUM: Final = re.compile(
    r"\bmin|impedanz-?min|lowest|kleinst|niedrigst|≥|>=|>|\bdip(?:s|ping)?\b|(?:fall|down)\w* to\b|"
    r"nergens onder|onder\b(?= \d)|never (?:below|less|under)|not (?:less|below|under)|at worst|\blow of|"
    r"jamais moins|nie unter|mai sotto|nunca menos|"
    r"(?:fall|drop|go)\w* (?:under|below|to\b)|"
    r"\b(?:nooit|nie|never|jamais|mai|nunca|nigdy)\b|"
    r"\b(?:stets|immer|always|toujours|sempre|siempre|altijd|zawsze) (?:uber|above|over|au-dessus|sopra|por encima|"
    r"boven|powyzej)\b|"
    r"scende sotto|unter\b|descend|cae por debajo|onder de"
)
_COMPATIBLE: Final = re.compile(
    r"\bstable\b|\bstabil\b|"
    r"compatib|kompatib|suitable|geeignet|suits|for use with|works with|amplifier|verstarker|ampli|\bamp needed|"
    r"versterker|adapt|geschikt|idone"
)
_BESIDE: Final = re.compile(r"\((?:also )?(?:compatib|kompatib|suitable|geeignet|geschikt)[^()]*\d[^()]*\)")
"""Which amplifiers may be connected, told in brackets behind the impedance itself."""
_NOMINAL: Final = re.compile(r"nom|\bnenn|rated|typ|znam")
_LINK: Final = re.compile(rf"\s*(?:ohms?|ω)?\s*(?:{RANGED}|/|{OR}|e|y)\s*")
_PAIRED: Final = re.compile(r"\(?\s*nom\w*\.? ?/ ?min\w*\.?\s*\)?|\(?\s*rated ?/ ?min\w*\.?\s*\)?")
_AND_LEAST: Final = re.compile(r"\bimp\w* ?[/,(] ?min")
"""A label of the impedance and of its minimum: 'impedantie / minimum'."""
_AT_HERTZ: Final = re.compile(rf"\s*(?:ohms?|ω)?\s*\(?{AT} \d+(?:[.,]\d+)? ?k?hz")
"""Where along the band a figure holds: behind one beside a nominal figure it makes that the minimum."""
_ASK: Final = "which nominal impedance is on the plate or in the manual?"


_NOT_KNOWN: Final = re.compile(
    r"[.;,(][^.;,()\d]*\b(?:je ne sais pas|inconnue?|non communique\w*|unknown|no idea|"
    r"not (?:given|stated|known|published)|"
    r"(?:don.t|doesn.t|won.t) (?:give|know|say|tell)|weiss (?:ich )?nicht|keine ahnung|keine angabe\w*|unbekannt|"
    r"no (?:lo )?se\b|no figura|desconocid\w+|non (?:lo )?so\b|non dichiarat\w+|sconosciut\w+|weet ik niet|onbekend|"
    r"niet opgegeven|nie wiem|nie podan\w+|nieznan\w+)[^.;,\d]*"
)
"""A clause in which somebody says that a figure isn't known: 'Le mini je ne sais pas'."""


def read_impedance(entry: SheetEntry, draft: Draft) -> bool:
    """Take nominal and minimum; refuse a range and a compatibility."""
    entry = replace(entry, value=_BESIDE.sub(lambda match: " " * len(match[0]), entry.value))
    entry = replace(entry, value=_NOT_KNOWN.sub(lambda match: " " * len(match[0]), entry.value))
    found = _ohms(entry)
    # in running text the words at each figure tell
    least = entry.topic == "minimum" and bool(entry.key) and not _NOMINAL.search(entry.key)
    if not found:
        return False
    paired = _pair_named(entry, found)
    if paired:
        _take_pair(paired, entry, draft)
        return True
    pair = _range(entry, found)
    words = _least_behind(entry.value, found) or contexts(entry.value, found)
    if len(found) == 2 and _NOMINAL.search(words[0]) and _AT_HERTZ.match(entry.value, found[1].end):
        words = [words[0], f"{words[1]} min"]
    if (entry.topic == "load" and not _NOMINAL.search(entry.text)) or (
        len(found) == 1 and _COMPATIBLE.search(entry.text)
    ):
        _refuse_compatible(entry, draft)
        return True
    if pair is not None:
        _refuse_range(pair, entry, draft, least=least)
        found, words = found[2:], words[2:]
    for amount, own in zip(found, words, strict=True):
        _take(amount, own, entry, draft, least=least)
    return True


def _least_behind(text: str, found: Sequence[WrittenAmount]) -> list[str]:
    """The words of two figures with the word for the least between them: '4 Ohm Minimum 3,5'."""
    between = text[found[0].end : found[1].start] if len(found) == 2 else ","
    behind = text[found[-1].end :]
    if re.search(r"[,;(/]", between) or not _MINIMUM.search(between) or _NOMINAL.search(behind):
        return []
    return [text[: found[0].start], between]


def _take(amount: WrittenAmount, own: str, entry: SheetEntry, draft: Draft, *, least: bool) -> None:
    if re.search(r"\bmax|\bhighest|\bpeak", own if own.strip() else entry.key):
        # the highest impedance is neither
        return
    if _COMPATIBLE.search(own):
        if draft.known("impedance_nominal") is None:
            _refuse_compatible(entry, draft)
        return
    minimum = bool(_MINIMUM.search(own)) or (least and not _NOMINAL.search(own))
    column = "impedance_minimum" if minimum else "impedance_nominal"
    draft.take(column, resolve(amount, LOUDSPEAKER[column], raw=entry.raw), entry.raw)


def _pair_named(entry: SheetEntry, found: Sequence[WrittenAmount]) -> list[WrittenAmount]:
    """Two figures whose order two words give, in the key or right before them: 'Impedance (nom./min.): 8 / 5.1'."""
    for place in range(len(found) - 1):
        two = list(found[place : place + 2])
        named = _PAIRED.search(entry.value[: two[0].start])
        between = entry.value[two[0].end : two[1].start]
        if named and re.fullmatch(r"\s*(?:ohms?|ω)?\s*/\s*", between):
            return two
    if len(found) == 2 and _AND_LEAST.search(entry.key):
        return list(found)
    if len(found) == 2 and _MINIMUM.search(entry.key) and _NOMINAL.search(entry.key):
        nominal, least = _NOMINAL.search(entry.key), _MINIMUM.search(entry.key)
        first = bool(nominal and least and nominal.start() < least.start())
        return list(found) if first else list(reversed(found))
    return []


def _take_pair(pair: Sequence[WrittenAmount], entry: SheetEntry, draft: Draft) -> None:
    for amount, column in zip(pair, ("impedance_nominal", "impedance_minimum"), strict=True):
        draft.take(column, resolve(amount, LOUDSPEAKER[column], raw=entry.raw), entry.raw)


def _refuse_compatible(entry: SheetEntry, draft: Draft) -> None:
    why = "says which amplifiers it may be connected to, not what its impedance is"
    draft.refuse("impedance_nominal", why, entry.raw, f"{why}; {_ASK}")


def _refuse_range(pair: tuple[WrittenAmount, WrittenAmount], entry: SheetEntry, draft: Draft, *, least: bool) -> None:
    low = min(amount.bare for amount in pair)
    why = f"a range is no nominal impedance; may fall to {low:g} ohm, so the amplifier gate takes {low:g} ohm"
    column = "impedance_minimum" if least else "impedance_nominal"
    draft.refuse(column, why, entry.raw, f"{entry.said!r} is a range; {_ASK} Until then take {low:g} ohm")


def _ohms(entry: SheetEntry) -> list[WrittenAmount]:
    """The amounts that can be ohms: with the unit, or bare where no other unit is about or a word says so."""
    found = amounts(entry.value)
    return [
        amount
        for amount in found
        if amount.kind is Kind.RESISTANCE
        or (
            amount.unit is None
            and not amount.sign
            and not re.match(r"\s*(?:-|/)?\s*(?:ch|way|%)", entry.value[amount.end :])
        )
    ]


def _range(entry: SheetEntry, found: Sequence[WrittenAmount]) -> tuple[WrittenAmount, WrittenAmount] | None:
    if len(found) < 2:
        return None
    between = entry.value[found[0].end : found[1].start]
    if not _LINK.fullmatch(between) or found[0].bare == found[1].bare:
        return None
    after = entry.value[found[1].end : found[2].start if len(found) > 2 else None]
    if "/" in between and (_MINIMUM.search(after) or _MINIMUM.search(entry.key)):
        return None
    return found[0], found[1]


def settle(draft: Draft) -> None:
    """Hold the minimum against the nominal."""
    nominal, minimum = draft.known("impedance_nominal"), draft.known("impedance_minimum")
    if nominal is None or minimum is None:
        return
    raw = " | ".join(dict.fromkeys(draft.fields[f"impedance_{name}"].raw for name in ("nominal", "minimum")))
    if minimum > nominal:
        for column in ("impedance_nominal", "impedance_minimum"):
            draft.refuse(column, f"they disagree: minimum {minimum:g} ohm above nominal {nominal:g} ohm", raw)
    elif minimum < NEVER_BELOW * nominal - 1e-9:
        flag = f"suspect: the minimum, {minimum:g} ohm, is under 80 % of the nominal {nominal:g} ohm"
        draft.flag("impedance_nominal", flag)
        draft.ask("impedance_nominal", f"{flag}; is the nominal right?")
