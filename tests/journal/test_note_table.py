"""The tidy table, as another program reads it: what stands in the CSV, with its kinds."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

from trainer.cli import main
from trainer.journal.export import notes_csv
from trainer.journal.log import SessionLog
from trainer.journal.note_table import columns, note_table


def test_duckdb_reads_every_note_with_its_kinds(a_session: SessionLog, tmp_path: Path) -> None:
    """DuckDB has a reader of Parquet of its own."""
    duckdb = pytest.importorskip("duckdb", reason="another reader of column files")
    pytest.importorskip("pyarrow", reason="it writes them")
    file = tmp_path / "notes.parquet"
    told = list(csv.DictReader(io.StringIO(notes_csv([a_session]), newline="")))
    content, rows = note_table([a_session])
    file.write_bytes(content)
    assert rows == len(told) > 100
    table = duckdb.sql(f"select * from '{file}'")
    kinds = {"text": "VARCHAR", "number": "DOUBLE", "whole number": "BIGINT", "truth": "BOOLEAN"}
    assert dict(zip(table.columns, map(str, table.types), strict=True)) == {
        column.name: kinds.get(column.kind, "TIMESTAMP") for column in columns()
    }
    for row, same in zip(table.fetchall(), told, strict=True):
        for column, value, word in zip(columns(), row, same.values(), strict=True):
            match column.kind:
                case _ if value is None:
                    assert word == "", column.name
                case "number" | "whole number":
                    assert value == pytest.approx(float(word)), column.name
                case "truth":
                    assert word == str(value).lower(), column.name
                case "time":
                    assert word.startswith(value.isoformat(timespec="seconds")), column.name
                case _:
                    assert value == word, column.name
    (late,) = duckdb.sql(f"select count(*) from '{file}' where off_ms > 0").fetchall()[0]
    assert late == sum(float(row["off_ms"] or 0) > 0 for row in told)


def test_one_form_at_a_time(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["journal", "export", "--form", "json", "--table", "notes.parquet"])
    assert "--form" in capsys.readouterr().err


def test_the_columns_are_described(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["journal", "schema", "--table"]) == 0
    described = json.loads(capsys.readouterr().out)
    assert [each["column"] for each in described] == [column.name for column in columns()]
    assert all(each["says"] for each in described)
