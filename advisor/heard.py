"""What trials compare: a handful of readings picked out of everything that was measured and judged."""

from dataclasses import dataclass

from advisor.judge import WEIGHT, Card, Judged
from features.measurements import Hits, Level, Measurement, Outlook, Spectrum, Stereo


@dataclass(frozen=True, slots=True)
class Heard:
    """An excerpt or a song after measuring and judging: what a trial compares."""

    excess: float
    clean_lufs: float | None
    integrated_lufs: float | None
    tilt_db_per_octave: float | None
    hits_heard: float | None
    mono_loss_db: float | None
    judged: Judged

    def shows(self, card: Card) -> bool:
        """Whether the card's rule still finds something."""
        return any(card.rule.id in {one.rule.id, *(other.id for other, _ in one.also)} for one in self.judged.cards)


def change(before: float | None, after: float | None) -> float | None:
    """Return after minus before, or None when either is missing."""
    return None if before is None or after is None else after - before


def heard(records: dict[type[Measurement], Measurement], judged: Judged) -> Heard:
    """Pick what trials compare out of the records."""
    outlook, level = records.get(Outlook), records.get(Level)
    spectrum, hits, stereo = records.get(Spectrum), records.get(Hits), records.get(Stereo)
    return Heard(
        excess=total_excess(judged),
        clean_lufs=outlook.clean_lufs if isinstance(outlook, Outlook) else None,
        integrated_lufs=level.integrated_lufs if isinstance(level, Level) else None,
        tilt_db_per_octave=spectrum.tilt_db_per_octave if isinstance(spectrum, Spectrum) else None,
        hits_heard=hits.audible_share_median if isinstance(hits, Hits) else None,
        mono_loss_db=stereo.mono_loss_db if isinstance(stereo, Stereo) else None,
        judged=judged,
    )


def total_excess(judged: Judged) -> float:
    """Return the sum over all findings of how far they lie past their limits, times how sure they are."""
    findings = [one for card in judged.cards for one in (card.finding, *(its for _, its in card.also))]
    return sum(one.excess * WEIGHT[one.confidence] for one in findings)
