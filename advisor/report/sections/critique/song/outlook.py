"""How loud it can go."""

from collections.abc import Iterator, Sequence

from advisor.app.words import STOPPED_BY, frequency, number
from advisor.report.filling import filled
from advisor.report_model.report import Report
from features.records.outlook import DrivePoint, PeakShare

PLACE = 95
LEAST_SHARE = 0.1  # of the peaks; less is not worth a word
MOST_SHARES = 3


def section(report: Report) -> Iterator[str]:
    """Yield how loud the mix can go, drive by drive.

    Nothing where that could not be measured.
    """
    outlook = report.outlook
    if outlook is None or outlook.clean_lufs is None:
        return
    shares = [share for share in sorted(outlook.peak_share, key=lambda share: -share.share) if share.share >= LEAST_SHARE][:MOST_SHARES]
    yield from filled(
        __name__,
        ceiling=f"{outlook.ceiling_dbtp:g}",
        gently=_until(outlook.clean_lufs, outlook.stopped_by),
        fast=None if outlook.fast_clean_lufs is None else _until(outlook.fast_clean_lufs, outlook.fast_stopped_by),
        curve=[(point, _noise(point.distortion_nmr_db)) for point in _distinct(outlook.curve)],
        shares="; ".join(f"{_stretch(share)} ({share.share:.0%})" for share in shares),
    )


def _until(clean_lufs: float | None, stopped_by: str) -> str:
    return f"{number(clean_lufs)} LUFS (then {STOPPED_BY[stopped_by]})"


def _distinct(curve: Sequence[DrivePoint]) -> list[DrivePoint]:
    """Return the points whose drives differ as printed."""
    drives = [number(point.drive_db) for point in curve]
    return [point for place, point in enumerate(curve) if place == 0 or drives[place] != drives[place - 1]]


def _stretch(band: PeakShare) -> str:
    if band.low_hz <= 0.0:
        return f"below {frequency(band.high_hz)}, which is an offset or rumble"
    return f"{frequency(band.low_hz)}-{frequency(band.high_hz)}"


def _noise(ratio_db: float) -> str:
    return "none" if ratio_db <= -60.0 else f"{number(ratio_db)} dB"
