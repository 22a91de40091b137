"""The file is too short to judge.

## What it means
There is less music than the measurements need.

## Why it matters
Balance, dynamics and loudness are judged over a song; on a short piece they say little.

## What to do
Bounce the whole song, with its quiet and loud parts.

## Check by ear
Nothing to hear; look at the length.

## Leave it alone when
You only want to check one passage, and read the findings as being about that passage.

## Sources
ebu-tech-3342, judgement
"""

from dataclasses import dataclass

from features.records.file import File
from rules.base import Finding, limit, rule
from rules.shared.excess import past


@dataclass(frozen=True, slots=True)
class Limits:
    """What may be set in mixproof.toml."""

    length_s: float = limit(30.0, unit="s", low=3.0, high=120.0, source="judgement", says="a shorter file is reported")
    useless_s: float = limit(3.0, unit="s", low=0.4, high=10.0, source="judgement", says="below this hardly anything can be measured")


@rule(
    topic="delivery",
    title="Too short to judge",
    message="The file is only {length_s:.2f} s long. {what}.",
    advice="Bounce the whole song and critique that.",
    stop="when its quiet and its loud parts are both in the file",
)
def check(file: File, limits: Limits) -> Finding | None:
    """Compare the length with what the measurements need."""
    if file.duration_s >= limits.length_s:
        return None
    useless = file.duration_s < limits.useless_s
    what = (
        "Hardly anything but peaks and format can be measured"
        if useless
        else "Loudness range, the song's parts and clean loudness say little on so short a file"
    )
    return Finding(
        excess=past(-file.duration_s, -limits.length_s, 10.0),
        confidence="high",
        sure_because="the length is exact",
        numbers={"length_s": file.duration_s, "what": what},
        cause="file",
    )
