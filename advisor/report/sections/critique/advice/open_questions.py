"""Says what could not be judged, failed or was changed."""

from collections.abc import Iterator

from advisor.app.words import lowered
from advisor.report.filling import filled
from advisor.report_model.report import Report

PLACE = 140


def section(report: Report) -> Iterator[str]:
    """Yield what is open, each reason once.

    Nothing where nothing is.
    """
    reasons = dict.fromkeys(rule.reason for rule in report.not_applicable)
    by_reason = [(reason, [rule.title for rule in report.not_applicable if rule.reason == reason]) for reason in reasons]
    not_judged = [("; ".join([titles[0], *(lowered(title) for title in titles[1:])]), reason) for reason, titles in by_reason]
    settings = report.settings
    if not_judged or report.failed or settings.changed_limits or settings.disabled_rules:
        yield from filled(__name__, not_judged=not_judged, failed=report.failed, settings=settings)
