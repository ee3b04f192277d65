"""A Parquet file of a logger as the CSV that the reader reads, so that both go through one door.

Contents: as_csv. pyarrow is an optional part of the installation; without it a sentence says what to do.
"""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from desorb.errors import NotUnderstood

MARK = b"PAR1"
ROWS_AT_ONCE = 100_000


@contextlib.contextmanager
def as_csv(path: Path) -> Iterator[Path]:
    """The file itself, or where it is Parquet a CSV of it that lives as long as the block. Raises NotUnderstood."""
    if not _is_parquet(path):
        yield path
        return
    try:
        import pyarrow
        import pyarrow.csv
        import pyarrow.parquet
    except ImportError:
        raise NotUnderstood(
            "this is Parquet, and what reads it is not installed", got=path.name, wanted="a CSV file, or pyarrow beside desorb",
            next_step="install desorb with its part 'parquet', or write it out as CSV in the program that made it",
        ) from None  # fmt: skip
    with tempfile.TemporaryDirectory() as folder:
        text = Path(folder) / f"{path.name}.csv"
        try:
            table = pyarrow.parquet.ParquetFile(path)
            writer = None
            for batch in table.iter_batches(ROWS_AT_ONCE):
                columns = [_plain(column) for column in batch.columns]
                plain = pyarrow.record_batch(columns, names=batch.schema.names)
                writer = writer or pyarrow.csv.CSVWriter(text, plain.schema)
                writer.write_batch(plain)
            if writer is None:
                raise NotUnderstood("the file has no rows", got=path.name, next_step="read the logger out again")
            writer.close()
        except (pyarrow.ArrowException, OSError) as problem:
            raise NotUnderstood(
                "the Parquet file cannot be read", got=f"{path.name}: {problem}", next_step="write it out as CSV"
            ) from problem
        yield text


def _is_parquet(path: Path) -> bool:
    try:
        with path.open("rb") as file:
            return file.read(len(MARK)) == MARK
    except OSError:
        return False  # the reader of text says what is wrong with it


def _plain(column: Any) -> Any:
    """Times as ISO text to the second, with their offset where they have one; other columns as they are."""
    import pyarrow
    import pyarrow.compute as compute

    if not pyarrow.types.is_timestamp(column.type):
        return column
    zoned = column.type.tz is not None
    seconds = column.cast(pyarrow.timestamp("s", "UTC" if zoned else None), safe=False)
    text = compute.strftime(seconds, format="%Y-%m-%dT%H:%M:%S")
    return compute.binary_join_element_wise(text, "+00:00", "") if zoned else text
