"""The order of bars with repeats, endings and jumps, as the toolkit music21 (PyPI) plays them."""

import music21
import pytest

from trainer.music.repeats import BarSigns, Jump, played_order

pytestmark = pytest.mark.filterwarnings("ignore")
FIRST, SECOND = frozenset([1]), frozenset([2])


def played_by_music21(signs: list[BarSigns]) -> list[int]:
    """Bars that each hold one note of their own, expanded by music21's own rules."""
    part = music21.stream.Part()
    for number, one in enumerate(signs):
        measure = music21.stream.Measure(number=number + 1)
        measure.append(music21.note.Note(60 + number, type="whole"))
        for sign, there in (
            (music21.repeat.Segno(), one.segno),
            (music21.repeat.Coda("Coda"), one.coda or one.to_coda),
            (music21.repeat.Fine(), one.fine),
        ):
            if there:
                measure.insert(0 if one.segno or one.coda else 4, sign)
        if one.jump is not None:
            measure.insert(4, _jump(one.jump, signs))
        if one.repeat_starts:
            measure.leftBarline = music21.bar.Repeat(direction="start")
        if one.plays > 1:
            measure.rightBarline = music21.bar.Repeat(direction="end", times=one.plays)
        part.append(measure)
    measures = list(part.getElementsByClass(music21.stream.Measure))
    for place, one in enumerate(signs):
        if one.ending:
            bracket = music21.spanner.RepeatBracket([measures[place]], number=max(one.ending))
            part.insert(0, bracket)
    return [note.pitch.midi - 60 for note in part.expandRepeats().flatten().notes]


def _jump(jump: Jump, signs: list[BarSigns]) -> music21.repeat.RepeatExpression:
    at_fine, at_coda = any(one.fine for one in signs), any(one.coda for one in signs)
    if jump is Jump.DA_CAPO:
        kind = (
            music21.repeat.DaCapoAlFine if at_fine
            else music21.repeat.DaCapoAlCoda if at_coda else music21.repeat.DaCapo
        )  # fmt: skip
    else:
        kind = (
            music21.repeat.DalSegnoAlFine if at_fine
            else music21.repeat.DalSegnoAlCoda if at_coda else music21.repeat.DalSegno
        )  # fmt: skip
    return kind()


PLAIN = BarSigns()
PIECES = {
    "no signs": [PLAIN] * 3,
    "one repeat": [PLAIN, BarSigns(repeat_starts=True), BarSigns(plays=2), PLAIN],
    "from the beginning": [PLAIN, BarSigns(plays=2), PLAIN],
    "three times": [BarSigns(repeat_starts=True, plays=3), PLAIN],
    "endings": [
        PLAIN, BarSigns(ending=FIRST, plays=2), BarSigns(ending=SECOND), PLAIN,
    ],
    "two repeats": [
        BarSigns(repeat_starts=True), BarSigns(plays=2), BarSigns(repeat_starts=True),
        BarSigns(plays=2),
    ],
    "da capo al fine": [PLAIN, BarSigns(fine=True), PLAIN, BarSigns(jump=Jump.DA_CAPO)],
    "dal segno al fine": [
        PLAIN, BarSigns(segno=True), BarSigns(fine=True), BarSigns(jump=Jump.DAL_SEGNO),
    ],
    "dal segno al coda": [
        PLAIN, BarSigns(segno=True), BarSigns(to_coda=True), BarSigns(jump=Jump.DAL_SEGNO),
        BarSigns(coda=True), PLAIN,
    ],
    "da capo al coda": [
        PLAIN, BarSigns(to_coda=True), BarSigns(jump=Jump.DA_CAPO), BarSigns(coda=True),
    ],
}  # fmt: skip


@pytest.mark.parametrize("signs", PIECES.values(), ids=PIECES)
def test_bars_come_as_music21_plays_them(signs):
    assert list(played_order(signs, 100)) == played_by_music21(signs)


def test_after_a_jump_no_repeat_is_taken_and_the_last_ending_is():
    """Common practice, no source."""
    signs = [
        BarSigns(repeat_starts=True), BarSigns(ending=FIRST, plays=2), BarSigns(ending=SECOND),
        BarSigns(fine=True), BarSigns(jump=Jump.DA_CAPO),
    ]  # fmt: skip
    assert list(played_order(signs, 100)) == [0, 1, 0, 2, 3, 4, 0, 2, 3]


def test_no_piece_is_endless():
    assert len(played_order([BarSigns(plays=8)] * 50, 100)) == 100
