"""Low-pass: what lies above a frequency taken away."""

from advisor.remedies.amounts import FIXED
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.phrases import pass_words
from advisor.remedies.touched import ABOVE
from advisor.remedies.usual_settings import PASS_ORDER, needed_frequency_hz
from features.processors.equalisers import eq
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: eq.low_pass(sound, needed_frequency_hz(remedy), remedy.order or PASS_ORDER)


def _sections(remedy: Remedy, rate_hz: float, frequency_hz: float) -> eq.Floats:
    return eq.low_pass_sections(rate_hz, frequency_hz, remedy.order or PASS_ORDER)


KIND = RemedyKind(
    name="low_pass",
    process=_process,
    sentence=lambda remedy: pass_words(remedy, "low-pass"),
    effort=2.0,
    amount=FIXED,
    touches=ABOVE,
    followed_by=FollowUp("spectrum", _sections),
)
