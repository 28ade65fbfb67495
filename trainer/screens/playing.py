"""The round: the music in the middle, what is heard drawn on it while it sounds."""

from __future__ import annotations

from textual.app import ComposeResult
from textual.binding import Binding

from trainer.routine.round import Round
from trainer.screens.drawing.canvas import Row
from trainer.screens.drawing.due import with_due
from trainer.screens.drawing.figures import count_rows, spoken_rows
from trainer.screens.drawing.score import Score, score
from trainer.screens.drawing.tempos import tempo_line
from trainer.screens.drawing.timing import timing_row
from trainer.screens.drawing.trail import TrailPen, trail_rows
from trainer.screens.practice import Practice
from trainer.screens.stage_screen import StageScreen
from trainer.screens.widgets.cells import Cells
from trainer.session import Stage, View

MUSIC_ID = "music"


class PlayingScreen(StageScreen):
    """Ready, count-in and round."""

    BINDINGS = [
        Binding("a", "again", "Again", id="again", tooltip="Break off and count in again"),
        Binding("minus", "slower", "Slower", id="slower", tooltip="A step slower"),
        Binding("plus,equals_sign", "faster", "Faster", id="faster", tooltip="A step faster"),
        Binding("n", "skip", "Next", id="skip", tooltip="On to the next exercise"),
        Binding("r", "rest", "Rest", id="rest", show=False, tooltip="Rest a minute"),
    ]

    def __init__(self, practice: Practice) -> None:
        super().__init__(practice)
        self._music: _Music | None = None

    def matter(self) -> ComposeResult:
        """The music alone."""
        yield Cells(id=MUSIC_ID)

    def show(self, view: View) -> None:
        """Draw the music as it stands at this moment; only what changed is painted."""
        super().show(view)
        cells = self.query_one(f"#{MUSIC_ID}", Cells)
        width, height = cells.size
        if view.round is None or width < 1 or height < 1:
            return
        if view.tempos and not view.notices:
            self.write("#notice", tempo_line(view.tempos, None, width))
        if self._music is None or not self._music.fits(view.round, width, height):
            self._music = _Music(view.round, width, height)
        cells.show(self._music.rows(view))

    def action_again(self) -> None:
        """Count in again."""
        self.practice.again()

    def action_slower(self) -> None:
        """A step slower."""
        self.practice.slower()

    def action_faster(self) -> None:
        """A step faster."""
        self.practice.faster()

    def action_skip(self) -> None:
        """On to the next exercise."""
        self.practice.skip()

    def action_rest(self) -> None:
        """Rest a minute."""
        self.practice.rest()


class _Music:
    """One round at one size, with the trail drawn so far."""

    def __init__(self, round_: Round, width: int, height: int) -> None:
        self._round = round_
        self._size = (width, height)
        self._score: Score = score(round_, width, height)
        self._pens = {place: self._pen(place) for place in range(len(self._score.systems))}
        self._drawn_s = -1.0

    def fits(self, round_: Round, width: int, height: int) -> bool:
        """Whether this is still the round and the size of the screen."""
        return self._round == round_ and self._size == (width, height)

    def rows(self, view: View) -> tuple[Row, ...]:
        """Upper staff, lane, lower staff."""
        layout = self._score
        self._draw_trail(view)
        current = layout.system_at(view.beat)
        upper, lower = layout.pages(view.beat)
        lane = self._lane(view, current)
        above = () if upper is None else self._staff(upper, view, current)
        below = () if lower is None else self._staff(lower, view, current)
        return (*above, *lane, *below)

    def _pen(self, place: int) -> TrailPen:
        return TrailPen(self._score.systems[place], self._round.beat_s)

    def _draw_trail(self, view: View) -> None:
        new = [reading for reading in view.trail if reading.time_s > self._drawn_s]
        if not new:
            if not view.trail and self._drawn_s >= 0:
                self._pens = {place: self._pen(place) for place in self._pens}
                self._drawn_s = -1.0
            return
        self._drawn_s = new[-1].time_s
        for pen in self._pens.values():
            pen.draw(new)

    def _staff(self, place: int, view: View, current: int) -> tuple[Row, ...]:
        staff = self._score.staff(place)
        if view.note_due is None or place != current:
            return staff
        system = self._score.systems[place]
        due = self._round.notes[view.note_due]
        if not system.holds(float(due.beat)):
            return staff
        return with_due(staff, system.column(due.beat), 0)

    def _lane(self, view: View, current: int) -> tuple[Row, ...]:
        layout = self._score
        if view.stage is Stage.READY:
            return spoken_rows(self._invitation(view), layout.width, layout.lane_rows)
        if view.stage is Stage.COUNT_IN and view.beat is not None:
            beats = self._round.count_in_beats
            count = min(beats, max(0, int(view.beat + beats) + 1))
            return count_rows(count, beats, layout.width, layout.lane_rows)
        system = layout.systems[current]
        trail = trail_rows(
            system,
            self._pens[current].trail,
            layout.trail_rows,
            layout.width,
            self._round.aims.cents,
        )
        return (*trail, *timing_row(system, view.live_notes, layout.width))

    def _invitation(self, view: View) -> list[str]:
        how = "Begin to play, or PageDown for the count-in" if view.listens else "PageDown"
        return [how, *self._round.words.strip().splitlines()]
