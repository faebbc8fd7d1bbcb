"""Archives read as a test expects them."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from journal.importing.archive import Archive, read_archives
from tests.importing.archives import Saved, write


def never() -> str:
    raise AssertionError("no passphrase is needed")


def read(*paths: Path, passphrase: Callable[[], str] = never) -> Archive:
    """The one archive of these files, none of which may be refused."""
    archives, refused = read_archives(paths, passphrase)
    assert [] == [str(error) for error in refused]
    (one,) = archives
    return one


def refusal(tmp_path: Path, data: bytes) -> str:
    archives, (error,) = read_archives([write(tmp_path, data)], never)
    assert [] == archives
    return str(error)


def contents(one: Archive) -> dict[str, bytes]:
    return {
        f"{record.folder}/{file.name}": b"".join(one.chunks(record, file))
        for record in one.manifest.records
        for file in record.files
        if one.has(record, file)
    }


def written(*records: Saved) -> dict[str, bytes]:
    return {f"{one.folder}/{name}": data for one in records for name, data in one.files.items()}
