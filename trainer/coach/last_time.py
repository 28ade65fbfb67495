"""How a round stands beside the last time the same was played, in plain figures."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from trainer.coach.advice import FigureThenAndNow, LastTime, Topic
from trainer.coach.history import Figures, History, PastRound
from trainer.coach.marks import Marks
from trainer.figures.round_figures import clean_share, evenness_ms, within_cents
from trainer.music.note import Articulation
from trainer.routine.round import AS_IT_COMES, Round, RoundKind
from trainer.wording.days import date_words

EARLIER = "last time"
"""When it was earlier in the same session."""
WEEK_DAYS = 7
HELD = frozenset(
    {
        RoundKind.LONG_TONES,
        RoundKind.SWELLS,
        RoundKind.VIBRATO,
        RoundKind.VOICING,
        RoundKind.SETTLING,
        RoundKind.CADENZA,
    }
)
"""Slow or free notes, whose onsets nobody asks to be even."""


def figures_of(
    clean: Sequence[bool], off_ms: Sequence[float], cents: Sequence[float], expected_notes: int
) -> Figures:
    """A round's figures: `clean` for each note judged, places and cents of the right ones.

    Each is counted as the teacher's aims are, and left out where an aim would be.
    """
    return Figures(
        clean_share=clean_share(clean, expected_notes),
        evenness_ms=evenness_ms(off_ms),
        within_cents=within_cents(cents),
    )


def past_round(round_: Round, marks: Marks | None = None, topic: Topic | None = None) -> PastRound:
    """A round of this session, as one of an earlier day is remembered; without marks as it is asked
    for, before it is played."""
    notes = () if marks is None else marks.notes
    return PastRound(
        round_.exercise_id,
        round_.kind,
        round_.tempo_bpm,
        topic,
        number=round_.number,
        articulation=round_.articulation,
        notes=" ".join(str(note.pitch) for note in round_.notes),
        rhythm=tuple(note.beat - round_.notes[0].beat for note in round_.notes),
        manner=round_.manner,
        figures=figures_of(
            [note.clean for note in notes if note.judged],
            [note.off_ms for note in notes if note.off_ms is not None],
            [note.cents for note in notes if note.cents is not None],
            len(notes),
        ),
        note_cents=tuple(None if note.harmonic else note.cents for note in notes),
    )


def last_time(
    now: PastRound, this_session: Sequence[PastRound], history: History | None
) -> LastTime | None:
    """The round beside the last time it was played; None where it never was, or nothing compares.

    this_session: the rounds before it, oldest first.
    """
    newest = next(_times_before(now, this_session, history), None)
    return None if newest is None else beside(now, *newest)


def last_note_cents(
    now: PastRound, this_session: Sequence[PastRound], history: History | None
) -> tuple[float | None, ...]:
    """Where each note stood the last time the same was played at this tempo; empty where it never
    was. What nobody judged is None, as in `PastRound.note_cents`."""
    times = _times_before(now, this_session, history)
    return next((then.note_cents for then, _ in times if _same_tempo(now, then)), ())


def _times_before(
    now: PastRound, this_session: Sequence[PastRound], history: History | None
) -> Iterator[tuple[PastRound, str]]:
    """Each time the same was played, the newest first, and when; one for each earlier day."""
    yield from ((then, EARLIER) for then in reversed(this_session) if same(now, then))
    for day in reversed(history.days if history is not None else ()):
        if alike := [then for then in day.rounds if same(now, then)]:
            yield _nearest(now, alike), _when(day.day, history)


def same(now: PastRound, then: PastRound) -> bool:
    """Whether two rounds are the same thing played twice, at whatever tempo.

    The same exercise, the same written notes (so the same key and range), begun in the same way.
    What was asked of rhythm and sound is known of this session's rounds alone; a round that asked
    something of the sound is not set beside one where that is unknown.
    """
    return (
        bool(now.notes)
        and (now.exercise_id, now.kind, now.articulation, now.notes)
        == (then.exercise_id, then.kind, then.articulation, then.notes)
        and then.rhythm in (None, now.rhythm)
        and (then.manner or AS_IT_COMES) == (now.manner or AS_IT_COMES)
    )


def _nearest(now: PastRound, alike: Sequence[PastRound]) -> PastRound:
    """Of several on one day: the one at this tempo, or in this place, or the last."""
    return max(
        enumerate(alike),
        key=lambda one: (_same_tempo(now, one[1]), one[1].number == now.number, one[0]),
    )[1]


def beside(now: PastRound, then: PastRound, when: str) -> LastTime | None:
    """One round beside another, played `when`; None where nothing compares."""
    figures = tuple(_both(now, then))
    other_tempo = None if _same_tempo(now, then) else then.tempo_bpm
    return LastTime(when, other_tempo, figures) if figures else None


def _same_tempo(now: PastRound, then: PastRound) -> bool:
    """As it is shown, in whole beats a minute."""
    return round(then.tempo_bpm) == round(now.tempo_bpm)


def _both(now: PastRound, then: PastRound) -> Iterator[FigureThenAndNow]:
    """What was measured both times, in the order of the aims."""
    before, heard = then.figures, now.figures
    if before.clean_share is not None and heard.clean_share is not None:
        yield FigureThenAndNow(
            "clean", "%", _percent(before.clean_share), _percent(heard.clean_share)
        )
    if _in_motion(now) and before.evenness_ms is not None and heard.evenness_ms is not None:
        yield FigureThenAndNow(
            "evenness", "ms", round(before.evenness_ms), round(heard.evenness_ms)
        )
    if before.within_cents is not None and heard.within_cents is not None:
        yield FigureThenAndNow("", "cents", round(before.within_cents), round(heard.within_cents))


def _in_motion(now: PastRound) -> bool:
    """Whether evenness means anything: not of held notes, nor where onsets are too soft."""
    return now.kind not in HELD and now.articulation is not Articulation.AIR_ONLY


def _percent(share: float) -> int:
    """Whole percent, a hundred only where nothing was missing."""
    return int(100 * share)


def _when(day: date, history: History | None) -> str:
    days = (history.today - day).days if history is not None else 0
    if days == 1:
        return "yesterday"
    return f"{day:%A}" if days < WEEK_DAYS else date_words(day)
