"""Everything to listen to, made in a folder aside.

The clips of each step, and the copy of the mix with markers.
"""

from math import log10
from pathlib import Path
from typing import TypeVar, cast

from advisor.app.progress import Progress
from advisor.audition.clips import make_clips
from advisor.audition.marked import bits_for, cues, gain_for, write_marked
from advisor.audition.names import marked_name
from advisor.audition.records import Audition, Clips
from advisor.audition.stretch import stretch
from advisor.judging.judge import Card, Judged
from advisor.measuring.measured import Failure, Measured
from advisor.planning.plan import Plan
from advisor.planning.song import Song
from features.records.base import Span
from features.records.file import File
from features.records.level import Level
from features.records.sections import Sections
from features.sound.signal import Source

SoundT = TypeVar("SoundT")
QUIETER = "The copy with markers is {:.1f} dB quieter than the mix, whose samples pass full scale."
TOO_LONG = "There is no copy of the mix with markers: it would pass 4 GiB, which is more than a WAV file can hold."


def make_audition(song: Song[SoundT], measured: Measured, judged: Judged, plan: Plan | None, folder: Path, progress: Progress) -> Audition:
    """Write all of it into ``folder``, which is made.

    Raises OSError when there is no room or no permission.
    """
    folder.mkdir()
    source, failures = song.source, list[Failure]()
    clips = _clips(song, measured, plan, folder, progress, failures)
    marks = cues(judged.cards, source)
    if not marks:
        return Audition(clips, failures=tuple(failures))
    progress.step("Writing a copy of the mix with markers")
    file = cast("File", measured.records[File])
    name = marked_name(file.name)
    highest = _highest(measured.records.get(Level))
    gain = gain_for(highest)
    if not write_marked(folder / name, source, marks, bits_for(file, highest), gain):
        return Audition(clips, notes=(TOO_LONG,), failures=tuple(failures))
    notes = (QUIETER.format(20.0 * log10(highest)),) if gain < 1.0 else ()
    return Audition(clips, name, len(marks), notes=notes, failures=tuple(failures))


def _highest(level: object) -> float:
    """Return the highest sample of the song, linear.

    Where it is not known, one that no whole number can hold.
    """
    if not isinstance(level, Level) or level.sample_peak_dbfs is None:
        return 1.0
    return float(10.0 ** (level.sample_peak_dbfs / 20.0))


def _clips(
    song: Song[SoundT], measured: Measured, plan: Plan | None, folder: Path, progress: Progress, failures: list[Failure]
) -> tuple[Clips | None, ...]:
    made: list[Clips | None] = []
    steps = [] if plan is None else plan.steps
    for number, step in enumerate(steps, 1):
        progress.step(f"Making the clips for step {number} of {len(steps)}")
        where = _where(step.trial.card, measured, song.source)
        try:
            made.append(make_clips(song.source, [taken.remedy for taken in steps[:number]], song.states, where, folder))
        except OSError:
            raise
        except Exception as error:  # noqa: BLE001 - a crash here costs the clips of one step, not the critique
            failures.append(Failure(f"audition/step-{number}", f"{type(error).__name__}: {error}"))
            made.append(None)
    return tuple(made)


def _where(card: Card, measured: Measured, source: Source) -> Span:
    sections, level = measured.records.get(Sections), measured.records.get(Level)
    return stretch(
        card.finding.where,
        sections.densest if isinstance(sections, Sections) else None,
        level if isinstance(level, Level) else None,
        source.frames / source.rate_hz,
    )
