"""Cautions at the right moment, in plain words; what hurts belongs to a clinician.

No amount of playing is ever called safe, and no sound level is named: the microphone isn't
calibrated. Sources: rests, G. Klickstein, The Musician's Way, p. 75 (five minutes after 25 of
practising alone); over-breathing, HealthLink BC, 'Hyperventilation'; pain, NASM-PAMA student
information sheet and BAPAM, 'Return to play'; loudness at the player's ear, Sound Advice Note 12.
"""

from __future__ import annotations

REST_AFTER_MINUTES = 25.0
"""Klickstein, The Musician's Way, p. 75."""
AIR_ROUNDS_BEFORE_PAUSE = 3
"""Our own estimate; no published figure. Stopping sooner is always right."""

PAIN = (
    "Pain, numbness or weakness: stop. This program can't judge it; see a physician or "
    "physiotherapist, ideally one who treats musicians."
)
HEARING = (
    "A flute is loud at the player's own ear. Ringing or dull hearing afterwards: rest your ears, "
    "and ask an audiologist if it returns. Where you study or work, local rules come first."
)
DIZZY = (
    "Dizzy or tingling? Stop, sit down, breathe normally until it has gone. If it returns, or you "
    "have chest pain or faint, stop practising and ask a doctor."
)
AIR_TODAY = (
    "There are rounds on air alone today: breathe normally in between, and skip any of them."
)
REST = (
    "About 25 minutes since the last rest: put the flute down for five minutes, move and drink. "
    "Rest sooner when tired or uncomfortable."
)
AIR_PAUSE = "That was a good deal of blowing: flute down, a few ordinary breaths."


def cautions_today(has_air_only: bool) -> tuple[str, ...]:
    """What to read before the session starts, one sentence or two each."""
    return (PAIN, HEARING, AIR_TODAY, DIZZY) if has_air_only else (PAIN, HEARING)


def care_due(minutes_played_since_rest: float, air_only_rounds: int) -> str | None:
    """What to say now, or None; `air_only_rounds`: in a row, since the last rest."""
    if minutes_played_since_rest >= REST_AFTER_MINUTES:
        return REST
    if air_only_rounds and air_only_rounds % AIR_ROUNDS_BEFORE_PAUSE == 0:
        return f"{AIR_PAUSE} {DIZZY}"
    return None
