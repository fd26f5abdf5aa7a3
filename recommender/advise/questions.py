"""What is asked about each unknown and each gate, in the words of who answers it, and where the answer is found."""

from __future__ import annotations

from typing import Final

ASK: Final = {
    "voicing": ("How do it and the mains measure?", "measured curves of both; `triptych curve import`"),
    "drivers": (
        "What are its driver layout, sizes, spacing and crossover?",
        "the manual; the spacing with a tape, between the middles of the outer woofers",
    ),
    "mains' drivers": ("What are the mains' driver layout, sizes, spacing and crossover?", "the mains' manual"),
    "floor": (
        "What covers the floor between the loudspeakers and the seats: boards or stone, or carpet?",
        "look; `floor` under [mains] in the room file",
    ),
    "picture": ("How wide is the picture?", "a tape; `width` under [screen] in the room file"),
    "sensitivity": ("What is its sensitivity for 2.83 V at 1 m, anechoic?", "ask the maker, or a measured review"),
    "drive": (
        "What is the amplifier's power, into which load, and how loud shall it be at the farthest seat?",
        "its manual and the listeners; [amplifier] and [listening] in the room file",
    ),
    "load": ("What is the lowest load that the amplifier's manual allows?", "its manual"),
    "room gain": (
        "What does the room add to the direct sound?",
        "measure a level at 1 m and at the seat, or take 3 dB",
    ),
    "ear": ("", "a tape; `ear_height` and `front` in the room file"),
    "axis": ("How high above its base is the middle of the tweeter?", "a tape on the box, or the manual's drawing"),
    "mains' axis": ("How high above the floor are the mains' tweeters?", "a tape, floor to the middle of the tweeter"),
    "port": ("On which face is the port or radiator?", "a photograph of its back, or the manual"),
    "price": ("What does one cost, and is tax in that?", "ask the dealer"),
    "mains' price": ("What does one of the mains cost?", "the dealer's list, or what was paid"),
    "low limit": ("Where has its response fallen by 3 dB?", "ask the maker for F3, anechoic"),
}
"""What to ask about each unknown, and where the answer is to be found; what no file can say isn't asked."""

FIND: Final = {
    "envelope": "a tape, at the narrowest point",
    "tilt": "a tape on the box and at the seat",
    "port": "a photograph of its back, or the manual",
    "sight": "a tape, from the floor",
    "load": "the scales or the manual",
    "amplifier": "the manual, or ask the maker",
    "level": "ask the maker, or a measured review",
    "height": "a tape, from the floor",
    "money": "ask the dealer",
    "hazard": "look, and ask a licensed trade where you can't",
}
"""Where the answer to a gate's question is to be found."""


OF_THE_ROOM: Final = frozenset({"room gain", "drive", "load", "floor", "picture", "ear"})
"""Causes of which the room's survey speaks, not a datasheet."""

ANYWAY: Final = {"drive": "without it loudness isn't judged", "ear": "without it nobody knows how far to tilt"}
"""Causes that are asked about even where the answer would change no choice, and why."""

ROOM_WIDE: Final = frozenset({"amplifier", "sight"})
"""Gates whose shared conditions are one for all places."""

ASK_GATE: Final = {
    "load": "What may {place} still bear?",
    "sight": "Where is the lower edge of the picture?",
    "supply": "Can one still be had?",
    "trim": "What is its anechoic sensitivity for 2.83 V at 1 m?",
}
"""What to ask about a condition whose gate has no question."""

DRIVER_WORDS: Final = {
    "layout": "driver layout", "size": "driver sizes", "tweeter": "tweeter's remaining figures",
    "crossover": "crossover", "order": "slope of the crossover", "spacing": "distance between the outer woofers",
}  # fmt: skip
"""What to ask about each input of a model."""
