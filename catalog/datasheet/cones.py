"""How running text tells a driver that it does not name: how many there are, how large, and that they are cones."""

from __future__ import annotations

import re
from typing import Final

from triptych.catalog.datasheet.joining import AND

_MANY: Final = (
    r"(?:\(?\d\)? ?x ?|\d |(?:one|two|twin|dual|three|ein(?:en|em|e|er)?|zwei|drei|un[aeo]?|deux|trois|due|tre|dos|"
    r"tres|een|twee|drie|jeden|dwa|dwie|trzy|an?|single)\b )"
)
_CONE: Final = (
    r"(?:cones?|koni?|conus(?:sen)?|conos?|coni|konus(?:se)?|membran\w*|stozk\w*|papier|paper|carta|papel|cellulose|"
    r"pulp)"
)
_SIZE: Final = r"\d[\d.,/ -]* ?-?(?:mm|cm|in(?:ch)?|\"|zoll|pouces?)"
CONES: Final = re.compile(
    rf"(?:^|[\s,;(]){_MANY}(?:[^\W\d]+ ){{0,2}}?(?:{_SIZE}\W?(?:de |di |in |van |z )?(?:[^\W\d]+ ){{0,2}}?{_CONE}\b|"
    rf"{_CONE}\b (?:[^\W\d]+ ){{0,4}}?(?:de |da |di |van |von |of )?{_SIZE})"
)
"""Cones with how many there are and their size, in running text: 'two 130mm cones', 'dos conos de fibra de 16,5 cm'."""
CONE_ALONE: Final = re.compile(
    rf"\W*(?:{AND} )?(?:(?:{CONES.pattern})|\(?[1-4]\)? ?x ?\d{{1,3}}(?:[.,]\d)? ?(?:mm|cm|in|\"|zoll)\W*$)"
)
"""A piece that is about such a driver and nothing before it: ', deux 17 cm papier', '2 x 13 cm'."""
