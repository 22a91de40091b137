"""What trials compare.

A handful of readings picked out of everything that was measured and judged.
"""

from dataclasses import dataclass, field
from itertools import pairwise

from advisor.judging.judge import Card, Judged
from advisor.judging.reporting import compared_reading
from advisor.outcomes.outcomes import Outcomes, outcomes_of
from features.records.base import Measurement
from features.records.hits import Hits
from features.records.level import Level
from features.records.outlook import Outlook
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo
from features.tone.target import TargetModel, general_target
from rules.shared.bands import band_level_dbfs

THIRDS = 3  # third octaves in a band of `bands_db`; the 20 Hz one goes with the lowest
HALF_THIRD = 10.0**0.05  # from a third octave's centre to its edge (IEC 61260-1)
# What a trial's readings are, in the order in which their changes are told.
READINGS = {
    "clean_lufs": compared_reading(Outlook, "clean_lufs"),
    "tilt_db_per_octave": compared_reading(Spectrum, "tilt_db_per_octave"),
    "hits_heard": compared_reading(Hits, "audible_share_median"),
    "mono_loss_db": compared_reading(Stereo, "mono_loss_db"),
    "integrated_lufs": compared_reading(Level, "integrated_lufs"),
}


@dataclass(frozen=True, slots=True)
class TrialReadings:
    """An excerpt or a song after measuring and judging.

    What a trial compares.
    ``outcomes`` grade a move; what the rules say, ``judged``, only tells which findings are still there. ``bands_db`` are levels in dBFS,
    mean of both channels, between neighbouring ``band_edges_hz``: octaves, one more edge than levels.
    """

    excess: float
    clean_lufs: float | None
    integrated_lufs: float | None
    tilt_db_per_octave: float | None
    hits_heard: float | None
    mono_loss_db: float | None
    judged: Judged
    band_edges_hz: tuple[float, ...] = ()
    bands_db: tuple[float, ...] = ()
    outcomes: Outcomes = field(default_factory=lambda: outcomes_of({}, general_target()))

    def shows(self, card: Card) -> bool:
        """Whether the card's rule still finds something.

        On the same element where it is about one.
        """
        about = (card.rule.id, card.finding.stem)
        return any(about in later.rules_named() for later in self.judged.cards)


def trial_readings(records: dict[type[Measurement], Measurement], judged: Judged, target: TargetModel | None = None) -> TrialReadings:
    """Pick what trials compare out of the records.

    Without a ``target`` tone is held against songs in general.
    """
    outlook, level = records.get(Outlook), records.get(Level)
    spectrum, hits, stereo = records.get(Spectrum), records.get(Hits), records.get(Stereo)
    edges, levels = octaves(spectrum) if isinstance(spectrum, Spectrum) else ((), ())
    return TrialReadings(
        excess=total_excess(judged),
        clean_lufs=outlook.clean_lufs if isinstance(outlook, Outlook) else None,
        integrated_lufs=level.integrated_lufs if isinstance(level, Level) else None,
        tilt_db_per_octave=spectrum.tilt_db_per_octave if isinstance(spectrum, Spectrum) else None,
        hits_heard=hits.audible_share_median if isinstance(hits, Hits) else None,
        mono_loss_db=stereo.mono_loss_db if isinstance(stereo, Stereo) else None,
        judged=judged,
        band_edges_hz=edges,
        bands_db=levels,
        outcomes=outcomes_of(records, target or general_target()),
    )


def octaves(spectrum: Spectrum) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Return the octaves' edges, and their levels in dBFS.

    From 31.5 Hz to 16 kHz, as far as the rate allows.
    Absolute levels, of the passages that count: what an analyser on the mix shows, so that a move on the equaliser can be checked. The
    lowest band takes 20 Hz with it. A silent song has no levels.
    """
    centres = spectrum.third_octave_hz[1:]
    last = len(centres) - len(centres) % THIRDS
    tops = [hz * HALF_THIRD for hz in centres[THIRDS - 1 : last : THIRDS]]
    if not tops:
        return (), ()
    edges = (spectrum.third_octave_hz[0] / HALF_THIRD, *tops)
    levels = [band_level_dbfs(spectrum, low, high) for low, high in pairwise(edges)]
    return edges, tuple(level for level in levels if level is not None)


def total_excess(judged: Judged) -> float:
    """Return the sum of all findings' weighted excess.

    How far they lie past their limits, times how sure they are.
    """
    findings = [finding for card in judged.cards for finding in (card.finding, *(its for _, its in card.also))]
    return sum(finding.weight for finding in findings)
