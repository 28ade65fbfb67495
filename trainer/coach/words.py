"""The one thing worth saying after a round, in a sentence a teacher could say.

Nothing is praised that was not heard, and nothing is called wrong that could not be judged.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from trainer.coach import thresholds
from trainer.coach.advice import Advice, Topic
from trainer.coach.held_facts import HELD_KINDS, held_facts
from trainer.coach.history import History
from trainer.coach.marks import AimMark, AimName, Marks, NoteMark
from trainer.coach.news import news
from trainer.coach.observations.knot import behind, own_steps
from trainer.coach.observations.observation import Observation, names
from trainer.coach.observe import observe, observe_in_turn
from trainer.coach.sentences import sentence
from trainer.ear.heard import Take
from trainer.figures.enough import ENOUGH_SHARE
from trainer.music.note import Articulation
from trainer.routine.round import Round, RoundKind


def advise(
    round_: Round,
    take: Take,
    marks: Marks,
    earlier: Sequence[Marks] = (),
    history: History | None = None,
    disputed: frozenset[Topic] = frozenset(),
) -> Advice:
    """The one thing to say now.

    `earlier`: marks of this session's rounds, oldest first. `history`: earlier days; they decide
    what is news. `disputed`: what the student disagreed with here today; it is not said again.
    """
    if (doubt := _about_the_sound(take, marks, earlier)) is not None:
        return doubt
    known = history.known(round_.exercise_id) if history is not None else frozenset[Topic]()
    seen = observe_in_turn(marks, earlier, known, disputed)
    if seen:
        first = seen[0]
        return Advice(
            first.topic,
            sentence(first),
            (
                *first.evidence,
                *_fingers(first),
                *_since(round_, seen, marks, earlier),
                *news(first, marks, take, history),
                *figures(marks),
            ),
            first.note_indices,
        )
    if len(marks.judged) < ENOUGH_SHARE * len(marks.notes):
        return _too_little(marks)
    if round_.kind is RoundKind.KNOT:
        return _knot(marks, earlier)
    unmet = [aim for aim in marks.aims if aim.met is False and AIM_TOPICS[aim.name] not in disputed]
    advice = _short_of(unmet[0], marks) if unmet else _secure(marks)
    since = (*_since(round_, (), marks, earlier), *news(None, marks, take, history))
    return replace(advice, evidence=(*advice.evidence, *since))


AIM_TOPICS = {
    AimName.CLEAN: Topic.NOTES,
    AimName.EVENNESS: Topic.EVENNESS,
    AimName.CENTS: Topic.TUNING,
}
"""What an aim missed is about, for the student to disagree with."""


def _since(
    round_: Round, seen: Sequence[Observation], marks: Marks, earlier: Sequence[Marks]
) -> tuple[str, ...]:
    """What has become of the thing said after the last round of the same kind."""
    alike = [index for index, other in enumerate(earlier) if _same_task(marks, other)]
    if not alike or round_.kind is RoundKind.KNOT:
        return ()
    last = alike[-1]
    before = observe(round_.kind, earlier[last], earlier[:last])
    if not before:
        return ()
    now = [one for one in seen if one.topic is before[0].topic and one.frm == before[0].frm]
    if not now:
        return (f"settled since the last round: {before[0].topic}",)
    return (f"last round: {before[0].evidence[0]}",)


def _same_task(marks: Marks, other: Marks) -> bool:
    task = (marks.exercise_id, marks.kind, marks.articulation, marks.tempo_bpm)
    return task == (other.exercise_id, other.kind, other.articulation, other.tempo_bpm)


def figures(marks: Marks) -> tuple[str, ...]:
    """The round in figures, one a line; only what was measured."""
    lines = [f"{len(marks.heard)} of {len(marks.judged)} notes heard"]
    if (slips := [note for note in marks.judged if not note.clean]) and marks.heard:
        lines.append(f"not clean: {names((note.written for note in slips), most=6)}")
    if unsure := marks.measures.starts_unsure:
        lines.append(f"start not clear enough to judge (?): {unsure} of {len(marks.heard)} notes")
    if marks.measures.evenness_ms is not None and not marks.blurred:
        lines.append(f"evenness {marks.measures.evenness_ms:.0f} ms")
    if marks.measures.cents_median is not None:
        lines.append(f"tuning {marks.measures.cents_median:+.0f} cents in the middle")
    lines += [_aim_line(aim) for aim in marks.aims]
    return tuple(lines)


def _aim_line(aim: AimMark) -> str:
    if aim.heard is None:
        return f"{aim.name}: not judged"
    met = "met" if aim.met else "not yet"
    return f"{aim.name}: asked {_figure(aim, aim.asked)}, heard {_figure(aim, aim.heard)}, {met}"


def _figure(aim: AimMark, value: float) -> str:
    if aim.name is AimName.CLEAN:
        return f"{100 * value:.0f} %"
    return f"{value:.0f} {'ms' if aim.name is AimName.EVENNESS else 'cents'}"


# When the sound itself is in doubt ---------------------------------------------------------------


def _about_the_sound(take: Take, marks: Marks, earlier: Sequence[Marks]) -> Advice | None:
    """Nothing heard, or a warning that is new or that cost too many notes."""
    lost = 1 - len(marks.judged) / len(marks.notes)
    said = {warning for other in earlier for warning in other.warnings}
    warnings = [one for one in take.warnings if one not in said or lost >= thresholds.LOST_SHARE]
    if warnings:
        return Advice(
            Topic.SOUND,
            f"{_sentence(warnings[0])} Mend that first: the rest can't be trusted until then.",
            (*take.warnings, f"{len(marks.judged)} of {len(marks.notes)} notes could be judged"),
        )
    if marks.judged and not marks.heard:
        return Advice(
            Topic.UNHEARD,
            "Nothing was heard: check that the right microphone is chosen, that it isn't muted, "
            "and that it stands about an arm's length away.",
            (f"0 of {len(marks.judged)} notes heard", "`trainer devices` lists the microphones"),
        )
    return None


def _too_little(marks: Marks) -> Advice:
    return Advice(
        Topic.SOUND,
        f"Only {len(marks.judged)} of {len(marks.notes)} notes came through clearly enough to "
        "judge: try the microphone a little nearer, and the trainer's own sound in headphones.",
        figures(marks),
    )


# When nothing stands out -------------------------------------------------------------------------


def _secure(marks: Marks) -> Advice:
    return Advice(Topic.SECURE, f"{_heard(marks)}{_measured(marks)}.", figures(marks))


def _heard(marks: Marks) -> str:
    slips = [note for note in marks.judged if not note.clean]
    total = len(marks.judged)
    of_all = "" if total == len(marks.notes) else " that could be judged"
    if slips:
        slipped = names(note.written for note in slips)
        return f"{total - len(slips)} of {total} notes{of_all} were clean, {slipped} slipped"
    if marks.articulation is Articulation.AIR_ONLY_SILENT:
        return f"All {total} puffs of air{of_all} were heard"
    done = "stood" if marks.kind is RoundKind.SETTLING else "spoke"
    return f"All {total} notes{of_all} {done}"


UNTIMED = frozenset({RoundKind.VOICING, RoundKind.LONG_TONES, *HELD_KINDS})
"""Kinds in which nobody asks for evenness."""


def _measured(marks: Marks) -> str:
    parts = [fact] if (fact := held_facts(marks)) else []
    if marks.measures.evenness_ms is not None and not marks.blurred and marks.kind not in UNTIMED:
        parts.append(f"evenness {marks.measures.evenness_ms:.0f} ms")
    cents = [aim for aim in marks.aims if aim.name is AimName.CENTS and aim.met]
    if cents and cents[0].heard is not None:
        parts.append(f"nine notes in ten within {cents[0].heard:.0f} cents")
    return "; " + ", ".join(parts) if parts else ""


def _knot(marks: Marks, earlier: Sequence[Marks]) -> Advice:
    """How the knot's own notes went, when nothing keeps going wrong in them."""
    steps = own_steps(marks, earlier)
    if not steps:
        return _secure(marks)
    pitches = (pitch for step in steps for pitch in (step.frm.written, step.to.written))
    knot = "–".join(dict.fromkeys(map(str, pitches)))
    slips = [step.to for step in steps if not step.to.clean]
    if slips:
        clean = f"{len(steps) - len(slips)} of {len(steps)}"
        return Advice(
            _topic_of(slips),
            f"{names(note.written for note in slips)} slipped: {knot} was clean {clean} times.",
            figures(marks),
            tuple(note.index for note in slips),
        )
    found = behind(steps, marks, steps)
    in_time = ", in time with the notes around" if found is not None and found.in_time else ""
    times = f", all {len(steps)} times" if len(steps) > 1 else ""
    return Advice(Topic.SECURE, f"{knot} spoke cleanly{times}{in_time}.", figures(marks))


def _topic_of(slips: Sequence[NoteMark]) -> Topic:
    return Topic.NOTES if any(note.missed or note.wrong for note in slips) else Topic.BLIP


def _short_of(aim: AimMark, marks: Marks) -> Advice:
    """An aim missed without any habit behind it."""
    topic, sentence, notes = _SHORT[aim.name](aim, marks)
    indices = tuple(sorted(note.index for note in notes))
    return Advice(topic, sentence, figures(marks), indices)


def _short_of_clean(aim: AimMark, marks: Marks) -> tuple[Topic, str, list[NoteMark]]:
    slips = [note for note in marks.judged if not note.clean]
    where = names(note.written for note in slips)
    return (
        _topic_of(slips),
        f"{where} slipped, {100 * (aim.heard or 0):.0f} % clean where {100 * aim.asked:.0f} is "
        "asked: no habit in it yet, so just play it once more.",
        slips,
    )


def _short_of_even(aim: AimMark, marks: Marks) -> tuple[Topic, str, list[NoteMark]]:
    placed = [note for note in marks.heard if note.off_ms is not None]
    worst = max(placed, key=lambda note: abs(note.off_ms or 0.0))
    side = "late" if (worst.off_ms or 0.0) > 0 else "early"
    return (
        Topic.EVENNESS,
        f"Evenness came to {aim.heard:.0f} ms where {aim.asked:.0f} is asked; "
        f"{worst.written} stood out most, {abs(worst.off_ms or 0.0):.0f} ms {side}.",
        [worst],
    )


def _short_of_tune(aim: AimMark, marks: Marks) -> tuple[Topic, str, list[NoteMark]]:
    out = [note for note in marks.heard if note.out_of_tune]
    worst = max(out, key=lambda note: abs(note.cents or 0.0))
    side = "sharp" if (worst.cents or 0.0) > 0 else "flat"
    return (
        Topic.TUNING,
        f"{len(out)} notes stood outside {aim.asked:.0f} cents, {worst.written} furthest, "
        f"{abs(worst.cents or 0.0):.0f} cents {side}: listen into each before moving on.",
        out,
    )


_SHORT: dict[AimName, Callable[[AimMark, Marks], tuple[Topic, str, list[NoteMark]]]] = {
    AimName.CLEAN: _short_of_clean,
    AimName.EVENNESS: _short_of_even,
    AimName.CENTS: _short_of_tune,
}


def _fingers(seen: Observation) -> tuple[str, ...]:
    if seen.topic in (Topic.CROSSING, Topic.BLIP) and seen.frm is not None and seen.detail:
        return (f"fingers: {seen.detail} (our own estimate of what is hard)",)
    return ()


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."
