"""The resolver runs what is wanted and what that needs, in any package that declares measurements."""

import numpy as np
import pytest

from advisor.app.progress import Quiet
from advisor.measuring.measured import Failure
from advisor.measuring.resolver import Resolver, UnavailableError
from features.records.base import Measurement
from features.records.level import Level
from features.sound.measurement import Trace, declaration_of, meter
from features.sound.signal import Samples, Signal
from tests.advisor.measuring.declared.peaks import (
    AfterCrash,
    Ceiling,
    Crashed,
    Doubled,
    Peak,
    PeakTrace,
    Room,
    Unheard,
)

PACKAGE = "tests.advisor.measuring.declared"
SOUND = Signal(np.array([[0.1, -0.5, 0.25]], np.float32), 48000)


def resolved(*wanted: type[Measurement | Trace], given: tuple[object, ...] = (Ceiling(1.0),), contain: bool = True) -> Resolver:
    resolver = Resolver(SOUND, wanted, given, contain=contain, package=PACKAGE)
    resolver.listen(Quiet())
    resolver.make(wanted)
    return resolver


def test_a_measurement_that_only_its_own_file_mentions_is_found_and_run() -> None:
    assert resolved(Peak).records((Peak,)) == {Peak: Peak(0.5)}


def test_only_the_meters_that_are_needed_listen() -> None:
    assert resolved(Peak).failures == []
    assert resolved(Peak, Unheard).failures == [Failure("broken", "ArithmeticError: 3 frames heard")]


def test_a_crash_is_noted_once_and_costs_only_what_needs_it() -> None:
    resolver = resolved(AfterCrash, Crashed, Room, Peak)
    assert resolver.failures == [Failure("crashed", "ZeroDivisionError: float division by zero")]
    assert set(resolver.records((AfterCrash, Crashed, Room, Peak))) == {Room, Peak}
    with pytest.raises(UnavailableError, match="AfterCrash"):
        resolver.get(AfterCrash)
    with pytest.raises(ZeroDivisionError):
        resolved(Crashed, contain=False)


def test_an_optional_input_is_there_when_it_stands_before_and_asks_for_nothing_itself() -> None:
    assert resolved(Room).get(Room) == Room(left=1.0, frames=3, doubled=None, peak_known=False)
    assert resolved(Peak, Room).get(Room) == Room(left=0.5, frames=3, doubled=1.0, peak_known=True)
    assert resolved(Room, Peak).get(Room) == Room(left=1.0, frames=3, doubled=1.0, peak_known=False)


def test_a_required_record_is_made_first_and_is_no_answer_to_what_was_wanted() -> None:
    resolver = resolved(Crashed)
    assert resolver.get(Peak) == Peak(0.5)
    assert resolver.records((Crashed,)) == {}


def test_traces_are_let_go_once_nothing_wanted_needs_them() -> None:
    resolver = Resolver(SOUND, (Peak, Room), (Ceiling(1.0),), package=PACKAGE)
    resolver.listen(Quiet())
    resolver.make((Peak,))
    assert resolver.find(PeakTrace) == PeakTrace(0.5)  # the room may still want it doubled
    resolver.make((Room,))
    assert resolver.find(PeakTrace) is None
    assert resolver.find(Doubled) is None
    assert resolved(Peak, PeakTrace).find(PeakTrace) == PeakTrace(0.5)


def test_a_function_may_take_the_place_of_a_declared_one() -> None:
    def louder(trace: PeakTrace) -> Peak:
        return Peak(10.0 * trace.highest)

    resolver = Resolver(SOUND, (Peak,), instead=(louder,), package=PACKAGE)
    resolver.listen(Quiet())
    resolver.make((Peak,))
    assert resolver.get(Peak) == Peak(5.0)


def test_what_is_neither_declared_nor_given_is_refused_by_name() -> None:
    with pytest.raises(TypeError, match="Level is wanted"):
        resolved(Level)
    with pytest.raises(TypeError, match="Ceiling is wanted"):
        resolved(Room, given=())


def test_an_unknown_kind_of_input_is_refused_with_the_name_of_its_measurement() -> None:
    def count_peaks(trace: PeakTrace, count: int) -> Peak:
        return Peak(trace.highest * count)

    def guess_peak(trace: PeakTrace | Doubled) -> Peak:
        return Peak(trace.highest)

    def peak_number(trace: PeakTrace) -> float:
        return trace.highest

    with pytest.raises(TypeError, match="count_peaks: count is"):
        declaration_of(count_peaks)
    with pytest.raises(TypeError, match="guess_peak: trace is"):
        declaration_of(guess_peak)
    with pytest.raises(TypeError, match="peak_number: a measurement gives"):
        declaration_of(peak_number)


def test_a_meter_that_gives_no_trace_or_takes_what_nobody_knows_is_refused() -> None:
    class NumberMeter:
        def push(self, block: Samples) -> None: ...

        def finish(self) -> int:
            return 0

    class GuessingMeter:
        def __init__(self, rate_hz: int, channels: int, guess: float) -> None: ...

        def push(self, block: Samples) -> None: ...

        def finish(self) -> PeakTrace:
            return PeakTrace(0.0)

    with pytest.raises(TypeError, match="NumberMeter: finish"):
        meter("number")(NumberMeter)
    with pytest.raises(TypeError, match="GuessingMeter: guess is"):
        meter("guess")(GuessingMeter)


def test_two_measurements_that_give_one_record_are_refused_by_name(monkeypatch: pytest.MonkeyPatch) -> None:
    from features.sound import measurement as declaring  # noqa: PLC0415
    from tests.advisor.measuring.declared import peaks  # noqa: PLC0415

    def measure_rival(trace: PeakTrace) -> Peak:
        return Peak(trace.highest)

    measure_rival.__module__ = peaks.__name__
    monkeypatch.setattr(peaks, "measure_rival", declaring.measurement(measure_rival), raising=False)
    with pytest.raises(TypeError, match=r"measure_peak and .*measure_rival both give Peak"):
        declaring.declared_in.__wrapped__(PACKAGE)
