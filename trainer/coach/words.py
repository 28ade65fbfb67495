"""The one thing worth saying after a round, in a sentence a teacher could say.

Nothing is praised that was not heard, and nothing is called wrong that could not be judged.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from trainer.coach import thresholds
from trainer.coach.advice import ABOUT, Advice, Topic
from trainer.coach.held_facts import HELD_KINDS, held_facts
from trainer.coach.history import History
from trainer.coach.line_played import is_unplayed, other_notes
from trainer.coach.marks import AimMark, AimName, Marks, NoteMark
from trainer.coach.news import news
from trainer.coach.observations.group_places import furthest_place_ms
from trainer.coach.observations.knot import behind, own_steps
from trainer.coach.observations.observation import Observation, names
from trainer.coach.observe import observe, observe_in_turn
from trainer.coach.round_verdict import RoundVerdict, round_verdict
from trainer.coach.sentences import sentence
from trainer.ear.heard import Take
from trainer.figures.enough import ENOUGH_SHARE, FIGURE_NOTES
from trainer.music.note import Articulation
from trainer.routine.round import Round, RoundKind
from trainer.wording.sentence_list import say


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
    what is news. `disputed`: what the student disagreed with here today; it is not said again, and
    where nothing else is found nothing is praised either.
    """
    if (doubt := _about_the_sound(round_, take, marks, earlier)) is not None:
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
                *_since(round_, seen, marks, earlier, first.topic),
                *news(first, marks, take, history),
                *figures(marks),
            ),
            first.note_indices,
            first.strength,
        )
    if len(marks.judged) < ENOUGH_SHARE * len(marks.notes):
        return _too_little(round_, marks)
    if round_.kind is RoundKind.KNOT:
        return _knot(marks, earlier, disputed)
    unmet = [aim for aim in marks.aims if aim.met is False and AIM_TOPICS[aim.name] not in disputed]
    apart = _came_apart(marks) if round_.kind is RoundKind.CLIMB else None
    if unmet:
        advice = _short_of(unmet[0], marks)
    elif apart is not None and apart.topic not in disputed:
        advice = apart
    else:
        advice = _left_to_you(marks) if apart else _nothing_else(marks, earlier, disputed)
    since = (*_since(round_, (), marks, earlier, advice.topic), *news(None, marks, take, history))
    return replace(advice, evidence=(*advice.evidence, *since))


def _came_apart(marks: Marks) -> Advice | None:
    """A climb's round that did not hold by its strain alone; None where it held."""
    if round_verdict(marks) is not RoundVerdict.BROKE:
        return None
    lost = [note for note in marks.judged if note.troubled or note.early]
    far = sorted(marks.heard, key=lambda note: -abs(note.off_ms or 0.0))[:FAR_SHOWN]
    slips = [note for note in lost if not note.clean]
    shown = sorted(lost or far, key=lambda note: note.index)
    return Advice(
        _topic_of(slips) if slips else Topic.EVENNESS,
        say("came apart", places=names(note.written for note in shown)),
        figures(marks),
        tuple(note.index for note in shown),
    )


FAR_SHOWN = 4
"""Notes that lay furthest off, where none did so alone."""


def _nothing_else(marks: Marks, earlier: Sequence[Marks], disputed: frozenset[Topic]) -> Advice:
    """What was well; nothing at all where the student hears the round otherwise."""
    found = {one.topic for one in observe(marks.kind, marks, earlier)} | {
        AIM_TOPICS[aim.name] for aim in marks.aims if aim.met is False
    }
    return _left_to_you(marks) if found & disputed else _secure(marks)


def _left_to_you(marks: Marks) -> Advice:
    return Advice(Topic.LEFT_OPEN, say("left to you"), figures(marks))


AIM_TOPICS = {
    AimName.CLEAN: Topic.NOTES,
    AimName.EVENNESS: Topic.EVENNESS,
    AimName.CENTS: Topic.TUNING,
}
"""What an aim missed is about, for the student to disagree with."""


def _since(
    round_: Round,
    seen: Sequence[Observation],
    marks: Marks,
    earlier: Sequence[Marks],
    said: Topic,
) -> tuple[str, ...]:
    """What has become of the thing said after the last round of the same kind; `said`: now."""
    alike = [index for index, other in enumerate(earlier) if _same_task(marks, other)]
    if not alike or round_.kind is RoundKind.KNOT:
        return ()
    last = alike[-1]
    before = observe(round_.kind, earlier[last], earlier[:last])
    if not before:
        return ()
    alike_now = [one for one in seen if one.topic is before[0].topic]
    if not alike_now and said is not before[0].topic:
        return (f"better than last round: {ABOUT[before[0].topic]}",)
    same = [one for one in alike_now if {one.frm, one.to} == {before[0].frm, before[0].to}]
    return (f"last round: {before[0].evidence[0]}",) if same else ()


def _same_task(marks: Marks, other: Marks) -> bool:
    task = (marks.exercise_id, marks.kind, marks.articulation, marks.tempo_bpm)
    return task == (other.exercise_id, other.kind, other.articulation, other.tempo_bpm)


def figures(marks: Marks) -> tuple[str, ...]:
    """The round in figures, one a line; only what was measured."""
    lines = [f"{len(marks.heard)} of {len(marks.judged)} notes played"]
    if (slips := [note for note in marks.judged if not note.clean]) and marks.heard:
        lines.append(f"not clean: {names((note.written for note in slips), most=6)}")
    if unsure := marks.measures.starts_unsure:
        lines.append(f"start not clear enough to judge (?): {unsure} of {len(marks.heard)} notes")
    asked = {aim.name for aim in marks.aims}
    spread_ms, middle_cents = marks.measures.evenness_ms, marks.measures.cents_median
    if spread_ms is not None and not marks.blurred and AimName.EVENNESS not in asked:
        lines.append(f"evenness: within {spread_ms:.0f} ms")
    if middle_cents is not None:
        lines.append(f"overall: {_how_high(round(middle_cents))}")
    lines += [fact] if (fact := held_facts(marks)) else []
    lines += [_aim_line(aim) for aim in marks.aims]
    return tuple(lines)


def _how_high(cents: int) -> str:
    """'1 cent sharp'."""
    if cents == 0:
        return "neither sharp nor flat"
    return f"{abs(cents)} cent{'s' * (abs(cents) > 1)} {'sharp' if cents > 0 else 'flat'}"


def _aim_line(aim: AimMark) -> str:
    if aim.heard is None:
        return f"{aim.name}: too little to judge"
    within = "" if aim.name is AimName.CLEAN else "within "
    heard, asked = _figure(aim, aim.heard), _figure(aim, aim.asked)
    return f"{aim.name}: {within}{heard}; your teacher wants {asked}"


def _figure(aim: AimMark, value: float) -> str:
    if aim.name is AimName.CLEAN:
        return f"{100 * value:.0f} %"
    return f"{value:.0f} {'ms' if aim.name is AimName.EVENNESS else 'cents'}"


# When the sound itself is in doubt ---------------------------------------------------------------


def _about_the_sound(
    round_: Round, take: Take, marks: Marks, earlier: Sequence[Marks]
) -> Advice | None:
    """A warning that is new or that cost too many notes, another line, or nothing heard."""
    lost = 1 - len(marks.judged) / len(marks.notes)
    said = {warning for other in earlier for warning in other.warnings}
    warnings = [one for one in take.warnings if one not in said or lost >= thresholds.LOST_SHARE]
    if warnings:
        return Advice(
            Topic.SOUND,
            say("fix the sound", warning=_sentence(warnings[0])),
            (*take.warnings, f"{len(marks.judged)} of {len(marks.notes)} notes could be judged"),
        )
    if not is_unplayed(marks):
        return None
    if (words := _another_line(round_, marks)) is not None:
        return Advice(Topic.OTHER_LINE, words, ())
    if not marks.heard:
        evidence = f"0 of {len(marks.judged)} notes played"
        if any(other.heard for other in earlier):
            return Advice(Topic.UNHEARD, say("nothing heard this time"), (evidence,))
        return Advice(
            Topic.UNHEARD,
            say("nothing heard"),
            (evidence, "`trainer devices` lists the microphones"),
        )
    return _not_told(round_, marks)


def _another_line(round_: Round, marks: Marks) -> str | None:
    """What is said where the line sounded on other notes, or hardly any of its notes did but
    others; what sounds beside a partner may be the partner."""
    if round_.partner is not None:
        return None
    if marks.moved_by in _OCTAVES:
        return say("moved by octaves", how_far=_OCTAVES[marks.moved_by])
    enough = min(FIGURE_NOTES, len(marks.judged))
    moved = marks.moved_by is not None
    return say("other notes") if moved or other_notes(marks) >= enough else None


_OCTAVES = {
    -24: "two octaves lower", -12: "an octave lower", 12: "an octave higher",
    24: "two octaves higher",
}  # fmt: skip


def _too_little(round_: Round, marks: Marks) -> Advice:
    if marks.judged:
        share = f"{len(marks.judged)} of {len(marks.notes)}"
        return Advice(Topic.SOUND, say("too little heard", share=share), figures(marks))
    return _not_told(round_, marks)


def _not_told(round_: Round, marks: Marks) -> Advice:
    beside = round_.partner is not None
    if marks.heard and not beside and not other_notes(marks):
        words = say("hardly anything heard", places=names(note.written for note in marks.heard))
    else:
        words = say("not told from the partner" if beside else "not told from others")
    return Advice(Topic.SOUND, words, figures(marks))


# When nothing stands out -------------------------------------------------------------------------


def _secure(marks: Marks) -> Advice:
    slips = tuple(note.index for note in marks.judged if not note.clean)
    words = _well(marks) + _came_in(marks) + _stopped(marks)
    return Advice(Topic.SECURE, words, figures(marks), slips)


def _well(marks: Marks) -> str:
    """Praise for what was measured, and for nothing else; none where as much else sounded."""
    if marks.extras >= max(FIGURE_NOTES, len(marks.heard)):
        return say("heard among others", count=marks.extras)
    all_judged = len(marks.judged) == len(marks.notes)
    if slips := [note for note in marks.judged if not note.clean]:
        name = "well but for slips" if all_judged else "heard well but for slips"
        return say(name, places=names(note.written for note in slips)) + _untold_starts(marks)
    if marks.articulation is Articulation.AIR_ONLY_SILENT:
        return say("puffs")
    if (held := _HELD_WELL.get(marks.kind)) is not None and held_facts(marks):
        return say(held(marks))
    words = ["clean", *_even(marks), *_in_tune(marks)]
    praise = " and ".join(filter(None, (", ".join(words[:-1]), words[-1])))
    well = say("all well" if all_judged else "what was heard was well", praise=praise)
    return well + _untold_starts(marks)


def _untold_starts(marks: Marks) -> str:
    """That praise leaves out how the notes began, where too few of them told to find a fault."""
    told = sum(note.heard_start is not None for note in marks.heard)
    if marks.kind in UNTIMED or told >= thresholds.TOLD_SHARE * len(marks.heard):
        return ""
    return " " + say("starts untold")


def _stopped(marks: Marks) -> str:
    """Where the line stood still too seldom for a habit: praise alone would hide it."""
    places = names(marks.notes[index].written for index in marks.stops)
    return " " + say("stopped on the way", places=places) if places else ""


def _came_in(marks: Marks) -> str:
    """That the line began well before or after its first beat: further than who leads or lags a
    little, and further than the delay of a sound card."""
    beats = marks.came_in_beats or 0.0
    halves = int(2 * abs(beats) + 0.25)
    if not halves or abs(beats) * 60 / marks.tempo_bpm < thresholds.CAME_IN_S:
        return ""
    how_far, side = _HALF_BEATS.get(halves, "several beats"), "late" if beats > 0 else "early"
    return " " + say("came in", how_far=how_far, side=side)


_HALF_BEATS = {1: "half a beat", 2: "a beat", 3: "a beat and a half", 4: "two beats"}


UNTIMED = frozenset({RoundKind.VOICING, RoundKind.LONG_TONES, *HELD_KINDS})
"""Kinds in which nobody asks for evenness."""


def _even(marks: Marks) -> tuple[str, ...]:
    """Even, where enough of the notes have a place to say so: hardly any spread, no note late or
    early, no place in the beat that leans and no tempo that bends, be it by chance."""
    placed = sum(note.off_ms is not None for note in marks.heard)
    too_few = placed < ENOUGH_SHARE * len(marks.heard)
    if marks.spread_ms is None or too_few or marks.blurred or marks.kind in UNTIMED:
        return ()
    played_ms = max(thresholds.GROUP_MS, thresholds.EVEN_SHARE * marks.note_ms)
    limit_ms = min(played_ms, thresholds.STRAINS[1] * marks.evenness_limit_ms)
    bends = abs(marks.tempo_change or 0.0) >= thresholds.TEMPO_CHANGE_SHARE
    leans = bends or furthest_place_ms(marks) >= thresholds.GROUP_MS
    return () if marks.spread_ms > limit_ms or leans or _is_late(marks) else ("even",)


def _is_late(marks: Marks) -> bool:
    return any(note.late or note.early for note in marks.judged)


def _in_tune(marks: Marks) -> tuple[str, ...]:
    met = any(aim.met for aim in marks.aims if aim.name is AimName.CENTS)
    return ("in tune",) if met else ()


def _pulses(marks: Marks) -> str:
    asked = marks.manner.vibrato
    return "straight" if asked is not None and asked.per_beat == 0 else "pulses well"


_HELD_WELL: dict[RoundKind, Callable[[Marks], str]] = {
    RoundKind.SETTLING: lambda _: "settled",
    RoundKind.VIBRATO: _pulses,
    RoundKind.SWELLS: lambda _: "swells well",
}
"""The sentence for held notes that went well."""


def _knot(marks: Marks, earlier: Sequence[Marks], disputed: frozenset[Topic]) -> Advice:
    """How the trouble spot's own notes went, when nothing keeps going wrong in them."""
    steps = own_steps(marks, earlier)
    if not steps:
        return _nothing_else(marks, earlier, disputed)
    pitches = (pitch for step in steps for pitch in (step.frm.written, step.to.written))
    spot = "–".join(dict.fromkeys(map(str, pitches)))
    slips = [step.to for step in steps if not step.to.clean]
    if slips and _topic_of(slips) not in disputed:
        places = names(note.written for note in slips)
        return Advice(
            _topic_of(slips),
            say("spot slipped", places=places, spot_note=spot),
            figures(marks),
            tuple(note.index for note in slips),
        )
    if slips or {one.topic for one in observe(marks.kind, marks, earlier)} & disputed:
        return _left_to_you(marks)
    found = behind(steps, marks, steps)
    in_time = found is not None and found.in_time
    words = say("spot clean and in time" if in_time else "spot clean", spot_note=spot)
    return Advice(Topic.SECURE, words, figures(marks))


def _topic_of(slips: Sequence[NoteMark]) -> Topic:
    return Topic.NOTES if any(note.missed or note.wrong for note in slips) else Topic.BLIP


def _short_of(aim: AimMark, marks: Marks) -> Advice:
    """An aim missed without any habit behind it."""
    topic, sentence, notes = _SHORT[aim.name](aim, marks)
    indices = tuple(sorted(note.index for note in notes))
    return Advice(topic, sentence, figures(marks), indices)


def _short_of_clean(_: AimMark, marks: Marks) -> tuple[Topic, str, list[NoteMark]]:
    slips = [note for note in marks.judged if not note.clean]
    return _topic_of(slips), say("slips", places=names(note.written for note in slips)), slips


def _short_of_even(_: AimMark, marks: Marks) -> tuple[Topic, str, list[NoteMark]]:
    placed = [note for note in marks.heard if note.off_ms is not None]
    worst = max(placed, key=lambda note: abs(note.off_ms or 0.0))
    side = "late" if (worst.off_ms or 0.0) > 0 else "early"
    return Topic.EVENNESS, say("uneven by one", a_note=worst.written, side=side), [worst]


def _short_of_tune(_: AimMark, marks: Marks) -> tuple[Topic, str, list[NoteMark]]:
    out = [note for note in marks.heard if note.out_of_tune]
    worst = max(out, key=lambda note: abs(note.cents or 0.0))
    side = "sharp" if (worst.cents or 0.0) > 0 else "flat"
    return Topic.TUNING, say("tuning beyond the aim", a_note=worst.written, side=side), out


_SHORT: dict[AimName, Callable[[AimMark, Marks], tuple[Topic, str, list[NoteMark]]]] = {
    AimName.CLEAN: _short_of_clean,
    AimName.EVENNESS: _short_of_even,
    AimName.CENTS: _short_of_tune,
}


def _fingers(seen: Observation) -> tuple[str, ...]:
    if seen.topic in (Topic.CROSSING, Topic.BLIP) and seen.frm is not None and seen.detail:
        return (f"fingers: {seen.detail}",)
    return ()


def _sentence(text: str) -> str:
    return text if text.endswith((".", "!", "?")) else f"{text}."
