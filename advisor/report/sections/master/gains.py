"""Says what mastering won and what it cost."""

from collections.abc import Iterator
from dataclasses import dataclass

from advisor.app.words import number, spans
from advisor.report.filling import filled
from advisor.report_model.master_check import MasterReport
from features.records.mastering import Mastered

PLACE = 20


@dataclass(frozen=True, slots=True)
class GainRow:
    """A reading of the comparison in words."""

    name: str
    value: str
    meaning: str


def section(report: MasterReport) -> Iterator[str]:
    """Yield the comparison. Nothing without a mix."""
    pair = report.mastered
    if pair is not None:
        yield from filled(
            __name__,
            pair=pair,
            summary=summary(pair),
            explained=f"{pair.explained_share:.1%}",
            rows=gain_rows(pair),
            hardest=spans(pair.hardest),
            ends=_ends(pair),
        )


def gain_rows(pair: Mastered) -> tuple[GainRow, ...]:
    """Return the comparison's readings in words."""
    audible = f"{_percent(pair.hits_heard_before)} to {_percent(pair.hits_heard_after)}"
    return (
        GainRow("louder than the mix", signed(pair.louder_lu, "LU"), "integrated loudness, master minus mix"),
        GainRow("won at equal peaks", signed(pair.won_lu, "LU"), "what level control won; the rest is a fader"),
        GainRow("driven", number(pair.drive_db, 1, "dB"), "how far the highest peaks were pushed past where the master holds them"),
        GainRow("gain reduction", number(pair.gain_reduction_p95_db, 1, "dB"), "passed 5 % of the time"),
        GainRow("distortion", _noise(pair.distortion_nmr_db), "against what the music masks, worst moments; audible from +1.5 dB"),
        GainRow("pumping", number(pair.pumping_db, 2, "dB"), "movement of the gain at the pace of the beat; audible from about 1 dB"),
        GainRow(
            "hits softened", _percent(pair.hits_lost_share), "share of the drum hits that lost about 3 dB of punch or more, by loudness"
        ),
        GainRow("drum hits", audible, "share of each hit that is audible, median, mix to master"),
        GainRow("above 5 kHz", signed(pair.bright_change_db, "dB"), "at matched loudness"),
        GainRow("tilt", signed(pair.tilt_change_db_per_octave, "dB/octave", 2), "positive is brighter"),
        GainRow("width", signed(pair.width_change_db, "dB"), "side against mid"),
    )


def signed(value: float | None, unit: str, digits: int = 1) -> str:
    """Return a change with sign and unit, or a dash."""
    return "-" if value is None else f"{round(value, digits) + 0.0:+.{digits}f} {unit}"


def _percent(share: float | None) -> str:
    return "-" if share is None else f"{share:.0%}"


def _noise(ratio_db: float | None) -> str:
    return "none" if ratio_db is not None and ratio_db <= -60.0 else number(ratio_db, 1, "dB")


def _ends(pair: Mastered) -> str:
    fades = [f"a fade-in of {number(pair.fade_in_s)} s"] if pair.fade_in_s else []
    fades += [f"a fade-out of {number(pair.fade_out_s)} s"] if pair.fade_out_s else []
    if fades:
        return f"Mastering put {' and '.join(fades)} on the song."
    if pair.head_cut_s <= 0.0 and pair.tail_cut_s <= 0.0:
        return "Mastering put no fade on the song; its ends are those of the mix."
    return ""


def summary(pair: Mastered) -> str:
    """Return what mastering cost, in a sentence."""
    costs = [] if pair.hits_lost_share is None else [f"{_percent(pair.hits_lost_share)} of the drum hits lost punch"]
    costs += [] if pair.distortion_nmr_db is None else [f"distortion {_noise(pair.distortion_nmr_db)} (audible from +1.5 dB)"]
    costs += [] if pair.pumping_db is None else [f"pumping {number(pair.pumping_db, 2, 'dB')} (audible from about 1 dB)"]
    return f"What it cost: {'; '.join(costs)}." if costs else "What it cost could not be measured."


def essence(report: MasterReport) -> list[str]:
    """Return verdict, cost and advice for the terminal."""
    lines = [report.verdict.sentence]
    pair = report.mastered
    if pair is not None:
        lines += ["", *(f"  {row.name}: {row.value}" for row in gain_rows(pair))]
    lines += ["", *(f"  {place}. {card.title}: {card.advice}" for place, card in enumerate(report.findings, 1))]
    release = report.release
    if release and release.safe_ceiling_dbtp is not None:
        lines += ["", f"Lossy formats stay under full scale with a ceiling of {release.safe_ceiling_dbtp:.1f} dBTP."]
    return lines if report.findings or pair or release else lines[:1]
