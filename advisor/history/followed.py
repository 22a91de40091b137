"""Whether a move that was advised was made.

Judged by measuring the later bounce against the earlier one.
Each kind of move is looked for where it works: an equaliser in the spectrum around its frequency, at matched loudness; a side that is
turned down in the balance of the sides; and so on. What has no reading of its own is judged by its finding.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite, log10

import numpy as np

from advisor.app.finding_key import SIDES
from advisor.history.elements import ComparedElements
from advisor.history.promised import Promise, curve_db
from advisor.history.reading import RecordT, reading, record_of
from advisor.history.spectral import shares
from advisor.remedies.discovery import find_kind
from advisor.remedies.kind import Reading
from advisor.remedies.parts import PARTS_OF_A_MIX
from advisor.report_model.history import StepVerdict
from advisor.report_model.report import Report
from features.records.hits import Hits
from features.records.level import Level
from features.records.low_end import LowEnd
from features.records.spectrum import Spectrum
from features.records.stereo import Stereo
from rules.base import Confidence

DONE, PARTLY, OVERDONE = 0.7, 0.3, 1.5  # shares of what was promised
SURE, LIKELY, OPEN = 0.12, 0.3, 0.6  # standard error of such a share; from the last on nothing can be told
LEAST_DB = 0.3  # a move that changes the mix by less is not to be seen in it
HITS_STEP = 0.02  # of the audible share of hits
OWN_STEM_DB = 0.1  # how far off a reading of one element may be
PAN = "pan"
SMALL = 1.0  # tolerances: a finding that was less than this past its limit says little about a move by going away


@dataclass(frozen=True, slots=True)
class MeasuredMove:
    """What was measured of one move.

    The promised and the measured change in ``unit``, what they were read from, and how far off their share may be.
    """

    promised: float
    measured: float
    unit: str
    read_from: str
    error: float
    can_overdo: bool = True
    on_itself: bool = False  # read on the element's own stem, where nothing else reaches in

    @property
    def share(self) -> float:
        """Return which share of the promised change is there."""
        return self.measured / self.promised


@dataclass(frozen=True, slots=True)
class FollowedMove:
    """What changes of one move."""

    promise: Promise
    verdict: StepVerdict
    sure: Confidence
    because: str
    change: MeasuredMove | None = None


def verdict_of(share: float, *, can_overdo: bool = True) -> StepVerdict:
    """Return the word for a share of what was promised.

    >>> [verdict_of(share) for share in (-0.5, 0.2, 0.5, 0.7, 1.4, 1.6)]
    ['not done', 'not done', 'partly', 'done', 'done', 'overdone']
    """
    if share > OVERDONE and can_overdo:
        return "overdone"
    if share >= DONE:
        return "done"
    return "partly" if share >= PARTLY else "not done"


def follow_up(
    promises: Sequence[Promise],
    earlier: Report,
    later: Report,
    excess_now: Sequence[float | None],
    *,
    judged: Sequence[bool],
    elements: ComparedElements | None = None,
) -> tuple[FollowedMove, ...]:
    """Judge all moves of one plan.

    ``excess_now`` is what is left of each move's finding, ``judged`` whether it could be found again; ``elements`` are those of both
    bounces, stem against stem.
    """
    tones = _tones(promises, earlier, later, elements)
    direct = [
        _on_element(promise, earlier, elements) or _direct(promise, earlier, later) or tones.get(place)
        for place, promise in enumerate(promises)
    ]
    return tuple(
        _followed(promise, direct[place] or _percussive(place, promises, direct, earlier, later), excess_now[place], can_tell=judged[place])
        for place, promise in enumerate(promises)
    )


def _followed(promise: Promise, change: MeasuredMove | None, left: float | None, *, can_tell: bool) -> FollowedMove:
    if change is None and can_tell and promise.excess > 0.0:
        change = _by_finding(promise, left or 0.0)
    if change is None:
        return FollowedMove(promise, "not measurable", "low", "nothing that this move changes was measured in both bounces")
    if change.error > OPEN:
        return FollowedMove(promise, "not measurable", "low", "too much else changed in the same place to tell", change)
    return _judged(promise, change, left, can_tell=can_tell)


def _percussive(
    place: int, promises: Sequence[Promise], direct: Sequence[MeasuredMove | None], earlier: Report, later: Report
) -> MeasuredMove | None:
    """Read a lift of the drums from their audible share.

    Less what the other moves that were made do to that. No level tells it: a drum's body counts among what sustains. What the move brings
    was measured in its trial.
    """
    promise, moved = promises[place], _change(earlier, later, Hits, lambda hits: hits.audible_share_median)
    if promise.remedy.part != "percussive" or moved is None or promise.hits_heard is None or abs(promise.hits_heard) < HITS_STEP:
        return None
    for other, change in zip(promises, direct, strict=True):
        if other is not promise and change is not None and other.hits_heard is not None:
            moved -= other.hits_heard * min(max(change.share, 0.0), OVERDONE)
    promised = promise.hits_heard
    return MeasuredMove(100.0 * promised, 100.0 * moved, "%", "how much of the usual hit is heard", HITS_STEP / abs(promised))


def _judged(promise: Promise, change: MeasuredMove, left: float | None, *, can_tell: bool) -> FollowedMove:
    surely_more = change.can_overdo and change.error <= LIKELY and change.share - change.error > OVERDONE * promise.room
    verdict = verdict_of(change.share, can_overdo=surely_more)
    sure: Confidence = "high" if change.error <= SURE else "medium" if change.error <= LIKELY else "low"
    because = {
        "high": "measured directly",
        "medium": "measured, though other changes may reach into it",
        "low": "other changes in the same place may have done as much",
    }[sure]
    if verdict == "overdone":
        because += "; check by ear whether less is better"
    if change.share <= -PARTLY and change.unit != "":
        because += "; it went the other way"
    if can_tell and change.unit != "":
        gone = left is None or left < 0.5 * promise.excess
        if gone and verdict == "not done":
            because = "its finding is gone all the same, so something else may have done it"
        elif not gone and verdict in ("done", "overdone"):
            because = "the change is there, but its finding is not gone"
        told_otherwise = (gone and verdict == "not done") or (not gone and verdict in ("done", "overdone"))
        sure = _lower(sure) if told_otherwise and not change.on_itself else sure
    return FollowedMove(promise, verdict, sure, because, change)


def _lower(sure: Confidence) -> Confidence:
    return "medium" if sure == "high" else "low"


def _by_finding(promise: Promise, left: float) -> MeasuredMove:
    """Read a move from its finding alone.

    That it is gone says that something was done, not that it was this. That it is there but less says little: what else was
    changed moves its reading too.
    """
    error = 0.25 if left <= 0.0 and promise.excess >= SMALL else 0.5
    return MeasuredMove(promise.excess, promise.excess - left, "", "its finding alone", error, can_overdo=False)


Reader = Callable[[Promise, Report, Report], MeasuredMove | None]


def _change(earlier: Report, later: Report, kind: type[RecordT], read: Callable[[RecordT], float | None]) -> float | None:
    old, new = reading(earlier, kind, read), reading(later, kind, read)
    return None if old is None or new is None else new - old


def ratio_db(share: float | None) -> float | None:
    """Return a share against the rest in dB."""
    return None if share is None or not 0.0 < share < 1.0 else 10.0 * log10(share / (1.0 - share))


def _in_db(promised: float, measured: float | None, read_from: str, usual_db: float) -> MeasuredMove | None:
    """Return a change in dB.

    ``usual_db`` is what that reading changes by when other things are changed.
    """
    if measured is None or abs(promised) < 1e-6 or not isfinite(measured):
        return None
    return MeasuredMove(promised, measured, "dB", read_from, usual_db / abs(promised))


def _gain(promise: Promise, earlier: Report, later: Report) -> MeasuredMove | None:
    part, gain_db = promise.remedy.part, promise.remedy.gain_db or 0.0
    if part in SIDES:
        moved = _change(earlier, later, Stereo, lambda stereo: stereo.balance_db)
        return _in_db(gain_db if part == "left" else -gain_db, moved, "the balance of left and right", 0.15)
    if part == "mix":
        return _in_db(gain_db, _change(earlier, later, Level, lambda level: level.integrated_lufs), "the loudness", 0.3)
    if part == "percussive":
        return None
    return _in_db(gain_db, _element_change(part, earlier, later), "the element's loudness against the mix", 0.4)


def _element_change(part: str, earlier: Report, later: Report) -> float | None:
    """Return the change of an element's or group's loudness.

    None without stems of both.
    """
    now = {stem.name: stem.level.in_mix_lu for stem in later.stems or ()}
    changes = []
    for stem in earlier.stems or ():
        old, new = stem.level.in_mix_lu, now.get(stem.name)
        if part in (stem.name, stem.group) and old is not None and new is not None:
            changes.append(new - old)
    return float(np.median(changes)) if changes else None


def _side(promise: Promise, earlier: Report, later: Report) -> MeasuredMove | None:
    old, new = (ratio_db(reading(report, Stereo, lambda stereo: stereo.side_share)) for report in (earlier, later))
    moved = None if old is None or new is None else new - old
    return _in_db(promise.remedy.gain_db or 0.0, moved, "the side signal against the middle", 0.5)


def _mono_below(_promise: Promise, earlier: Report, later: Report) -> MeasuredMove | None:
    old, new = (reading(report, LowEnd, lambda low_end: low_end.side_level_db) for report in (earlier, later))
    if old is None or new is None:
        return None
    before, after = (100.0 / (1.0 + 10.0 ** (-level / 10.0)) for level in (old, new))
    return MeasuredMove(-before, after - before, "% of the low end", "the sides below 120 Hz", 0.05, can_overdo=False)


def _delay(promise: Promise, earlier: Report, later: Report) -> MeasuredMove | None:
    old, new = (reading(report, Stereo, lambda stereo: stereo.delay_ms) for report in (earlier, later))
    if promise.remedy.part not in SIDES or old is None:
        return None
    return MeasuredMove(-old, (new or 0.0) - old, "ms", "the delay between the channels", 0.05)


DIRECT: dict[Reading, Reader] = {
    "level": _gain,
    "side share": _side,
    "low sides": _mono_below,
    "channel delay": _delay,
}


def _direct(promise: Promise, earlier: Report, later: Report) -> MeasuredMove | None:
    kind = find_kind(promise.remedy)
    read = None if kind is None else DIRECT.get(kind.followed_by.reading)
    return None if read is None else read(promise, earlier, later)


def _on_element(promise: Promise, earlier: Report, elements: ComparedElements | None) -> MeasuredMove | None:
    """Read a fader or a pan on the element itself.

    The middle one of a group's elements.
    """
    remedy, kind = promise.remedy, find_kind(promise.remedy)
    if elements is None or kind is None or not remedy.gain_db or remedy.part in PARTS_OF_A_MIX:
        return None
    if remedy.kind == PAN:
        return _on_itself(remedy.gain_db, elements.pan_db(remedy.part), "the pan of its own stem")
    if not kind.is_fader:
        return None
    names = [stem.name for stem in earlier.stems or () if stem.name == remedy.part] or [
        stem.name for stem in earlier.stems or () if stem.group == remedy.part
    ]
    return _on_itself(remedy.gain_db, elements.fader_db(names), "the level of its own stem")


def _on_itself(promised_db: float, measured_db: float | None, read_from: str) -> MeasuredMove | None:
    change = _in_db(promised_db, measured_db, read_from, OWN_STEM_DB)
    return None if change is None else replace(change, on_itself=True)


Curve = tuple[Sequence[float], Sequence[float]]  # third octaves: centres and levels


def _tones(promises: Sequence[Promise], earlier: Report, later: Report, elements: ComparedElements | None) -> dict[int, MeasuredMove]:
    """Read all equaliser moves, by their place in the plan.

    On an element's own stem where both bounces have it, else in the mix.
    """
    changes: dict[int, MeasuredMove] = {}
    for part in dict.fromkeys(promise.remedy.part for promise in promises):
        old, new = _own_curves(part, elements) or (_stem_curve(earlier, part), _stem_curve(later, part))
        if old is not None and new is not None:
            own = {place: replace(promise, octaves_db=None) for place, promise in enumerate(promises) if promise.remedy.part == part}
            changes.update(_shares(own, old, new, "the spectrum of its stem around it"))
    old, new = _mix_curve(earlier), _mix_curve(later)
    if old is not None and new is not None:
        rest = {place: promise for place, promise in enumerate(promises) if place not in changes}
        changes.update(_shares(rest, old, new, "the spectrum around it, at matched loudness"))
    return changes


def _own_curves(name: str, elements: ComparedElements | None) -> tuple[Curve, Curve] | None:
    """Return an element's change of spectrum as a curve of zeros, and the curve after it."""
    sound = None if elements is None else elements.sounds.get(name)
    if sound is None or not sound.same_performance:
        return None
    return (sound.curve_hz, (0.0,) * len(sound.curve_db)), (sound.curve_hz, sound.curve_db)


def _mix_curve(report: Report) -> Curve | None:
    spectrum = record_of(report, Spectrum)
    if spectrum is None or spectrum.level_db is None:
        return None
    return spectrum.third_octave_hz, spectrum.third_octave_db


def _stem_curve(report: Report, name: str) -> Curve | None:
    stem = next((stem for stem in report.stems or () if stem.name == name), None)
    if stem is None or not stem.level.third_octave_db:
        return None
    return stem.level.third_octave_hz, stem.level.third_octave_db


def _shares(promises: Mapping[int, Promise], old: Curve, new: Curve, read_from: str) -> dict[int, MeasuredMove]:
    count = min(len(old[1]), len(new[1]))
    change = np.asarray(new[1][:count]) - np.asarray(old[1][:count])
    curves = {place: curve_db(promise, old[0][:count]) for place, promise in promises.items()}
    strong = {place: curve for place, curve in curves.items() if curve is not None and float(np.abs(curve).max()) >= LEAST_DB}
    if not strong:
        return {}
    changes = {}
    for (place, curve), (share, error) in zip(strong.items(), shares(change, list(strong.values())), strict=True):
        deepest = float(curve[np.argmax(np.abs(curve))])
        changes[place] = MeasuredMove(deepest, share * deepest, "dB", read_from, error)
    return changes
