"""A piano next door in a round in which the player is silent is nothing that was played."""

from __future__ import annotations

from datetime import date

import pytest

from trainer.ear.heard import HeardNote, State, Take
from trainer.music.pitch import Pitch
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.session.next_door import (
    FAINT_DB,
    NEARER_DB,
    SOFTER_DB,
    as_the_players,
    is_as_loud_as_usual,
    level_after_db,
    players_level_db,
    within_the_round,
)

D5 = Pitch.parse("D5")
BEFORE_DB = -20.0


def _take(*levels_db: float | None) -> Take:
    """Two notes asked, the rest extras; None for one that was missed."""
    notes = (
        HeardNote(
            place if place < 2 else None,
            D5 if place < 2 else None,
            State.MISSED if level is None else State.PLAYED if place < 2 else State.EXTRA,
            level_db=level,
        )
        for place, level in enumerate(levels_db)
    )
    return Take(44100, 440.0, 0.5, tuple(notes))


def test_of_what_is_far_softer_than_the_player_nothing_is_said() -> None:
    heard = as_the_players(_take(-45.0, None, -42.0, -50.0), BEFORE_DB).notes
    assert [(note.index, note.state) for note in heard] == [
        (0, State.NOT_JUDGED),
        (1, State.NOT_JUDGED),
    ]


@pytest.mark.parametrize("before_db", [BEFORE_DB, None])
def test_a_player_who_is_heard_at_all_is_heard_whole(before_db: float | None) -> None:
    """From pianissimo to fortissimo recorded notes of one player lie within some 20 dB."""
    take = _take(-37.0, None, -38.0, -60.0)
    assert as_the_players(take, before_db) is take


def _mostly(right: int, level_db: float) -> Take:
    """Eight notes asked, so many of them heard, other notes for the rest."""
    heard = (
        HeardNote(n, D5, State.PLAYED, midi=74.0, level_db=level_db)
        if n < right
        else HeardNote(None, None, State.EXTRA, midi=70.0, level_db=level_db, instead_of=n)
        for n in range(8)
    )
    missed = (HeardNote(n, D5, State.MISSED) for n in range(right, 8))
    return Take(44100, 440.0, 0.5, (*heard, *missed))


@pytest.mark.parametrize(
    ("right", "softer_db", "stays", "level_after"),
    [
        (8, SOFTER_DB + 2, True, BEFORE_DB - SOFTER_DB - 2),
        (8, FAINT_DB + 2, False, None),
        (4, SOFTER_DB - 2, True, BEFORE_DB),
        (4, SOFTER_DB + 2, False, BEFORE_DB - NEARER_DB),
        (0, SOFTER_DB + 2, False, BEFORE_DB - NEARER_DB),
    ],
)
def test_what_is_hardly_as_asked_has_to_be_nearly_as_loud_as_the_player(
    right: int, softer_db: float, stays: bool, level_after: float | None
) -> None:
    """And tells nothing of how loud the player is; who went further away is heard again soon."""
    take = _mostly(right, BEFORE_DB - softer_db)
    assert (as_the_players(take, BEFORE_DB) is take) is stays
    assert level_after_db(take, BEFORE_DB) == level_after


def test_what_sounds_before_the_first_beat_or_behind_the_last_note_is_none_of_the_round() -> None:
    """But a note played too early is, and another one in its place, and what comes between notes
    that are late."""
    early = HeardNote(0, D5, State.PLAYED, onset_s=0.4, end_s=0.9)
    instead = HeardNote(None, None, State.EXTRA, onset_s=0.45, instead_of=1)
    late = HeardNote(2, D5, State.PLAYED, onset_s=2.9, end_s=3.4)
    before, beside, between, after = (
        HeardNote(None, None, State.EXTRA, onset_s=at_s) for at_s in (0.3, 0.6, 2.7, 3.4)
    )
    heard = (before, early, instead, beside, between, late, after)
    take = within_the_round(Take(44100, 440.0, 0.5, heard), 2.0)
    assert take.notes == (early, instead, beside, between, late)


def test_a_silent_round_without_any_sound_stays_missed() -> None:
    take = _take(None, None)
    assert as_the_players(take, BEFORE_DB) is take


def test_the_usual_level_is_that_of_notes_that_were_asked() -> None:
    assert players_level_db(_take(-20.0, -22.0, -60.0)) == -21.0
    assert players_level_db(_take(None, None)) is None


@pytest.mark.parametrize(
    ("asked", "usual"),
    [
        ("articulations: [single]", True),
        ("articulations: [air-only silent]", False),
        ("articulations: [single], loudness: pp", False),
        ("articulations: [single], loudness: p to f and back", False),
    ],
)
def test_air_alone_and_what_is_asked_softly_are_set_beside_no_other_round(
    asked: str, usual: bool
) -> None:
    routine, problems = read_routine(
        f"title: T\nexercises: [{{scale: s, key: D, {asked}}}]", "t.yaml"
    )
    assert routine is not None, problems
    (planned,) = plan(routine, date(2026, 3, 2), 0)
    assert is_as_loud_as_usual(planned.rounds[0]) == usual
