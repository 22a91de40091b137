"""Side gain: the sides against the middle up or down."""

from advisor.remedies.amounts import GAIN
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.parts import PARTS_OF_A_MIX, part_words
from advisor.remedies.phrases import level_words
from advisor.remedies.touched import everywhere
from features.processors.placement.side_gain import side_gain
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: side_gain(sound, remedy.gain_db or 0.0)


def _sentence(remedy: Remedy) -> str:
    of = "" if remedy.part in PARTS_OF_A_MIX else f" of {part_words(remedy.part)}"
    return level_words(f"the side signal{of}", remedy.gain_db)


KIND = RemedyKind(
    name="side_gain",
    process=_process,
    sentence=_sentence,
    effort=1.0,
    amount=GAIN,
    touches=everywhere("space"),
    followed_by=FollowUp("side share"),
    takes_all_channels=True,
)
