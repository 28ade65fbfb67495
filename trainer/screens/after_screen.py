"""After the round: one sentence, the notes it is about on the music, what comes next."""

from __future__ import annotations

from functools import partial

from textual.app import ComposeResult
from textual.binding import Binding
from textual.widgets import Static

from trainer.coach.advice import Advice, Felt
from trainer.music.instrument import instrument_named
from trainer.screens.drawing.canvas import Row
from trainer.screens.drawing.faces.after_face import ahead_rows, practised_rows
from trainer.screens.drawing.fingerings import fingering_lines
from trainer.screens.drawing.last_time_line import beside_line
from trainer.screens.drawing.written import Written, written_rows
from trainer.screens.session_requests import Practice
from trainer.screens.stage_screen import StageScreen
from trainer.screens.widgets.cells import Cells
from trainer.session.view import View
from trainer.wording.sentence_list import say

LEAST_MUSIC_ROWS = 14
"""A system with its marks, which what lies ahead leaves room for."""


class AfterScreen(StageScreen):
    """What was heard."""

    BINDINGS = [
        Binding("a", "again", "Again", id="again", tooltip="The same round once more"),
        Binding("minus", "slower", "Slower", id="slower", tooltip="Once more, a step slower"),
        Binding("plus,equals_sign", "faster", "Faster", id="faster", tooltip="Once more, faster"),
        Binding("e", "evidence", "Figures", id="evidence", tooltip="What the sentence rests on"),
        Binding("1", "felt('easy')", "easy", id="easy", show=False, tooltip="It felt easy"),
        Binding("2", "felt('fine')", "fine", id="fine", show=False, tooltip="It felt fine"),
        Binding("3", "felt('hard')", "hard", id="hard", show=False, tooltip="It felt hard"),
        Binding(
            "d",
            "disagree",
            "disagree",
            id="disagree",
            show=False,
            tooltip="I heard it differently: write that down",
        ),
        Binding("h", "hear(1.0)", "Listen", id="hear", show=False, tooltip="Hear your round again"),
        Binding("l", "hear(0.5)", "half", id="half", show=False, tooltip="Hear it half as fast"),
        Binding("r", "rest", "Rest", id="rest", show=False, tooltip="Rest a minute"),
        Binding("n", "skip", "Next", id="skip", show=False, tooltip="On to the next exercise"),
    ]

    def __init__(self, practice: Practice) -> None:
        super().__init__(practice)
        self._with_evidence = False
        self._felt = ""
        self._drawn: object = None

    def matter(self) -> ComposeResult:
        """The sentence and what comes next, the music, the keys in words."""
        yield Static(id="sentence", markup=False)
        yield Static(id="next", markup=False)
        yield Static(id="beside", markup=False)
        yield Static(id="evidence", markup=False)
        yield Cells(id="music")
        yield Static(id="fingers", markup=False)
        yield Static(id="answers-keys", markup=False)

    def show(self, view: View) -> None:
        """The sentence and the music once; the seconds left as they go."""
        super().show(view)
        advice = view.advice
        if advice is None or view.round is None:
            return
        self.write("#sentence", advice.sentence, layout=True)
        self.write("#next", self._next(view))
        self.write("#beside", beside_line(view.last_time, self.app.size.width))
        self.write("#evidence", "\n".join(advice.evidence), layout=True)
        self._show_fingers(view)
        self.write("#answers-keys", self._keys(view))
        state = (view.round, view.take, advice, view.starts_unsure, view.proposal)
        if state != self._drawn:
            self._drawn = state
            self.query_one("#music", Cells).draw(partial(self._drawing, view, advice))

    def _drawing(self, view: View, advice: Advice, width: int, height: int) -> tuple[Row, ...]:
        """The thing practised, and the music with its marks as far as there is room."""
        assert view.round is not None
        written = Written(
            view.round,
            view.take,
            view.off_beat_ms,
            care=frozenset(advice.note_indices),
            unsure=view.starts_unsure,
            last_note_cents=view.last_note_cents if self.settings.last_tuning else (),
        )
        face = practised_rows(view, self.names, width, height)
        ahead = ahead_rows(view, self.names, width)
        if len(face) + len(ahead) + LEAST_MUSIC_ROWS > height:
            ahead = ()
        drawn = (*face, *ahead)
        return (*drawn, *written_rows(written, width, height - len(drawn)))

    def _show_fingers(self, view: View) -> None:
        """With the figures, what the fingers do in the trouble spot."""
        lines: list[str] = []
        if view.knot and self._with_evidence:
            lines = fingering_lines(view.knot, instrument_named(view.today.instrument), self.names)
        fingers, text = self.query_one("#fingers", Static), "\n".join(lines)
        if str(fingers.content) != text:
            fingers.update(text)
        fingers.display = bool(lines)

    def _next(self, view: View) -> str:
        """What comes next, and when."""
        if view.proposal is None:
            return ""
        left = "" if view.seconds_left is None else f"   in {view.seconds_left:.0f} s"
        return f"{next_words(view)}{left}"

    def _keys(self, view: View) -> str:
        """How it felt and how to hear it: what the footer doesn't say."""
        felt = self._felt or "How was it?  1 easy  2 fine  3 hard"
        hear = "   h hear it  l slowly" if view.can_hear_again else ""
        return f"{felt}   d I disagree{hear}"

    def action_evidence(self) -> None:
        """Show or hide the figures behind the sentence."""
        self._with_evidence = not self._with_evidence
        self.set_class(self._with_evidence, "with-evidence")

    def action_hear(self, speed: float) -> None:
        """Hear the round again."""
        self.practice.hear_again(speed)

    def action_disagree(self) -> None:
        """Say that the sentence is not right."""
        self.practice.disagree()

    def action_felt(self, felt: str) -> None:
        """Say how it felt."""
        self._felt = f"felt {felt}"
        self.practice.felt(Felt(felt))


def next_words(view: View) -> str:
    """What comes next, as the coach puts it, else by the name of what follows."""
    if view.proposal is None:
        return ""
    if view.proposal.why:
        return view.proposal.why
    return say("next", what=view.follows) if view.follows else say("that is all")
