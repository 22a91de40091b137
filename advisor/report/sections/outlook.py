"""How loud it can go."""

from collections.abc import Iterator, Sequence

from advisor.app.words import STOPPED_BY, frequency, number
from advisor.report_model.report import Report
from features.records.outlook import DrivePoint, PeakShare

PLACE = 100


def section(report: Report) -> Iterator[str]:
    """Yield how loud the mix can go, drive by drive."""
    outlook = report.outlook
    if not outlook or outlook.clean_lufs is None:
        return
    yield "## How loud it can go"
    yield ""
    yield (
        f"The mix was driven into a plain limiter with its ceiling at {outlook.ceiling_dbtp:g} dBTP; at a drive of 0 its highest peak "
        f"just meets it. Set gently, as in the table, it stays unheard up to {_until(outlook.clean_lufs, outlook.stopped_by)}."
        + (
            ""
            if outlook.fast_clean_lufs is None
            else f" Set fast, it stays unheard up to {_until(outlook.fast_clean_lufs, outlook.fast_stopped_by)}."
        )
    )
    yield ""
    yield "| drive | loudness | gain reduction, all but the hardest 5 % | distortion against what masks it | pumping | hits lose | PSR |"
    yield "|---:|---:|---:|---:|---:|---:|---:|"
    for point in _told_apart(outlook.curve):
        yield (
            f"| {number(point.drive_db)} dB | {number(point.lufs)} LUFS | {number(point.gain_reduction_p95_db)} dB "
            f"| {_noise(point.distortion_nmr_db)} | {number(point.pumping_db, 2)} dB "
            f"| {number(point.hit_loss_db)} dB | {number(point.psr_db)} dB |"
        )
    yield ""
    shares = [one for one in sorted(outlook.peak_share, key=lambda one: -one.share) if one.share >= 0.1][:3]
    if shares:
        texts = [f"{one.share:.0%} from {_stretch(one)}" for one in shares]
        yield f"What the peaks that the limiter works on are made of: {'; '.join(texts)}."
        yield ""


def _until(clean_lufs: float | None, stopped_by: str) -> str:
    return f"{number(clean_lufs)} LUFS; then {STOPPED_BY[stopped_by]}"


def _told_apart(curve: Sequence[DrivePoint]) -> list[DrivePoint]:
    """Leave out points at the same drive, as it is printed, as the one before."""
    drives = [number(point.drive_db) for point in curve]
    return [point for place, point in enumerate(curve) if place == 0 or drives[place] != drives[place - 1]]


def _stretch(band: PeakShare) -> str:
    if band.low_hz <= 0.0:
        return f"below {frequency(band.high_hz)} (an offset or rumble)"
    return f"{frequency(band.low_hz)}-{frequency(band.high_hz)}"


def _noise(ratio_db: float) -> str:
    return "none" if ratio_db <= -60.0 else f"{number(ratio_db)} dB"
