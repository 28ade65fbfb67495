"""The thing practised, drawn: each face is read back from its cells.

What is read: dots are counted as quarters of cells, so that a bar's length, a wave's crests, a
body's thickness are those the eye sees.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from itertools import pairwise

import pytest

from tests.screens.cell_reader import QUARTERS
from trainer.coach.advice import Ask, Standing
from trainer.ear.heard import HeardNote, LiveNote, LiveReading, State, Take, Tone
from trainer.music.names import NoteNames
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.round import Round, RoundKind
from trainer.screens.drawing.ascii_only import plain
from trainer.screens.drawing.canvas import Ink, Row
from trainer.screens.drawing.faces.breath_left import phrase_at
from trainer.screens.drawing.faces.climb_ladder import ladder_rows
from trainer.screens.drawing.faces.colour_pair import colour_rows
from trainer.screens.drawing.faces.heard_so_far import HeardSoFar
from trainer.screens.drawing.faces.held_waves import wave_rows
from trainer.screens.drawing.faces.lane_face import face_rows
from trainer.screens.drawing.faces.octaves import octave_rows
from trainer.screens.drawing.faces.swell_bends import bend_rows
from trainer.screens.drawing.large_figures import figure_rows
from trainer.screens.drawing.round_layout import score
from trainer.screens.drawing.scale import STAND
from trainer.screens.drawing.systems import System
from trainer.screens.drawing.trail import mean_trail
from trainer.screens.drawing.written import Written, written_rows
from trainer.session.shown import note_due
from trainer.session.view import ClimbShown, OtherColour

ROUTINE = """
title: Faces
exercises:
- {long tones: held, notes: [B4, G4], beats each: 8, beats between: 4, tempo: 60}
- {long tones: swell, notes: [B4, G4], beats each: 8, tempo: 60, swell: there and back}
- {long tones: pulses, notes: [A4, D5], beats each: 8, tempo: 60, vibrato: [3 a beat]}
- {trills: fingers, pairs: [G4 A4], rhythms: [sixteenths], tempo: 60}
- passage: breath
  key: F
  one breath: yes
  notes: quarter F4 A4 C5 F5 | half E5, quarter D5 C5 | whole F4
- passage: answers
  key: G
  partner: call and answer
  notes: quarter G4 A4 B4 C5 | half D5 B4
- passage: settle
  key: D
  settle: 1 second
  notes: half D5 F#5 | whole D5
- {scale: run, key: G, range: one octave, tempo: 72, articulations: [slurred]}
- {passage: colour, key: G, colours: [dark, bright], notes: half G4 B4 | whole D5}
- {voicing: names, form: same names, key: F, range: F4 to F6, beats each: 3}
"""
WIDTH, HEIGHT = 80, 12
RATE_S = 0.005


@pytest.fixture(scope="module")
def rounds() -> dict[str, Round]:
    routine, problems = read_routine(ROUTINE, "a.yaml")
    assert routine is not None, problems
    return {one.id: one.rounds[0] for one in plan(routine, date(2026, 3, 2), 0)}


def readings(
    round_: Round, index: int, cents: Callable[[float], float], to_beat: float
) -> tuple[LiveReading, ...]:
    """A note's readings from its beat on, its cents by the beats since then."""
    note = round_.notes[index]
    count = int((to_beat - float(note.beat)) * round_.beat_s / RATE_S)
    times = [float(note.beat) * round_.beat_s + place * RATE_S for place in range(count)]
    return tuple(
        LiveReading(
            time_s,
            float(note.pitch.midi),
            cents(time_s / round_.beat_s - float(note.beat)),
            -20.0,
            index,
            None,
        )
        for time_s in times
    )


def lane(round_: Round, heard: HeardSoFar, height: int = HEIGHT) -> tuple[Row, ...]:
    return face_rows(round_, first_system(round_), heard, WIDTH, height)


def first_system(round_: Round) -> System:
    return score(round_, WIDTH, 24).systems[0]


def told(rows: Sequence[Row]) -> str:
    return "\n".join(row.text for row in rows)


def dots(rows: Sequence[Row], inks: Sequence[Ink]) -> set[tuple[int, int]]:
    """The filled quarters in some inks, as half columns and half rows."""
    return {
        (2 * x + quarter % 2, 2 * y + quarter // 2)
        for y, row in enumerate(rows)
        for x, (character, ink) in enumerate(zip(row.text, row.inks, strict=True))
        if ink in inks and character in QUARTERS
        for quarter in range(4)
        if QUARTERS.index(character) >> quarter & 1
    }


# Tuning


@pytest.mark.parametrize("cents", [-35, -12, -3, 0, 3, 12, 50])
def test_a_held_note_says_its_cents_in_large_figures(rounds: dict[str, Round], cents: int) -> None:
    round_ = rounds["held"]
    heard = HeardSoFar(2.0, {20: cents}, {}, readings(round_, 0, lambda _: cents, 2.0), 0.0)
    shown = told(lane(round_, heard))
    text = f"{cents:+d}".replace("-", "−") if cents else "0"
    assert all(line.rstrip() in shown for line in figure_rows(text))


@pytest.mark.parametrize(("cents", "arrow"), [(58, "↑"), (-58, "↓")])
def test_nearly_another_note_is_an_arrow(rounds: dict[str, Round], cents: int, arrow: str) -> None:
    round_ = rounds["held"]
    heard = HeardSoFar(2.0, {}, {}, readings(round_, 0, lambda _: cents, 2.0), 0.0)
    assert all(line.rstrip() in told(lane(round_, heard)) for line in figure_rows(arrow))


def test_three_cents_move_the_line_and_sharp_is_above_flat(rounds: dict[str, Round]) -> None:
    def height(cents: float) -> float:
        rows = lane(rounds["held"], HeardSoFar(2.0, {30: cents}))
        row, mark = next((y, r.text[30]) for y, r in enumerate(rows) if r.text[30] not in " ┄")
        return row + {"▀": 0.25, "━": 0.5, "▄": 0.75}[mark]

    heights = [height(cents) for cents in (15, 12, 9, 6, 3, 0, -3, -6, -9, -12, -15)]
    assert heights == sorted(set(heights))


BEFORE_HEIGHTS = {"⠉": 1 / 8, "─": 1 / 2, "⣀": 7 / 8}
"""Down their cell: the middles of the dots, and of the line."""


@pytest.mark.parametrize(("name", "sharp"), [("colour", (9.0, 6.0, 3.0)), ("run", (28.0, 18.0))])
def test_the_last_time_lies_beneath_today_where_it_was_judged(
    rounds: dict[str, Round], name: str, sharp: tuple[float, ...]
) -> None:
    """Sharp above flat, told from today's by its sign alone, and never over it."""
    round_ = rounds[name]
    system = first_system(round_)
    first, second = (range(system.column(note.beat) + 1, 70) for note in round_.notes[:2])

    def dashes(rows: Sequence[Row]) -> dict[int, float]:
        return {
            x: y + BEFORE_HEIGHTS[row.text[x]]
            for y, row in enumerate(rows)
            for x in range(70)
            if row.text[x] in BEFORE_HEIGHTS
        }

    def drawn(*cents: float | None) -> tuple[Row, ...]:
        before = mean_trail(system, dict(enumerate(cents)))
        return lane(round_, HeardSoFar(2.0, {first[1]: sharp[0]}, before=before))

    heights = [
        dashes(drawn(cents))[first[0]]
        for cents in (*sharp, 0.0, *(-cents for cents in reversed(sharp)))
    ]
    assert heights == sorted(set(heights))
    sharpest = dashes(drawn(sharp[0]))
    assert first[1] not in sharpest, "today's lies over it"
    assert second[0] not in sharpest, "one note alone"
    assert second[0] in dashes(drawn(None, 3.0))
    assert first[0] not in dashes(drawn(None, 3.0))
    assert any(row.text.startswith("before") for row in drawn(3.0))
    for nothing in (drawn(), drawn(None, None), drawn(70.0)):
        assert nothing == drawn()
        assert not dashes(nothing)
        assert "before" not in told(nothing)


def test_after_a_round_the_last_time_shows_where_it_was_another(rounds: dict[str, Round]) -> None:
    round_ = rounds["run"]
    notes = (HeardNote(n.index, n.pitch, State.PLAYED, midi=60.0, cents=0.0) for n in round_.notes)
    written = Written(
        round_,
        Take(48000, 440.0, 0.0, tuple(notes)),
        [None] * len(round_.notes),
        care=frozenset(),
        unsure=frozenset(),
        last_note_cents=(28.0, 0.0, *[None] * (len(round_.notes) - 2)),
    )
    rows = written_rows(written, WIDTH, HEIGHT * 4)
    signs = {text for row in rows for text, ink in row.runs() if ink is Ink.QUIET}
    assert "before" in signs
    assert {sign[0] for sign in signs} & set(BEFORE_HEIGHTS) == {"⣀"}
    unknown = written_rows(replace(written, last_note_cents=()), WIDTH, HEIGHT * 4)
    assert "before" not in told(unknown)


def test_beats_stand_under_the_music_only_where_a_time_is_told(rounds: dict[str, Round]) -> None:
    round_ = rounds["run"]
    played = [HeardNote(n.index, n.pitch, State.PLAYED, midi=60.0, cents=0.0) for n in round_.notes]
    missed = [replace(played[0], state=State.MISSED), *played[1:]]
    unjudged = [None] * len(round_.notes)

    def labels(heard: Sequence[HeardNote], off_beat_ms: Sequence[float | None]) -> set[str]:
        take = Take(48000, 440.0, 0.0, tuple(heard))
        written = Written(round_, take, off_beat_ms, care=frozenset(), unsure=frozenset())
        rows = written_rows(written, WIDTH, HEIGHT * 4)
        return {row.text.split()[0] for row in rows if row.text.strip()}

    assert "time" not in labels(played, unjudged)
    assert "time" in labels(played, [0.0, *unjudged[1:]])
    assert "time" in labels(missed, unjudged)


@pytest.mark.parametrize("height", [16, 17])
def test_what_was_heard_goes_before_more_of_the_music(
    rounds: dict[str, Round], height: int
) -> None:
    """Where no time is told the trail says it, however little room there is."""
    round_ = rounds["held"]
    notes = (HeardNote(n.index, n.pitch, State.PLAYED, midi=60.0, cents=0.0) for n in round_.notes)
    take = Take(48000, 440.0, 0.0, tuple(notes))
    unjudged = [None] * len(round_.notes)
    written = Written(round_, take, unjudged, care=frozenset(), unsure=frozenset())
    rows = written_rows(written, 60, height)
    assert any(ink is Ink.TRUE for row in rows for _, ink in row.runs())


@pytest.mark.parametrize("name", ["run", "breath"])
def test_a_short_note_has_no_figure(rounds: dict[str, Round], name: str) -> None:
    round_ = replace(rounds[name], kind=RoundKind.TECHNIQUE)
    heard = HeardSoFar(0.2, {}, {}, readings(round_, 0, lambda _: 7.0, 0.2), 0.0)
    assert not dots(lane(round_, heard), [Ink.WORDS])


# Vibrato


@pytest.mark.parametrize("per_beat", [2, 3, 4])
def test_the_wave_has_as_many_crests_as_were_played_and_the_ticks_those_asked(
    rounds: dict[str, Round], per_beat: int
) -> None:
    round_ = rounds["pulses"]

    def wave(beat: float) -> float:
        return 12 * math.cos(2 * math.pi * per_beat * beat)

    played = readings(round_, 0, wave, 1.999)
    rows = lane(round_, HeardSoFar(1.999, {}, {}, played, 0.0))
    assert sum(row.text.count("╷") for row in rows) == 2 * 3
    body = dots(rows, [Ink.TRUE])
    top = {x: min(y for place, y in body if place == x) for x in {x for x, _ in body}}
    middle = (min(top.values()) + max(y for _, y in body if y < 2 * 7)) / 2
    above = [top[x] < middle for x in sorted(top)]
    crests = sum(now and not before for before, now in zip([False, *above], above, strict=False))
    assert crests == 2 * per_beat + 1  # the first and the last are half ones


def test_after_the_round_the_pulses_heard_are_told_beside_those_asked(
    rounds: dict[str, Round],
) -> None:
    round_ = rounds["pulses"]
    played = readings(round_, 0, lambda beat: 10 * math.sin(2 * math.pi * 2.6 * beat), 8.0)
    rows = wave_rows(round_, played, 0.0, {0: 2.6}, NoteNames(), WIDTH, 20)
    assert "asked 3 a beat   heard 2.6" in rows[0].text
    assert dots(rows, [Ink.TRUE])
    assert not dots(wave_rows(round_, (), 0.0, {0: 2.6}, NoteNames(), WIDTH, 20), [Ink.TRUE])


# Swells


def test_the_body_is_as_thick_as_the_note_is_loud_a_decibel_a_half_row(
    rounds: dict[str, Round],
) -> None:
    round_ = rounds["swell"]
    first = first_system(round_).left + 1
    level_db = {first + column: -30.0 + max(0, column - 4) for column in range(16)}
    rows = lane(round_, HeardSoFar(2.0, {}, level_db))
    body = dots(rows, [Ink.TRUE])
    thick = [sum(x == 2 * column for x, _ in body) for column in level_db]
    assert thick[4:14] == list(range(1, 11))


def test_pitch_that_rises_with_the_level_rises_from_soft_to_loud(rounds: dict[str, Round]) -> None:
    round_ = rounds["swell"]
    played = [
        replace(one, level_db=-30 + 10 * place / 1600, cents=-12 + 24 * place / 1600)
        for place, one in enumerate(readings(round_, 0, lambda _: 0.0, 8.0))
    ]
    heard = HeardNote(0, round_.notes[0].pitch, State.PLAYED, onset_s=0.0, end_s=8.0)
    take = Take(48_000, 440.0, 0.0, (heard,))
    rows = bend_rows(round_, take, played, NoteNames(), WIDTH, frozenset({0}))
    places = sorted(
        (x, y)
        for y, row in enumerate(rows)
        for x, (mark, ink) in enumerate(zip(row.text, row.inks, strict=True))
        if ink in (Ink.TRUE, Ink.OFF) and mark != " "
    )
    heights = [y for _, y in places]
    assert heights == sorted(heights, reverse=True)
    assert heights[0] - heights[-1] >= 3
    still = [replace(one, level_db=-20.0) for one in played]
    assert not bend_rows(round_, take, still, NoteNames(), WIDTH, frozenset())


# Trills, breath, turns, settling


@pytest.mark.parametrize("share", [0.8, 1.0, 1.25])
def test_the_heard_bar_is_longer_by_as_much_as_the_trill_is_faster(
    rounds: dict[str, Round], share: float
) -> None:
    round_ = rounds["fingers"]
    short = [note for note in round_.notes if note.length < 1][:6]
    beat_ms = 1000 * round_.beat_s
    answers = tuple(
        LiveNote(note.index, 60.0, 0.0, float(note.beat) * (1 / share - 1) * beat_ms)
        for note in short
    )
    rows = lane(round_, HeardSoFar(float(short[-1].beat), answers=answers))
    asked, heard = (row.text.count(mark) for row, mark in zip(rows[:2], "▀█", strict=True))
    assert heard == pytest.approx(asked * share, abs=1)
    assert "█" not in told(lane(round_, HeardSoFar(1.0)))


def test_the_breath_runs_out_to_its_mark(rounds: dict[str, Round]) -> None:
    round_ = rounds["breath"]
    assert phrase_at(round_, 1.5) == (0, 6)
    assert phrase_at(round_, 6.0) == (6, 12)
    left = [
        sum(row.text.count("━") for row in lane(round_, HeardSoFar(beat))) for beat in (0, 1, 3, 5)
    ]
    assert left == sorted(set(left), reverse=True)
    assert all(line.rstrip() in told(lane(round_, HeardSoFar(1.5))) for line in figure_rows("5"))


def test_the_partners_bars_have_the_marker_and_count_down_to_the_students(
    rounds: dict[str, Round],
) -> None:
    round_ = rounds["answers"]
    others = {note.index for note in round_.partner_notes}
    assert note_due(round_, 1.2) in others
    assert note_due(round_, float(round_.notes[0].beat)) == round_.notes[0].index
    before = lane(round_, HeardSoFar(1.2))
    assert "the partner plays" in told(before)
    assert all(line.rstrip() in told(before) for line in figure_rows("3"))
    assert "your turn" in told(lane(round_, HeardSoFar(4.2)))


def test_a_settling_note_says_what_it_needs_and_how_long_it_stood(
    rounds: dict[str, Round],
) -> None:
    round_ = rounds["settle"]
    low = lane(round_, HeardSoFar(0.0, standing=Standing(0, Ask.HIGHER, -14.0, 0.0)))
    assert "▲ a little higher" in told(low)
    assert all(line.rstrip() in told(low) for line in figure_rows("−14"))
    stands = lane(round_, HeardSoFar(0.0, standing=Standing(0, Ask.HOLD, 2.0, 0.5)))
    assert "stood 0.5 s of 1 s" in told(stands)


# Climb, colours, voicing


def test_the_ladder_stands_at_its_tempo_between_first_and_last() -> None:
    def place(bpm: float) -> int:
        rows = ladder_rows(ClimbShown(60, 84, 66), (60, 63, 66), bpm, WIDTH)
        assert "from 60" in told(rows)
        assert "to 84" in told(rows)
        assert "best so far 66" in told(rows)
        assert told(rows).count("●") == 3
        return rows[3].text.index("◥◤")

    places = [place(bpm) for bpm in (60, 66, 72, 78, 84)]
    steps = [after - before for before, after in pairwise(places)]
    assert max(steps) - min(steps) <= 1
    assert min(steps) > 0


def tuned(round_: Round, cents: Sequence[float], balance_db: float) -> Take:
    return Take(
        48_000,
        440.0,
        0.0,
        tuple(
            HeardNote(
                note.index,
                note.pitch,
                State.PLAYED,
                cents=each,
                tone=Tone(balance_db, -30.0, 1.5),
            )
            for note, each in zip(round_.notes, cents, strict=False)
        ),
    )


def test_two_colours_stand_side_by_side_and_the_brighter_is_longer(
    rounds: dict[str, Round],
) -> None:
    round_ = replace(rounds["colour"])
    other = OtherColour("bright", (8.0, 8.0, 8.0), (-6.0, -6.0, None))
    rows = colour_rows(round_, tuned(round_, (-2, -2, -2), -16.0), other, WIDTH)
    (before,) = [row.text for row in rows if "bright" in row.text]
    (now,) = [row.text for row in rows if "dark" in row.text]
    assert before.count("█") - now.count("█") == 10
    assert before.index("●") - now.index("●") == 5
    assert before.rstrip().endswith("+8")
    assert "bright" not in told(colour_rows(round_, tuned(round_, (0, 0, 0), -16), None, WIDTH))


def test_octaves_of_a_name_stand_level_when_they_are_in_tune(rounds: dict[str, Round]) -> None:
    round_ = rounds["names"]
    wide = {4: 0.0, 5: 5.0, 6: 10.0}
    for by_octave, rows_used in ((wide, 3), (dict.fromkeys(wide, 0.0), 1)):
        take = tuned(round_, [by_octave[note.pitch.octave] for note in round_.notes], -10.0)
        rows = octave_rows(round_, take, NoteNames(), WIDTH, frozenset())
        x = next(row.text.index("1") for row in rows[:7] if "1" in row.text[10:])
        used = {y for y, row in enumerate(rows[:7]) if any(c in "123" for c in row.text[x : x + 5])}
        assert len(used) == rows_used
        assert "1 is the lowest octave, 3 the highest." in told(rows)


def test_octaves_off_are_marked_only_where_something_was_said_of_them(
    rounds: dict[str, Round],
) -> None:
    round_ = rounds["names"]
    take = tuned(round_, [30.0 for _ in round_.notes], -10.0)
    for spoken_of, inks in ((frozenset(), {Ink.TRUE}), (frozenset({0}), {Ink.TRUE, Ink.OFF})):
        rows = octave_rows(round_, take, NoteNames(), WIDTH, spoken_of)
        signs = [(row, x) for row in rows[:7] for x in range(10, WIDTH) if row.text[x] in "123"]
        assert {row.inks[x] for row, x in signs} == inks


def test_a_note_held_over_from_the_system_before_keeps_its_figure(
    rounds: dict[str, Round],
) -> None:
    round_ = rounds["held"]
    system = score(round_, WIDTH, 24, STAND).systems[1]
    assert system.held is not None
    heard = HeardSoFar(beat=5.0, newest=readings(round_, 0, lambda _: 7.0, 5.0))
    rows = face_rows(round_, system, heard, WIDTH, HEIGHT)
    figure = figure_rows("+7")
    assert all(line.rstrip() in row.text for line, row in zip(figure, rows, strict=False))


@pytest.mark.parametrize("name", ["breath", "fingers"])
def test_labels_stay_where_the_staff_is_turned(rounds: dict[str, Round], name: str) -> None:
    round_ = rounds[name]
    system = score(round_, WIDTH, 24).systems[0]
    whole, half = (
        told(face_rows(round_, system, HeardSoFar(turned=turned), WIDTH, 12))
        for turned in (None, system.column(system.end) - 8)
    )
    labels = [line[: system.left].rstrip() for line in whole.splitlines()]
    assert {"sharp", "flat", "time"} & set(labels)
    assert [line[: system.left].rstrip() for line in half.splitlines()] == labels
    assert half.count("┄") < whole.count("┄")


# All of them


@pytest.mark.parametrize("height", [4, 6, 8, 12, 14])
def test_every_face_fills_its_lane_in_plain_signs_and_claims_nothing_unheard(
    rounds: dict[str, Round], height: int
) -> None:
    for name, round_ in rounds.items():
        standing = None if round_.in_time else Standing(0, Ask.BEGIN, None, 0.0)
        for beat in (0.0, 1.5, float(round_.beats) - Fraction(1, 4)):
            rows = lane(round_, HeardSoFar(float(beat), standing=standing), height)
            assert len(rows) == height, name
            assert {len(row.text) for row in rows} == {WIDTH}, name
            assert all("?" not in plain(row.text) for row in rows), name
            own = {Ink.TRUE, Ink.OFF} if round_.kind is not RoundKind.BREATH else {Ink.OFF}
            inked = [row for row in rows if own & set(row.inks)]
            assert not inked or standing is not None, name
