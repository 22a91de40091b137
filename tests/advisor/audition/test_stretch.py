"""Which seconds are heard: around the worst place, inside the song, 10 to 15 s, and not where hardly anything plays."""

import pytest

from advisor.audition.stretch import stretch
from features.records.base import Course, Span
from tests import records

SONG_S = 200.0
DENSEST = Span(100.0, 130.0)


def course(quiet_until_s: int, quiet_lufs: float = -60.0) -> Course:
    return Course("LUFS", 1.5, 1.0, tuple(quiet_lufs if second < quiet_until_s else -18.0 for second in range(int(SONG_S) - 2)))


@pytest.mark.parametrize(
    ("place", "expected"),
    [
        (Span(50.0, 55.0), Span(46.5, 58.5)),
        (Span(60.0, 60.0), Span(54.0, 66.0)),
        (Span(0.0, 0.5), Span(0.0, 12.0)),
        (Span(199.0, 200.0), Span(188.0, 200.0)),
        (Span(40.0, 50.0), Span(38.0, 52.0)),  # a long place is heard whole, with what surrounds it
        (Span(40.0, 100.0), Span(64.0, 76.0)),
    ],
)
def test_the_stretch_lies_around_the_place_and_inside_the_song(place: Span, expected: Span) -> None:
    span = stretch((place,), DENSEST, None, SONG_S)
    assert (span.start_s, span.end_s) == pytest.approx((expected.start_s, expected.end_s))
    assert 10.0 <= span.end_s - span.start_s <= 15.0


def test_without_a_place_it_is_the_middle_of_the_densest_section() -> None:
    assert stretch((), DENSEST, None, SONG_S) == Span(109.0, 121.0)


@pytest.mark.parametrize("length_s", [0.2, 3.0, 12.5, 15.0])
def test_a_short_song_is_taken_whole(length_s: float) -> None:
    assert stretch((Span(0.1, 0.2),), DENSEST, None, length_s) == Span(0.0, length_s)


def test_a_place_where_hardly_anything_plays_gives_way_to_the_next() -> None:
    level = records.level(integrated_lufs=-18.0, short_term=course(40))
    assert stretch((Span(10.0, 15.0), Span(70.0, 75.0)), DENSEST, level, SONG_S) == Span(66.5, 78.5)
    assert stretch((Span(10.0, 15.0),), DENSEST, level, SONG_S) == Span(109.0, 121.0)
    fairly_quiet = records.level(integrated_lufs=-18.0, short_term=course(40, quiet_lufs=-35.0))
    assert stretch((Span(10.0, 15.0),), DENSEST, fairly_quiet, SONG_S) == Span(6.5, 18.5)


def test_where_nothing_is_loud_enough_the_first_place_stays() -> None:
    level = records.level(integrated_lufs=-18.0, short_term=course(500))
    assert stretch((Span(10.0, 15.0),), DENSEST, level, SONG_S) == Span(6.5, 18.5)
