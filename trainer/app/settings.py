"""What the student has set for good: one small YAML file, in words."""

from __future__ import annotations

import re
from dataclasses import asdict, dataclass, fields
from datetime import date
from math import inf
from pathlib import Path

import yaml

from trainer.app.paths import at_home
from trainer.app.small_file import write_in, written_in
from trainer.errors import TrainerError
from trainer.music.instrument import INSTRUMENT_NAMES
from trainer.music.names import Language, NoteNames, Octaves
from trainer.music.tuning import HIGHEST_A4_HZ, LOWEST_A4_HZ
from trainer.routine.lesson_day import WEEKDAYS, lesson_day

AS_THE_ROUTINE_SAYS = "as the routine says"
AS_THE_TERMINAL_CAN = "as the terminal can"
THE_SYSTEMS_OWN = "the system's own"
SOFTER_CLICK, LOUDER_CLICK = "softer", "louder"
STEADY_TONE, SAMPLED_FLUTE = "steady tone", "sampled flute"
SOUNDFONT_ENDS = (".sf2", ".sf3")
PLAIN, FULL = "plain characters", "all characters"
DARK, LIGHT, HIGH_CONTRAST = "dark", "light", "high contrast"
AS_THE_SCREEN_ALLOWS, LARGE_NOTES, SMALL_NOTES = "as the screen allows", "large", "small"
IN_CELLS = "in cells"
LEDGER_LINES, OCTAVE_SIGN = "ledger lines", "octave sign"
HEADING = "# Settings of the flute practice trainer; what isn't here is as usual.\n"
_A4 = re.compile(r"(?:A4 *= *)?(\d{3}(?:\.\d+)?)(?: *Hz)?")

Value = bool | float | str


@dataclass(frozen=True)
class Settings:
    """Every setting with what holds when nothing is set."""

    instrument: str = "C flute"
    """The student's own flute; a routine that names another is for that one."""
    tuning: str = AS_THE_ROUTINE_SAYS
    """'A4 = 442', or as the routine says."""
    lesson: str = AS_THE_ROUTINE_SAYS
    """When the lesson is: 'Thursday', '2026-12-03', or as the routine says."""
    microphone: str = THE_SYSTEMS_OWN
    """By its name and its sound system's, 'headset, ALSA'; where it is gone, the system's own."""
    loudspeaker: str = THE_SYSTEMS_OWN
    click_volume: str = AS_THE_ROUTINE_SAYS
    note_names: str = Language.ENGLISH.value
    octaves: str = Octaves.NUMBERS.value
    characters: str = AS_THE_TERMINAL_CAN
    """What the music is drawn with."""
    colours: str = DARK
    drawing: str = AS_THE_TERMINAL_CAN
    """In pixels where the terminal shows pictures, or always in cells."""
    note_size: str = AS_THE_SCREEN_ALLOWS
    high_notes: str = LEDGER_LINES
    """How notes far above the staff are written."""
    last_tuning: bool = False
    """Where each note stood the last time is drawn beneath today's line."""
    spoken_lines: bool = False
    """Practice is told in lines, for a screen reader, instead of drawn."""
    keep_takes: bool = False
    """Each round's sound is kept as FLAC."""
    takes_limit_mb: float = 500.0
    """All takes together; the oldest make room."""
    partner_sound: str = STEADY_TONE
    """What the partner plays with; a sampled flute is that of the system's SoundFont, or of the
    one whose place is written here."""

    @property
    def a4_hz(self) -> float | None:
        """The tuning set, or None: as the routine says."""
        match = _A4.fullmatch(self.tuning)
        return None if match is None else float(match[1])

    @property
    def devices(self) -> tuple[str | None, str | None]:
        """Microphone and loudspeaker by name; None: the system's own."""
        named = self.microphone, self.loudspeaker
        microphone, loudspeaker = (None if each == THE_SYSTEMS_OWN else each for each in named)
        return microphone, loudspeaker

    @property
    def click_db(self) -> float:
        """How much louder than the routine asks the click is."""
        return CLICK_DB[self.click_volume]

    @property
    def soundfont(self) -> Path | None:
        """The SoundFont written down, or None: whichever the system has."""
        written = self.partner_sound
        return at_home(written) if written.endswith(SOUNDFONT_ENDS) else None

    @property
    def names(self) -> NoteNames:
        """How notes are called."""
        return NoteNames(Language(self.note_names), Octaves(self.octaves))


CLICK_DB = {AS_THE_ROUTINE_SAYS: 0.0, SOFTER_CLICK: -8.0, LOUDER_CLICK: 6.0}
"""Our own steps: each is plainly heard, and the loudest stays under full scale."""
CHOICES: dict[str, tuple[Value, ...]] = {
    "instrument": INSTRUMENT_NAMES,
    "tuning": (
        AS_THE_ROUTINE_SAYS,
        "A4 = 440",
        "A4 = 441",
        "A4 = 442",
        "A4 = 443",
        "A4 = 444",
        "A4 = 415",
    ),
    "lesson": (AS_THE_ROUTINE_SAYS, *WEEKDAYS),
    "microphone": (THE_SYSTEMS_OWN,),
    "loudspeaker": (THE_SYSTEMS_OWN,),
    "click_volume": tuple(CLICK_DB),
    "note_names": tuple(language.value for language in Language),
    "octaves": tuple(octaves.value for octaves in Octaves),
    "characters": (AS_THE_TERMINAL_CAN, FULL, PLAIN),
    "colours": (DARK, LIGHT, HIGH_CONTRAST),
    "drawing": (AS_THE_TERMINAL_CAN, IN_CELLS),
    "note_size": (AS_THE_SCREEN_ALLOWS, LARGE_NOTES, SMALL_NOTES),
    "high_notes": (LEDGER_LINES, OCTAVE_SIGN),
    "last_tuning": (False, True),
    "spoken_lines": (False, True),
    "keep_takes": (False, True),
    "partner_sound": (STEADY_TONE, SAMPLED_FLUTE),
}
"""What a screen offers for each setting, the usual first, and devices those there are; a limit of
megabytes is for the file."""
DEVICES = ("microphone", "loudspeaker")
"""Settings that may name what is not there today."""
LONGEST_NAME = 200
"""Of a device; no sound system has longer ones."""


def words(value: Value) -> str:
    """A value as it is written and shown."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    return value if isinstance(value, str) else f"{value:g}"


def read_settings(path: Path) -> Settings:
    """What is set; everything as usual where there is no file.

    Raises TrainerError that says what is wrong in it, where, and how to mend it.
    """
    written = written_in(path)
    if written is None:
        return Settings()
    if not isinstance(written, dict):
        raise TrainerError(f"{path} must hold lines such as 'keep takes: yes'.")
    known = {_field(path, key): _value(path, key, value) for key, value in written.items()}
    return Settings(**known)  # type: ignore[arg-type]


def write_settings(path: Path, settings: Settings) -> None:
    """Write what differs from the usual.

    Raises TrainerError when it can't be written, or when what stands there can't be read: a file
    with a mistake in it is the student's to mend, never written over.
    """
    read_settings(path)
    usual = asdict(Settings())
    changed = {
        name.replace("_", " "): value
        for name, value in asdict(settings).items()
        if value != usual[name]
    }
    text = yaml.safe_dump(changed, sort_keys=False, allow_unicode=True) if changed else ""
    write_in(path, HEADING + text)


def _field(path: Path, key: object) -> str:
    names = {field.name.replace("_", " "): field.name for field in fields(Settings)}
    if key not in names:
        raise TrainerError(f"{path}: '{key}' is no setting; there are: {', '.join(names)}.")
    return names[str(key)]


def _value(path: Path, key: object, value: object) -> Value:
    name = str(key).replace(" ", "_")
    usual = getattr(Settings(), name)
    if isinstance(usual, bool):
        if not isinstance(value, bool):
            raise TrainerError(f"{path}: '{key}' is '{value}'; write yes or no.")
        return value
    if isinstance(usual, float):
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value < inf:
            raise TrainerError(f"{path}: '{key}' is '{value}'; write a number above 0.")
        return float(value)
    match name:
        case "tuning":
            return _tuning(path, value)
        case "lesson" if isinstance(lesson_day(str(value)), date):
            return str(value)
        case "lesson":
            return _choice(path, key, value, "a date such as 2026-12-03")
        case "partner_sound" if str(value).endswith(SOUNDFONT_ENDS):
            return str(value)
        case "microphone" | "loudspeaker" if isinstance(value, str):
            return value[:LONGEST_NAME]
        case "microphone" | "loudspeaker":
            raise TrainerError(f"{path}: '{key}' is '{value}'; write the name of a device.")
        case "partner_sound":
            return _choice(path, key, value, f"the place of a {SOUNDFONT_ENDS[0]} file")
        case _:
            return _choice(path, key, value)


def _choice(path: Path, key: object, value: object, *besides: str) -> str:
    offered = {words(choice).casefold(): choice for choice in CHOICES[str(key).replace(" ", "_")]}
    chosen = offered.get(str(value).casefold())
    if chosen is None:
        listed = ", ".join((*map(words, offered.values()), *besides))
        raise TrainerError(f"{path}: '{key}' is '{value}'; write one of: {listed}.")
    return words(chosen)


def _tuning(path: Path, value: object) -> str:
    said = str(value)
    match = _A4.fullmatch(said)
    if match and LOWEST_A4_HZ <= float(match[1]) <= HIGHEST_A4_HZ:
        return f"A4 = {float(match[1]):g}"
    if said.casefold() == AS_THE_ROUTINE_SAYS:
        return AS_THE_ROUTINE_SAYS
    raise TrainerError(
        f"{path}: 'tuning' is '{value}'; write 'A4 = 442' or another number from "
        f"{LOWEST_A4_HZ:g} to {HIGHEST_A4_HZ:g}, or '{AS_THE_ROUTINE_SAYS}'."
    )
