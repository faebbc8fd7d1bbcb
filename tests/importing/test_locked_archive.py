"""Archives under a passphrase: opened with it, and refused or read as far as they are whole."""

from __future__ import annotations

import io
import zipfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import strategies as st

from journal.importing import locked_archive
from journal.importing.archive import read_archives
from tests.builders import examples
from tests.importing.archives import RYE, Saved, archive, locked, photo, write
from tests.importing.reading_archives import contents, read, written

PASSPHRASE = "anchor barley copper drift ember"


@pytest.fixture
def quick(big: tuple[Saved, bytes], monkeypatch: pytest.MonkeyPatch) -> tuple[Saved, bytes]:
    """The same, under a key that is made in one round instead of 600,000."""
    monkeypatch.setattr(locked_archive, "FEWEST_ROUNDS", 1)
    return big[0], locked(archive(big[0]), PASSPHRASE, rounds=1)


@pytest.fixture(scope="module")
def big() -> tuple[Saved, bytes]:
    """A record of three chunks of 1 MiB, and its archive under the passphrase."""
    one = Saved("find", "F26-017-K7Q4", photos={f"photo-{n:02}.jpg": photo(n, 900_000) for n in range(1, 4)}, seed="b")
    return one, locked(archive(one), PASSPHRASE)


def test_a_locked_archive_is_read_with_its_passphrase(tmp_path: Path, big: tuple[Saved, bytes]) -> None:
    one = read(write(tmp_path, big[1], "a.zip.locked"), passphrase=lambda: PASSPHRASE)
    assert (written(big[0]), []) == (contents(one), one.cut_off)


def test_a_passphrase_is_the_same_in_every_form_of_unicode(tmp_path: Path) -> None:
    path = write(tmp_path, locked(archive(RYE), "fin fünf"))
    assert written(RYE) == contents(read(path, passphrase=lambda: "ﬁn fu\u0308nf"))


@pytest.mark.parametrize("fits", [True, False])
def test_a_chunk_may_end_where_the_zip_does(tmp_path: Path, fits: bool) -> None:
    base = len(archive(Saved("find", "F1", photos={"photo-01.jpg": photo(1, 1_000_000)})))
    size = 1_000_000 + (1 << 20) - base + (0 if fits else 1)
    one = Saved("find", "F1", photos={"photo-01.jpg": photo(1, size)})
    data = archive(one)
    assert fits is (len(data) == 1 << 20)
    assert written(one) == contents(read(write(tmp_path, locked(data, PASSPHRASE)), passphrase=lambda: PASSPHRASE))


LOCKED_REFUSED = {
    "a wrong passphrase": ("passphrase is wrong", lambda data: data.replace(b'"salt":"00', b'"salt":"01')),
    "another header": ("passphrase is wrong", lambda data: data.replace(b'"version":1', b'"version": 1')),
    "too few rounds": ("599999 rounds", lambda data: data.replace(b"600000", b"599999")),
    "too many rounds": ("10000001 rounds", lambda data: data.replace(b"600000", b"10000001")),
    "rounds as text": ("not a locked archive", lambda data: data.replace(b"600000", b'"600000"')),
    "another key derivation": ("not a locked archive", lambda data: data.replace(b"SHA-256", b"SHA-1")),
    "another chunk size": ("not a locked archive", lambda data: data.replace(b"1048576", b"1048577")),
    "a short salt": ("not a locked archive", lambda data: data.replace(b'"salt":"00', b'"salt":"')),
    "no header": ("not a locked archive", lambda data: b"{" * 5000),
    "a header that never ends": ("not a locked archive", lambda data: data.split(b"\n")[0]),
    "nothing behind the header": ("passphrase is wrong", lambda data: data.split(b"\n")[0] + b"\n"),
    "less than a tag": ("passphrase is wrong", lambda data: data.split(b"\n")[0] + b"\nshort"),
    "a cut in the first chunk": ("cut off at its beginning", lambda data: data[:5000]),
}


@pytest.mark.parametrize("what", LOCKED_REFUSED)
def test_a_locked_archive_that_cannot_be_opened_says_why(tmp_path: Path, big: tuple[Saved, bytes], what: str) -> None:
    words, change = LOCKED_REFUSED[what]
    changed_data = change(big[1])
    assert changed_data != big[1]
    archives, (error,) = read_archives([write(tmp_path, changed_data)], lambda: PASSPHRASE)
    assert ([], True) == (archives, words in str(error)), str(error)


@pytest.mark.parametrize(("kept", "whole"), [(1, 2), (2, 3), (2.5, 3)])
def test_of_a_locked_archive_that_is_cut_off_whole_chunks_are_read(
    tmp_path: Path, big: tuple[Saved, bytes], kept: float, whole: int
) -> None:
    one, data = big
    start = data.index(b"\n") + 1
    path = write(tmp_path, data[: start + int(kept * ((1 << 20) + 16))])
    found = read(path, passphrase=lambda: PASSPHRASE)
    assert ([str(path)], whole) == (found.cut_off, len(found.whole))
    assert contents(found).items() <= written(one).items()


@examples(20, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(cut=st.floats(0, 1))
def test_of_a_locked_archive_cut_off_at_any_byte_all_is_read_that_is_whole(
    tmp_path_factory: pytest.TempPathFactory, quick: tuple[Saved, bytes], cut: float
) -> None:
    one, data = quick
    start, step = data.index(b"\n") + 1, (1 << 20) + 16
    length = round(cut * len(data))
    path = write(tmp_path_factory.mktemp("cut"), data[:length])
    archives, refused = read_archives([path], lambda: PASSPHRASE)
    if length < start + step:
        assert ([], 1) == (archives, len(refused))
        return
    plain = archive(one)
    opened = len(plain) if length == len(data) else (length - start) // step << 20
    with zipfile.ZipFile(io.BytesIO(plain)) as whole:
        ends = {row.filename: row.header_offset + 30 + len(row.filename) + row.file_size for row in whole.infolist()}
    (found,) = archives
    assert {name: data for name, data in written(one).items() if ends[name] <= opened} == contents(found)
    assert [str(path)] * (length < len(data)) == found.cut_off


def test_a_chunk_in_the_place_of_another_is_damaged(tmp_path: Path, big: tuple[Saved, bytes]) -> None:
    one, data = big
    start, step = data.index(b"\n") + 1, (1 << 20) + 16
    swapped = data[: start + step] + data[start : start + step] + data[start + 2 * step :]
    found = read(write(tmp_path, swapped), passphrase=lambda: PASSPHRASE)
    assert {f"{one.folder}/photo-02.jpg"} <= set(written(one)) - set(contents(found))
    assert contents(found).items() <= written(one).items()
