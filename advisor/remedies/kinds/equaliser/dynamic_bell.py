"""Dynamic bell: a region turned down while it is loud.

It, or another element.
"""

from advisor.remedies.amounts import THRESHOLD
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.parts import part_words
from advisor.remedies.phrases import frequency_words, on_part
from advisor.remedies.touched import NEARBY
from advisor.remedies.usual_settings import BAND_RATIO, BELL_Q, given, needed_frequency_hz, needed_threshold_dbfs
from features.processors.dynamics import duck, dynamic_band
from features.sound.signal import Signal
from rules.remedy import Remedy

DUCK_ATTACK_MS, DUCK_RELEASE_MS = 5.0, 120.0


def _process(remedy: Remedy) -> Process:
    return lambda sound: dynamic_band.dynamic_bell(
        sound,
        needed_frequency_hz(remedy),
        remedy.gain_db or 0.0,
        remedy.q or BELL_Q,
        needed_threshold_dbfs(remedy),
        remedy.ratio or BAND_RATIO,
    )


def _keyed(remedy: Remedy, key: Signal) -> Process:
    return lambda sound: duck.duck(
        sound,
        key,
        needed_frequency_hz(remedy),
        remedy.q or BELL_Q,
        remedy.gain_db or 0.0,
        given(remedy.attack_ms, DUCK_ATTACK_MS),
        given(remedy.release_ms, DUCK_RELEASE_MS),
        given(remedy.threshold_dbfs, duck.THRESHOLD_DBFS),
    )


def _sentence(remedy: Remedy) -> str:
    hz, depth_db, q = frequency_words(remedy), abs(remedy.gain_db or 0.0), remedy.q or BELL_Q
    if remedy.key is not None:
        return (
            f"dip {part_words(remedy.part)} {depth_db:.1f} dB around {hz} whenever {part_words(remedy.key)} sounds "
            f"(sidechained dynamic EQ, Q {q:.2g})"
        )
    return (
        f"a dynamic EQ around {hz} (Q {q:.2g}), down by up to {depth_db:.1f} dB when that band passes "
        f"{remedy.threshold_dbfs or 0.0:.1f} dBFS (peaks), ratio {remedy.ratio or BAND_RATIO:g}:1, {on_part(remedy)}"
    )


KIND = RemedyKind(
    name="dynamic_bell",
    process=_process,
    sentence=_sentence,
    effort=3.0,
    amount=THRESHOLD,
    touches=NEARBY,
    followed_by=FollowUp("finding"),
    keyed=_keyed,
)
