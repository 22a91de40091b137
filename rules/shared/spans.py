"""Where to listen: the spans that a finding points to."""

from features.records.base import Course, Moment, Span
from features.records.spectrum import Spectrum

MOST_SPANS = 3


def spans_of(moments: tuple[Moment, ...]) -> tuple[Span, ...]:
    """Return the first few moments as spans."""
    return tuple(Span(moment.start_s, moment.end_s) for moment in moments[:MOST_SPANS])


def extreme_stretch(course: Course, length_s: float, *, highest: bool) -> tuple[Span, ...]:
    """Return the stretch where a course is highest or lowest.

    About ``length_s`` long, on average; none if it never plays so long.
    """
    steps = max(round(length_s / course.step_s), 1)
    best: tuple[float, int] | None = None
    for start in range(len(course.values) - steps + 1):
        playing = [value for value in course.values[start : start + steps] if value is not None]
        if len(playing) < steps:
            continue
        key = sum(playing) / steps if highest else -sum(playing) / steps
        if best is None or key > best[0]:
            best = (key, start)
    if best is None:
        return ()
    start_s = course.start_s + best[1] * course.step_s
    return (Span(start_s, start_s + steps * course.step_s),)


def loudest_of(spectrum: Spectrum, low_hz: float, high_hz: float) -> tuple[Span, ...]:
    """Return where the strongest of some bands is loudest.

    None when it was not measured.
    """
    bands = zip(spectrum.third_octave_hz, spectrum.third_octave_db, spectrum.band_loudest, strict=False)
    chosen = [(curve_db, span) for hz, curve_db, span in bands if low_hz <= hz <= high_hz]
    return (max(chosen, key=lambda band: band[0])[1],) if chosen else ()
