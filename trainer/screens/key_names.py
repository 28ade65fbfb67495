"""Keys in words, and the list of them a screen answers to."""

from __future__ import annotations

from collections.abc import Iterable

from textual.binding import Binding
from textual.screen import Screen

KEY_WORDS = {
    "pagedown": "PageDown",
    "pageup": "PageUp",
    "space": "Space",
    "enter": "Enter",
    "escape": "Escape",
    "up": "Up",
    "down": "Down",
    "left": "Left",
    "right": "Right",
    "question_mark": "?",
    "f1": "F1",
    "minus": "-",
    "plus": "+",
    "equals_sign": "=",
    "comma": ",",
    "ctrl+q": "Ctrl-Q",
    "ctrl+p": "Ctrl-P",
    "ctrl+z": "Ctrl-Z",
}

EVERY_APPS = {
    "ctrl+q": "Leave at once; finished rounds are kept",
    "ctrl+p": "Every action by its name",
    "ctrl+z": "Back to the shell; fg comes back here",
}
"""Keys that every app has, most from Textual, and what they do in our words."""
Keys = list[tuple[str, str]]
"""Keys, and what they do: ('PageDown, Space, Enter', 'The next thing')."""


def keys_of(screen: Screen[object]) -> Keys:
    """Key and meaning of every binding of a screen that has a meaning."""
    return _by_meaning(binding for _, binding, _, _ in screen.active_bindings.values())


def keys_of_class(screen: type[Screen[None]]) -> Keys:
    """The same for a kind of screen; those every app has are left out."""
    found: dict[str, Binding] = {}
    for kind in screen.__mro__:
        for binding in Binding.make_bindings(kind.__dict__.get("BINDINGS", ())):
            found.setdefault(binding.key, binding)
    return _by_meaning(found.values())


OTHERWISE = "To set up and to leave"
WISHES = {
    "To play": ("advance", "again", "slower", "faster", "pause", "rest", "take"),
    "To be somewhere else": (
        *("skip", "back", "exercises", "routines", "music", "week", "tuner"),
        *("choose", "up", "down", "further"),
    ),
    "To hear and to say": (
        *("evidence", "hear", "half", "easy", "fine", "hard", "disagree", "remark"),
    ),
}
"""What one may want to do, by the ids of the bindings; whatever isn't here is OTHERWISE."""


def wishes_of(screen: Screen[object]) -> list[tuple[str, Keys]]:
    """The keys of a screen by what one wants to do."""
    bindings = [binding for _, binding, _, _ in screen.active_bindings.values()]
    named = {each for ids in WISHES.values() for each in ids}
    groups = {
        wish: [each for each in bindings if each.id in ids] for wish, ids in WISHES.items()
    } | {OTHERWISE: [each for each in bindings if each.id not in named]}
    return [(wish, keys) for wish, of in groups.items() if (keys := _by_meaning(of))]


def _by_meaning(bindings: Iterable[Binding]) -> Keys:
    keys: dict[str, list[str]] = {}
    for binding in bindings:
        if binding.tooltip:
            name = KEY_WORDS.get(binding.key, binding.key)
            meaning = EVERY_APPS.get(binding.key, binding.tooltip)
            keys.setdefault(meaning, []).append(name)
    return [(", ".join(names), meaning) for meaning, names in keys.items()]
