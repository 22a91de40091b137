"""A bass that small speakers do not play."""

from features.records.ear import Elsewhere
from features.records.elements import Element
from rules.base import Finding
from rules.mixing.translation import bass_without_overtones
from rules.remedy import Remedy
from tests import records
from tests.rule_cases import found_all, reason

LIMITS = bass_without_overtones.Limits()
LOW_ONLY = tuple(-20.0 if hz < 120.0 else -90.0 for hz in records.BANDS_HZ)


def sub(name: str = "bass") -> Element:
    return records.element(name, level={"third_octave_db": LOW_ONLY})


def left(share: float) -> Elsewhere:
    gone = records.element_elsewhere("bass", audible_share=0.8 * share)
    return records.elsewhere(*(records.song_elsewhere(key, gone) for key in ("phone", "laptop")))


def fired(share: float = 0.02) -> Finding:
    return found_all(bass_without_overtones.check(left(share), records.elements(sub()), LIMITS))[0]


def test_fires_with_the_bass_where_it_is_gone_and_overtones_to_try() -> None:
    finding = fired()
    assert (finding.stem, finding.title) == ("bass", "'bass' disappears on small speakers")
    assert finding.numbers["place_start"] == "On a laptop"
    assert finding.numbers["overtones"] == "next to nothing"
    assert finding.remedy == Remedy("saturation", "bass", gain_db=6.0)
    assert finding.confidence == "low"


def test_fires_the_more_the_less_is_left() -> None:
    assert fired(0.0).excess > fired(0.05).excess > 0.0


def test_quiet_where_some_of_it_is_left() -> None:
    assert bass_without_overtones.check(left(0.3), records.elements(sub()), LIMITS) is None


def test_quiet_about_a_bass_with_overtones_that_others_cover_there() -> None:
    bright = records.element("bass", level={"third_octave_db": (-20.0,) * len(records.BANDS_HZ)})
    assert bass_without_overtones.check(left(0.02), records.elements(bright), LIMITS) is None


def test_quiet_where_only_a_phone_loses_it() -> None:
    gone = records.element_elsewhere("bass", audible_share=0.0)
    phone = records.elsewhere(records.song_elsewhere("phone", gone))
    assert bass_without_overtones.check(phone, records.elements(sub()), LIMITS) is None


def test_not_applicable_without_a_bass() -> None:
    none = records.elements(records.element("bass", role="pad"))
    assert reason(bass_without_overtones.check(left(0.0), none, LIMITS)) == "no element plays the bass"
