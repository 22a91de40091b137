"""None: what only another recording or an earlier state mends."""

from advisor.remedies.amounts import FIXED
from advisor.remedies.kind import FollowUp, RemedyKind
from advisor.remedies.parts import part_words
from advisor.remedies.touched import everywhere
from rules.remedy import Remedy


def _sentence(remedy: Remedy) -> str:
    mends = "nothing a fader, an EQ or a compressor can fix"
    return mends if remedy.part == "mix" else f"{mends}: go back to an earlier state of {part_words(remedy.part)}"


KIND = RemedyKind(
    name="none",
    process=None,
    sentence=_sentence,
    effort=5.0,
    amount=FIXED,
    touches=everywhere(),
    followed_by=FollowUp("finding"),
)
