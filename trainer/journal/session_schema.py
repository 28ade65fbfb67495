"""The form of a session's file, version 2, as one table of fields.

Reader, writer, JSON Schema, index and exports are made from the tables below: a new line is a row
here and a field in `journal.log`. Older forms: `trainer.journal.older`.

One YAML file (UTF-8) holds one session. Times carry their offset from UTC. What was not measured
is left out; a reader leaves out what it doesn't know.

    version: 2                        always
    session: 2026-11-23_17-05-12-3fa9c1   the session's own name, kept when its file is copied
    student: Ilse                     may be missing, like every line below but 'started'
    routine: Morning on the hill      title of the teacher's routine
    routine_file: morning.yaml
    instrument: flute
    a4_hz: 440.0
    started: 2026-11-23 17:05:12+01:00   always; its date is the day the session counts for
    ended: 2026-11-23 17:41:03+01:00     missing when the session was cut off
    elapsed_s: 2151.0                 start to end, rests included
    felt: light                       the student's own word
    remark: ...                       the student's own words
    private: true                     'felt' and 'remark' are for the student alone: they stay out
                                      of exports and of the lesson page
    remarks:                          words added later; the trainer adds them at the file's end
    - {at: 2026-11-24 08:10:00+01:00, remark: ..., private: true}   may lack at, private
    asked:                            what the routine asked for, in its order
    - {exercise: hill-scale, title: D major, minutes: 5}
    rounds:                           every finished round, in the order played
    - exercise: hill-scale            always
      title: D major, full range
      kind: technique                 technique, speed climb, voicing, long tones, passage, knot
      number: 1                       1 for the exercise's first round of the session
      key: D major
      knot: [C#5, D5]                 written pitches of the knot practised; a knot's rounds alone
      articulation: slurred           slurred, legato tongue, single, air-only, air-only silent,
                                      double, reverse double
      tempo_bpm: 72                   always: the tempo asked for
      started: 2026-11-23 17:07:40+01:00   always
      seconds: 31.2                   always: time played, count-in left out
      aims: {cents: 10, evenness_ms: 25, clean: 0.95}
      secure: false                   everything asked for was heard; missing: not judged
      advice: ...                     the one sentence said afterwards
      topic: ...                      what it was about
      strength: 1.8                   how many times over what is worth a word, where that is known
      felt: tight
      disagreed: true                 the student did not agree with the advice
      heard_from: lesson.m4a          the sound file it was heard in; missing: practised here
      measures: {played, missed, extra, lead_ms, evenness_ms, tempo_bpm, cents_median,
                 starts_unsure}       missing when the trainer did not listen
      breaths_s: [[8.1, 8.5]]         start and end of each breath, seconds into the take
      warnings: [...]                 what was wrong with the sound
      notes:                          one line a note, extra notes where they sounded
      - {note: F#5, cents: 4.0, spread: 3.1, drift: -2.0, off_ms: 12, level_db: -23.1,
         start: tongued, start_certainty: 0.98, attack_ms: 41, vibrato_hz: 5.1,
         vibrato_cents: 12.0, harmonics_db: -3.2, noise_db: -31.0, brightness: 2.1, blip: true}
      - {note: G5, state: missed}     state: played (when left out), missed, extra, not judged
      - {note: G#5, state: extra, instead_of: G5}

A note's line: `note` is the written pitch (an extra note: what sounded, spelled with sharps; left
out when unknown); `cents`, `spread`, `drift` in cents against the tuning in force, sharp positive;
`off_ms` is the onset against the player's own line, late positive, left out where it has no place
(after a breath, or too few notes for a line); `level_db` re full scale, never a sound pressure
level; `start_certainty` is the chance, from 0 to 1, that the likeliest start was right: where it
was not sure, `start` is left out and the start was not judged; `attack_ms` to 3 dB below the steady
level; `vibrato_cents` half of peak to peak; `harmonics_db`, `noise_db`, `brightness` as in
`trainer.ear.heard.Tone`; `blip`: a false note sounded just before this one; `instead_of`: the note
it replaced.

A round's measures are counted as `trainer.figures` says: `lead_ms` is the median of onset minus
beat; `evenness_ms` the standard deviation of its notes' `off_ms`; `tempo_bpm` the tempo played, in
the middle; `cents_median` that of the right notes; `starts_unsure`, left out when 0, of how many
played notes the start was not judged. `older: {evenness_ms, cents_median}` stands in their place,
when an older file is read, where its notes weren't kept: as they were counted then.
"""

from __future__ import annotations

from trainer.ear.heard import State, Tone
from trainer.figures.round_measures import OlderMeasures, RoundMeasures
from trainer.journal.field_kinds import (
    ArticulationName,
    Form,
    Inline,
    Kept,
    KeptFields,
    Number,
    PitchName,
    PitchNames,
    Record,
    Records,
    Spans,
    Text,
    Texts,
    Time,
    Truth,
    Whole,
    Word,
)
from trainer.journal.log import (
    SCHEMA_VERSION,
    AskedExercise,
    LaterRemark,
    NoteLog,
    RoundLog,
    SessionLog,
)
from trainer.music.note import Start
from trainer.routine.round import Aims, RoundKind

HEADING = """\
# A practice session, one line a note: yours to read, copy and keep.
# cents: above 0 sharp, below 0 flat.  off_ms: above 0 late, below 0 early.
# level_db: against the loudest the microphone can take, not the loudness in the room.
"""

DAY_S = 86_400
"""No session lasts longer."""
COUNT = Whole(least=0, greatest=1_000_000)
TEMPO = Number(least=1, greatest=1_000)
ON_NOTE = "As measured on this note."
ON_ROUND = "As measured over the round."
ASKED_FOR = "What the teacher asked for."

TONE: KeptFields = (
    Kept("harmonics_db", Number(), ON_NOTE, "harmonic_balance_db"),
    Kept("noise_db", Number(), ON_NOTE, "noise_share_db"),
    Kept("brightness", Number(decimals=2), ON_NOTE),
)

NOTE: KeptFields = (
    Kept(
        "note",
        PitchName(),
        "The written pitch: 'F#5'.",
        "written",
        required_unless=("state", State.EXTRA),
    ),
    Kept(
        "state",
        Word(State),
        "'played' when left out.",
        strict=True,
        absent=State.PLAYED,
        tacit=True,
    ),
    Kept("cents", Number(), ON_NOTE),
    Kept("spread", Number(), ON_NOTE, "cents_spread"),
    Kept("drift", Number(), ON_NOTE, "drift_cents"),
    Kept("off_ms", Number(decimals=0), ON_NOTE),
    Kept("level_db", Number(), ON_NOTE),
    Kept("attack_ms", Number(decimals=0), ON_NOTE),
    Kept("vibrato_hz", Number(decimals=2), ON_NOTE),
    Kept("vibrato_cents", Number(), ON_NOTE),
    Kept("start", Word(Start), "How it began; left out where that wasn't sure."),
    Kept(
        "start_certainty",
        Number(decimals=3, least=0, greatest=1),
        "Chance that the likeliest start is right.",
    ),
    Kept("", Inline(TONE, Tone), "", "tone"),
    Kept("blip", Truth(), "A false note sounded just before this one.", absent=False, tacit=True),
    Kept("instead_of", PitchName(), "The note an extra one replaced."),
)

AIMS: KeptFields = (
    Kept("cents", Number(), ASKED_FOR),
    Kept("evenness_ms", Number(), ASKED_FOR),
    Kept("clean", Number(decimals=3, least=0, greatest=1), ASKED_FOR),
)

OLDER: KeptFields = (
    Kept("evenness_ms", Number(), "As an older trainer counted it."),
    Kept("cents_median", Number(), "As an older trainer counted it."),
)

MEASURES: KeptFields = (
    Kept("played", COUNT, "Notes.", required=True, indexed=True),
    Kept("missed", COUNT, "Notes.", required=True, indexed=True),
    Kept("extra", COUNT, "Notes.", required=True, indexed=True),
    Kept("lead_ms", Number(), ON_ROUND),
    Kept("evenness_ms", Number(), ON_ROUND, indexed=True),
    Kept("tempo_bpm", TEMPO, ON_ROUND),
    Kept("cents_median", Number(), ON_ROUND),
    Kept(
        "starts_unsure", COUNT, "Played notes whose start was not judged.",
        absent=0, tacit=True, indexed=True,
    ),
    Kept("older", Record(OLDER, OlderMeasures), "Figures that can't be counted anew."),
)  # fmt: skip

ROUND: KeptFields = (
    Kept(
        "exercise", Text(), "The exercise's id in the routine.", "exercise_id",
        required=True, indexed=True,
    ),
    Kept("title", Text(), "What it is called.", absent="", indexed=True),
    Kept("kind", Word(RoundKind), "What sort of practice it was.", required=True, indexed=True),
    Kept(
        "number", Whole(least=1, greatest=1_000_000),
        "1 for the exercise's first round of the session.", absent=1, indexed=True,
    ),
    Kept("key", Text(), "The key: 'D major'.", absent="", indexed=True),
    Kept(
        "knot", PitchNames(), "Written pitches of the knot practised.",
        absent=(), tacit=True, indexed=True,
    ),
    Kept(
        "articulation", ArticulationName(), "How the notes were to begin.",
        required=True, indexed=True,
    ),
    Kept("tempo_bpm", TEMPO, "The tempo asked for.", required=True, indexed=True),
    Kept("started", Time(), "When its first beat fell.", required=True, indexed=True),
    Kept(
        "seconds", Number(least=0, greatest=DAY_S), "Time played, count-in left out.",
        required=True, indexed=True,
    ),
    Kept("aims", Record(AIMS, Aims), ASKED_FOR, absent=Aims(), tacit=True),
    Kept(
        "secure", Truth(), "Nothing amiss, or in a climb: the tempo held; missing: not judged.",
        indexed=True,
    ),
    Kept("advice", Text(), "The one sentence said afterwards.", absent=""),
    Kept("topic", Text(), "What it was about.", absent=""),
    Kept(
        "strength",
        Number(decimals=2, least=0),
        "How many times over what is worth a word it was.",
    ),
    Kept("felt", Text(), "The student's own word on the round.", absent=""),
    Kept(
        "disagreed", Truth(), "The student did not agree with the advice.",
        absent=False, tacit=True,
    ),
    Kept(
        "heard_from", Text(), "The sound file it was heard in, where it was not practised here.",
        absent="", tacit=True,
    ),
    Kept("measures", Record(MEASURES, RoundMeasures), "Missing when the trainer did not listen."),
    Kept(
        "breaths_s", Spans(), "Start and end of each breath, seconds into the take.",
        absent=(), tacit=True,
    ),
    Kept("warnings", Texts(), "What was wrong with the sound.", absent=(), tacit=True),
    Kept(
        "notes", Records(NOTE, NoteLog, each_counts=True),
        "One line a note, extra notes where they sounded.", absent=(),
    ),
)  # fmt: skip

REMARK: KeptFields = (
    Kept("at", Time(), "When they were added."),
    Kept("remark", Text(), "The student's own words.", required=True),
    Kept(
        "private", Truth(), "They stay out of exports and of the lesson page.",
        absent=False, tacit=True, if_wrong=True,
    ),
)  # fmt: skip

ASKED: KeptFields = (
    Kept("exercise", Text(), "The exercise's id in the routine.", "exercise_id", required=True),
    Kept("title", Text(), "What it is called.", absent=""),
    Kept("minutes", Number(least=0, greatest=1_440), "How long it was to take, pauses included."),
)

SESSION: KeptFields = (
    Kept("version", Form(SCHEMA_VERSION), "The form of this file.", required=True, indexed=True),
    Kept(
        "session", Text(), "The session's own name, the same in every copy of the file.",
        "session_id", absent="", indexed=True,
    ),
    Kept("student", Text(), "Who practised.", absent="", indexed=True),
    Kept(
        "routine", Text(), "Title of the teacher's routine.", "routine_title",
        absent="", indexed=True,
    ),
    Kept("routine_file", Text(), "The routine's file.", absent="", indexed=True),
    Kept(
        "instrument", Text(), "What was played.", absent=SessionLog.instrument, indexed=True
    ),
    Kept(
        "a4_hz", Number(least=380, greatest=480), "Tuning asked for, in Hz.",
        absent=SessionLog.a4_hz, indexed=True,
    ),
    Kept(
        "started", Time(), "Its date is the day the session counts for.",
        required=True, indexed=True,
    ),
    Kept("ended", Time(), "Missing when the session was cut off.", indexed=True),
    Kept(
        "elapsed_s", Number(least=0, greatest=DAY_S), "Start to end in seconds, rests included.",
        indexed=True,
    ),
    Kept("felt", Text(), "The student's own word on the session.", absent=""),
    Kept("remark", Text(), "The student's own words.", absent=""),
    Kept(
        "private", Truth(), "'felt' and 'remark' stay out of exports and of the lesson page.",
        # where it can't be understood: better hidden by mistake than shown
        absent=False, tacit=True, if_wrong=True,
    ),
    Kept(
        "remarks", Records(REMARK, LaterRemark), "Words added later.", absent=(), tacit=True
    ),
    # written even when empty: an inner collection keeps the lines around it apart
    Kept(
        "asked", Records(ASKED, AskedExercise), "What the routine asked for, in its order.",
        absent=(), indexed=True,
    ),
    Kept(
        "rounds", Records(ROUND, RoundLog), "Every finished round, in the order played.", absent=()
    ),
)  # fmt: skip
