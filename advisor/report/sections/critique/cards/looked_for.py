"""Says what was judged, what not, and what failed."""

from collections.abc import Iterator

from advisor.app.words import TOPICS, lowered
from advisor.report.filling import filled
from advisor.report_model.report import Report

PLACE = 130


def section(report: Report) -> Iterator[str]:
    """Yield counts, and the lists folded, each reason once."""
    by_topic = ((heading, [rule.title for rule in report.passed_cards if rule.topic == topic]) for topic, heading in TOPICS.items())
    reasons = dict.fromkeys(rule.reason for rule in report.not_applicable)
    by_reason = [(reason, [rule.title for rule in report.not_applicable if rule.reason == reason]) for reason in reasons]
    yield from filled(
        __name__,
        counts=f"{len(report.passed_cards)} faults" if report.passed_cards else "",
        topics=[(heading, "; ".join(lowered(title) for title in titles)) for heading, titles in by_topic if titles],
        open_count=len(report.not_applicable),
        not_judged=[("; ".join([titles[0], *(lowered(title) for title in titles[1:])]), reason) for reason, titles in by_reason],
        failed=report.failed,
        settings=report.settings,
    )
