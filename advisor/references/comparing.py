"""A measured mix held against the chosen references.

The target made of them, and everything the report says about them.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from advisor.app.settings import Settings
from advisor.measuring.measured import Measured
from advisor.references.choosing import Chosen
from advisor.references.comparison import Asked, Comparison, compare, limiting, loudness_at, usual_of
from advisor.references.grouping import Group, Place, groups_of, name_of, place, shape, song_name
from advisor.references.records import Reference
from advisor.references.section import references_section
from advisor.report_model.references import ReferencesSection
from features.comparison.song_target import song_target
from features.elsewhere.song import Listening, measure_elsewhere
from features.records.balance import Balance, Target
from features.records.base import Measurement
from features.records.ear import Elsewhere
from features.records.file import Health
from features.records.headline import Headline
from features.records.hits import Hits
from features.records.level import Level
from features.records.outlook import Outlook
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo
from features.sound.signal import Source
from features.tone.balance import measure_balance
from features.tone.target import TargetModel

WHOLE = 2  # with fewer groups there is nothing to choose from


@dataclass(frozen=True, slots=True)
class ReferenceComparison:
    """The mix with the references as its target.

    ``tone`` is the target for every trial, None for songs in general; the section is the report's part.
    """

    measured: Measured
    tone: TargetModel | None
    section: ReferencesSection | None


def compare_with_references(chosen: Chosen | None, measured: Measured, source: Source, settings: Settings) -> ReferenceComparison:
    """Compare, and make the references the target from here on.

    Of several groups, the one that the mix belongs to is the target.
    """
    if chosen is None:
        return ReferenceComparison(measured, None, None)
    records = dict(measured.records)
    spectrum = records.get(Spectrum)
    if not isinstance(spectrum, Spectrum) or not spectrum.third_octave_db:
        return ReferenceComparison(measured, None, references_section(chosen, chosen.songs, (), None, None, None))
    where = _place(chosen, records)
    songs = chosen.songs if where is None else where.group.songs
    model = target_of(songs, label_of(chosen, where))
    records = against(records, model, Listening(settings.listening_conditions()))
    compared = _compared(records, songs, source, settings)
    groups = groups_of(chosen.model, chosen.songs)
    return ReferenceComparison(
        replace(measured, records=records),
        model,
        references_section(chosen, songs, groups, where, compared, model.record),
    )


def against(
    records: Mapping[type[Measurement], Measurement], model: TargetModel, listening: Listening | None = None
) -> dict[type[Measurement], Measurement]:
    """Return the records compared with another target."""
    changed = {**records, Target: model.record}
    spectrum = records.get(Spectrum)
    if Balance in records and isinstance(spectrum, Spectrum):
        changed[Balance] = measure_balance(spectrum, model)
    hits, stereo = records.get(Hits), records.get(Stereo)
    if Elsewhere in records and isinstance(spectrum, Spectrum) and isinstance(hits, Hits) and isinstance(stereo, Stereo):
        changed[Elsewhere] = measure_elsewhere(spectrum, hits, stereo, model.record, listening)
    return changed


def target_of(songs: tuple[Reference, ...], label: str) -> TargetModel:
    """Return the target that these songs make."""
    return song_target(
        [reference.song.third_octave_db for reference in songs],
        [reference.song.bandwidth_hz for reference in songs],
        [slope for reference in songs if (slope := reference.song.headline.tilt_db_per_octave) is not None],
        label,
        usual_of(songs),
    )


def label_of(chosen: Chosen, where: Place | None) -> str:
    """Return what the report calls the references."""
    if where is not None:
        return f"the {len(where.group.songs)} references of the group around '{name_of(where.group)}'"
    if len(chosen.songs) == 1:
        return f"your reference '{song_name(chosen.songs[0])}'"
    return f"your {len(chosen.songs)} references"


def _place(chosen: Chosen, records: dict[Any, Any]) -> Place | None:
    """Return the mix's group.

    None when the references are one group.
    """
    groups = groups_of(chosen.model, chosen.songs)
    spectrum = records[Spectrum]
    if len(groups) < WHOLE:
        return None
    pinned: Group | None = None if chosen.group is None else groups[chosen.group - 1]
    hits = records.get(Hits)
    share = hits.percussive_share if isinstance(hits, Hits) else None
    own = shape(spectrum.third_octave_db, spectrum.third_octave_hz, share)
    if len(own) != len(chosen.model.centre):  # the mix's sampling rate does not reach what the groups were found by
        return None if pinned is None else Place(pinned, inside=False, nearer_than=0, pinned=True)
    return place(chosen.model, chosen.songs, own, pinned)


def _compared(records: dict[Any, Any], songs: tuple[Reference, ...], source: Source, settings: Settings) -> Comparison | None:
    headline, level, outlook = (records.get(kind) for kind in (Headline, Level, Outlook))
    if (
        not isinstance(headline, Headline)
        or not isinstance(level, Level)
        or level.true_peak_dbtp is None
        or not isinstance(outlook, Outlook)
    ):
        return None
    asked = Asked(settings.target_lufs, settings.ceiling_dbtp)
    highest = max(loudness_at(reference.song, asked.ceiling_dbtp, asked.target_lufs) for reference in songs)
    mix = limiting(headline, outlook, source, 10 ** (level.true_peak_dbtp / 20), highest)
    health = records.get(Health)
    top_hz = health.bandwidth_hz if isinstance(health, Health) else None
    return compare(mix, records[Spectrum].third_octave_db, top_hz, songs, asked)
