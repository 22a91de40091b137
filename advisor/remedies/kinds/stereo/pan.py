"""Pan: an element moved to a side."""

from advisor.remedies.amounts import GAIN
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.parts import part_words
from advisor.remedies.touched import everywhere
from features.processors.placement.pan import pan
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: pan(sound, remedy.gain_db or 0.0)


def _sentence(remedy: Remedy) -> str:
    side = "right" if (remedy.gain_db or 0.0) > 0.0 else "left"
    return f"pan {part_words(remedy.part)} to the {side}, by about {abs(remedy.gain_db or 0.0):.1f} dB between its channels"


KIND = RemedyKind(
    name="pan",
    process=_process,
    sentence=_sentence,
    effort=1.5,
    amount=GAIN,
    touches=everywhere("space"),
    followed_by=FollowUp("finding"),
    makes_stereo=True,
    takes_all_channels=True,
)
