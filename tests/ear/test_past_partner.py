"""What may be left of the partner is never taken for the student."""

from __future__ import annotations

from dataclasses import replace

from trainer.ear.echo.past_partner import PartnerHeard, past_partner
from trainer.ear.heard import HeardNote, State
from trainer.music.note import Start
from trainer.music.pitch import Pitch

A4 = Pitch.parse("A4")
PARTNER_DB = -30.0


def partner_db(from_s: float, _: float) -> float | None:
    """The partner comes in at the second second."""
    return PARTNER_DB if from_s >= 2 else -120.0


def note(
    index: int | None, at_s: float, level_db: float, instead_of: int | None = None
) -> HeardNote:
    state = State.EXTRA if index is None else State.PLAYED
    times = {"onset_s": at_s, "end_s": at_s + 0.4, "level_db": level_db}
    return HeardNote(index, A4, state, instead_of=instead_of, midi=69.0, **times)


def states(notes: list[HeardNote]) -> list[tuple[int | None, State]]:
    return [(one.index, one.state) for one in past_partner(notes, PARTNER, ())]


PARTNER = PartnerHeard(partner_db, -30.0)
PLAYED = [note(number, float(number), -20.0) for number in range(5)]


def test_who_plays_is_heard() -> None:
    loud = [*PLAYED, note(None, 5.0, -20.0)]
    assert past_partner(loud, PARTNER, ()) == loud
    assert past_partner(PLAYED, PartnerHeard(lambda *_: None, None), ()) == PLAYED


def test_what_is_left_of_a_canon_is_no_note_of_the_students() -> None:
    """Before the partner comes in nothing is left of it: a soft note there is the student's."""
    soft = note(None, 1.5, -50.0)
    assert past_partner([*PLAYED[:2], soft, *PLAYED[2:], note(None, 5.0, -42.0)], PARTNER, ()) == [
        *PLAYED[:2],
        soft,
        *PLAYED[2:],
    ]


def test_a_note_as_soft_as_what_is_left_is_not_judged() -> None:
    """Nor one in whose place only such a sound was heard: neither played nor missed is sure."""
    missed = HeardNote(4, A4, State.MISSED)
    heard = [*PLAYED[:3], note(3, 3.0, -52.0), note(None, 4.0, -40.0, instead_of=4), missed]
    assert states(heard)[3:] == [(3, State.NOT_JUDGED), (4, State.NOT_JUDGED)]


def test_a_wrong_note_that_was_loud_stays_wrong() -> None:
    missed = HeardNote(4, A4, State.MISSED)
    heard = [*PLAYED[:4], note(None, 4.0, -22.0, instead_of=4), missed]
    assert past_partner(heard, PARTNER, ()) == heard


def test_where_all_is_as_soft_as_what_is_left_nothing_is_judged() -> None:
    heard = [note(number, 2.0 + number, -46.0 - number) for number in range(4)]
    assert states([*heard, note(None, 7.0, -20.0)]) == [(n, State.NOT_JUDGED) for n in range(4)]


def test_where_the_partner_can_hardly_be_taken_out_nobody_is_heard() -> None:
    """A live room without direct sound: what is left is as loud as the partner itself."""
    left = [note(number, 2.0 + number, PARTNER_DB + 2) for number in range(4)]
    live = replace(PARTNER, left_db=-9.0)
    assert {one.state for one in past_partner(left, live, ())} == {State.NOT_JUDGED}
    louder = [note(number, 2.0 + number, PARTNER_DB + 10) for number in range(4)]
    assert past_partner([*louder, note(None, 7.0, PARTNER_DB + 8)], live, ()) == louder


def test_in_unison_what_is_left_is_the_players_own() -> None:
    """As loud as the partner and louder: a note nobody asked for is still told."""
    heard = [note(number, 2.0 + number, PARTNER_DB + 8) for number in range(4)]
    heard.append(note(None, 7.0, PARTNER_DB + 8))
    assert past_partner(heard, replace(PARTNER, left_db=3.0), ()) == heard


def test_who_plays_very_softly_is_heard_where_little_is_left() -> None:
    """Eighteen decibels below the partner: a soft note above a drone that is taken out well."""
    soft = [note(number, 2.0 + number, PARTNER_DB - 18) for number in range(4)]
    assert past_partner(soft, replace(PARTNER, left_db=-40.0), ()) == soft
    assert past_partner(soft, replace(PARTNER, left_db=None), ()) == soft
    assert past_partner(soft, PARTNER, ()) != soft


def test_a_slur_that_was_not_asked_is_in_doubt_where_the_partner_filled_the_gap() -> None:
    slurred = [
        replace(note(number, float(number), -20.0), start=Start.SLURRED, start_certainty=0.99)
        for number in range(5)
    ]
    heard = past_partner(slurred, PARTNER, {4})
    assert [one.start for one in heard] == [*[Start.SLURRED] * 2, None, None, Start.SLURRED]
    assert all((one.start_certainty or 1.0) < 0.9 for one in heard[2:4])
    far = replace(PARTNER, level_db=lambda *_: -50.0)
    assert past_partner(slurred, far, ()) == slurred
    tongued = [replace(one, start=Start.TONGUED) for one in slurred]
    assert past_partner(tongued, PARTNER, {4}) == tongued
