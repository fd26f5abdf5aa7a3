"""Triptych: the centre loudspeaker that sounds like the mains, in the room and the furniture there is."""
