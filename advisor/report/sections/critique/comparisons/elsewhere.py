"""Shows what is left of the song on other speakers."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from advisor.app.words import lowered, number
from advisor.report.filling import filled
from advisor.report_model.elsewhere import ListeningPlace
from advisor.report_model.findings import FindingCard
from advisor.report_model.report import Report
from rules.base import all_rules

PLACE = 82
UNUSUAL = 3.0  # spreads between songs; of eleven finished songs three pass 2, and one 3
TRANSLATION = "rules.mixing.translation."
MOST_NAMED = 2


@dataclass(frozen=True, slots=True)
class PlaceRow:
    """A listening condition's readings in words."""

    there: ListeningPlace
    loudness: str
    audible: str
    hits: str
    lows: str
    least: str


def section(report: Report) -> Iterator[str]:
    """Yield a line and the table.

    Nothing where no condition was chosen.
    """
    places = report.elsewhere
    if not places:
        return
    yield from filled(
        __name__,
        line=summary(places, report.findings),
        rows=[_row(there) for there in places],
        songs="your references" if places[0].compared_with else "songs in general",
        stems=bool(report.stems),
        clips=any(there.clip for there in places),
    )


def summary(places: Sequence[ListeningPlace], findings: Sequence[FindingCard]) -> str:
    """Return in one sentence or two what stands out elsewhere."""
    songs = "your references" if places[0].compared_with else "songs in general"
    soft = sorted((there.readings for there in places if there.readings.unusual >= UNUSUAL), key=lambda song: -song.unusual)
    said = [f"softer than {songs} {song.place} ({song.usual_lu - song.loudness_lu:.1f} LU)" for song in soft[:MOST_NAMED]]
    line = " and ".join(said) if said else f"The song stays as loud as {songs} do in every place that was looked at"
    line = f"{line[:1].upper()}{line[1:]}."
    lost = [lowered(card.title) for card in findings if card.rule in _translation()]
    return f"{line} {_named(lost)}" if lost else line


def _translation() -> frozenset[str]:
    return frozenset(rule.id for rule in all_rules() if rule.module.startswith(TRANSLATION))


def _named(titles: Sequence[str]) -> str:
    return f"What it loses on the way: {', '.join(titles[:MOST_NAMED])}; see the cards above."


def _row(there: ListeningPlace) -> PlaceRow:
    song = there.readings
    least = song.least_audible
    return PlaceRow(
        there,
        f"{song.loudness_lu:+.1f} LU (usually {song.usual_lu:+.1f})",
        f"{song.audible_share:.0%} (usually {song.usual_share:.0%})",
        "" if song.hits_share is None else f"{song.hits_share:.0%}",
        "" if song.low_mono_loss_db is None else number(max(song.low_mono_loss_db, 0.0), 1, "dB"),
        "" if least is None else f"'{least.name}', {least.kept:.0%}",
    )
