"""From a take to the measures of its round."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from statistics import median

from trainer.ear.heard import State, Take
from trainer.figures.note_figures import is_right, is_start_unsure
from trainer.figures.onset_places import OnsetPlaces
from trainer.figures.own_line import LINE_NOTES
from trainer.figures.round_figures import evenness_ms, lead_ms, median_cents
from trainer.figures.round_measures import RoundMeasures, note_counts
from trainer.music.note import Note
from trainer.music.pulse import begins_anew_after


def take_measures(
    notes: Sequence[Note], take: Take, beat_s: float, places: OnsetPlaces
) -> RoundMeasures:
    """The measures of a take of these notes; beat_s: length of a beat at the tempo asked for."""
    beats = {note.index: float(note.beat) for note in notes}
    first_stop = min(begins_anew_after(notes), default=len(notes))
    timed = [
        (note.onset_s, take.first_beat_s + beats[note.index] * beat_s)
        for note in take.expected_notes
        if note.index in beats and note.onset_s is not None and note.index <= first_stop
    ]
    cents = [
        note.cents
        for note in take.expected_notes
        if note.cents is not None and is_right(note.state, note.cents)
    ]
    return replace(
        note_counts(take),
        lead_ms=lead_ms([onset_s for onset_s, _ in timed], [due_s for _, due_s in timed]),
        evenness_ms=evenness_ms(list(places.off_ms.values())),
        tempo_bpm=None if places.line is None else 60.0 / places.line.beat_s,
        cents_median=median_cents(cents),
        starts_unsure=sum(
            is_start_unsure(note.start, note.start_certainty)
            for note in take.expected_notes
            if note.state is State.PLAYED
        ),
    )


def came_in_beats(notes: Sequence[Note], take: Take, beat_s: float) -> float | None:
    """How many beats after the first beat the line began, early negative: the median of what its
    first onsets came after they were due. None where fewer sounded than make a line."""
    beats = {note.index: float(note.beat) for note in notes}
    after_beats = [
        (note.onset_s - take.first_beat_s) / beat_s - beats[note.index]
        for note in take.expected_notes
        if note.index in beats and note.onset_s is not None
    ]
    return median(after_beats[:LINE_NOTES]) if len(after_beats) >= LINE_NOTES else None
