"""Damage a limiter does at the loudness asked for."""

import numpy as np

from features.limiting.outlook import OutlookTrace
from features.limiting.sweep import MOST_DRIVE_DB, DrivenSong, take_excerpt
from features.processors.dynamics.limiter import GENTLE
from features.records.outlook import DrivePoint, Outlook
from features.sound.signal import Source


def point_at_target(
    source: Source, trace: OutlookTrace, true_peak: float, hit_times_s: tuple[float, ...], outlook: Outlook
) -> DrivePoint | None:
    """Return the readings of damage at the target loudness.

    Gentle setting; None for silence.

    Parameters
    ----------
    source, trace, true_peak
        The song, its trace, and its highest true peak (linear), as `measure_outlook` takes them.
    hit_times_s
        Onsets of the whole song.
    outlook
        What was found of it: the drive that reaches the target, and the stretch on which damage is read. A target out of reach is read
        at the highest drive, one that is passed without limiting at none.
    """
    wanted = outlook.drive_to_target_db
    drive_db = float(np.clip(MOST_DRIVE_DB if wanted is None else wanted, 0.0, MOST_DRIVE_DB))
    peak = max(true_peak, float(trace.steps.envelope.max(initial=0.0)))
    excerpt = take_excerpt(source, trace.steps, outlook.excerpt, hit_times_s, peak) if peak > 0.0 else None
    if excerpt is None:
        return None
    driven = DrivenSong(trace.steps, excerpt, peak, outlook.ceiling_dbtp, GENTLE)
    return driven.point(drive_db, driven.distortion_db(drive_db))


def point_on_curve(outlook: Outlook) -> DrivePoint | None:
    """Return the readings of damage, read off the curve.

    Between its points where the target lies among them, else at the nearer end.

    Exact enough from a thorough sweep, which reaches past the target; the short sweep of a trial holds little more than the clean drive.
    """
    if not outlook.curve:
        return None
    wanted = outlook.drive_to_target_db
    drives = [point.drive_db for point in outlook.curve]
    drive_db = float(np.clip(MOST_DRIVE_DB if wanted is None else wanted, drives[0], drives[-1]))
    read = {
        name: float(np.interp(drive_db, drives, [getattr(point, name) for point in outlook.curve]))
        for name in ("lufs", "gain_reduction_p95_db", "distortion_nmr_db", "pumping_db", "hit_loss_db", "psr_db")
    }
    return DrivePoint(drive_db=drive_db, **read)
