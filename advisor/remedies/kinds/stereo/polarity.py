"""Polarity: a channel or an element turned over."""

from advisor.remedies.amounts import FIXED
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.parts import part_words, treated_channels
from advisor.remedies.touched import everywhere
from features.processors.placement.polarity import invert
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: invert(sound, treated_channels(remedy.part, sound))


def _sentence(remedy: Remedy) -> str:
    return f"flip the polarity of {part_words(remedy.part)}"


KIND = RemedyKind(
    name="polarity",
    process=_process,
    sentence=_sentence,
    effort=1.0,
    amount=FIXED,
    touches=everywhere("space", "low-end"),
    followed_by=FollowUp("finding"),
    takes_all_channels=True,
)
