"""Which label owns which stretch of running text: one that can have the unit of its figures, or else the unit itself.

Text falls into pieces at its marks. A piece is about what its labels say, where one can have the kind of figure that
stands in it; else about what its figures are by their units; else it goes on with what the piece before it was about.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Final

from triptych.catalog.datasheet.amounts import WrittenAmount, amounts
from triptych.catalog.datasheet.cones import CONE_ALONE
from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.joining import AT, BETWEEN, FROM, RANGED
from triptych.catalog.datasheet.sheet_words import FEET, OTHER_MODELS, OWNED, PREDECESSOR, RIVAL, topics_in
from triptych.catalog.quantities import Kind

MONEY_LABELS: Final = r"(?:€|£|\$|¥|\beur\b|\bgbp\b|\busd\b|\bchf\b|\bsgd\b|\bpln\b|\bzl\b|\beuros?\b)"
_MONEY: Final = re.compile(
    rf"{MONEY_LABELS} ?\d|\d(?:,-|,–)? ?{MONEY_LABELS}|\d,-(?!\d)|"
    r"\d[.,]\d\d ?(?:/ ?(?:pr|pair|ea|each)\b|ea\b|each\b)|"
    r"\d{3} ?(?:/ ?(?:pr|pair)\b|(?:das|le|la|il|the|a|per|het|za) (?:pair|paar|paire|coppia|paio|pareja|pare)\b)"
)

_CLAUSE: Final = re.compile(
    r"\s*[;・]\s*|\.\s+(?=\S)|,\s+|\s+(?:and|und|et|oraz)\s+|"
    r"(?<=\d mm|\d cm)\s+(?:y|e|en|i)\s+(?=(?:(?:un[ao]?|een|[12]|due|dos|twee) )?"
    r"(?:tweeter|midrange|woofer|medi|agud|grave|midden))|"
    r"\s+\|\s+|\s+[•·/]\s+(?=[^\W\d]{3})|\s+[•·]\s+|"
    r"\s+[/-]\s+(?=\d)|"
    r"(?:(?<!\d)(?<!Hz)(?<!W)(?<!k)\s+[–—]\s+|\s+[–—]\s+(?!\d))(?!\d+(?:[.,]\d+)? ?k?Hz)|\s+-\s+(?=[^\W\d]{2})"
)
_SHORT: Final = re.compile(
    r"(?:^|[\s(/|*])(?!(?:mm|cm|kg|lbs?|dB|Hz|kHz|ohms?|W|m|in|ports?|domes?|bass|mids?|basses|cones?|horn|wood|each|only|pair|stuks?|stück|kilos?|paar|coppia|watts?|"
    r"euros?|volt|order|piece|amps?|ampli|alu|soft|silk|box|unit|reflex)$)[^\W\d]{1,5}$",
    re.IGNORECASE,
)
_ABBREVIATED: Final = re.compile(
    r"min|max|app(?:r(?:ox)?)?|circa|incl|inkl|excl|exkl|nom|typ|art|ref|cod|tel|vers|mod|rev|vol|stk|szt|pcs|wys|"
    r"szer?|gl(?:eb)?|"
    r"cad|env|avg|resp?|bzw|zzgl|eff|gew|empf?|dim|abm|rec|reg|tot|pow|moc|pot|puiss|leist|freq|frek|czest|alim|imped|"
    r"profo?|larg|haut|lung|larg|alt|anch|fond|tief|breit|hoch|diam|durch|prod|ser|item|type?|size|phone|fig|tab|pag|str"
)
"""Words that are written short before a figure."""
_OPENS_LABEL: Final = re.compile(r"\W*(?:min|max|nom|rec|freq|imp|sens|eff|res[ps])", re.IGNORECASE)
"""A short word with which a label opens: 'Min. impedance'."""
_NUMBER: Final = re.compile(r"[^\W\d](?:nr|nummer|number|no)$", re.IGNORECASE)
"""The word for a number before its full stop: 'Artikelnr. 104417'."""
_BETWEEN: Final = re.compile(rf"\b{BETWEEN} \d[\d.,]*(?: ?[^\W\d]{{1,5}})?$", re.IGNORECASE)
"""The first half of a range: 'between 40'."""
_ASKED: Final = re.compile(r"(?P<what>[^.;!?]*)\?(?:\s|$)(?P<answer>\s*[^\W\d_]{0,12}\s?\d)?")
_CHAIN: Final = re.compile(
    r"\d[^x]{0,12} x .{0,12}?\d[^x]{0,12} x .{0,12}?\d|\b[hwdlpb] ?\d.{0,12}\b[hwdlpb] ?\d.{0,12}\b[hwdlpbt] ?\d"
)
_SIDE: Final = re.compile(r"\W*\d[\d.,/ -]* ?(?:mm|cm|in\.?|\") ?[whdbt]\W*")
_RANGE: Final = re.compile(rf"\d ?k?(?:hz)? ?{RANGED} ?\d+(?:[.,]\d+)? ?(?:k\b|k?hz)")
_ALONE: Final = re.compile(r"^\W*\d+(?:[.,]\d+)? ?(?:-|to) ?\d+(?:[.,]\d+)? ?k\W*$")

_LIMIT: Final = re.compile(rf"\d ?k?hz,? ?(?:{AT} )?\(? ?[-±] ?\d{{1,2}}(?: ?db)? ?\)?|\d ?k?hz within ?±? ?\d ?db")
"""One end of a range with its drop: '48 Hz (-3 dB)'."""
_HAND_OVERS: Final = re.compile(
    r"^\W*[1-9]\d{1,3} ?/ ?(?:[1-9]\d{3}|[1-9][.,]\d{3}|[1-9](?:[.,]\d{1,2})? ?k) ?(?:hz)?\W*$"
)
"""Two hand-overs with a stroke between: '350/3000 Hz'."""

HOLDS: Final = {
    "sensitivity": {Kind.LEVEL},
    "max_level": {Kind.LEVEL},
    "impedance": {Kind.RESISTANCE},
    "minimum": {Kind.RESISTANCE},
    "load": {Kind.RESISTANCE},
    "weight": {Kind.MASS},
    "size": {Kind.LENGTH},
    "width": {Kind.LENGTH},
    "height": {Kind.LENGTH},
    "depth": {Kind.LENGTH},
    "feet": {Kind.LENGTH},
    "spacing": {Kind.LENGTH},
    "axis_height": {Kind.LENGTH},
    "rear_allowance": {Kind.LENGTH},
    "port_size": {Kind.LENGTH},
    "tweeter": {Kind.LENGTH, Kind.ANGLE},
    "midrange": {Kind.LENGTH},
    "woofer": {Kind.LENGTH},
    "drivers": {Kind.LENGTH},
    "coverage": {Kind.ANGLE},
    "response": {Kind.FREQUENCY},
    "low": {Kind.FREQUENCY},
    "high": {Kind.FREQUENCY},
    "crossover": {Kind.FREQUENCY},
    "advised_crossover": {Kind.FREQUENCY},
    "power": {Kind.POWER},
    "handling": {Kind.POWER},
    "amplifier": {Kind.POWER},
}
"""What kinds of figures a label can own; a label that isn't here owns whatever stands at it."""


MOST_REFERENCE_WATTS: Final = 4.0
"""More is no power for which a sensitivity is stated; common practice, no source. [W]."""
_LONG_BRACKET: Final = 5
"""A shorter bracket is a remark on what stands before it; tried, no source. [words]."""
_LEAST_LEVEL: Final = 60
"""A smaller level is no sensitivity; common practice, no source. [dB]."""
_PLAIN_MARKS: Final = str.maketrans({"–": "-", "−": "-", "×": "x", "″": '"', "”": '"', "ł": "l", "~": "-"})
_REFERENCE: Final = re.compile(r"\b2[.,]83 ?v")
_DRIVERS: Final = frozenset(("tweeter", "midrange", "woofer"))
_LETTERED: Final = re.compile(r"(?<![a-z0-9])([hwdbtplasgf])(?=\d)")
"""A side's letter right before its figure: h1010."""
_FEET_ADD: Final = re.compile(
    rf"(?:{FEET.pattern})\W(?:[^\d,;]{{0,20}}\W)?(?:adds?|adding|further|extra|additional|zusatzlich|ajout\w*|aggiung\w*|"
    r"anad\w*|toevoeg\w*|dodaj\w*)\W[^,;]{0,20}\d"
)
"""Feet that are told apart from the height: 'spikes add a further 28 mm'."""
_TWO_CHANNELS: Final = re.compile(r"(?<![\d.,])[2-9] ?x ?\d{1,3} ?w(?:att)?\b")
"""What somebody's amplifier gives: '2 x 70 W'."""
_OVER: Final = re.compile(
    r"\b(?:averaged|average|mean|over|between|within|gemittelt|uber|moyenne|sur|media|tra|gemiddeld|tussen) "
    r"(?:(?:over|uber|von|from|sur|su|tra|between|tussen|zwischen) )?$"
)
"""Before the band over which a level holds: 'averaged over 500 Hz-8 kHz'."""
_INTO: Final = re.compile(r"[^\w]*(?:\w{1,8} ){0,2}(?:into|in|an|at|sous|su|na|op|a|w|przy)\s+", re.IGNORECASE)
"""Between an amplifier's power and the load that it was stated for."""
_TELLING: Final = frozenset((Kind.RESISTANCE, Kind.MASS, Kind.FREQUENCY, Kind.POWER))
_LABEL: Final = re.compile(
    r"(?<![\w/-])(?:(?:nominal|net|frequency) )?(?:sensitiv|weight|impedan|empfindlich|gewicht|poids|peso|masa|waga|"
    r"crossover|trennfreq|frequency r|wirkungsgrad|kennschall|schalldruck|sensibil|"
    r"dimension|abmessung|afmeting|wymiary|rated (?:input|power)|max\w*\.? (?:input|power|spl)|"
    r"belastbar|power h|preis|price|prix|prezz|precio|prijs|minimalimp|nennimp|kostet|costs?\b|costa\b|coute\b|"
    r"cuesta\b|kosztuje)\w*"
)


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of text, and what it is about."""

    topic: str | None
    start: int
    end: int


def stretches(text: str, leaves: frozenset[str] = frozenset()) -> list[Stretch]:
    """Return the stretches of running text, in order.

    Parameters
    ----------
    text : str
        As it was written.
    leaves : frozenset of str
        Pairs 'topic inner' in which the inner one is a part of the topic and no new stretch.

    Examples
    --------
    >>> [(one.topic, one.start) for one in stretches("300 x 180 x 240mm (HWD), 5.6kg, 87dB/2.83V/m")]
    [('size', 0), ('weight', 25), ('sensitivity', 32)]
    """
    found: list[Stretch] = []
    ordered = _of_several(text)
    for start, end in pieces(text):
        of_several = any(left <= start < right for left, right in ordered)
        topic = (
            "elsewhere" if of_several or _is_question(text, start) else about(folded(text[start:end]).rstrip(" ,;|"))
        )
        last = found[-1] if found else None
        if last and last.topic == "packing" and topic in ("weight", "size") and "." not in text[last.end - 1 : start]:
            topic = "packing"
        if (
            last
            and last.topic == "elsewhere"
            and topic == "price"
            and OTHER_MODELS.search(folded(text[last.start : last.end]))
        ):
            topic = "elsewhere"
        own = topic is None and CONE_ALONE.match(folded(text[start:end]))
        if last and not own and (topic is None or topic == last.topic or f"{last.topic} {topic}" in leaves):
            found[-1] = Stretch(last.topic or topic, last.start, end)
        else:
            found.append(Stretch(topic, start, end))
    return found


RESPECTIVELY: Final = re.compile(
    r"\b(?:respectively|respectivement|rispettivamente|respectivamente|odpowiednio|respectievelijk|beziehungsweise|bzw|"
    r"in (?:the|that|this) (?:above |same )?order|in the order (?:above|given|listed)|"
    r"in (?:obiger|dieser|genannter|gleicher|der (?:obigen|genannten|gleichen)) reihenfolge|"
    r"dans (?:cet|le meme) ordre|(?:en|por) (?:ese|este|el mismo) orden|nell'ordine|in quest'ordine|"
    r"in (?:deze|die|bovenstaande|dezelfde) volgorde|w (?:tej|powyzszej|podanej|tej samej) kolejnosci)\b"
)
"""Between or behind values that are of several things in their order."""
IN_ORDER: Final = re.compile(
    r"\b(?:respectively|respectivement|rispettivamente|respectivamente|odpowiednio|respectievelijk)\b|"
    r"\d ?\w{0,5} (?:bzw\.?|beziehungsweise) \d",
    re.IGNORECASE,
)


def _of_several(text: str) -> list[tuple[int, int]]:
    """Where sentences stand that give values of several things in their order, or beside those of another."""
    ends = [0, *(mark.end() for mark in re.finditer(r"(?<!bzw)(?<!resp)[.;]\s", text)), len(text)]
    return [
        (left, right)
        for left, right in pairwise(ends)
        if IN_ORDER.search(text, left, right)
        or any(one.search(folded(text[left:right])) for one in (RIVAL, PREDECESSOR))
    ]


def _is_question(text: str, start: int) -> bool:
    """Whether a sentence asks; a label with a question mark that its figure answers does not: 'Impedance? 8 ohms'."""
    asked = _ASKED.match(text, start)
    if asked is None or not asked["answer"]:
        return asked is not None
    return len(asked["what"].split()) > 2 or not topics_in(folded(asked["what"]))


def pieces(text: str) -> Iterator[tuple[int, int]]:
    """Give where the pieces of running text stand: between its marks, brackets left whole."""
    edges = [0]
    for mark in _CLAUSE.finditer(text):
        piece = text[edges[-1] : mark.start()]
        following = text[mark.end() :][:1]
        short = _OPENS_LABEL.fullmatch(piece) if following.islower() else _is_short(piece) or _NUMBER.search(piece)
        shortened = mark[0].startswith(".") and short and (following.islower() or not following.isalpha())
        listed = "/" in mark[0] and not amounts(folded(piece))
        if listed or (mark[0].strip() in ("/", "-") and text[mark.end()].isdigit() and not _of_two_kinds(text, mark)):
            continue
        between = text[mark.end() :][:1].isdigit() and _BETWEEN.search(piece)
        whole = piece.count("(") <= piece.count(")") or (mark[0].startswith(",") and _holds_several(text, mark.start()))
        if piece.strip() and whole and not shortened and not between:
            edges.append(mark.end())
    for start, end in zip(edges, [*edges[1:], len(text)], strict=True):
        if text[start:end].strip():
            yield from _at_labels(text, start, end)


def _is_short(piece: str) -> bool:
    """Whether a piece ends in a shortened word; behind a figure an ordinary short word ends a sentence."""
    word = _SHORT.search(piece)
    if word is None:
        return False
    last = folded(word[0]).strip(" (/|*")
    return not re.search(r"\d", piece) or len(last) < 3 or bool(_ABBREVIATED.fullmatch(last) or topics_in(last))


def _holds_several(text: str, place: int) -> bool:
    """Whether the bracket around a place gives figures of several kinds, and so is a list of its own."""
    start, end = text.rfind("(", 0, place), text.find(")", place)
    inside = folded(text[start + 1 : end]) if 0 <= start < end else ""
    kinds = {amount.kind for amount in amounts(inside) if amount.kind in (*_TELLING, Kind.LENGTH)}
    return len(kinds) > 1 and len(inside.split()) > _LONG_BRACKET


def _of_two_kinds(text: str, mark: re.Match[str]) -> bool:
    """Whether a stroke between figures parts two statements: '8 ohm / 87 dB', but not '87 dB / 1 W / 1 m'."""
    before = amounts(folded(text[max(0, mark.start() - 24) : mark.start()]))
    after = amounts(folded(text[mark.end() : mark.end() + 24]))
    if not before or not after:
        return False
    left, ahead = before[-1].kind, next((amount for amount in after if amount.unit), None)
    if left is None or ahead is None or ahead.kind in (None, left):
        return False
    condition = ahead.kind is Kind.LENGTH or (ahead.kind is Kind.POWER and ahead.bare <= MOST_REFERENCE_WATTS)
    return not (left is Kind.LEVEL and condition)


def _at_labels(text: str, start: int, end: int) -> Iterator[tuple[int, int]]:
    """A piece without marks in it, cut where a label follows a figure that it can't own."""
    small = _flat(text[start:end])
    found = amounts(small)
    kinds = {amount.kind for amount in found} & _TELLING
    if kinds and not re.search(r"\d ?(?:v|w|m)\b", small):
        kinds |= {Kind.LEVEL for amount in found if amount.kind is Kind.LEVEL and amount.bare >= _LEAST_LEVEL}
    edges = [start]
    if len(kinds) > 1 and not topics_in(re.sub(r"\bohms?\b|ω", " ", small)):
        edges += [start + at for at in _where_kinds_change(small, found)]
        kinds = set()
    told = len(kinds) > 1 or (kinds and (_MONEY.search(small) or any(one.kind is Kind.LEVEL for one in found)))
    if told:
        for label in _LABEL.finditer(small):
            before = amounts(small[edges[-1] - start : label.start()])
            if before and re.search(r"\d", small[label.end() :]):
                edges.append(start + label.start())
    yield from zip(edges, [*edges[1:], end], strict=True)


def _flat(text: str) -> str:
    """A folded text with every character where it stood, as far as folding leaves them there."""
    small = folded(text)
    if len(small) == len(text):
        return small
    plain = "".join(unicodedata.normalize("NFKD", character)[:1].casefold()[:1] or " " for character in text)
    return plain.translate(_PLAIN_MARKS) if len(plain) == len(text) else small.ljust(len(text))[: len(text)]


def _where_kinds_change(small: str, found: Sequence[WrittenAmount]) -> Iterator[int]:
    """Where figures that no word and no mark parts turn to another matter: '88dB 6ohm 12kg'."""
    last: Kind | None = None
    for place, amount in enumerate(found):
        between = small[found[place - 1].end : amount.start] if place else ""
        # 'gives 2 x 140 W into 4 ohms' tells of an amplifier
        into = last is Kind.POWER and amount.kind is Kind.RESISTANCE and _INTO.fullmatch(between)
        linked = into or (place and re.fullmatch(rf"\s*(?:x|/|{RANGED})\s*", between))
        ahead = next((one.kind for one in found[place:] if one.unit), None)
        matter = ahead in (Kind.LEVEL, Kind.RESISTANCE, Kind.MASS, Kind.FREQUENCY) or (
            ahead is Kind.POWER and amount.bare > MOST_REFERENCE_WATTS
        )
        over = _OVER.search(small[: amount.start])
        if last is not None and not linked and ahead is not last and matter and not amount.sign and not over:
            yield amount.start
        last = ahead if matter or last is None else last


@lru_cache(maxsize=4096)
def about(piece: str) -> str | None:
    """Return what a folded piece is about: by a label that can own its figures, or else by their units."""
    piece = _LETTERED.sub(r"\1 ", piece)
    found = amounts(piece)
    labels = list(topics_in(piece))
    if _FEET_ADD.search(piece) and {amount.kind for amount in found} == {Kind.LENGTH}:
        return "feet"
    if "elsewhere" in labels or OTHER_MODELS.search(piece):
        return "elsewhere"
    if len({"width", "height", "depth"}.intersection(labels)) > 1 and "size" not in labels:
        labels = ["size", *labels]
    kinds = {amount.kind for amount in found if amount.kind}
    if Kind.POWER in kinds and (OWNED.search(piece) or _TWO_CHANNELS.search(piece)):
        return "elsewhere"
    fitting = [topic for topic in labels if topic not in HOLDS or HOLDS[topic] & kinds or not kinds]
    if condition := _condition(piece, labels, found):
        return condition
    by_unit = _by_unit(piece, found)
    if by_unit is None or (not found and by_unit != "price"):
        # a driver that is named beside a frequency still is one
        return next(iter(fitting), None) or next((one for one in labels if one in _DRIVERS), None)
    specific = [topic for topic in fitting if topic in HOLDS]
    return next(iter(specific), None) or (by_unit if by_unit != "length" else next(iter(fitting), None))


def _condition(piece: str, labels: Sequence[str], found: Sequence[WrittenAmount]) -> str | None:
    """What a piece is about that gives a condition and no figure: 'response at -3 dB', 'sensitivity for 2.83 V'."""
    levels = [amount for amount in found if amount.kind is Kind.LEVEL]
    if any(amount.bare >= _LEAST_LEVEL for amount in levels):
        return None
    if "sensitivity" in labels and _REFERENCE.search(piece):
        return "sensitivity"
    return "response" if {"response"} <= set(labels) <= {"response", "low"} and len(levels) == len(found) == 1 else None


def misplaced(topic: str, value: str) -> str | None:
    """Return what a value is about whose figures its label cannot have, such as 'Masse: 12,8 kg'; else None.

    >>> misplaced("size", "12,8 kg"), misplaced("size", "546 x 178 x 300 mm")
    ('weight', None)
    """
    kinds = {amount.kind for amount in amounts(value) if amount.kind}
    if topic in ("width", "height", "depth") or not kinds or kinds & HOLDS[topic]:
        return None
    other = _by_unit(value, amounts(value))
    return other if other in HOLDS and HOLDS[other] & kinds and not HOLDS[other] & HOLDS[topic] else None


def _by_unit(piece: str, found: Sequence[WrittenAmount]) -> str | None:
    """What the figures of a piece are by their units alone; `length` where it could be any."""
    kinds = [amount.kind for amount in found]
    if _MONEY.search(piece):
        return "price"
    if _SIDE.fullmatch(piece):
        return "size"
    if _CHAIN.search(piece) and not _RANGE.search(piece):
        told = Kind.LENGTH in kinds or piece.count("x") == 2 or re.search(r"\((?:mm|cm|in|inch(?:es)?)\)", piece)
        return "size" if told else None
    if any(amount.kind is Kind.LEVEL and amount.bare >= _LEAST_LEVEL for amount in found):
        return "sensitivity"
    if Kind.RESISTANCE in kinds:
        return "impedance"
    if Kind.MASS in kinds:
        return "weight"
    if re.search(rf"\d ?(?:w ?)?{RANGED} ?\d+ ?w(?:att[is]?)?\b", piece):
        # no loudspeaker bears a range of watts
        return "amplifier"
    if re.search(
        rf"^\W*(?:{FROM}|at least|mindestens|min\.?) \d+ ?w(?:att[is]?)?\b",
        piece,
    ):
        return "amplifier"
    if re.search(r"averag|gemittelt|moyenn|media entre", piece):
        return None
    if _RANGE.search(piece) or _ALONE.search(piece) or _LIMIT.search(piece):
        return "response"
    if _HAND_OVERS.search(piece):
        return "crossover"
    return "length" if Kind.LENGTH in kinds else None
