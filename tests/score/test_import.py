"""Scores made by music21, partitura, mido and pretty_midi, read by us and compared note by note."""

from fractions import Fraction

import music21
import pytest

from tests.score import tunes
from tests.sweeps import mostly_slow
from trainer.music.note import Ornament
from trainer.routine.load import read_routine
from trainer.score.excerpt import Excerpt, excerpt, part_named, read_score, sections_of
from trainer.score.exercise import checked, exercise_text, routine_text

SEEDS = range(24)
pytestmark = pytest.mark.filterwarnings("ignore")


def brought_in(path, bars=None, instrument=None) -> Excerpt:
    score = read_score(path)
    return excerpt(score, part_named(score, None), bars, instrument)


def compare(found: Excerpt, tune: tunes.Tune, *, slurs: bool = True, spelling: bool = True):
    expected = tune.sounding
    assert len(found.notes) == len(expected)
    for ours, theirs in zip(found.notes, expected, strict=True):
        where = f"at {theirs.onset}"
        if spelling:
            assert ours.pitch == theirs.pitch, where
        assert ours.pitch.midi == theirs.pitch.midi, where
        assert (ours.beat, ours.length) == (theirs.onset, theirs.length), where
        if slurs:
            assert ours.slurred_from_last == theirs.slurred_from_last, where
    assert found.time == tune.meter
    assert found.quarters_bpm == pytest.approx(tune.tempo_bpm, abs=0.1)


def reads_back(found: Excerpt):
    """What is printed loads as a routine with the very same notes, in beats of its meter."""
    passage = checked(routine_text([found], None, "a score"))
    if passage is None:
        return
    beat = passage.meter.beat_quarters
    assert [
        (n.pitch, n.beat * beat, n.length * beat, n.slurred_from_last, n.breath_after,
         n.dynamic, n.hairpin, n.mark)
        for n in passage.notes
    ] == [
        (n.pitch, n.beat, n.length, n.slurred_from_last, n.breath_after, n.dynamic, n.hairpin,
         n.mark)
        for n in found.notes
    ]  # fmt: skip


@pytest.mark.parametrize("seed", mostly_slow(SEEDS, 8))
@pytest.mark.parametrize("suffix", [".musicxml", ".mxl"])
def test_music21_scores(seed, suffix, tmp_path):
    tune = tunes.tune(seed)
    found = brought_in(tunes.write_music21(tune, tmp_path / f"tune{suffix}"))
    compare(found, tune)
    assert found.key == tune.key
    assert found.left_out == ()
    reads_back(found)


@pytest.mark.parametrize("seed", SEEDS)
def test_partitura_scores(seed, tmp_path):
    tune = tunes.tune(seed)
    found = brought_in(tunes.write_partitura(tune, tmp_path / "tune.musicxml"))
    compare(found, tune)
    assert found.key == tune.key
    reads_back(found)


@pytest.mark.parametrize("seed", SEEDS)
def test_mido_files(seed, tmp_path):
    tune = tunes.tune(seed)
    found = brought_in(tunes.write_mido(tune, tmp_path / "tune.mid"))
    compare(found, tune, slurs=False, spelling=False)
    assert found.key == tune.key
    reads_back(found)


@pytest.mark.parametrize("seed", SEEDS)
def test_pretty_midi_files(seed, tmp_path):
    tune = tunes.tune(seed)
    found = brought_in(tunes.write_pretty_midi(tune, tmp_path / "tune.mid"))
    compare(found, tune, slurs=False, spelling=False)
    reads_back(found)


@pytest.mark.parametrize("seed", SEEDS)
def test_midi_written_by_music21(seed, tmp_path):
    tune = tunes.tune(seed)
    path = tunes.music21_score(tune).write("midi", tmp_path / "tune.mid")
    compare(brought_in(path), tune, slurs=False, spelling=False)


def test_midi_notes_that_end_a_little_early_keep_their_lengths(tmp_path):
    tune = tunes.tune(3)
    found = brought_in(tunes.write_mido(tune, tmp_path / "tune.mid", gate=0.9))
    assert [(n.beat, n.length) for n in found.notes] == [(n.onset, n.length) for n in tune.sounding]


def test_midi_is_spelled_by_its_key(tmp_path):
    """Notes of the key itself have only one name in it; checked against music21's key objects."""
    for seed in SEEDS:
        tune = tunes.tune(seed)
        names = {
            p.pitchClass: p.name.replace("-", "b") for p in tunes._music21_key(tune.key).pitches
        }
        found = brought_in(tunes.write_mido(tune, tmp_path / "tune.mid"))
        for note in found.notes:
            expected = names.get(note.pitch.midi % 12)
            assert expected is None or note.pitch.name == expected, tune.key


@pytest.mark.parametrize(
    ("instrument", "semitones"),
    [
        (music21.instrument.Piccolo(), 12),
        (music21.instrument.AltoSaxophone(), -9),
        (music21.instrument.Clarinet(), -2),
    ],
    ids=lambda value: type(value).__name__,
)
def test_transposing_parts_keep_written_and_sounding_apart(instrument, semitones, tmp_path):
    tune = tunes.tune(5)
    instrument.transposition = music21.interval.Interval(semitones)
    score = tunes.music21_score(tune, instrument)
    path = score.write("musicxml", tmp_path / "part.musicxml")
    sounding = music21.converter.parse(path).toSoundingPitch().parts[0].stripTies().flatten().notes
    found = brought_in(path)
    assert [n.pitch for n in found.notes] == [n.pitch for n in tune.sounding]
    assert [n.pitch.midi + found.transposition.semitones for n in found.notes] == [
        n.pitch.midi for n in sounding
    ]
    on_flute = brought_in(path, instrument="C flute")
    assert [(n.pitch.name, n.pitch.midi) for n in on_flute.notes] == [
        (n.pitch.name.replace("-", "b"), n.pitch.midi) for n in sounding
    ]


def test_for_alto_flute_written_a_fourth_higher(tmp_path):
    tune = tunes.tune(7)
    path = tunes.write_music21(tune, tmp_path / "tune.musicxml")
    found = brought_in(path, instrument="alto flute")
    assert {
        n.pitch.midi - t.pitch.midi for n, t in zip(found.notes, tune.sounding, strict=True)
    } == {5}
    assert found.instrument == "alto flute"
    assert [n.pitch.midi + found.transposition.semitones for n in found.notes] == [
        t.pitch.midi for t in tune.sounding
    ]


def _stream(*elements, meter="4/4"):
    part = music21.stream.Part()
    part.partName = "Flute"
    part.append(music21.meter.TimeSignature(meter))
    for element in elements:
        part.append(element)
    return part


def _written(part, tmp_path):
    score = music21.stream.Score([part])
    return score.write("musicxml", tmp_path / "part.musicxml")


def test_repeats_are_played_as_music21_plays_them(tmp_path):
    """A first and a second ending, and a plain repeat, against music21's expandRepeats."""
    part = music21.stream.Part()
    part.partName = "Flute"
    for number, name in enumerate(("C5", "D5", "E5", "F5", "G5", "A5", "B5"), start=1):
        measure = music21.stream.Measure(number=number)
        if number == 1:
            measure.append(music21.meter.TimeSignature("4/4"))
        measure.append(music21.note.Note(name, type="whole"))
        part.append(measure)
    measures = list(part.getElementsByClass(music21.stream.Measure))
    measures[1].leftBarline = music21.bar.Repeat(direction="start")
    measures[2].rightBarline = music21.bar.Repeat(direction="end")
    part.insert(0, music21.spanner.RepeatBracket([measures[2]], number=1))
    part.insert(0, music21.spanner.RepeatBracket([measures[3]], number=2))
    measures[4].leftBarline = music21.bar.Repeat(direction="start")
    measures[5].rightBarline = music21.bar.Repeat(direction="end")
    path = _written(part, tmp_path)
    expected = [
        n.nameWithOctave
        for n in music21.converter.parse(path).parts[0].expandRepeats().flatten().notes
    ]
    assert expected == ["C5", "D5", "E5", "D5", "F5", "G5", "A5", "G5", "A5", "B5"]
    found = brought_in(path)
    assert [str(n.pitch) for n in found.notes] == expected
    assert any("written out" in remark for remark in found.remarks)
    once = brought_in(path, bars="2-4")
    assert [str(n.pitch) for n in once.notes] == ["D5", "E5", "F5"]


def test_a_pickup_keeps_its_bar_lines(tmp_path):
    part = music21.stream.Part()
    part.partName = "Flute"
    pickup = music21.stream.Measure(number=0)
    pickup.append(music21.meter.TimeSignature("3/4"))
    pickup.append(music21.note.Note("G4", type="quarter"))
    pickup.paddingLeft = 2.0
    part.append(pickup)
    for number in (1, 2):
        measure = music21.stream.Measure(number=number)
        measure.append(music21.note.Note("C5", quarterLength=3))
        part.append(measure)
    found = brought_in(_written(part, tmp_path))
    assert [(n.beat, n.length) for n in found.notes] == [(2, 1), (3, 3), (6, 3)]
    text = exercise_text(found, None, "x")
    assert "upbeat quarter G4 | dotted half C5 | C5 |" in text


def test_notes_held_over_bar_lines_are_tied_there_and_no_bar_line_is_lost(tmp_path):
    part = _stream(*(music21.note.Note("C5", quarterLength=length) for length in (2, 3, 1, 7, 3)))
    found = brought_in(_written(part, tmp_path))
    assert [n.length for n in found.notes] == [2, 3, 1, 7, 3]
    text = exercise_text(found, None, "x")
    assert "half C5 C5+ | quarter C5 C5 half C5+ | whole C5+ |\n" in text
    assert "quarter C5 dotted half C5 |\n" in text
    reads_back(found)


def test_the_last_note_is_not_lengthened(tmp_path):
    lengths = (3, 2)
    part = _stream(*(music21.note.Note("D6", quarterLength=n) for n in lengths), meter="6/8")
    found = brought_in(_written(part, tmp_path))
    assert "dotted half D6 | half D6 quarter rest |" in exercise_text(found, None, "x")
    reads_back(found)


def test_what_the_notation_can_say_is_kept(tmp_path):
    notes = [music21.note.Note(name, type="quarter") for name in ("C5", "D5", "E5", "F5")]
    notes[0].articulations.append(music21.articulations.Staccato())
    notes[1].articulations.append(music21.articulations.Tenuto())
    notes[2].articulations += [music21.articulations.Accent(), music21.articulations.BreathMark()]
    part = _stream(*notes)
    part.insert(0, music21.dynamics.Dynamic("mp"))
    part.insert(2, music21.dynamics.Dynamic("f"))
    part.insert(0, music21.dynamics.Crescendo(notes[1], notes[2]))
    found = brought_in(_written(part, tmp_path))
    text = exercise_text(found, "marks", "x")
    assert "mp quarter C5. louder D5- f E5>, F5" in text
    reads_back(found)


def signs_written():
    """Two bars with all that a passage may hold over its notes, and a chord."""
    first = [music21.note.Note("C5", type="quarter") for _ in range(4)]
    first[0].expressions.append(music21.expressions.Trill())
    first[1].articulations.append(music21.articulations.Caesura())
    first[2].expressions.append(music21.expressions.Fermata())
    second = [
        music21.note.Note("D5", type="eighth").getGrace(),
        music21.note.Note("E5", type="half"),
        music21.chord.Chord(["C5", "G5"], type="half"),
    ]
    second[1].expressions.append(music21.expressions.Turn())
    return _stream(*first, *second)


def test_graces_ornaments_and_fermatas_are_taken_and_what_cannot_be_is_named(tmp_path):
    found = brought_in(_written(signs_written(), tmp_path))
    assert dict(found.left_out) == {"the lower notes of chords": ("2",)}
    text = exercise_text(found, None, "x")
    assert "trill quarter C5 C5 // fermata C5 C5 |" in text
    assert "turn grace D5 half E5 G5 |" in text
    passage = checked(routine_text([found], None, "x"))
    assert passage is not None
    assert [(n.ornament, n.fermata, len(n.graces)) for n in passage.notes] == [
        (Ornament.TRILL, False, 0), (None, False, 0), (None, True, 0), (None, False, 0),
        (Ornament.TURN, False, 1), (None, False, 0),
    ]  # fmt: skip


def _sectioned(tmp_path):
    """Eight bars: a double bar after the second, a mark at the fifth, a bar of rest, new time."""
    part = music21.stream.Part()
    part.partName = "Flute"
    for number in range(1, 9):
        measure = music21.stream.Measure(number=number)
        if number in (1, 8):
            measure.append(music21.meter.TimeSignature("4/4" if number == 1 else "3/4"))
        if number == 5:
            measure.insert(0, music21.expressions.RehearsalMark("A"))
        length = 3 if number == 8 else 4
        silent = number == 6
        measure.append(
            music21.note.Rest(quarterLength=length)
            if silent
            else music21.note.Note("C5", quarterLength=length)
        )
        if number == 2:
            measure.rightBarline = music21.bar.Barline("double")
        part.append(measure)
    return _written(part, tmp_path)


def test_a_piece_is_parted_where_it_says_so(tmp_path):
    score = read_score(_sectioned(tmp_path))
    found = sections_of(score, part_named(score, None))
    bars = ["bars 1 to 2", "bars 3 to 4", "bar 5", "bars 7 to 8"]
    assert [one.bars for one in found] == bars
    assert [str(change.meter) for one in found for change in one.changes] == ["3/4"]
    some = sections_of(score, part_named(score, None), "2-5")
    assert [one.bars for one in some] == ["bar 2", "bars 3 to 4", "bar 5"]
    assert checked(routine_text(found, "étude", "x")) is not None


def test_a_long_section_is_parted_at_its_breaths(tmp_path):
    notes = [music21.note.Note("C5", quarterLength=4) for _ in range(24)]
    for place in (7, 15):
        notes[place].articulations.append(music21.articulations.BreathMark())
    score = read_score(_written(_stream(*notes), tmp_path))
    found = sections_of(score, part_named(score, None))
    assert [one.bars for one in found] == ["bars 1 to 8", "bars 9 to 16", "bars 17 to 24"]


def test_the_flute_is_found_among_other_parts(tmp_path):
    score = music21.stream.Score()
    for name, pitch in (("Flauto", "C6"), ("Pianoforte", "C4"), ("Pianoforte", "C3")):
        part = music21.stream.Part([music21.note.Note(pitch, type="whole")])
        part.partName = name
        score.insert(0, part)
    read = read_score(score.write("musicxml", tmp_path / "trio.musicxml"))
    assert part_named(read, None).name == "Flauto"


def test_a_da_capo_is_played_as_music21_plays_it(tmp_path):
    part = music21.stream.Part()
    part.partName = "Flute"
    for number, name in enumerate(("C5", "D5", "E5"), start=1):
        measure = music21.stream.Measure(number=number)
        measure.append(music21.note.Note(name, type="whole"))
        part.append(measure)
    measures = list(part.getElementsByClass(music21.stream.Measure))
    measures[1].append(music21.repeat.Fine())
    measures[2].append(music21.repeat.DaCapoAlFine())
    path = _written(part, tmp_path)
    played = part.expandRepeats().flatten().notes
    found = brought_in(path)
    assert [str(n.pitch) for n in found.notes] == [n.nameWithOctave for n in played]
    assert any("written out" in remark for remark in found.remarks)


def test_a_second_voice_is_named_and_left(tmp_path):
    measure = music21.stream.Measure(number=1)
    upper, lower = music21.stream.Voice(id="1"), music21.stream.Voice(id="2")
    upper.append([music21.note.Note("C6", type="half"), music21.note.Note("D6", type="half")])
    lower.append(music21.note.Note("E4", type="whole"))
    measure.insert(0, upper)
    measure.insert(0, lower)
    part = music21.stream.Part([measure])
    found = brought_in(_written(part, tmp_path))
    assert [str(n.pitch) for n in found.notes] == ["C6", "D6"]
    assert dict(found.left_out) == {"other voices": ("1",)}


def test_fives_are_taken(tmp_path):
    part = _stream(
        *(music21.note.Note("C5", quarterLength=1) for _ in range(4)),
        *(music21.note.Note("D5", quarterLength=Fraction(1, 5)) for _ in range(5)),
        *(music21.note.Note("E5", quarterLength=1) for _ in range(3)),
    )
    found = brought_in(_written(part, tmp_path))
    assert "5:4 sixteenth D5 D5 D5 D5 D5 quarter E5" in exercise_text(found, None, "x")
    reads_back(found)


def test_one_part_is_chosen_by_name_or_number(tmp_path):
    score = music21.stream.Score()
    for name, pitch in (("Flute 1", "C5"), ("Flute 2", "A4"), ("Bassoon", "C3")):
        part = music21.stream.Part([music21.note.Note(pitch, type="whole")])
        part.partName = name
        score.insert(0, part)
    read = read_score(score.write("musicxml", tmp_path / "trio.musicxml"))
    for asked, pitch in (("2", "A4"), ("bassoon", "C3"), ("flute 1", "C5")):
        assert str(excerpt(read, part_named(read, asked)).notes[0].pitch) == pitch
    with pytest.raises(Exception, match="1 Flute 1, 2 Flute 2, 3 Bassoon"):
        part_named(read, None)
    with pytest.raises(Exception, match="Several parts are called 'flute'"):
        part_named(read, "flute")


def test_the_exercise_can_be_pasted(tmp_path):
    tune = tunes.tune(11)
    found = brought_in(tunes.write_music21(tune, tmp_path / "tune.musicxml"))
    pasted = "title: Pasted\nexercises:\n" + exercise_text(found, 'my: "tune" #1', "tune.musicxml")
    routine, problems = read_routine(pasted, "pasted")
    if routine is None:
        assert all("is not on the" in problem.what for problem in problems)
    else:
        assert routine.entries[0].id == 'my: "tune" #1'
