"""Apply: put a remedy on the part it names."""

from advisor.remedies.discovery import kind_of
from advisor.remedies.kind import Process
from advisor.remedies.parts import PARTS_OF_A_MIX, part_of
from features.sound.signal import Signal
from rules.remedy import Remedy


def apply(remedy: Remedy, sound: Signal, key: Signal | None = None) -> Signal:
    """Return ``sound`` with the remedy on the part it names.

    Mono sound has no side and no second channel. Where the part is an element or a group, ``sound`` is that. ``key`` is the element named
    by the remedy's ``key``. Raises `ValueError` where the kind cannot be applied, or a setting that it needs is missing.
    """
    kind = kind_of(remedy)
    process = _process(remedy) if remedy.key is None else _keyed(remedy, key)
    if remedy.part == "mix" or remedy.part not in PARTS_OF_A_MIX or kind.takes_all_channels:
        return process(sound)
    part = part_of(remedy.part, sound)
    if part is None:
        return sound
    done = process(Signal(part, sound.rate_hz)).samples
    return Signal(sound.samples + (done - part), sound.rate_hz)


def _process(remedy: Remedy) -> Process:
    """Return a remedy's process, with usual values for settings left open."""
    process = kind_of(remedy).process
    if process is None:
        raise ValueError(f"a remedy of kind {remedy.kind} cannot be applied to a mix")
    return process(remedy)


def _keyed(remedy: Remedy, key: Signal | None) -> Process:
    keyed = kind_of(remedy).keyed
    if keyed is None or key is None:
        raise ValueError(f"a remedy of kind {remedy.kind} under “{remedy.key}” needs a dynamic bell and the sound of “{remedy.key}”")
    return keyed(remedy, key)
