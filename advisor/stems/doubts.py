"""Names that the sound speaks against.

A stem called bass that has no low end is asked about, and judged as neither.
"""

from collections.abc import Callable
from dataclasses import dataclass
from math import exp

from advisor.stems.roles import Traits
from features.records.elements import Role

UNLIKELY = 0.1  # of a sound for its name: from here down it is asked about
SUSTAINED: tuple[Role, ...] = ("vocal", "backing vocal", "lead", "keys", "guitar", "strings", "pad", "synth")
PLURAL: frozenset[Role] = frozenset({"hats", "drums", "keys", "strings"})
HITS_PER_S = 4.0  # attacks of what is nothing but hits


@dataclass(frozen=True, slots=True)
class Expectation:
    """What the sound of some roles is expected to be.

    Attributes
    ----------
    roles
        The roles.
    reading
        What is read of the sound.
    middle, width
        Of a logistic curve: where it is as likely as not, and how steep; a negative width wants less. Set by hand on stems of eight songs.
    says
        What is read, in words with a place for it.
    """

    roles: tuple[Role, ...]
    reading: Callable[[Traits], float]
    middle: float
    width: float
    says: str

    def probability(self, sound: Traits) -> float:
        """Return how likely such a sound is for these roles."""
        return 1.0 / (1.0 + exp(-max(min((self.reading(sound) - self.middle) / self.width, 50.0), -50.0)))


EXPECTED = (
    Expectation(("kick", "bass"), lambda sound: sound.below_250_hz, 0.4, 0.08, "has {:.0%} of its power below 250 Hz"),
    Expectation(("hats",), lambda sound: sound.above_2_khz, 0.3, 0.06, "has {:.0%} of its power above 2 kHz"),
    Expectation(("snare", "percussion", "drums"), lambda sound: sound.attacks_per_s, 1.2, 0.3, "strikes {:.1f} times a second"),
    Expectation(SUSTAINED, lambda sound: sound.above_4_khz, 0.75, -0.05, "has {:.0%} of its power above 4 kHz"),
    Expectation(
        SUSTAINED,
        lambda sound: sound.fall_db if sound.attacks_per_s >= HITS_PER_S else 0.0,
        24.0,
        -3.0,
        "is made of hits that fall by {:.0f} dB at once",
    ),
)


@dataclass(frozen=True, slots=True)
class Doubt:
    """A stem whose sound speaks against its name."""

    name: str
    role: Role
    probability: float
    says: str

    @property
    def question(self) -> str:
        """Ask what it is."""
        several = self.role in PLURAL
        role, asked = (self.role, "is that what it is?") if several else (f"a {self.role}", "is it one?")
        return (
            f"“{self.name}” {self.says}, which is {self.probability:.0%} likely for {role}: {asked} "
            f'It is judged as neither until stems.toml says so ("{self.name}" = "{self.role}", under roles).'
        )


def doubt_of(name: str, role: Role, sound: Traits | None) -> Doubt | None:
    """Return the doubt about a name.

    None where the sound fits.
    """
    if sound is None:
        return None
    asked = [expected for expected in EXPECTED if role in expected.roles]
    worst = min(asked, key=lambda expected: expected.probability(sound), default=None)
    if worst is None or worst.probability(sound) > UNLIKELY:
        return None
    return Doubt(name, role, worst.probability(sound), worst.says.format(worst.reading(sound)))
