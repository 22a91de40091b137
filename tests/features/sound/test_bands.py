"""Bands: nothing lost, nothing counted twice, at any rate."""

import numpy as np
import pytest

from features.sound import bands
from tests import signals


@pytest.mark.parametrize("rate_hz", [8000, 22050, 44100, 48000, 96000, 192000])
def test_every_bin_inside_is_shared_out_once(rate_hz: int) -> None:
    thirds = bands.third_octaves(rate_hz)
    shares = bands.band_matrix(thirds, rate_hz, 8192).sum(axis=1)
    low, high = bands.bin_cells(rate_hz, 8192)
    inside = (low >= thirds.low_hz[0]) & (high <= thirds.high_hz[-1])
    np.testing.assert_allclose(shares[inside], 1, atol=1e-5)
    assert shares[high < thirds.low_hz[0]].sum() == 0


@pytest.mark.parametrize("rate_hz", [8000, 16000, 44100, 192000])
def test_twelfths_lie_four_to_a_third(rate_hz: int) -> None:
    thirds, twelfths = bands.third_octaves(rate_hz), bands.twelfth_octaves(rate_hz)
    assert len(twelfths) == 4 * len(thirds)
    np.testing.assert_allclose(twelfths.low_hz[::4], thirds.low_hz)
    np.testing.assert_allclose(twelfths.high_hz[3::4], thirds.high_hz)


def test_bands_end_where_the_rate_does() -> None:
    assert bands.third_octaves(8000).centre_hz[-1] == pytest.approx(3162.28, abs=0.01)
    assert bands.third_octaves(44100).high_hz[-1] == 22050
    assert len(bands.octaves(48000)) == 10
    assert len(bands.erb_bands(96000)) == 41


def test_a_flat_spectrum_gives_the_widths() -> None:
    thirds = bands.third_octaves(signals.RATE_HZ)
    low, high = bands.bin_cells(signals.RATE_HZ, 8192)
    np.testing.assert_allclose((high - low) @ bands.band_matrix(thirds, signals.RATE_HZ, 8192), thirds.width_hz, rtol=1e-5)
