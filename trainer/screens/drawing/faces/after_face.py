"""Which face is shown after a round, over its music: the one place that decides."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from statistics import median

from trainer.ear.heard import HeardNote, Take
from trainer.music.instrument import instrument_named
from trainer.music.names import NoteNames, named
from trainer.routine.round import Round, RoundKind
from trainer.screens.drawing.canvas import Canvas, Row
from trainer.screens.drawing.faces.climb_ladder import ladder_rows
from trainer.screens.drawing.faces.colour_pair import colour_rows
from trainer.screens.drawing.faces.finger_chart import chart_rows
from trainer.screens.drawing.faces.held_waves import wave_rows
from trainer.screens.drawing.faces.octaves import octave_rows
from trainer.screens.drawing.faces.swell_bends import bend_rows
from trainer.screens.drawing.faces.trill_speed import draw_trill
from trainer.session.view import View


def practised_rows(view: View, names: NoteNames, width: int, height: int) -> tuple[Row, ...]:
    """What was heard of the thing practised, worth more than the music where there is no room for
    both; empty where the music says it all."""
    round_, take = view.round, view.take
    if round_ is None or take is None:
        return ()
    spoken_of = frozenset(view.advice.note_indices if view.advice is not None else ())
    rows: tuple[Row, ...] = ()
    match round_.kind:
        case RoundKind.VIBRATO if view.pulses and view.first_beat_s is not None:
            per_beat = {pulse.index: pulse.per_beat for pulse in view.pulses}
            rows = wave_rows(
                round_, view.readings, view.first_beat_s, per_beat, names, width, height
            )
        case RoundKind.SWELLS:
            rows = bend_rows(round_, take, view.readings, names, width, spoken_of)
        case RoundKind.COLOURS:
            rows = colour_rows(round_, take, view.other_colour, width)
        case RoundKind.VOICING:
            rows = octave_rows(round_, take, names, width, spoken_of)
        case RoundKind.TRILLS:
            rows = _trills(round_, take, names, width)
        case _:
            pass
    return rows if len(rows) <= height else ()


def ahead_rows(view: View, names: NoteNames, width: int) -> tuple[Row, ...]:
    """What comes next, drawn where there is room over the music: a spot's fingers, the ladder."""
    round_ = view.round
    if view.knot:
        return chart_rows(view.knot, instrument_named(view.today.instrument), names, width)
    if (
        round_ is not None
        and round_.kind is RoundKind.CLIMB
        and view.climb is not None
        and view.proposal is not None
    ):
        now_bpm = view.proposal.tempo_bpm or round_.tempo_bpm
        return ladder_rows(view.climb, view.tempos, now_bpm, width)
    return ()


def _trills(round_: Round, take: Take, names: NoteNames, width: int) -> tuple[Row, ...]:
    """Each trill's speed against the beat, and how long its two notes were against each other."""
    heard = {one.index: one for one in take.expected_notes}
    canvas = Canvas(width, 2 * len(_runs(round_)))
    for place, run in enumerate(_runs(round_)):
        first, second = (named(round_.notes[index].pitch, names) for index in run[:2])
        onsets = _onsets(run, heard)
        asked = 1 / round_.notes[run[0]].length
        draw_trill(
            canvas,
            2 * place,
            (first, second),
            float(asked),
            _speed(round_, onsets),
            _first_share(onsets, run[0]),
        )
    return canvas.rows()


def _runs(round_: Round) -> list[list[int]]:
    """The notes of each trill: short ones in a row."""
    runs: list[list[int]] = []
    before: Fraction | None = None
    for note in round_.notes:
        if note.length < 1 and note.length == before:
            runs[-1].append(note.index)
        elif note.length < 1:
            runs.append([note.index])
        before = note.length
    return [run for run in runs if len(run) > 1]


def _onsets(run: list[int], heard: dict[int | None, HeardNote]) -> list[tuple[int, float]]:
    """The notes of a trill that were heard, with the seconds they began at."""
    return [
        (index, one.onset_s)
        for index in run
        if (one := heard.get(index)) is not None and one.onset_s is not None
    ]


def _speed(round_: Round, onsets: list[tuple[int, float]]) -> float | None:
    """Notes a beat, from the first one heard to the last."""
    if len(onsets) < 2 or onsets[-1][1] <= onsets[0][1]:
        return None
    (first, begin_s), (last, end_s) = onsets[0], onsets[-1]
    return (last - first) * round_.beat_s / (end_s - begin_s)


def _first_share(onsets: list[tuple[int, float]], first: int) -> float | None:
    """How much of each change the first of the two notes takes, 0 to 1; even is a half."""
    lengths: dict[bool, list[float]] = {True: [], False: []}
    for (index, begin_s), (after, end_s) in pairwise(onsets):
        if after == index + 1:
            lengths[(index - first) % 2 == 0].append(end_s - begin_s)
    if not all(lengths.values()):
        return None
    one, other = (median(each) for each in lengths.values())
    return one / (one + other)
