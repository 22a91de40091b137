"""What is already good."""

from collections.abc import Iterator

from advisor.app.words import TOPICS, lowered
from advisor.report.filling import filled
from advisor.report_model.report import Report

PLACE = 80


def section(report: Report) -> Iterator[str]:
    """Yield what was looked for and not found, by topic."""
    by_topic = ((heading, [rule.title for rule in report.passed_cards if rule.topic == topic]) for topic, heading in TOPICS.items())
    topics = [(heading, "; ".join(lowered(title) for title in titles)) for heading, titles in by_topic if titles]
    if report.passed_cards:
        yield from filled(__name__, topics=topics)
