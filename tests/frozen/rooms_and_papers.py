"""Files that scenarios read: rooms, budgets, rules and a datasheet, good and bad."""

from __future__ import annotations

from typing import Final

DATASHEET: Final = """\
Maker: Oatfell
Series: Linden
Model: Wren C2
Type: centre loudspeaker

Dimensions
Width: 21 1/2" (546 mm)
Height: 178 mm
Depth: 300 mm (315 mm with grille)

Electrical
Sensitivity: 88 dB 1W/1m
Impedance: 4 ohms
Crossover: 350 / 2.8 kHz
Dimensions of the box: 1 x 2 x 3
Finish: walnut
"""

ROOM: Final = """\
name = "Den"
[screen]
diagonal = "55 in"
aspect = "16:9"
bottom = "31 1/2 in"
[mains]
speaker = "Nettle Barrow Dibble Stand"
spacing = "2,2 m"
[[seat]]
name = "chair"
distance = "8'"
primary = true
[[place]]
name = "shelf"
kind = "open_shelf"
width = "90 cm"
height = "25 cm"
depth = "32 cm"
base = "50 cm"
[money]
centre = 800
currency = "EUR"
"""
BAD_ROOM: Final = (
    ROOM.replace("Den", "Bad").replace('"90 cm"', '"wide"').replace("open_shelf", "hole").replace("spacing", "spcing")
)

NEW_ROOM: Final = [
    *("", "Corn Loft"),
    *("65 in", "flat", "16:9", "820", ""),
    *("Bramble Thatch Trivet Tower", "2.6 m", "unknown", "12", ""),
    *("", "middle", "", "x", "3 m", "1.02 m", ""),
    *("MIDDLE", "left", "-65 cm", "3 m", "", "no"),
    "",
    *("right", "Middle"),
    *("bay", "nook", "cavity", "64 cm", "21 cm", "38 cm", "340", "520", "closed", "18", "unknown"),
    *("beam", "wall", "", "", "", "", "", "", "", "stud"),
    "",
    *("95", "8", "6", "12"),
    *("", "", "yes"),
    *("700", "eur", "no"),
]
"""Answers to `room new`, some of which are asked again."""

BUDGET: Final = """\
currency = "EUR"
limit = 4000
tax_included = true
tax_rate = 20
[[line]]
role = "mains"
item = "Bramble Thatch Trivet Tower"
per = "pair"
quantity = 1
tax_included = true
[[line]]
role = "centre"
item = "a <centre>"
price = 390
per = "each"
quantity = 1
tax_included = true
[[line]]
role = "surrounds"
price = 640
per = "pair"
quantity = 1
tax_included = false
[[line]]
role = "sub"
price = 1500
per = "each"
quantity = 1
tax_included = true
[[line]]
role = "electronics"
price = 900
per = "each"
quantity = 1
tax_included = true
"""
BAD_BUDGET: Final = """\
[[line]]
role = "middle"
price = "cheap"
per = "dozen"
quantity = 0
colour = "red"
"""

RULES: Final = """\
name = "plain"
why = "two rules are enough"
order = ["mains", "centre", "sub", "surrounds", "accessories", "electronics",
  "heights", "wides", "calibration", "display"]
[[rule]]
name = "centre_floor"
form = "floor"
kind = "must"
roles = ["centre"]
measure = "one"
factor = 0.5
of = ["mains"]
of_measure = "one"
why = "half a main at least"
[[rule]]
name = "sub_cap"
form = "cap"
kind = "should"
roles = ["sub"]
measure = "all"
factor = 0.25
of = ["audio_total"]
of_measure = "all"
why = "bass is a quarter"
"""
BAD_RULES: Final = RULES.replace("floor", "ceiling").replace("0.25", '"some"').replace("of_measure", "of_measures")

WHOLE_PLAN: Final = """\
currency = "EUR"
limit = 6500
tax_included = true
tax_rate = 20
steps = [2500, 1500, 3000]
[want]
mains = 2
centre = 1
surrounds = 2
sub = 1
[runs]
mains = "4 m"
centre = "2 m"
surrounds = "9 m"
sub = "6 m"
"""
PLAN: Final = """\
currency = "EUR"
limit = 7000
tax_included = true
tax_rate = 20
steps = [3000, 2000, 2000]
[want]
mains = "1 pair"
centre = 1
surrounds = 2
sub = 1
[[line]]
role = "electronics"
price = 900
tax_included = true
[[line]]
role = "accessories"
price = 250
tax_included = true
"""
