"""Reading archives: what is refused, and what is taken of one that is cut off or damaged."""

from __future__ import annotations

import hashlib
import io
import json
import random
import stat
import struct
import subprocess
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from journal.importing import archive as reading
from journal.importing.archive import BadArchive, read_archives, receipt_code
from tests.builders import seeded
from tests.importing.archives import (
    ALL,
    CULTURE,
    FIND,
    PINS,
    Saved,
    archive,
    archive_in_parts,
    json_of,
    manifest_of,
    members_of,
    photo,
    write,
    zipped,
)
from tests.importing.reading_archives import contents, never, read, refusal, written

MEMBERS = members_of(ALL, manifest_of(ALL))


def test_every_file_is_read_as_it_was_written(tmp_path: Path) -> None:
    one = read(write(tmp_path, archive(*ALL)))
    assert (written(*ALL), set(), []) == (contents(one), one.damaged, one.cut_off)
    assert [one.record for one in ALL] == [record.record for record in one.manifest.records]


def test_the_systems_unzip_finds_it_whole_too(tmp_path: Path, need_program: Callable[..., Path]) -> None:
    """The builder's archives are zips by another reader than ours."""
    path = write(tmp_path, archive(*ALL))
    done = subprocess.run([need_program("unzip"), "-t", path], capture_output=True, text=True, check=False)
    assert (0, True) == (done.returncode, "No errors detected" in done.stdout)


def test_parts_are_known_by_the_list_that_they_share(tmp_path: Path) -> None:
    where = {f"{FIND.folder}/photo-02.jpg": [2], f"{PINS.folder}/photo-01.webp": [2]}
    paths = [write(tmp_path, data, f"{n}.zip") for n, data in enumerate(archive_in_parts(where, 2, *ALL))]
    assert written(*ALL) == contents(read(*paths))
    half = contents(read(paths[0]))
    assert {*where, f"{PINS.folder}/entry.md"} == set(written(*ALL)) - set(half)


def changed(**header: Any) -> Callable[[zipfile.ZipInfo], None]:
    def change(info: zipfile.ZipInfo) -> None:
        if info.filename != "manifest.json":
            for name, value in header.items():
                setattr(info, name, value)

    return change


@pytest.mark.parametrize(
    "name",
    [
        "../entry.md", "/entry.md", f"{FIND.folder}/../../entry.md", f"{FIND.folder}\\entry.md", "C:/entry.md",
        f"{FIND.folder}/entry.md/", f"{FIND.folder}/", f"{FIND.folder}/Entry.md", f"{FIND.folder}/photo-01.exe",
        f"{FIND.folder}/photo-1.jpg", f"{FIND.folder}/photo-01.jpg\0", f"{FIND.folder}/con.md", "a/b/entry.md",
        f"{FIND.folder.upper()}/entry.md", "é/entry.md", "e\u0301/entry.md", ".gather-0/entry.md", "entry.md", "",
        f"{'a' * 81}/entry.md", f"{FIND.folder}/entry.md ", f"{FIND.folder}/entry.md\n",
    ],
)  # fmt: skip
def test_a_name_that_no_phone_writes_is_refused(tmp_path: Path, name: str) -> None:
    rows = [(name if member == f"{FIND.folder}/entry.md" else member, data) for member, data in MEMBERS]
    out = zipped(rows)
    if name.endswith("\0"):  # Python's writer ends a name there
        out = zipped([(name[:-1] + "x", FIND.entry)]).replace(b".jpgx", b".jpg\0")
    if "\\" in name:
        out = out.replace(name.replace("\\", "/").encode(), name.encode())
    assert "not the name of a file in such an archive" in refusal(tmp_path, out)


def with_manifest(change: Callable[[dict[str, Any]], object]) -> bytes:
    manifest = manifest_of(ALL)
    change(manifest)
    return zipped([("manifest.json", json_of(manifest)), *MEMBERS[1:]])


def first_file(manifest: dict[str, Any]) -> dict[str, Any]:
    file: dict[str, Any] = manifest["records"][0]["files"][0]
    return file


REFUSED: dict[str, tuple[str, Callable[[], bytes]]] = {
    "the same name twice": ("is in it twice", lambda: zipped([*MEMBERS, MEMBERS[1]])),
    "a second list": ("is in it twice", lambda: zipped([*MEMBERS, MEMBERS[0]])),
    "compressed": ("is compressed", lambda: zipped(MEMBERS, changed(compress_type=zipfile.ZIP_DEFLATED))),
    "a zip bomb": (
        "is compressed",
        lambda: zipped([MEMBERS[0], (MEMBERS[1][0], bytes(50_000_000))], changed(compress_type=zipfile.ZIP_DEFLATED)),
    ),
    "encrypted": ("encrypted", lambda: flagged(0x0001)),
    "sizes behind": ("no size in front", lambda: flagged(0x0008)),
    "a link": ("is a link or a folder", lambda: zipped(MEMBERS, changed(external_attr=(stat.S_IFLNK | 0o777) << 16))),
    "a device": ("is a link or a folder", lambda: zipped(MEMBERS, changed(external_attr=(stat.S_IFBLK | 0o666) << 16))),
    "a folder": ("is a link or a folder", lambda: zipped(MEMBERS, changed(external_attr=0x10))),
    "another list at the end": ("its directory does not name", lambda: archive(*ALL).replace(b"PK\1\2", b"PK\5\6", 1)),
    "another size at the end": ("its directory does not name", lambda: directory_says(24, 7)),
    "not in the list": (
        "not in its list of contents",
        lambda: zipped([*MEMBERS, (f"{FIND.folder}/photo-09.jpg", b"more")]),
    ),
    "a text of 2 MB": ("larger than 1 MB", lambda: zipped([*MEMBERS, ("a/entry.md", bytes(2 << 20))])),
    "a photo of 70 MB": ("larger than 64 MB", lambda: zipped([*MEMBERS, ("a/photo-01.jpg", bytes(70 << 20))])),
    "no list": ("not an archive from the phone", lambda: zipped(MEMBERS[1:])),
    "a list that comes later": ("not an archive from the phone", lambda: zipped([MEMBERS[1], MEMBERS[0]])),
    "no zip": ("not an archive from the phone", lambda: b"GIF89a" * 100),
    "nothing": ("not an archive from the phone", lambda: b""),
    "a damaged list": ("list of contents is damaged", lambda: archive(*ALL).replace(b"Two", b"Tow").replace(
        b'"revision":1', b'"revision":9', 1)),
    "no JSON": ("cannot be read", lambda: zipped([("manifest.json", b"{")])),
    "no text": ("not as it should be", lambda: zipped([("manifest.json", b"\xff\xfe\xfa")])),
    "deep JSON": ("not as it should be", lambda: zipped([("manifest.json", b"[" * 200_000)])),
    "a list of lists": ("not as it should be", lambda: zipped([("manifest.json", b"[[]]")])),
    "another format": ("not that of a journal archive", lambda: with_manifest(lambda m: m.update(format="other"))),
    "another version": ("update the program", lambda: with_manifest(lambda m: m.update(version=2))),
    "no device": ("not as it should be", lambda: with_manifest(lambda m: m.pop("device"))),
    "a device like no other": ("cannot be one", lambda: with_manifest(lambda m: m.update(device="../x"))),
    "no parts": ("number", lambda: with_manifest(lambda m: m.update(parts=0))),
    "parts as text": ("number", lambda: with_manifest(lambda m: m.update(parts="1"))),
    "a true part": ("number", lambda: with_manifest(lambda m: m.update(parts=True))),
    "records in no list": ("rows", lambda: with_manifest(lambda m: m.update(records={}))),
    "too many records": ("rows", lambda: with_manifest(lambda m: m.update(records=m["records"] * 201))),
    "a record twice": ("twice", lambda: with_manifest(lambda m: m["records"].append(m["records"][0]))),
    "a folder twice": (
        "twice", lambda: with_manifest(lambda m: m["records"][1].update(folder=m["records"][0]["folder"]))),
    "a file twice": (
        "twice", lambda: with_manifest(lambda m: m["records"][0]["files"].append(first_file(m)))),
    "no text of a record": ("without a text", lambda: with_manifest(lambda m: m["records"][0]["files"].pop(0))),
    "a kind like no other": ("unknown kind", lambda: with_manifest(lambda m: m["records"][0].update(kind="tree"))),
    "a folder out of the archive": (
        "cannot be one", lambda: with_manifest(lambda m: m["records"][0].update(folder="../.."))),
    "an ID that is none": ("", lambda: with_manifest(lambda m: m["records"][0].update(id="a/b"))),
    "too many photos": ("rows", lambda: with_manifest(lambda m: m["records"][0].update(files=[first_file(m)] * 202))),
    "a name out of the folder": ("cannot be one", lambda: with_manifest(lambda m: first_file(m).update(name="../a"))),
    "a negative size": ("number", lambda: with_manifest(lambda m: first_file(m).update(bytes=-1))),
    "a size of 5 TB": ("number", lambda: with_manifest(lambda m: first_file(m).update(bytes=5 * 10**12))),
    "half a byte": ("number", lambda: with_manifest(lambda m: first_file(m).update(bytes=0.5))),
    "a digest of another kind": ("cannot be one", lambda: with_manifest(lambda m: first_file(m).update(sha256="ab"))),
    "in no part": ("rows", lambda: with_manifest(lambda m: first_file(m).update(parts=[]))),
    "in a part that is not there": ("number", lambda: with_manifest(lambda m: first_file(m).update(parts=[2]))),
}  # fmt: skip


def flagged(flag: int) -> bytes:
    """An archive whose second member has this flag in the header before it."""
    data = bytearray(archive(*ALL))
    at = data.index(b"PK\3\4", 4) + 6
    data[at : at + 2] = struct.pack("<H", flag)
    return bytes(data)


def directory_says(offset: int, value: int) -> bytes:
    """An archive whose directory has another value in its second row."""
    data = bytearray(archive(*ALL))
    at = data.index(b"PK\1\2", data.index(b"PK\1\2") + 4) + offset
    data[at : at + 4] = struct.pack("<I", value)
    return bytes(data)


@pytest.mark.parametrize("what", REFUSED)
def test_what_no_phone_makes_is_refused(tmp_path: Path, what: str) -> None:
    words, make = REFUSED[what]
    assert words in refusal(tmp_path, make())


def test_a_part_that_is_too_large_is_refused_unread(tmp_path: Path) -> None:
    path = write(tmp_path, b"PK")
    with path.open("r+b") as file:
        file.truncate(261 << 20)
    assert "larger than 260 MB" in str(read_archives([path], never)[1][0])


def test_too_many_files_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(reading, "MOST_MEMBERS", 3)
    assert "too many files" in refusal(tmp_path, archive(*ALL))


def test_what_cannot_be_read_is_named(tmp_path: Path) -> None:
    _, (error,) = read_archives([tmp_path / "gone.zip"], never)
    assert "gone.zip is not taken: no such file" in str(error)


def test_one_that_is_refused_keeps_no_other_back(tmp_path: Path) -> None:
    good, bad = write(tmp_path, archive(*ALL), "a.zip"), write(tmp_path, b"no", "b.zip")
    archives, refused = read_archives([bad, good], never)
    assert (1, 1) == (len(archives), len(refused))


@pytest.mark.parametrize("data", [FIND.photos["photo-01.jpg"][:-1] + b"x", b"short", b"longer" * 1000])
def test_a_file_that_is_not_what_the_phone_wrote_is_left_out_alone(tmp_path: Path, data: bytes) -> None:
    name = f"{FIND.folder}/photo-01.jpg"
    one = read(write(tmp_path, zipped([(member, data if member == name else was) for member, was in MEMBERS])))
    assert {name} == one.damaged == set(written(*ALL)) - set(contents(one))


def test_what_changes_after_it_was_verified_is_not_taken(tmp_path: Path) -> None:
    path = write(tmp_path, archive(FIND))
    one = read(path)
    path.write_bytes(path.read_bytes().replace(b"shaded", b"shaped"))
    with pytest.raises(BadArchive, match="changed while it was read"):
        contents(one)
    path.write_bytes(path.read_bytes()[:500])
    with pytest.raises(BadArchive, match="changed while it was read"):
        contents(one)


# Cut off


def ends_in(data: bytes) -> dict[str, int]:
    """Where each member's last byte lies, by the standard library."""
    with zipfile.ZipFile(io.BytesIO(data)) as whole:
        return {row.filename: row.header_offset + 30 + len(row.filename) + row.file_size for row in whole.infolist()}


LARGE = Saved("find", "F26-016-K7Q4", seed="large", photos={f"photo-{n:02}.jpg": photo(n, 20_000) for n in range(1, 6)})


def test_of_one_that_is_cut_off_at_any_thousandth_byte_what_is_whole_is_taken(tmp_path: Path) -> None:
    records = (*ALL, LARGE)
    data, files = archive(*records), written(*records)
    ends = ends_in(data)
    list_end = ends.pop("manifest.json")
    cuts = sorted({*range(0, len(data), 1000), *range(len(data) - 1000, len(data), 7), list_end - 1, list_end})
    taken = set()
    for length in cuts:
        path = write(tmp_path, data[:length])
        archives, refused = read_archives([path], never)
        if length < list_end:
            assert (0, 1) == (len(archives), len(refused)), length
            continue
        (one,) = archives
        assert {name: files[name] for name, end in ends.items() if end <= length} == contents(one), length
        assert ([str(path)], set()) == (one.cut_off, one.damaged)
        taken.add(len(one.whole))
    assert {0, len(written(*records))} <= taken
    print(f"cut at {len(cuts)} places, {len(taken)} different numbers of files taken")


PHOTOS = [f"{one.folder}/{name}" for one in ALL for name in one.photos]


@st.composite
def parts_cut_off(draw: st.DrawFn) -> dict[int, tuple[bytes, int]]:
    """An archive in up to four parts, which hold its photos once or several times, of which some are there, each cut
    off at any byte or whole: part -> all its bytes, and how many are there."""
    count = draw(st.integers(1, 4))
    where = {name: sorted(draw(st.sets(st.integers(1, count), min_size=1))) for name in PHOTOS}
    parts = dict(enumerate(archive_in_parts(where, count, *ALL), start=1))
    there = draw(st.sets(st.sampled_from(sorted(parts)), min_size=1))
    ends = {part: [at - less for at in ends_in(parts[part]).values() for less in (0, 1)] for part in there}
    return {
        part: (parts[part], draw(st.integers(0, len(parts[part])) | st.sampled_from(ends[part])))
        for part in sorted(there)
    }


@given(parts_cut_off())
def test_of_any_parts_cut_off_at_any_byte_everything_is_taken_that_is_whole_in_one_of_them(
    tmp_path_factory: pytest.TempPathFactory, parts: dict[int, tuple[bytes, int]]
) -> None:
    folder = tmp_path_factory.mktemp("parts")
    whole: set[str] = set()
    refused_parts, cut = [], []
    for part, (data, length) in parts.items():
        path = str(write(folder, data[:length], f"a-{part}-of-4.zip"))
        ends = ends_in(data)
        if length < ends.pop("manifest.json"):
            refused_parts.append(path)
            continue
        whole |= {name for name, end in ends.items() if end <= length}
        cut += [path] if length < len(data) else []
    archives, refused = read_archives(map(Path, sorted(folder.glob("*.zip"))), never)
    assert len(refused_parts) == len(refused)
    taken = {name: data for one in archives for name, data in contents(one).items()}
    assert {name: data for name, data in written(*ALL).items() if name in whole} == taken
    assert cut == [path for one in archives for path in one.cut_off]
    assert not any(one.damaged for one in archives)
    assert len(archives) == (len(refused) < len(parts))


# Damaged at random


@seeded(150)
def test_whatever_is_damaged_nothing_but_what_the_phone_wrote_is_taken(tmp_path: Path, seed: int) -> None:
    """A few bytes changed, cut out or doubled, anywhere: read or refused, and no byte of a file is another."""
    chance = random.Random(seed)
    data = bytearray(archive(*ALL))
    for _ in range(chance.randint(1, 4)):
        at, length = chance.randrange(len(data)), chance.randint(1, 30)
        change = chance.choice(
            [b"", bytes(chance.randrange(256) for _ in range(length)), bytes(data[at : at + length]) * 2]
        )
        data[at : at + length] = change
    archives, refused = read_archives([write(tmp_path, bytes(data))], never)
    assert 1 == len(archives) + len(refused)
    for one in archives:
        assert contents(one).items() <= written(*ALL).items()


# The code that says a part is in the journal


def by_the_book(manifest_digest: str, part: int) -> str:
    """The code by its definition, worked letter by letter from the bits of the digest."""
    alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # Crockford's base 32, as published: no I, L, O, U
    digest = hashlib.sha256(f"journal receipt\n{manifest_digest}\n{part}".encode()).digest()
    bits = "".join(f"{byte:08b}" for byte in digest)[:60]
    letters = [alphabet[int(bits[at : at + 5], 2)] for at in range(0, 60, 5)]
    check = sum(alphabet.index(letter) * (at + 1) for at, letter in enumerate(letters)) % 31
    code = "".join(letters) + alphabet[check]
    return f"{code[:4]}-{code[4:8]}-{code[8:12]}-{code[12]}"


@pytest.mark.parametrize("part", [1, 2, 17])
def test_the_code_of_a_part_is_that_of_its_definition(part: int) -> None:
    digest = hashlib.sha256(json.dumps(part).encode()).hexdigest()
    assert by_the_book(digest, part) == receipt_code(digest, part)


def test_no_two_parts_have_one_code() -> None:
    assert 500 == len({receipt_code(CULTURE.record, part) for part in range(500)})
