"""Maker, series and model from what stands above the figures: lines, dashes, quotes, 'by', 'model'."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.furniture import is_furniture, without_furniture
from triptych.catalog.datasheet.name_grounds import in_order, of_code, said_of, signs_as_maker, signs_as_model
from triptych.catalog.datasheet.name_parts import (
    QUOTED,
    alone_in_prose,
    bare_name,
    describes_only,
    is_house,
    parted,
    run_of_names,
    series_and_model,
    shared_lead,
    signed_by,
    without_legal_form,
    without_maker,
)
from triptych.catalog.datasheet.sheet_words import SECTION
from triptych.catalog.datasheet.text_cells import Cell, Line, is_name, label
from triptych.catalog.datasheet.title_parts import PART, title_parts

_TEST: Final = re.compile(
    r"at a glance|compared|shoot-?out|round-?up|auf einen blick|l'[ée]coute|in prova|a confronto|por[oó]wnan|vergelijk|"
    r"test|vergleich|banc d|comparison|bestenliste|getest|panel|\?|candidat|kandidat|numbers for",
    re.IGNORECASE,
)
_COMPARES: Final = re.compile(r"comparison|vergleich|vergelijk|comparatif|confronto|por[oó]wnan", re.IGNORECASE)
"""A comparison, which within one series is its maker's."""
_MODEL: Final = re.compile(
    r"\b(?:modell?[oe]?|mod\.|typ)\s*:?\s+[\"“„]?(?P<model>[\w&'-]+(?:[ -][\w-]{1,12}){0,2})[\"”“]?", re.IGNORECASE
)
_SERIES: Final = re.compile(
    r"\b(?:[Ss]erie|[Ss]érie|[Gg]amme|[Ss]eries|[Ll]inea)\s+(?P<after>[A-ZÀ-ÞĄĆĘŁŃŚŹŻ]\w+)|"
    r"[‘“\"]?\b(?P<before>[A-ZÀ-ÞĄĆĘŁŃŚŹŻ][\w-]+?)[’”\"]?(?: {1,2}|-)(?:[Rr]ange|[Ss]eries?|SERIES?|RANGE|[Rr]eihe)\b",
)
_NO_TITLE: Final = re.compile(
    r">|»\s+.*»|^(?:Home|Loudspeakers|Basket.*)$|^\S+_\S+$|\.(?:pdf|docx?|txt|html?|xlsx?)$|^[^/]+(?: / [^/]+){2,}$|"
    r"^[^|]{2,12}(?: \| [^|]{2,16}){2,}$|^(?:[Aa]rt(?:ikel)?\.?-?[Nn]r|[Ii]tem ?#|SKU|EAN|[Rr][ée]f\.)|"
    r"\b\d{1,2}:\d\d\b(?: ?[AP]M)?$|^#[\w-]+(?: [—–-]|$)|^Autor:"
)
"""A trail of crumbs, a button, the name of a file."""
_AT_EDGE: Final = re.compile(
    r"\s{2,}(?:[Rr][ée]f\.|Art\.|[Ss]\.|[Pp]\.|[Pp][aá]g|[Pp]age|Seite|[Ss]trona|[Ss]tr\.|\d{1,3}$).*$"
)
"""The number of a page or of an article at the edge of a heading's line."""
_TAGGED: Final = re.compile(
    r"^(?:\[[^\]\d]{1,16}\]\s+|(?:temat|oggetto|asunto|objet|subject|re|fwd?|aw|odp|r) ?: +)+(?=[^\W\d_])",
    re.IGNORECASE,
)
"""What stands before the subject of a thread or of a message: '[For sale]', 'Re:'."""
_SUBJECT: Final = re.compile(
    r"^(?:Thema|Topic|Sujet|Betreff|Temat|Onderwerp|Asunto|Oggetto|Titel|Thread)\s?:\s+(?P<what>[^\W\d_][^?!,(–—:\n]{2,40}?)"
    r"\s*(?:[?!,(–—:].*)?$"
)
"""The subject of a thread that somebody names."""
_SHOP: Final = re.compile(
    r"\bsku\b|\bin stock\b|\bused gear\b|\ben stock\b|\bauf lager\b|\bop voorraad\b|\bdisponibil|\bna magazynie\b|"
    r"\bean\b|\bfree shipping\b|add to (?:cart|basket)|in den warenkorb|ajouter au panier|\bwas:? [€£$]",
)
"""Words of a shop's page, whose first line is the shop's name."""
_BEHIND: Final = re.compile(r"\b(?:[Ss]erie|SERIE|[Ss]érie|[Gg]amme|[Ll]inea)\s+([A-ZÀ-ÞĄĆĘŁŃŚŹŻ]\w+)")
_OF_MAKER: Final = re.compile(
    r"(?:\b(?:by|chez|firmy|marki|der Firma|de la marque|[Mm]arque) |\b(?:[Bb]rand|[Mm]ar[ck]a|[Mm]arke|[Mm]erk)\s?: ?)"
    r"(?P<maker>[^\W\d_a-zß-ÿąćęłńśźż][\w'’&-]*(?: [^\W\d_a-zß-ÿąćęłńśźż&][\w'’-]*| &)*)(?=$|\s[–—-]\s|\s{2,}|[,;(])"
)
_MOST: Final = 4
_LONGEST_TITLE: Final = 10
"""How many words a title has at most; tried, no source."""
_TRAILED: Final = 12
"""Within how many lines a name stands under the way to its page; tried, no source."""
_SENTENCES: Final = 6
"""How many lines of running text may name a loudspeaker."""
PLACED: Final = "nothing but its place tells that"
"""The flag of a name that is asked for, or given, before it is stored."""
TITLE_TOLD: Final = "told by where it stands in the heading"
"""The flag of a name that the heading tells."""


@dataclass(frozen=True, slots=True)
class TitleNames:
    """Columns that a title tells, whether where they part is a guess, and which of them only their place tells."""

    columns: dict[str, str]
    guessed: bool = False
    placed: frozenset[str] = frozenset()


def title_lines(lines: Sequence[Line]) -> list[str]:
    """Return the lines above the first figure or label, without such as 'Specification'."""
    found: list[str] = []
    crumbs: list[str] = []
    for line in lines:
        text = _TAGGED.sub("", _AT_EDGE.sub("", without_furniture(line.text.strip()))).strip(" *•#>■►[]")
        if not line.cells:
            continue
        if subject := _SUBJECT.match(line.text.strip()):
            return [subject["what"].strip()]
        led = bare_name(line.cells[0].text)
        if (
            (label(line.cells[0]) and led == line.cells[0].text)
            or (":" in text and len(found) > 0)
            or len(found) == _MOST
        ):
            break
        if len(text.split()) > _LONGEST_TITLE or re.search(r"[.!?]$", text):
            break
        if not SECTION.match(folded(text)) and not _NO_TITLE.search(text) and not describes_only(text):
            found.append(text)
        elif len(trail := re.split(r"\s+[>»/]\s+", text)) > 2:
            crumbs = crumbs or [crumb for crumb in trail if crumb != "Home"]
    return found or crumbs


def names(lines: Sequence[Line], maker: str | None = None, model: str | None = None) -> TitleNames:
    """Return maker, series and model as far as the title of one loudspeaker and the text under it tell them apart.

    `maker` and `model` are known otherwise, said by a person or under a label.
    """
    titles = title_lines(lines)
    text = "\n".join(line.text for line in lines)
    if maker is not None and (left := _beside(maker, titles)):
        return left
    if maker is None and model is not None and (above := _above(model, titles, text)):
        return above
    if maker is None and (signs := _signed(titles, text)):
        return signs
    trailed = _of_trail(lines)
    told = trailed or (TitleNames({}) if _TEST.search("\n".join(titles)) else _titled(titles, text))
    told = told if told.columns else _in_sentences(lines)
    found, placed = dict(told.columns), set(told.placed)
    signed = signed_by(text)
    if signed and "model" in found and (told.guessed or "maker" not in found or "maker" in placed):
        whole = f"{found.get('maker', '')} {found['model']}".strip()
        found, told = found | {"maker": signed, "model": without_maker(signed, whole)}, TitleNames({})
        placed -= {"maker"}
    if "maker" in found:
        found["maker"] = without_legal_form(found["maker"])
        if "model" in found:
            found["model"] = without_maker(found["maker"], found["model"])
    series = _series([text])
    if series and found.get("model", "").casefold().startswith(f"{series.casefold()} "):
        found["series"] = series
    return TitleNames(found, told.guessed, frozenset(placed))


def _of_trail(lines: Sequence[Line]) -> TitleNames | None:
    """Maker and model where the way to a page ends in names that a line below it repeats."""
    trail: list[str] = []
    for line in [one for one in lines if one.cells][:_TRAILED]:
        steps = re.split(r"\s+[>»›＞/]\s+", line.text.strip())
        if len(steps) > 2 and not trail:
            trail = [step for step in steps if step]
            continue
        heading = bare_name(re.split(r"\s[–—]\s|\s\(", line.text.strip())[0])
        for maker in trail[-2:]:
            rest = without_maker(maker, heading)
            own = re.search(r"\w", rest) and not describes_only(rest) and not is_furniture(maker)
            if rest != heading and own and (maker == trail[-1] or folded(rest) == folded(bare_name(trail[-1]))):
                return TitleNames({"maker": maker, "model": rest})
    return None


def _signed(titles: Sequence[str], text: str) -> TitleNames | None:
    """Maker and model where the foot of a page names a piece of its title, and another line is the model's."""
    signed = signed_by(text)
    owned = [one for one in titles if signed and folded(signed) in folded(one)]
    others = [part for one in titles if one not in owned for part in title_parts(one)]
    if not signed or not owned or not others or folded(others[0]) == folded(signed):
        return None
    model = without_maker(signed, others[0])
    placed = frozenset(() if signs_as_model(model, titles) else {"model"})
    return TitleNames({"maker": without_legal_form(signed), "model": model}, placed=placed)


def _beside(maker: str, titles: Sequence[str]) -> TitleNames | None:
    """What a title leaves for the model once its maker is known; None where that is nothing or too much."""
    parts = list(dict.fromkeys(part for one in titles for part in title_parts(one)))
    left = [without_maker(maker, part) for part in parts if folded(part) != folded(without_legal_form(maker))]
    left = [part for part in left if not _SERIES.search(part) and part.casefold() != maker.casefold()]
    if not left or (len(left) > 1 and len(left) == len(parts)):
        return None
    placed = frozenset({"model"} if len(left) > 1 and not signs_as_model(left[0], titles) else ())
    return TitleNames({"maker": maker, "model": left[0]}, placed=placed)


def _above(model: str, titles: Sequence[str], text: str) -> TitleNames | None:
    """The maker that a title names alone, where the model is known; None where it says more."""
    if _TEST.search("\n".join(titles)):
        return None
    parts = list(dict.fromkeys(part for one in titles for part in title_parts(one)))
    left = [part for part in parts if folded(part) not in folded(model) and folded(model) not in folded(part)]
    if len(left) != 1 or _SERIES.search(left[0]):
        return None
    placed = frozenset(() if signs_as_maker(left[0], titles, text) else {"maker"})
    return TitleNames({"maker": without_legal_form(left[0])}, placed=placed)


def _of_a_series(titles: Sequence[str], text: str) -> TitleNames | None:
    """Maker, series and model where a line has the last two with the word between them, and the maker stands above."""
    for place, line in enumerate(titles):
        if found := series_and_model(line):
            above = next((part for one in titles[:place] for part in title_parts(one)), None)
            placed = frozenset(() if above is None or signs_as_maker(above, titles, text) else {"maker"})
            return TitleNames(found | ({"maker": above} if above else {}), placed=placed)
    return None


def _titled(titles: Sequence[str], text: str) -> TitleNames:
    """What the lines of a title tell, by the first way of naming that fits."""
    whole = "\n".join(titles)
    if ranged := _of_a_series(titles, text):
        return ranged
    quoted = next((match for one in titles if (match := QUOTED.match(one))), None)
    if quoted and describes_only(quoted["maker"]):
        above = next((part for one in titles[:1] if one not in quoted.string for part in title_parts(one)), None)
        placed = frozenset({"maker"} if above and not signs_as_maker(above, titles, text) else ())
        return TitleNames(({"maker": above} if above else {}) | {"model": quoted["model"].strip()}, placed=placed)
    if quoted and is_name(_cell(bare_name(quoted["maker"]))):
        maker = re.sub(r"^(?:The|Die|Der)\s|\s+(?:modell?[oe]?|typ|type)\b.*$", "", bare_name(quoted["maker"]))
        return TitleNames({"maker": maker, "model": quoted["model"].strip()} if maker else {})
    byline = re.search(r"^(?P<model>[^\n]+?)\s*(?:\n\s*|\s+)[Bb][Yy] (?P<maker>[^\n]{2,40})$", whole, re.MULTILINE)
    if byline and not re.search(r"post|writ|review|measur|test", byline["model"], re.IGNORECASE):
        return TitleNames({"maker": byline["maker"].strip(), "model": _bare(byline["model"])})
    if said := next((apart for one in titles if (apart := said_of(one))), None):
        placed = frozenset(() if signs_as_maker(said[0], titles, text) else {"maker", "model"})
        return TitleNames({"maker": said[0], "model": said[1]}, placed=placed)
    parts = list(dict.fromkeys(part for one in titles for part in title_parts(one)))
    named = next((match["model"] for one in titles if (match := _MODEL.search(one))), None)
    if named and parts:
        placed = frozenset(() if signs_as_maker(parts[0], titles, text) else {"maker"})
        return (
            TitleNames({"maker": parts[0], "model": named}, placed=placed)
            if named not in parts[0]
            else TitleNames({"model": named})
        )
    alone = alone_in_prose(text)
    models = [part for part in parts[1:] if not _SERIES.search(part)]
    if parts and not is_house(parts[0].split()) and (housed := parted(parts[0], alone)) and is_house(housed[0].split()):
        return TitleNames({"maker": housed[0], "model": housed[1]}, placed=_doubted(housed[1], titles))
    if len(parts) > 1 and (split := parted(parts[1])) and (_SHOP.search(folded(text)) or is_house(split[0].split())):
        # the name of a shop stands above
        return TitleNames({"maker": split[0], "model": split[1]}, split[2], _doubted(split[1], titles))
    if models and parts[0] != models[0]:
        ordered = in_order(parts[0], models[0], titles, text)
        return TitleNames({"maker": ordered.maker, "model": ordered.model}, placed=ordered.placed)
    if not parts:
        return TitleNames({})
    if split := parted(parts[0], alone):
        return TitleNames({"maker": split[0], "model": split[1]}, split[2], _doubted(split[1], titles))
    if alone and f"{alone[0]} ".split()[0] not in parts[0].split() and len(titles) == 1:
        placed = frozenset(() if signs_as_maker(parts[0], titles, text) else {"maker"})
        return TitleNames({"maker": parts[0], "model": alone[0]}, placed=placed)
    if is_house(parts[0].split()):
        return TitleNames({"maker": parts[0]} | ({"model": alone[0]} if alone else {}))
    return TitleNames({"model": _bare(parts[0])})


def _doubted(model: str, titles: Sequence[str]) -> frozenset[str]:
    """Whether nothing but its place behind the maker tells that a piece is the model's name, as columns."""
    return frozenset(() if signs_as_model(model, titles) else {"model"})


def _in_sentences(lines: Sequence[Line]) -> TitleNames:
    """What the first lines say of a name in a sentence, where no title stands."""
    said = [line.text for line in lines if line.cells][:_SENTENCES]
    found = next((apart for text in said if (apart := said_of(text))), None) or of_code(said)
    if not found and said and (opened := parted(PART.split(said[0])[0])) and is_house(opened[0].split()):
        found = opened[:2]
    if found:
        return TitleNames({"maker": found[0], "model": found[1]}, placed=frozenset(("maker", "model")))
    found = next((apart for text in said if (apart := run_of_names(text))), None)
    both = frozenset(("maker", "model"))
    return TitleNames({"maker": found[0], "model": found[1]}, guessed=True, placed=both) if found else TitleNames({})


def several(names: Sequence[str], title: Sequence[Cell], header: str) -> list[TitleNames]:
    """Return what several loudspeakers are called, by the title above them and by what their names share."""
    told, placed = common(title, header)
    maker, series = shared_lead(names)
    if (
        ("maker" not in told or "maker" in placed)
        and not maker
        and (coded := of_code([*(cell.text for cell in title), *names]))
    ):
        told, placed = told | {"maker": coded[0]}, placed | {"maker"}
    strangers = len({name.split()[0] for name in names}) == len(names)
    if strangers and not (maker or series) and placed and all(len(name.split()) > 1 and parted(name) for name in names):
        # each is called by its own maker
        told, placed = {}, frozenset()
    if maker and is_house(maker.split()) and folded(maker) != folded(told.get("maker", "")):
        # who lists them is no maker of what has another maker's name
        told, placed = {name: told[name] for name in told if name != "maker"}, frozenset()
    makers = {"maker": maker} if maker and "maker" not in told else {}
    lead = {"series": series} if series and "series" not in told else {}
    found = []
    for name in names:
        own = told | makers | lead
        if quoted := QUOTED.match(name):
            found.append(TitleNames(lead | {"maker": quoted["maker"].strip(), "model": quoted["model"].strip()}))
            continue
        if "maker" in own:
            model = without_maker(own["maker"], bare_name(name))
            found.append(TitleNames(own | {"model": model}, placed=placed if "maker" in told else frozenset()))
        elif apart := parted(name) if not series else None:
            found.append(TitleNames(own | {"maker": apart[0], "model": apart[1]}, apart[2]))
        else:
            found.append(TitleNames(own))
    return found


def common(title: Sequence[Cell], header: str) -> tuple[dict[str, str], frozenset[str]]:
    """Return maker and series that the title above several loudspeakers tells, and which of them by its place alone."""
    texts = [_TAGGED.sub("", cell.text.replace("\u3000", "  ").strip(" *•#>■")) for cell in title]
    compared = _TEST.search(" ".join(texts)) and not (_COMPARES.search(" ".join(texts)) and _series(texts))
    if not texts or compared or re.search(r"\b(?:mak|mark|merk|marqu)", header.casefold()):
        return {}, frozenset()
    found: dict[str, str] = {}
    if quoted := QUOTED.match(texts[0]):
        return {"maker": quoted["maker"].strip(), "series": quoted["model"].strip()}, frozenset()
    if series := _series(texts):
        found["series"] = series
    if said := next((match["maker"] for text in texts if (match := _OF_MAKER.search(text))), None):
        return found | {"maker": without_legal_form(said)}, frozenset()
    makers = [part for text in texts for part in title_parts(_SERIES.sub("", _BEHIND.sub("", text)))]
    if makers:
        found["maker"] = without_legal_form(makers[0])
    sure = bool(makers) and signs_as_maker(makers[0], texts, "\n".join(texts))
    return found, frozenset(() if sure or not makers else {"maker"})


def _series(texts: Sequence[str]) -> str | None:
    """The one series that a text names; what stands behind the word tells before what stands before it."""
    found = [match for text in texts for match in _SERIES.finditer(text)]
    # 'LAVADERO Serie Tendal' names the maker before the word
    behind = {match[1] for text in texts for match in _BEHIND.finditer(text)}
    named = behind or {match["after"] or match["before"] for match in found}
    return named.pop() if len({name.casefold() for name in named}) == 1 else None


def _bare(text: str) -> str:
    return bare_name(text.strip(' *"“”„'))


def _cell(text: str) -> Cell:
    return Cell(text.strip(), 0, 0)
