"""Property tests without a stopwatch: a busy machine is no counterexample."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
