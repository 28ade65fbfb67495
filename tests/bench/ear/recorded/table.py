"""Records of single takes put together into rows, and rows printed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence

from tests.bench.ear.recorded.count import Count, share

Record = dict
Row = dict


def counted(records: Sequence[Record], *keys: str, count: str = "count") -> list[Row]:
    """One row for each combination of the keys, from the counts of the records."""

    def row(some: Sequence[Record]) -> Row:
        total = Count()
        for record in some:
            total.add(record[count])
        return total.row

    return gathered(records, keys, row)


def gathered(
    records: Sequence[Record], keys: Sequence[str], row: Callable[[Sequence[Record]], Row]
) -> list[Row]:
    """One row for each combination of the keys, in order of first appearance."""
    groups: dict[tuple, list[Record]] = {}
    for record in records:
        groups.setdefault(tuple(record[key] for key in keys), []).append(record)
    return [dict(zip(keys, values, strict=True)) | row(some) for values, some in groups.items()]


def shares(records: Sequence[Record], keys: Sequence[str], *true: str) -> list[Row]:
    """Of the records, how many and the share in which each of the fields holds."""
    return gathered(
        records,
        keys,
        lambda some: (
            {"takes": len(some)}
            | {name: share(sum(bool(r[name]) for r in some), len(some)) for name in true}
        ),
    )


def said(records: Sequence[Record]) -> str:
    """Topics by how often they came."""
    return ", ".join(
        f"{topic} {n}" for topic, n in Counter(r["topic"] for r in records).most_common()
    )


def printed(title: str, rows: Sequence[Row]) -> str:
    """A table in Markdown."""
    if not rows:
        return f"### {title}\n\nNothing was played."
    names = list(rows[0])
    lines = [
        f"| {' | '.join(names)} |",
        f"|{'|'.join('---' if isinstance(rows[0][n], str) else '---:' for n in names)}|",
    ]
    lines += [f"| {' | '.join(_cell(name, row[name]) for name in names)} |" for row in rows]
    return f"### {title}\n\n" + "\n".join(lines)


def _cell(name: str, value: object) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.1f}" if name.endswith(" ms") else f"{value:.3f}"
    return str(value)
