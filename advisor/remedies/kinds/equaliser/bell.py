"""Bell: a region of the spectrum up or down."""

from advisor.remedies.amounts import GAIN
from advisor.remedies.kind import Band, FollowUp, Process, RemedyKind, ToneBand
from advisor.remedies.phrases import amount_words, frequency_words, on_part, width_words
from advisor.remedies.touched import NEARBY
from advisor.remedies.usual_settings import BELL_Q, needed_frequency_hz
from features.processors.equalisers import eq
from rules.remedy import Remedy
from rules.shared.bells import bell_edges


def _process(remedy: Remedy) -> Process:
    return lambda sound: eq.bell(sound, needed_frequency_hz(remedy), remedy.gain_db or 0.0, remedy.q or BELL_Q)


def _sections(remedy: Remedy, rate_hz: float, frequency_hz: float) -> eq.Floats:
    return eq.bell_sections(rate_hz, frequency_hz, remedy.gain_db or 0.0, remedy.q or BELL_Q)


def _sentence(remedy: Remedy) -> str:
    width = f"{width_words(remedy.q)} (Q {remedy.q or BELL_Q:.2g})"
    return f"{amount_words(remedy.gain_db)} around {frequency_words(remedy)}, {width}, {on_part(remedy)}"


def _edges_hz(remedy: Remedy) -> Band:
    return bell_edges(remedy.frequency_hz or 1000.0, remedy.q or BELL_Q)


KIND = RemedyKind(
    name="bell",
    process=_process,
    sentence=_sentence,
    effort=2.0,
    amount=GAIN,
    touches=NEARBY,
    followed_by=FollowUp("spectrum", _sections),
    tone=ToneBand(_edges_hz, from_finding=False),
)
