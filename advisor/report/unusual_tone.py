"""Names the regions of the spectrum unlike other songs.

With how rare they are.

Shown whether or not anything is held to be a fault: this is the spread of songs, not a judgement.
"""

from dataclasses import dataclass
from statistics import NormalDist

from advisor.app.words import third_octave
from advisor.report_model.report import Report
from features.comparison.moderated_statistics import FREEDOM, two_sided_chance
from features.records.balance import Balance, Target

HEARD_HZ = (35.0, 16_500.0)
LEAST_DB = 3.0
APART_OCTAVES = 2.0**1.1  # one region an octave
MOST = 3
RARE = 0.15  # the rarest is always shown, others only where few songs have as much
COUNTS = (2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 30, 40, 50, 70, 100)
NEARLY = 1.15  # 1 in 27 is told as 1 in 30


@dataclass(frozen=True, slots=True)
class Unusual:
    """A third octave of the mix against other songs.

    ``share`` of them have as much, or as little.
    """

    frequency_hz: float
    deviation_db: float
    share: float
    judged_by: str

    @property
    def words(self) -> str:
        """Where it lies and by how much it differs."""
        way = "more" if self.deviation_db > 0 else "less"
        return f"{third_octave(self.frequency_hz)}, {abs(self.deviation_db):.0f} dB {way} than {self.judged_by}"

    @property
    def rarity(self) -> str:
        """How many songs have as much, in words."""
        much = "much" if self.deviation_db > 0 else "little"
        if self.share < 1.0 / COUNTS[-1]:
            return f"fewer than 1 in {COUNTS[-1]} have as {much}"
        count = max((count for count in COUNTS if count * self.share <= NEARLY), default=COUNTS[0])
        return f"about 1 in {count} has as {much}"


def share_as_far(deviation_db: float, spread_db: float, songs: int) -> float:
    """Return the share of songs that lie as far out.

    On the same side.

    By a normal distribution for songs in general, by Student's t for a few references.

    >>> round(share_as_far(8.0, 4.0, 0), 3), round(share_as_far(8.0, 4.0, 8), 3)
    (0.023, 0.04)
    """
    away = abs(deviation_db) / spread_db
    return NormalDist().cdf(-away) if songs == 0 else two_sided_chance(away, FREEDOM) / 2.0


def unusual_tone(report: Report) -> tuple[Unusual, ...]:
    """Return the rarest regions, rarest first.

    None within a region that a finding is about, which says it itself.
    """
    balance, target = report.measurements.get(Balance), report.measurements.get(Target)
    if balance is None or target is None or len(balance.deviation_db) < 2:
        return ()
    judged_by = "songs in general" if target.songs == 0 else "your reference" if target.songs == 1 else "your references"
    bands = [
        Unusual(hz, deviation, share_as_far(deviation, spread, target.songs), judged_by)
        for hz, deviation, spread in zip(balance.third_octave_hz, balance.deviation_db, target.spread_db, strict=False)
        if HEARD_HZ[0] < hz < HEARD_HZ[1] and abs(deviation) >= LEAST_DB and not _found(hz, report)
    ]
    chosen: list[Unusual] = []
    for band in sorted(bands, key=lambda band: band.share):
        rare = band.share <= RARE or not chosen
        if rare and all(not 1.0 / APART_OCTAVES < band.frequency_hz / other.frequency_hz < APART_OCTAVES for other in chosen):
            chosen.append(band)
    return tuple(chosen[:MOST])


def _found(hz: float, report: Report) -> bool:
    bands = [card.band_hz for card in report.findings if card.topic in ("tone", "low-end") and card.band_hz is not None]
    return any(low <= hz <= high for low, high in bands)
