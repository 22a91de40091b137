"""The demo song, written down.

"Harbour of Small Lights" by Velta Quince, both invented.
"""

from demo.plan import Plan, Section

_VERSE_CHORDS = "Dm9 Bbmaj7 Fadd9 C/E"
_PRE_CHORDS = "Gm7 Am7 Bbmaj7 Csus4"
_CHORUS_CHORDS = "Bbadd9 C Dm7 F/A"

_HOOK = (
    "A4/.75/la C5/.75/no D5/1.5/si C5/.5/na A4/.5/so "
    "G4/1.5/lu -/.5 G4/1/na A4/1/mi "
    "F4/.75/la A4/.75/no D5/1.25/si E5/.5/ta F5/.75/me "
    "C5/2/lo -/.5 A4/.5/ta C5/1/na "
    "A4/.75/la C5/.75/no D5/1.5/si C5/.5/na A4/.5/so "
    "G4/1.5/lu -/.5 C5/1/na D5/1/mi "
    "F5/1.25/la E5/.5/ta D5/1.25/si C5/.5/ne A4/.5/no "
    "A4/2.5/lo -/1.5"
)
_VERSE_TUNE = (
    "-/1 D4/.5/no F4/.5/la A4/1/me G4/.5/so F4/.5/na "
    "D4/1.5/lu -/.5 F4/.5/ta G4/.5/ne A4/1/si "
    "C5/1/la A4/.5/no G4/.5/na F4/1.5/lo -/.5 "
    "G4/1.5/me E4/.5/na C4/1/lu -/1 "
    "-/1 D4/.5/no F4/.5/la A4/1/me C5/.5/so A4/.5/na "
    "G4/1/lu F4/.5/ta D4/1/ne -/1.5 "
    "A4/.75/la G4/.75/no F4/.5/na G4/1/lo -/1 "
    "E4/.75/me G4/.75/na E4/1.5/lu -/1"
)
_PRE_TUNE = "G4/1/na Bb4/1/lo D5/2/si C5/1/ta A4/1/ne E4/1.5/lo -/.5 F4/1/na A4/1/lo D5/2/mi C5/3/la -/1"
_MOTIF = "A5/.5 F5/.5 -/.5 D5/.5 C5/1 -/1 D5/.5 C5/.5 -/.5 A4/.5 Bb4/1 -/1 C5/.5 A4/.5 -/.5 F4/.5 G4/1 -/1 E5/.5 D5/.5 -/.5 C5/.5 G4/1 -/1"
_ANSWER = "-/4 -/2 C5/.5 E5/.5 G5/1 -/4 -/2.5 F5/.5 E5/.5 C5/.5 -/4 -/2 G5/.5 E5/.5 C5/1 -/4 C5/.5 D5/.5 F5/.5 A5/1.5 -/1"

_HATS = "7353735373537364"
_DRIVE = "r..rr..or..rr.fo"
_FLOW = "r---..r-..r-o-.."


def _chorus(name: str, *, last: bool) -> Section:
    return Section(
        name=name,
        bars=8,
        chords=_CHORUS_CHORDS,
        energy=1.0,
        kick="9...8...9...8..4",
        snare="....9..2....9...",
        clap="....8.......8...",
        hats=_HATS,
        open_hats="..7...7...7...7.",
        percussion="4264426442644265",
        bass=_DRIVE,
        keys="x--..x-...x--.x-",
        stabs="x-..x-....x-..x-" if last else "x--...x-..x--...",
        pad=0.8,
        arpeggio="7575757575757575" if last else "7.5.7.5.7.5.7.5.",
        lead=_ANSWER,
        voice=_HOOK,
        doubled=True,
        fill=True,
        impact=True,
    )


HARBOUR = Plan(
    title="Harbour of Small Lights",
    artist="Velta Quince",
    tempo_bpm=112.0,
    transpose=0,
    sections=(
        Section(
            name="intro",
            bars=4,
            chords=_VERSE_CHORDS,
            energy=0.35,
            hats="5.3.5.3.5.3.5.34",
            keys="x-----..x---....",
            pad=0.6,
            lead=_MOTIF,
            riser=True,
        ),
        Section(
            name="verse",
            bars=8,
            chords=_VERSE_CHORDS,
            energy=0.62,
            kick="9.....5.8.....3.9..4..5.8.......",
            snare="....9..1.2..9..2",
            hats=_HATS,
            percussion="......5....4....",
            bass=_FLOW,
            keys="x--..x-...x---..",
            pad=0.45,
            voice=_VERSE_TUNE,
            fill=True,
        ),
        Section(
            name="pre-chorus",
            bars=4,
            chords=_PRE_CHORDS,
            energy=0.78,
            kick="9...7...8...7...",
            snare="....8.......8..3",
            hats=_HATS,
            percussion="4264426442644264",
            bass="r-------r---r-o-",
            keys="x---..x---..x---",
            pad=0.8,
            arpeggio="5...5...5...5...",
            voice=_PRE_TUNE,
            fill=True,
            riser=True,
        ),
        _chorus("chorus", last=False),
        Section(
            name="break",
            bars=4,
            chords="Dm9 Bbmaj7 Gm7 Csus4",
            energy=0.42,
            hats="5.3.5.3.5.3.5.3.",
            percussion="......5....4..5.",
            bass="r---------------",
            keys="x-----....x---..",
            pad=0.9,
            lead=_MOTIF,
            voice="A4/3/u -/1 F4/3/o -/1 G4/1.5/na Bb4/1.5/lo -/1 C5/3/a -/1",
            fill=True,
            riser=True,
        ),
        _chorus("last chorus", last=True),
        Section(
            name="outro",
            bars=4,
            chords="Bbadd9 C Dm9 Dm9",
            energy=0.4,
            kick="9...........5...",
            hats="4.2.4.2.4.2.4.2.",
            bass="r---------------",
            keys="x-------........",
            pad=0.7,
            lead=_MOTIF,
            impact=True,
        ),
    ),
)
