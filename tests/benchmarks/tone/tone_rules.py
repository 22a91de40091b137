"""What the rules about broad tone say of a spectrum, as `bell_detection.py` plants faults in it."""

from collections.abc import Iterator, Sequence
from math import log10

import numpy as np

from features.records.balance import Balance, Target
from features.records.spectrum import Spectrum
from rules.base import Finding, Outcome
from rules.mixing.low_end import sub_excess, sub_lack
from rules.mixing.tone import broad_excess, broad_lack, too_bright, too_dark
from tests import records

WEIGHTS = {"low": 0.5, "medium": 1.0, "high": 1.2}
Accusation = tuple[str, Finding]


def accusations_of(spectrum: Spectrum, balance: Balance, target: Target) -> list[Accusation]:
    """Return rule and finding, those with the largest excess and confidence first."""
    accusations = [(name, finding) for name, outcome in outcomes(spectrum, balance, target) for finding in findings(outcome)]
    return sorted(accusations, key=lambda entry: -entry[1].excess * WEIGHTS[entry[1].confidence])


def outcomes(spectrum: Spectrum, balance: Balance, target: Target) -> Iterator[tuple[str, Outcome]]:
    low_end = records.low_end(sub_share_db=sub_share_db(spectrum))
    yield "broad_excess", broad_excess.check(balance, target, broad_excess.Limits())
    yield "broad_lack", broad_lack.check(balance, target, broad_lack.Limits())
    yield "sub_excess", sub_excess.check(balance, target, spectrum, low_end, sub_excess.Limits())
    yield "sub_lack", sub_lack.check(balance, target, sub_lack.Limits())
    yield "too_dark", too_dark.check(balance, spectrum, target, too_dark.Limits())
    yield "too_bright", too_bright.check(balance, spectrum, target, too_bright.Limits())


def findings(outcome: Outcome) -> list[Finding]:
    if isinstance(outcome, Finding):
        return [outcome]
    return [finding for finding in outcome if isinstance(finding, Finding)] if isinstance(outcome, tuple) else []


def sub_share_db(spectrum: Spectrum) -> float:
    """Return the energy in 20-60 Hz against the whole, read off the curve."""
    hz = np.array(spectrum.third_octave_hz)
    power = 10 ** (np.array(spectrum.third_octave_db) / 10) * hz
    return 10 * log10(float(power[(hz > 19) & (hz < 57)].sum() / power.sum()))


def names_it(accusations: Sequence[Accusation], rules: Sequence[str], band_hz: tuple[float, float], top: int) -> Finding | None:
    """Return the first finding of a right rule among the first few; one about a region must stand at the right place."""
    for name, finding in accusations[:top]:
        hz = finding.remedy.frequency_hz if finding.remedy is not None else None
        if name in rules and (not name.startswith("broad") or (hz is not None and band_hz[0] <= hz <= band_hz[1])):
            return finding
    return None
