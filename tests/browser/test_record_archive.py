"""Archives of records as other programs read them: unzip, Python's zipfile, and an AES of another library."""

from __future__ import annotations

import hashlib
import json
import os
import re
import subprocess
import time
import unicodedata
import zipfile
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from tests.browser.recording import opened, run

pytestmark = pytest.mark.browser

# As the reader at home takes them
MEMBER = re.compile(r"(manifest\.json|[a-z0-9-]{1,80}/(entry\.md|photo-[0-9]{2,3}\.(jpg|png|webp|heic|heif|avif)))")
SAVE_NEXT = """
globalThis.saveNext = async () => {
  const { value, done } = await parts.next();
  if (done) return null;
  const link = document.createElement("a");
  Object.assign(link, { href: URL.createObjectURL(value.blob), download: value.name });
  link.click();
  globalThis.saved = link.href;
  const { blob, ...facts } = value;
  return { ...facts, bytes: blob.size };
};
globalThis.beginNext = () => {
  globalThis.next = null;
  saveNext().then((facts) => (next = { facts }), (error) => (next = { error: `${error}` }));
};
"""


@dataclass(frozen=True)
class Part:
    """One file of an archive, as it was downloaded, and what the phone says of it."""

    path: Path
    facts: dict[str, Any]

    @property
    def manifest(self) -> bytes:
        with zipfile.ZipFile(self.path) as opened_zip:
            return opened_zip.read(opened_zip.infolist()[0])


def downloaded(
    page: Any, folder: Path, options: str = "{}", watch: Callable[[], None] = lambda: None
) -> Iterator[Part]:
    """Builds an archive of all records; gives each part once it is a file. watch: called all the while."""
    run(page, SAVE_NEXT)
    run(page, f"globalThis.parts = journalArchive.build(await store.latest(), store, {options});")
    begun: list[Any] = []
    page.on("download", lambda download: begun.append(download))
    while True:
        page.evaluate("() => beginNext()")
        while (found := page.evaluate("() => next")) is None:
            watch()
            time.sleep(0.05)
        assert "error" not in found, found
        if found["facts"] is None:
            return
        while not begun:
            page.wait_for_timeout(20)
        download = begun.pop()
        path = folder / download.suggested_filename
        os.link(download.path(), path)  # a copy of 1.2 GB takes its time
        download.delete()
        page.evaluate("() => URL.revokeObjectURL(saved)")
        yield Part(path, found["facts"])


RECORDS = """
  const shelves = await store.addPhoto(find("F26-015-K7Q4", { text: "Grew since the rain." }), photo(30_000, 1));
  await store.addPhoto(shelves.draft, photo(30_000, 2, "image/png"));
  await store.addPhoto(shelves.draft, photo(30_000, 3));
  await store.save(shelves.draft);
  const first = await store.save({
    record: uuid(), kind: "note", id: null, about: ["B-031.2"], date: "2026-11-25 14:05+00:00",
    values: { harvest: "412 g", flush: "2" },
  });
  await store.save({ ...first, text: "Weighed twice." });
  const gone = await store.save(find("F26-016-K7Q4"));
  await store.remove(gone);
  const last = await store.addPhoto(find("F26-017-K7Q4", { text: "Süßgräser 🌾" }), photo(4_000, 4, "image/heic"));
  await store.save(last.draft);
"""


@pytest.fixture
def parts(page: Any, tmp_path: Path) -> list[Part]:
    run(page, RECORDS)
    return list(downloaded(page, tmp_path, "{ limit: 80_000 }"))


def files_of(part: Part) -> dict[str, bytes]:
    with zipfile.ZipFile(part.path) as opened_zip:
        assert opened_zip.testzip() is None
        return {info.filename: opened_zip.read(info) for info in opened_zip.infolist()}


def test_unzip_and_python_read_every_part(parts: list[Part], need_program: Callable[..., Path]) -> None:
    assert 2 == len(parts)
    for part in parts:
        subprocess.run([need_program("unzip"), "-tqq", str(part.path)], check=True)
        assert all(MEMBER.fullmatch(name) for name in files_of(part))


def test_members_are_stored_with_their_size_before_them_and_are_plain_files(parts: list[Part]) -> None:
    # Source: PKWARE, APPNOTE.TXT 6.3.10, 4.4.4 (bit 3: sizes behind the data; bit 11: names in UTF-8), 4.4.15.
    for part in parts:
        data = part.path.read_bytes()
        with zipfile.ZipFile(part.path) as opened_zip:
            for info in opened_zip.infolist():
                assert (0, 0x0800, 0o100644) == (info.compress_type, info.flag_bits, info.external_attr >> 16)
                header = data[info.header_offset : info.header_offset + 30]
                sizes = [int.from_bytes(header[at : at + 4], "little") for at in (14, 18, 22)]
                assert [info.CRC, info.file_size, info.file_size] == sizes
                assert 0x0800 == int.from_bytes(header[6:8], "little")


def test_the_list_of_contents_comes_first_and_is_the_same_in_every_part(parts: list[Part]) -> None:
    manifests = {part.manifest for part in parts}
    assert 1 == len(manifests)
    assert {"manifest.json"} == {next(iter(files_of(part))) for part in parts}
    (manifest,) = manifests
    listed = json.loads(manifest)
    assert manifest == json.dumps(listed, ensure_ascii=False, separators=(",", ":")).encode()
    assert ["format", "version", "archive", "device", "made", "parts", "records"] == list(listed)
    assert ("journal archive", 1, 2) == (listed["format"], listed["version"], listed["parts"])
    assert [["record", "revision", "kind", "id", "folder", "files"]] * 3 == [list(row) for row in listed["records"]]
    assert [("find", 1, "F26-015-K7Q4"), ("note", 2, None), ("find", 1, "F26-017-K7Q4")] == [
        (row["kind"], row["revision"], row["id"]) for row in listed["records"]
    ]
    assert {hashlib.sha256(manifest).hexdigest()} == {part.facts["manifest"] for part in parts}


def test_each_part_holds_what_the_list_says_and_every_digest_is_right(parts: list[Part]) -> None:
    records = json.loads(parts[0].manifest)["records"]
    for part in parts:
        wanted = {
            f"{record['folder']}/{file['name']}": (file["bytes"], file["sha256"])
            for record in records
            for file in record["files"]
            if part.facts["part"] in file["parts"]
        }
        there = {name: (len(data), hashlib.sha256(data).hexdigest()) for name, data in files_of(part).items()}
        assert wanted == {name: facts for name, facts in there.items() if name != "manifest.json"}
    assert [[1, 2], [1], [1], [2]] == [file["parts"] for file in records[0]["files"]]  # the text goes with its photos


def test_no_part_is_over_the_limit_and_each_is_named_by_day_and_device(parts: list[Part], page: Any) -> None:
    device = run(page, "return store.device();")
    for number, part in enumerate(parts, 1):
        assert part.path.stat().st_size == part.facts["bytes"] <= 80_000
        pattern = rf"journal-[0-9]{{4}}-[0-9]{{2}}-[0-9]{{2}}-[0-9]{{6}}-{device}-{number}-of-2\.zip"
        assert re.fullmatch(pattern, part.path.name)
        assert part.path.name == part.facts["name"]


def test_two_exports_within_a_minute_have_names_of_their_own(page: Any) -> None:
    run(page, RECORDS)
    names = run(
        page,
        """
  const names = [];
  for (const time of ["2026-11-25T14:03:07Z", "2026-11-25T14:03:52Z"]) {
    const Now = globalThis.Date;
    globalThis.Date = class extends Now { constructor(...given) { super(...(given.length ? given : [time])); } };
    for await (const { name } of journalArchive.build(await store.latest(), store)) names.push(name);
    globalThis.Date = Now;
  }
  return [...names, await store.device()];""",
    )
    device = names.pop()
    assert [re.sub(r"-[0-9]{4}(?=[0-9]{2}-)", "-HHMM", name) for name in names] == [
        f"journal-2026-11-25-HHMM{seconds}-{device}-1-of-1.zip" for seconds in ("07", "52")
    ]


def test_the_entry_is_the_record_s_and_the_photo_s_bytes_are_untouched(parts: list[Part], page: Any) -> None:
    files = files_of(parts[0]) | files_of(parts[1])
    entry = next(data.decode() for name, data in files.items() if "f26-015" in name and name.endswith("entry.md"))
    assert entry.endswith(
        "photos:\n  - photo-01.jpg\n  - photo-02.png\n  - photo-03.jpg\n---\n\nGrew since the rain.\n"
    )
    photo = next(data for name, data in files.items() if name.endswith("photo-02.png"))
    assert hashlib.sha256(photo).hexdigest() == run(
        page, "return journalArchive.sha256(await photo(30_000, 2).arrayBuffer());"
    )
    assert zipfile.crc32(photo) == run(page, "return journalArchive.crc32(await photo(30_000, 2).arrayBuffer());")


def test_crc_and_sha_are_those_of_the_standards(page: Any) -> None:
    # Source: ITU-T V.42 / Rocksoft catalogue, CRC-32 check value of "123456789"; FIPS 180-4, SHA-256 of "abc".
    found = run(
        page,
        """return [journalArchive.crc32(new TextEncoder().encode("123456789")),
                    await journalArchive.sha256(new TextEncoder().encode("abc"))];""",
    )
    assert [0xCBF43926, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"] == found


def test_a_photo_that_is_gone_is_named_and_the_rest_comes_home(page: Any, tmp_path: Path) -> None:
    run(
        page,
        RECORDS
        + """const lost = (await store.latest())[0].photos[1].photo;
        const request = indexedDB.open(`journal records ${new URL("./", location.href).pathname}`);
        const database = await new Promise((done) => (request.onsuccess = () => done(request.result)));
        const transaction = database.transaction("photos", "readwrite");
        transaction.objectStore("photos").delete(lost);
        await new Promise((done) => (transaction.oncomplete = done));
        database.close();""",
    )
    (part,) = downloaded(page, tmp_path)
    assert ["photo-02.png"] == [row["name"] for row in part.facts["export"]["missing"]]
    names = [name.rpartition("/")[2] for name in files_of(part)]
    assert [
        "manifest.json",
        "entry.md",
        "photo-01.jpg",
        "photo-03.jpg",
        "entry.md",
        "entry.md",
        "photo-01.heic",
    ] == names


def test_building_can_be_stopped_and_shows_how_far_it_is(page: Any) -> None:
    run(page, RECORDS)
    found = run(
        page,
        """const told = [];
        const stop = new AbortController();
        const onProgress = ({ done, total }) => told.push([done, total]);
        const records = await store.latest();
        for await (const part of journalArchive.build(records, store, { onProgress })) void part;
        const stopping = { signal: stop.signal, onProgress: () => stop.abort() };
        const early = journalArchive.build(records, store, stopping);
        const stopped = await early.next().then(() => null, (error) => error.name);
        return [told, stopped];""",
    )
    told, stopped = found
    assert "AbortError" == stopped
    assert 7 == len(told)
    assert sorted(told) == told
    assert told[-1][0] == told[-1][1]


def test_more_records_than_one_archive_takes_are_refused(page: Any) -> None:
    fault = run(page, "return fault(journalArchive.build(Array(1001).fill(find('F26-001')), store).next());")
    assert {
        "kind": "too many",
        "message": "One export takes 1000 records, fewer with many photos. Choose fewer.",
    } == fault


# -- under a passphrase --------------------------------------------------------------------------------------

CHUNK, TAG = 1 << 20, 16


def unlocked(data: bytes, passphrase: str) -> bytes:
    """The zip in a locked archive, by the description of its format alone."""
    line, _, rest = data.partition(b"\n")
    header = json.loads(line)
    words = unicodedata.normalize("NFKC", passphrase).encode()
    key = hashlib.pbkdf2_hmac("sha256", words, bytes.fromhex(header["salt"]), header["rounds"], 32)
    bound = hashlib.sha256(line + b"\n").digest()
    chunks = [rest[at : at + CHUNK + TAG] for at in range(0, len(rest), CHUNK + TAG)]
    return b"".join(
        AESGCM(key).decrypt(
            bytes.fromhex(header["nonce"]) + at.to_bytes(4, "big") + bytes([at == len(chunks) - 1]), chunk, bound
        )
        for at, chunk in enumerate(chunks)
    )


def test_a_locked_archive_is_opened_by_its_passphrase_and_by_no_other(page: Any, tmp_path: Path) -> None:
    run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(2_500_000, 1));
        await store.addPhoto(draft, photo(2_500_000, 2));
        await store.save(draft);""",
    )
    # The same passphrase with a ligature and a letter of two signs: NFKC makes them one.
    typed = r"{ passphrase: 'o\ufb03ce cafe\u0301', limit: 3_000_000 }"
    parts = list(downloaded(page, tmp_path, typed))
    data = [part.path.read_bytes() for part in parts]
    headers = [json.loads(one.partition(b"\n")[0]) for one in data]
    assert [".locked"] * 2 == [part.path.suffix for part in parts]
    told = {"format": "journal archive, locked", "version": 1, "kdf": "PBKDF2-HMAC-SHA-256", "rounds": 1_000_000}
    for header in headers:
        assert ["format", "version", "kdf", "rounds", "salt", "nonce", "chunk"] == list(header)
        assert {**told, "chunk": CHUNK} == {key: header[key] for key in (*told, "chunk")}
        assert (16, 7) == (len(bytes.fromhex(header["salt"])), len(bytes.fromhex(header["nonce"])))
    assert headers[0]["nonce"] != headers[1]["nonce"]
    for number, one in enumerate(data, 1):
        plain = tmp_path / f"{number}.zip"
        plain.write_bytes(unlocked(one, "office café"))
        assert f"photo-0{number}.jpg" in str(files_of(Part(plain, {})))
        assert b"entry.md" not in one
    with pytest.raises(InvalidTag):
        unlocked(data[0], "office cafe")
    cut_at_a_chunk = data[0][: data[0].index(b"\n") + 1 + CHUNK + TAG]
    with pytest.raises(InvalidTag):
        unlocked(cut_at_a_chunk, "office café")  # the last chunk says that it is the last


# -- many photos ---------------------------------------------------------------------------------------------

PHOTOS, PHOTO_BYTES = 180, 4_000_000
LIMIT_BYTES = 200_000_000
MOST_IN_HEAP_BYTES = 200_000_000
MOST_HELD_BYTES = 90 * PHOTO_BYTES
"""Half of them: the page lets go of each at once, but the browser collects what was let go of when it likes."""


MANY_PHOTOS = """
  let draft = find("F26-001-K7Q4");
  for (let at = 0; at < 10; at += 1) ({ draft } = await store.addPhoto(draft, photo(given.bytes, at)));
  const first = await store.save(draft);
  const rows = Array.from({ length: given.photos / 10 - 1 }, (_, at) => (
    { ...first, record: uuid(), id: `F26-${String(at + 2).padStart(3, "0")}-K7Q4` }
  ));
  await new Promise((done, failed) => {
    indexedDB.open(`journal records ${new URL("./", location.href).pathname}`).onsuccess = ({ target: { result } }) => {
      const change = result.transaction("records", "readwrite");
      for (const row of rows) change.objectStore("records").put(row);
      Object.assign(change, { oncomplete: done, onabort: failed });
    };
  });
"""
"""Ten photos that are stored, each listed in every record: the archive reads and writes each of them all the same."""


def test_many_photos_are_archived_within_bounded_memory(phone: Any, recording_url: str, tmp_path: Path) -> None:
    visit = phone()
    page = opened(visit.page, recording_url)
    run(page, MANY_PHOTOS, {"photos": PHOTOS, "bytes": PHOTO_BYTES})
    before = memory_of_pages(tmp_path / "profile")
    session = visit.context.new_cdp_session(page)
    session.send("Performance.enable")
    heap, held = [0], [0]

    def watch() -> None:
        metrics = {row["name"]: row["value"] for row in session.send("Performance.getMetrics")["metrics"]}
        heap.append(metrics["JSHeapUsedSize"])
        held.append(memory_of_pages(tmp_path / "profile") - before)

    photos = set()
    for part in downloaded(page, tmp_path, watch=watch):
        assert part.path.stat().st_size <= LIMIT_BYTES
        with zipfile.ZipFile(part.path) as opened_zip:
            assert opened_zip.testzip() is None
            photos |= {info.filename for info in opened_zip.infolist() if info.file_size == PHOTO_BYTES}
        part.path.unlink()
    assert PHOTOS == len(photos)
    assert max(heap) < MOST_IN_HEAP_BYTES
    assert max(held) < MOST_HELD_BYTES, max(held)


def memory_of_pages(profile: Path) -> int:
    """Bytes that the page processes of a browser with this profile use for themselves alone: also the buffers that the
    heap's size omits. A page's process does not name the profile, but one above it does."""
    parents, commands, own = {}, {}, {}
    for process in Path("/proc").glob("[0-9]*"):
        with suppress(OSError):  # it has ended since
            commands[process.name] = (process / "cmdline").read_text()
            rows = dict(row.split(":", 1) for row in (process / "status").read_text().splitlines())
            parents[process.name] = rows["PPid"].strip()
            own[process.name] = int(rows.get("RssAnon", "0").split()[0]) * 1024

    def is_of_profile(number: str) -> bool:
        return number in parents and (str(profile) in commands[number] or is_of_profile(parents[number]))

    pages = [number for number in own if "--type=renderer" in commands[number] and is_of_profile(number)]
    assert pages
    return sum(own[number] for number in pages)
