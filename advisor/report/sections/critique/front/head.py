"""Says in three sentences how the mix stands."""

from collections.abc import Iterator

from advisor.app.history_words import counted
from advisor.app.words import SURE, lowered
from advisor.report.filling import filled
from advisor.report.sections.critique.front.moves import front_moves
from advisor.report.unusual_tone import Unusual, unusual_tone
from advisor.report_model.findings import FindingCard
from advisor.report_model.report import Report
from features.records.file import File, Health
from features.records.level import Level
from features.sound.clock import clock

PLACE = 10
MOST_NAMED = 3
ALONE = "From the stereo file alone the balance between elements was not judged: give --stems"
WORTH_THE_FRONT = 0.1  # of songs have as much: what is rarer is told on the front page, where there is room


def section(report: Report) -> Iterator[str]:
    """Yield the title and what can be said."""
    return filled(__name__, mix=report.mix, sentences=sentences(report), facts=_facts(report))


def sentences(report: Report) -> list[tuple[str, str]]:
    """Return subjects and what is said of them."""
    said = [("Loudness", report.verdict.sentence)]
    health = report.measurements.get(Health)
    if health is not None and health.silent:
        return said
    return [*said, ("Balance and tone", balance_sentence(report)), ("File", file_sentence(report))]


def balance_sentence(report: Report) -> str:
    """Say what was found in the mix.

    And what was not judged.
    """
    cards = [card for card in report.findings if card.stage == "mixing" and card.rule != "mixing/short_of_target"]
    parts = [] if report.stems else [ALONE]
    parts += [_named(cards) if cards else "No fault was found"]
    strange = unusual_tone(report)
    if strange and strange[0].share <= WORTH_THE_FRONT and len(cards) < MOST_NAMED:
        parts += [f"most unusual in tone: {_region(strange[0])}"]
    return f"{'; '.join(part if place == 0 else lowered(part) for place, part in enumerate(parts))}."


def _region(region: Unusual) -> str:
    return f"{region.words} ({region.rarity.partition(' ha')[0]})"


def _named(cards: list[FindingCard]) -> str:
    """Return the findings' titles, the surest first."""
    groups = [(SURE[confidence], [lowered(card.title) for card in cards if card.confidence == confidence]) for confidence in SURE]
    said, left = [], MOST_NAMED
    for sure, titles in groups:
        said += [f"{sure}: {', '.join(titles[:left])}"] if titles[:left] else []
        left -= len(titles[:left])
    more = len(cards) - MOST_NAMED
    text = "; ".join([*said, f"and {more} more below"] if more > 0 else said)
    return text[:1].upper() + text[1:]


def file_sentence(report: Report) -> str:
    """Say what to put right in the file."""
    cards = [card for card in report.findings if card.stage == "delivery"]
    by_move = [place for place, move in enumerate(front_moves(report), 1) for about in move.about if about[0].startswith("delivery/")]
    titles = [lowered(card.title) for card in cards if card.confidence != "low"]
    possible = [lowered(card.title) for card in cards if card.confidence == "low"]
    named = ", ".join([*titles[:MOST_NAMED], *([f"{len(titles) - MOST_NAMED} more"] if len(titles) > MOST_NAMED else [])])
    said = [f"put right when you bounce again: {named}"] if titles and not by_move else []
    said += [f"{counted(len(titles), 'thing', 'things')} to put right (move {by_move[0]})"] if by_move else []
    said += [f"possible: {', '.join(possible)}"] if possible else []
    words = "; ".join(said) or "nothing is wrong with it"
    return f"{words[:1].upper()}{words[1:]}."


def _facts(report: Report) -> list[str]:
    settings = report.settings
    aim = f"measured for {settings.target_lufs:g} LUFS under {settings.ceiling_dbtp:g} dBTP"
    return [*format_facts(report.mix), aim]


def format_facts(file: File) -> list[str]:
    """Return a file's length, rate, channels and format."""
    kind = f"{file.bits}-bit" if file.bits else file.subtype
    return [clock(file.duration_s), f"{file.rate_hz / 1000:g} kHz", "mono" if file.channels == 1 else "stereo", kind]


def file_facts(file: File, level: Level | None) -> list[str]:
    """Return a file's format and its loudness."""
    facts = format_facts(file)
    if level is not None and level.integrated_lufs is not None:
        facts += [f"{level.integrated_lufs:.1f} LUFS integrated", f"true peak {level.true_peak_dbtp:.1f} dBTP"]
    return facts
