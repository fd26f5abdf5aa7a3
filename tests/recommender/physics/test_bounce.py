"""The bounce against an image-source room of a general room-acoustics library, and its limits."""

from collections.abc import Iterator

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from triptych.recommender.physics.bounce import bounce_response, bounce_ripple, fresnel_share
from triptych.recommender.physics.constants import SPEED_OF_SOUND
from triptych.recommender.physics.reflection import (
    bounce_exists,
    largest_setback,
    notch_frequency,
    path_difference,
    reflected_level,
    reflection_point,
)

GRID = np.geomspace(170.0, 8200.0, 400)
height = st.floats(0.02, 2.0)
distance = st.floats(1.0, 8.0)


@pytest.fixture
def room_library() -> Iterator[object]:
    """Image-source room library, told our speed of sound and to leave its high-pass off."""
    import pyroomacoustics as pra  # type: ignore[import-untyped]  # the library has no types

    before = {name: pra.constants.get(name) for name in ("c", "rir_hpf_enable")}
    pra.constants.set("c", SPEED_OF_SOUND)
    pra.constants.set("rir_hpf_enable", False)
    yield pra
    for name, value in before.items():
        pra.constants.set(name, value)


@pytest.mark.slow  # the library of rooms takes a second to import
@pytest.mark.parametrize(
    ("source", "ear", "away"), [(1.2, 1.2, 3.0), (0.9, 1.1, 3.0), (1.0, 1.2, 4.0), (0.15, 0.90, 3.0)]
)
def test_notch_dip_and_peak_agree_with_an_image_source_room(
    room_library: object, source: float, ear: float, away: float
) -> None:
    frequency, level = simulated(room_library, source, ear, away)
    first = float(notch_frequency(path_difference(source, ear, away)))
    near = (frequency > 0.8 * first) & (frequency < 1.2 * first)
    lowest = frequency[near][np.argmin(level[near])]
    reflected = reflected_level(source, ear, away)
    assert lowest == pytest.approx(first, rel=3e-4)
    bounce = 10.0 ** (float(reflected) / 20.0)
    assert level[near].min() == pytest.approx(20.0 * np.log10(1.0 - bounce), abs=0.6)
    assert np.interp(2.0 * first, frequency, level) == pytest.approx(20.0 * np.log10(1.0 + bounce), abs=0.01)
    off_notch = (np.abs(frequency / first - 1.0) > 0.1) & (frequency > 50.0) & (frequency < 2.5 * first)
    ours = bounce_response(frequency[off_notch], source, ear, away)
    np.testing.assert_allclose(level[off_notch], ours, rtol=0, atol=0.05)


def simulated(library: object, source: float, ear: float, away: float) -> tuple[np.ndarray, np.ndarray]:
    """Level of a room with a floor alone against the direct sound's, from its impulse response."""
    pra, rate = library, 192000
    materials = pra.make_materials(east=1.0, west=1.0, north=1.0, south=1.0, ceiling=1.0, floor=1e-9)  # type: ignore[attr-defined]  # the library has no types
    room = pra.ShoeBox([20, 10, 10], fs=rate, materials=materials, max_order=1, air_absorption=False)  # type: ignore[attr-defined]  # the same
    room.add_source([5.0, 5.0, source])
    room.add_microphone([5.0 + away, 5.0, ear])
    room.compute_rir()
    spectrum = np.fft.rfft(room.rir[0][0], 2**20)
    direct = 1.0 / np.hypot(away, ear - source)
    return np.fft.rfftfreq(2**20, 1 / rate)[1:], 20.0 * np.log10(np.abs(spectrum[1:]) / direct)


@given(source=height, ear=height, away=distance, back=st.floats(0.0, 3.0), more=st.floats(0.0, 3.0))
def test_a_larger_setback_never_takes_a_bounce_away(
    source: float, ear: float, away: float, back: float, more: float
) -> None:
    assert bounce_exists(source, ear, away, back + more) >= bounce_exists(source, ear, away, back)
    shares = fresnel_share(GRID, source, ear, away, back), fresnel_share(GRID, source, ear, away, back + more)
    assert np.all(shares[1] >= shares[0])


@given(source=height, ear=height, away=distance)
def test_angles_of_arrival_and_departure_are_equal(source: float, ear: float, away: float) -> None:
    point = float(reflection_point(source, ear, away))
    assert source / point == pytest.approx(ear / (away - point), rel=1e-6)


@given(source=height, ear=height, away=distance)
def test_source_and_ear_may_change_places(source: float, ear: float, away: float) -> None:
    np.testing.assert_allclose(
        bounce_response(GRID, source, ear, away), bounce_response(GRID, ear, source, away), atol=1e-9
    )


@given(source=height, ear=height, away=distance)
def test_within_the_largest_setback_the_direct_sound_is_alone(source: float, ear: float, away: float) -> None:
    largest = float(largest_setback(source, ear, away))
    for share, bounces in ((0.999, False), (1.001, True)):
        back = share * largest
        assert bounce_exists(source, ear, away + back, back) == bounces
    back = 0.999 * largest
    np.testing.assert_array_equal(bounce_response(GRID, source, ear, away + back, setback=back), 0.0)


@given(source=height, ear=height, away=distance, back=st.floats(0.0, 1.0))
def test_the_largest_setback_is_where_the_reflection_point_meets_the_edge(
    source: float, ear: float, away: float, back: float
) -> None:
    largest = float(largest_setback(source, ear, away))
    assert float(reflection_point(source, ear, away + largest)) == pytest.approx(largest, rel=1e-9)
    assert bounce_exists(source, ear, away + back, back) == (back >= largest) or back == pytest.approx(largest)


def test_there_is_no_step_where_the_bounce_begins() -> None:
    edge = float(largest_setback(0.15, 0.9, 3.0))
    just = bounce_response(GRID, 0.15, 0.9, 3.0 + edge, setback=edge + 1e-4)
    assert np.max(np.abs(just)) < 0.02


def test_a_deep_shelf_gives_back_what_a_floor_does() -> None:
    high = GRID[GRID > 400.0]
    np.testing.assert_allclose(
        bounce_response(high, 0.15, 0.9, 3.0, setback=2.9), bounce_response(high, 0.15, 0.9, 3.0), atol=1e-9
    )


def test_a_source_that_sends_nothing_down_gets_no_bounce() -> None:
    np.testing.assert_allclose(bounce_response(GRID, 0.15, 0.9, 3.0, directivity=-200.0), 0.0, atol=1e-8)


def test_the_less_goes_down_the_less_it_ripples() -> None:
    weights = np.array([0.0, -3.0, -6.0, -12.0, -20.0])
    ripple = bounce_ripple(GRID, bounce_response(GRID, 0.15, 0.9, 3.0, directivity=weights[:, None]))
    assert np.all(np.diff(ripple.rms) < 0.0)
    assert np.all(np.diff(ripple.largest) < 0.0)


def test_an_unknown_height_stays_unknown_and_an_ear_below_has_none() -> None:
    assert np.isnan(bounce_response(1000.0, np.nan, 0.9, 3.0))
    assert np.isnan(largest_setback(np.nan, 0.9, 3.0))
    assert np.isnan(largest_setback(0.1, np.nan, 3.0))
    assert largest_setback(0.1, -0.2, 3.0) == np.inf
    assert not bounce_exists(0.1, -0.2, 3.0, np.inf)
    assert bounce_response(1000.0, 0.1, -0.2, 3.0) == 0.0


def test_candidates_go_side_by_side() -> None:
    sources = np.array([0.08, 0.15, 0.3])
    together = bounce_response(GRID, sources[:, None], 0.9, 3.0, setback=0.7)
    apart = [bounce_response(GRID, source, 0.9, 3.0, setback=0.7) for source in sources]
    np.testing.assert_array_equal(together, np.stack(apart))
