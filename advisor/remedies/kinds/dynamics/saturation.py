"""Saturation: peaks rounded, overtones added."""

from advisor.remedies.amounts import GAIN
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.phrases import on_part
from advisor.remedies.touched import everywhere
from features.processors.dynamics.saturation import saturate
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: saturate(sound, remedy.gain_db or 0.0)


def _sentence(remedy: Remedy) -> str:
    return f"saturation driven by {remedy.gain_db or 0.0:.1f} dB, {on_part(remedy)}"


KIND = RemedyKind(
    name="saturation",
    process=_process,
    sentence=_sentence,
    effort=3.0,
    amount=GAIN,
    touches=everywhere("distortion", "tone", "dynamics"),
    followed_by=FollowUp("finding"),
)
