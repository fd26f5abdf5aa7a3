"""One candidate where it stands: the numbers of each drawing, what stays free around it, and how far it is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, isfinite
from typing import Final

import numpy as np

from triptych.catalog.records import LoudspeakerRecord, RoomRecord
from triptych.recommender.advise.account import Account
from triptych.recommender.advise.advice import Standing, known
from triptych.recommender.advise.beside import Option
from triptych.recommender.drawing.floor_plan import DrawnSeat, FloorPlan
from triptych.recommender.drawing.front_elevation import Front
from triptych.recommender.drawing.response import Response
from triptych.recommender.drawing.seatmap import SeatHearing, SeatMap
from triptych.recommender.drawing.section import Side
from triptych.recommender.drawing.shapes import Cabinet, DrawnDriver, DrawnPicture, Opening
from triptych.recommender.judge.criteria.sound import VOICING_DOUBT
from triptych.recommender.physics import description, erb, loudspeaker
from triptych.recommender.scene.aiming import SIDE_CLEARANCE, TOP_CLEARANCE, free_depth, rear_allowance
from triptych.recommender.scene.arrays import FloatArray
from triptych.recommender.scene.hearing import at_seats

JUDGED: Final = (200.0, 8000.0)
"""The band in which timbre is judged [Hz]."""


@dataclass(frozen=True, slots=True)
class Pictures:
    """The numbers of each drawing of one centre in its place; None where too little is known to draw it."""

    front: Front | None
    side: Side | None
    plan: FloorPlan | None
    seat_map: SeatMap | None
    response: Response | None


@dataclass(frozen=True, slots=True)
class Clearance:
    """What stays free around the box as it is tilted; None where nothing limits it or a size is not known. [m].

    `needed_*` is what should at least stay free there.
    """

    side: float | None
    above: float | None
    behind: float | None
    needed_side: float
    needed_above: float
    needed_behind: float


@dataclass(frozen=True, slots=True)
class Distances:
    """From the primary ear to the tweeter of each of the three [m]; None where a figure is not known."""

    left: float | None
    centre: float | None
    right: float | None


@dataclass(frozen=True, slots=True)
class Stand:
    """One candidate in one option; `here` is its row there. Fills the drawings."""

    account: Account
    room: RoomRecord
    mains: LoudspeakerRecord
    candidate: int
    option: Option
    here: int
    standing: Standing

    @property
    def tilt(self) -> float | None:
        """The tilt that is used, positive looking up [deg]."""
        aim = self.option.aim
        return None if aim.axis_unknown[self.here] else known(aim.tilt_used[self.here])

    @property
    def cabinet(self) -> Cabinet | None:
        """The box as it stands; None where one of its sizes is not known."""
        boxes, row = self.option.boxes, self.here
        width, height, depth = (known(side[row]) for side in (boxes.width, boxes.height, boxes.depth))
        if width is None or height is None or depth is None:
            return None
        return Cabinet(width, height, depth, known(boxes.feet[row]) or 0.0, known(boxes.axis[row]))

    @property
    def axis(self) -> float | None:
        """Where the axis of the tilted box leaves it, above the floor [m]."""
        pictured = self.side()
        return None if pictured is None or pictured.axis is None else pictured.axis[1]

    def pictures(self) -> Pictures:
        """All drawings that what is known allows."""
        return Pictures(self.front(), self.side(), self.plan(), self.seat_map(), self.response())

    def clearance(self) -> Clearance:
        """What stays free around the box, and what should."""
        place, boxes, row = self.option.place, self.option.boxes, self.here
        return Clearance(
            side=known((place.width - boxes.width[row]) / 2),
            above=known(place.height - self.option.aim.envelope_height[row]),
            behind=known(self.option.aim.rear_clearance[row]),
            needed_side=SIDE_CLEARANCE,
            needed_above=TOP_CLEARANCE,
            needed_behind=float(rear_allowance(boxes)[row]),
        )

    def distances(self) -> Distances:
        """Straight from the primary ear to the three; where an axis is not known its height is left out."""
        seat, ear = self.room.primary, self.room.primary.ear_height
        spacing, axis = self.account.scene.mains.stands.spacing, self.mains_axis
        along = seat.distance - self.mains_from_wall
        rise = 0.0 if ear is None or axis is None else ear - axis
        left, right = (hypot(seat.x - side * spacing / 2, along, rise) for side in (-1, 1))
        baffle = known(self.option.aim.baffle[self.here])
        drop = 0.0 if ear is None or self.axis is None else ear - self.axis
        centre = None if baffle is None else hypot(seat.x, seat.distance - baffle, drop)
        return Distances(known(left), centre, known(right))

    def front(self) -> Front | None:
        """The numbers of the front elevation."""
        box, scene = self.cabinet, self.account.scene
        base = known(self.option.place.base)
        if box is None or base is None:
            return None
        return Front(
            centre=self.standing.speaker,
            mains=self.account.mains,
            place=self.opening(base),
            box=box,
            tilt=self.tilt,
            spacing=scene.mains.stands.spacing,
            ear=self.ear,
            mains_axis=self.mains_axis,
            mains_box=self.main_cabinet(),
            mains_base=self.mains_base(self.mains_axis),
            picture=self.picture(),
            drivers=self.drivers(),
        )

    @property
    def mains_axis(self) -> float | None:
        """The axis of the mains above the floor [m]."""
        return known(self.account.scene.mains.stands.axis_height[0])

    @property
    def mains_from_wall(self) -> float:
        """From the front wall to the baffles of the mains [m]; NaN where it is not known."""
        return float(self.account.scene.mains.stands.from_wall[0])

    @property
    def ear(self) -> float:
        """The primary ear above the floor [m]."""
        return float(self.account.scene.seats.ear_height[self.account.scene.seats.primary])

    def opening(self, base: float) -> Opening:
        """The place."""
        place = self.option.place
        width, height, depth = (known(size) for size in (place.width, place.height, place.depth))
        return Opening(place.name, place.kind, base, width, height, depth, place.back == "closed")

    def main_cabinet(self) -> Cabinet | None:
        """One of the mains; None where one of its sizes is not known."""
        one = self.mains
        if one.width is None or one.height is None or one.depth is None:
            return None
        return Cabinet(one.width, one.height, one.depth, one.feet or 0.0, one.axis_height)

    def mains_base(self, axis: float | None) -> float:
        """What a main stands on above the floor [m]; the floor where nobody said."""
        own = self.mains.axis_height
        return 0.0 if axis is None or own is None else max(axis - own - (self.mains.feet or 0.0), 0.0)

    def picture(self) -> DrawnPicture | None:
        """The picture; None where one of its edges is not known."""
        found = self.account.scene.picture
        edges = [known(value) for value in (found.bottom, found.width, found.top)]
        bottom, width, top = edges
        if bottom is None or width is None or top is None:
            return None
        return DrawnPicture(bottom, width, top - bottom, found.transparent)

    def drivers(self) -> tuple[DrawnDriver, ...]:
        """The centre's drivers as the listeners see them; none where the layout is not known."""
        model = description.describe(self.account.catalogue.drivers.take(self.account.rows[[self.candidate]]))
        if not model.usable[0]:
            return ()
        if self.option.on_side:
            model = loudspeaker.turned(model)
        there = np.flatnonzero(model.share[0] != 0).tolist()
        top = int(model.band[0, there].max())
        sizes = [_across(int(model.kind[0, k]), float(model.size_x[0, k]), float(model.size_y[0, k])) for k in there]
        ups = [float(model.y[0, k]) for k in there]
        shift = self._shift(ups, sizes)
        return tuple(
            DrawnDriver(float(model.x[0, k]), up + shift, size, int(model.band[0, k]) == top)
            for k, up, size in zip(there, ups, sizes, strict=True)
        )

    def _shift(self, ups: Sequence[float], sizes: Sequence[float]) -> float:
        """What brings drivers placed from the acoustic axis to their place from the middle of the front [m].

        An axis that nobody stated may leave no room for them; then they are drawn in the middle.
        """
        box = self.cabinet
        low = min(up - size / 2 for up, size in zip(ups, sizes, strict=True))
        high = max(up + size / 2 for up, size in zip(ups, sizes, strict=True))
        middle = -(low + high) / 2
        if box is None or box.axis is None:
            return middle
        shift = box.axis - box.height / 2
        fits = max(high + shift, -(low + shift)) <= box.height / 2
        return shift if fits else middle

    def side(self) -> Side | None:
        """The numbers of the side section."""
        box, place, aim = self.cabinet, self.option.place, self.option.aim
        base, baffle = known(place.base), known(aim.baffle[self.here])
        if box is None or base is None or baffle is None or not isfinite(self.ear):
            return None
        return Side(
            centre=self.standing.speaker,
            place=self.opening(base),
            box=box,
            baffle=baffle,
            tilt=self.tilt,
            ear_distance=self.room.primary.distance,
            ear=self.ear,
            residual=self.standing.quantities["residual_deg"],
            free_depth=known(free_depth(place)),
            rear_allowance=float(rear_allowance(self.option.boxes)[self.here]),
            setback=place.setback,
            bounce=self.standing.criterion_named("surroundings").inputs["notch"],
            picture=self.picture(),
        )

    def plan(self) -> FloorPlan | None:
        """The numbers of the plan."""
        box, stands = self.cabinet, self.account.scene.mains.stands
        baffle, from_wall = known(self.option.aim.baffle[self.here]), known(self.mains_from_wall)
        if box is None or baffle is None or from_wall is None:
            return None
        one = self.mains
        return FloorPlan(
            centre=self.standing.speaker,
            mains=self.account.mains,
            centre_size=(box.width, box.depth),
            baffle=baffle,
            spacing=stands.spacing,
            from_wall=from_wall,
            toe_in=stands.toe_in,
            seats=tuple(DrawnSeat(s.name, s.x, s.distance, s.primary, s.regular) for s in self.room.seats),
            mains_size=None if one.width is None or one.depth is None else (one.width, one.depth),
            picture_width=known(self.account.scene.picture.width),
        )

    def seat_map(self) -> SeatMap | None:
        """The numbers of the seat map."""
        baffle = known(self.option.aim.baffle[self.here])
        if baffle is None:
            return None
        heard = {answer.seat: answer for answer in self.standing.seats}
        return SeatMap(
            self.standing.speaker,
            baffle,
            tuple(
                SeatHearing(
                    seat.name, seat.x, seat.distance, heard[seat.name].angle_deg, heard[seat.name].dip_db,
                    heard[seat.name].dip_hz, heard[seat.name].null_hz, seat.primary, seat.regular,
                )
                for seat in self.room.seats
            ),
        )  # fmt: skip

    def response(self) -> Response | None:
        """Centre and mains at the primary seat with what is open; None where no model can be made of either."""
        scene, option = self.account.scene, self.option
        voices = scene.voices_of(np.array([self.candidate]))
        if not (voices.usable[0] and scene.mains.sound.usable[0]):
            return None
        aim, primary = option.aim.take(np.array([self.here])), scene.seats.primary
        heard = at_seats(voices, np.array([0]), aim, scene.seats, option.on_side)
        centre, mains = _about_mean(heard.sound.direct[0]), _about_mean(scene.mains.sound.direct[0])
        voicing = self.standing.criterion_named("timbre").inputs["voicing"]
        doubt = (voicing or 0.0) * (1 + VOICING_DOUBT)
        low, high = (change[0] for change in heard.spacing.changes(np.array([0]), np.array([primary])))
        difference = centre - mains
        evidence = self.standing.criterion_named("timbre").evidence
        return Response(
            centre=self.standing.speaker,
            mains=self.account.mains,
            seat=scene.seats.name[primary],
            frequency=tuple(erb.bands().tolist()),
            centre_level=tuple(centre.tolist()),
            mains_level=tuple(mains.tolist()),
            low=tuple((difference + np.minimum(np.minimum(low, high), 0.0) - doubt).tolist()),
            high=tuple((difference + np.maximum(np.maximum(low, high), 0.0) + doubt).tolist()),
            judged=JUDGED,
            evidence=evidence,
        )


def _across(kind: int, size_x: float, size_y: float) -> float:
    """The size at which a driver is drawn [m]: the diameter of a piston, else the shorter side or mouth."""
    return 2 * size_x if kind == loudspeaker.Radiator.PISTON else min(size_x, size_y)


def _about_mean(level: FloatArray) -> FloatArray:
    """A level less its own mean over the judged band [dB]."""
    bands = erb.bands()
    inside = (bands >= JUDGED[0] - 1e-6) & (bands <= JUDGED[1] + 1e-6)
    level = np.asarray(level, dtype=np.float64)
    return np.asarray(level - np.nanmean(level[inside]))
