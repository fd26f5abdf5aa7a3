"""The words that records choose from, by the values that files and the database hold. Standard library only."""

from __future__ import annotations

from enum import Enum
from typing import Final


class Role(Enum):
    """What a loudspeaker is offered for."""

    MAIN = "main"
    CENTRE = "centre"
    SURROUND = "surround"
    HEIGHT = "height"
    SUB = "sub"


class Orientation(Enum):
    """The pose that width, height and axis height describe."""

    UPRIGHT = "upright"
    LYING = "lying"


class Enclosure(Enum):
    """How the rear of the bass drivers is loaded."""

    SEALED = "sealed"
    PORTED = "ported"
    PASSIVE_RADIATOR = "passive_radiator"
    TRANSMISSION_LINE = "transmission_line"
    OPEN_BACK = "open_back"


class PortLocation(Enum):
    """The face of the box that a port or a passive radiator is on."""

    FRONT = "front"
    REAR = "rear"
    SIDE = "side"
    TOP = "top"
    BOTTOM = "bottom"
    NONE = "none"


class SensitivityBasis(Enum):
    """The field in which a sensitivity was stated."""

    ANECHOIC = "anechoic"
    IN_ROOM = "in_room"
    HALF_SPACE = "half_space"
    UNKNOWN = "unknown"


class TweeterType(Enum):
    """How a tweeter is loaded; its material is another matter."""

    DOME = "dome"
    WAVEGUIDE_DOME = "waveguide_dome"
    HORN = "horn"
    RIBBON = "ribbon"
    FOLDED_RIBBON = "folded_ribbon"
    RING = "ring"
    CONE = "cone"


class PricePer(Enum):
    """What a price buys."""

    EACH = "each"
    PAIR = "pair"


class Tax(Enum):
    """Whether tax is in a price."""

    INCLUDED = "included"
    EXCLUDED = "excluded"


class SoldAs(Enum):
    """The smallest quantity a dealer sells."""

    SINGLE = "single"
    PAIR = "pair"
    EITHER = "either"


class Status(Enum):
    """Where a model stands in its life."""

    CURRENT = "current"
    LAST_OF_LINE = "last_of_line"
    DISCONTINUED = "discontinued"


class Evidence(Enum):
    """Where a number comes from."""

    MEASURED = "measured"
    STATED = "stated"
    MODELLED = "modelled"
    ASSUMED = "assumed"


class EquipmentKind(Enum):
    """What a piece of equipment is: what drives loudspeakers or plays to them, what bears them, what joins them."""

    RECEIVER = "receiver"
    AMPLIFIER = "amplifier"
    SOURCE = "source"
    STAND = "stand"
    MOUNT = "mount"
    SPEAKER_CABLE = "speaker_cable"
    SUB_CABLE = "sub_cable"


class SaleUnit(Enum):
    """What the price of a piece of equipment buys, and the least that is sold of it."""

    EACH = "each"
    PAIR = "pair"
    METRE = "metre"


class PlaceKind(Enum):
    """Somewhere a centre could stand."""

    CAVITY = "cavity"
    OPEN_SHELF = "open_shelf"
    TOP = "top"
    STAND = "stand"
    WALL = "wall"
    BEHIND_SCREEN = "behind_screen"


class Back(Enum):
    """Whether a piece of furniture has a back panel."""

    CLOSED = "closed"
    OPEN = "open"


class Hot(Enum):
    """Whether a place gets hot: above a fire, beside a stove."""

    NO = "no"
    YES = "yes"
    UNKNOWN = "unknown"


class WallKind(Enum):
    """What the wall behind a mount is made of."""

    MASONRY = "masonry"
    STUD = "stud"
    PLASTERBOARD = "plasterboard"
    UNKNOWN = "unknown"


class Floor(Enum):
    """What covers the floor between the front loudspeakers and the seats."""

    HARD = "hard"
    CARPET = "carpet"
    UNKNOWN = "unknown"


class CurveKind(Enum):
    """Where a response curve was taken; those of an orbit have an angle."""

    ON_AXIS = "on_axis"
    HORIZONTAL = "horizontal"
    VERTICAL = "vertical"
    LISTENING_WINDOW = "listening_window"
    IN_ROOM = "in_room"

    @property
    def orbit(self) -> bool:
        """Whether a curve of this kind has an angle."""
        return self in (CurveKind.HORIZONTAL, CurveKind.VERTICAL)


ALIASES: Final[dict[type[Enum], dict[str, str]]] = {
    Role: {
        "center": "centre",
        "mains": "main",
        "centres": "centre",
        "centers": "centre",
        "surrounds": "surround",
        "heights": "height",
        "subwoofer": "sub",
        "subs": "sub",
        "subwoofers": "sub",
    },
    Orientation: {"vertical": "upright", "horizontal": "lying"},
    Enclosure: {
        "closed": "sealed",
        "acoustic_suspension": "sealed",
        "vented": "ported",
        "reflex": "ported",
        "bass_reflex": "ported",
    },
    PortLocation: {"back": "rear"},
    EquipmentKind: {
        "av_receiver": "receiver",
        "power_amplifier": "amplifier",
        "player": "source",
        "bracket": "mount",
        "wall_mount": "mount",
        "loudspeaker_cable": "speaker_cable",
        "subwoofer_cable": "sub_cable",
    },
    SaleUnit: {"piece": "each", "meter": "metre", "m": "metre"},
}
"""Other spellings that can mean only one thing."""
