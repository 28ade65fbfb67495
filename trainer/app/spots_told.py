"""The trouble spots in words, for the shelf on the screen and for `trainer journal spots`."""

from __future__ import annotations

from collections.abc import Sequence

from trainer.session.view import ShelvedSpot

EMPTY = "No trouble spots yet. When a change of notes keeps going wrong, it is kept here."
HEALED = "Smooth when last practised"


def spots_text(spots: Sequence[ShelvedSpot]) -> str:
    """A line a spot, the healed ones under a heading of their own."""
    if not spots:
        return EMPTY
    widest = max(len(spot.name) for spot in spots)
    lines = [f"{spot.name:{widest}}   {story(spot)}" for spot in spots if not spot.healed]
    healed = [f"{spot.name:{widest}}   {story(spot)}" for spot in spots if spot.healed]
    if healed:
        lines += [*([""] if lines else []), HEALED, *healed]
    return "\n".join(lines)


def spots_json(spots: Sequence[ShelvedSpot]) -> list[dict[str, object]]:
    """The same for other programs; tempos in beats a minute, times in days from today."""
    return [
        {
            "notes": [str(pitch) for pitch in spot.pitches],
            "exercise": spot.exercise_id,
            "healed": spot.healed,
            "clean_bpm": spot.best_bpm,
            "begin_bpm": spot.begin_bpm,
            "met_days_ago": spot.met_days,
            "practised_days_ago": spot.last_days,
            "due_in_days": spot.due_days,
        }
        for spot in spots
    ]


def story(spot: ShelvedSpot) -> str:
    """'clean at 72   met 12 days ago   due today'."""
    best = "not clean twice yet" if spot.best_bpm is None else f"clean at {spot.best_bpm:.0f}"
    return "   ".join([best, f"met {_ago(spot.met_days)}", _due(spot.due_days)])


def _ago(days: int) -> str:
    if days <= 0:
        return "today"
    return "yesterday" if days == 1 else f"{days} days ago"


def _due(days: int) -> str:
    if days <= 0:
        return "due now"
    return "due tomorrow" if days == 1 else f"due in {days} days"
