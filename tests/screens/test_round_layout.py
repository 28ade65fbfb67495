"""The music laid out for a size of screen, and how its staves take turns."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from tests.screens.cell_reader import CellReader
from tests.screens.rounds import MAJORS, round_of
from trainer.ear.heard import LiveReading
from trainer.music.articulations import articulated
from trainer.music.key import Key, Mode
from trainer.music.note import Articulation, Note, Start
from trainer.music.pitch import LETTERS, Pitch
from trainer.routine.round import Round
from trainer.screens.drawing.accidentals import signature_alters
from trainer.screens.drawing.octave_sign import lowered_notes
from trainer.screens.drawing.round_layout import ROOMY_TRAIL, score
from trainer.screens.drawing.staff import staff_rows
from trainer.screens.drawing.staff_rows import frame, sheet
from trainer.screens.drawing.systems import System, systems
from trainer.screens.drawing.trail import TrailPen, trail_rows

SIXTEENTH, EIGHTH, DOTTED = Fraction(1, 4), Fraction(1, 2), Fraction(3, 4)
MUSIC_ROWS_AT_80X24 = 22
LOWEST_STEP, HIGHEST_STEP = Pitch.parse("C4").staff_step, Pitch.parse("C7").staff_step


def full_range_round(tonic: str, articulation: Articulation = Articulation.SLURRED) -> Round:
    """Up and down three octaves in sixteenths, a breath at the top."""
    key = Key(tonic, Mode.MAJOR)
    alters = signature_alters(key.signature)
    steps = [*range(LOWEST_STEP, HIGHEST_STEP), *range(HIGHEST_STEP, LOWEST_STEP - 1, -1)]
    pitches = [Pitch(LETTERS[s % 7], alters.get(LETTERS[s % 7], 0), s // 7) for s in steps]
    notes = [
        Note(index, pitch, index * SIXTEENTH, SIXTEENTH, Start.SLURRED, breath_after=index == 21)
        for index, pitch in enumerate(pitches)
    ]
    plain = round_of(articulated(notes, articulation), key.signature)
    return replace(plain, articulation=articulation)


@pytest.mark.parametrize("tonic", MAJORS)
@pytest.mark.parametrize("articulation", [Articulation.SLURRED, Articulation.DOUBLE])
def test_the_smallest_screen_shows_what_follows_and_a_trail(
    tonic: str, articulation: Articulation
) -> None:
    """On a second staff, or on the half of the only one that was played."""
    layout = score(full_range_round(tonic, articulation), 80, MUSIC_ROWS_AT_80X24)
    assert layout.trail_rows >= ROOMY_TRAIL
    rows = layout.upper.height + layout.lane_rows + (layout.lower.height if layout.lower else 0)
    assert rows <= MUSIC_ROWS_AT_80X24
    for system in layout.systems[:-1]:
        assert layout.lower or layout.turn_column(float(system.end) - 0.1)


def test_high_notes_stand_on_ledger_lines() -> None:
    for width, height in ((80, MUSIC_ROWS_AT_80X24), (120, 38)):
        assert not score(full_range_round("D"), width, height).sheet.lowered


def test_the_only_staff_turns_its_first_half_when_it_was_played() -> None:
    layout = score(full_range_round("C"), 80, MUSIC_ROWS_AT_80X24)
    assert layout.lower is None
    first, second = layout.systems[:2]
    middle = float(first.start) + float(first.beats) / 2
    assert layout.turn_column(middle + 0.9) is None
    column = layout.turn_column(middle + 1.0)
    assert column is not None
    assert column <= first.column(middle) + 1, "the head of the note there is still whole"
    assert layout.turn_column(float(second.start)) is None
    assert layout.turn_column(float(layout.systems[-1].end)) is None


def test_a_note_still_held_is_not_turned_away() -> None:
    """Of eight beats a system, notes of six and rests of two: it would turn at the fifth."""
    held = [
        Note(place, Pitch.parse("B4"), Fraction(8 * place), Fraction(6), Start.TONGUED)
        for place in range(10)
    ]
    layout = score(round_of(held), 80, 14)
    assert layout.lower is None
    assert float(layout.systems[0].end) == 8.0
    assert layout.turn_column(5.75) is None
    assert layout.turn_column(6.0) is not None


def test_a_note_that_just_fits_needs_no_octave_sign() -> None:
    names = ("G5", "A5", "B5")
    notes = [
        Note(place, Pitch.parse(name), Fraction(place), Fraction(1), Start.TONGUED)
        for place, name in enumerate(names)
    ]
    assert lowered_notes(notes, highest_step=Pitch.parse("A5").staff_step) == {2}


def test_the_next_system_stands_ready_and_nobody_turns_the_one_being_played() -> None:
    layout = score(full_range_round("C"), 120, 38)
    assert layout.pages(None) == (0, 1)
    for beat in range(int(layout.systems[-1].end)):
        current = layout.system_at(beat)
        assert layout.pages(beat)[current % 2] == current
    second = float(layout.systems[1].start)
    assert layout.pages(second) == (0, 1)
    assert layout.pages(second + 1.5) == (2, 1)


def beam_row(*lengths: Fraction) -> str:
    """The row of the beam under a group of notes on the fourth line."""
    beats = [sum(lengths[:place], Fraction(0)) for place in range(len(lengths))]
    notes = tuple(
        Note(index, Pitch.parse("D5"), beat, length, Start.TONGUED)
        for index, (beat, length) in enumerate(zip(beats, lengths, strict=True))
    )
    system = System(notes, Fraction(0), Fraction(4), left=8, beat_columns=16)
    music = sheet(round_of(notes))
    rows = staff_rows(system, music, frame(notes, music), 74)
    return next(row.text[9:26] for row in rows if row.text[9] in "╘┕").rstrip("─│")


@pytest.mark.parametrize(
    ("lengths", "beam"),
    [
        ((SIXTEENTH,) * 4, "╘═══╧═══╧═══╛"),
        ((EIGHTH,) * 2, "┕━━━━━━━┙"),
        ((EIGHTH, SIXTEENTH, SIXTEENTH), "┕━━━━━━━╧═══╛"),
        ((SIXTEENTH, SIXTEENTH, EIGHTH), "╘═══╧━━━┙"),
        ((DOTTED, SIXTEENTH), "┕━━━━━══════╛"),
        ((Fraction(1, 3),) * 3, "┕━━━━┷3━━━━┙"),
    ],
)
def test_beams_say_the_values(lengths: tuple[Fraction, ...], beam: str) -> None:
    assert beam_row(*lengths) == beam


def test_a_held_note_is_hollow_and_a_dotted_one_has_its_dot_in_a_space() -> None:
    def column_of(name: str, length: Fraction) -> list[str]:
        note = Note(0, Pitch.parse(name), Fraction(0), length, Start.TONGUED)
        system = System((note,), Fraction(0), Fraction(4), left=8, beat_columns=8)
        music = sheet(round_of((note,)))
        drawn = staff_rows(system, music, frame((note,), music), 44)
        return [row.text[9:12] for row in drawn]

    assert "⢎⡱─" in column_of("G4", Fraction(4))
    assert {"⡠⢄─", "⠑⠊─"} <= set(column_of("A4", Fraction(4)))
    assert "▟▛▝" in column_of("G4", Fraction(3, 2))
    assert "▀▘▝" in column_of("A4", Fraction(3, 2))


def test_a_note_held_over_a_bar_line_is_tied_and_its_accidental_not_repeated() -> None:
    note = Note(0, Pitch.parse("F#4"), Fraction(2), Fraction(6), Start.TONGUED)
    system = System((note,), Fraction(0), Fraction(8), left=8, beat_columns=8)
    music = sheet(round_of((note,)))
    rows = staff_rows(system, music, frame((note,), music), 74)
    drawn = "\n".join(row.text for row in rows)
    assert drawn.count("⡠") == 2
    assert drawn.count("‿") == 2
    assert CellReader([row.text for row in rows]).accidental(25, note.pitch.staff_step) == 1
    assert CellReader([row.text for row in rows]).accidental(41, note.pitch.staff_step) is None


def test_a_note_held_into_the_next_system_goes_on_there() -> None:
    tones = (Fraction(0), Fraction(8)), (Fraction(12), Fraction(12))
    notes = tuple(
        Note(index, Pitch.parse("G4"), beat, length, Start.TONGUED)
        for index, (beat, length) in enumerate(tones)
    )
    music = sheet(round_of(notes))
    lines = systems(round_of(notes), 80)
    assert [line.held for line in lines] == [None, None, notes[1]]
    texts = [
        "\n".join(row.text for row in staff_rows(line, music, frame(notes, music), 80))
        for line in lines
    ]
    assert [text.count("⢎⡱") for text in texts] == [2, 1, 2]
    assert [text.count("‿") for text in texts] == [2, 1, 3]
    pen = TrailPen(lines[2], beat_s=1.0)
    pen.draw(
        LiveReading(12 + second / 10, 67.0, 0.0, -20.0, note_index=1, off_beat_ms=None)
        for second in range(80)
    )
    (trail,) = trail_rows(lines[2], pen.trail, 1, 80, None, ())
    held_columns = range(lines[2].left, lines[2].column(20))
    assert {column for column, mark in enumerate(trail.text) if mark == "━"} >= {*held_columns}
    assert trail.text.index("━") == lines[2].left
