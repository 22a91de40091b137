"""Stems as they are known before anything is measured."""

from dataclasses import dataclass

from features.records.elements import GroupName, Role, RoleFrom


@dataclass(frozen=True, slots=True)
class Identity:
    """One stem, and how it was fitted to the mix.

    Its name and part in the song.

    Attributes
    ----------
    name
        The file's name without its ending; unique in the folder.
    role, group
        What it plays, and the group it is mixed in.
    role_from
        Whether the role was guessed from the name or the sound, or set by the user.
    channels, rate_hz
        As in the file.
    offset_s
        How far the stem was moved to fit the mix, in seconds (positive: later).
    gain_db
        Gain that fits it to the mix, in dB.
    silent
        Whether it holds no sound.
    copy_of
        The element whose copy it is, or None.
    """

    name: str
    role: Role
    group: GroupName
    role_from: RoleFrom
    channels: int
    rate_hz: int
    offset_s: float = 0.0
    gain_db: float = 0.0
    silent: bool = False
    copy_of: str | None = None
