"""Says what is right, each with its number."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from advisor.report.filling import filled
from advisor.report_model.report import Report
from features.records.balance import Balance, Target
from features.records.crest import Crest
from features.records.elements import Elements
from features.records.hits import Hits
from features.records.low_end import LowEnd
from features.records.stereo import Stereo

PLACE = 30
MOST = 3


@dataclass(frozen=True, slots=True)
class Strength:
    """A true positive: its rules and its words.

    The rules must have passed; the words are None where the number is not clearly on the good side.
    """

    rules: tuple[str, ...]
    words: Callable[[Report], str | None]


def section(report: Report) -> Iterator[str]:
    """Yield what is right.

    Nothing where nothing was shown to be.
    """
    said = strengths(report)
    if said:
        yield from filled(__name__, strengths=[f"{said[0][:1].upper()}{said[0][1:]}", *said[1:]])


def strengths(report: Report) -> list[str]:
    """Return what is right, each with its number."""
    passed = set(report.passed)
    said = [strength.words(report) for strength in STRENGTHS if passed.issuperset(strength.rules)]
    return [words for words in said if words is not None][:MOST]


def _kick_and_bass(report: Report) -> str | None:
    elements = report.measurements.get(Elements)
    pair = None if elements is None else elements.kick_and_bass
    return f"kick and bass add up ({pair.sum_gain_db:+.1f} dB)" if pair is not None and 0.2 <= pair.sum_gain_db < 2.0 else None


def _lead(report: Report) -> str | None:
    elements = report.measurements.get(Elements)
    lead = None if elements is None or elements.lead is None else elements.named(elements.lead)
    if elements is None or lead is None or elements.lead_lu is None or lead.role != "vocal":
        return None
    low, high = LEAD_LU
    inside = low <= elements.lead_lu <= high
    return f"'{lead.name}' sits at {elements.lead_lu:.1f} LU, where lead voices sit ({low:g} to {high:g})" if inside else None


def _hits(report: Report) -> str | None:
    hits = report.measurements.get(Hits)
    share = None if hits is None else hits.audible_share_median
    return f"drum hits come through ({share:.0%} of each is audible)" if share is not None and share >= CLEAR_HITS else None


def _peaks(report: Report) -> str | None:
    crest = report.measurements.get(Crest)
    over = None if crest is None else crest.stray_height_db
    return None if over is None or over > 3.0 else f"peaks are even (the highest is {over:.1f} dB over the ordinary ones)"


def _mono(report: Report) -> str | None:
    stereo = report.measurements.get(Stereo)
    if stereo is None or stereo.mono_loss_db is None or (stereo.side_share or 0.0) < LEAST_SIDE:
        return None
    return f"holds up in mono ({stereo.mono_loss_db:.1f} LU lost)" if stereo.mono_loss_db <= 1.0 else None


def _centred(report: Report) -> str | None:
    low_end, stereo = report.measurements.get(LowEnd), report.measurements.get(Stereo)
    if low_end is None or low_end.side_level_db is None or stereo is None or (stereo.side_share or 0.0) < LEAST_SIDE:
        return None
    return f"the low end is centred (sides {-low_end.side_level_db:.0f} dB down)" if low_end.side_level_db <= -15.0 else None


def _sides(report: Report) -> str | None:
    stereo = report.measurements.get(Stereo)
    if stereo is None or stereo.balance_db is None or (stereo.side_share or 0.0) < LEAST_SIDE:
        return None
    return f"left and right are level ({abs(stereo.balance_db):.1f} dB apart)" if abs(stereo.balance_db) <= 0.5 else None


def _slope(report: Report) -> str | None:
    balance, target = report.measurements.get(Balance), report.measurements.get(Target)
    lean = None if balance is None else balance.tilt_deviation_db_per_octave
    if lean is None or target is None or abs(lean) > 0.5 * target.tilt_spread_db_per_octave:
        return None
    songs = "your references" if target.songs else "songs in general"
    return f"neither bright nor dark as a whole (slope {lean:+.1f} dB per octave against {songs})"


LEAD_LU = (-4.5, -1.5)
CLEAR_HITS = 0.75
LEAST_SIDE = 0.02  # of the energy: below it, a mix is nearly mono and nothing is proved by it
STRENGTHS = (
    Strength(("mixing/kick_against_bass", "mixing/kick_and_bass_in_one_slot"), _kick_and_bass),
    Strength(("mixing/lead_level",), _lead),
    Strength(("mixing/buried_hits",), _hits),
    Strength(("mixing/stray_peaks",), _peaks),
    Strength(("mixing/mono_loss", "mixing/polarity_fault"), _mono),
    Strength(("mixing/too_bright", "mixing/too_dark"), _slope),
    Strength(("mixing/low_end_too_wide",), _centred),
    Strength(("mixing/left_right_imbalance",), _sides),
)
