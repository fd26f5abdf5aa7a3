"""Code 128 read back from the widths of its bars; the table is that of ISO/IEC 15417, from memory."""

from __future__ import annotations

from itertools import groupby
from typing import Final

_WIDTHS: Final = """
212222 222122 222221 121223 121322 131222 122213 122312 132212 221213 221312 231212 112232 122132 122231 113222
123122 123221 223211 221132 221231 213212 223112 312131 311222 321122 321221 312212 322112 322211 212123 212321
232121 111323 131123 131321 112313 132113 132311 211313 231113 231311 112133 112331 132131 113123 113321 133121
313121 211331 231131 213113 213311 213131 311123 311321 331121 312113 312311 332111 314111 221411 431111 111224
111422 121124 121421 141122 141221 112214 112412 122114 122411 142112 142211 241211 221114 413111 241112 134111
111242 121142 121241 114212 124112 124211 411212 421112 421211 212141 214121 412121 111143 111341 131141 114113
114311 411113 411311 113141 114131 311141 411131 211412 211214 211232
"""
VALUES: Final = {widths: value for value, widths in enumerate(_WIDTHS.split())}
STOP: Final = "2331112"
SETS: Final = {103: "A", 104: "B", 105: "C"}
SHIFTS: Final = {"A": {100: "B", 99: "C"}, "B": {101: "A", 99: "C"}, "C": {100: "B", 101: "A"}}


def read_code_128(modules: str) -> str:
    """Give the text of modules, 1 black and 0 white, without their quiet zones; its check character must be right."""
    widths = "".join(str(len(list(run))) for _, run in groupby(modules))
    assert modules[:1] == "1"
    assert widths.endswith(STOP), "no stop character"
    body = widths[: -len(STOP)]
    values = [VALUES[body[place : place + 6]] for place in range(0, len(body), 6)]
    *signs, check = values
    assert check == (signs[0] + sum(place * value for place, value in enumerate(signs))) % 103, "check character"
    text, inside = "", SETS[signs[0]]
    for value in signs[1:]:
        if value in SHIFTS[inside]:
            inside = SHIFTS[inside][value]
        elif inside == "C":
            text += f"{value:02d}"
        else:
            assert value < 96, f"function character {value}"
            text += chr(value + 32 if inside == "B" or value < 64 else value - 64)
    return text
