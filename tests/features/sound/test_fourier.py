"""The transforms are scipy's, loaded alone or through its own door."""

import subprocess
import sys
from typing import Any

import numpy as np
import pytest
import scipy.fft
from numpy.typing import NDArray

from features.sound import fourier


@pytest.fixture(params=["alone", "through scipy.fft"])
def way(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Use the compiled file alone, then as if it were not there."""
    if request.param != "alone":
        monkeypatch.setattr(fourier, "COMPILED", None)
    fourier.next_fast_len.cache_clear()
    return str(request.param)


def test_the_compiled_file_is_where_it_is_expected() -> None:
    assert fourier.COMPILED is not None


@pytest.mark.usefixtures("way")
@pytest.mark.parametrize("dtype", [np.float32, np.float64, np.int64])
@pytest.mark.parametrize("size", [None, 50, 64, 81])
def test_transforms_equal_scipys(dtype: type, size: int | None) -> None:
    values: NDArray[Any] = (100 * np.random.default_rng(3).normal(size=(3, 64, 5))).astype(dtype)
    spectrum = fourier.rfft(values, size, axis=1)
    expected = scipy.fft.rfft(values, size, axis=1)
    assert spectrum.dtype == expected.dtype
    np.testing.assert_array_equal(spectrum, expected)
    back, expected = fourier.irfft(spectrum, size, axis=1), scipy.fft.irfft(spectrum, size, axis=1)
    assert back.dtype == expected.dtype
    np.testing.assert_array_equal(back, expected)
    np.testing.assert_array_equal(fourier.ifft(spectrum, axis=1), scipy.fft.ifft(spectrum, axis=1))


@pytest.mark.usefixtures("way")
def test_fast_lengths_equal_scipys() -> None:
    for least in range(1, 3000, 7):
        assert fourier.next_fast_len(least) == scipy.fft.next_fast_len(least)
        assert fourier.next_fast_len(least, real=True) == scipy.fft.next_fast_len(least, real=True)


def test_a_transform_does_not_import_scipy_fft() -> None:
    program = "import sys; from features.sound import fourier; fourier.rfft([1.0, 2.0]); sys.exit('scipy.fft' in sys.modules)"
    subprocess.run([sys.executable, "-c", program], check=True)
