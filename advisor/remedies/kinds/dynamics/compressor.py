"""Compressor: loud moments turned down."""

from advisor.remedies.amounts import THRESHOLD
from advisor.remedies.compression import curve_of, timing_of
from advisor.remedies.kind import FollowUp, Process, RemedyKind
from advisor.remedies.phrases import compression_words
from advisor.remedies.touched import everywhere
from features.processors.dynamics.compressor import compress
from rules.remedy import Remedy


def _process(remedy: Remedy) -> Process:
    return lambda sound: compress(sound, curve_of(remedy), timing_of(remedy), remedy.gain_db or 0.0)


def _sentence(remedy: Remedy) -> str:
    makeup = f", {remedy.gain_db:+.1f} dB of make-up gain" if remedy.gain_db else ""
    return f"{compression_words(remedy)}{makeup}"


KIND = RemedyKind(
    name="compressor",
    process=_process,
    sentence=_sentence,
    effort=3.0,
    amount=THRESHOLD,
    touches=everywhere("dynamics", "masking", "distortion", "loudness"),
    followed_by=FollowUp("finding"),
)
