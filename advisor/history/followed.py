"""Whether a move that was advised was made: judged by measuring the later bounce against the earlier one.

Each kind of move is looked for where it works: an equaliser in the spectrum around its frequency, at matched loudness; a side that is
turned down in the balance of the sides; and so on. What has no reading of its own is judged by its finding.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import isfinite, log10
from typing import Any, Literal

import numpy as np

from advisor.history.promised import Promise, curve_db
from advisor.history.reading import value
from advisor.history.spectral import shares
from advisor.remedies.discovery import find_kind
from advisor.remedies.kind import Reading
from rules.base import Confidence

Document = Mapping[str, Any]
Verdict = Literal["done", "partly", "not done", "overdone", "not measurable"]

DONE, PARTLY, OVERDONE = 0.7, 0.3, 1.5  # shares of what was promised
SURE, LIKELY, OPEN = 0.12, 0.3, 0.6  # standard error of such a share; from the last on nothing can be told
LEAST_DB = 0.3  # a move that changes the mix by less is not to be seen in it
HITS_STEP = 0.02  # of the audible share of hits
SMALL = 1.0  # tolerances: a finding that was less than this past its limit says little about a move by going away


@dataclass(frozen=True, slots=True)
class Found:
    """What was measured of one move: promised and measured change in ``unit``, read from what, and how far off the share may be."""

    promised: float
    measured: float
    unit: str
    reading: str
    error: float
    can_overdo: bool = True

    @property
    def share(self) -> float:
        """Which share of the promised change is there."""
        return self.measured / self.promised


@dataclass(frozen=True, slots=True)
class Followed:
    """What changes of one move."""

    promise: Promise
    verdict: Verdict
    sure: Confidence
    because: str
    found: Found | None = None


def verdict_of(share: float, *, can_overdo: bool = True) -> Verdict:
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
    promised: Sequence[Promise], earlier: Document, later: Document, excess_now: Sequence[float | None], *, judged: Sequence[bool]
) -> tuple[Followed, ...]:
    """Judge all moves of one plan; ``excess_now`` is what is left of each move's finding, ``judged`` whether it could be found again."""
    tones = _tones(promised, earlier, later)
    seen = [_direct(one, earlier, later) or tones.get(place) for place, one in enumerate(promised)]
    done = []
    for place, one in enumerate(promised):
        found, left = seen[place] or _struck(place, promised, seen, earlier, later), excess_now[place]
        if found is None and judged[place] and one.excess > 0.0:
            found = _by_finding(one, left or 0.0)
        if found is None:
            done.append(Followed(one, "not measurable", "low", "nothing that this move changes was measured in both bounces"))
        elif found.error > OPEN:
            done.append(Followed(one, "not measurable", "low", "too much else changed in the same place to tell", found))
        else:
            done.append(_judged(one, found, left, can_tell=judged[place]))
    return tuple(done)


def _struck(place: int, promised: Sequence[Promise], seen: Sequence["Found | None"], earlier: Document, later: Document) -> "Found | None":
    """Read a lift of what strikes from how much of each hit is heard, less what the other moves that were made do to that.

    No level tells it: a drum's body counts among what sustains. What the move brings was measured in its trial.
    """
    one, moved = promised[place], _change(earlier, later, "hits", "audible_share_median")
    if one.remedy.part != "percussive" or moved is None or one.hits_heard is None or abs(one.hits_heard) < HITS_STEP:
        return None
    for other, found in zip(promised, seen, strict=True):
        if other is not one and found is not None and other.hits_heard is not None:
            moved -= other.hits_heard * min(max(found.share, 0.0), OVERDONE)
    return Found(100.0 * one.hits_heard, 100.0 * moved, "%", "how much of the usual hit is heard", HITS_STEP / abs(one.hits_heard))


def _judged(one: Promise, found: Found, left: float | None, *, can_tell: bool) -> Followed:
    surely_more = found.can_overdo and found.error <= LIKELY and found.share - found.error > OVERDONE * one.room
    verdict = verdict_of(found.share, can_overdo=surely_more)
    sure: Confidence = "high" if found.error <= SURE else "medium" if found.error <= LIKELY else "low"
    because = {
        "high": "measured directly",
        "medium": "measured, though other changes may reach into it",
        "low": "other changes in the same place may have done as much",
    }[sure]
    if verdict == "overdone":
        because += "; check by ear whether less is better"
    if found.share <= -PARTLY and found.unit != "":
        because += "; it went the other way"
    if can_tell and found.unit != "":
        gone = left is None or left < 0.5 * one.excess
        if gone and verdict == "not done":
            sure, because = _lower(sure), "its finding is gone all the same, so something else may have done it"
        elif not gone and verdict in ("done", "overdone"):
            sure, because = _lower(sure), "the change is there, but its finding is not gone"
    return Followed(one, verdict, sure, because, found)


def _lower(sure: Confidence) -> Confidence:
    return "medium" if sure == "high" else "low"


def _by_finding(one: Promise, left: float) -> Found:
    """Read a move from its finding alone: that it is gone says that something was done, not that it was this.

    That it is there but less says little: what else was changed moves its reading too.
    """
    error = 0.25 if left <= 0.0 and one.excess >= SMALL else 0.5
    return Found(one.excess, one.excess - left, "", "its finding alone", error, can_overdo=False)


Reader = Callable[[Promise, Document, Document], Found | None]


def _change(earlier: Document, later: Document, family: str, field: str) -> float | None:
    old, new = value(earlier, family, field), value(later, family, field)
    return None if old is None or new is None else new - old


def ratio_db(share: float | None) -> float | None:
    """Return a share of the whole against the rest, in dB."""
    return None if share is None or not 0.0 < share < 1.0 else 10.0 * log10(share / (1.0 - share))


def _in_db(promised: float, measured: float | None, reading: str, usual_db: float) -> Found | None:
    """Return a change in dB; ``usual_db`` is what that reading changes by when other things are changed."""
    if measured is None or abs(promised) < 1e-6 or not isfinite(measured):
        return None
    return Found(promised, measured, "dB", reading, usual_db / abs(promised))


def _gain(one: Promise, earlier: Document, later: Document) -> Found | None:
    part, gain_db = one.remedy.part, one.remedy.gain_db or 0.0
    if part in ("left", "right"):
        return _in_db(
            gain_db if part == "left" else -gain_db, _change(earlier, later, "stereo", "balance_db"), "the balance of left and right", 0.15
        )
    if part == "mix":
        return _in_db(gain_db, _change(earlier, later, "level", "integrated_lufs"), "the loudness", 0.3)
    if part == "percussive":
        return None
    return _in_db(gain_db, _element_change(part, earlier, later), "the element's loudness against the mix", 0.4)


def _element_change(part: str, earlier: Document, later: Document) -> float | None:
    """Return the change of an element's, or a group's, loudness against the mix; None without stems of both."""
    changes = []
    for old in earlier.get("stems") or ():
        if part in (old["name"], old.get("group")):
            new = next((one for one in later.get("stems") or () if one["name"] == old["name"]), None)
            if new is not None and old.get("in_mix_lu") is not None and new.get("in_mix_lu") is not None:
                changes.append(new["in_mix_lu"] - old["in_mix_lu"])
    return float(np.median(changes)) if changes else None


def _side(one: Promise, earlier: Document, later: Document) -> Found | None:
    old, new = (ratio_db(value(each, "stereo", "side_share")) for each in (earlier, later))
    moved = None if old is None or new is None else new - old
    return _in_db(one.remedy.gain_db or 0.0, moved, "the side signal against the middle", 0.5)


def _mono_below(_one: Promise, earlier: Document, later: Document) -> Found | None:
    old, new = value(earlier, "low_end", "side_level_db"), value(later, "low_end", "side_level_db")
    if old is None or new is None:
        return None
    before, after = (100.0 / (1.0 + 10.0 ** (-level / 10.0)) for level in (old, new))
    return Found(-before, after - before, "% of the low end", "the sides below 120 Hz", 0.05, can_overdo=False)


def _delay(one: Promise, earlier: Document, later: Document) -> Found | None:
    old = value(earlier, "stereo", "delay_ms")
    if one.remedy.part not in ("left", "right") or old is None:
        return None
    return Found(-old, (value(later, "stereo", "delay_ms") or 0.0) - old, "ms", "the delay between the channels", 0.05)


DIRECT: dict[Reading, Reader] = {
    "level": _gain,
    "side share": _side,
    "low sides": _mono_below,
    "channel delay": _delay,
}


def _direct(one: Promise, earlier: Document, later: Document) -> Found | None:
    kind = find_kind(one.remedy)
    reader = None if kind is None else DIRECT.get(kind.followed_by.reading)
    return None if reader is None else reader(one, earlier, later)


Curve = tuple[Sequence[float], Sequence[float]]  # third octaves: centres and levels


def _tones(promised: Sequence[Promise], earlier: Document, later: Document) -> dict[int, Found]:
    """Read all moves of an equaliser, by their place in the plan: on an element's own stem where both bounces have it, else in the mix."""
    found: dict[int, Found] = {}
    for part in dict.fromkeys(one.remedy.part for one in promised):
        old, new = _stem_curve(earlier, part), _stem_curve(later, part)
        if old is not None and new is not None:
            own = {place: replace(one, octaves_db=None) for place, one in enumerate(promised) if one.remedy.part == part}
            found.update(_shares(own, old, new, "the spectrum of its stem around it"))
    old, new = _mix_curve(earlier), _mix_curve(later)
    if old is not None and new is not None:
        rest = {place: one for place, one in enumerate(promised) if place not in found}
        found.update(_shares(rest, old, new, "the spectrum around it, at matched loudness"))
    return found


def _mix_curve(report: Document) -> Curve | None:
    spectrum = report["measurements"].get("spectrum")
    if not spectrum or spectrum.get("level_db") is None:
        return None
    return spectrum["third_octave_hz"], spectrum["third_octave_db"]


def _stem_curve(report: Document, name: str) -> Curve | None:
    stem = next((one for one in report.get("stems") or () if one["name"] == name), None)
    if stem is None or not stem.get("third_octave_db"):
        return None
    return stem["third_octave_hz"], stem["third_octave_db"]


def _shares(promised: Mapping[int, Promise], old: Curve, new: Curve, reading: str) -> dict[int, Found]:
    count = min(len(old[1]), len(new[1]))
    change = np.asarray(new[1][:count]) - np.asarray(old[1][:count])
    curves = {place: curve_db(one, old[0][:count]) for place, one in promised.items()}
    seen = {place: curve for place, curve in curves.items() if curve is not None and float(np.abs(curve).max()) >= LEAST_DB}
    if not seen:
        return {}
    found = {}
    for (place, curve), (share, error) in zip(seen.items(), shares(change, list(seen.values())), strict=True):
        deepest = float(curve[np.argmax(np.abs(curve))])
        found[place] = Found(deepest, share * deepest, "dB", reading, error)
    return found
