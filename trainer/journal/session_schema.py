"""The form of a session's file, version 1 (as JSON Schema: `trainer.journal.json_schema`).

One YAML file (UTF-8) holds one session. Times carry their offset from UTC. What was not measured
is left out; a reader leaves out what it doesn't know.

    version: 1                        always
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
      articulation: slurred           slurred, legato tongue, single, air-only, air-only silent,
                                      double, reverse double
      tempo_bpm: 72                   always: the tempo asked for
      started: 2026-11-23 17:07:40+01:00   always
      seconds: 31.2                   always: time played, count-in left out
      aims: {cents: 10, evenness_ms: 25, clean: 0.95}
      secure: false                   everything asked for was heard; missing: not judged
      advice: ...                     the one sentence said afterwards
      topic: ...                      what it was about
      felt: tight
      disagreed: true                 the student did not agree with the advice
      measures: {played, missed, extra, lead_ms, steadiness_ms, evenness_ms, evenness_share,
                 tempo_bpm, odd_even_ms, odd_even_db, cents_median, cents_spread, level_db}
                                      missing when the trainer did not listen
      breaths_s: [[8.1, 8.5]]         start and end of each breath, seconds into the take
      warnings: [...]                 what was wrong with the sound
      notes:                          one line a note, extra notes where they sounded
      - {note: F#5, cents: 4.0, spread: 3.1, drift: -2.0, off_ms: 12, level_db: -23.1,
         start: tongued, attack_ms: 41, vibrato_hz: 5.1, vibrato_cents: 12.0,
         harmonics_db: -3.2, noise_db: -31.0, brightness: 2.1, blip: true}
      - {note: G5, state: missed}     state: played (when left out), missed, extra, not judged
      - {note: G#5, state: extra, instead_of: G5}

A note's line: `note` is the written pitch (an extra note: what sounded, spelled with sharps; left
out when unknown); `cents`, `spread`, `drift` in cents against the tuning in force, sharp positive;
`off_ms` is onset minus beat, late positive; `level_db` re full scale, never a sound pressure
level; `attack_ms` to 3 dB below the steady level; `vibrato_cents` half of peak to peak;
`harmonics_db`, `noise_db`, `brightness` as in `trainer.ear.heard.Tone`; `blip`: a false note
sounded just before this one; `instead_of`: the note it replaced.
"""

from __future__ import annotations

HEADING = """\
# A practice session, one line a note: yours to read, copy and keep.
# cents: above 0 sharp, below 0 flat.  off_ms: above 0 late, below 0 early.
# level_db: against the loudest the microphone can take, not the loudness in the room.
"""

NOTE_FIELDS: dict[str, str] = {
    "cents": "cents",
    "spread": "cents_spread",
    "drift": "drift_cents",
    "off_ms": "off_ms",
    "level_db": "level_db",
    "attack_ms": "attack_ms",
    "vibrato_hz": "vibrato_hz",
    "vibrato_cents": "vibrato_cents",
}
"""Key in the file → numeric field of `NoteLog`."""

TONE_FIELDS: dict[str, str] = {
    "harmonics_db": "harmonic_balance_db",
    "noise_db": "noise_share_db",
    "brightness": "brightness",
}
"""Key in the file → field of `Tone`."""

MEASURES = (
    "lead_ms",
    "steadiness_ms",
    "evenness_ms",
    "evenness_share",
    "tempo_bpm",
    "odd_even_ms",
    "odd_even_db",
    "cents_median",
    "cents_spread",
    "level_db",
)
"""The measures of a round that may be missing; key and field alike."""

AIMS = ("cents", "evenness_ms", "clean")

RANGES: dict[str, tuple[float, float]] = {
    "a4_hz": (380, 480),
    "elapsed_s": (0, 86_400),
    "seconds": (0, 86_400),
    "minutes": (0, 1_440),
    "tempo_bpm": (1, 1_000),
    "number": (1, 1_000_000),
    "played": (0, 1_000_000),
    "missed": (0, 1_000_000),
    "extra": (0, 1_000_000),
    "clean": (0, 1),
}
"""Least and greatest value that can be meant, by key."""

WIDEST = (-1_000_000.0, 1_000_000.0)
"""For every other number."""

WHOLE_IN_FILE = {"off_ms", "attack_ms"}
DECIMALS = {"evenness_share": 3, "clean": 3, "brightness": 2, "vibrato_hz": 2}
DEFAULT_DECIMALS = 1


def rounded(key: str, value: float) -> float | int:
    """A number as it stands in the file: no finer than it could be measured, 72 and not 72.0."""
    decimals = 0 if key in WHOLE_IN_FILE else DECIMALS.get(key, DEFAULT_DECIMALS)
    figure = round(value, decimals)
    return int(figure) if figure == int(figure) else figure
