"""Low shelf: everything below a frequency up or down."""

from advisor.remedies.amounts import GAIN
from advisor.remedies.kind import Band, FollowUp, Process, RemedyKind, ToneBand
from advisor.remedies.phrases import shelf_words
from advisor.remedies.touched import BELOW
from advisor.remedies.usual_settings import SHELF_Q, needed_frequency_hz
from features.processors.equalisers import eq
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: eq.low_shelf(sound, needed_frequency_hz(remedy), remedy.gain_db or 0.0, remedy.q or SHELF_Q)


def _sections(remedy: Remedy, rate_hz: float, frequency_hz: float) -> eq.Floats:
    return eq.low_shelf_sections(rate_hz, frequency_hz, remedy.gain_db or 0.0, remedy.q or SHELF_Q)


def _edges_hz(remedy: Remedy) -> Band:
    return (0.0, remedy.frequency_hz or 1000.0)


KIND = RemedyKind(
    name="low_shelf",
    process=_process,
    sentence=lambda remedy: shelf_words(remedy, "below"),
    effort=2.0,
    amount=GAIN,
    touches=BELOW,
    followed_by=FollowUp("spectrum", _sections),
    tone=ToneBand(_edges_hz, from_finding=True),
)
