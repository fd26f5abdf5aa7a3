"""Drivers: how many, how large, how a tweeter is loaded and what it is made of."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Final

from triptych.catalog.datasheet.amounts import Amount, amounts, joined
from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.lines import Entry
from triptych.catalog.datasheet.readings import Reading, agree, refused, resolve
from triptych.catalog.datasheet.words import topic_of
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS, LOUDSPEAKER
from triptych.catalog.quantities import Kind
from triptych.catalog.records import TweeterType

KINDS: Final = ("tweeter", "midrange", "woofer")
NOMINAL_SLACK: Final = 0.06
"""How far a nominal size in inches and the one sold beside it in millimetres differ; common practice, no source."""

_NUMBERS: Final = {
    **dict.fromkeys(("single", "one", "un", "une", "ein", "einen", "uno", "una", "een"), 1),
    **dict.fromkeys(("twin", "dual", "two", "double", "pair of", "deux", "zwei", "due", "dos", "twee", "doppel"), 2),
    **dict.fromkeys(("triple", "three", "trois", "drei", "tre", "tres", "drie"), 3),
    **dict.fromkeys(("quad", "four", "quatre", "vier", "quattro", "cuatro"), 4),
}
_COUNT: Final = re.compile(
    rf"(?:\(?(?<![\d.,])(?P<digits>\d{{1,2}})\)?\s*(?:x|off|(?=mid|woofer|bass|tweeter|tief|hoch|mittel|"
    rf"grave|laagt|hoget))\s*|\((?P<bracket>\d{{1,2}})\)\s*|(?P<word>\b(?:{'|'.join(_NUMBERS)})\b)[\s-]*)"
)
_COUNT_AFTER: Final = re.compile(r"\bx\s*(?P<digits>\d{1,2})(?=\s*(?:$|[,;)]))(?P<bracket>)(?P<word>)")
_COUNT_ALONE: Final = re.compile(r"\s*(?P<digits>\d{1,2})\s*$(?P<bracket>)(?P<word>)")
_LOADING: Final = (
    (TweeterType.FOLDED_RIBBON, r"folded[- ]?(?:ribbon|diaphragm)|pleated|air[- ]?motion|\bamt\b|faltmembran|plisse"),
    (TweeterType.RIBBON, r"ribbon|bandchen|baendchen|ruban|\bnastro|\bcinta\b|\bband[- ]?tweeter|\blint\b"),
    (TweeterType.HORN, r"\bhorn|compression driver|druckkammer|pavillon|\btromba|bocina|\bhoorn|compressiedriver"),
    (TweeterType.RING, r"ring[- ]?(?:radiator|dome)|ringstrahler|ringradiator"),
    (
        TweeterType.WAVEGUIDE_DOME,
        r"wave-? ?guide|wellenleiter|schallfuhrung|guide d'onde|guida d'onda|guia de onda|golfgeleider",
    ),
    (TweeterType.DOME, r"dome\b|domes\b|kalotte|cupola|cupula|koepel|\bdomo\b"),
    (TweeterType.CONE, r"\bcone\b|konus|\bconus\b"),
)
_MATERIALS: Final = (
    ("silk", r"\bsilk|seide|\bsoie\b|\bseta\b|\bseda\b|zijde"),
    ("textile", r"textil|fabric|gewebe|tissu|tessuto|\btela\b|weefsel|\bcloth\b"),
    ("aluminium", r"alumin?i?um|\balu\b|alluminio"),
    ("titanium", r"titan"),
    ("beryllium", r"beryll"),
    ("magnesium", r"magnes"),
    ("ceramic", r"ceram|keram"),
    ("diamond", r"\bdiamond|diamant"),
    ("polymer", r"\bpolymer|polyimid|\bmylar"),
)
_NO_SIZE: Final = re.compile(r"\s*-?\s*(?:voice ?coil|schwingspul|bobin|magnet)")


def read_drivers(entry: Entry, draft: Draft) -> bool:
    """Take a list of drivers: each clause goes to the kind it names."""
    taken = _layout(entry, draft)
    for clause in _clauses(entry.value):
        kind = _kind(clause)
        if kind is not None:
            taken |= read_driver(replace(entry, topic=kind, key=f"{kind} {clause}", value=clause), draft)
    return taken


def _kind(clause: str) -> str | None:
    found = topic_of(clause, anywhere=True)
    if found in KINDS:
        return found
    named = re.search(r"dome|kalotte|ribbon|\bhorn\b|compression driver|\bamt\b|cupola|cupula|koepel", clause)
    return "tweeter" if named else None


def _clauses(text: str) -> list[str]:
    """Pieces at commas, semicolons, plus signs, and 'and' before a count or a size."""
    return re.split(
        r"[,;]\s+|\s+(?:\+|flanking|plus|around|beside)\s+|\s+(?:and|und|et|e|y|en|with|mit)\s+(?=\(?\d|a\b|"
        r"an\b|un|ein|two|twin|dual|zwei|deux)",
        text,
    )


def read_driver(entry: Entry, draft: Draft) -> bool:
    """Take count, size, loading and material of one kind of driver."""
    kind = entry.topic or ""
    clauses = _clauses(entry.value)
    others = [clause for clause in clauses if topic_of(clause, anywhere=True) in KINDS and _kind(clause) != kind]
    own = ", ".join(clause for clause in clauses if clause not in others)
    taken = _size_and_count(kind, own, entry, draft)
    if kind == "tweeter":
        taken |= _tweeter(own, entry, draft)
        taken |= read_coverage(replace(entry, value=own), draft, sure=False)
    for clause in others:
        taken |= read_drivers(replace(entry, key="drivers", value=clause), draft)
    return taken


def _size_and_count(kind: str, text: str, entry: Entry, draft: Draft) -> bool:
    counted = _COUNT.search(text) or _COUNT_AFTER.search(text) or _COUNT_ALONE.match(text if _asked(entry) else "")
    count, rest = _count(counted), text
    sizes = [a for a in amounts(text) if a.kind is Kind.LENGTH and not _NO_SIZE.match(text[a.end :])]
    ribbon = kind == "tweeter" and re.search(_LOADING[0][1] + "|" + _LOADING[1][1], text)
    if counted and count is not None and (count > _most(kind) or _is_width(counted, rest, kind)):
        _two_sides(kind, counted, sizes, entry, draft, ribbon=bool(ribbon))
        return True
    if count is None and sizes:
        _assume_one(kind, entry, draft)
    elif count is not None and kind != "tweeter":
        draft.put(f"{kind}_count", count, entry.raw)
    if sizes:
        reading = _longer(sizes, kind, entry) if ribbon else _nominal(sizes, kind, text, entry)
        draft.take(f"{kind}_size", reading, entry.raw)
    return bool(sizes) or count is not None


def _asked(entry: Entry) -> bool:
    """Whether a key asks for a number: 'Woofer quantity'."""
    return bool(re.search(r"number|quantity|count|anzahl|nombre|numero|aantal|qty", entry.key))


def _most(kind: str) -> int:
    return 12 if kind == "midrange" else 24


def _is_width(counted: re.Match[str], text: str, kind: str) -> bool:
    """Whether '12 x 80 mm' of a tweeter is a rectangle."""
    return kind == "tweeter" and bool(counted["digits"]) and int(counted["digits"]) > 4


def _two_sides(
    kind: str, counted: re.Match[str], sizes: Sequence[Amount], entry: Entry, draft: Draft, *, ribbon: bool
) -> None:
    if ribbon and sizes:
        draft.take(f"{kind}_size", _longer(sizes, kind, entry), entry.raw)
        return
    why = f"{counted[0].strip()!r} is too many to be a count, and two sides are no diameter"
    draft.refuse(f"{kind}_size", why, entry.raw)


def _longer(sizes: Sequence[Amount], kind: str, entry: Entry) -> Reading:
    """The longer side of a ribbon."""
    readings = [resolve(size, LOUDSPEAKER[f"{kind}_size"], raw=entry.raw) for size in sizes]
    return max(readings, key=lambda reading: reading.value or 0.0)


def _count(match: re.Match[str] | None) -> int | None:
    if match is None:
        return None
    digits = match["digits"] or match["bracket"]
    return int(digits) if digits else _NUMBERS[match["word"]]


def _assume_one(kind: str, entry: Entry, draft: Draft) -> None:
    """A driver in the singular is one; where the word has no singular, it is asked."""
    if kind == "tweeter" or re.search(r"size|diamet|durchm|grosse", entry.key):
        return
    column = f"{kind}_count"
    singular = not re.search(
        r"(?:s|i|es)\b|ton(?:er)?\b|toner", entry.key.split("(")[0].split()[-1] if entry.key else "s"
    )
    if singular and draft.known(column) is None:
        draft.put(column, 1, entry.raw, ("no count stated, and the word is in the singular",), inferred=True)
    elif draft.known(column) is None:
        draft.ask(column, "how many are there?")


def _nominal(sizes: Sequence[Amount], kind: str, text: str, entry: Entry) -> Reading:
    """A nominal size, whose inches and millimetres are names rather than measures."""
    quantity = LOUDSPEAKER[f"{kind}_size"]
    readings = [resolve(size, quantity, raw=entry.raw) for size in sizes]
    first = readings[0]
    if len(sizes) == 1 or not joined(text, sizes[0], sizes[1]) or first.value is None or readings[1].value is None:
        return first if len({reading.value for reading in readings}) == 1 else _several(sizes, readings, text, entry)
    if agree(first, readings[1]):
        return min(readings[:2], key=lambda reading: reading.step)
    if abs(first.value - readings[1].value) <= NOMINAL_SLACK * max(first.value, readings[1].value):
        metric = readings[0] if sizes[0].unit in ("mm", "cm") else readings[1]
        return metric.flagged("nominal sizes in mm and in are not equal; the metric one is taken", inferred=True)
    return refused("two sizes that disagree by more than nominal sizes do", entry.raw)


def _several(sizes: Sequence[Amount], readings: Sequence[Reading], text: str, entry: Entry) -> Reading:
    if len(sizes) > 1 and joined(text, sizes[0], sizes[1]):
        return readings[0] if readings[0].value is not None else readings[1]
    return refused("several sizes; which one is the driver's?", entry.raw)


def _tweeter(text: str, entry: Entry, draft: Draft) -> bool:
    found = [kind for kind, pattern in _LOADING if re.search(pattern, text)]
    if found:
        flags = (
            () if found[0] is not TweeterType.WAVEGUIDE_DOME or TweeterType.DOME in found else ("a dome is not stated",)
        )
        draft.put("tweeter_type", found[0], entry.raw, flags, inferred=bool(flags))
    materials = [name for name, pattern in _MATERIALS if re.search(pattern, text)]
    if len(materials) == 1:
        draft.put("tweeter_material", materials[0], entry.raw)
    return bool(found or materials)


def read_coverage(entry: Entry, draft: Draft, *, sure: bool = True) -> bool:
    """Take horizontal by vertical coverage: '90° x 60°'."""
    match = re.search(
        r"(?<![\d.,±])(\d{1,3})\s*(?:°|deg\w*)?\s*(?:\(?[hv]\w*\)?)?\s*x\s*(\d{1,3})\s*(°|deg)?", entry.value
    )
    marked = match and (match[3] or "°" in match[0] or sure or "horn" in entry.text)
    if not match or not marked or re.match(r"\s*(?:mm|cm|in|\")", entry.value[match.end() :]):
        return False
    quantity = LOUDSPEAKER["tweeter_coverage"]
    angles = (float(match[1]), float(match[2]))
    if all(quantity.low <= angle <= quantity.high for angle in angles):
        draft.put("tweeter_coverage", angles, entry.raw)
        return True
    return False


def _layout(entry: Entry, draft: Draft) -> bool:
    for word in _layout_words(entry.said):
        try:
            draft.put("layout", COLUMNS["layout"].read(word), entry.raw)
        except BadInput:
            continue
        return True
    return False


def _layout_words(said: str) -> Iterator[str]:
    """Words that can only be a layout: drivers' letters in capitals, with a tweeter among them."""
    for match in re.finditer(r"(?<![\w(/])[TMW(][TMW()/-]{1,12}(?![\w])", said):
        word = match[0].replace("-", "")
        if "T" in word and word != "TM" and re.search("[MW]", word):
            yield word
