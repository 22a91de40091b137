"""Times, numbers, names and bars as the reader sees them."""

import pytest

from advisor.app.words import bars, course_points, frequency, number, plain, sentence, spans
from features.records.base import Course, Span


@pytest.mark.parametrize(
    ("hertz", "text"),
    [(31.62, "31.5 Hz"), (50.0, "50 Hz"), (251.2, "250 Hz"), (261.4, "260 Hz"), (3162.0, "3.15 kHz"), (10000.0, "10 kHz")],
)
def test_frequency_reads_like_an_equaliser(hertz: float, text: str) -> None:
    assert frequency(hertz) == text


def test_number_has_no_negative_zero_and_a_dash_for_nothing() -> None:
    assert (number(-0.04, 1, "dB"), number(None, 1, "dB"), number(12.25, 2)) == ("0.0 dB", "-", "12.25")


def test_names_from_files_cannot_write_markup() -> None:
    shown = plain("<script>*x*</script>[a](b)|`#\n_y_")
    assert shown == r"&lt;script&gt;\*x\*&lt;/script&gt;\[a\](b)\|\`#?\_y\_"


def test_an_underscore_inside_a_name_is_shown_as_it_is() -> None:
    assert plain("lead_vox_2.wav") == "lead_vox_2.wav"


def test_spans_are_sorted_joined_and_short_ones_are_single_times() -> None:
    where = [Span(70.0, 80.0), Span(10.0, 10.5), Span(75.0, 90.0)]
    assert spans(where) == "0:10, 1:10-1:30"


def test_bars_run_from_low_to_high_and_show_silence_as_dots() -> None:
    assert bars([None, -30.0, -18.0, -6.0], -30.0, -6.0) == "·▁▅█"


def test_course_keeps_the_loudest_of_each_stretch() -> None:
    points, step = course_points(Course("LUFS", 0.0, 1.0, (1.0, None, 5.0, 2.0)), most=2)
    assert (points, step) == ([1.0, 5.0], 2.0)


def test_sentence_ends_once() -> None:
    assert (sentence("a\n b"), sentence("done.")) == ("a b.", "done.")
