"""Small words the report is made of.

Times, numbers, names, bars.
"""

import re
from collections.abc import Sequence
from typing import Protocol

from features.records.base import Course, Span
from features.sound.clock import clock

STOPPED_BY = {
    "distortion": "the limiter's distortion is heard",
    "pumping": "the limiter starts to pump",
    "hits": "punch is lost",
    "density": "more drive adds almost no loudness",
    "none": "the test went no further",
}
STAGES = {"mixing": "in the mix", "mastering": "in mastering", "delivery": "in the file"}
TOPICS = {
    "balance": "Balance",
    "low-end": "Low end",
    "tone": "Tone",
    "space": "Space and width",
    "masking": "Masking",
    "dynamics": "Dynamics",
    "distortion": "Distortion",
    "loudness": "Loudness",
    "delivery": "The file",
}
SURE = {"high": "very likely", "medium": "likely", "low": "possible"}
SENTENCE_END = re.compile(r"(?<=[.?!]) (?=[A-Z0-9'“])")
_BARS = "▁▂▃▄▅▆▇█"


def lowered(title: str) -> str:
    """Return a title as it stands inside a sentence.

    A word of capitals keeps them.

    >>> lowered("Too much around 300 Hz"), lowered("DC offset")
    ('too much around 300 Hz', 'DC offset')
    """
    first = title.split(maxsplit=1)[0]
    return title if len(first) > 1 and first.isupper() else title[:1].lower() + title[1:]


class Stretch(Protocol):
    """Anything that lies between two times of the song."""

    @property
    def start_s(self) -> float:
        """Where it starts."""

    @property
    def end_s(self) -> float:
        """Where it ends."""


def span(where: Stretch) -> str:
    """Return one stretch in words.

    A single time when it is shorter than two seconds.
    """
    start, end = where.start_s, where.end_s
    return f"{clock(start)}-{clock(end)}" if end - start >= 2.0 else clock(start)


def spans(where: Sequence[Stretch], most: int = 4) -> str:
    """Return stretches in the song's order.

    At most ``most`` of them, overlapping ones joined.
    """
    joined: list[Span] = []
    for stretch in sorted(where[:most], key=lambda stretch: stretch.start_s):
        if joined and stretch.start_s <= joined[-1].end_s:
            joined[-1] = Span(joined[-1].start_s, max(joined[-1].end_s, stretch.end_s))
        else:
            joined.append(Span(stretch.start_s, stretch.end_s))
    return ", ".join(dict.fromkeys(span(stretch) for stretch in joined))


THIRD_OCTAVES_HZ = tuple(
    decade * first for decade in (10.0, 100.0, 1000.0, 10_000.0) for first in (1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0)
)
NEAR_A_BAND = 0.01


def third_octave(hertz: float) -> str:
    """Return a band by its usual name.

    >>> third_octave(251.19), third_octave(1258.9)
    ('250 Hz', '1.25 kHz')
    """
    return _with_unit(min(THIRD_OCTAVES_HZ, key=lambda name: abs(name / hertz - 1.0)))


def frequency(hertz: float) -> str:
    """Return a frequency the way it is dialled in.

    The name of a third octave where it is one, else two digits.

    >>> frequency(97.6), frequency(261.4), frequency(125.9), frequency(12500.0)
    ('98 Hz', '260 Hz', '125 Hz', '12.5 kHz')
    """
    named = any(abs(name / hertz - 1.0) <= NEAR_A_BAND for name in THIRD_OCTAVES_HZ) if hertz > 0.0 else False
    return third_octave(hertz) if named else _with_unit(float(f"{hertz:.2g}"))


def _with_unit(hertz: float) -> str:
    return f"{hertz / 1000.0:g} kHz" if hertz >= 1000.0 else f"{hertz:g} Hz"


def number(value: float | None, digits: int = 1, unit: str = "") -> str:
    """Return a number with its unit, or a dash.

    Never a negative zero.
    """
    if value is None:
        return "-"
    rounded = round(value, digits) + 0.0
    return f"{rounded:.{digits}f} {unit}".strip()


OBEYED = re.compile(r"[\\`*\[\]|]|(?<![^\W_])_|_(?![^\W_])")  # by Markdown inside a line; no text of ours starts one with a name
JOINER = "\u200d"  # joins emoji, and does nothing else


def plain(text: str) -> str:
    r"""Make any text safe inside Markdown and HTML.

    Names from files are shown, never obeyed.
    An underscore inside a word is no mark-up, and stays.

    >>> plain("lead_vox *2* <b>"), plain("_x & y"), plain("R&amp;B")
    ('lead_vox \\*2\\* &lt;b&gt;', '\\_x & y', 'R&amp;amp;B')
    """
    shown = "".join(char if char.isprintable() or char == JOINER else "?" for char in text)
    shown = re.sub(r"&(?=#?\w+;)", "&amp;", shown).replace("<", "&lt;").replace(">", "&gt;")
    return OBEYED.sub(r"\\\g<0>", shown)


def scale_bottom(points: Sequence[float | None]) -> float:
    """Return the lower end of a scale for points.

    It shows where they differ: 8 to 24 dB under the highest, as far as they reach.
    At least one is known.

    >>> scale_bottom([-14.0, -16.0, None]), scale_bottom([-14.0, -34.0]), scale_bottom([-14.0, -48.0, -90.0])
    (-22.0, -36.0, -38.0)
    """
    known = [point for point in points if point is not None]
    top = max(known)
    reach = max(top - point for point in known if point >= top - 36.0)
    return top - min(max(1.1 * reach, 8.0), 24.0)


def bars(values: Sequence[float | None], low: float, high: float) -> str:
    """Draw a course as a row of block characters.

    A dot where nothing plays.
    """
    drawn = []
    for value in values:
        if value is None or value < low - 0.5 * (high - low):
            drawn.append("·")
        else:
            place = (value - low) / max(high - low, 1e-9)
            drawn.append(_BARS[min(max(int(place * len(_BARS)), 0), len(_BARS) - 1)])
    return "".join(drawn)


def sentence(text: str) -> str:
    """Return the text as one line, capital and full stop."""
    line = " ".join(text.split())
    return line if not line or line[-1] in ".!?" else f"{line}."


def first_sentence(text: str) -> str:
    """Return the first sentence of a text.

    >>> first_sentence("It peaks. It is 2.5 dB over.")
    'It peaks.'
    """
    return SENTENCE_END.split(sentence(text))[0]


def after_first_sentence(text: str) -> str:
    """Return what follows the first sentence, or nothing."""
    return " ".join(SENTENCE_END.split(sentence(text))[1:])


def course_points(course: Course, most: int = 60) -> tuple[list[float | None], float]:
    """Return points of a course and the seconds per point.

    At most ``most`` of them, each the loudest of its stretch.
    """
    values: list[float | None] = list(course.values)
    stride = max(1, -(-len(values) // most))
    points: list[float | None] = []
    for start in range(0, len(values), stride):
        there = [value for value in values[start : start + stride] if value is not None]
        points.append(max(there) if there else None)
    return points, stride * float(course.step_s)
