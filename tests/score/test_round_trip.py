"""Our exercises out as MusicXML and MIDI, read back by music21, partitura and pretty_midi."""

import io
from datetime import date, timedelta
from fractions import Fraction
from functools import cache
from pathlib import Path

import music21
import partitura
import pretty_midi
import pytest

from tests.sweeps import mostly_slow
from trainer.music.instrument import Instrument, instrument_named
from trainer.music.note import Start
from trainer.music.ornaments import realised
from trainer.routine.load import load_routine, read_routine
from trainer.routine.plan import plan
from trainer.score.excerpt import read_score
from trainer.score.midi_out import midi
from trainer.score.musicxml_out import musicxml
from trainer.score.part import flattened
from trainer.score.sections import Section, sections

SHIPPED = sorted((Path(__file__).parents[2] / "routines").glob("*.yaml"))
pytestmark = pytest.mark.filterwarnings("ignore:::(music21|partitura|pretty_midi|numpy)")
DAYS = tuple(date(2026, 1, 5) + timedelta(days=offset) for offset in (0, 3, 6, 9))
JOINED = (Start.SLURRED, Start.LEGATO_TONGUE)


@cache
def music_of(file: Path, days: tuple[date, ...] = DAYS) -> tuple[Instrument, list[Section]]:
    """What a routine has to play on these days; the same notes are written the same on any day."""
    routine, problems = load_routine(file)
    assert routine is not None, problems
    instrument = instrument_named(routine.instrument)
    every = [section for day in days for section in sections(plan(routine, day, seed=0))]
    different = {musicxml("A day", [section], instrument): section for section in every}
    return instrument, list(different.values())


def quarters(section: Section) -> list[tuple[str, Fraction, Fraction]]:
    """(written pitch, onset, length) of every note of a section, in quarters on paper: what comes
    before an upbeat in its bar is not printed."""
    round_ = section.round
    beat, upbeat = round_.beat_quarters, round_.upbeat_beats
    missing = round_.beats_per_bar - upbeat if upbeat else 0
    return [(str(n.pitch), (n.beat - missing) * beat, n.length * beat) for n in round_.notes]


def joined(section: Section) -> list[bool]:
    notes = section.round.notes
    return [note.index > 0 and note.start in JOINED for note in notes]


def spelled(pitch: music21.pitch.Pitch) -> str:
    return f"{pitch.name.replace('-', 'b')}{pitch.octave}"


@pytest.mark.slow
@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_music21_reads_every_note_and_slur_as_we_wrote_it(file):
    """Written pitch, onset, length and slurs, against music21's own reading of MusicXML."""
    instrument, music = music_of(file)
    for section in music:
        data = musicxml("A day", [section], instrument)
        part = music21.converter.parse(data, format="musicxml").parts[0]
        assert slurred(part) == joined(section), section.title
        read = [
            (spelled(n.pitch), Fraction(n.offset), Fraction(n.duration.quarterLength))
            for n in part.stripTies(matchByPitch=False).flatten().notes  # a natural is drawn once
            if not n.duration.isGrace
        ]
        assert read == quarters(section), section.title
        graces = [spelled(n.pitch) for n in part.flatten().notes if n.duration.isGrace]
        assert graces == [str(pitch) for n in section.round.notes for pitch in n.graces]


@pytest.mark.slow
@pytest.mark.parametrize("file", SHIPPED, ids=lambda file: file.stem)
def test_music21_hears_what_the_partner_plays(file):
    """Sounding pitch, place and length of each note of the partner's, ornaments and all, against
    music21's reading of our MIDI file."""
    instrument, music = music_of(file, DAYS[:1])
    for section in music:
        round_ = section.round
        sounding = [note.at(instrument.sounding) for note in round_.notes]
        beat = round_.beat_quarters
        played = [
            (n.pitch.midi, n.beat * beat, n.length * beat)
            for n in realised(sounding, round_.beat_s).notes
        ]
        read = music21.converter.parse(
            midi("A day", [section], instrument), format="midi", quantizePost=False
        )
        heard = [
            (n.pitch.midi, float(n.offset), float(n.quarterLength))
            for n in read.parts[0].stripTies().flatten().notes
        ]
        assert len(heard) == len(played), section.title
        for ours, theirs in zip(played, heard, strict=True):
            assert theirs == pytest.approx([float(one) for one in ours], abs=2e-3), section.title


def slurred(part) -> list[bool]:
    """Whether each note is slurred from the one before, tied notes as one."""
    order = [
        note.id
        for note in part.recurse().notes
        if not _tied_back(note) and not note.duration.isGrace
    ]
    found = [False] * len(order)
    for slur in part.recurse().getElementsByClass(music21.spanner.Slur):
        ends = [order.index(n.id) if n.id in order else None for n in slur]
        first, last = ends[0], ends[-1]
        if last is None:
            last = order.index(_first_of_tie(part, slur.getLast()).id)
        found[first + 1 : last + 1] = [True] * (last - first)
    return found


def _tied_back(note: music21.note.Note) -> bool:
    return note.tie is not None and note.tie.type in ("stop", "continue")


def _first_of_tie(part, note):
    notes = list(part.recurse().notes)
    place = next(index for index, one in enumerate(notes) if one.id == note.id)
    while _tied_back(notes[place]):
        place -= 1
    return notes[place]


def partitura_notes(part) -> list[tuple[str, Fraction, Fraction]]:
    """(written pitch, onset, length) as partitura has them, tied notes as one."""
    quarter = int(part.quarter_duration_map(0))
    signs = {None: "", 0: "", 1: "#", 2: "##", -1: "b", -2: "bb"}
    return [
        (
            f"{note.step}{signs[note.alter]}{note.octave}",
            Fraction(int(note.start.t), quarter),
            Fraction(int(note.duration_tied), quarter),
        )
        for note in part.notes_tied
        if not isinstance(note, partitura.score.GraceNote)
    ]


@pytest.mark.parametrize("file", mostly_slow(SHIPPED, 7), ids=lambda file: file.stem)
def test_partitura_reads_every_note_as_we_wrote_it(file, tmp_path):
    instrument, music = music_of(file, DAYS[:1])
    for section in music:
        path = tmp_path / "out.musicxml"
        path.write_bytes(musicxml("A day", [section], instrument))
        read = partitura_notes(partitura.load_musicxml(path)[0])
        assert read == quarters(section), section.title


@pytest.mark.parametrize("file", mostly_slow(SHIPPED, 7), ids=lambda file: file.stem)
def test_pretty_midi_hears_what_sounds(file):
    """Sounding pitch, onset and length in seconds, against pretty_midi's reading of MIDI."""
    instrument, music = music_of(file)
    for section in music:
        read = pretty_midi.PrettyMIDI(io.BytesIO(midi("A day", [section], instrument)))
        notes = sorted(read.instruments[0].notes, key=lambda note: note.start)
        expected = realised(section.round.notes, section.round.beat_s).notes
        assert [n.pitch for n in notes] == [instrument.sounding(n.pitch).midi for n in expected]
        beat_s = section.round.beat_s
        for note, ours in zip(notes, expected, strict=True):
            assert note.start == pytest.approx(float(ours.beat) * beat_s, abs=2e-3)
            assert note.end == pytest.approx(float(ours.beat + ours.length) * beat_s, abs=2e-3)


@pytest.mark.parametrize("file", mostly_slow(SHIPPED, 7), ids=lambda file: file.stem)
def test_we_read_our_own_musicxml(file, tmp_path):
    """There and back: the reader and the writer share no code for lengths, ties and slurs."""
    instrument, music = music_of(file, DAYS[1:2])
    for section in music:
        path = tmp_path / "own.musicxml"
        path.write_bytes(musicxml("A day", [section], instrument))
        score = read_score(path)
        bars = score.parts[0].bars
        flat = [note for _, note in flattened(bars)]
        assert [(str(n.pitch), n.beat, n.length) for n in flat] == quarters(section)
        assert [n.slurred_from_last for n in flat] == joined(section)
        assert [n.breath_after for n in flat] == [n.breath_after for n in section.round.notes]
        assert score.parts[0].transposition == instrument.transposition


def test_swells_and_dynamics_are_read_as_hairpins_where_they_stand():
    text = """
title: Swells
exercises:
- long tones: swells
  notes: [B4, G4]
  beats each: 8
  swell: there and back
- passage: marks
  notes: p quarter louder A4. B4 softer f C5> p D5- |
"""
    routine, problems = read_routine(text, "swells")
    assert routine is not None, problems
    swells, marks = sections(plan(routine, DAYS[0], 0))
    flute = instrument_named("C flute")
    part = music21.converter.parse(musicxml("x", [swells], flute), format="musicxml").parts[0]
    found = [
        (type(one).__name__, one.getFirst().getOffsetInHierarchy(part))
        for one in part.recurse().getElementsByClass(music21.dynamics.DynamicWedge)
    ]
    assert [kind for kind, _ in found] == ["Crescendo", "Diminuendo"] * 2
    part = music21.converter.parse(musicxml("x", [marks], flute), format="musicxml").parts[0]
    levels = part.recurse().getElementsByClass(music21.dynamics.Dynamic)
    assert [(one.value, one.getOffsetInHierarchy(part)) for one in levels] == [
        ("p", 0),
        ("f", 2),
        ("p", 3),
    ]
    signs = [[type(sign).__name__ for sign in note.articulations] for note in part.recurse().notes]
    assert signs == [["Staccato"], [], ["Accent"], ["Tenuto"]]


def test_upbeats_graces_ornaments_and_fermatas_are_read_by_music21():
    text = """
title: Signs
exercises:
- passage: signs
  key: G
  notes: |
    upbeat quarter sf G4 | grace E5 F#5 half trill C5 fermata D5 // | whole turn E5 |
    dotted half trill-natural E5 |
"""
    routine, problems = read_routine(text, "signs")
    assert routine is not None, problems
    music = sections(plan(routine, DAYS[0], 0))
    flute = instrument_named("C flute")
    part = music21.converter.parse(musicxml("x", music, flute), format="musicxml").parts[0]
    measures = list(part.getElementsByClass(music21.stream.Measure))
    assert [(one.number, one.duration.quarterLength) for one in measures[:2]] == [(0, 1), (1, 4)]
    read = [
        (spelled(n.pitch), float(n.quarterLength), [type(sign).__name__ for sign in n.expressions])
        for n in part.flatten().notes
    ]
    assert read == [
        ("G4", 1, []), ("E5", 0, []), ("F#5", 0, []), ("C5", 2, ["Trill"]), ("D5", 2, ["Fermata"]),
        ("E5", 4, ["Turn"]), ("E5", 3, ["Trill"]),
    ]  # fmt: skip
    assert part.recurse().getElementsByClass(music21.dynamics.Dynamic)[0].value == "sf"
