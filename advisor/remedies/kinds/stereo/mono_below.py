"""Mono below a frequency: the low end in the middle."""

from advisor.remedies.amounts import FIXED
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.parts import PARTS_OF_A_MIX, part_words
from advisor.remedies.phrases import frequency_words
from advisor.remedies.touched import everywhere
from advisor.remedies.usual_settings import needed_frequency_hz
from features.processors.placement.mono_below import mono_below
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: mono_below(sound, needed_frequency_hz(remedy))


def _sentence(remedy: Remedy) -> str:
    of = "" if remedy.part in PARTS_OF_A_MIX else f" of {part_words(remedy.part)}"
    return f"everything{of} below {frequency_words(remedy)} in mono"


KIND = RemedyKind(
    name="mono_below",
    process=_process,
    sentence=_sentence,
    effort=2.0,
    amount=FIXED,
    touches=everywhere("space", "low-end"),
    followed_by=FollowUp("low sides"),
    takes_all_channels=True,
)
