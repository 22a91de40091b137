"""Whether a move that was made may be what made something else worse: by what it works on, never more than a hint."""

from collections.abc import Mapping
from math import log2
from typing import Any

from advisor.app.finding_key import SIDES
from advisor.history.promised import Promise

NEAR_OCTAVES = 1.0
EQUALISERS = frozenset({"bell", "low_shelf", "high_shelf", "high_pass", "low_pass", "dynamic_bell"})
TOUCHES = {
    "gain": frozenset({"balance", "masking", "dynamics", "loudness"}),
    "pan": frozenset({"space"}),
    "side_gain": frozenset({"space"}),
    "mono_below": frozenset({"space", "low-end"}),
    "polarity": frozenset({"space", "low-end"}),
    "delay": frozenset({"space", "low-end"}),
    "compressor": frozenset({"dynamics", "masking", "distortion", "loudness"}),
    "parallel": frozenset({"dynamics", "masking", "loudness"}),
    "peak_limiter": frozenset({"dynamics", "distortion", "masking"}),
    "saturation": frozenset({"distortion", "tone", "dynamics"}),
    "waveshaper": frozenset({"distortion", "dynamics"}),
}


def may_have_caused(move: Promise, finding: Mapping[str, Any]) -> bool:
    """Whether the move works on what the finding is about: near its band for an equaliser, its topic for everything else."""
    if finding["rule"] == move.key.rule and finding.get("stem") == move.key.stem and not _turned(move, finding):
        return False
    if move.remedy.part in SIDES:  # a side turned down does no more than lean the other way
        return bool(finding["rule"] == move.key.rule)
    if move.remedy.kind in EQUALISERS:
        if finding["topic"] not in ("tone", "low-end", "masking"):
            return False
        return _reaches(move, finding.get("band_hz"))
    return finding["topic"] in TOUCHES.get(move.remedy.kind, frozenset())


def _turned(move: Promise, finding: Mapping[str, Any]) -> bool:
    """Whether the finding is the same fault on the other side."""
    remedy = finding.get("remedy") or {}
    return move.key.side is not None and remedy.get("part") in ("left", "right") and remedy["part"] != move.key.side


def _reaches(move: Promise, band: Any) -> bool:  # noqa: ANN401 - a pair of numbers or None
    hz = move.remedy.frequency_hz
    if hz is None:
        return False
    if band is None:
        return True
    low, high = log2(band[0]) - NEAR_OCTAVES, log2(band[1]) + NEAR_OCTAVES
    place = log2(hz)
    if move.remedy.kind in ("low_shelf", "high_pass"):
        return low <= place
    if move.remedy.kind in ("high_shelf", "low_pass"):
        return place <= high
    return low <= place <= high
