"""Says what was done to each element since then."""

from collections.abc import Iterator, Sequence

from advisor.app.history_words import shown
from advisor.app.words import frequency
from advisor.report_model.history import ElementBand, ElementChange, UndoneStep

MOST_BANDS = 2
LEAST_FADER_DB, LEAST_PAN_DB, UNEVEN_DB = 0.1, 0.3, 1.0


def element_lines(changes: Sequence[ElementChange]) -> Iterator[str]:
    """Yield a sentence for each element that was touched.

    Then for those that are heard otherwise, and one for the rest.
    """
    for change in changes:
        if change.state != "untouched":
            yield f"{_named(change)}: {_done(change)}"
    quiet = [change for change in changes if change.state == "untouched"]
    for change in quiet:
        if change.since is not None:
            yield f"{_named(change)}: untouched; {_heard(change)}"
    rest = [_named(change) for change in quiet if change.since is None]
    if rest:
        yield f"Untouched: {', '.join(rest)}"


def undone_words(step: UndoneStep) -> str:
    """Return a step that was taken back."""
    return (
        f"Step {step.step} for bounce {step.bounce - 1} ({step.move}) was made in bounce {step.bounce} and is undone now: "
        f"'{shown(step.element)}' {step.since_db:+.1f} dB since"
    )


def _named(change: ElementChange) -> str:
    name = f"'{shown(change.name or change.was or '')}'"
    renamed = change.name is not None and change.was is not None and change.name != change.was
    return f"{name} (was '{shown(change.was or '')}')" if renamed else name


def _done(change: ElementChange) -> str:
    if change.state == "new":
        return "new"
    if change.state == "gone":
        return "not among the stems any more"
    if change.state == "replaced":
        return "another performance or another sound, so no fader is told"
    return ", ".join(_moves(change))


def _moves(change: ElementChange) -> Iterator[str]:
    fader_db, pan_db = change.fader_db or 0.0, change.pan_db or 0.0
    if abs(fader_db) >= LEAST_FADER_DB:
        yield f"{'down' if fader_db < 0.0 else 'up'} {abs(fader_db):.1f} dB"
    if abs(pan_db) >= LEAST_PAN_DB:
        yield f"panned {abs(pan_db):.1f} dB to the {'left' if pan_db < 0.0 else 'right'}"
    yield from (_band(band) for band in change.bands[:MOST_BANDS])
    if change.uneven_db is not None and change.uneven_db >= UNEVEN_DB:
        yield "its level moves otherwise than it did (automation or a compressor)"


def _band(band: ElementBand) -> str:
    low, high = (float(f"{hz:.2g}") for hz in (band.low_hz, band.high_hz))
    return f"{band.change_db:+.1f} dB from {frequency(low)} to {frequency(high)}"


def _heard(change: ElementChange) -> str:
    before, after = change.heard_before or 0.0, change.heard_after or 0.0
    way, fader = ("clearer", "went down") if after > before else ("less clear", "went up")
    return f"{way} since '{shown(change.since or '')}' {fader} ({after:.0%} of it is heard, was {before:.0%})"
