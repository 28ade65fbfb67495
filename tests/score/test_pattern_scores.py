"""Every articulation pattern in MusicXML, its slurs as music21 reads them (music21.org)."""

from datetime import date

import music21
import pytest

from tests.score.test_round_trip import joined, slurred
from trainer.music.articulations import FOURS, SIXES, THREES
from trainer.music.instrument import instrument_named
from trainer.routine.load import read_routine
from trainer.routine.plan import plan
from trainer.score.musicxml_out import musicxml
from trainer.score.sections import sections

pytestmark = pytest.mark.filterwarnings("ignore:::(music21|numpy)")


def read(words: str, rhythm: str):
    text = "title: T\nexercises:\n- scale: s\n  key: D\n  range: two octaves\n"
    text += f"  rhythm: {rhythm}\n  articulations: {words}\n"
    routine, problems = read_routine(text, "t.yaml")
    assert routine is not None, problems
    return sections(plan(routine, date(2026, 3, 2), 0))


@pytest.mark.parametrize(
    ("pattern", "rhythm"),
    [
        *((str(pattern), "sixteenths") for pattern in FOURS),
        *((str(pattern), "triplets") for pattern in THREES),
        *((str(pattern), "sextuplets") for pattern in SIXES),
    ],
)
def test_slurs_are_read_as_we_play_them(pattern, rhythm):
    (section,) = read(pattern, rhythm)
    flute = instrument_named("C flute")
    data = musicxml("x", [section], flute)
    part = music21.converter.parse(data, format="musicxml").parts[0]
    assert any(joined(section))
    assert slurred(part) == joined(section)


def test_each_pattern_is_written_out():
    assert len(read("all patterns for fours", "sixteenths")) == len(FOURS)
    assert len(read("[slurred, single, slur 2]", "sixteenths")) == 2
