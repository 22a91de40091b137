"""Gain: a fader up or down."""

from advisor.remedies.amounts import FADER
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.phrases import direct_part, level_words
from advisor.remedies.touched import everywhere
from features.processors.placement.gain import gain
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: gain(sound, remedy.gain_db or 0.0)


def _sentence(remedy: Remedy) -> str:
    return level_words(direct_part(remedy), remedy.gain_db)


KIND = RemedyKind(
    name="gain",
    process=_process,
    sentence=_sentence,
    effort=1.0,
    amount=FADER,
    touches=everywhere("balance", "masking", "dynamics", "loudness"),
    followed_by=FollowUp("level"),
    is_fader=True,
)
