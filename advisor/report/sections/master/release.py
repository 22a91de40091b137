"""Says what listeners get: lossy formats and loudness normalisation."""

from collections.abc import Iterator, Sequence

from advisor.report.filling import filled
from advisor.report.sections.master.gains import signed
from advisor.report.streaming import streaming_words
from advisor.report_model.master_check import MasterReport
from features.records.mastering import Coded

PLACE = 50
NO_AAC = "AAC was not tried: it takes ffmpeg, and an encoder in it."


def section(report: MasterReport) -> Iterator[str]:
    """Yield what is heard of the master.

    Nothing where none was tried.
    """
    release = report.release
    if release and (release.coded or release.normalised):
        yield from filled(
            __name__,
            release=release,
            worst=_worst(release.coded),
            coded=[(coded, signed(coded.true_peak_dbtp, "dBTP")) for coded in release.coded],
            missing="" if any(coded.codec == "AAC" for coded in release.coded) else NO_AAC,
            streaming=streaming_words(release.normalised),
        )


def _worst(coded: Sequence[Coded]) -> str:
    """Return the format whose true peak comes out highest."""
    if not coded:
        return ""
    worst = max(coded, key=lambda file: file.true_peak_dbtp)
    return f"as it is, {worst.codec} at {worst.kbps:.0f} kbit/s comes out at {signed(worst.true_peak_dbtp, 'dBTP')}"
