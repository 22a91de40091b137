"""Whether a move that was made may be what made something else worse: by what it works on, never more than a hint."""

from collections.abc import Mapping
from typing import Any

from advisor.app.finding_key import SIDES
from advisor.history.promised import Promise
from advisor.remedies.discovery import find_kind


def may_have_caused(move: Promise, finding: Mapping[str, Any]) -> bool:
    """Whether the move works on what the finding is about: near its band for an equaliser, its topic for everything else."""
    if finding["rule"] == move.key.rule and finding.get("stem") == move.key.stem and not _turned(move, finding):
        return False
    if move.remedy.part in SIDES:  # a side turned down does no more than lean the other way
        return bool(finding["rule"] == move.key.rule)
    kind = find_kind(move.remedy)
    return kind is not None and finding["topic"] in kind.touches.topics and kind.touches.reach(move.remedy, finding.get("band_hz"))


def _turned(move: Promise, finding: Mapping[str, Any]) -> bool:
    """Whether the finding is the same fault on the other side."""
    remedy = finding.get("remedy") or {}
    return move.key.side is not None and remedy.get("part") in ("left", "right") and remedy["part"] != move.key.side
