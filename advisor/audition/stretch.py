"""Which seconds of the song a step is heard on."""

from collections.abc import Sequence

from features.records.base import Span
from features.records.level import Level

CLIP_S = 12.0
LONGEST_S = 15.0
AROUND_S = 2.0  # heard before and after a place that is long itself
FAR_BELOW_LU = 20.0  # a place that much quieter than the song says little at a moderate level


def stretch(places: Sequence[Span], densest: Span | None, level: Level | None, duration_s: float) -> Span:
    """Return 10 to 15 s around the first fitting place.

    It is one that is not far quieter than the song.

    Where every place is, and the densest section too, the first place is taken as it is. A song of up to 15 s is taken whole.
    """
    if duration_s <= LONGEST_S:
        return Span(0.0, duration_s)
    usual = densest or Span(0.0, duration_s)
    choices = [around(place, duration_s) for place in (*places, usual)]
    return next((span for span in choices if _loud_enough(span, level)), choices[0])


def around(place: Span, duration_s: float) -> Span:
    """Return the stretch of the song around a place.

    It is moved inside where it would pass an end.
    """
    middle = 0.5 * (place.start_s + place.end_s)
    long = place.end_s - place.start_s + 2.0 * AROUND_S
    length_s = min(max(CLIP_S, long), LONGEST_S) if long <= LONGEST_S else CLIP_S
    start = min(max(middle - 0.5 * length_s, 0.0), duration_s - length_s)
    return Span(start, start + length_s)


def _loud_enough(span: Span, level: Level | None) -> bool:
    if level is None or level.integrated_lufs is None:
        return True
    course = level.short_term
    inside = [
        value
        for place, value in enumerate(course.values)
        if value is not None and span.start_s <= course.start_s + place * course.step_s <= span.end_s
    ]
    return max(inside, default=-100.0) >= level.integrated_lufs - FAR_BELOW_LU
