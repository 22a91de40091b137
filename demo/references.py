"""Six finished "records" to compare the demo song with.

By invented artists, played on the demo's instruments and mastered.
"""

from collections.abc import Iterator

from demo.arrangement import stems
from demo.mastering import Finish, mastered
from demo.plan import Plan, Section
from demo.tones import RATE_HZ, frames_of, silence
from features.sound.signal import Signal

_FOUR = "9...8...9...8..."
_BACKBEAT = "....9.......9..2"
_SIXTEENTHS = "7353735373537353"
_EIGHTHS = "7.5.7.5.7.5.7.5."
_OFFBEAT = "..7...7...7...7."
_SHAKER = "4264426442644264"

_COPPER = Plan(
    title="Copper Weather",
    artist="Tamsin Orrel",
    tempo_bpm=122.0,
    transpose=0,
    kick_hz=51.0,
    snare_hz=205.0,
    lead_shape="square",
    room_s=1.3,
    levels_db={"pad": -1.0, "voice": -0.5},
    sections=(
        Section(
            "verse",
            8,
            "Em7 Cmaj7 G D/F#",
            0.7,
            kick=_FOUR,
            snare=_BACKBEAT,
            hats=_EIGHTHS,
            open_hats=_OFFBEAT,
            bass="..r-..r-..r-..ro",
            keys="x--x--x-..x--x--",
            pad=0.5,
            voice=("-/2 E4/.5/no G4/.5/la A4/1/si B4/1.5/lo A4/.5/na G4/1/me -/1 A4/.5/ta B4/.5/ne D5/1/la B4/1/no G4/2.5/lu -/3.5"),
            fill=True,
            riser=True,
        ),
        Section(
            "chorus",
            12,
            "Cmaj7 G D Em7",
            1.0,
            kick=_FOUR,
            snare=_BACKBEAT,
            clap="....8.......8...",
            hats=_SIXTEENTHS,
            open_hats=_OFFBEAT,
            percussion=_SHAKER,
            bass="..rr..ro..rr..rf",
            keys="x--x--x-..x--x--",
            stabs="..x-..x-..x-..x-",
            pad=0.8,
            arpeggio="7.5.7.5.7.5.7.5.",
            voice=(
                "E5/1/la D5/.5/no B4/.5/na G4/2/lo -/1 A4/.5/ta B4/.5/ne D5/2/si E5/1/me G5/.5/la E5/.5/no "
                "D5/2/lu B4/1/na A4/1/mo B4/1/na -/2"
            ),
            doubled=True,
            impact=True,
        ),
    ),
)
_FERRY = Plan(
    title="Night Ferry Arithmetic",
    artist="Low Meridian Post",
    tempo_bpm=96.0,
    transpose=2,
    swing=0.16,
    kick_hz=47.0,
    snare_hz=176.0,
    lead_shape="triangle",
    pad_shape="triangle",
    room_s=2.0,
    levels_db={"bass": 0.5, "lead": 1.0, "pad": 3.0},
    sections=(
        Section(
            "verse",
            6,
            "Am7 Fmaj7 C Em7",
            0.65,
            kick="9.....5...8.....",
            snare="....8..1....8.2.",
            hats=_SIXTEENTHS,
            percussion="......5....4..3.",
            bass="r-----r-..o-r-..",
            keys="x---..x-..x---..",
            pad=0.6,
            voice=("C5/1/la B4/.5/no A4/.5/na G4/2/lu -/1 E4/.5/ta G4/.5/ne A4/2/lo C5/1/na D5/.5/me C5/.5/no B4/2/la -/4"),
            fill=True,
        ),
        Section(
            "chorus",
            8,
            "Fmaj7 G Am7 C/E",
            0.95,
            kick="9..4..5.9.8.....",
            snare="....9..2....9..3",
            clap="............6...",
            hats=_SIXTEENTHS,
            percussion=_SHAKER,
            bass="r--r--r-o-r-..f-",
            keys="x---..x-..x---..",
            stabs="x-....x-........",
            pad=0.8,
            arpeggio="6...6...6...6...",
            lead="A5/1 G5/.5 E5/.5 C5/2 -/1 D5/.5 E5/.5 G5/2 E5/1 D5/1 C5/2 B4/1 D5/1 E5/1 -/1",
            voice=("A4/1.5/la C5/.5/no D5/2/lo E5/1/na D5/1/me B4/1.5/lu -/.5 C5/1.5/si A4/.5/na E5/2/la D5/1/no C5/1/na G4/1.5/lo -/.5"),
            doubled=True,
            impact=True,
        ),
    ),
)
_SLOW = Plan(
    title="Slow Electric",
    artist="Juno Pallister",
    tempo_bpm=84.0,
    transpose=0,
    kick_hz=50.0,
    snare_hz=182.0,
    room_s=2.3,
    levels_db={"chords": 1.0, "snare": 0.5},
    sections=(
        Section(
            "verse",
            4,
            "Cm7 Abmaj7 Eb Bb",
            0.6,
            kick="9.....4.9.......",
            snare="....8.......8..2",
            hats="5.3.5.3.5.3.5.34",
            bass="r-----..r---..o-",
            keys="x---x---x---x---",
            pad=0.6,
            voice="C5/2/lo Bb4/1/na Ab4/1/me G4/3/lu -/1 Eb5/2/la D5/1/no C5/1/na Bb4/3/lo -/1",
            riser=True,
        ),
        Section(
            "chorus",
            8,
            "Abmaj7 Eb Bb Cm7",
            0.95,
            kick="9..5....9.5.....",
            snare="....9.......9.13",
            clap="....7.......7...",
            hats="7353735373557577",
            open_hats="..............6.",
            percussion=_SHAKER,
            bass="r--rr---r--r--o-",
            keys="x---x---x---x---",
            stabs="x-----x-..x-----",
            pad=0.85,
            arpeggio="5.5.5.5.5.5.5.5.",
            lead="-/4 -/2 Eb5/.5 G5/.5 Bb5/1 -/4 -/2 G5/1 Eb5/1",
            voice=("Eb5/1.5/la D5/.5/no C5/1/si Bb4/1/na G4/2.5/lo -/.5 Bb4/1/me D5/1.5/la C5/.5/no Bb4/1/ta D5/1/na Eb5/3/lu -/1"),
            doubled=True,
            impact=True,
        ),
    ),
)
_WINDOWS = Plan(
    title="Eleven Windows",
    artist="The Vantry Set",
    tempo_bpm=128.0,
    transpose=-3,
    kick_hz=52.0,
    snare_hz=215.0,
    room_s=1.4,
    levels_db={"kick": 0.5, "hats": -1.0, "lead": 1.0},
    sections=(
        Section(
            "verse",
            8,
            "F#m7 D A E",
            0.75,
            kick=_FOUR,
            snare="....6.......6...",
            hats=_SIXTEENTHS,
            open_hats=_OFFBEAT,
            bass="rrorrrorrrorrror",
            keys="x-..x-..x-..x-..",
            pad=0.6,
            arpeggio="7575757575757575",
            voice=(
                "F#5/.5/ta E5/.5/na C#5/1/la A4/1/no B4/1/si C#5/1.5/me -/.5 A4/.5/no B4/.5/na C#5/1/la E5/1.5/lo "
                "C#5/.5/na B4/2/lu -/2 A4/1/na B4/1/me"
            ),
            fill=True,
            riser=True,
        ),
        Section(
            "chorus",
            14,
            "D E F#m7 A/C#",
            1.0,
            kick=_FOUR,
            snare=_BACKBEAT,
            clap="....9.......9...",
            hats=_SIXTEENTHS,
            open_hats=_OFFBEAT,
            percussion=_SHAKER,
            bass="..rr.rr..rrr.ro.",
            keys="x-..x-..x-..x-..",
            stabs="x..x..x..x..x.x.",
            pad=0.8,
            arpeggio="7.7.7.7.7.7.7.7.",
            lead=("A5/.75 F#5/.75 E5/.5 C#5/2 -/1 E5/.75 F#5/.75 A5/.5 B5/1 A5/1 G#5/.75 E5/.75 C#5/.5 B4/2 E5/2 F#5/1 E5/1"),
            voice="A4/2/lo C#5/1/na E5/1/la D5/1.5/si -/.5 B4/1/na C#5/1/no F#5/2/la E5/1/me C#5/1/na B4/3/lu -/1",
            doubled=True,
            impact=True,
        ),
    ),
)
_TIDE = Plan(
    title="Tideline Radio",
    artist="Okra Static",
    tempo_bpm=104.0,
    transpose=-2,
    swing=0.1,
    kick_hz=48.0,
    snare_hz=194.0,
    lead_shape="saw",
    room_s=1.7,
    voice_shift=0,
    levels_db={"lead": 4.0, "percussion": 2.0, "voice": -1.0},
    sections=(
        Section(
            "verse",
            6,
            "Dm7 C Bbmaj7 F",
            0.7,
            kick="9..4..8...5.8...",
            snare="....9..1.1..9...",
            hats=_SIXTEENTHS,
            percussion="..5..4..5..4..5.",
            bass="r-.r..o-r-.r..f.",
            keys="x-.x..x-..x-....",
            pad=0.5,
            lead=(
                "D5/.5 F5/.5 -/.5 A5/.5 G5/1 F5/1 D5/.5 C5/.5 -/.5 F5/.5 E5/2 D5/.5 F5/.5 -/.5 C6/.5 A5/1 G5/1 E5/.5 F5/.5 E5/.5 C5/.5 D5/2"
            ),
            fill=True,
        ),
        Section(
            "chorus",
            10,
            "Bbmaj7 C Dm7 Am7",
            0.95,
            kick="9..4..8.9..4..8.",
            snare="....9..1.1..9..3",
            clap="....6.......6...",
            hats=_SIXTEENTHS,
            open_hats="......6.......6.",
            percussion=_SHAKER,
            bass="r-.r..o-r-.ro.f.",
            keys="x-.x..x-..x-....",
            stabs="...x..x.....x...",
            pad=0.8,
            lead=("F5/1 D5/.5 C5/.5 A4/1 -/1 G5/1 E5/.5 D5/.5 C5/1 -/1 A5/1 F5/.5 E5/.5 D5/1 -/1 C5/.5 E5/.5 G5/1 A5/1 -/1"),
            voice="D5/2/la F5/1/no D5/1/na C5/2.5/lo -/1.5 F5/2/la E5/1/si D5/1/na E5/2.5/lu -/1.5",
            doubled=True,
            impact=True,
        ),
    ),
)
_WINTER = Plan(
    title="Winter Cable",
    artist="Hesper and Dunn",
    tempo_bpm=116.0,
    transpose=1,
    kick_hz=50.0,
    snare_hz=190.0,
    pad_shape="square",
    room_s=1.9,
    levels_db={"pad": -2.0, "voice": 0.5, "chords": 1.0},
    sections=(
        Section(
            "verse",
            6,
            "Bm7 Gmaj7 D A",
            0.68,
            kick="9.......9..5....",
            snare="....9.......9..2",
            hats=_EIGHTHS,
            bass="r-r-r-r-r-r-r-o-",
            keys="x-----x---x-----",
            pad=0.7,
            voice="B4/1/la A4/1/no F#4/2/lu -/1 F#4/.5/ta A4/.5/na B4/2/lo D5/1/la C#5/.5/no A4/.5/na F#4/2/me -/4",
            fill=True,
            riser=True,
        ),
        Section(
            "chorus",
            12,
            "Gmaj7 D A Bm7",
            1.0,
            kick="9...8...9...8.4.",
            snare="....9..2....9...",
            clap="....7.......7...",
            hats=_SIXTEENTHS,
            open_hats=_OFFBEAT,
            percussion=_SHAKER,
            bass="r-r-r-r-o-r-r-f-",
            keys="x-----x---x-----",
            stabs="x--...x--...x-..",
            pad=0.8,
            arpeggio="7.57.57.7.57.57.",
            lead="-/4 -/2 A5/.5 F#5/.5 D5/1 -/4 -/2 C#5/.5 E5/.5 A5/1",
            voice=("B4/1/la D5/1/no F#5/2/si E5/1/me D5/1/na B4/1.5/lo -/.5 C#5/1/la D5/1/no E5/2/lu D5/1/ta C#5/1/na F#4/1.5/lo -/.5"),
            doubled=True,
            impact=True,
        ),
    ),
)
RECORDS = (
    (_COPPER, Finish(-11.8, bass_db=0.5, treble_db=-0.5, side_db=2.0)),
    (_FERRY, Finish(-12.8, bass_db=1.5, treble_db=1.0, side_db=3.5)),
    (_SLOW, Finish(-12.9, bass_db=-1.0, treble_db=2.0, side_db=2.5)),
    (_WINDOWS, Finish(-11.8, bass_db=1.0, treble_db=1.0, side_db=1.0)),
    (_TIDE, Finish(-12.3, bass_db=-0.5, treble_db=-1.5, side_db=3.0)),
    (_WINTER, Finish(-12.4, bass_db=-1.5, treble_db=0.5, side_db=2.0)),
)


def file_name(plan: Plan) -> str:
    """Return the name of a record's file, without an ending."""
    return f"{plan.artist} - {plan.title}"


def make_reference(plan: Plan, finish: Finish, seed: int) -> Signal:
    """Play one record and master it to its finish."""
    total = silence(frames_of(plan.duration_s))
    for _, samples in stems(plan, seed):
        total += samples
    return Signal(mastered(total, finish), RATE_HZ)


def make_references(seed: int = 1) -> Iterator[tuple[str, Signal]]:
    """Yield the six records, each with its file name."""
    for number, (plan, finish) in enumerate(RECORDS):
        yield file_name(plan), make_reference(plan, finish, seed + 101 * (number + 1))
