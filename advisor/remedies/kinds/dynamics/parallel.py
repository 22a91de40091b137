"""Parallel compression: a compressed copy blended in."""

from advisor.remedies.amounts import THRESHOLD
from advisor.remedies.compression import curve_of, timing_of
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.phrases import compression_words
from advisor.remedies.touched import everywhere
from advisor.remedies.usual_settings import BLEND_DB, given
from features.processors.dynamics.compressor import parallel
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: parallel(sound, curve_of(remedy), timing_of(remedy), given(remedy.blend_db, BLEND_DB))


def _sentence(remedy: Remedy) -> str:
    blend_db = given(remedy.blend_db, BLEND_DB)
    return f"{compression_words(remedy)}, and blend that copy in {abs(blend_db):.1f} dB {'over' if blend_db > 0 else 'under'} the dry sound"


KIND = RemedyKind(
    name="parallel",
    process=_process,
    sentence=_sentence,
    effort=3.0,
    amount=THRESHOLD,
    touches=everywhere("dynamics", "masking", "loudness"),
    followed_by=FollowUp("finding"),
)
