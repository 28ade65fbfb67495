"""Where A4 stands in the rooms the student plays in: kept by the room's name, taken for one day.

A small YAML file, the one taken last first:

    - {room: school hall, a4: 442.4, taken: 2026-11-29}

It is never used on another day, or in another room, without being asked for.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path

import yaml

from trainer.app.small_file import write_in, written_in
from trainer.errors import TrainerError
from trainer.music.tuning import HIGHEST_A4_HZ, LOWEST_A4_HZ

HEADING = "# Where A4 is in the rooms you play in.\n"
MOST_ROOMS = 9
"""So many are kept, as there are keys to take them by."""
LONGEST_NAME = 40
"""Of a room; it stands on one line with others."""


@dataclass(frozen=True)
class RoomTuning:
    """The A of one room."""

    room: str
    """As the student calls it; empty: of that day alone."""
    a4_hz: float
    taken: date
    """The day on which it was taken last."""

    @property
    def said(self) -> str:
        """'school hall 442.4'."""
        return f"{self.room} {self.a4_hz:.1f}"


def read_rooms(path: Path) -> tuple[RoomTuning, ...]:
    """The rooms, the one taken last first; none where there is no file.

    Raises TrainerError that says what is wrong in it.
    """
    written = written_in(path) or []
    if not isinstance(written, list):
        raise TrainerError(f"{path} must hold lines such as '- {{room: hall, a4: 442.4}}'.")
    return tuple(_room(path, each) for each in written)


def _room(path: Path, plain: object) -> RoomTuning:
    if isinstance(plain, dict):
        room, a4_hz, taken = (plain.get(key) for key in ("room", "a4", "taken"))
        day = _day(taken)
        if (
            day is not None
            and isinstance(a4_hz, int | float)
            and LOWEST_A4_HZ <= a4_hz <= HIGHEST_A4_HZ
        ):
            return RoomTuning(str(room or "")[:LONGEST_NAME], float(a4_hz), day)
    raise TrainerError(
        f"{path}: '{plain}' is no room; write one such as "
        "'- {room: hall, a4: 442.4, taken: 2026-11-29}'."
    )


def _day(plain: object) -> date | None:
    try:
        return date.fromisoformat(str(plain))
    except ValueError:
        return None


def take_room(path: Path, taken: RoomTuning) -> None:
    """Keep the room's A, and take it for its day. Raises TrainerError."""
    others = (each for each in read_rooms(path) if each.room and each.room != taken.room)
    _write(path, [taken, *others])


def leave_room(path: Path, day: date) -> None:
    """Take no room's A today; those with a name are kept. Raises TrainerError."""
    rooms = read_rooms(path)
    if a4_taken(rooms, day) is not None:
        before = day - timedelta(days=1)
        kept = (each for each in rooms if each.room)
        _write(path, [replace(each, taken=min(each.taken, before)) for each in kept])


def a4_taken(rooms: tuple[RoomTuning, ...], day: date) -> RoomTuning | None:
    """The room whose A was taken last on this day."""
    return rooms[0] if rooms and rooms[0].taken == day else None


def _write(path: Path, rooms: list[RoomTuning]) -> None:
    plain = [
        {"room": each.room, "a4": round(each.a4_hz, 1), "taken": each.taken.isoformat()}
        for each in rooms[:MOST_ROOMS]
    ]
    text = yaml.safe_dump(plain, default_flow_style=None, sort_keys=False, allow_unicode=True)
    write_in(path, HEADING + text)
