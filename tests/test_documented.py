"""What a reader can't see from the code stands beside it: constants, shapes, errors."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

from tests.sources import TRAINER, modules, parsed

SHAPED = {"Samples", "Track", "Levels"}
"""Names of array types that state their one shape where they are defined."""
SHARED = 2
"""So many constants may share their words."""


def told(file: Path, line: int, name: str) -> str:
    return f"{file.relative_to(TRAINER)}:{line} {name}"


def test_every_number_says_what_it_is() -> None:
    """Two constants that belong together may share the words beneath, or the comment on top."""
    found = [told(file, line, name) for file in modules() for name, line in bare_numbers(file)]
    assert found == []


def test_every_array_has_its_shape_told() -> None:
    assert untold(takes_arrays, "shape") == []


def test_every_error_raised_is_told() -> None:
    assert untold(raises, "Error") == []


def untold(calls_for: Callable[[ast.FunctionDef], bool], word: str) -> list[str]:
    """Public functions that call for this word in their docstring and don't have it."""
    return [
        told(file, function.lineno, function.name)
        for file in modules()
        for function in public_functions(parsed(file))
        if calls_for(function) and word not in words(function)
    ]


def bare_numbers(file: Path) -> Iterator[tuple[str, int]]:
    """Module-level numeric constants without a word, each with its line."""
    lines = file.read_text(encoding="utf-8").splitlines()
    body = parsed(file).body
    for place, node in enumerate(body):
        name = constant_name(node)
        if name is not None and not is_told(lines, body, place):
            yield name, node.lineno


def constant_name(node: ast.stmt) -> str | None:
    """The name of a numeric constant; a tuple, list or dict of numbers is one too."""
    if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name | ast.Tuple):
        target, value = node.targets[0], node.value
    elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name) and node.value:
        target, value = node.target, node.value
    else:
        return None
    name = ast.unparse(target)
    inner = [n.value for n in ast.walk(value) if isinstance(n, ast.Constant)]
    numbers = [n for n in inner if isinstance(n, int | float) and not isinstance(n, bool)]
    plain = not any(
        isinstance(n, ast.Call | ast.Lambda | ast.comprehension) for n in ast.walk(value)
    )
    return name if name.isupper() and numbers and len(numbers) == len(inner) and plain else None


def is_told(lines: list[str], body: list[ast.stmt], place: int) -> bool:
    node = body[place]
    if any("#" in line for line in lines[node.lineno - 1 : node.end_lineno]):
        return True
    touching = body[place : place + SHARED]
    beneath = body[place + 1 : place + 1 + SHARED]
    for above, below in zip(touching, beneath, strict=False):
        if not touches(above, below):
            break
        if is_words(below):
            return True
    for one in reversed(body[max(0, place + 1 - SHARED) : place + 1]):
        if one is not node and not touches(one, node):
            break
        if lines[one.lineno - 2].startswith("#"):
            return True
    return False


def touches(node: ast.stmt, following: ast.stmt) -> bool:
    return node.end_lineno is not None and following.lineno == node.end_lineno + 1


def is_words(node: ast.stmt) -> bool:
    return isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)


def public_functions(tree: ast.Module) -> Iterator[ast.FunctionDef]:
    for node in tree.body:
        if isinstance(node, ast.ClassDef) and node.name.startswith("_"):
            continue
        holder = node.body if isinstance(node, ast.ClassDef) else [node]
        for inner in holder:
            if isinstance(inner, ast.FunctionDef) and not inner.name.startswith("_"):
                yield inner


def words(function: ast.FunctionDef) -> str:
    return ast.get_docstring(function) or ""


def takes_arrays(function: ast.FunctionDef) -> bool:
    arguments = [*function.args.args, *function.args.kwonlyargs]
    told = [ast.unparse(a.annotation) for a in arguments if a.annotation is not None]
    names = {name for text in told for name in re.findall(r"\w+", text)}
    return bool(names & array_types()) and not names & array_types() <= SHAPED


@cache
def array_types() -> frozenset[str]:
    """Names the program gives to array types, and the library's own."""
    texts = (file.read_text(encoding="utf-8") for file in modules())
    named = (re.findall(r"^(\w+) = NDArray\b", text, re.M) for text in texts)
    return frozenset({"NDArray", "ndarray"}.union(*named))


def raises(function: ast.FunctionDef) -> bool:
    """Whether it raises an error itself, other than passing one on or saying 'not here'."""
    own = [n for n in ast.walk(function) if isinstance(n, ast.Raise) and n.exc is not None]
    return any("NotImplementedError" not in ast.unparse(n) for n in own)
