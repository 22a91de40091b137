"""Every processor against truth: the lines of the table in `tests/benchmarks/standards/processors_table.py` that need no songs."""

import numpy as np
import pytest

from features.processors.equalisers import eq
from features.sound.signal import Signal
from tests.reference.processor_filters import Filter, bell_prototype, bells, cookbook, edges, filter_lines, lines_of, shelves
from tests.reference.processor_levels import level_lines
from tests.reference.processor_line import Line


@pytest.mark.parametrize("tool", [*bells(), *shelves(), *edges()], ids=lambda tool: f"{tool.name}, {tool.settings}")
def test_filters(tool: Filter) -> None:
    """At the rate where the bilinear transform bends most; the table has the others."""
    assert [str(line) for line in lines_of(tool, 44100) if not line.fits] == []


def test_levels_times_and_harmonics() -> None:
    lines = list(level_lines((44100,)))
    assert {"compressor, curve", "compressor, attack", "limiter, release", "clipped sine", "saturation"} <= {line.what for line in lines}
    assert [str(line) for line in lines if not line.fits] == []


def test_high_rate() -> None:
    lines = list(filter_lines((96000,)))
    assert {line.what for line in lines} >= {"bell", "low shelf", "high shelf", "high-pass", "low-pass"}
    assert [str(line) for line in lines if not line.fits] == []


def test_a_filter_a_tenth_of_a_db_off_does_not_fit() -> None:
    def off(s: Signal) -> Signal:
        return eq.bell(s, 250.0, -3.1, 1.4)

    wrong = Filter("bell", "wrong", 250.0, off, cookbook("bell", 250.0, -3.0, 1.4), bell_prototype(-3.0, 1.4))
    assert [line.fits for line in lines_of(wrong, 44100)] == [False, False, True]  # the last may bend by more than that


def test_lines_judge_both_ways_and_one_way() -> None:
    assert not Line("", "", "", 1.0, 1.2, 0.1, "dB").fits
    assert not Line("", "", "", 1.0, 0.8, 0.1, "dB").fits
    assert Line("", "", "", 1.0, 0.8, 0.1, "dB", at_most=True).fits
    assert not Line("", "", "", 1.0, 1.2, 0.1, "dB", at_most=True).fits
    assert not Line("", "", "", 1.0, float(np.nan), 0.1, "dB").fits
