"""Time and key that change inside a passage: written, counted, drawn, exported, brought home."""

from __future__ import annotations

from fractions import Fraction
from io import BytesIO
from pathlib import Path
from time import process_time

import mido
import music21
import pytest

from tests.score.passages import DAY, planned
from trainer.coach.judge import judge
from trainer.ear.heard import HeardNote, State, Take
from trainer.music.bars import Bars, Meter, SignatureChange
from trainer.music.instrument import instrument_named
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.round import Round
from trainer.score.engraving import stacked
from trainer.score.excerpt import excerpt, part_named, read_score
from trainer.score.exercise import checked, routine_text
from trainer.score.midi_out import midi
from trainer.score.musicxml_out import musicxml
from trainer.score.sections import music_of
from trainer.score.symbols import written_bars
from trainer.score.timetable import notes_in_lines
from trainer.screens.drawing.preview_pages import preview_pages
from trainer.screens.drawing.round_layout import score
from trainer.screens.drawing.scale import COMPACT, PIXELS, STAND
from trainer.screens.drawing.staff_items import StaffSign
from trainer.session.accompaniment import clicks
from trainer.sound.click import Tap, click

FLUTE = instrument_named("C flute")
RATE = 8000
NOTES = (
    "quarter G4 A4 B4 C5 | [time 3/4] D5 trill E5 F#5 | [key Eb] Eb5 D5 C5 | "
    "[time 6/8] [key C] eighth C5 D5 E5 F5 E5 D5 | dotted half C5 | "
    "[key A] [time 2/4] quarter C#5 E5 | half A5"
)
CHANGES = [(4, "3/4", "G major"), (7, "3/4", "E flat major"), (10, "6/8", "C major"),
           (16, "2/4", "A major")]  # fmt: skip


def rounds_of(notes: str = NOTES, more: str = "") -> tuple[Round, ...]:
    return planned(notes, more)[0].rounds


def changes_of(round_: Round) -> list[tuple[Fraction, str, str]]:
    return [(one.beat, str(one.meter), str(one.key)) for one in round_.changes]


def accents_s(round_: Round) -> list[float]:
    """When the click's loudest tap sounds, from the first beat."""
    loud = click(Tap.ACCENT, RATE)
    track = clicks(round_, 0, 0, RATE)
    return [frame / RATE for frame, sound in track if sound.tobytes() == loud.tobytes()]


def test_bars_are_counted_through_changes() -> None:
    """By hand: two bars of 4/4, one of 6/8 (three quarters), then 5/8."""
    bars = Bars(Meter(4), None, (
        SignatureChange(Fraction(8), Meter(2, Fraction(3, 2)), None),
        SignatureChange(Fraction(11), Meter(5, Fraction(1, 2)), None),
    ))  # fmt: skip
    found = [(bar.number, bar.begins, bar.ends, bar.beat) for bar in bars.until(Fraction(14))]
    assert found == [
        (0, 0, 4, 1), (1, 4, 8, 1), (2, 8, 11, Fraction(3, 2)),
        (3, 11, Fraction(27, 2), Fraction(1, 2)), (4, Fraction(27, 2), 16, Fraction(1, 2)),
    ]  # fmt: skip
    assert (bars.at(-1).number, bars.at(-1).begins) == (-1, -4)
    assert bars.beat_ends(Fraction(37, 4)) == Fraction(19, 2)
    moved = bars.rearranged([(Fraction(8), Fraction(11), Fraction(0))])
    assert [(one.beat, str(one.meter)) for one in moved.changes] == [(0, "6/8")]


def test_the_notation_says_them_there_and_back() -> None:
    round_ = rounds_of()[0]
    assert changes_of(round_) == CHANGES
    assert [str(one) for one in round_.notes[5].neighbours] == ["F#5", "D5"]
    again = rounds_of(notes_in_lines(round_).replace("\n", " "))[0]
    assert (again.notes, again.changes) == (round_.notes, round_.changes)


@pytest.mark.parametrize(
    ("notes", "changes"),
    [
        ("|: whole G4 | [time 3/4] dotted half A4 :| B4",
         [(4, "3/4"), (7, "4/4"), (11, "3/4")]),
        ("whole G4 fine | [2/4] half A4 | B4 D.C.", [(4, "2/4"), (8, "4/4")]),
        ("upbeat quarter D4 | [time 2/4] half G4 | quarter A4 D.C.",
         [(4, "2/4")]),
        ("whole G4 | key D time 3/4 dotted half A4 |", [(4, "3/4")]),
    ],
)  # fmt: skip
def test_a_way_back_goes_back_to_its_signatures(notes: str, changes) -> None:
    round_ = rounds_of(notes)[0]
    found = [(one.beat, str(one.meter)) for one in round_.changes]
    assert found == changes
    assert all(bar.symbols for bar in written_bars(round_))


def test_the_click_follows_the_bars() -> None:
    """At 60 a quarter is a second: accents at each bar line, two clicks in 6/8, none between."""
    round_ = rounds_of()[0]
    assert accents_s(round_) == [0, 4, 7, 10, 13, 16, 18]
    inside = [frame / RATE for frame, _ in clicks(round_, 0, 0, RATE) if 10 <= frame / RATE < 16]
    assert inside == [10, 11.5, 13, 14.5]


def test_the_partner_that_leads_is_clicked_in_the_same_bars() -> None:
    round_ = rounds_of(more="  partner: plays it first\n")[0]
    assert round_.call_beats == 20
    loud = click(Tap.ACCENT, RATE).tobytes()
    track = clicks(round_, 24 * RATE, round_.lead_in_beats, RATE)
    accents = [frame / RATE for frame, sound in track if sound.tobytes() == loud]
    own = [0, 4, 7, 10, 13, 16, 18]
    assert accents == [0, *(4 + at for at in own), *(24 + at for at in own)]


def test_a_part_begins_in_its_own_time_and_key() -> None:
    """The last bars from 6/8 on: counted in dotted quarters at two thirds of the tempo."""
    parts = rounds_of(more="  practise: backwards\n")
    from_six = parts[3]
    assert (str(from_six.meter), str(from_six.key)) == ("6/8", "C major")
    assert (from_six.tempo_bpm, from_six.count_in_beats) == (40, 4)
    assert [note.beat for note in from_six.notes[:4]] == [0, Fraction(1, 3), Fraction(2, 3), 1]
    assert changes_of(from_six) == [(4, "2/4", "A major")]
    assert from_six.seconds == pytest.approx(10)
    looped = rounds_of(more="  practise: loop bars 3 to 4 twice\n")[0]
    assert (str(looped.meter), str(looped.key)) == ("3/4", "E flat major")
    assert changes_of(looped) == [(3, "6/8", "C major"), (6, "3/4", "E flat major"),
                                  (9, "6/8", "C major")]  # fmt: skip
    each = rounds_of(more="  practise: each bar twice\n")[0]
    assert accents_s(each) == [0, 4, 8, 11, 14, 17, 20, 23, 26, 29, 32, 34, 36, 38]
    calls = rounds_of(more="  partner: call and answer\n")[0]
    assert accents_s(calls) == accents_s(each)


def test_places_within_the_beat_are_those_of_the_bar() -> None:
    """Three eighths to the beat in 6/8, although the passage began in quarters."""
    round_ = rounds_of("eighth G4 A4 | [6/8] B4 C5 D5 B4 C5 D5", "  time: 1/4\n")[0]
    marks = judge(round_, Take(RATE, 440.0, 0.0, ())).notes
    assert [mark.group_place for mark in marks] == [0, 1, 0, 1, 2, 0, 1, 2]


def test_a_wrong_note_is_spelled_by_the_key_that_holds() -> None:
    """The same sounds in place of the same B: read as sharps in G, as flats in E flat, also behind
    a change of tempo; where the music has a name for it, by that."""
    round_ = rounds_of(
        "quarter G4 B4 B4 B4 | [key Eb] [tempo 120] quarter G4 B4 B4 Gb4 | B4 G4 B4 B4"
    )[0]
    wrong = {1: 70, 2: 63, 5: 70, 6: 63, 8: 66, 11: 66}
    heard = (HeardNote(note.index, note.pitch, State.MISSED) for note in round_.notes)
    instead = (
        HeardNote(None, None, State.EXTRA, midi=float(midi), instead_of=index)
        for index, midi in wrong.items()
    )
    marks = judge(round_, Take(RATE, 440.0, 0.0, (*heard, *instead))).notes
    assert [str(marks[index].wrong) for index in wrong] == [
        "A#4", "D#4", "Bb4", "Eb4", "Gb4", "Gb4"]  # fmt: skip


def test_musicxml_there_and_back(tmp_path) -> None:
    """music21 finds the signatures at the same quarters; our import writes the same notes."""
    file = tmp_path / "t.musicxml"
    file.write_bytes(musicxml("T", music_of(planned(NOTES)), FLUTE))
    flat = music21.converter.parse(file).flatten()
    times = flat.getElementsByClass(music21.meter.TimeSignature)
    assert [(one.offset, one.ratioString) for one in times] == [
        (0, "4/4"), (4, "3/4"), (10, "6/8"), (16, "2/4")]  # fmt: skip
    keys = flat.getElementsByClass(music21.key.KeySignature)
    assert [(one.offset, one.sharps) for one in keys] == [(0, 1), (7, -3), (10, 0), (16, 3)]
    found = read_score(file)
    text = routine_text([excerpt(found, found.parts[0])], "x", "t.musicxml")
    routine, problems = read_routine(text, "x")
    assert routine is not None, problems
    assert "# The" not in text
    round_ = plan(routine, DAY, 0)[0].rounds[0]
    assert (round_.notes, round_.changes) == (rounds_of()[0].notes, rounds_of()[0].changes)


def test_midi_has_them_at_their_quarters() -> None:
    """mido's messages, in ticks of its own file."""
    file = mido.MidiFile(file=BytesIO(midi("T", music_of(planned(NOTES)), FLUTE)))
    now, found = 0, []
    for message in file.tracks[0]:
        now += message.time
        quarters = now / file.ticks_per_beat
        if message.type == "time_signature":
            found.append((quarters, f"{message.numerator}/{message.denominator}"))
        if message.type == "key_signature":
            found.append((quarters, message.key))
    assert found == [(0, "4/4"), (0, "G"), (4, "3/4"), (7, "Eb"), (10, "6/8"), (10, "C"),
                     (16, "2/4"), (16, "A")]  # fmt: skip


def test_abc_keeps_them(tmp_path) -> None:
    """ABC 2.1, 3.2: fields inside a tune, in square brackets or on a line of their own."""
    file = tmp_path / "t.abc"
    file.write_text(
        "X:1\nT:t\nM:4/4\nL:1/4\nK:G\nGABc|[M:3/4]def|\nK:Dm\nd2A|[M:6/8][K:C]c3/2e3/2|\n"
    )
    found = read_score(file)
    passage = checked(routine_text([excerpt(found, found.parts[0])], "x", "t.abc"))
    assert passage is not None
    assert [(one.beat, str(one.meter), str(one.key)) for one in passage.changes] == [
        (4, "3/4", "G major"), (7, "3/4", "D minor"), (10, "6/8", "C major")]  # fmt: skip


@pytest.mark.parametrize("scale", [COMPACT, STAND, PIXELS], ids=["small", "large", "pixels"])
@pytest.mark.parametrize("width", [64, 80, 120, 200])
def test_every_system_shows_what_holds(scale, width) -> None:
    """Signs and figures in order: the new ones where they change, naturals only before none."""
    layout = score(rounds_of()[0], width, 40, scale)
    assert layout.is_whole(40)
    shown: list[str] = []
    for place, system in enumerate(layout.systems):
        items = layout.items(place)
        of_key = (StaffSign.SHARP, StaffSign.FLAT, StaffSign.NATURAL)
        signs = [
            (sign.x, sign.sign.name)
            for sign in items.signs
            if sign.sign in of_key and not sign.right_aligned
        ]
        figures = [(one.x, one.text) for one in items.figures]
        shown += [f"{name}" for _, name in sorted([*signs, *figures])]
        lines = [line.x for line in items.bar_lines]
        assert len(set(lines)) == len(lines)
        assert all(line <= system.right / scale.columns_a_space for line in lines)
    once = [name for place, name in enumerate(shown) if place == 0 or name != shown[place - 1]]
    kinds = dict.fromkeys(shown)
    assert {"SHARP", "FLAT", "NATURAL", "4", "3", "6", "8", "2"} == set(kinds), once
    assert shown.count("NATURAL") == 3


def test_cells_say_it_in_order() -> None:
    rows = [row.text for page in preview_pages(rounds_of()[0], 120, 24) for row in page]
    figures = [sign for row in rows for sign in row if sign.isdigit()]
    assert figures == list("4364486284")


def test_the_sheet_engraves_it() -> None:
    pytest.importorskip("verovio")
    svg = stacked(rounds_of(), FLUTE)
    assert svg.count('class="meterSig"') >= 4
    assert svg.count('class="keySig"') >= 4


def test_short_bars_beside_a_change_have_a_time_of_their_own(tmp_path) -> None:
    """By hand: 4/4 with a bar of three quarters, then 3/8 with an upbeat. Nothing is lost or moved,
    and bar lines stand where they are printed."""
    bars = [("4/4", 8), ("", 6), ("3/8", 1), ("", 3), ("", 3)]
    measures = ""
    for number, (time, length) in enumerate(bars, start=1):
        beats, _, unit = time.partition("/")
        sign = f"<time><beats>{beats}</beats><beat-type>{unit}</beat-type></time>" if time else ""
        measures += (
            f'<measure number="{number}"><attributes><divisions>2</divisions>{sign}</attributes>'
            f"<note><pitch><step>A</step><octave>4</octave></pitch><duration>{length}</duration>"
            "</note></measure>"
        )
    file = tmp_path / "short.musicxml"
    file.write_text(
        '<score-partwise><part-list><score-part id="P1"><part-name>Flute</part-name></score-part>'
        f'</part-list><part id="P1">{measures}</part></score-partwise>'
    )
    found = read_score(file)
    one = excerpt(found, found.parts[0])
    assert not any("changes in" in remark for remark in one.remarks)
    passage = checked(routine_text([one], "x", "short.musicxml"))
    assert passage is not None
    assert [(change.beat, str(change.meter)) for change in passage.changes] == [
        (4, "3/4"), (7, "1/8"), (7.5, "3/8")]  # fmt: skip
    assert [(note.beat, note.length) for note in passage.notes] == [
        (0, 4), (4, 3), (7, 0.5), (7.5, 1.5), (9, 1.5)]  # fmt: skip


def test_a_change_in_every_bar_is_read_and_kept() -> None:
    bars = ("quarter G4 A4", "quarter G4 A4 B4")
    notes = " | ".join(f"[time {2 + n % 2}/4] {bars[n % 2]}" for n in range(300))
    round_ = rounds_of(notes)[0]
    assert len(round_.changes) == 300, "the first is no common time"
    again = round_.bars.rearranged([(Fraction(0), round_.beats, Fraction(0))])
    assert again.changes == round_.bars.changes


def test_as_many_changes_as_notes_allow_are_cut_out_at_once(tmp_path: Path) -> None:
    """Found by fuzzing: 5 kB of ABC took minutes; this took five seconds of processor time."""
    file = tmp_path / "changing.abc"
    file.write_text("X:1\nM:2/4\nL:1/4\nK:C\n" + "[M:2/4]GA|[M:3/4]GAB|\n" * 400)
    score = read_score(file)
    began_s = process_time()
    cut = excerpt(score, part_named(score, "1"))
    assert process_time() - began_s < 2.5
    assert len(cut.changes) == 799
