"""How running text tells a driver that it does not name: how many there are, how large, and that they are cones."""

from __future__ import annotations

import re
from typing import Final

from triptych.catalog.datasheet.joining import AND
from triptych.catalog.datasheet.word_groups import word_groups

_WORDS: Final = word_groups("cones.toml")
_CONE: Final = _WORDS["cone"]
_SIZE: Final = r"\d[\d.,/ -]* ?-?(?:mm|cm|in(?:ch)?|\"|zoll|pouces?)"
CONES: Final = re.compile(
    rf"(?:^|[\s,;(]){_WORDS['count']}(?:[^\W\d]+ ){{0,2}}?(?:{_SIZE}\W?{_WORDS['of']}?(?:[^\W\d]+ ){{0,2}}?{_CONE}\b|"
    rf"{_CONE}\b (?:[^\W\d]+ ){{0,4}}?{_WORDS['sized']}?{_SIZE})"
)
"""Cones with how many there are and their size, in running text: 'two 130mm cones', 'dos conos de fibra de 16,5 cm'."""
CONE_ALONE: Final = re.compile(
    rf"\W*(?:{AND} )?(?:(?:{CONES.pattern})|\(?[1-4]\)? ?x ?\d{{1,3}}(?:[.,]\d)? ?(?:mm|cm|in|\"|zoll)\W*$)"
)
"""A piece that is about such a driver and nothing before it: ', deux 17 cm papier', '2 x 13 cm'."""
