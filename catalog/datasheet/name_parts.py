"""A loudspeaker's name to its parts: what only describes it, where the maker's name ends, and who signs the text."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final

from triptych.catalog.datasheet.folding import folded
from triptych.catalog.datasheet.sheet_words import EACH, PAIR, topic_of

_ADJECTIVE: Final = (
    r"floor[ -]?standing|book-?shelf|cent(?:er|re)|central\w*|channel|stand-?mount\w*|surround|main|compact|active|"
    r"passive|on-?wall|tower|home|theat(?:er|re)|stereo|hi-?fi|(?:\d(?:[.,]5)?|two|three|zwei|drei)-?(?:way|wege)|"
    r"new|the|a|an|pair|of"
)
_NOUN: Final = (
    r"(?:loud)?speakers?|floorstanders?|bookshelf|standmounts?|monitors?|\w*lautsprecher|standbox\w*|regalbox\w*|"
    r"\w*luidsprekers?|boekenplank|vloerstaand|enceintes?|altavo(?:z|ces)|diffusor[ei](?: acustic\w+)?|"
    r"kolumn\w*|glosnik\w*|"
    r"cent(?:er|re)[ -]channel|channel|podstawkow\w*|podlogow\w*|owner.?s|manual|guide|"
    r"handbook|datasheet|datenblatt|(?:specification|data|spec) sheet|(?:user.?s? )manual|user.?s?|bedienungsanleitung|"
    r"technische (?:daten|gegevens)|technical data|fiche technique|"
    r"scheda tecnica|ficha tecnica|karta katalogowa|standlautsprecher|systems?|(?<=standing )towers?"
)
_TAIL: Final = re.compile(rf"[\s,–—-]+(?:(?:{_ADJECTIVE})[\s-]+)*(?:{_NOUN})(?![\w'])")
_LEAD: Final = re.compile(
    r"(?:paire d')?(?:enceintes?|caja acustica|altavo(?:z|ces)|diffusor[ei]|casse acustiche|glosnik|kolumn[ay]|"
    r"luidsprekers?|\w*lautsprecher|bedienungsanleitung|in prova|im test|banc d'essai|"
    r"caracteristiques techniques|technische daten|specifications?|"
    r"scheda tecnica|ficha tecnica)"
    r"(?: (?:central\w*|centro|colonnes?|da \w+|de (?:estanteria|suelo)|podlogow\w*|podstawkow\w*|efektow\w*))*"
    r"[\s:–—-]+"
)
_FINISH: Final = (
    r"satin|gloss|matte?|piano|oiled|silk|real|high|finish|ash|maple|mahogany|seidenmatt|hochglanz|walnut|black|white|oak|cherry|rosewood|nussbaum|schwarz|weiss|eiche|noir|blanc|noyer|nero|bianco|noce|negro|"
    r"blanco|nogal|zwart|wit|eiken|czarny|bialy|dab|orzech"
)
_FINISH_BEHIND: Final = re.compile(rf"(?:(?<=center)|(?<=centre)|(?<= \w\d)|(?<=\d\d))(?: (?:{_FINISH}))+$")
_PURE: Final = re.compile(rf"(?:(?:{_ADJECTIVE}|{_NOUN}|{_FINISH}|sold|in|pairs?|cabinet|for)[\s,/-]*)+")
_ROLE_BEHIND: Final = re.compile(
    r"(?<=\S \S) (?:cent(?:re|er|rale|raal|ral)|centraln\w+|efektow\w+|torre|tower|colonna|colonne|zuil|speakers?|"
    r"estanter[ií]a|columna|biblio(?:th[eè]que)?|murale?)$"
)
_EDITION: Final = re.compile(
    r"\s+(?:[Rr]ev|[Vv]er|[Vv]ersion|[Ss]tand|[Ii]ssue|[Ee]d|V)\.? ?\d[\d./ -]*$|\s+(?:No|Nr)\. \S+(?:\s+\([^()]*\))?$"
)
"""Which edition of a sheet it is."""
_THE: Final = re.compile(
    r"^(?:The|THE|the|Die|die|Der|der|Das|das|Le|le|La|la|Les|les|El|el|Il|il|De|de|Het|het) (?=\S+ \S)"
)
_ARTICLE: Final = re.compile(r"^(?:The|Der|Die|Das|De|Het) (?=[^\W\d_a-zß-ÿąćęłńśźż]\w{3,}$)")
_RUN: Final = re.compile(
    r"(?:[^\W\d_a-zß-ÿąćęłńśźż][\w'’&-]*|&)(?: (?:[^\W\d_a-zß-ÿąćęłńśźż][\w'’-]*|&|y|e|de|di|du|d'\w+))*"
    r"(?: \d+(?:\.\d)?(?![\w-]|[.,]\d)| [\"“„«»‘][^\"”“»«’]{2,30}[\"”“»«’])?"
)
_OWN: Final = re.compile(
    r"\b(?:[Mm]y|[Tt]he|[Mm]es|[Mm]a|[Mm]on|[Mm]ijn(?: oude)?|[Mm]eine?[nr]?|[Dd]el|[Mm]oje|(?:le )?mie|central(?:ny|"
    r"e)?|centro|"
    r"kolumny|enceintes) "
    r"(?P<names>[^\W\d_a-zß-ÿąćęłńśźż][\w'’-]+(?: [^\W\d_a-zß-ÿąćęłńśźż][\w'’-]+){1,2}(?: [A-Z]?-?\d{1,3}\w?| [A-Z])?|"
    r"[^\W\d_a-zß-ÿąćęłńśźż][\w'’-]+ (?:\d{3,4}[A-Z]?|\d{2}[A-Z]))(?![\w'’-])"
)
"""What somebody calls his own, or offers."""
_SHOP: Final = re.compile(
    r"new|neu|hot|sale|vintage|verkaufe?|vends|vendo|vendu|sell|selling|fs|wts|re|stuck|used|got|hi|"
    r"mam|ho|tengo"
)
"""What opens an advertisement."""
_HOUSE: Final = (
    r"(?:audio|acoustics?|acoustique|ac[uú]stica|akustik|akustyka|akoestiek|sound(?: works)?|geluid|hi-?fi|"
    r"electronics|elettroacustica|electroacoustics?|electroacoustic|acoustic laboratory|laborator(?:y|ies)|"
    r"loudspeaker(?: co)?\.?|diffusori|denki|onkyo)"
)
"""How makers' names end."""
_HOUSED: Final = re.compile(rf"^(?P<maker>\S+(?: \S+){{0,2}}? {_HOUSE}) (?P<model>\S.*)$", re.IGNORECASE)
QUOTED: Final = re.compile(r"^(?P<maker>[^\"“„«»‘]{3,40}?)\s*[\"“„«»‘](?P<model>[^\"”“»«’]{1,40})[\"”“»«’]")
"""A maker, and a model in quotes."""
_SHOUTED: Final = re.compile(
    r"^(?P<maker>(?:[^\W\d_a-zß-ÿąćęłńśźż]{3,}|&)(?: (?:[^\W\d_a-zß-ÿąćęłńśźż]{2,}|[&EY]))*)"
    r" (?P<model>[^\W\d_]+[ß-ÿa-zł].*)$"
)
_LINKED: Final = re.compile(
    r"^(?P<maker>[^\W\d_][\w']* (?:(?:&|and|und|et|y|e|en|de|di|del|de la|aux|du|des|van) |d')[^\W\d_]+) "
    r"(?P<model>\S.*)$"
)
_LEGAL: Final = r"(?:ltd|limited|gmbh|s\.?r\.?l|sarl|inc|llc|b\.?v|ag|co|corp|s\.?p\.?a|s\.?a\.?s?|sp\. z o\.o)\b\.?"
_NAMED: Final = r"(?P<name>[^\W\d_a-zß-ÿąćęłńśźż][\w'’-]*(?: (?:& |and )?[^\W\d_a-zß-ÿąćęłńśźż][\w'’-]*){0,3})"
_SIGNED: Final = re.compile(
    rf"(?:©|\(c\)|\b[Cc]opyright\b)\s*(?:\d{{4}}(?:\s*[-–]\s*\d{{4}})?)?,?\s*(?:by )?{_NAMED}|"
    r"\b(?:made|built|designed|manufactured|produced|assembled|hergestellt|gebaut|fabriqu\w+|prodott\w+|gemaakt|"
    rf"fabricad\w+)\b[^.\n]{{0,40}}? (?:by|von|par|da|door|por) {_NAMED.replace('name', 'built')}|"
    rf"^{_NAMED.replace('name', 'house')}(?:,| [–—-]) (?:fabricants?|makers?|manufacturers?|hersteller|fabricantes?|"
    r"costruttori|fabbrica|fabrikant|producent|lautsprecherbau|luidsprekerbouw)\b",
    re.MULTILINE,
)
_TAIL_WORD: Final = re.compile(
    r"\d+(?:\.\d)?|\d+\w*|(?-i:[A-Z]|[IVX]+)|mk ?(?:\d|[ivx]+)|\w?\d+\w*|cent(?:er|re|ro|rale|ral)|tower|"
    r"surround|mini|one|two|three|uno|zwo|due|dos|(?-i:SE|LE|XL|GT|LX|LCR)",
    re.IGNORECASE,
)
_LETTERED: Final = re.compile(r"[^\W\d_]\d")
_CODE: Final = re.compile(r"[A-Z]{1,4}-?[A-Z]?\d{1,4}[A-Z]{0,3}")
_MOST_BEFORE_CODE: Final = 3
"""How many words stand before a code where the last of them names the series; tried, no source."""
GUESSED: Final = "nothing but the order of its words tells where the maker's name ends"
"""The flag of a name that was parted without further ground."""


def bare_name(text: str) -> str:
    """Return a name without the words before and behind it that only say what kind of thing it is.

    >>> bare_name("Ravine C2 3-Way Centre Channel - Walnut"), bare_name("Enceinte centrale Martinet")
    ('Ravine C2', 'Martinet')
    """
    bare = re.sub(r"\s*\([^)]*\)|^\d ?[x×] (?=[^\W\d_])", "", text).strip(" *")
    bare = _EDITION.sub("", bare)
    bare = bare[1:-1].strip() if re.fullmatch(r"[\"“„][^\"“”„]*[\"”“]", bare) else bare
    small = folded(bare)
    if len(small) != len(bare):
        return bare
    if lead := _LEAD.match(small):
        rest = bare[lead.end() :].strip(" -–—:")
        bare, small = (rest, folded(rest)) if rest else (bare, small)
    tail = _TAIL.search(small) if len(small) == len(bare) else None
    bare = (bare[: tail.start()].rstrip(" ,–—-") if tail and tail.start() else bare) or bare
    finish = _FINISH_BEHIND.search(small) if len(small := folded(bare)) == len(bare) else None
    bare = bare[: finish.start()] if finish else bare
    return _ROLE_BEHIND.sub("", _ARTICLE.sub("", _THE.sub("", bare)))


def describes_only(text: str) -> bool:
    """Return whether a line only says what kind of loudspeaker it is.

    >>> describes_only("Compact two-way loudspeaker"), describes_only("Crumb Centre")
    (True, False)
    """
    return _PURE.fullmatch(folded(text).strip(" .")) is not None


_OF_A_SERIES: Final = re.compile(
    r"^(?P<series>[A-ZÀ-ÞĄĆĘŁŃŚŹŻ][\w'’-]+) (?:[Ss]eries|SERIES|[Rr]ange|RANGE|[Cc]ollection|[Ss]erie|[Rr]eihe) "
    r"(?P<model>(?:[A-ZÀ-ÞĄĆĘŁŃŚŹŻ]{1,4}[ -]?)?\d[\w./-]*|[A-ZÀ-ÞĄĆĘŁŃŚŹŻ][\w./-]*)(?P<what>(?: [\w-]+)*)$"
)
"""A line that names a series and then the model: 'Marrow Series M5 Floorstanding'."""


def series_and_model(line: str) -> dict[str, str]:
    """Return the series and the model of a line that has the word between them; nothing of another line.

    >>> series_and_model("Marrow Series M5 Floorstanding"), series_and_model("Marrow Series")
    ({'series': 'Marrow', 'model': 'M5'}, {})
    """
    match = _OF_A_SERIES.match(line.strip())
    plain = match is not None and (not match["what"] or describes_only(match["what"]))
    if match is None or not plain or describes_only(match["model"]):
        return {}
    return {"series": match["series"], "model": match["model"]}


def without_form(maker: str) -> str:
    """Return a name without the form of the company alone.

    >>> without_form("Quillmark Electronics Co., Ltd")
    'Quillmark Electronics'
    """
    return re.sub(rf"(?:[\s,]+{_LEGAL})+$", "", maker.strip(" ."), flags=re.IGNORECASE)


def without_legal_form(maker: str) -> str:
    """Return a maker's name without the form of the company and the word for what it makes.

    >>> without_legal_form("FERNCLIFF AUDIO LTD"), without_legal_form("Quillmark Loudspeakers")
    ('FERNCLIFF AUDIO', 'Quillmark')
    """
    bare = without_form(maker)
    bare = re.sub(
        r"(?<=\w)\s+(?:loudspeakers?|electronics|lautsprecher(?:bau)?|enceintes|diffusori|luidsprekers|"
        r"zak[lł]ad(?: g[lł]o[sś]nikowy)?)$",
        "",
        bare,
        flags=re.I,
    )
    return bare.strip(" ,.")


def signed_by(text: str) -> str | None:
    r"""Return the one maker that the foot of a text names.

    >>> signed_by("Wren C\n© 2025 Garsdale Acoustics Ltd. All rights reserved.")
    'Garsdale Acoustics'
    """
    found = {without_legal_form(match["name"] or match["built"] or match["house"]) for match in _SIGNED.finditer(text)}
    found = {name for name in found if folded(name) not in ("all", "all rights", "the", "hand", "us", "")}
    return found.pop() if len(found) == 1 else None


def alone_in_prose(text: str) -> list[str]:
    """Return names that running text says without their maker, the one said most often first.

    >>> alone_in_prose("The Ravine C2 is the centre of the range. A Ravine C2 is small.")
    ['Ravine C2']
    """
    name = r"(?P<name>[^\W\d_a-zß-ÿąćęłńśźż][\w'’-]*(?: (?:[^\W\d_a-zß-ÿąćęłńśźż][\w'’-]*|\d+\w*))+)"
    said = Counter(
        bare_name(match["name"])
        for match in re.finditer(
            rf"(?:\b(?:[Tt]he|[Aa]|[Nn]ew|[Mm]y|[Dd]ie|[Dd]er|[Dd]as|[Ll]e|[Ll]a|[Ee]l|[Ii]l)(?: new| neue)?) {name}",
            text,
        )
    )
    return [one for one, _ in said.most_common() if " " in one]


def without_maker(maker: str, name: str) -> str:
    """Return a name without the maker that it opens with, in full or by the first word.

    >>> without_maker("HOLMA SOUND", "Holma Fyr 1"), without_maker("Wren", "Robin 2")
    ('Fyr 1', 'Robin 2')
    """
    house = re.sub(rf" {_HOUSE}$", "", maker, flags=re.IGNORECASE)
    for lead in (maker, house):
        if name.casefold().startswith(f"{lead.casefold()} "):
            return name[len(lead) :].strip()
    return name


def parted(name: str, alone: Iterable[str] = ()) -> tuple[str, str, bool] | None:
    """Return the maker and the model that one name holds, and whether that is a guess; None where nothing tells.

    Parameters
    ----------
    name : str
        As it stands in a title or at the head of a column.
    alone : iterable of str
        What the text calls a loudspeaker elsewhere, without its maker.

    Examples
    --------
    >>> parted("Cinder & Loam Trug 2"), parted("KURAMOTO Obi C"), parted("Nettle Forge Anvil 30 C")
    (('Cinder & Loam', 'Trug 2', False), ('KURAMOTO', 'Obi C', False), ('Nettle Forge', 'Anvil 30 C', True))
    >>> parted("Puchacz Dziupla 2"), parted("Wren C1")
    (('Puchacz', 'Dziupla 2', True), None)
    """
    if match := QUOTED.match(name):
        return match["maker"].strip(), match["model"].strip(), False
    name = bare_name(name)
    for one in alone:
        if name.endswith(f" {one}"):
            return name[: -len(one)].strip(), one, False
    for pattern in (_HOUSED, _SHOUTED, _LINKED):
        match = pattern.match(name)
        if match and is_house(name.split()):
            continue
        tail = match["model"].split()[:1] if match and pattern is _LINKED else []
        if match and (not _only_tail(tail) or _LETTERED.match(tail[0])):
            return match["maker"].strip(), match["model"].strip(), False
    return _by_words(name.split())


def _by_words(words: Sequence[str]) -> tuple[str, str, bool] | None:
    core = next((place for place, word in enumerate(words) if _TAIL_WORD.fullmatch(word)), len(words))
    code = next((place for place, word in enumerate(words) if place and _CODE.fullmatch(word)), None)
    if code is not None:
        letters = re.match(r"[A-Z]+", words[code])
        initials = "".join(word[0].upper() for word in words[:code])
        if (
            letters
            and (code == 1 or len(letters[0]) > 1)
            and (initials.startswith(letters[0]) or letters[0].startswith(initials))
        ):
            # a code of the maker's own letters: 'Bamboo Ladder BL-W602'
            return " ".join(words[:code]), " ".join(words[code:]), False
    if core == len(words) and code == core - 1 == _MOST_BEFORE_CODE:
        # 'Cedar Lantern Truss LCR-60'
        core = code
    if core == 1 and len(words) > 2 and words[0].isalpha() and not words[1][0].isdigit():
        # 'Uhlenstieg Center 7'
        return words[0], " ".join(words[1:]), True
    plain = all(word[0].isupper() and word.isalpha() and len(word) > 1 for word in words[:core])
    if core in (2, 3) and plain and not all(word.isupper() for word in words[:core]) and not is_house(words[:core]):
        return " ".join(words[: core - 1]), " ".join(words[core - 1 :]), True
    return None


def is_house(words: Sequence[str]) -> bool:
    """Return whether a name ends as makers' names do: 'Wharfside Audio'."""
    return len(words) > 1 and re.search(rf"(?<=\S ){_HOUSE}$", " ".join(words), re.IGNORECASE) is not None


def ends_as_model(word: str) -> bool:
    """Return whether a model's name may end in a word: a number, a letter, a code, a role."""
    return _TAIL_WORD.fullmatch(word) is not None


def run_of_names(line: str) -> tuple[str, str] | None:
    """Return maker and model from the first run of names in a sentence that ends as a model does.

    >>> run_of_names("Got the tape measure out on my Tallow & Wren Osier C since then")
    ('Tallow & Wren', 'Osier C')
    >>> run_of_names("I paid for it in May 2019") is None
    True
    """
    for match in _RUN.finditer(line):
        words = match[0].split()
        while words and (
            _SHOP.fullmatch(folded(words[0])) or PAIR.search(folded(words[0])) or EACH.search(folded(words[0]))
        ):
            words = words[1:]
        run = " ".join(words)
        if len(words) < 2 or re.fullmatch(r"(?:19|20)\d\d", words[-1]) or topic_of(folded(words[0])):
            continue
        if line[match.end() : match.end() + 1] == "." and len(words[-1]) == 1:
            # 'S.r.l.' and other initials
            continue
        coded = _CODE.fullmatch(words[-1]) is not None
        if QUOTED.match(run) or coded or (len(words) > 2 and _TAIL_WORD.fullmatch(words[-1])):
            apart = parted(run)
            if apart and (coded is False or not apart[2]):
                return apart[:2]
    return _mentioned(line)


def _mentioned(line: str) -> tuple[str, str] | None:
    """Maker and model of what somebody says is his, or offers: two or three names behind such a word."""
    for match in _OWN.finditer(line):
        words = match["names"].split()
        if any(topic_of(folded(word)) or describes_only(word) or _SHOP.fullmatch(folded(word)) for word in words):
            continue
        if _only_tail(words[1:]) and not words[-1][0].isdigit():
            # the model alone, as in 'the Withy Two'
            continue
        apart = parted(match["names"])
        return apart[:2] if apart else (" ".join(words[:-1]), words[-1])
    return None


def _only_tail(words: Sequence[str]) -> bool:
    return bool(words) and all(_TAIL_WORD.fullmatch(word) for word in words)


def shared_lead(names: Sequence[str]) -> tuple[str, str]:
    """Return the maker and the series that several names open with, as far as they have one.

    >>> shared_lead(["Old Toll Turnpike C", "Old Toll Turnpike B"]), shared_lead(["Garn 1", "Garn C"])
    (('Old Toll', 'Turnpike'), ('', 'Garn'))
    """
    split = [name.split() for name in names]
    lead = 0
    while all(len(words) > lead + 1 for words in split) and len({words[lead] for words in split}) == 1:
        lead += 1
    codes = all(_only_tail(words[lead:]) for words in split)
    if len(names) < 2 or lead == 0:
        return "", ""
    words = split[0][:lead]
    return (" ".join(words[:-1]), words[-1]) if codes else (" ".join(words), "") if lead > 1 else ("", "")
