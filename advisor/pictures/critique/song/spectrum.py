"""The spectrum over the usual spread."""

from math import log10

from advisor.app.words import frequency, number
from advisor.pictures.colours import AREA, QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.rows import ROW, Row, draw_rows
from advisor.pictures.sheet import DASHED, RIGHT, SMALL, Sheet, frequency_scale, level_scale
from advisor.report_model.findings import FindingCard
from advisor.report_model.report import Report
from features.records.balance import Balance, Target

LOW_HZ, HIGH_HZ = 25.0, 16500.0
LEFT, TOP, HEIGHT = 34.0, 18.0, 150.0
MOST_ROWS = 4
OUTSIDE = 1.0  # spreads from the middle
ONE_SCALE_HZ = 1000.0


def draw(report: Report) -> Drawn | None:
    """Draw the spectrum, the usual spread, and findings' bands."""
    balance, target = report.measurements.get(Balance), report.measurements.get(Target)
    if balance is None or target is None or not balance.deviation_db:
        return None
    bands = [
        band
        for band in zip(balance.third_octave_hz, balance.deviation_db, target.third_octave_db, target.spread_db, strict=False)
        if LOW_HZ <= band[0] <= HIGH_HZ
    ]
    if not bands:
        return None
    cards = [card for card in report.findings if card.band_hz is not None and card.stage == "mixing"][:MOST_ROWS]
    whose = f"your {target.songs} references" if target.songs > 1 else "your reference" if target.songs else "finished songs in general"
    return Drawn(_sheet(bands, cards, whose), _caption(whose, cards), _alternative(bands, cards, whose))


Band = tuple[float, float, float, float]  # Hz, deviation, usual level and spread in dB


def _sheet(bands: list[Band], cards: list[FindingCard], whose: str) -> Sheet:
    sheet = Sheet(TOP + HEIGHT + 26.0 + len(cards) * ROW)
    axes = sheet.axes(LEFT, TOP, RIGHT - LEFT, HEIGHT)
    hertz = [band[0] for band in bands]
    # Third-octave levels, not power per Hz: as an analyser shows them, pink noise lies level.
    middle = [usual + 10.0 * log10(hz / ONE_SCALE_HZ) for hz, _, usual, _ in bands]
    song = [level + band[1] for level, band in zip(middle, bands, strict=True)]
    above = [level + band[3] for level, band in zip(middle, bands, strict=True)]
    below = [level - band[3] for level, band in zip(middle, bands, strict=True)]
    frequency_scale(axes, LOW_HZ, HIGH_HZ)
    top, bottom = max(*above, *song) + 1.0, max(min(*below, *song), max(song) - 45.0) - 1.0
    level_scale(axes, bottom, top, range(-60, 61, 10), "dB")
    axes.fill([*hertz, *hertz[::-1]], [*above, *below[::-1]], facecolor=AREA.light, edgecolor=QUIET.light, linewidth=0.5)
    axes.plot(hertz, middle, color=QUIET.light, linewidth=1.0, linestyle=DASHED)
    axes.plot(hertz, song, color=SONG.light, linewidth=2.2)
    sheet.words(LEFT, 11.0, "your mix", SONG.light)
    sheet.words(RIGHT, 11.0, f"shaded: {whose}", QUIET.light, SMALL, "right")
    if cards:
        rows = sheet.axes(LEFT, TOP + HEIGHT + 24.0, RIGHT - LEFT, len(cards) * ROW)
        rows.set_xscale("log", base=2)
        rows.set_xlim(LOW_HZ, HIGH_HZ)
        draw_rows(rows, [Row(card.title, (card.band_hz,)) for card in cards if card.band_hz])
    return sheet


def _caption(whose: str, cards: list[FindingCard]) -> str:
    marked = " Under it: the bands of the findings." if cards else ""
    return f"Shaded is the usual spread around {whose}. Where the line leaves it, your mix is unusual.{marked}"


def _alternative(bands: list[Band], cards: list[FindingCard], whose: str) -> str:
    leaving = [
        f"{frequency(hz)} {deviation:+.1f} dB (usual spread {number(spread)} dB)"
        for hz, deviation, _, spread in bands
        if abs(deviation) > OUTSIDE * spread
    ]
    outside = f"Outside the usual spread: {', '.join(leaving)}." if leaving else "Every third octave lies within the usual spread."
    marked = [f" {card.title}: {frequency(card.band_hz[0])} to {frequency(card.band_hz[1])}." for card in cards if card.band_hz]
    return f"Spectrum of the mix in third octaves against {whose}. {outside}{''.join(marked)}"


KIND = PictureKind(
    place=20, section="findings", shows=lambda card: card.band_hz is not None and card.topic in {"tone", "low-end"}, draw=draw
)
