"""How a tweeter is loaded, what it is made of, how wide it radiates; and the layout of all drivers."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from triptych.catalog.datasheet.draft import Draft
from triptych.catalog.datasheet.entries import SheetEntry
from triptych.catalog.datasheet.result import ReadField
from triptych.catalog.errors import BadInput
from triptych.catalog.fields import COLUMNS, LOUDSPEAKER
from triptych.catalog.records import TweeterType

FOLDED: Final = re.compile(
    r"folded[- ]?(?:ribbon|diaphragm)|pleated|air[- ]?motion|\bamt\b|faltmembran|plisse|gefalt|"
    r"ripiegat|plegad|gevouwen|skladan|\bpliee?s?\b"
)
RIBBON: Final = re.compile(
    r"ribbon|bandchen|baendchen|ruban|\ba? ?nastro|\bcinta\b|\bband[- ]?tweeter|\blint(?:\b|luidspr|tweeter|unit)|wsteg"
)
DOMES: Final = re.compile(
    r"dome\b|kalotte|ribbon|bandchen|\bhorn\b|compression driver|\bamt\b|cupola|cupula|koepel|kopulk|\bdome|"
    r"ringstrahler|ring radiator|\bruban\b|druckkammer"
)
IN_WAVEGUIDE: Final = re.compile(
    r"wave-? ?guide|wellenleiter|schallfuhrung|guide d.ondes?|guida d.onda|guia(?: |-)de(?: |-)ondas?|golfgeleider|"
    r"falowo|faloprowad"
)
"""What a dome may stand in."""
_LOADING: Final = (
    (TweeterType.FOLDED_RIBBON, FOLDED.pattern),
    (TweeterType.RIBBON, RIBBON.pattern),
    (
        TweeterType.HORN,
        r"\bhorn|compression (?:driver|tweeter)|motor de compresion|driver a compressione|a compression|druckkammer|"
        r"pavillon|\btromba|bocina|\bhoorn|"
        r"compressiedriver",
    ),
    (
        TweeterType.RING,
        r"ring[- ]?(?:radiator|dome|tweeter)|\bad anello|\ba anneau|\bde anillo|ringstrahler|ringradiator|"
        r"pierscieniow|^(?:\d+ ?mm )?ring\b",
    ),
    (TweeterType.WAVEGUIDE_DOME, IN_WAVEGUIDE.pattern),
    (TweeterType.DOME, r"dome\b|domes\b|kalotte|cupola|cupula|koepel|\bdomo\b|kopulk"),
    (TweeterType.CONE, r"\bcone\b|konus|\bconus\b"),
)
_MATERIALS: Final = tuple(
    (kind, re.compile(words))
    for kind, words in (
        ("silk", r"\bsilk|seide|\bsoie\b|\bseta\b|\bseda\b|zijde|jedwab"),
        ("textile", r"textiel|textil|fabric|gewebe|tissu|tessuto|\btela\b|weefsel|\bstof(?:fen)?\b|\bcloth\b|tekstyl"),
        ("aluminium", r"alumin?i?um|alumini?o|\b(?:alu|alum|ally|alloy)\b|\balu(?=kalotte|-)|alluminio|aluminiow"),
        ("titanium", r"titan|tytan"),
        ("beryllium", r"ber[iy]l"),
        ("magnesium", r"magnes"),
        ("ceramic", r"ceram|keram"),
        ("diamond", r"\bdiamond|diamant"),
        ("polyester", r"pol[iy]estr?[er]"),
        ("polymer", r"\bpolymer|polyimid|\bmylar"),
        ("phenolic", r"phenol"),
        ("PC", r"\bpc[- ]kalotte"),
        (
            "metal",
            r"\bmetal (?:dome|tweeter)|metallkalotte|dome metal|cupola (?:in )?metal|metaalkoepel|kopulk\w* metal",
        ),
    )
)


def read_tweeter(text: str, entry: SheetEntry, draft: Draft) -> bool:
    """Take loading and material of a tweeter from a clause that is about it."""
    found = [kind for kind, pattern in _LOADING if re.search(pattern, text)]
    if TweeterType.RIBBON in found[:1] and TweeterType.DOME in found:
        # 'all tweeters but the ribbon are domes' is of two loudspeakers
        found = []
    if found:
        flags = (
            () if found[0] is not TweeterType.WAVEGUIDE_DOME or TweeterType.DOME in found else ("a dome is not stated",)
        )
        told, domes = draft.fields.get("tweeter_type"), {TweeterType.DOME, TweeterType.WAVEGUIDE_DOME}
        if told is not None and {told.value, found[0]} == domes:
            # of a dome and of a dome in a waveguide the second tells more
            flags = ("called a dome alone too",)
            draft.fields["tweeter_type"] = ReadField(TweeterType.WAVEGUIDE_DOME, told.status, flags, told.raw)
        else:
            draft.put("tweeter_type", found[0], entry.raw, flags, inferred=bool(flags))
    materials = [name for name, pattern in _MATERIALS if pattern.search(text)]
    if len(materials) == 1:
        draft.put("tweeter_material", materials[0], entry.raw)
    return bool(found or materials)


def read_coverage(entry: SheetEntry, draft: Draft, *, sure: bool = True) -> bool:
    """Take horizontal by vertical coverage: '90° x 60°'."""
    match = re.search(
        r"(?<![\d.,±])(\d{1,3})\s*(?:°|deg\w*)?\s*(?:\(?[hv]\w*\)?)?\s*[x*]\s*(\d{1,3})\s*(°|deg)?", entry.value
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


def read_layout(entry: SheetEntry, draft: Draft) -> bool:
    """Take a layout that stands in the drivers' letters."""
    for word in _layout_words(entry.said):
        try:
            draft.put("layout", COLUMNS["layout"].read(word), entry.raw)
        except BadInput:
            continue
        return True
    return False


def _layout_words(said: str) -> Iterator[str]:
    """Words that can only be a layout: drivers' letters in capitals, with a tweeter among them."""
    for match in re.finditer(r"(?<![\w(/])[TMW(][TMW()/-]{1,12}(?![\w/])", said):
        # three drivers in brackets of their own are no coaxial pair
        word = re.sub(r"^\(([TMW]{3,})\)$", r"\1", match[0].replace("-", ""))
        if word == "TMT" and "layout" not in said.casefold():
            # a bass-midrange driver in German
            continue
        if "T" in word and len(word) > 2 and not re.search("TT|HT", word) and re.search("[MW]", word):
            yield word
