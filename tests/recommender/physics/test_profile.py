"""Fast kernel and stored profile held to the direct model; packing; timbre and coverage made from them."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from tests.benchmarks import bench_polar
from tests.quick_ones import quick_of
from tests.recommender.physics.boxes import catalogue, columns, far_away, power
from triptych.recommender.physics import coverage, erb, timbre
from triptych.recommender.physics import profile as profiles
from triptych.recommender.physics.checks import OutOfRange
from triptych.recommender.physics.description import describe
from triptych.recommender.physics.loudspeaker import Sources, pressure, pressure_at, take
from triptych.recommender.physics.profile import Profile
from triptych.recommender.physics.spherical import OFF_AT_MOST, power_at, size_at


@pytest.fixture(scope="module")
def varied() -> Sources:
    return describe(catalogue(160, seed=3))


@pytest.fixture(scope="module")
def stored(varied: Sources) -> Profile:
    return profiles.profile(varied)


def level_at(plane: NDArray[np.uint16], angle: float) -> NDArray[np.float32]:
    """The levels at one angle. [dB]."""
    return profiles.levels_at(plane, [angle])[:, 0]


def direct_levels(sources: Sources, azimuth: float, elevation: float) -> np.ndarray:
    """Smoothed levels of the direct model, converged: 24 frequencies a band."""
    field = pressure(sources, erb.fine_grid(24), azimuth, elevation)[:, 0]
    return np.asarray(10 * np.log10(np.maximum(erb.band_power(np.abs(field) ** 2), profiles.FLOOR)))


@pytest.mark.whole
@pytest.mark.parametrize(
    ("azimuth", "elevation"),
    [(np.arange(-75, 76, 7.5), 0.0), (0.0, np.arange(-75, 76, 7.5)), ([25.0, -140, 180, 90], [12.0, -30, 0, 5])],
)
def test_the_fast_kernel_is_the_direct_model(varied: Sources, azimuth: object, elevation: object) -> None:
    frequency = erb.fine_grid(3)
    exact = np.abs(pressure(varied, frequency, azimuth, elevation)) ** 2  # type: ignore[arg-type]  # parametrised
    fast = power(varied, frequency, azimuth, elevation)  # type: ignore[arg-type]  # parametrised
    heard = exact > 10**-1.2
    np.testing.assert_allclose(10 * np.log10(fast[heard] / exact[heard]), 0.0, atol=2e-3)
    np.testing.assert_allclose(fast, exact, atol=3e-4)


@pytest.mark.parametrize("layout", ["WMT", "TMW", "MT", "MTMM", "T/M W"])
@pytest.mark.parametrize("order", [3, 4])
def test_the_fast_kernel_is_the_direct_model_of_a_lopsided_box(layout: str, order: int) -> None:
    """Where no driver pairs with another one of them is the origin, which the power must not tell."""
    draw = np.random.default_rng(5)
    box = columns(
        12,
        lying=True,
        layout=layout,
        tweeter_type="dome",
        tweeter_size=draw.uniform(0.019, 0.029, 12),
        midrange_size=draw.uniform(0.08, 0.12, 12),
        woofer_size=draw.uniform(0.11, 0.2, 12),
        crossover_order=order,
    )
    sources = describe(box)
    assert sources.usable.all()
    frequency = erb.fine_grid(3)[::-1]
    azimuth, elevation = np.array([-40.0, -7, 0, 7, 40, 100, 170]), np.array([0.0, 3, 0, 0, -12, 5, 0])
    exact = np.abs(pressure(sources, frequency, azimuth, elevation)) ** 2
    np.testing.assert_allclose(power(sources, frequency, azimuth, elevation), exact, atol=3e-4)


@pytest.mark.slow
@pytest.mark.parametrize("layout", ["W(T/M)W", "MTM", "WMTMW", "WMT"])
def test_the_fast_kernel_outruns_the_plain_form(layout: str) -> None:
    """Side by side in one run; the benchmark's own figure is 4.7 to 9 on a quiet machine, this only sees a collapse."""
    sources = bench_polar.one_of_each(layout, 600)
    slow = bench_polar.best(lambda: bench_polar.plain(sources), 3)
    fast = bench_polar.best(lambda: power(sources, bench_polar.FREQUENCY, bench_polar.AZIMUTH, 0.0), 5)
    assert fast * 2 < slow


ANGLES = [-60.0, -47.3, -33.3, -18.9, -7.1, -0.4, 0.0, 4.95, 13.56, 25.01, 38.7, 53.84, 60.0]


@pytest.mark.parametrize("angle", quick_of(ANGLES, [-33.3, 60.0]))
def test_the_stored_profile_gives_the_direct_figures_at_every_angle(
    varied: Sources, stored: Profile, angle: float
) -> None:
    """Within 0.1 dB down to 40 dB under the axis, nulls of wide pairs included."""
    across, along = direct_levels(varied, angle, 0), direct_levels(varied, 0, angle)
    np.testing.assert_allclose(level_at(stored.planes[:, 0], angle), across, atol=0.1)
    np.testing.assert_allclose(level_at(stored.planes[:, 1], angle), along, atol=0.1)
    assert across.min() < -6 or abs(angle) < 20


def test_one_angle_a_few_angles_and_an_angle_each_agree(stored: Profile) -> None:
    angles = np.linspace(-65, 70, len(stored))
    each = profiles.level_at_each(stored.planes[:, 0], angles)
    few = profiles.levels_at(stored.planes[:, 0], angles[:5])
    for i in range(5):
        np.testing.assert_allclose(few[:, i], level_at(stored.planes[:, 0], float(angles[i])), atol=1e-4)
        np.testing.assert_allclose(each[i], few[i, i], atol=1e-3)


def test_an_unknown_angle_stays_unknown(stored: Profile) -> None:
    angles = np.full(len(stored), 10.0)
    angles[3] = np.nan
    unknown = np.isnan(profiles.level_at_each(stored.planes[:, 1], angles))
    assert unknown[3].all()
    assert not np.delete(unknown, 3, axis=0).any()


@pytest.mark.parametrize("angle", [-72.1, 73.0, 180.0])
def test_an_angle_beyond_the_profile_is_refused(stored: Profile, angle: float) -> None:
    with pytest.raises(OutOfRange, match="angle"):
        level_at(stored.planes[:, 0], angle)


def test_the_axis_is_zero_decibels(stored: Profile) -> None:
    np.testing.assert_allclose(level_at(stored.planes[:, 0], 0), 0.0, atol=1e-3)


def test_packing_and_unpacking_is_the_identity(stored: Profile) -> None:
    again = profiles.unpack(profiles.pack(stored))
    for name in ("planes", "sound_power", "listening_window", "usable"):
        np.testing.assert_array_equal(getattr(again, name), getattr(stored, name))
    np.testing.assert_allclose(again.spacing_high, stored.spacing_high, rtol=1e-6)
    for name in profiles.FLAGS:
        np.testing.assert_array_equal(getattr(again.assumed, name), getattr(stored.assumed, name))


def test_nothing_unpacks_to_nothing() -> None:
    assert len(profiles.unpack([])) == 0


def test_a_blob_of_another_size_or_version_is_refused(stored: Profile) -> None:
    blob = profiles.pack(stored)[0]
    with pytest.raises(OutOfRange, match="bytes"):
        profiles.unpack([blob[:-1]])
    with pytest.raises(OutOfRange, match="version"):
        profiles.unpack([b"\xff" + blob[1:]])


def test_sound_power_is_what_integration_over_the_sphere_gives() -> None:
    """A round source: rings of ten degrees against Gauss's rule in the cosine."""
    box = describe(columns(layout="(TM)", woofer_size=0.165, tweeter_size=0.025, width=0.2, height=0.3))
    cosine, weight = np.polynomial.legendre.leggauss(96)
    field = pressure(box, erb.fine_grid(6), np.degrees(np.arccos(cosine)), 0)[0]
    whole = np.einsum("d,db->b", weight / 2, erb.band_power(np.abs(field) ** 2))
    ringed = profiles.decibels(profiles.profile(box).sound_power)[0]
    np.testing.assert_allclose(ringed, 10 * np.log10(whole), atol=0.1)


def test_sound_power_of_a_small_source_is_that_of_the_axis() -> None:
    box = describe(columns(layout="T", tweeter_size=0.01, width=0.04, height=0.04))
    assert abs(profiles.decibels(profiles.profile(box).sound_power)[0, 0]) < 0.05


def test_an_unusable_loudspeaker_has_a_profile_that_says_so() -> None:
    mixed = profiles.profile(describe(columns(2, layout=np.array([None, "TM"], dtype=object))))
    assert mixed.usable.tolist() == [False, True]
    assert profiles.unpack(profiles.pack(mixed)).usable.tolist() == [False, True]


def test_a_factor_on_the_spacing_is_a_change_of_angle_for_small_drivers(varied: Sources) -> None:
    box = describe(columns(layout="MTM", lying=True, woofer_size=0.08, woofer_spacing=0.2, tweeter_size=0.02))
    wider = describe(columns(layout="MTM", lying=True, woofer_size=0.08, woofer_spacing=0.24, tweeter_size=0.02))
    angle = np.degrees(np.arcsin(1.2 * np.sin(np.radians(15))))
    near = level_at(profiles.profile(box).planes[:, 0], float(angle))
    np.testing.assert_allclose(near, level_at(profiles.profile(wider).planes[:, 0], 15.0), atol=0.5)
    assert len(varied) > 1


def test_both_smoothings_agree(varied: Sources) -> None:
    frequency = np.geomspace(150, 9000, 6000)
    few = take(varied, slice(0, 8))
    even = erb.smooth(frequency, np.abs(pressure(few, frequency, 24, 0)[:, 0]) ** 2)
    np.testing.assert_allclose(10 * np.log10(np.maximum(even, profiles.FLOOR)), direct_levels(few, 24, 0), atol=0.02)


def test_smoothing_needs_the_whole_range_and_rising_frequencies() -> None:
    for frequency in ([250.0, 9000.0], [150.0, 7000.0], [150.0, 150.0, 9000.0]):
        with pytest.raises(OutOfRange, match="frequency must rise"):
            erb.smooth(frequency, np.ones(len(frequency)))


@given(frequency=st.floats(0, 20000))
def test_the_erb_scale_goes_there_and_back(frequency: float) -> None:
    assert float(erb.frequency_at(erb.erb_number(frequency))) == pytest.approx(frequency, abs=1e-6)


def test_bands_are_one_bandwidth_apart_and_the_scale_counts_bandwidths() -> None:
    np.testing.assert_allclose(np.diff(erb.erb_number(erb.bands())), 1.0, rtol=1e-12)
    middle = erb.frequency_at(erb.erb_number(erb.bands()[:-1]) + 0.5)
    # Glasberg and Moore (1990): a bandwidth is 24.7 (4.37 F + 1) Hz, F in kHz
    np.testing.assert_allclose(np.diff(erb.bands()) / (24.7 * (4.37e-3 * middle + 1)), 1.0, rtol=0.01)


@pytest.mark.parametrize("frequency", [250.0, 500.0, 1000.0, 2000.0, 4000.0])
def test_a_band_is_as_wide_as_the_standard_on_loudness_says(frequency: float) -> None:
    """ANSI/ASA S3.4-2007 as given in its term 6.31 (read there): 24.673 (0.004368 f + 1) Hz."""
    number = float(erb.erb_number(frequency))
    width = float(erb.frequency_at(number + 0.05) - erb.frequency_at(number - 0.05)) / 0.1
    assert width == pytest.approx(24.673 * (0.004368 * frequency + 1), rel=0.004)


@given(level=st.floats(-30, 30), shape=st.lists(st.floats(-20, 20), min_size=2, max_size=28))
def test_a_difference_in_level_is_none_in_timbre(level: float, shape: list[float]) -> None:
    assert float(timbre.shape_difference(np.array(shape) + level, shape)) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.whole
def test_a_tilt_of_one_decibel_an_octave_over_three_octaves() -> None:
    """Published closed form: 0.866025 dB rms."""
    octaves = (np.arange(20000) + 0.5) / 20000 * 3
    assert float(timbre.shape_difference(octaves, 0 * octaves)) == pytest.approx(0.866025, rel=1e-6)


def test_a_pair_differs_by_the_same_among_others_as_alone_whatever_bands_it_lacks() -> None:
    random = np.random.default_rng(7)
    ours, theirs = (random.normal(0, 5, (count, 2, 3, 28)).astype(np.float32) for count in (9, 4))
    ours[3, ..., :2], ours[5, ..., 26:], theirs[2, ..., :3], ours[7] = np.nan, np.nan, np.nan, np.nan
    pairs = ((0, 0), (1, 1), (0, 1))
    whole = timbre.seat_products(ours, theirs, pairs)
    for column in range(len(ours)):
        for row in range(len(theirs)):
            alone = timbre.seat_products(ours[[column]], theirs[[row]], pairs)[:, 0, 0]
            np.testing.assert_array_equal(whole[:, row, column], alone)
            apart = (ours[column] - theirs[row]).astype(float)
            if column == 7:
                assert np.isnan(alone).all()
                continue
            apart -= np.nanmean(apart[:, :1], axis=2, keepdims=True)
            for pair, (one, other) in zip(alone, pairs, strict=True):
                by_seat = np.nanmean(apart[one] * apart[other], axis=1)
                assert pair == pytest.approx(by_seat @ timbre.seat_weights(3), rel=1e-4, abs=1e-5)


def test_kinship_brings_voices_nearer_and_another_loading_sets_them_apart() -> None:
    words = ["identical", "family", "maker", "unrelated"]
    alike, unlike = timbre.voicing_difference(words, False), timbre.voicing_difference(words, True)
    assert np.all(np.diff(alike) > 0)
    np.testing.assert_allclose(unlike**2 - alike**2, 1.5**2)


def test_another_word_of_kinship_is_refused() -> None:
    with pytest.raises(OutOfRange, match="cousin"):
        timbre.voicing_difference(["family", "cousin"])


@given(
    seen=st.floats(0, 1), more=st.floats(0, 1), relation=st.sampled_from(["identical", "family", "maker", "unrelated"])
)
def test_what_a_model_sees_only_takes_from_voicing(seen: float, more: float, relation: str) -> None:
    least, most = sorted((seen, more))
    assert timbre.voicing_difference(relation, seen=most) <= timbre.voicing_difference(relation, seen=least) + 1e-12


def test_a_wide_two_way_dips_where_a_stacked_three_way_does_not() -> None:
    """Trade figures: 0.28 m at 2.4 kHz is 6.4 dB down at 15 deg, 0.42 m at 350 Hz 0.3 dB."""
    both = describe(
        columns(2, layout=np.array(["MTM", "W(T/M)W"], dtype=object), lying=True, woofer_size=0.133, midrange_size=0.1,
                tweeter_size=0.025, woofer_spacing=[0.28, 0.42], crossover_order=4,
                crossover=[[2400, np.nan, np.nan], [350, 2600, np.nan]])
    )  # fmt: skip
    dip = coverage.seat_dip(both, np.tile(far_away(15.0), (2, 1)))
    np.testing.assert_allclose(dip.level, [-6.4, -0.3], atol=0.05)
    levels = level_at(profiles.profile(both).planes[:, 0], 15.0)
    assert coverage.deepest_dip(levels)[0] < -5
    assert coverage.spread(levels)[1] < 0.5


def test_a_seat_on_the_axis_has_no_dip() -> None:
    dip = coverage.seat_dip(describe(columns(3, layout="MTM", lying=True)), np.tile(far_away(0.0), (3, 1)))
    np.testing.assert_allclose(dip.level, 0.0, atol=1e-6)


@pytest.mark.whole
def test_a_dip_is_the_lowest_of_the_exact_response() -> None:
    """Whoever is worked out beside it, though most frequencies are passed over by what single precision tells."""
    sources, draw = describe(catalogue(120, seed=8)), np.random.default_rng(8)
    points = np.stack(
        [draw.uniform(-2, 2, (120, 3)), draw.uniform(-0.5, 0.5, (120, 3)), draw.uniform(1, 4, (120, 3))], -1
    )
    grid = coverage._grid()
    exact = np.abs(pressure_at(sources, grid, points))
    told = size_at(sources, points, grid)
    np.testing.assert_array_equal(np.isnan(told), np.isnan(exact))
    assert np.nanmax(np.abs(told - exact)) < OFF_AT_MOST
    dip, usable = coverage.seat_dip(sources, points), sources.usable
    np.testing.assert_array_equal(np.isnan(dip.level), np.broadcast_to(~usable[:, None], dip.level.shape))
    lowest = np.clip(exact[usable].argmin(axis=2), 1, grid.size - 2)
    beside = np.take_along_axis(20 * np.log10(exact[usable]), lowest[..., None], axis=2)[..., 0]
    assert (dip.level[usable] <= beside + 1e-9).all()
    assert (np.abs(np.log2(dip.frequency[usable] / grid[lowest])) <= 1.001 / coverage.HEARD_PER_OCTAVE).all()
    alone = coverage.seat_dip(take(sources, [3]), points[[3]])
    np.testing.assert_allclose([alone.level[0], alone.frequency[0]], [dip.level[3], dip.frequency[3]], rtol=1e-9)


def test_pressures_at_frequencies_of_their_own_are_those_at_all() -> None:
    sources, grid = describe(catalogue(90, seed=4)), coverage._grid()
    points, own = np.tile(far_away(20.0, 5.0) / 3e4, (90, 1, 1)), np.arange(90) % grid.size
    together = pressure_at(sources, grid, points)[np.arange(90), 0, own]
    alone = pressure_at(sources, grid[own[:, None]], points)[:, 0, 0]
    np.testing.assert_allclose(alone, together, rtol=1e-9, atol=1e-12)


def test_dips_of_none_are_none() -> None:
    none = describe(columns(1, layout="TM"))
    assert coverage.seat_dip(take(none, np.zeros(1, bool)), np.empty((0, 3))).level.shape == (0,)


@given(spacing=st.floats(0.1, 1.0), angle=st.floats(1, 89), distance=st.floats(1.0, 10.0))
def test_a_wider_pair_cancels_lower(spacing: float, angle: float, distance: float) -> None:
    def null(apart: float) -> float:
        return float(coverage.first_null([-apart / 2, 0], [apart / 2, 0], distance * far_away(angle) / 1e5))

    assert null(spacing * 1.1) < null(spacing)


def seats_at_random(count: int, seats: int) -> np.ndarray:
    draw = np.random.default_rng(11)
    low, high = np.array([-1.5, -0.6, 1.2]), np.array([1.5, 0.6, 4.0])
    return draw.uniform(low, high, (count, seats, 3))


@pytest.mark.slow
def test_power_by_exact_paths_is_the_direct_model_at_a_distance(varied: Sources) -> None:
    """Within 0.1 dB down to 40 dB under the axis, at seats of all kinds."""
    points = seats_at_random(len(varied), 4)
    exact = erb.band_power(np.abs(pressure_at(varied, erb.fine_grid(24), points)) ** 2)
    fast = power_at(varied, points)
    np.testing.assert_allclose(10 * np.log10(fast / exact), 0.0, atol=0.1)


@pytest.mark.parametrize("layout", ["WMT", "TMW", "T/M W", "TMWW"])
@pytest.mark.parametrize("order", [3, 4])
def test_power_by_exact_paths_of_a_lopsided_box(layout: str, order: int) -> None:
    box = columns(6, lying=True, layout=layout, tweeter_type="horn", tweeter_size=0.1, woofer_size=0.15,
                  crossover_order=order)  # fmt: skip
    sources = describe(box)
    points = seats_at_random(len(sources), 3)
    exact = erb.band_power(np.abs(pressure_at(sources, erb.fine_grid(24), points)) ** 2)
    np.testing.assert_allclose(10 * np.log10(power_at(sources, points) / exact), 0.0, atol=0.1)


@pytest.mark.whole
def test_power_by_exact_paths_behind_a_box_and_of_no_box(varied: Sources) -> None:
    points = -seats_at_random(len(varied), 2)
    exact = erb.band_power(np.abs(pressure_at(varied, erb.fine_grid(24), points)) ** 2)
    np.testing.assert_allclose(power_at(varied, points), exact, atol=2e-3)
    unusable = describe(columns(1, layout=None))
    assert np.isnan(power_at(unusable, points[:1])).all()
