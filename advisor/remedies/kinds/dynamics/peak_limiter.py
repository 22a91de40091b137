"""Peak limiter: stray peaks taken off, nothing made up."""

from advisor.remedies.amounts import CEILING
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.phrases import on_part
from advisor.remedies.touched import everywhere
from features.processors.dynamics.peak_limiter import peak_limiter
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: peak_limiter(sound, remedy.ceiling_dbfs or 0.0)


def _sentence(remedy: Remedy) -> str:
    return f"a limiter without make-up gain, ceiling {remedy.ceiling_dbfs or 0.0:.1f} dBFS, {on_part(remedy)}"


KIND = RemedyKind(
    name="peak_limiter",
    process=_process,
    sentence=_sentence,
    effort=3.0,
    amount=CEILING,
    touches=everywhere("dynamics", "distortion", "masking"),
    followed_by=FollowUp("finding"),
)
