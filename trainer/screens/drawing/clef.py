"""The treble clef, our own drawing: a curl around the G line, from A5 down to C4."""

from trainer.music.pitch import Pitch

TOP_STEP = Pitch.parse("A5").staff_step
"""The clef's first row is the line above the staff, its last the line below."""

TREBLE = (
    "  ▞▚ ",
    "  ▌▐ ",
    "  ▙▛ ",
    " ▟▜  ",
    "▐▘▞▛▖",
    "▝▄▟▌▘",
    " ▗▄▘ ",
)
