"""The width of each octave."""

from math import log10

from advisor.app.words import frequency
from advisor.pictures.colours import GRID, QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.sheet import OCTAVES_HZ, RIGHT, SMALL, Sheet
from advisor.report_model.report import Report
from features.records.stereo import Stereo

LEFT, TOP, HEIGHT = 34.0, 20.0, 100.0
WIDTH = RIGHT - LEFT
FLOOR_DB, ROOF_DB = -36.0, 6.0
MONO_DB = -40.0
HALF_OCTAVE = 2.0**0.5
LEAST_ENERGY = 1e-7  # of the song's: a band that holds less says nothing


def draw(report: Report) -> Drawn | None:
    """Draw side against mid for each octave.

    Nothing for a mono song.
    """
    stereo = report.measurements.get(Stereo)
    octaves = [] if stereo is None else _octaves(stereo)
    if not octaves or max(side for _, side in octaves) < MONO_DB:
        return None
    return Drawn(_sheet(octaves), _caption(octaves), _alternative(octaves))


Octaves = list[tuple[float, float]]  # centre in Hz, side against mid in dB


def _octaves(stereo: Stereo) -> Octaves:
    """Return side against mid of each octave, its third octaves weighted by their energy."""
    thirds = [
        (hz, energy, 10.0 ** (side / 10.0))
        for hz, energy, side in zip(stereo.band_hz, stereo.band_energy_share, stereo.band_side_db, strict=True)
        if side is not None and energy > LEAST_ENERGY
    ]
    octaves = []
    for centre in OCTAVES_HZ:
        inside = [(energy, ratio) for hz, energy, ratio in thirds if centre / HALF_OCTAVE <= hz < centre * HALF_OCTAVE]
        mid = sum(energy / (1.0 + ratio) for energy, ratio in inside)
        side = sum(energy * ratio / (1.0 + ratio) for energy, ratio in inside)
        if mid > 0.0:
            octaves.append((centre, 10.0 * log10(max(side / mid, 1e-9))))
    return octaves


def _sheet(octaves: Octaves) -> Sheet:
    sheet = Sheet(TOP + HEIGHT + 22.0)
    axes = sheet.axes(LEFT, TOP, WIDTH, HEIGHT)
    axes.set_xlim(-0.6, len(octaves) - 0.4)
    axes.set_ylim(FLOOR_DB, ROOF_DB)
    axes.set_xticks(range(len(octaves)), [_short(centre) for centre, _ in octaves])
    axes.set_yticks([-30, -20, -10, 0], ["-30", "-20", "-10", "0 dB"])
    axes.grid(axis="y", color=GRID.light)
    heights = [min(max(side, FLOOR_DB + 0.5), ROOF_DB) - FLOOR_DB for _, side in octaves]
    axes.bar(range(len(octaves)), heights, 0.62, bottom=FLOOR_DB, facecolor=SONG.light, linewidth=0)
    sheet.words(LEFT, 12.0, "sides against the middle", SONG.light)
    sheet.words(LEFT + WIDTH, 12.0, "by octave, Hz", QUIET.light, SMALL, "right")
    return sheet


def _short(hertz: float) -> str:
    return f"{hertz / 1000.0:g}k" if hertz >= 1000.0 else f"{hertz:.0f}"


def _caption(octaves: Octaves) -> str:
    widest = max(octaves, key=lambda octave: octave[1])
    return f"The taller the bar, the wider the octave. At 0 dB as much lies at the sides as in the middle. Widest: {frequency(widest[0])}."


def _alternative(octaves: Octaves) -> str:
    return f"Sides against the middle, by octave: {', '.join(f'{frequency(centre)} {side:+.1f} dB' for centre, side in octaves)}."


KIND = PictureKind(place=80, section="numbers", shows=lambda card: card.cause == "width", draw=draw)
