"""An ear that remembers what it heard in any test before, so that no sound is listened to twice.

What an ear hears is settled by how it was set up and by what it was told since, piece by piece.
Each answer is kept under all of that; the ear itself is made, and told everything, only when an
answer isn't known.
"""

from __future__ import annotations

import hashlib
import pickle
from collections import OrderedDict
from typing import Any

import pytest

from trainer.ear.live.live_ear import LiveEar
from trainer.ear.take_listener import TakeListener
from trainer.session import round_recorder, untimed_round

MOST_ANSWERS = 60_000
"""So many are kept, those of about a hundred rounds."""
_answers: OrderedDict[bytes, Any] = OrderedDict()


class _Rehearsed:
    """What was told to an ear, and the ear itself where it was needed."""

    def __init__(self, ear: type, *setting: Any, **named: Any) -> None:
        self._make = lambda: ear(*setting, **named)
        self._key = _key(b"", ear.__name__, setting, named)
        self._untold: list[tuple[str, tuple[Any, ...], _AtOnce | None]] = []
        self._ear: Any = None

    def _tell(self, name: str, *told: Any, awaited: _AtOnce | None = None) -> None:
        self._key = _key(self._key, name, told)
        self._untold.append((name, told, awaited))

    def _ask(self, name: str, *told: Any) -> Any:
        self._tell(name, *told)
        if self._key not in _answers:
            _answers[self._key] = self.catch_up()
            if len(_answers) > MOST_ANSWERS:
                _answers.popitem(last=False)
        return _answers[self._key]

    def catch_up(self) -> Any:
        """Tell the ear what it wasn't told yet; its last answer."""
        if self._ear is None:
            self._ear = self._make()
        answer = None
        for name, told, awaited in self._untold:
            asked = getattr(self._ear, name)
            answer = asked(*map(_real, told)) if callable(asked) else asked
            if awaited is not None:
                awaited.sounds = answer
        self._untold.clear()
        return answer


class _AtOnce:
    """Sounds that a listener gives when somebody really looks at them."""

    def __init__(self, listener: RehearsedListener) -> None:
        self.listener = listener
        self.key = b""
        self.sounds: tuple[Any, Any] | None = None


class _Half:
    """One of the two."""

    def __init__(self, whole: _AtOnce, place: int) -> None:
        self.whole, self.place = whole, place

    def __getstate__(self) -> object:
        return self.whole.key, self.place


class RehearsedListener(_Rehearsed):
    """In place of a `TakeListener`."""

    def __init__(self, *setting: Any, **named: Any) -> None:
        super().__init__(TakeListener, *setting, **named)

    def learn(self, *told: Any) -> None:
        self._tell("learn", *told)

    def feed(self, *told: Any) -> None:
        self._tell("feed", *told)

    def at_once(self, *told: Any) -> tuple[_Half, _Half]:
        whole = _AtOnce(self)
        self._tell("at_once", *told, awaited=whole)
        whole.key = self._key
        return _Half(whole, 0), _Half(whole, 1)

    def take(self, *told: Any) -> Any:
        return self._ask("take", *told)

    @property
    def way(self) -> Any:
        return self._ask("way")

    @property
    def leaked(self) -> Any:
        return self._ask("leaked")


class RehearsedLiveEar(_Rehearsed):
    """In place of a `LiveEar`."""

    def __init__(self, *setting: Any, **named: Any) -> None:
        super().__init__(LiveEar, *setting, **named)

    def feed(self, *told: Any) -> Any:
        return self._ask("feed", *told)


def remember_what_is_heard(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the rounds of a session be heard by such ears for the time of a test."""
    monkeypatch.setattr(round_recorder, "TakeListener", RehearsedListener)
    for module in (round_recorder, untimed_round):
        monkeypatch.setattr(module, "LiveEar", RehearsedLiveEar)


def _key(before: bytes, *added: Any) -> bytes:
    return hashlib.blake2b(before + pickle.dumps(added), digest_size=16).digest()


def _real(told: Any) -> Any:
    """What was told, with a promised sound given now."""
    if not isinstance(told, _Half):
        return told
    if told.whole.sounds is None:
        told.whole.listener.catch_up()
    assert told.whole.sounds is not None
    return told.whole.sounds[told.place]
