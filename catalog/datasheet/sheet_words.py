"""The words of datasheets in six languages, folded: which topic a line is about, and what its words qualify."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from functools import lru_cache
from importlib.resources import files
from typing import Final


def _patterns(name: str) -> dict[str, re.Pattern[str]]:
    """The words of a file of the vocabulary, of all languages, as one pattern each."""
    tables = tomllib.loads(files("triptych.catalog.datasheet").joinpath("vocabulary", name).read_text("utf-8"))
    return {
        key: re.compile(_any_of([word for words in table.values() for word in words])) for key, table in tables.items()
    }


def _any_of(words: Sequence[str]) -> str:
    """One pattern of many, where what each opens with is looked for once, not for each pattern."""
    edge, start = r"\b", "^"
    inside = [word.removeprefix(edge) for word in words if word.startswith(edge)]
    opening = [word.removeprefix(start) for word in words if word.startswith(start)]
    others = [word for word in words if not word.startswith((edge, start))]
    grouped = [f"{lead}(?:{'|'.join(some)})" for lead, some in ((edge, inside), (start, opening)) if some]
    return "|".join((*grouped, *others))


_TOPICS: Final = _patterns("topics.toml")
_QUALIFIERS: Final = _patterns("qualifiers.toml")

DRIVER_KINDS: Final = _patterns("drivers.toml")
"""What names each kind of driver."""
ENCLOSURES: Final = _patterns("enclosures.toml")
"""What names each kind of box, each face of it, and what closes its port."""
LIKENESS: Final = _patterns("likeness.toml")
"""What tells a loudspeaker by another one, and of which matters."""
DOUBTS: Final = _patterns("doubts.toml")
"""What makes a figure doubtful that stands beside it."""
RADIATOR: Final = _QUALIFIERS["radiator"]
"""A driver that isn't one."""

_PLAIN_WORDS: Final = re.compile(
    r"(?:and|und|twin|dual|double|two|per|pro|par|por|approx|about|circa|each|nominal|typ|typical|max|min|maximum|minimum|from|with|net|"
    r"netto|the|for|oct|octave|okt|oktave|ott|ottava|order|ordnung|anechoic|dome|silk|soft|fabric|textile|soie|seide|"
    r"seta|seda|aluminium|aluminum|titanium|beryllium|ribbon|horn|ring|cone|paper|front|rear|back|side|bottom|top|"
    r"down|vrms|metre|meter|watts?|ohms?|usd|eur|gbp|chf|pln|jpy|vat|incl|excl|tax|inches|inch|hertz|rms)"
)
"""Words beside figures that say what the readers of figures look at, or nothing."""


def is_known(word: str) -> bool:
    """Return whether a folded word is one that datasheets use beside their figures."""
    return bool(
        _PLAIN_WORDS.fullmatch(word)
        or any(pattern.search(word) for pattern in (*_QUALIFIERS.values(), *DRIVER_KINDS.values()))
        or topic_of(word)
    )


KEY_ONLY: Final = frozenset(("maker", "model", "series", "family", "status", "role", "layout", "feet"))
"""Topics whose words are too common to look for in the middle of a sentence."""

SECTION: Final = re.compile(
    r"^(?:technical |technische |general |key |main |physical |electrical |"
    r"acoustic(?:al)? )*(?:specifications?|specs?|data|daten|"
    r"features|details?|information|overview|dimensions?|abmessungen|masse|caracteristiques(?: techniques)?|dimensioni|"
    r"dimensiones|afmetingen|specifiche(?: tecniche)?|especificaciones(?: tecnicas)?|specificaties|fiche technique|"
    r"datenblatt|datasheet|data sheet|scheda tecnica|ficha tecnica|drivers?|drive units|cabinet|enclosure|gehause|"
    r"electrical|acoustics?|mechanical|general|performance|physical|measurements?|weights? and (?:measures|dimensions)|"
    r"dimensions? (?:and|&) weights?|abmessungen und gewicht|connections?|finish(?:es)?|accessories|in the box|"
    r"in (?:figures|numbers|zahlen|cifre|cijfers)|en (?:chiffres|cifras)|w liczbach|"
    r"allgemein(?:es)?|technik|generalites|general data|dati tecnici|datos tecnicos|gewicht|weight|price)"
    r"(?: ?\([^()]*\))?:?$"
)
"""A line that heads a part of one sheet, and names no loudspeaker."""

ACCESSORY: Final = _QUALIFIERS["accessory"]
"""Keys of something beside the loudspeaker, whose figures are not its own."""
OTHER_GOODS: Final = re.compile(
    r"(?:(?:wall|floor|ceiling) )?(?:stands?|pieds?|stander|soportes?|supporti?|supports?|standaards?|podstawk[ai]|"
    r"brackets?|mounts?|spikes?|grill\w*|cables?|kabel|halter\w*|wandhalter\w*|fussel?|standfu(?:ss|ß)e?|staff[ae]|(?:muur)?beugels?|"
    r"uchwyty?|stojaki?|statywy?|etriers?|griglie?|rejillas?|maskownic\w*|housses?|frontbespannung\w*|puntali|puntas)\b"
)
"""What a price list holds beside loudspeakers."""
FEET: Final = _QUALIFIERS["feet"]
GRILLE: Final = _QUALIFIERS["grille"]
TERMINALS: Final = _QUALIFIERS["terminals"]
WITHOUT: Final = _QUALIFIERS["without"]
PAIR: Final = _QUALIFIERS["pair"]
EACH: Final = _QUALIFIERS["each"]
SHIPPING: Final = _QUALIFIERS["shipping"]
FORMER: Final = _QUALIFIERS["former"]
"""Words before an amount that is no longer asked, or was paid by somebody."""
TODAY: Final = _QUALIFIERS["today"]
"""Words before an amount that is asked today, whatever another was."""
LISTED_PRICE: Final = _QUALIFIERS["listed"]
"""Words before the maker's own price, which stands unless another is asked."""
PASSING: Final = _QUALIFIERS["passing"]
"""Words before an amount of something else: an instalment, the post, a stand."""
OTHER_MODELS: Final = _QUALIFIERS["others"]
"""Words before what a shop offers beside this loudspeaker."""
RIVAL: Final = _QUALIFIERS["rival"]
"""Words of a sentence that tells of another loudspeaker beside this one."""
MEASURED: Final = _QUALIFIERS["measured"]
"""Words of how figures were found."""
PREDECESSOR: Final = _QUALIFIERS["predecessor"]
"""Words of a sentence that tells of a model's predecessor or of another version of it."""
IS_A_KIND: Final = _QUALIFIERS["is_a_kind"]
"""What a loudspeaker is, in the words of a list."""
OPENS_PHRASE: Final = re.compile(rf"(?:{_QUALIFIERS['opens_phrase'].pattern}) ")
"""Words that open a phrase of a sentence, and no name."""
OWNED: Final = _QUALIFIERS["owned"]
"""Words of what somebody has at home, such as an amplifier."""
BRACKETS: Final = _QUALIFIERS["brackets"]
"""Words for the brackets that hold another model's figures."""
FIRST_OF_TWO: Final = _QUALIFIERS["first_of_two"]
"""Words that say whose figure comes first of two with a stroke between."""
SECOND_OF_TWO: Final = _QUALIFIERS["second_of_two"]
IN_ROOM: Final = _QUALIFIERS["in_room"]
HALF_SPACE: Final = _QUALIFIERS["half_space"]
ANECHOIC: Final = _QUALIFIERS["anechoic"]


@lru_cache(maxsize=4096)
def topic_of(key: str, *, anywhere: bool = False) -> str | None:
    """Return what a folded key is about, or None.

    Parameters
    ----------
    key : str
        Folded.
    anywhere : bool
        Whether it is a piece of running text, in which only telling words count.

    Examples
    --------
    >>> topic_of("empfindlichkeit (2,83 v/1 m)"), topic_of("shipping carton size"), topic_of("colour")
    ('sensitivity', 'packing', None)
    """
    found = _first(key, anywhere)
    unit = _UNIT_BEHIND.search(key)
    if unit is None or anywhere:
        return found
    if found is None:
        found = _first(key[: unit.start()].rstrip(" .,:"), anywhere)
    # 'Masse' is a size or a weight, as its unit says
    return "weight" if found == "size" and unit[1][0] in "kl" else found


_UNIT_BEHIND: Final = re.compile(
    r"[\s,/(\[]+(?:in )?(mm|cm|m|in|inch|kgs?|lbs?|db|k?hz|w|watts?|ω|ohms?|€|£|eur|euros?)\.?[)\]]?$"
)


def _first(key: str, anywhere: bool) -> str | None:
    for topic, pattern in _TOPICS.items():
        if (not anywhere or topic not in KEY_ONLY) and pattern.search(key):
            return topic
    return None


def topics_in(piece: str) -> list[str]:
    """Return every topic that a piece of folded running text names, the one that tells most first."""
    return [topic for topic, pattern in _TOPICS.items() if topic not in KEY_ONLY and pattern.search(piece)]
