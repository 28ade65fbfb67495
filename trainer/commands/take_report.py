"""A take as `trainer listen` prints it: one JSON object, or a plain table.

The object, stable: `sample_rate_hz`, `a4_hz`, `first_beat_s`, `notes`, `summary`, and `warnings`
(with a routine also `advice`, which the command adds). Each note has `index` (place among the
expected notes, or among the notes played when nothing was expected; null for an extra one),
`expected` (sounding pitch 'F#5' or null), `midi` (fractional number of what sounded, or null),
`state` (played, missed, extra, not judged), `onset_s` (the stroke), `onset_sure` (false where the
room rings over it), `speaks_s` (where the tone stands), `end_s`, `cents`, `cents_spread`,
`drift_cents`, `level_db` (dBFS), `start` (slurred, legato tongue, tongued, breath, silent air, not
judged; null for a missed note), `start_certainty` (0 to 1, or null), `attack_ms`, `vibrato_hz`,
`vibrato_cents` (half of peak to peak; null where a room hides it), `tone` (`harmonic_balance_db`,
`noise_share_db`, `brightness`), `blip`, `instead_of`. What was not measured is null; no time is
negative.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from trainer.ear.heard import HeardNote, State, Take
from trainer.figures.round_measures import RoundMeasures
from trainer.music.note import Start
from trainer.music.pitch import sharp_name

SUMMARY = ("played", "missed", "extra", "lead_ms", "evenness_ms", "tempo_bpm", "cents_median")
"""What is printed of the round as a whole: fields of `RoundMeasures`."""
NOT_JUDGED = "not judged"


def take_json(take: Take, measures: RoundMeasures) -> dict[str, Any]:
    """The take as plain values, ready for `json.dumps`; measures: of this take."""
    return {
        "sample_rate_hz": take.sample_rate_hz,
        "a4_hz": take.a4_hz,
        "first_beat_s": _rounded(take.first_beat_s, 4),
        "notes": [_note_json(note) for note in take.notes],
        "summary": {name: _rounded(getattr(measures, name), 3) for name in SUMMARY}
        | {"breaths_s": [[_rounded(a, 3), _rounded(b, 3)] for a, b in take.breaths_s]},
        "warnings": list(take.warnings),
    }


def _note_json(note: HeardNote) -> dict[str, Any]:
    tone = None
    if note.tone is not None:
        tone = {name: _rounded(value, 2) for name, value in asdict(note.tone).items()}
    return {
        "index": note.index,
        "expected": None if note.expected is None else str(note.expected),
        "midi": _rounded(note.midi, 4),
        "state": str(note.state),
        "onset_s": _rounded(note.onset_s, 4),
        "onset_sure": note.onset_sure,
        "speaks_s": _rounded(note.speaks_s, 4),
        "end_s": _rounded(note.end_s, 4),
        "cents": _rounded(note.cents, 2),
        "cents_spread": _rounded(note.cents_spread, 2),
        "drift_cents": _rounded(note.drift_cents, 2),
        "level_db": _rounded(note.level_db, 2),
        "start": _start_word(note),
        "start_certainty": _rounded(note.start_certainty, 3),
        "attack_ms": None if note.attack_s is None else _rounded(1000 * note.attack_s, 1),
        "vibrato_hz": _rounded(note.vibrato_hz, 2),
        "vibrato_cents": _rounded(note.vibrato_cents, 2),
        "tone": tone,
        "blip": note.blip,
        "instead_of": note.instead_of,
    }


def _start_word(note: HeardNote) -> str | None:
    """How the note started in the contract's words: by sound alone a back stroke is a stroke."""
    if note.state is State.MISSED:
        return None
    if note.start is None:
        return NOT_JUDGED
    return str(Start.TONGUED if note.start is Start.BACK_TONGUED else note.start)


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(float(value), digits)


def take_text(take: Take, measures: RoundMeasures) -> str:
    """A table for the terminal, one line a note, then the round as a whole."""
    lines = [f"{'note':6}{'':12}{'at s':>8}{'long ms':>9}{'cents':>8}{'dB':>7}  start"]
    lines += [_note_line(note) for note in take.notes]
    lines.append(
        f"{measures.played} played, {measures.missed} missed, {measures.extra} not asked for."
    )
    if measures.evenness_ms is not None:
        lines.append(f"Evenness: {measures.evenness_ms:.0f} ms about your own line.")
    if measures.tempo_bpm is not None:
        lines.append(f"Tempo played: {measures.tempo_bpm:.1f}.")
    return "\n".join([*lines, *take.warnings])


def _note_line(note: HeardNote) -> str:
    name = sharp_name(round(note.midi)) if note.midi is not None else "–"
    if note.expected is not None:
        name = str(note.expected)
    if note.onset_s is None or note.end_s is None:
        return f"{name:6}{note.state}"
    cents = "" if note.cents is None else f"{note.cents:+.1f}"
    level = "" if note.level_db is None else f"{note.level_db:.0f}"
    long_ms = 1000 * (note.end_s - note.onset_s)
    return (
        f"{name:6}{note.state:12}{note.onset_s:8.3f}{long_ms:9.0f}{cents:>8}{level:>7}"
        f"  {_start_word(note) or ''}{'  (blip before it)' if note.blip else ''}"
    )
