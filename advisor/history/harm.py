"""Whether a move may have made something else worse.

By what it works on, never more than a hint.
"""

from advisor.app.finding_key import SIDES
from advisor.history.promised import Promise
from advisor.history.reading import key_of
from advisor.remedies.discovery import find_kind
from advisor.report_model.findings import ReportedFinding


def may_have_caused(move: Promise, finding: ReportedFinding) -> bool:
    """Whether the move works on what the finding is about.

    Near its band for an equaliser, on its topic for everything else.
    """
    if finding.rule == move.key.rule and key_of(finding).stem == move.key.stem and not _turned(move, finding):
        return False
    if move.remedy.part in SIDES:  # a side turned down does no more than lean the other way
        return finding.rule == move.key.rule
    kind = find_kind(move.remedy)
    return kind is not None and finding.topic in kind.touches.topics and kind.touches.reach(move.remedy, finding.band_hz)


def _turned(move: Promise, finding: ReportedFinding) -> bool:
    """Whether the same fault now lies on the other side."""
    part = None if finding.remedy is None else finding.remedy.part
    return move.key.side is not None and part in SIDES and part != move.key.side
