"""The round: the music in the middle, what is heard drawn on it while it sounds."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from textwrap import wrap

from textual.app import ComposeResult
from textual.binding import Binding
from textual.geometry import Region, Size

from trainer.app.settings import CHOICES, Settings
from trainer.music.instrument import instrument_named
from trainer.music.note import Note
from trainer.routine.along import along_sentences
from trainer.routine.round import Round, RoundKind
from trainer.screens.appearance import Appearance
from trainer.screens.drawing.canvas import Canvas, Row, joined
from trainer.screens.drawing.due_mark import marker_only, with_due
from trainer.screens.drawing.faces.climb_ladder import LADDER_ROWS, ladder_rows
from trainer.screens.drawing.faces.finger_chart import chart_rows
from trainer.screens.drawing.faces.heard_so_far import HeardSoFar
from trainer.screens.drawing.faces.lane_face import face_rows
from trainer.screens.drawing.fingerings import fingering_lines
from trainer.screens.drawing.large_figures import count_rows, spoken_rows
from trainer.screens.drawing.large_thing import LargeThing, large_thing_rows, turned_to
from trainer.screens.drawing.round_layout import RoundLayout, fitted
from trainer.screens.drawing.staff_rows import Frame
from trainer.screens.drawing.tempos import tempo_line
from trainer.screens.drawing.trail import TrailPen, mean_trail
from trainer.screens.pixels.staff_picture import StaffPicture
from trainer.screens.pixels.terminal_pixels import cell_pixels
from trainer.screens.pixels.theme_palette import palette
from trainer.screens.session_requests import Practice
from trainer.screens.stage_screen import PAUSE_TOOLTIP, TEACHER, StageScreen
from trainer.screens.told_since import ToldSince
from trainer.screens.widgets.cells import Cells, centred
from trainer.session.view import Stage, View

MUSIC_ID = "music"
SLOTS = ("upper", "lower")
TITLE_ROWS, KEY_ROWS = 1, 1
"""Above the music and below it."""
TRAIL_DRAWINGS_PER_S = 10
"""Often enough for the eye (common practice, no source)."""
LEAST_BESIDE_CHART = 3
"""Rows that a chart or a ladder leaves to what is said or heard."""
LARGE_TOOLTIP = "Only the note, the tempo or the time left"
MUSIC_TOOLTIP = "The same the other way round"
COUNT_IN = "PageDown for the count-in"
TOO_SMALL = ["The window is too small for this music.", "Make it larger, or the letters smaller."]


class PlayingScreen(StageScreen):
    """Ready, count-in and round."""

    BINDINGS = [
        Binding("a", "again", "Again", id="again", tooltip="Break off and count in again"),
        Binding("minus", "slower", "Slower", id="slower", tooltip="A step slower"),
        Binding("plus,equals_sign", "faster", "Faster", id="faster", tooltip="A step faster"),
        Binding("n", "skip", "Next", id="skip", tooltip="On to the next exercise"),
        Binding("p", "pause", "Pause", id="pause", tooltip=PAUSE_TOOLTIP),
        Binding("r", "rest", "Rest", id="rest", show=False, tooltip="Rest a minute"),
        TEACHER,
        Binding("b", "size", "Size", id="size", show=False, tooltip="Notes larger or smaller"),
        Binding("v,right", "large(1)", "Large", id="large", show=False, tooltip=LARGE_TOOLTIP),
        Binding("left", "large(-1)", "Large", id="large-back", show=False, tooltip=MUSIC_TOOLTIP),
    ]

    def __init__(self, practice: Practice) -> None:
        super().__init__(practice)
        self._music: _Music | None = None
        self._told = ToldSince(practice.view().notices)
        self._pictures: list[StaffPicture] = []

    def matter(self) -> ComposeResult:
        """The music alone, in cells, with pictures over them where they can be shown."""
        yield Cells(id=MUSIC_ID)
        if isinstance(self.app, Appearance) and self.app.pixels_wanted is not None:
            self._pictures = [StaffPicture(self.app.pixels_wanted) for _ in SLOTS]
            yield from self._pictures

    def show(self, view: View) -> None:
        """Draw the music as it stands at this moment; only what changed is painted."""
        super().show(view)
        if view.round is None or not self._room:
            return
        settings, (width, height) = self.settings, self._room
        cells = self.query_one(f"#{MUSIC_ID}", Cells)
        if self._large is not None:
            cells.show(large_thing_rows(self._large, view, self.names, width, height))
            for picture in self._pictures:
                picture.clear()
            return
        cell = cell_pixels() if self._pictures else None
        if self._music is None or not self._music.fits(view.round, width, height, settings):
            self._music = _Music(view.round, width, height, settings, in_pixels=cell is not None)
        cells.show(self._music.rows(view))
        if cell is not None:
            self._show_pictures(self._music.staves(view), cell)

    @property
    def _room(self) -> Size:
        """Of the music: known before anything is laid out, so that the first frame is whole."""
        width, height = self.app.size
        return Size(width, max(0, height - TITLE_ROWS - KEY_ROWS))

    def _show_pictures(self, staves: list[_Staff | None], cell: tuple[int, int]) -> None:
        """Each staff's picture in its slot, painted when it is another than before."""
        from trainer.screens.pixels.staff_image import staff_image

        assert self._music is not None
        left, top = centred(self._room.width, self._music.height, self._room)
        for widget, staff in zip(self._pictures, staves, strict=True):
            if staff is None:
                widget.clear()
                continue
            key = (staff, self.app.theme, cell, self._room)
            if widget.shows(key):
                continue
            marker = staff.layout.upper.scale.marker_rows
            height = staff.layout.frame(staff.place).height - marker
            y = TITLE_ROWS + top + staff.row + marker
            region = Region(left, y, staff.layout.width, height)
            picture = staff_image(staff.layout, staff.place, staff.turned, cell)
            widget.show(key, picture, palette(self.app), region)

    @property
    def _large(self) -> LargeThing | None:
        """What stands alone on the screen; None: the music."""
        return self.app.large if isinstance(self.app, Appearance) else None

    def action_large(self, step: int) -> None:
        """One large thing instead of the music, another, or the music again."""
        if isinstance(self.app, Appearance):
            self.app.large = turned_to(self.app.large, step)
            self.look()

    def action_size(self) -> None:
        """Another size of notes, for this session and the next ones."""
        offered = CHOICES["note_size"]
        size = offered[(offered.index(self.settings.note_size) + 1) % len(offered)]
        if isinstance(self.app, Appearance):
            self.app.take_settings(replace(self.settings, note_size=str(size)))

    def show_notice(self, view: View) -> None:
        """What is told while it sounds covers the keys for that round; the music never moves. The
        page before a round has a place of its own for it, one large thing has not."""
        if view.stage is Stage.WEIGHING or (view.stage is Stage.READY and self._large is None):
            self._told.begin(view.notices)
        told = self._told.newest(view.notices)
        self.write("#notice", told, layout=view.stage is Stage.READY)
        self.query_one("#notice").visible = bool(told)

    def title_of(self, view: View) -> str:
        """What is played; in a climb the tempos so far behind it."""
        title = super().title_of(view)
        if view.round is None or view.round.kind is not RoundKind.CLIMB or not view.tempos:
            return title
        room = self.app.size.width - len(title) - 5
        return f"{title}   {tempo_line(view.tempos, None, room)}" if room > 0 else title


@dataclass(frozen=True)
class _Staff:
    """A staff that stands on the screen: which system, where, and up to which column the next."""

    layout: RoundLayout
    place: int
    turned: int | None
    row: int


class _Music:
    """One round at one size, with the trail drawn so far.

    Staves are drawn once, the lane only when something in it has moved, so that a frame costs
    little while the round sounds.
    """

    def __init__(
        self, round_: Round, width: int, height: int, settings: Settings, *, in_pixels: bool
    ) -> None:
        self._round = round_
        self._settings = settings
        self._in_pixels = in_pixels
        self._names = settings.names
        self._size = (width, height)
        self._score: RoundLayout = fitted(round_, width, height, settings, in_pixels=in_pixels)
        self._pens: list[TrailPen] = []
        self._drawn_to_s = 0.0
        self._staves: dict[tuple[int, int | None, int | None], tuple[Row, ...]] = {}
        self._lane_of: tuple[object, ...] = ()
        self._lane: tuple[Row, ...] = ()
        self._new_pens()

    def fits(self, round_: Round, width: int, height: int, settings: Settings) -> bool:
        """Whether this is still the round, the size of the screen and what the student set."""
        same_round = self._round is round_ or self._round == round_
        return self._size == (width, height) and same_round and self._settings == settings

    @property
    def height(self) -> int:
        """Rows of both staves and the lane."""
        layout = self._score
        return layout.upper.height + layout.lane_rows + (layout.lower.height if layout.lower else 0)

    def staves(self, view: View) -> list[_Staff | None]:
        """What the upper and the lower slot show, for painting in pixels."""
        layout = self._score
        if not layout.is_whole(self._size[1]):
            return [None, None]
        current = layout.system_at(view.beat)
        upper, lower = layout.pages(view.beat)
        turned = layout.turn_column(view.beat)
        below = layout.upper.height + layout.lane_rows
        return [
            None
            if place is None
            else _Staff(layout, place, turned if place == current else None, row)
            for place, row in ((upper, 0), (lower, below))
        ]

    def rows(self, view: View) -> tuple[Row, ...]:
        """Upper staff, lane, lower staff."""
        layout = self._score
        if not layout.is_whole(self._size[1]):
            return spoken_rows(TOO_SMALL, *self._size)
        current = layout.system_at(view.beat)
        upper, lower = layout.pages(view.beat)
        above = self._slot(layout.upper, upper, view, current)
        below = self._slot(layout.lower, lower, view, current)
        return (*above, *self._lane_rows(view, current), *below)

    def _new_pens(self) -> None:
        self._pens = [TrailPen(system, self._round.beat_s) for system in self._score.systems]
        self._drawn_to_s = 0.0

    def _draw_trail(self, view: View) -> None:
        """Add what came since the last drawing; the view keeps only the newest readings."""
        heard_to_s = _heard_to_s(view)
        if heard_to_s < self._drawn_to_s:  # the round was begun again
            self._new_pens()
        seen = bisect_right(view.trail, self._drawn_to_s, key=lambda reading: reading.time_s)
        self._drawn_to_s = heard_to_s
        for pen in self._pens:
            pen.draw(view.trail[seen:])

    def _slot(
        self, frame: Frame | None, place: int | None, view: View, current: int
    ) -> tuple[Row, ...]:
        """A staff in its place; an empty one keeps its rows, so that the other stays put."""
        if frame is None:
            return ()
        if place is None:
            return Canvas(self._score.width, frame.height).rows()
        return self._staff(place, view, current)

    def _staff(self, place: int, view: View, current: int) -> tuple[Row, ...]:
        due = self._due(view) if place == current else None
        turned = self._score.turn_column(view.beat)
        key = (place, None if due is None else due.index, turned)
        if key not in self._staves:
            frame = self._score.frame(place)
            blank = Canvas(self._score.width, frame.height).rows()
            staff = blank if self._in_pixels else self._score.staff(place)
            system = self._score.systems[place]
            if turned is not None and not self._in_pixels:
                staff = joined(self._score.staff(place + 1), staff, turned)
            if due is not None and due.beat < system.end:
                band = self._score.upper.scale.band
                mark = marker_only if self._in_pixels else with_due
                staff = mark(staff, system.column(max(due.beat, system.start)), 0, band)
            self._staves[key] = staff
        return self._staves[key]

    def _due(self, view: View) -> Note | None:
        """The note now due."""
        printed = {note.index: note for note in self._round.printed}
        return None if view.note_due is None else printed[view.note_due]

    def _lane_rows(self, view: View, current: int) -> tuple[Row, ...]:
        """The lane, drawn afresh only when what it shows has changed."""
        count = self._count(view)
        tenth = int(_heard_to_s(view) * TRAIL_DRAWINGS_PER_S)
        layout_turn = self._score.turn_column(view.beat)
        state = (
            view.stage,
            view.listens,
            count,
            current,
            tenth,
            len(view.live_notes),
            view.standing,
            layout_turn,
            view.notices[-1:] if view.stage is Stage.READY else (),
        )
        if state != self._lane_of:
            self._lane_of = state
            self._lane = self._draw_lane(view, current, count)
        return self._lane

    def _count(self, view: View) -> int:
        """The beat counted in just now; 0 before the first and when nothing is counted."""
        if view.stage is not Stage.COUNT_IN or view.beat is None:
            return 0
        beats = self._round.count_in_beats
        return min(beats, max(0, int(view.beat + beats) + 1))

    def _draw_lane(self, view: View, current: int, count: int) -> tuple[Row, ...]:
        layout = self._score
        self._draw_trail(view)
        if view.stage is Stage.READY:
            return self._ready_rows(view)
        if view.stage is Stage.COUNT_IN:
            return count_rows(count, self._round.count_in_beats, layout.width, layout.lane_rows)
        return self._face(view, current)

    def _face(self, view: View, current: int) -> tuple[Row, ...]:
        """What is heard of the thing practised."""
        layout, pen = self._score, self._pens[current]
        shows_before = self._settings.last_tuning and view.listens
        before = dict(enumerate(view.last_note_cents if shows_before else ()))
        heard = HeardSoFar(
            beat=view.beat or 0.0,
            cents=pen.trail,
            settled=pen.settled,
            level_db=pen.level_db,
            before=mean_trail(layout.systems[current], before),
            newest=view.trail,
            first_beat_s=view.first_beat_s,
            answers=view.live_notes,
            standing=view.standing,
            turned=layout.turn_column(view.beat),
        )
        fingers = self._fingers(view)
        height = layout.lane_rows - len(fingers)
        face = face_rows(self._round, layout.systems[current], heard, layout.width, height)
        return (*fingers, *face)

    def _fingers(self, view: View) -> tuple[Row, ...]:
        """The large chart of a trouble spot, where the lane has room for it."""
        instrument = instrument_named(view.today.instrument)
        chart = chart_rows(view.knot, instrument, self._names, self._score.width)
        return chart if len(chart) + LEAST_BESIDE_CHART <= self._score.lane_rows else ()

    def _ready_rows(self, view: View) -> tuple[Row, ...]:
        """The chart or the ladder, and how to begin."""
        layout = self._score
        drawn = self._fingers(view)
        if self._climbs(view) and layout.lane_rows >= LADDER_ROWS + LEAST_BESIDE_CHART:
            assert view.climb is not None
            drawn = ladder_rows(view.climb, view.tempos, self._round.tempo_bpm, layout.width)
        lines = self._invitation(view, with_fingers=not drawn)
        room = layout.lane_rows - len(drawn)
        return (*drawn, *spoken_rows(lines[:room], layout.width, room))

    def _climbs(self, view: View) -> bool:
        return view.climb is not None and self._round.kind is RoundKind.CLIMB

    def _invitation(self, view: View, *, with_fingers: bool) -> list[str]:
        how = f"Begin to play, or {COUNT_IN}" if view.listens else COUNT_IN
        if self._round.partner_notes:
            how = f"{COUNT_IN}; the partner begins"
        if self._round.kind is RoundKind.CADENZA:
            how = "Untimed: begin when you like, and play it as you like"
        elif not self._round.in_time:
            how = "Untimed: begin to play, and stay on each note until it settles"
        words = self._round.words.strip().splitlines()
        said = [*view.notices[-1:], *along_sentences(self._round), *words]
        lines = [how, *(line for text in said for line in wrap(text, self._score.width - 4))]
        if not with_fingers:
            return lines
        fingers = fingering_lines(view.knot, instrument_named(view.today.instrument), self._names)
        return [*lines, *fingers * (len(lines) + len(fingers) <= self._score.lane_rows)]


def _heard_to_s(view: View) -> float:
    """The time of the newest reading; 0 before the first."""
    return view.trail[-1].time_s if view.trail else 0.0
