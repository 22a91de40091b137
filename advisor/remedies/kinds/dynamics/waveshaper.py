"""Waveshaper: the body raised under peaks that stay."""

from advisor.remedies.amounts import GAIN
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.phrases import on_part
from advisor.remedies.touched import everywhere
from features.processors.dynamics.waveshaper import raise_body
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: raise_body(sound, remedy.gain_db or 0.0)


def _sentence(remedy: Remedy) -> str:
    return f"a waveshaper that keeps the peaks, raising the body by {remedy.gain_db or 0.0:.1f} dB, {on_part(remedy)}"


KIND = RemedyKind(
    name="waveshaper",
    process=_process,
    sentence=_sentence,
    effort=3.0,
    amount=GAIN,
    touches=everywhere("distortion", "dynamics"),
    followed_by=FollowUp("finding"),
)
