"""Delay: a channel or an element moved in time."""

from advisor.remedies.amounts import FIXED
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.parts import part_words, treated_channels
from advisor.remedies.touched import everywhere
from features.processors.placement.delay import delay
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: delay(sound, remedy.delay_ms or 0.0, treated_channels(remedy.part, sound))


def _sentence(remedy: Remedy) -> str:
    delay_ms = remedy.delay_ms or 0.0
    return f"move {part_words(remedy.part)} {'later' if delay_ms > 0 else 'earlier'} by {abs(delay_ms):.2f} ms"


KIND = RemedyKind(
    name="delay",
    process=_process,
    sentence=_sentence,
    effort=2.0,
    amount=FIXED,
    touches=everywhere("space", "low-end"),
    followed_by=FollowUp("channel delay"),
    takes_all_channels=True,
)
