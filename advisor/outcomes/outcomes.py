"""Outcomes of an excerpt or song, read off its records.

No rule has a say in them.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from features.elements.levels.level_moves import levels_nats
from features.elements.levels.level_position import positions_of
from features.outcomes.damage import point_on_curve
from features.outcomes.octave_levels import octave_levels
from features.outcomes.playback import small_speaker_loss_db
from features.outcomes.tone_faults import tone_nats
from features.records.base import Measurement
from features.records.elements import Elements
from features.records.hits import Hits
from features.records.level import Level
from features.records.low_end import LowEnd
from features.records.outlook import DrivePoint, Outlook
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo
from features.tone.target import TargetModel

RecordT = TypeVar("RecordT", bound=Measurement)
Records = Mapping[type[Measurement], Measurement]

WIDTH_HZ = (180.0, 9000.0)
NARROWEST_DB = -30.0


@dataclass(frozen=True, slots=True)
class ElementHeard:
    """One main element and its audible share, 0-1."""

    name: str
    share: float


@dataclass(frozen=True, slots=True)
class Damage:
    """What a plain limiter does to the song.

    At the loudness asked for: noise-to-mask ratio, movement of level, lift of the hits.
    """

    distortion_nmr_db: float
    pumping_db: float
    hit_loss_db: float


@dataclass(frozen=True, slots=True)
class Playback:
    """What other ways of playback lose.

    In mono (LU; below 120 Hz in dB), on a small speaker beyond what songs of the target lose, and left minus right.
    """

    mono_loss_lu: float | None
    low_mono_loss_db: float | None
    small_speaker_loss_db: float | None
    lean_db: float | None


@dataclass(frozen=True, slots=True)
class ElementStands:
    """One element and its loudness minus the mix's."""

    name: str
    in_mix_lu: float


@dataclass(frozen=True, slots=True)
class Stand:
    """How a mix stands, at matched loudness: what `distance_moved` compares.

    Attributes
    ----------
    octave_hz, octave_db
        Level of each octave, in dB against the song's loudness.
    elements
        Those that sound.
    width_db
        Side against mid, mean of the third octaves 200 Hz-8 kHz; None for mono.
    lean_db
        Left minus right.
    """

    octave_hz: tuple[float, ...] = ()
    octave_db: tuple[float, ...] = ()
    elements: tuple[ElementStands, ...] = ()
    width_db: float | None = None
    lean_db: float | None = None


@dataclass(frozen=True, slots=True)
class Outcomes:
    """What a producer gets.

    None where it was not measured.

    Attributes
    ----------
    room_lu
        Clean loudness over the target.
    hits_heard
        Median share of the hits that is heard, 0-1.
    elements_heard
        Of every main element, least audible first; empty without stems.
    tone_nats, levels_nats
        How unlikely the spectrum, and the levels of all elements together, are among the references' or songs in general; 0 in the middle.
    playback
        What is lost elsewhere: mono, small speaker, one side.
    damage
        At the target loudness.
    stand
        Octaves, elements and width at matched loudness.
    """

    room_lu: float | None
    hits_heard: float | None
    elements_heard: tuple[ElementHeard, ...]
    tone_nats: float | None
    levels_nats: float | None
    playback: Playback
    damage: Damage | None
    stand: Stand


def outcomes_of(records: Records, target: TargetModel, at_target: DrivePoint | None = None) -> Outcomes:
    """Return the outcomes of an excerpt or a song.

    ``at_target`` is the limiter's damage at the target loudness (`features.outcomes.damage.point_at_target`); without it, it is read off
    the outlook's curve, which suits a thorough sweep.
    """
    outlook, hits, elements = _get(records, Outlook), _get(records, Hits), _get(records, Elements)
    spectrum = _get(records, Spectrum)
    point = at_target if at_target is not None or outlook is None else point_on_curve(outlook)
    return Outcomes(
        room_lu=None if outlook is None else outlook.margin_lu,
        hits_heard=None if hits is None else hits.audible_share_median,
        elements_heard=() if elements is None else _elements_heard(elements),
        tone_nats=None if spectrum is None else tone_nats(spectrum, target),
        levels_nats=None if elements is None else levels_nats(positions_of(elements.elements)),
        playback=_playback(records, target),
        damage=None if point is None else Damage(point.distortion_nmr_db, point.pumping_db, point.hit_loss_db),
        stand=_stand(records),
    )


def _get(records: Records, kind: type[RecordT]) -> RecordT | None:
    record = records.get(kind)
    return record if isinstance(record, kind) else None


def _elements_heard(elements: Elements) -> tuple[ElementHeard, ...]:
    shares = [
        ElementHeard(element.name, element.masking.audible_share)
        for element in elements.elements
        if element.name in elements.main and element.masking.audible_share is not None
    ]
    return tuple(sorted(shares, key=lambda element: element.share))


def _playback(records: Records, target: TargetModel) -> Playback:
    stereo, low_end, spectrum = _get(records, Stereo), _get(records, LowEnd), _get(records, Spectrum)
    usual = small_speaker_loss_db(target.record.third_octave_hz, target.record.third_octave_db)
    small = None if spectrum is None else small_speaker_loss_db(spectrum.third_octave_hz, spectrum.third_octave_db)
    return Playback(
        mono_loss_lu=None if stereo is None else stereo.mono_loss_db,
        low_mono_loss_db=None if low_end is None else low_end.mono_loss_db,
        small_speaker_loss_db=None if small is None or usual is None else small - usual,
        lean_db=None if stereo is None else stereo.balance_db,
    )


def _stand(records: Records) -> Stand:
    spectrum, level, stereo = _get(records, Spectrum), _get(records, Level), _get(records, Stereo)
    elements = _get(records, Elements)
    hz, levels = () if spectrum is None else octave_levels(spectrum)[0], () if spectrum is None else octave_levels(spectrum)[1]
    loudness = None if level is None else level.integrated_lufs
    return Stand(
        octave_hz=() if loudness is None else hz,
        octave_db=() if loudness is None else tuple(level - loudness for level in levels),
        elements=() if elements is None else tuple(
            ElementStands(element.name, element.level.in_mix_lu) for element in elements.elements if element.level.in_mix_lu is not None
        ),
        width_db=None if stereo is None else _width(stereo),
        lean_db=None if stereo is None else stereo.balance_db,
    )  # fmt: skip


def _width(stereo: Stereo) -> float | None:
    known = [
        max(side_db, NARROWEST_DB)
        for hz, side_db in zip(stereo.band_hz, stereo.band_side_db, strict=True)
        if side_db is not None and WIDTH_HZ[0] < hz < WIDTH_HZ[1]
    ]
    return float(np.mean(known)) if known else None
