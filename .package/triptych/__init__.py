"""Triptych: the centre loudspeaker that sounds like the mains, in the room and the furniture there is.

`recommender/API.md` shows what an open catalogue can be asked.
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from triptych.recommender.api import Catalogue as Catalogue
    from triptych.recommender.api import open_catalogue as open_catalogue

    __version__: str

__all__ = ["Catalogue", "__version__", "open_catalogue"]


def __getattr__(name: str) -> Any:
    # late, so that a command that needs neither pays for neither
    if name == "__version__":
        from importlib.metadata import version

        return version("triptych")
    if name in __all__:
        from triptych.recommender import api

        return getattr(api, name)
    raise AttributeError(f"module 'triptych' has no attribute {name!r}")
