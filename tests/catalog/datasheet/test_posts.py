"""Posts of a forum: whose figure it is where people talk of several loudspeakers, of their own and of older ones."""

from __future__ import annotations

import pytest

from triptych.catalog.datasheet import read_datasheet
from triptych.catalog.datasheet.posts import is_head

SISTERS = """TubeBoards > Speakers > Critterden 8 or the 10?? help me spend it

dustcap_dave » 03 Feb 2026 19:12
First the Critterden 8: ported in front, 8 ohms, never under 5.5. 20 1/2" tall, 11" wide, 10 3/4" deep, 31 lbs.

The 10 is the same thing but: 10" woofer, 94dB. Cabinet is 25" x 13" x 12 1/2" (HWD) and it's 43 pounds.

edit: DON'T confuse these with the old Critterden 8 from '98, that one was 89 dB, 4 ohm and 26 lbs.
"""
HEADS = [
    "plumb_bob » 03 Feb 2026 22:03",
    "Moss schrieb am 14.03.2026, 18:22:",
    "Posté par Bise_noire, le 10 mars 2026",
    "gradas_de_piedra (mensajes: 37)",
    "brentatore - 22/02/2026",
    "Rietkraag, 12 januari 2026:",
    "kominiarczyk, 8 lut 2026, 20:17",
    "No.14 Name: Maple Uncle  2026/01/18(Sun) 23:10",
]


def test_two_sisters_have_each_their_own_figures_and_an_older_one_none() -> None:
    small, large = (one.values for one in read_datasheet(SISTERS).records)
    assert small["weight"] == pytest.approx(14.06, abs=0.01)
    assert small["impedance_nominal"] == 8
    assert large["weight"] == pytest.approx(19.50, abs=0.01)
    assert large["height"] == pytest.approx(0.635)


@pytest.mark.parametrize("line", HEADS)
def test_who_posts_and_when_names_no_loudspeaker(line: str) -> None:
    assert is_head(line)


@pytest.mark.parametrize("line", ["Wren 2, 12 kg", "Weight: 8 kg", "Price list of 1 March 2026", "Wren 2 (2026)"])
def test_a_line_of_a_sheet_is_no_head_of_a_post(line: str) -> None:
    assert not is_head(line)


@pytest.mark.parametrize(
    "line",
    [
        "Meine jetzigen haben 91 dB und 8 Ohm.",
        "De mijne zijn van 2018 en hebben 91 dB.",
        "Receiver is 7 x 90 W at 4 ohm.",
        "Die oude van jou was 91 dB.",
    ],
)
def test_what_somebody_has_at_home_is_not_the_loudspeaker(line: str) -> None:
    values = read_datasheet(f"Wren 3\nWeight: 7 kg\nSize: 30 x 20 x 25 cm (HxWxD)\n{line}").records[0].values
    assert not {"sensitivity", "impedance_nominal", "amplifier_max"} & set(values)


def test_both_of_three_are_two_that_nothing_names() -> None:
    text = """The Wren 2, the Wren 4 and the Wren C share a maker. The Wren 2 weighs 5 kg, 86 dB, 8 ohm, 30 cm high. \
The Wren 4 weighs 15 kg, 88 dB, 6 ohm, 90 cm high. The Wren C weighs 9 kg, 87 dB, 4 ohm, 17 cm high. \
Both have a reflex port at the back."""
    assert all("port_location" not in one.values for one in read_datasheet(text).records)
