"""The pieces of a title that can name a maker, a series or a model: between dashes, behind what a list calls itself."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.name_parts import bare_name, describes_only, without_form, without_legal_form
from triptych.catalog.datasheet.text_cells import Cell, is_name

_GENERIC: Final = re.compile(
    r"handbook|manual|instruk|istruz|handleiding|fiche|technisch|specific|price|preis|tarif|cennik|\bpage|seite|\bpag\b|"
    r"\bp\. ?\d|datenblatt|lautsprecher$|speakers?$|product information|catalogue|re:|listino|scheda|ficha|vergleich|"
    r"\btest|banc d|bestenliste|panel|comparison|valid|dealer sheet|quotation|technical|appendix|home$|loudspeakers$|"
    r"measurement|associated data|open box|\bsheet\b|angeb|offert|oferta|"
    r"^costruttore\b|^produttore\b|^hersteller und|lab report|in figures|^points forts|^punti di forza|kaufberatung|"
    r"story of|subject|from:|to:|ref\.|tel\.|www|hotline"
)
_ARTICLE: Final = re.compile(r"the|der|die|das|le|la|les|el|los|il|lo|de|het|our|unsere|notre|nuestra|nostra|onze")
_SHOUTED: Final = re.compile(
    r"^(?:(?:[A-ZÀ-ÞĄĆĘŁŃŚŹŻ]{2,}|&)(?: (?:[A-ZÀ-ÞĄĆĘŁŃŚŹŻ]{2,}|&))+|[A-ZÀ-ÞĄĆĘŁŃŚŹŻ]{4,})(?=\s)"
)
_SIDE: Final = re.compile(r"[WHDBTLP] ?\d{3,4}(?: ?mm)?")
"""A side of a box, such as 'W 480'."""
_SMALL_WORDS: Final = frozenset(
    (
        *("&", "and", "und", "et", "y", "e", "en", "i", "of"),
        *("de", "di", "del", "la", "le", "du", "des", "aux", "van", "von", "da"),
    )
)
"""Words of small letters that stand in names; others make a sentence."""
_LIST: Final = re.compile(
    r"^(?:(?:(?:suggested |recommended )?(?:trade|retail|dealer|wholesale)(?: (?:and|&) (?:trade|retail))? )?"
    r"pric(?:e|ing) ?(?:list|book|schedule|sheet)|(?:\w+)?preisliste|(?:\w+)?prijslijst(?: luidsprekers)?|"
    r"listino(?: prezzi)?(?: (?:rivenditori|al pubblico))?|"
    r"cennik(?: (?:detaliczny|hurtowy|katalogowy|dealerski))?|lista (?:de precios|prezzi)|liste de prix|"
    r"tarifs?(?: (?:publics?|revendeurs?|professionnels?))*(?: conseillés?)?|tarifa(?: (?:pvp|general|de precios))?|"
    r"quotation(?: sheet| list)?)\b"
    r"[\s:–-]*(?:n[°ºro.]*\s?)?(?:\d[\d./-]*)?\s*",
    re.IGNORECASE,
)
"""What a list calls itself before it names whose it is."""
PART: Final = re.compile(r"\s+[–—―-]\s+|\s*/{2,}\s*|\s{2,}|\s*[|·:]\s+|[,;]\s+|;|\s+[–—]")
_OF_KIND: Final = re.compile(
    r"(?i:(?:kolumny|zestawy)(?: głośnikowe)?|enceintes(?: acoustiques)?|diffusori(?: acustici)?|lautsprecher|"
    r"luidsprekers|altavoces|loudspeakers) (?P<maker>[A-ZÀ-ÞĄĆĘŁŃŚŹŻ]{3,}(?: [A-ZÀ-ÞĄĆĘŁŃŚŹŻ&]+)*)$"
)
"""The maker in capitals behind what it makes: 'kolumny głośnikowe BAGNISKO'."""


def title_parts(text: str) -> Iterator[str]:
    """Give the pieces of a title that can be names."""
    for part in PART.split(without_form(re.sub(r"\s*\([^)]*\)", "", text))):
        whole = _LIST.sub("", part.strip(' *"“”„'))
        if not whole or describes_only(whole) or _ARTICLE.fullmatch(folded(whole)) or _SIDE.fullmatch(whole):
            continue
        if of_kind := _OF_KIND.match(whole):
            yield of_kind["maker"]
            continue
        bare = without_legal_form(bare_name(whole))
        sentence = any(word[0].islower() and word not in _SMALL_WORDS for word in bare.split())
        if not _GENERIC.search(folded(bare)) and is_name(_cell(bare)) and bare[0].isupper() and not sentence:
            yield bare
        elif (
            (shouted := _SHOUTED.match(whole))
            and not _GENERIC.fullmatch(folded(bare))
            and not _GENERIC.search(folded(shouted[0]))
        ):
            yield shouted[0].strip()


def _cell(text: str) -> Cell:
    return Cell(text.strip(), 0, 0)
