"""master-report.md: what mastering won and cost, and the file before its release, rendered from the document alone."""

from collections.abc import Iterator

from advisor.app.words import TOPICS, frequency, lowered, number, plain, sentence, spans
from advisor.app.words import bars as drawn
from advisor.report.sections.findings import card_text
from advisor.report.streaming_text import streaming_text
from advisor.report_model.master_check import MasterReport
from features.records.level import Level
from features.records.mastering import Mastered, Release
from features.sound.clock import clock


def render(report: MasterReport) -> str:
    """Return the whole report as Markdown."""
    parts = (_head, _pair, _tone, _findings, _release, _good, _open, _cautions)
    return "\n".join(line for part in parts for line in part(report)) + "\n"


def essence(report: MasterReport) -> list[str]:
    """Return what is printed: the verdict, what it cost, what the findings say."""
    lines = [report.verdict.sentence]
    pair = report.mastered
    if pair is not None:
        lines += ["", *(f"  {name}: {value}" for name, value, _ in _readings(pair))]
    lines += ["", *(f"  {place}. {one.title}: {one.advice}" for place, one in enumerate(report.findings, 1))]
    release = report.release
    if release and release.safe_ceiling_dbtp is not None:
        lines += ["", f"Lossy formats stay under full scale with a ceiling of {release.safe_ceiling_dbtp:.1f} dBTP."]
    return lines if report.findings or pair or release else lines[:1]


def _head(report: MasterReport) -> Iterator[str]:
    file, level = report.master, report.measurements.get(Level)
    against = f" against {plain(report.mix)}" if report.mix else ""
    yield f"# Master check of {plain(file.name)}{against}"
    yield ""
    yield f"**{plain(report.verdict.sentence)}**"
    yield ""
    kind = f"{file.bits}-bit" if file.bits else plain(file.subtype)
    facts = [f"{clock(file.duration_s)} long", f"{file.rate_hz / 1000:g} kHz", "mono" if file.channels == 1 else "stereo", kind]
    if level is not None and level.integrated_lufs is not None:
        facts += [f"{number(level.integrated_lufs)} LUFS integrated", f"true peak {number(level.true_peak_dbtp)} dBTP"]
    yield " · ".join(facts)
    yield ""
    for note in report.notes:
        yield f"*{plain(sentence(note))}*"
        yield ""


def _percent(share: float | None) -> str:
    return "-" if share is None else f"{share:.0%}"


def _noise(ratio_db: float | None) -> str:
    return "none" if ratio_db is not None and ratio_db <= -60.0 else number(ratio_db, 1, "dB")


def _signed(value: float | None, unit: str, digits: int = 1) -> str:
    return "-" if value is None else f"{round(value, digits) + 0.0:+.{digits}f} {unit}"


def _readings(pair: Mastered) -> list[tuple[str, str, str]]:
    """Return name, value and meaning of what the comparison says."""
    heard = f"{_percent(pair.hits_heard_before)} to {_percent(pair.hits_heard_after)}"
    return [
        ("louder than the mix", _signed(pair.louder_lu, "LU"), "integrated loudness, master minus mix"),
        ("won at equal peaks", _signed(pair.won_lu, "LU"), "what level control won; the rest is a fader"),
        ("driven", number(pair.drive_db, 1, "dB"), "how far the highest peaks were pushed past where the master holds them"),
        ("gain reduction", number(pair.gain_reduction_p95_db, 1, "dB"), "passed 5 % of the time"),
        ("distortion", _noise(pair.distortion_nmr_db), "against what the music masks, worst moments; heard from +1.5 dB"),
        ("pumping", number(pair.pumping_db, 2, "dB"), "movement of the gain at the pace of the beat; heard from about 1 dB"),
        ("hits lost", _percent(pair.hits_lost_share), "share of the hits that lost about 3 dB of lift or more, by loudness"),
        ("heard of each hit", heard, "median, mix to master"),
        ("above 5 kHz", _signed(pair.bright_change_db, "dB"), "at matched loudness"),
        ("tilt", _signed(pair.tilt_change_db_per_octave, "dB/octave", 2), "positive is brighter"),
        ("width", _signed(pair.width_change_db, "dB"), "side against mid"),
    ]


def _pair(report: MasterReport) -> Iterator[str]:
    pair = report.mastered
    if pair is None:
        return
    yield "## What it won and what it cost"
    yield ""
    yield (
        f"Both were aligned (the music comes {number(abs(pair.offset_s), 3)} s {'later' if pair.offset_s >= 0 else 'earlier'} in the "
        f"master) and compared over {clock(pair.shared_s)}. A still equaliser and a moving gain, worked out from the two files, explain "
        f"{pair.explained_share:.1%} of the master; the damage below is read off that gain and off what is left."
    )
    yield ""
    yield "| reading | value | what it is |"
    yield "|---|---:|---|"
    for name, value, meaning in _readings(pair):
        yield f"| {name} | {value} | {meaning} |"
    yield ""
    if pair.hardest:
        yield f"Level control works hardest at {spans(pair.hardest)}."
        yield ""
    yield from _ends(pair)


def _ends(pair: Mastered) -> Iterator[str]:
    fades = [f"a fade-in of {number(pair.fade_in_s)} s"] if pair.fade_in_s else []
    fades += [f"a fade-out of {number(pair.fade_out_s)} s"] if pair.fade_out_s else []
    if fades:
        yield f"Mastering put {' and '.join(fades)} on the song."
    elif pair.head_cut_s <= 0.0 and pair.tail_cut_s <= 0.0:
        yield "Mastering put no fade on the song; its ends are those of the mix."
    else:
        return
    yield ""


def _tone(report: MasterReport) -> Iterator[str]:
    pair = report.mastered
    if pair is None or not pair.band_change_db:
        return
    yield "## Tone at matched loudness"
    yield ""
    if not pair.tone_changes:
        yield "No stretch of the spectrum moved by 0.5 dB or more: the tone is that of the mix."
        yield ""
        return
    for one in pair.tone_changes:
        yield (f"- {_signed(one.gain_db, 'dB')} around {frequency(one.centre_hz)} ({frequency(one.low_hz)} to {frequency(one.high_hz)})")
    yield ""
    most = max(1.0, *(abs(one) for one in pair.band_change_db))
    hz = pair.band_hz
    yield (
        f"Change per third octave, {frequency(hz[0])} to {frequency(hz[-1])}; middle of the scale is no change, its ends are {most:.1f} dB:"
    )
    yield ""
    yield f"    {drawn(pair.band_change_db, -most, most)}"
    yield ""


def _findings(report: MasterReport) -> Iterator[str]:
    yield "## Findings"
    yield ""
    if not report.findings:
        yield "Nothing was found that stands in the way of a release."
        yield ""
    for card in report.findings:
        yield from card_text(card, report)


def _release(report: MasterReport) -> Iterator[str]:
    release = report.release
    if not release or not (release.coded or release.normalised):
        return
    yield "## At the listener's"
    yield ""
    if release.coded:
        yield from _coded(release)
    yield from streaming_text(release.normalised)


def _coded(release: Release) -> Iterator[str]:
    yield f"Encoded and decoded again ({clock(release.coded_of_s)} of it), the true peak comes out as:"
    yield ""
    yield "| format | rate | true peak | higher by | places over full scale |"
    yield "|---|---:|---:|---:|---:|"
    for one in release.coded:
        yield (
            f"| {one.codec} | {one.kbps:.0f} kbit/s | {_signed(one.true_peak_dbtp, 'dBTP')} | {number(one.raised_db)} dB | {one.overs} |"
        )
    yield ""
    yield f"With a ceiling of {release.safe_ceiling_dbtp:.1f} dBTP none of them would pass full scale."
    yield ""


def _good(report: MasterReport) -> Iterator[str]:
    if not report.passed_cards:
        return
    yield "## What is in order"
    yield ""
    for topic, heading in TOPICS.items():
        titles = [one.title for one in report.passed_cards if one.topic == topic]
        if titles:
            yield f"- **{heading}**, looked for and not found: {plain('; '.join(lowered(title) for title in titles))}"
    yield ""


def _open(report: MasterReport) -> Iterator[str]:
    lines = [f"- {plain(one.title)}: {plain(sentence(one.reason))}" for one in report.not_applicable]
    lines += [f"- {plain(one.rule)} failed: {plain(sentence(one.error))} The rest stands." for one in report.failed]
    if lines:
        yield "## What could not be judged"
        yield ""
        yield from lines
        yield ""


def _cautions(_report: MasterReport) -> Iterator[str]:
    yield "## Cautions"
    yield ""
    yield "- **Match levels before you compare.** Louder sounds better for the first minute, whatever else has changed."
    yield (
        "- **What is read as damage may be meant**: the comparison sees what was done, not why. An effect that was "
        "added, such as a reverb or "
        "a moving filter, reads as distortion."
    )
    yield "- **This is a measurement, not a judgement of the music.** Your ears and those of your mastering engineer have the last word."
