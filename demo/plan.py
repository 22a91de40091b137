"""How a demo song is written down.

Sections, chords, one pattern a part, and how these become times and pitches.

A rhythm is a text of sixteen steps a bar (or of several bars): a digit is a hit with that much force, ``.`` a rest.
Bass: ``r`` root, ``f`` fifth, ``o`` octave; chords: ``x``; in both ``-`` holds the note on.
A melody is a text of ``pitch/beats/syllable``; ``-`` in place of the pitch is a rest.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace

_NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_QUALITIES = {
    "": (0, 4, 7),
    "m": (0, 3, 7),
    "7": (0, 4, 7, 10),
    "m7": (0, 3, 7, 10),
    "m9": (0, 3, 7, 10, 14),
    "maj7": (0, 4, 7, 11),
    "add9": (0, 4, 7, 14),
    "sus4": (0, 5, 7),
    "sus2": (0, 2, 7),
}
LEAD_IN_S = 0.15  # before the first beat, so that no first hit is cut off
STEPS_PER_BAR = 16
BEATS_PER_BAR = 4


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the song.

    Parts that have no pattern are silent.
    """

    name: str
    bars: int
    chords: str
    energy: float
    kick: str = ""
    snare: str = ""
    clap: str = ""
    hats: str = ""
    open_hats: str = ""
    percussion: str = ""
    bass: str = ""
    keys: str = ""
    stabs: str = ""
    pad: float = 0.0
    arpeggio: str = ""
    lead: str = ""
    voice: str = ""
    doubled: bool = False
    fill: bool = False
    riser: bool = False
    impact: bool = False


@dataclass(frozen=True, slots=True)
class Plan:
    """A whole song.

    What a performer would need, and the sounds it asks for.
    """

    title: str
    artist: str
    tempo_bpm: float
    transpose: int
    sections: tuple[Section, ...]
    tail_s: float = 3.5
    swing: float = 0.0
    kick_hz: float = 49.0
    snare_hz: float = 188.0
    lead_shape: str = "pulse"
    pad_shape: str = "saw"
    room_s: float = 1.6
    voice_shift: int = 0
    levels_db: dict[str, float] = field(default_factory=dict)

    @property
    def beat_s(self) -> float:
        """Length of a beat."""
        return 60.0 / self.tempo_bpm

    @property
    def bar_s(self) -> float:
        """Length of a bar."""
        return BEATS_PER_BAR * self.beat_s

    @property
    def duration_s(self) -> float:
        """Length with the lead-in and the tail."""
        return self.starts_s()[-1] + self.tail_s

    def starts_s(self) -> list[float]:
        """Return when each section starts, and the tail."""
        starts = [LEAD_IN_S]
        for section in self.sections:
            starts.append(starts[-1] + section.bars * self.bar_s)
        return starts

    def shortened(self, bars: int) -> "Plan":
        """Return the plan with at most ``bars`` bars a section.

        For trying things out.
        """
        cut_sections = tuple(replace(section, bars=min(section.bars, bars)) for section in self.sections)
        return replace(self, sections=cut_sections)


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord as key numbers.

    The bass note and the tones above it.
    """

    bass: int
    tones: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class Step:
    """One mark of a pattern on the song's clock."""

    time_s: float
    length_s: float
    mark: str
    bar: int
    step: int
    section: Section

    @property
    def velocity(self) -> float:
        """Force of the hit, 0 to 1."""
        force = int(self.mark) / 9.0 if self.mark.isdigit() else 0.85
        return force * (0.72 + 0.28 * self.section.energy)


@dataclass(frozen=True, slots=True)
class MelodyNote:
    """One note of a melody on the song's clock."""

    time_s: float
    length_s: float
    pitch: int
    text: str
    section: Section


def key_number(name: str) -> int:
    """Return the key number of a note's name.

    Such as ``Bb3``.
    """
    accidental = name[1:-1]
    return 12 * (int(name[-1]) + 1) + _NATURAL[name[0]] + accidental.count("#") - accidental.count("b")


def _root(text: str) -> tuple[int, str]:
    shift = {"b": -1, "#": 1}.get(text[1:2], 0)
    return _NATURAL[text[0]] + shift, text[2:] if shift else text[1:]


def chord_of(text: str, transpose: int) -> Chord:
    """Return a chord from its symbol.

    Such as ``Bbmaj7`` or ``C/E``, its tones gathered around the middle so that chords lead into each other.
    """
    upper, _, lower = text.partition("/")
    root, quality = _root(upper)
    low = _root(lower)[0] if lower else root
    bass = 31 + (low + transpose - 31) % 12  # from the G at 49 Hz up to the F sharp at 92 Hz
    tones = sorted({55 + (root + transpose + interval - 55) % 12 for interval in _QUALITIES[quality]})
    return Chord(bass, tuple(tones))


def bars(plan: Plan) -> Iterator[tuple[float, int, int, Section]]:
    """Yield start, numbers and section of each bar.

    When it starts, its number in the section, its number in the song, and the section.
    """
    number = 0
    for section, start_s in zip(plan.sections, plan.starts_s(), strict=False):
        for bar in range(section.bars):
            yield start_s + bar * plan.bar_s, bar, number, section
            number += 1


def chord_at(plan: Plan, section: Section, bar: int) -> Chord:
    """Return the chord of a bar."""
    names = section.chords.split()
    return chord_of(names[bar % len(names)], plan.transpose)


def steps(plan: Plan, part: str) -> Iterator[Step]:
    """Yield the marks of one part through the whole song."""
    sixteenth_s = plan.beat_s / 4.0
    for start_s, bar, _, section in bars(plan):
        pattern: str = getattr(section, part)
        if not pattern:
            continue
        offset = (bar * STEPS_PER_BAR) % len(pattern)
        row = pattern[offset : offset + STEPS_PER_BAR]
        if section.fill and bar == section.bars - 1 and part in {"snare", "kick"}:
            row = row[:8] + {"snare": "9..46.79", "kick": "7..6...."}[part]
        for index, mark in enumerate(row):
            if mark in ".-":
                continue
            sustained = len(row[index + 1 :]) - len(row[index + 1 :].lstrip("-")) + 1
            late = plan.swing * sixteenth_s if index % 2 else 0.0
            yield Step(start_s + index * sixteenth_s + late, sustained * sixteenth_s, mark, bar, index, section)


def melody(plan: Plan, part: str) -> Iterator[MelodyNote]:
    """Yield the notes of a melody.

    Repeated until the section ends.
    """
    for start_s, section in zip(plan.starts_s(), plan.sections, strict=False):
        text: str = getattr(section, part)
        if not text:
            continue
        notes = [note.split("/") for note in text.split()]
        total = sum(float(note[1]) for note in notes)
        beats = 0.0
        while beats < section.bars * BEATS_PER_BAR:
            for name, length, *sung in notes:
                if name != "-" and beats < section.bars * BEATS_PER_BAR:
                    word = sung[0] if sung else "la"
                    yield MelodyNote(
                        start_s + beats * plan.beat_s, float(length) * plan.beat_s, key_number(name) + plan.transpose, word, section
                    )
                beats += float(length)
            if total <= 0.0:
                break
