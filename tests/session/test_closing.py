"""The end of a session: the best thing, tomorrow's thing, what changed; never one as the other."""

from __future__ import annotations

from dataclasses import replace

from trainer.coach.advice import ABOUT, FigureThenAndNow, LastTime, Topic
from trainer.music.pitch import Pitch
from trainer.routine.round import RoundKind
from trainer.session.closing import RoundClosed, closing_words

SPOT = (Pitch.parse("C5"), Pitch.parse("D5"))


def played(
    exercise: str,
    topic: Topic,
    spot: tuple[Pitch, ...] = (),
    clean: tuple[int, int] | None = None,
    mind: str = "",
) -> RoundClosed:
    kind = RoundKind.KNOT if spot else RoundKind.TECHNIQUE
    before = None
    if clean is not None:
        before = LastTime("Tuesday", None, (FigureThenAndNow("clean", "%", *clean),))
    return RoundClosed(
        exercise,
        exercise.capitalize(),
        kind,
        spot,
        topic,
        mind or f"think of {ABOUT[topic]}",
        before,
    )


def test_nothing_judged_says_nothing() -> None:
    assert closing_words([played("hill", Topic.SOUND), played("hill", Topic.UNHEARD)]) == ()


def test_the_best_ended_well_and_tomorrow_is_what_did_not() -> None:
    said = closing_words(
        [
            played("hill", Topic.SECURE),
            played("hill", Topic.TUNING_HIGH),
            played("ladder", Topic.NOTES),
            played("ladder", Topic.SECURE, clean=(88, 97)),
        ]
    )
    assert said == (
        "Best today: Ladder.",
        "Tomorrow: think of the tuning of the high notes.",
        "Ladder: cleaner than Tuesday.",
    )


def test_tomorrow_names_the_notes_that_were_named() -> None:
    said = closing_words([played("hill", Topic.CROSSING, mind="listen to C5–D5")])
    assert said == ("Tomorrow: listen to C5–D5.",)


def test_an_open_trouble_spot_comes_first_tomorrow() -> None:
    rounds = [played("hill", Topic.CROSSING), played("hill", Topic.BLIP, SPOT)]
    assert closing_words(rounds) == ("Tomorrow first: C5–D5, slowly.",)
    smooth = [*rounds, played("hill", Topic.SECURE, SPOT), played("hill", Topic.SECURE)]
    assert closing_words(smooth) == ("Best today: Hill.", "Tomorrow: on from here.")


def test_what_the_student_heard_differently_is_neither_best_nor_tomorrows() -> None:
    said = closing_words([played("hill", Topic.LEFT_OPEN), played("ladder", Topic.SECURE)])
    assert said == ("Best today: Ladder.", "Tomorrow: on from here.")
    rounds = [played("hill", Topic.RUSHING), played("hill", Topic.LEFT_OPEN)]
    assert closing_words(rounds) == ("Tomorrow: on from here.",)


def test_of_two_exercises_with_one_title_the_end_says_the_teachers_name() -> None:
    ladder = replace(played("ladder", Topic.SECURE), title="D major")
    hill = replace(played("hill", Topic.CROSSING, mind="listen to C5–D5"), title="D major")
    assert closing_words([ladder, hill]) == ("Best today: ladder.", "Tomorrow: listen to C5–D5.")


def test_a_small_change_is_not_told() -> None:
    assert len(closing_words([played("hill", Topic.SECURE, clean=(95, 97))])) == 2
