"""What a web page shows around a loudspeaker: menus, baskets, buttons."""

from __future__ import annotations

import re
from typing import Final

from triptych.catalog.datasheet.folding import folded

_WORDS: Final = re.compile(
    r"(?:home(?:page)?|shop|store|search|(?:shopping )?(?:basket|cart|bag)|checkout|log ?-?in|log ?out|sign (?:in|up)|"
    r"register|(?:my )?account|wish ?list|favou?rites|menu|close|back|next|previous|share|print|remove(?: x)?|compare|"
    r"add to (?:basket|cart|bag|wish ?list|compare)|buy now|"
    r"skip to (?:main )?content|contact(?: us)?|about(?: us)?|support|"
    r"service|news(?:letter)?|stories|blog|dealers?|find a dealer|where to (?:hear|buy)|"
    r"loudspeakers|speakers|electronics|"
    r"products?|accessories|subwoofers|reviews|faq|downloads?|all sales final|free shipping.*|"
    r"stands|journal|brands|used gear|financing|headphones|turntables|amplifiers|cables|outlet|catalogue|catalog|about|"
    r"startseite|lautsprecher|elektronik|verstarker|kopfhorer|produkte|technik|handler(?:suche)?|uber uns|kontakt|"
    r"warenkorb|anmelden|registrieren|suche|merkzettel|"
    r"impressum|agb|datenschutz|zubehor|mein konto|in den warenkorb|"
    r"accueil|produits|boutique|panier|connexion|mon compte|rechercher?|revendeurs?|actualites|ajouter au panier|"
    r"enceintes|electroniques|qui sommes-nous|"
    r"prodotti|elettroniche|negozio|carrello|accedi|contatti|assistenza|diffusori|chi siamo|cerca|rivenditori|novita|"
    r"inicio|electronica|amplificadores|quienes somos|productos|tienda|carrito|acceder|contacto|buscar|altavoces|"
    r"distribuidores|"
    r"producten|versterkers|platenspelers|kabels|winkel|winkelwagen|winkelmand|zoeken|inloggen|luidsprekers|over ons|"
    r"bestellen|"
    r"wzmacniacze|strona glowna|produkty|sklep|koszyk|zaloguj(?: sie)?|szukaj|kolumny|o nas|opis|dane|opinie|pytania|"
    r"en|de|fr|es|it|nl|pl)"
    r"(?:\W*\(?\d+\)?(?: \w+)?\)?)?"
)
_CRUMBS: Final = re.compile(r"[^>»/|]+(?:\s*[>»]\s*|\s+/\s+)[^>»/|]+(?:\s*[>»]\s*|\s+/\s+)")
"""The way to a page: 'Home > Loudspeakers > Wren C'."""
_PIECES: Final = re.compile(r"\s*[|»>▾•·\t]\s*|\s+/\s+|[ \u00a0]{2,}|\]\s*\[")


def is_furniture(text: str) -> bool:
    """Return whether a line holds nothing but words of a menu or a button.

    >>> [is_furniture(text) for text in ("Shop | Support | About", "[Winkelwagen: 0 producten]", "Mesa Tower")]
    [True, True, False]
    """
    pieces = _pieces(text)
    return bool(pieces) and all(map(_is_word, pieces))


def without_furniture(text: str) -> str:
    """Return what a line says before a menu behind it.

    >>> without_furniture("Sandbank Audio   Products  Support  About us"), without_furniture("Home 5 | Walnut")
    ('Sandbank Audio', 'Home 5 | Walnut')
    """
    pieces = [] if _CRUMBS.match(text) else _pieces(text)
    shown = [piece for piece in pieces if not _is_word(piece)]
    if len(pieces) - len(shown) < 2:
        return text
    # a name stands before a menu, and never among its words
    return "   ".join(shown) if pieces[0] in shown else ""


def _pieces(text: str) -> list[str]:
    return [piece for part in _PIECES.split(text) if (piece := part.strip(" []★☆▾▸►*#:"))]


def _is_word(piece: str) -> bool:
    return _WORDS.fullmatch(folded(piece)) is not None
