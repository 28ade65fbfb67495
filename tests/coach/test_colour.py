"""Tone is compared with the same player's earlier rounds, like with like, and with neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import pytest

from tests.coach.test_ladder import marks_at
from trainer.coach.marks import Marks
from trainer.coach.observations.colour import in_colour
from trainer.coach.observations.two_colours import in_colours
from trainer.coach.observations.voicing import in_voicing
from trainer.ear.heard import Tone
from trainer.music.pitch import Pitch
from trainer.routine.round import Manner, RoundKind

NAMES = ("D5", "E5", "F#5", "G5", "A5", "B5", "C#6", "D6")
LEVEL_DB = -20.0


def toned(
    hiss_db: float,
    *,
    balance_db: Sequence[float] = (-6.0,),
    pitches: int = 8,
    level_db: float = LEVEL_DB,
    held: bool = False,
) -> Marks:
    """A round of sixteenths, or of notes a beat long, over so many pitches, with so much hiss;
    balance_db: of each pitch in turn."""
    marks = marks_at(60, 5)
    notes = tuple(
        replace(
            note,
            written=Pitch.parse(NAMES[note.index % pitches]),
            tone=Tone(balance_db[note.index % pitches % len(balance_db)], -20.0, 2.0),
            hiss_db=hiss_db,
            level_db=level_db,
            group_place=0 if held else note.group_place,
        )
        for note in marks.notes
    )
    return replace(marks, notes=notes)


def with_note(marks: Marks, name: str, hiss_db: float, level_db: float) -> Marks:
    """The same with another hiss and level wherever this pitch comes."""
    notes = tuple(
        replace(note, hiss_db=hiss_db, level_db=level_db) if str(note.written) == name else note
        for note in marks.notes
    )
    return replace(marks, notes=notes)


def test_held_notes_are_not_called_airier_than_quick_ones() -> None:
    quick = toned(-60)
    assert [seen.detail for seen in in_colour(toned(-48), [quick])] == ["airier"]
    assert not list(in_colour(toned(-48, held=True), [quick]))
    assert list(in_colour(toned(-48, held=True), [quick, toned(-60, held=True)]))


@pytest.mark.parametrize(("hiss_db", "level_db"), [(-48, LEVEL_DB + 12), (-60, LEVEL_DB - 12)])
def test_louder_playing_is_not_airier_nor_softer_playing_beside_a_noisy_microphone(
    hiss_db: float, level_db: float
) -> None:
    assert not list(in_colour(toned(hiss_db, level_db=level_db), [toned(-60)]))


@pytest.mark.parametrize(("pitches", "told"), [(8, ["thinner"]), (3, [])])
def test_a_few_pitches_make_no_tone_thinner_however_often_they_come(
    pitches: int, told: list[str]
) -> None:
    """Whoever moves the microphone moves the overtones of single pitches by 6 dB and more, each
    time alike (our own measurement on recorded notes in rooms)."""
    thin = toned(-60, balance_db=(2.0,), pitches=pitches)
    assert [seen.detail for seen in in_colour(thin, [toned(-60, pitches=pitches)])] == told


@pytest.mark.parametrize(
    ("hiss_db", "level_db", "told"),
    [(-46.0, LEVEL_DB, ["F#5"]), (-46.0, LEVEL_DB + 14, []), (-60.0, LEVEL_DB - 14, [])],
)
def test_one_airy_note_is_told_and_no_loud_one_nor_one_that_a_room_drowns(
    hiss_db: float, level_db: float, told: list[str]
) -> None:
    marks = replace(with_note(toned(-60), "F#5", hiss_db, level_db), kind=RoundKind.VOICING)
    assert [str(seen.frm) for seen in in_voicing(marks, ())] == told


@pytest.mark.parametrize(
    ("changes_db", "told"),
    [((0.2, -0.3, 0.4, 0.0), True), ((7.0, -6.0, 5.0, -5.5), False), ((3.0, 2.5, 3.5, 3.0), False)],
)
def test_two_colours_are_one_only_where_the_pitches_agree(
    changes_db: tuple[float, ...], told: bool
) -> None:
    dark = replace(toned(-60), manner=Manner(colour="dark"), kind=RoundKind.COLOURS)
    bright = toned(-60, balance_db=[change_db - 6.0 for change_db in changes_db])
    bright = replace(bright, manner=Manner(colour="bright"), kind=RoundKind.COLOURS)
    assert bool(list(in_colours(bright, [dark]))) == told
