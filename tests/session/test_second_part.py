"""What the partner sounds in a part of its own: in tune by another's measure, and to the sample."""

from __future__ import annotations

from datetime import date

import aubio
import numpy as np
import pytest

from trainer.commands.play_preview import played_by_partner
from trainer.music.instrument import instrument_named
from trainer.music.note import Note
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.routine.round import Round
from trainer.session.accompaniment import accompaniment, as_sounding
from trainer.sound.partner import drone, partner
from trainer.sound.port import Samples

RATE = 48000
WINDOW, HOP = 4096, 512
FLUTE = instrument_named("C flute")


def asked(entry: str, instrument: str = "C flute") -> Round:
    text = f"title: T\ninstrument: {instrument}\nexercises:\n- {{{entry}}}\n"
    routine, problems = read_routine(text, "t.yaml")
    assert routine is not None, problems
    return plan(routine, date(2026, 3, 2), 0)[0].rounds[0]


def sounded(round_: Round, instrument: str = "C flute") -> Samples:
    played = instrument_named(instrument)
    sounding = as_sounding(round_.notes, round_, played)
    ((begin, sound),) = accompaniment(round_, sounding, played, 0, RATE)
    assert begin == 0
    return sound


def measured_hz(sound: Samples, note: Note, beat_s: float) -> float:
    """The middle of a note by aubio (P. Brossier, aubio.org), the spectral yin."""
    first = round((float(note.beat) + 0.15) * beat_s * RATE)
    middle = sound[first : first + round(0.7 * float(note.length) * beat_s * RATE)]
    reader = aubio.pitch("yinfft", WINDOW, HOP, RATE)
    read = [
        reader(middle[at : at + HOP].astype(np.float32))[0]
        for at in range(0, middle.size - HOP, HOP)
    ]
    return float(np.median(read[WINDOW // HOP :]))


@pytest.mark.parametrize(
    ("instrument", "partner_line", "temperament", "wide", "narrow"),
    [
        ("C flute", "in thirds", "pure", 1200 * np.log2(5 / 4), 1200 * np.log2(6 / 5)),
        ("C flute", "in thirds", "equal", 400.0, 300.0),
        ("alto flute", "in sixths", "pure", -1200 * np.log2(8 / 5), -1200 * np.log2(5 / 3)),
    ],
)
def test_thirds_and_sixths_are_pure_or_tempered_as_asked(
    instrument: str, partner_line: str, temperament: str, wide: float, narrow: float
) -> None:
    """5:4, 6:5, 8:5 and 5:3 above or below the student's tempered note, f = A4 · 2^((n - 69)/12)
    (UNSW Music Acoustics); the ratios are those of the harmonic series. D5 to A5 in D major."""
    line = f"notes: 'quarter D5 E5 F#5 G5 | whole A5', partner: {partner_line}"
    round_ = asked(f"passage: p, key: D, {line}, temperament: {temperament}", instrument)
    sound = sounded(round_, instrument)
    lower = instrument_named(instrument).transposition.semitones
    for own, second in zip(round_.notes, round_.second_part, strict=True):
        student_hz = 440 * 2 ** ((own.pitch.midi + lower - 69) / 12)
        cents = 1200 * np.log2(measured_hz(sound, second, round_.beat_s) / student_hz)
        semitones = abs(second.pitch.midi - own.pitch.midi)
        assert cents == pytest.approx(wide if semitones in (4, 8) else narrow, abs=1.0)


@pytest.mark.parametrize("tempo", [60, 80, 96])
def test_a_canon_sounds_a_whole_number_of_samples_later(tempo: int) -> None:
    line = f"notes: 'quarter F4 A4 C5 (A4 | half C5) F4', tempo: {tempo}"
    round_ = asked(f"passage: p, key: F, {line}, partner: canon after 3 beats")
    late = round(3 * 60 / tempo * RATE)
    same = partner(as_sounding(round_.notes, round_, FLUTE), tempo, round_.tuning, RATE)
    sound = sounded(round_)
    assert sound.size == late + same.size
    assert not sound[:late].any()
    assert np.allclose(sound[late:], same, atol=1e-7)


def test_the_drone_moves_on_the_sample_and_without_a_seam() -> None:
    round_ = asked(
        "passage: p, key: G, tempo: 60, partner: drone with the harmony,"
        " notes: 'quarter G4 B4 D5 B4 | C5 E5 G5 E5 | half D5 F#5'"
    )
    sound = sounded(round_)
    moves, bar = 4 * RATE, 4 * RATE
    held = drone(round_.drone_moves[0][1], 20.0, round_.tuning, RATE)
    assert sound.size == round(round_.seconds * RATE)
    assert np.array_equal(sound[:moves], held[:moves])
    assert not np.array_equal(sound[moves : moves + 99], held[moves : moves + 99])
    for place, name_hz in ((0, 391.9954), (1, 261.6256), (2, 293.6648)):  # G4, C4, D4
        middle = sound[place * bar + RATE : place * bar + 3 * RATE]
        assert drawn_hz(middle) == pytest.approx(name_hz, rel=2e-4)
    steps = np.abs(np.diff(sound))
    seams = [steps[place * bar - 2 : place * bar + 2].max() for place in (1, 2)]
    assert max(seams) <= np.quantile(steps, 0.999)


def drawn_hz(sound: Samples) -> float:
    """By aubio, as above."""
    reader = aubio.pitch("yinfft", WINDOW, HOP, RATE)
    read = [reader(sound[at : at + HOP])[0] for at in range(0, sound.size - HOP, HOP)]
    return float(np.median(read[WINDOW // HOP :]))


def test_a_moving_drone_may_be_pure_above_the_tonic() -> None:
    """C is 4:3 above G, D is 3:2."""
    round_ = asked(
        "passage: p, key: G, tempo: 60, partner: drone with the harmony, temperament: pure,"
        " notes: 'quarter G4 B4 D5 B4 | C5 E5 G5 E5 | half D5 F#5'"
    )
    sound = sounded(round_)
    first, second, third = (
        drawn_hz(sound[(4 * bar + 1) * RATE : (4 * bar + 3) * RATE]) for bar in range(3)
    )
    assert second / first == pytest.approx(4 / 3 / 2, rel=4e-4)
    assert third / first == pytest.approx(3 / 2 / 2, rel=4e-4)


def test_both_parts_are_heard_before_practice() -> None:
    """In canon, the partner alone at the end."""
    round_ = asked("passage: p, key: C, tempo: 60, notes: 'whole C5', partner: canon after a bar")
    sound = played_by_partner(round_, FLUTE, RATE)
    inside = sound[(round_.count_in_beats + 5) * RATE :][: 2 * RATE]
    assert np.sqrt(np.mean(inside**2)) > 0.02
