"""What the teacher's desk prints: the schema, the reference page, a routine to begin from."""

from __future__ import annotations

import json

from trainer.routine.language_schema import schema
from trainer.routine.reference import reference
from trainer.routine.templates import TEMPLATES, new_routine

__all__ = ["TEMPLATES", "new_routine", "reference", "schema_text"]


def schema_text() -> str:
    """The JSON Schema as a file's text, for an editor."""
    return json.dumps(schema(), indent=2, ensure_ascii=False) + "\n"
