"""Cautions that belong to a place, a box or a level; they prompt, and defer to codes, manuals and licensed trades."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations
from typing import Final

from triptych.recommender.advise.placed import Scene
from triptych.recommender.judge.criteria.placing import screen_mismatch
from triptych.recommender.judge.gates.fit import PLAIN_PLASTERBOARD
from triptych.recommender.scene.aiming import EARS
from triptych.recommender.scene.arrays import PlaceFigures, Seats

DEFER: Final = (
    "These are prompts, not instructions: local building and electrical codes, the maker's manual and licensed trades "
    "come first."
)

BY_KIND: Final = {
    "wall": "Wall: fix the mount into masonry, studs or a noggin, with hardware rated for at least twice the weight, "
    "and look for cables and pipes before you drill. Plain plasterboard bears "
    f"{PLAIN_PLASTERBOARD} kg at most, with fixings made for it, and nothing heavier. Never trust keyholes alone.",
    "top": "On furniture: secure the furniture, the television and the loudspeaker against tipping and sliding, and "
    "keep cables where no child can pull them.",
    "open_shelf": "Shelf: keep to half of what it may still bear, and secure the furniture against tipping.",
    "cavity": "Bay: leave the amplifier its own air; a loudspeaker must not cover its vents.",
    "stand": "Stand: use one made for the weight, level and secured against tipping.",
    "behind_screen": "Behind a screen: a stand or shelf of its own, never the screen's frame.",
}


CLOTH: Final = (
    "Cloth: the screen takes a little treble from what stands behind it, and the mains stand beside it, or may: put "
    "all three behind it, or raise the centre's treble by measurement."
)
"""What is said where a screen is before the centre alone."""

ON_FURNITURE: Final = frozenset({"cavity", "open_shelf", "top"})
"""Kinds of place on or in furniture, which ends before the wall."""


def cautions(scene: Scene, places: Sequence[PlaceFigures], heaviest: float) -> tuple[str, ...]:
    """The cautions for some places of a scene, and the heaviest box shown [kg; NaN if not known]."""
    seats, drive, spacing = scene.seats, scene.drive, scene.mains.stands.spacing
    told = [BY_KIND[kind] for kind in dict.fromkeys(place.kind for place in places)]
    if any(screen_mismatch(place, scene.picture, spacing)[2] > 0 for place in places):
        told.append(CLOTH)
    if any(place.hot != "no" for place in places):
        told.append(
            "Heat: measure the temperature at the place in use; a fire or a stove can exceed what kit and fixings bear."
        )
    if heaviest > 20:
        told.append(f"Lifting: up to {heaviest:.0f} kg; two people, a clear path, and less above the shoulder.")
    told += [
        f"Place {place.name}: it is {place.depth * 1e3:.0f} mm deep, and its front edge only {place.front * 1e3:.0f} "
        "mm from the wall; the smaller is reckoned with: measure again."
        for place in places
        if place.kind in ON_FURNITURE and place.depth > place.front
    ]
    told += _ears(seats)
    told += [
        f"Seats: {one} and {other} are at one place; say how far aside each is (x)." for one, other in _same(seats)
    ]
    told.append("Mains power: unplug the amplifier before you connect or move anything; never defeat its earth.")
    if drive.target_peak >= 95:
        told.append(
            f"Hearing: peaks of {drive.target_peak:.0f} dB are loud. At an average of 85 dB(A) a day's safe dose is "
            "8 hours, at 94 dB(A) one hour (NIOSH, made for workplaces); keep calibration noise short, children lower."
        )
    return (*told, DEFER)


def _ears(seats: Seats) -> Iterator[str]:
    """What is said of ears that nobody measured."""
    others = [seats.name[k] for k in range(len(seats.name)) if not seats.ear_stated[k] and k != seats.primary]
    if not seats.ear_stated[seats.primary]:
        high = seats.ear_height[seats.primary] * 1e3
        low, most = (end * 1e3 for end in EARS)
        yield (
            f"Ear height: {seats.name[seats.primary]} not measured; {high:.0f} mm is assumed, and {low:.0f} to"
            f" {most:.0f} mm reckoned with. Measure it before you cut a wedge."
        )
    if others:
        yield f"Ear heights: {', '.join(others)} not measured; judged as high as the primary seat's."


def _same(seats: Seats) -> Iterator[tuple[str, str]]:
    """Seats that nobody can sit on at once, as one of them was left at the middle."""
    there = list(zip(seats.name, seats.x.tolist(), seats.distance.tolist(), strict=True))
    for (one, *here), (other, *beside) in combinations(there, 2):
        if here == beside:
            yield one, other
