"""The words of datasheets in six languages, folded: which topic a line is about, and what its words qualify."""

from __future__ import annotations

import re
from typing import Final

_TOPICS: Final[tuple[tuple[str, str], ...]] = (
    (
        "packing",
        r"(?:carton|shipping|packag|packing|boxed|verpack|versand|karton|emballage|colis|imballo|embalaje|"
        r"verpakking|\bdoos)\w*.*(?:dim|size|abmess|masse|afmet|medidas|[whbl] ?x)",
    ),
    (
        "load",
        r"recommended (?:impedance|load)|amplifier (?:impedance|load)|compatib|kompatib|suitable for|geeignet fur",
    ),
    (
        "amplifier",
        r"(?:amp|verstarker|amplificat|amplifier|amplificador|ampli|versterker|receiver)\w*.*"
        r"(?:power|leistung|puissance|potenza|potencia|vermogen|watts?|recom|empf|consig|aanbev|min|max)|"
        r"(?:recom|empfohlen|consig|aanbevolen|suggest|min|max)\w*.*(?:amp|verstarker|amplificat|versterker|"
        r"power range)|"
        r"(?:recommended|suggested|empfohlene|aanbevolen) (?:power|leistung|vermogen|watt)|"
        r"puissance (?:recomm|conseil)|"
        r"potenza consigl|potencia recomend|"
        r"^(?:amplifier|amplification|verstarker|amplificateur|amplificatore|amplificador|versterker)",
    ),
    (
        "max_level",
        r"max\w*\.? ?(?:spl|sound|output|peak|schall|pegel|level|pression|pressione|presion|geluid)|"
        r"(?:spl|sound pressure|schalldruck|output|pegel|pression acoustique)[^:]*\(?\b(?:max|peak)|maximalpegel|"
        r"peak (?:spl|output|level)|niveau max|spitzenpegel|grenzschalldruck",
    ),
    (
        "sensitivity",
        r"sensitiv|empfindlich|kennschall|sensibil|rendement|rendimiento|rendimento|efficien|efficac|"
        r"wirkungsgrad|gevoelig|\bspl\b|schalldruck|eficiencia|gevoeligheid",
    ),
    ("minimum", r"(?:min\w*|lowest|kleinste)\.? ?(?:impeda|ohm|widerstand)|impedan\w*[^:]*\bmin|minimalimpedanz"),
    ("impedance", r"impedan|widerstand|scheinwiderstand|\bohms?\b$"),
    (
        "advised_crossover",
        r"(?:recom|empfohl|suggest|conseil|consigl|aanbev)\w*.*(?:cross|trenn|high.?pass|coupure|sub)",
    ),
    (
        "slope",
        r"crossover (?:slope|order|type)|filter ?(?:slope|order|steil)|flankensteil|pente|pendenza|pendiente|slope",
    ),
    (
        "crossover",
        r"cross-?over|ubergangsfreq|uebergangsfreq|trennfreq|trennung|ubernahmefreq|uebernahmefreq|weiche|"
        r"frequences? de (?:coupure|raccord|transition|croise|filtr)|coupure|filtrage|raccordement|frequenz\w* di "
        r"(?:incrocio|taglio)|incrocio|frecuencias? de (?:corte|cruce)|\bcruce|scheidingsf|overnamef|kantelf|wisself|"
        r"ways? cross|^filters?$|scheidingsfilter|transition freq",
    ),
    (
        "low",
        r"^-(?:3|6|10) ?db\b|low(?:er)?(?:[- ]freq\w*)? ?(?:limit|extension|cut|end|corner|frequency)|"
        r"bass (?:extension|response|reach)|"
        r"\bf ?-?(?:3|6|10)\b|untere grenz|tiefgang|limite basse|low[- ]freq\w* (?:extension|limit|response)|"
        r"-3 ?db(?: point)?$",
    ),
    ("high", r"(?:high|upper)(?:er)?(?:[- ]freq\w*)? ?(?:limit|extension|cut|end)|obere grenz|limite haute"),
    (
        "response",
        r"fre[qc]\w*[- ]?(?:response|range|bereich|gang|bandwidth)|frequency|ubertragungs|uebertragungs|"
        r"bande passante|reponse en freq|risposta in freq|respuesta (?:en|de) frec|rango de frec|frequentie|bandwidth|"
        r"frequenzgang|frequenzbereich|gamma di freq|gamme de freq|banda passante|ancho de banda|bandbreed|response",
    ),
    ("port_size", r"(?:port|reflex\w*|tube|event|vent)\w* ?(?:diameter|size|durchmesser|diametre|diametro)"),
    ("bung", r"\bbungs?\b|port plugs?|foam plugs?|stopfen|bouchons?|\btappi\b|\btappo\b|tapon|afsluitdop"),
    (
        "axis_height",
        r"(?:tweeter|acoustic|listening)\w*(?: axis| centre| center)? (?:height|axis)|akustische\w* achse|"
        r"hochtonerhohe|hauteur du tweeter",
    ),
    ("spacing", r"(?:woofer|driver|bass)\w* spacing|cent(?:re|er)[- ]to[- ]cent(?:re|er)"),
    ("rear_allowance", r"rear (?:allowance|clearance for (?:plugs|cable))"),
    ("coverage", r"coverage|dispersion|abstrahl|directivit|dispersione"),
    (
        "tweeter",
        r"tweeter|hochton|aigus?\b|high[- ]freq\w* (?:driver|unit|transducer)|treble|agudos|hoge? ?tonen?|hogetoner|"
        r"tweeters|\bhf\b|super audio|acuti",
    ),
    (
        "woofer",
        r"woofer|tiefton|tiefmittelton|mid-?/?bass|bass-?/?mid|graves?\b|boomer|basse?s? (?:driver|unit|cone)|"
        r"(?:bass|low[- ]freq\w*) (?:driver|unit|transducer)s?|laagtoner|lage ?tonen|\blf\b|basso|"
        r"medio-?/?grav|bass$|subwoofer driver",
    ),
    ("midrange", r"mid-?range|mittelton|\bmids?\b|mediums?\b|medios?\b|midden ?ton|middentoner|\bmf\b|mid-?freq"),
    (
        "drivers",
        r"drivers?\b|drive units?|bestuckung|bestueckung|chassis|haut-?parleurs?|altoparlanti|altavoces|"
        r"luidspreker ?(?:units)?|"
        r"transducers?|speaker units?|driver complement|lautsprecherchassis|transductores|unites|units$|configuration",
    ),
    ("weight", r"weight|\bweighs?\b|\bwiegt|\bweegt|\bpesa\b|gewicht|poids|\bpeso\b|\bmass\b|\bnet wt\b|\bwt\b"),
    (
        "feet",
        r"^(?:feet|foot|spikes?|plinth|fusse|fuesse|standfusse|sockel|pieds?|piedini|patas|voetjes|voeten|socle)\b",
    ),
    (
        "size",
        r"dimens|abmess|\bmasse\b|\bmaes?se\b|afmet|medidas|\bsize\b|misure|\bgrosse\b|formaat|ingombro|"
        r"(?:^|[ (\[])(?:[hwdblp]|al|an|pr?) ?[x/*] ?(?:[hwdbltpa]|al|an|pr?) ?[x/*] ?(?:[hwdtlpabf]|al|an|"
        r"pr?)(?:$|[ )\]:,])|"
        r"(?:width|height|depth|breite|hohe|tiefe|largeur|hauteur|largh\w*|alt\w*|anch\w*|breedte|hoogte|length)"
        r" ?(?:[x/*]|by) ?(?:width|height|depth|breite|hohe|tiefe|largeur|hauteur|profond\w*|largh\w*|alt\w*|prof\w*|"
        r"anch\w*|fondo|breedte|hoogte|diepte)",
    ),
    (
        "width",
        r"width|breite|(?:mm|cm) breit\b|largeur|larghezza|anchura|^ancho\b|breedte|\d ?(?:mm|cm|in|inch|"
        r"inches|\") wide\b",
    ),
    (
        "height",
        r"height|hohe|hoehe|(?:mm|cm) hoch\b|hauteur|altezza|altura|^alto\b|hoogte|\d ?(?:mm|cm|in|inch|"
        r"inches|\") (?:high|tall)\b",
    ),
    ("depth", r"depth|tiefe|(?:mm|cm) tief\b|prof[ou]nd|^fondo\b|diepte|\d ?(?:mm|cm|in|inch|inches|\") deep\b"),
    (
        "enclosure",
        r"enclosure|cabinet|gehause|gehaeuse|charge|bass (?:loading|alignment)|loading|bauart|prinzip|principe|"
        r"caisson|enceinte|cassa|caja|behuizing|kast|carico|recinto|box type|bass[- ]?reflex|reflex|ported|"
        r"\bports?\b|sealed|"
        r"closed|acoustic suspension|geschloss|vented|passive? ?radiat|passivmembran|auxiliary bass|\babr\b|"
        r"\bevents?\b|"
        r"transmission|infinite baffle|\bclose\b|chiusa|cerrada|gesloten|basreflex|passivradiator|radiateurs? passif|"
        r"alignment|open[- ]?(?:back|baffle)|dipol|passieve radiator|radiatore passivo|radiador pasivo|down-?firing",
    ),
    ("price", r"price|preis|\bprix\b|prezzo|precio|\bprijs\b|\bmsrp\b|\brrp\b|\buvp\b|\bcost\b|\bpvp\b"),
    (
        "sold",
        r"\bsold (?:as|singly|individ|in |each|per|separat)|^sold\b|verkauf|\bvendu|venduto|vendido|verkocht|"
        r"sales? unit|verkaufseinheit",
    ),
    ("layout", r"^(?:layout|driver layout|arrangement|anordnung)"),
    ("orientation", r"^orientation|as shown|\bpose\b|ausrichtung"),
    (
        "power",
        r"power|belastbar|leistung|puissance|potenza|potencia|vermogen|watt|belastung|tenue en|handling|capacita",
    ),
    (
        "maker",
        r"^(?:maker|brand|manufacturer|make|hersteller|marke|marque|fabricante?|marca|merk|fabrikant|produttore)$",
    ),
    ("model", r"^(?:model|modell|modele|modello|modelo|product|produkt|produit|prodotto|model name|name|type number)$"),
    ("series", r"^(?:series|serie|range|gamme|linea|reihe|line|collection)$"),
    ("family", r"^family$"),
    ("status", r"^(?:status|availability)$"),
    (
        "role",
        r"^(?:roles?|use|type|typ|tipo|sistema|system|systeme|systeem|principle|application|category|"
        r"kategorie|categorie|einsatz|speaker type|product type|design)$",
    ),
)
_COMPILED: Final = tuple((topic, re.compile(pattern)) for topic, pattern in _TOPICS)

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
    r"allgemein(?:es)?|technik|generalites|general data|dati tecnici|datos tecnicos|gewicht|weight|price)"
    r"(?: ?\([^()]*\))?:?$"
)
"""A line that heads a part of one sheet, and names no loudspeaker."""

ACCESSORY: Final = re.compile(
    r"stand|bracket|mount|remote|accessor|zubehor|packag|carton|verpack|cable|kabel|warrant|garant|room|raum|shelf|"
    r"subwoofer|receiver|grill|gitter|cover|spike|lieferumfang|in the box"
)
"""Keys of something beside the loudspeaker, whose figures are not its own."""

FEET: Final = re.compile(
    r"\bfeet\b|\bbase\b|\bfoot\b|spike|plinth|outrigger|\bfusse|\bfuesse|fuss\w*|sockel|\bpieds?\b|\bpointes?\b|"
    r"piedin|patas|voet|socle|traverse"
)
GRILLE: Final = re.compile(
    r"grill|\bgitter|abdeckung|frontgitter|bespannung|\bcache\b|griglia|rejilla|rooster|frontstoff|"
    r"front cloth|fabric cover"
)
TERMINALS: Final = re.compile(
    r"terminal|binding post|connector|anschluss|\bborne|morsett|\bbornes?\b|conector|aansluit|polklemm"
)
WITHOUT: Final = re.compile(
    r"without|w/o\b|\bexcl|\bohne\b|\bsans\b|\bsenza\b|\bsin\b|zonder|\boff\b|removed|less |not incl|"
    r"\bex\b|\bhors\b|\bexkl|\besclus"
)
PAIR: Final = re.compile(
    r"\bpairs?\b|\bpr\b|paar|\bpaires?\b|\bcoppia|\bpar(?:eja)?\b|/ ?pr\b|carton of (?:2|two)|"
    r"\bset of (?:2|two)|per two|for two"
)
EACH: Final = re.compile(
    r"\beach\b|\bper (?:speaker|unit|piece|cabinet|stuk|pezzo)|\bea\b|stuck\b|\bstueck\b|\bje\b|unite\b|"
    r"\bpiece\b|cadauno|cad\.|"
    r"\bcada un|\bsingle\b|per stuk|pro lautsprecher|\bl'unite|unidad|individual|\bone\b|einzeln|a l'unite"
)
SHIPPING: Final = re.compile(
    r"shipping|gross|carton|packed|packag|boxed|versand|brutto|verpack|expedition|\bbrut\b|emball|lordo|"
    r"imball|bruto|envio|"
    r"embalaje|verzend|verpakking|transport"
)
IN_ROOM: Final = re.compile(
    r"in[- ]?room|im raum|in-raum|en (?:salle|piece)|in ambiente|en sala|in de kamer|in kamer|raumakust"
)
HALF_SPACE: Final = re.compile(
    r"half[- ]?space|\b2 ?pi\b|halbraum|demi[- ]espace|semispazio|semiespacio|halve ruimte|"
    r"infinite baffle|on[- ]wall mount"
)
ANECHOIC: Final = re.compile(
    r"anechoic|free[- ]?field|full[- ]?space|\b4 ?pi\b|reflexionsarm|schalltot|freifeld|anecho|anecoi|dode kamer"
)


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
    for topic, pattern in _COMPILED:
        if (not anywhere or topic not in KEY_ONLY) and pattern.search(key):
            return topic
    return None
