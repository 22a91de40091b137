"""Says what is in order with the master."""

from collections.abc import Iterator

from advisor.app.words import TOPICS, lowered
from advisor.report.filling import filled
from advisor.report_model.master_check import MasterReport

PLACE = 60


def section(report: MasterReport) -> Iterator[str]:
    """Yield what was looked for and not found, by topic."""
    by_topic = ((heading, [rule.title for rule in report.passed_cards if rule.topic == topic]) for topic, heading in TOPICS.items())
    topics = [(heading, "; ".join(lowered(title) for title in titles)) for heading, titles in by_topic if titles]
    if report.passed_cards:
        yield from filled(__name__, topics=topics)
