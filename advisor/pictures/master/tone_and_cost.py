"""The master beside its mix: change of tone, and cost."""

from advisor.app.words import frequency, number
from advisor.pictures.colours import GRID, MARK, QUIET, SONG
from advisor.pictures.picture import Drawn, PictureKind
from advisor.pictures.sheet import RIGHT, SMALL, Sheet, frequency_scale
from advisor.report_model.master_check import MasterReport
from features.limiting.damage import damage_shares
from features.records.mastering import Mastered
from features.records.outlook import DAMAGE

LOW_HZ, HIGH_HZ = 25.0, 16500.0
LEFT, HEIGHT, ROW = 34.0, 90.0, 18.0
WIDTH = RIGHT - LEFT
LEAST_DB = 2.0
NAMES = {"distortion": "distortion", "pumping": "pumping", "hits": "punch lost"}
MOST_SHARE = 1.5  # of a limit
SAID_DB = 0.5


def draw(report: MasterReport) -> Drawn | None:
    """Draw the change of tone and the damage.

    Tone by third octaves, damage as shares of what is heard.
    """
    pair = report.mastered
    if pair is None or len(pair.band_hz) < 3:
        return None
    bands = [(hz, change) for hz, change in zip(pair.band_hz, pair.band_change_db, strict=True) if LOW_HZ <= hz <= HIGH_HZ]
    shares = _shares(pair)
    return Drawn(_sheet(bands, shares), _caption(pair, shares), _alternative(pair, bands, shares))


def _shares(pair: Mastered) -> dict[str, float]:
    readings = {"distortion": pair.distortion_nmr_db, "pumping": pair.pumping_db, "hits": pair.hit_loss_db}
    shares = damage_shares(pair.distortion_nmr_db or 0.0, pair.pumping_db or 0.0, pair.hit_loss_db or 0.0, 1.0)
    return {name: max(shares[name], 0.0) for name in DAMAGE if readings.get(name) is not None}


def _sheet(bands: list[tuple[float, float]], shares: dict[str, float]) -> Sheet:
    under = 20.0 + HEIGHT + 24.0
    sheet = Sheet(under + (22.0 + len(shares) * ROW if shares else 0.0) + 4.0)
    axes = sheet.axes(LEFT, 20.0, WIDTH, HEIGHT)
    frequency_scale(axes, LOW_HZ, HIGH_HZ)
    most = max(LEAST_DB, *(abs(change) + 0.3 for _, change in bands))
    tick = 1 if most < 3.0 else 3 if most < 8.0 else 6
    axes.set_ylim(-most, most)
    axes.set_yticks([-tick, 0, tick], [f"-{tick}", "0 dB", f"+{tick}"])
    axes.axhline(0.0, color=QUIET.light, linewidth=0.8)
    axes.plot(*zip(*bands, strict=True), color=SONG.light, linewidth=2.2)
    sheet.words(LEFT, 12.0, "master against mix", SONG.light)
    sheet.words(LEFT + WIDTH, 12.0, "at matched loudness", QUIET.light, SMALL, "right")
    if shares:
        _draw_cost(sheet, shares, under + 18.0)
    return sheet


def _draw_cost(sheet: Sheet, shares: dict[str, float], top: float) -> None:
    axes = sheet.axes(LEFT + 66.0, top, WIDTH - 66.0, len(shares) * ROW)
    axes.set_xlim(0.0, MOST_SHARE)
    axes.set_ylim(len(shares) - 0.5, -0.5)
    axes.axis("off")
    axes.axvline(1.0, color=QUIET.light, linewidth=0.8)
    for row, (name, share) in enumerate(shares.items()):
        axes.plot([0.0, MOST_SHARE], [row, row], color=GRID.light, linewidth=4.0, solid_capstyle="butt")
        colour = MARK.light if share > 1.0 else SONG.light
        axes.plot([0.0, min(share, MOST_SHARE)], [row, row], color=colour, linewidth=4.0, solid_capstyle="butt")
        sheet.words(LEFT + 60.0, top + (row + 0.5) * ROW + 3.5, NAMES[name], align="right")
    sheet.words(LEFT + 66.0 + (WIDTH - 66.0) / MOST_SHARE, top - 4.0, "heard from here", QUIET.light, SMALL, "center")


def _caption(pair: Mastered, shares: dict[str, float]) -> str:
    louder = (
        ""
        if pair.louder_lu is None
        else f"The master is {number(abs(pair.louder_lu))} LU {'louder' if pair.louder_lu >= 0 else 'softer'}. "
    )
    past_limit = [NAMES[name] for name, share in shares.items() if share > 1.0]
    cost = (
        f" Past what is heard: {', '.join(past_limit)}." if past_limit else " No reading of damage passes what is heard." if shares else ""
    )
    return f"{louder}Above the line mastering raised the tone, below it lowered it.{cost}"


def _alternative(pair: Mastered, bands: list[tuple[float, float]], shares: dict[str, float]) -> str:
    moved = ", ".join(f"{frequency(hz)} {change:+.1f} dB" for hz, change in bands if abs(change) >= SAID_DB)
    tone = f"Changed by {SAID_DB} dB or more: {moved}." if moved else "No third octave changed by 0.5 dB or more."
    cost = ", ".join(f"{NAMES[name]} {share:.0%}" for name, share in shares.items())
    loud = f"{number(pair.mix_lufs)} to {number(pair.master_lufs)} LUFS."
    return f"Master against mix: {loud} {tone}{f' Of what is heard: {cost}.' if cost else ''}"


KIND = PictureKind(place=10, section="tone", draw=draw)
