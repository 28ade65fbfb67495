"""Keys in words, and the list of them a screen answers to."""

from __future__ import annotations

from textual.screen import Screen

KEY_WORDS = {
    "pagedown": "PageDown",
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
}


def keys_of(screen: Screen[object]) -> list[tuple[str, str]]:
    """Key and meaning of every binding of a screen that has a meaning."""
    keys: dict[str, list[str]] = {}
    for _, binding, _, _ in screen.active_bindings.values():
        if binding.tooltip:
            name = KEY_WORDS.get(binding.key, binding.key)
            keys.setdefault(binding.tooltip, []).append(name)
    return [(", ".join(names), meaning) for meaning, names in keys.items()]
