"""Maker, series and model from what stands above the figures: lines, dashes, quotes, 'by', 'model'."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.sheet_words import SECTION
from triptych.catalog.datasheet.text_cells import Cell, Line, is_name, label

_GENERIC: Final = re.compile(
    r"handbook|manual|instruk|istruz|handleiding|fiche|technisch|specific|price|preis|tarif|cennik|\bpage|seite|\bpag\b|"
    r"\bp\. ?\d|datenblatt|lautsprecher$|speakers?$|product information|catalogue|re:|listino|scheda|ficha|vergleich|"
    r"\btest|banc d|bestenliste|panel|comparison|valid|dealer sheet|quotation|technical|appendix|home$|loudspeakers$|"
    r"angeb|offert|oferta|story of|subject|from:|to:|ref\.|tel\.|www|hotline"
)
_TEST: Final = re.compile(
    r"test|vergleich|banc d|comparison|bestenliste|getest|panel|\?|candidat|kandidat|numbers for", re.IGNORECASE
)
_COMPANY: Final = re.compile(
    r"\s+(?:loudspeakers?|lautsprecher\w*|audio|acoustics|electronics|ltd|gmbh|s\.?r\.?l\.?)\.?(?:\s+\w+)?$",
    re.IGNORECASE,
)
_SHOUTED: Final = re.compile(r"^(?:[A-ZÀ-Ž&Ł]{2,}|&)(?: (?:[A-ZÀ-ŽŁ]{2,}|&))+(?=\s)")
DESCRIBED: Final = re.compile(
    r"[ ,–—-]+(?:(?:floor-?standing|bookshelf|cent(?:er|re)|surround|main|stand-?mount)[ -])*"
    r"(?:loud)?(?:speaker|channel)s?(?: system)?$",
    re.IGNORECASE,
)
_PART: Final = re.compile(r"\s+[–—-]\s+|\s*/{2,}\s*|\s{2,}|\s*[|·:]\s+|,\s+|\s+[–—]")
_QUOTED: Final = re.compile(r"^(?P<maker>[^\"“„«]{3,40}?)\s*[\"“„«](?P<model>[^\"”“»]{1,40})[\"”“»]")
_MODEL: Final = re.compile(
    r"\b(?:modell?[oe]?|mod\.|typ)\s*:?\s+[\"“„]?(?P<model>[\w&'-]+(?:[ -][\w-]{1,12}){0,2})[\"”“]?", re.IGNORECASE
)
_SERIES: Final = re.compile(
    r"\b(?:serie|série|gamme|series|linea)\s+(?P<after>[A-ZÀ-Ž]\w+)|"
    r"\b(?P<before>[A-ZÀ-Ž][\w-]+?)[ -](?:range|series|serie|SERIES)\b",
)
_MOST: Final = 4
TITLE_TOLD: Final = "told by where it stands in the heading"
"""The flag of a name that the heading tells."""


def title_lines(lines: Sequence[Line]) -> list[str]:
    """Return the lines above the first figure or label, without such as 'Specification'."""
    found: list[str] = []
    for line in lines:
        text = line.text.strip(" *•#>■[]")
        if not line.cells:
            continue
        if label(line.cells[0]) or (":" in text and len(found) > 0) or len(found) == _MOST:
            break
        if len(text.split()) > 10 or re.search(r"[.!?]$", text):
            break
        if not SECTION.match(folded(text)) and not re.search(r">|^(?:Home|Loudspeakers|Basket.*)$", text):
            found.append(text)
    return found


def names(lines: Sequence[Line]) -> dict[str, str]:
    """Return maker and model as far as the title of one loudspeaker tells them apart."""
    titles = title_lines(lines)
    whole = "\n".join(titles)
    if _TEST.search(whole):
        return {}
    quoted = next((match for text in titles if (match := _QUOTED.match(text))), None)
    if quoted and is_name(_cell(quoted["maker"])):
        return {"maker": re.sub(r"^(?:The|Die|Der)\s", "", quoted["maker"].strip()), "model": quoted["model"].strip()}
    byline = re.search(r"^(?P<model>[^\n]+?)\s*(?:\n\s*|\s+)by (?P<maker>[^\n]{2,40})$", whole, re.MULTILINE)
    if byline:
        return {"maker": byline["maker"].strip(), "model": _bare(byline["model"])}
    parts = [part for text in titles for part in _parts(text)]
    named = next((match["model"] for text in titles if (match := _MODEL.search(text))), None)
    if named and parts:
        return {"maker": parts[0], "model": named} if named not in parts[0] else {"model": named}
    if len(parts) >= 2 and parts[0] != parts[1]:
        return {"maker": parts[0], "model": _without(parts[0], parts[1])}
    return {"model": _bare(parts[0])} if parts else {}


def common(title: Sequence[Cell], header: str) -> dict[str, str]:
    """Return maker and series that the title above several loudspeakers tells."""
    texts = [cell.text.strip(" *•#>■") for cell in title]
    if not texts or _TEST.search(" ".join(texts)) or re.search(r"\b(?:mak|mark|merk|marqu)", header.casefold()):
        return {}
    found: dict[str, str] = {}
    series = next((match for text in texts if (match := _SERIES.search(text))), None)
    if series:
        found["series"] = series["after"] or series["before"]
    makers = [part for text in texts for part in _parts(_SERIES.sub("", text))]
    if makers:
        found["maker"] = _COMPANY.sub("", makers[0])
    return found


def _parts(text: str) -> Iterator[str]:
    """The pieces of a title that can be names."""
    for part in _PART.split(re.sub(r"\s*\([^)]*\)", "", text)):
        bare = _COMPANY.sub("", part.strip(' *"“”„'))
        small = folded(bare)
        if bare and not _GENERIC.search(small) and is_name(_cell(bare)) and bare[0].isupper():
            yield DESCRIBED.sub("", bare) or bare
        elif shouted := _SHOUTED.match(bare):
            yield shouted[0].strip()


def _bare(text: str) -> str:
    return DESCRIBED.sub("", re.sub(r"\s*\([^)]*\)", "", text).strip(' *"“”„'))


def _without(maker: str, model: str) -> str:
    return model[len(maker) :].strip() if model.casefold().startswith(f"{maker.casefold()} ") else model


def _cell(text: str) -> Cell:
    return Cell(text.strip(), 0, 0)
