"""Says which elements carry what was found about the mix."""

from advisor.report_model.findings import ReportedFinding
from features.records.elements import Attribution, ElementShare

NOT_THERE = "It is not in your stems: it comes from the mix bus, or from a track that is missing among them"
IN_THE_SUM = "No single element carries much of it: it arises where they add up"


def attribution_words(finding: ReportedFinding) -> str:
    """Say who carries a finding about the mix.

    Nothing where that was not looked for.
    """
    attribution = finding.attribution
    if attribution is None:
        return ""
    if attribution.carrier == "left over":
        return NOT_THERE
    return IN_THE_SUM if attribution.carrier == "sum" else _carried(attribution)


def _carried(attribution: Attribution) -> str:
    first, *others = attribution.shares
    return ", ".join([f"'{first.name}' carries {_percent(first)} of it", *(f"'{other.name}' {_percent(other)}" for other in others)])


def _percent(share: ElementShare) -> str:
    return "nearly all" if share.share >= 0.95 else f"{share.share:.0%}"
