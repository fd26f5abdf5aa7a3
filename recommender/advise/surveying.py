"""A room as it was surveyed, with nothing chosen yet: what is drawn of it, and what is supposed where it is silent."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from triptych.catalog.files.rooms import picture_size
from triptych.catalog.records import LoudspeakerRecord, Place, RoomRecord
from triptych.catalog.words import PlaceKind
from triptych.recommender.advise.setting import LIKELY_EAR, NO_PEAK_SPACING, USUAL_DEPTH
from triptych.recommender.drawing.floor_plan import DrawnSeat, FloorPlan
from triptych.recommender.drawing.front_elevation import Front
from triptych.recommender.drawing.shapes import Cabinet, DrawnPicture, Opening
from triptych.recommender.scene.aiming import EARS, clear_behind


@dataclass(frozen=True, slots=True)
class Supposed:
    """A key of the room that nobody filled in, and what is taken for it; `value` as it would be written, if one is."""

    key: str
    words: str
    value: str | None = None


@dataclass(frozen=True, slots=True)
class Survey:
    """The drawings of a room without a centre; None where too little is known."""

    front: Front | None
    plan: FloorPlan
    supposed: tuple[Supposed, ...]


def surveyed(room: RoomRecord, mains: LoudspeakerRecord | None) -> Survey:
    """Return what a room looks like before a centre is chosen for it."""
    return Survey(_front(room, mains), _plan(room, mains), tuple(_supposed(room, mains)))


def _named(mains: LoudspeakerRecord | None) -> str:
    return "mains not chosen yet" if mains is None else mains.name


def _ear(room: RoomRecord) -> float:
    return room.primary.ear_height or LIKELY_EAR


def _spacing(room: RoomRecord) -> float:
    return NO_PEAK_SPACING if room.mains.spacing is None else room.mains.spacing


def _from_wall(room: RoomRecord, mains: LoudspeakerRecord | None) -> float:
    if room.mains.from_wall is not None:
        return room.mains.from_wall
    return mains.depth if mains and mains.depth else USUAL_DEPTH


def _picture(room: RoomRecord) -> DrawnPicture | None:
    if room.screen is None or room.screen.bottom is None:
        return None
    width, height = picture_size(room.screen)
    if width is None or height is None:
        return None
    return DrawnPicture(room.screen.bottom, width, height, room.screen.transparent)


def _front(room: RoomRecord, mains: LoudspeakerRecord | None) -> Front | None:
    openings = [
        Opening(one.name, one.kind.value, one.base, one.width, one.height, one.depth)
        for one in room.places
        if one.base is not None
    ]
    if not openings:
        return None
    box = _cabinet(mains)
    axis = room.mains.axis_height
    own = mains.axis_height if mains else None
    feet = (mains.feet or 0.0) if mains else 0.0
    base = 0.0 if axis is None or own is None else max(axis - own - feet, 0.0)
    return Front(
        centre="",
        mains=_named(mains),
        place=openings[0],
        box=None,
        tilt=None,
        spacing=_spacing(room),
        ear=_ear(room),
        mains_axis=axis if axis is not None else None if own is None else own + feet,
        mains_box=box,
        mains_base=base,
        picture=_picture(room),
        other_places=tuple(openings[1:]),
    )


def _cabinet(mains: LoudspeakerRecord | None) -> Cabinet | None:
    if mains is None or mains.width is None or mains.height is None or mains.depth is None:
        return None
    return Cabinet(mains.width, mains.height, mains.depth, mains.feet or 0.0, mains.axis_height)


def _edge(place: Place) -> float | None:
    """How far from the wall the front edge of a place is, or of one with a depth is taken to be [m]."""
    if place.front is not None or place.depth is None:
        return place.front
    return place.depth + sum(clear_behind(place.kind.value)) / 2


def _front_edge(place: Place) -> Supposed:
    """Where the front edge of a place is taken to be, of which nobody said so."""
    low, most = (f"{end * 1e3:.0f}" for end in clear_behind(place.kind.value))
    free, edge = f"{low} to {most} mm are free behind it", _edge(place)
    high = None if edge is None else f"{edge * 1e3:.0f} mm"
    words = f"the front edge of {place.name} is {high} from the front wall: {free}" if high else f"{place.name}: {free}"
    return Supposed(f"place.{place.name}.front", words, high)


def _plan(room: RoomRecord, mains: LoudspeakerRecord | None) -> FloorPlan:
    picture = _picture(room)
    fronts = (edge for place in room.places if (edge := _edge(place)) is not None)
    size = None if mains is None or mains.width is None or mains.depth is None else (mains.width, mains.depth)
    return FloorPlan(
        centre="",
        mains=_named(mains),
        centre_size=None,
        baffle=next(fronts, _from_wall(room, mains)),
        spacing=_spacing(room),
        from_wall=_from_wall(room, mains),
        toe_in=room.mains.toe_in or 0.0,
        seats=tuple(DrawnSeat(one.name, one.x, one.distance, one.primary, one.regular) for one in room.seats),
        mains_size=size,
        picture_width=picture.width if picture else None,
    )


def _supposed(room: RoomRecord, mains: LoudspeakerRecord | None) -> Iterator[Supposed]:
    if room.mains.spacing is None:
        apart = f"{NO_PEAK_SPACING * 1e3:.0f} mm"
        yield Supposed("mains.spacing", f"the mains stand {apart} apart", apart)
    if room.mains.from_wall is None:
        depth = f"{_from_wall(room, mains) * 1e3:.0f} mm"
        words = f"the mains' backs are at the wall, their baffles {depth} from it"
        yield Supposed("mains.from_wall", words, depth)
    if room.mains.toe_in is None:
        yield Supposed("mains.toe_in", "the mains look straight ahead", "0 deg")
    if room.mains.floor is None:
        yield Supposed("mains.floor", "the floor may be hard or covered; both are reckoned with")
    if room.primary.ear_height is None:
        high = f"{LIKELY_EAR * 1e3:.0f} mm"
        low, most = (f"{end * 1e3:.0f}" for end in EARS)
        words = f"ears are {high} above the floor; {low} to {most} mm are reckoned with, and no wedge is told"
        yield Supposed(f"seat.{room.primary.name}.ear_height", words, high)
    for place in room.places:
        if place.front is None and place.kind is not PlaceKind.WALL:
            yield _front_edge(place)
    if room.listening.room_gain is None:
        yield Supposed("listening.room_gain", "the room adds 0 to 4 dB to the direct sound")
    if room.amplifier is None or room.listening.target_peak is None:
        yield Supposed("amplifier", "how loud it can play isn't judged until amplifier and target are known")
