"""What is compiled gives the numbers of the plain kernel, for every layout and all around a box."""

from __future__ import annotations

import numpy as np
import pytest

from tests.recommender.physics.boxes import catalogue, power
from triptych.recommender.physics import compiled, loudspeaker
from triptych.recommender.physics.description import describe
from triptych.recommender.physics.profile import profile

COUNT = 300
FREQUENCY = np.geomspace(100, 16_000, 40)


@pytest.fixture
def with_compiler(monkeypatch: pytest.MonkeyPatch) -> None:
    pytest.importorskip("numba")
    monkeypatch.setattr(compiled, "WORTH_LOADING", 1)


@pytest.mark.slow
@pytest.mark.usefixtures("with_compiler")
@pytest.mark.parametrize(
    ("azimuth", "elevation"), [(np.arange(-180.0, 180.0, 15.0), 0.0), (0.0, np.arange(-90.0, 91.0, 15.0))]
)
def test_the_compiled_field_is_the_plain_one(
    monkeypatch: pytest.MonkeyPatch, azimuth: np.ndarray, elevation: np.ndarray
) -> None:
    sources = describe(catalogue(COUNT))
    quick = power(sources, FREQUENCY, azimuth, elevation)
    monkeypatch.setattr(compiled, "WORTH_LOADING", COUNT + 1)
    plain = power(sources, FREQUENCY, azimuth, elevation)
    assert (quick != plain)[np.isfinite(plain)].any()  # it is another way
    assert np.array_equal(np.isnan(quick), np.isnan(plain))
    heard = plain > 10**-4.0
    assert np.abs(10 * np.log10(quick[heard] / plain[heard])).max() < 1e-3
    rest = np.isfinite(plain) & ~heard
    assert np.abs(np.sqrt(quick[rest]) - np.sqrt(plain[rest])).max() < 1e-5


@pytest.mark.slow
@pytest.mark.usefixtures("with_compiler")
def test_the_compiled_field_is_that_of_the_reference() -> None:
    sources = describe(catalogue(60, seed=3))
    turn = np.array([0.0, 10.0, 25.0, 40.0, 75.0])
    exact = np.abs(loudspeaker.pressure(sources, FREQUENCY, turn, 0.0)) ** 2
    quick = power(sources, FREQUENCY, turn, 0.0)
    heard = exact > 0.1
    assert np.abs(10 * np.log10(quick[heard] / exact[heard])).max() < 0.005


@pytest.mark.slow
@pytest.mark.usefixtures("with_compiler")
def test_stored_profiles_are_off_by_no_more_than_the_last_place(monkeypatch: pytest.MonkeyPatch) -> None:
    sources = describe(catalogue(COUNT, seed=5))
    quick = profile(sources)
    monkeypatch.setattr(compiled, "WORTH_LOADING", COUNT + 1)
    plain = profile(sources)
    for name in ("planes", "sound_power", "listening_window"):
        apart = np.abs(getattr(quick, name).astype(int) - getattr(plain, name).astype(int))
        assert apart.max() <= 1, name


def test_few_are_worked_out_plainly() -> None:
    assert not compiled.pays(compiled.WORTH_LOADING - 1)
