"""A share, from a journal on the disk to its folder and zip."""

from __future__ import annotations

import hashlib
import json
import time
import zipfile
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from journal import share_pipeline
from journal.cache.file_cache import FileCache
from journal.cache.store import Cache
from journal.locking.key_file import KeyFile, SiteKey
from journal.pipeline import build_site
from journal.problems import Refusal
from journal.share_pipeline import (
    FinishedShare,
    LeaksFound,
    make_share_files,
    prepare,
)
from journal.sharing.detectors import Leak
from journal.site.build import photo_workers
from journal.site.build.photo_workers import photo_work
from journal.site.images import published_name
from tests.builders import Inline, some
from tests.locking.opening import unlocked
from tests.sharing.made import seen_whole
from tests.test_pipeline import bytes_in, settle, write_entry

ENTRIES = {
    "journal.toml": '[journal]\ntitle = "Woods"\nauthor = "Night porter"\n[tents.hut]\nname = "Hut"\n'
    '[shares.mentor]\nabout = ["B-031", "hut"]\npositions = "area"\n'
    '[shares.later]\nabout = ["B-031"]\nlocked = true\n'
    "[shares.nothing]\nabout = []\n"
    '[shares.unknown]\nabout = ["B-13"]\n'
    '[shares."../elsewhere"]\nabout = ["B-031"]\n'
    '[shares.con]\nabout = ["B-031"]\n',
    "finds/zzyzx-bank/find.md": "kind: find\nid: F26-001\ndate: 2026-09-12\nspecies: Pleurotus pulmonarius\n"
    "where: 58.30412, -8.90177 ±8 m\nplace: Zzyzx Bank\nlocality: area\nphotos: log.jpg\n",
    "finds/other/find.md": "kind: find\nid: F26-777\ndate: 2026-09-13\nspecies: Grifola frondosa\nphotos: oak.jpg\n",
    "cultures/PP-26A.md": "kind: culture\nid: PP-26A\ndate: 2026-09-12\nfrom: F26-001\n",
    "batches/B-031/batch.md": "kind: batch\nid: B-031\ndate: 2026-10-06\nculture: PP-26A\nunits: 4\ntent: hut\n",
    "batches/B-031/pins.md": "kind: note\nabout: B-031\ndate: 2026-11-01\nharvest: 1290 g\nflush: 1\n"
    "photos: pins.jpg\n",
}
PHOTOS = {
    "finds/zzyzx-bank/log.jpg": (1, (58, 18, 14), "2026:09:12 14:38:00"),
    "finds/other/oak.jpg": (2, (58, 20, 31), "2026:09:13 10:00:00"),
    "batches/B-031/pins.jpg": (3, (58, 11, 2), "2026:11:01 08:30:00"),
}
DAY = date(2026, 11, 25)
SECRETS = (b"zzyzx", b"Zzyzx", b"58.304", b"8.9017", b"F26-777", b"f26-777", b"Grifola", b"Night porter", b"14:38")


@pytest.fixture(autouse=True)
def worked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Names of the photos that were decoded."""
    inline = Inline()
    monkeypatch.setattr(photo_workers, "photo_work", partial(photo_work, executor=inline))
    return inline.files


@pytest.fixture(scope="module")
def photo(picture_bytes: Callable[..., bytes], exif_block: Callable[..., bytes]) -> Callable[..., bytes]:
    """A photo as a phone writes it: another one for each number, with its place and time."""
    from PIL import Image

    def content(number: int, north: tuple[int, int, int], taken: str) -> bytes:
        block = exif_block(
            DateTimeOriginal=taken, GPSLatitudeRef="N", GPSLatitude=[(part, 1) for part in north],
            GPSLongitudeRef="W", GPSLongitude=[(8, 1), (54, 1), (6, 1)],
        )  # fmt: skip
        shade = (number * 37 % 256, number * 91 % 256, 90)
        return picture_bytes("JPEG", block, image=Image.new("RGB", (400, 300), shade))

    return content


def write_journal(root: Path, photo: Callable[..., bytes]) -> Path:
    for path, text in ENTRIES.items():
        write_entry(root / path, text)
    for path, what in PHOTOS.items():
        (root / path).write_bytes(photo(*what))
    settle(root)
    return root


@pytest.fixture
def root(tmp_path: Path, photo: Callable[..., bytes]) -> Path:
    return write_journal(tmp_path / "my-journal", photo)


def silent(*told: Any) -> None:
    pass


@pytest.fixture
def memory(root: Path, tmp_path: Path) -> Callable[..., FileCache]:
    return lambda cache="cache": FileCache(Cache(tmp_path / cache), root, time.time_ns())


@pytest.fixture
def share(memory: Callable[..., FileCache], tmp_path: Path) -> Callable[..., FinishedShare]:
    """Makes the share `mentor` into a folder of that name."""

    def run(out: str = "out", name: str = "mentor", cache: str = "cache") -> FinishedShare:
        return shared(memory(cache), name, tmp_path / out)

    return run


def shared(known: FileCache, name: str, out: Path) -> FinishedShare:
    made = make_share_files(known, seen_whole(known, prepare(known, name, silent)), out, silent)
    known.cache.save()
    return made


@pytest.fixture(scope="module")
def made(photo: Callable[..., bytes], tmp_path_factory: pytest.TempPathFactory) -> FinishedShare:
    """The share `mentor` of the journal, made once into `out`, its cache beside that; change nothing in it."""
    room = tmp_path_factory.mktemp("made")
    root = write_journal(room / "my-journal", photo)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(photo_workers, "photo_work", partial(photo_work, executor=Inline()))
        return shared(FileCache(Cache(room / "cache"), root, time.time_ns()), "mentor", room / "out")


def names_in(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir()) if folder.exists() else []


def cached_pictures(made: FinishedShare) -> list[Path]:
    return some((made.archive.parents[2] / "cache").rglob("*.webp"))


class TestWhatGoesOut:
    def test_a_folder_and_a_zip_of_the_same_files(self, made: FinishedShare) -> None:
        folder = made.archive.parent
        assert ["mentor"] == names_in(folder.parent)
        assert [".journal-site", "mentor.zip", "pages"] == names_in(folder)
        assert (folder / "pages", folder / "mentor.zip") == (made.pages_folder, made.archive)
        files = bytes_in(made.pages_folder)
        assert files.pop(".journal-site").startswith(b"Made by `journal share`")
        with zipfile.ZipFile(made.archive) as packed:
            assert files == {name: packed.read(name) for name in packed.namelist()}
        assert {"index.html", "READ-ME.txt"} == {name for name in files if "/" not in name}
        assert (made.pages_bytes, made.archive_bytes) == (sum(map(len, files.values())), made.archive.stat().st_size)

    def test_what_is_granted_is_there_and_nothing_else(self, made: FinishedShare) -> None:
        files = bytes_in(made.pages_folder)
        pages = {name for name in files if name.endswith(".html")}
        assert {"batches/b-031/index.html", "cultures/pp-26a/index.html", "finds/f26-001/index.html"} <= pages
        assert b"1.29 kg" in files["batches/b-031/index.html"]
        assert [] == [name for name in pages if "f26-777" in name or "mend" in name]
        found = [(name, secret) for name, data in files.items() for secret in SECRETS if secret in data]
        assert [] == found

    def test_every_photo_that_is_shared_is_there_in_every_published_size_and_bare(
        self, made: FinishedShare, need_exiftool: Callable[..., dict[str, Any]]
    ) -> None:
        pictures = sorted(made.pages_folder.rglob("photos/**/*.webp"))
        widths = sorted(int(file.stem.rpartition("-")[2]) for file in pictures)
        assert [320, 320, 400, 400] == widths
        for file in pictures:
            tags = need_exiftool(file, "-G1", "-a")
            assert set() == {name for name in tags if name.split(":")[0] in ("GPS", "ExifIFD", "IFD0", "XMP", "IPTC")}

    def test_only_photos_that_are_shared_are_made(self, made: FinishedShare) -> None:
        assert 2 == len({file.name.rpartition("-")[0] for file in cached_pictures(made)})

    def test_a_picture_of_the_share_is_a_file_of_its_own(self, made: FinishedShare) -> None:
        cached = {file.stat().st_ino for file in cached_pictures(made)}
        assert set() == cached & {file.stat().st_ino for file in made.pages_folder.rglob("*.webp")}

    def test_a_picture_that_is_damaged_in_the_cache_is_made_again(self, share, tmp_path: Path) -> None:
        def pictures() -> dict[str, bytes]:
            return {file.name: file.read_bytes() for file in share().pages_folder.rglob("*.webp")}

        whole = pictures()
        for file in some((tmp_path / "cache").rglob("*.webp")):
            file.write_bytes(file.read_bytes()[:-1] + b"?")
        assert pictures() == whole

    def test_a_picture_has_a_name_of_its_own_in_every_share(
        self, share: Callable[..., FinishedShare], root: Path
    ) -> None:
        def pictures() -> set[str]:
            return {file.name for file in share().pages_folder.rglob("*.webp")}

        originals = {published_name(hashlib.sha256((root / path).read_bytes()).hexdigest()) for path in PHOTOS}
        first = pictures()
        assert first
        assert set() == {name.rpartition("-")[0] for name in first} & originals
        settings = root / "journal.toml"
        settings.write_text(settings.read_text("utf-8").replace("[shares.mentor]", "[shares.friend]"), "utf-8")
        friend = {file.name for file in share(name="friend").pages_folder.rglob("*.webp")}
        assert len(first) == len(friend)
        assert set() == first & friend

    def test_the_same_journal_gives_the_same_bytes(self, share: Callable[..., FinishedShare]) -> None:
        one, two = share("one", cache="cache-1"), share("two", cache="cache-2")
        assert one.archive.read_bytes() == two.archive.read_bytes()
        assert bytes_in(one.pages_folder) == bytes_in(two.pages_folder)

    def test_a_build_after_a_share_finds_its_photos_made_and_a_share_after_a_build(
        self, share: Callable[..., FinishedShare], memory: Callable[..., FileCache], tmp_path: Path, worked: list[str]
    ) -> None:
        share()
        build_site(memory(), tmp_path / "site", silent)
        count = len(worked)
        made = bytes_in(share().pages_folder)
        assert (count, {"log.jpg", "oak.jpg", "pins.jpg"}) == (len(worked), set(worked))
        assert 4 == len([name for name in made if name.endswith(".webp")])

    def test_a_newer_share_leaves_nothing_of_the_older(self, share: Callable[..., FinishedShare], root: Path) -> None:
        before = bytes_in(share().pages_folder)
        for name in ("pins.md", "pins.jpg"):
            (root / "batches/B-031" / name).unlink()
        made = share()
        after = bytes_in(made.pages_folder)
        assert any("2026-11" in name for name in before)
        assert not any("2026-11" in name for name in after)
        with zipfile.ZipFile(made.archive) as packed:
            assert set(after) - {".journal-site"} == set(packed.namelist())

    def test_what_a_device_remembers_it_by_stays_the_same(
        self, share: Callable[..., FinishedShare], root: Path
    ) -> None:
        def key() -> str:
            return (share().pages_folder / "index.html").read_text("utf-8").split('data-since="')[1].split('"')[0]

        before = key()
        (root / "batches/B-031/pins.md").unlink()
        assert before == key()

    def test_what_entries_that_cannot_be_read_say_is_revealed_nowhere(
        self, share: Callable[..., FinishedShare], root: Path
    ) -> None:
        """What they say, and the names of their places where a shared entry has them: of a wrong entry, one that is no
        UTF-8, and one too large to be read."""
        (root / "batches/B-031/broken.md").write_text("---\nkind: note\nabout: B-031\ndate: qwertz\n---\n", "utf-8")
        old = "---\nkind: find\nid: F-77\nplace: Quornhill\nhost: bl\u00e5\n---\n".encode("cp1252")
        (root / "finds/old.md").write_bytes(old)
        (root / "finds/wrong.md").write_text("---\nkind: find\nplace: Qwibble Hill\ndate: soon\n---\n", "utf-8")
        head = "---\nkind: find\nid: F26-099\nplace: Qwaddle Hill\ndate: 2026-11-01\n---\n"
        (root / "finds/large.md").write_bytes(head.encode() + "über\n".encode() * (1 << 18))
        for day, name in enumerate(("Quornhill", "Qwibble Hill", "Qwaddle Hill"), 2):
            keys = f"kind: note\nabout: B-031\ndate: 2026-11-{day:02}\ntitle: As at {name}\n"
            write_entry(root / f"batches/B-031/{day}.md", keys)
        files = some(bytes_in(share().pages_folder).items(), 20)
        secrets = (b"qwertz", b"broken.md", b"quornhill", b"qwibble", b"qwaddle")
        assert [] == [(name, secret) for name, data in files for secret in secrets if secret in data.lower()]
        assert any(b"2026-11-04" in data for _, data in files)


class TestLocked:
    PASSPHRASE = "walnut drizzle kettle marina stubborn"

    @pytest.fixture
    def locked(self, memory: Callable[..., FileCache], tmp_path: Path) -> FinishedShare:
        keys = KeyFile(tmp_path / "keys.json")
        keys = keys.keep("later", SiteKey.new(rounds=600_000).with_reader("mentor", self.PASSPHRASE))
        known = memory()
        return make_share_files(
            known, seen_whole(known, prepare(known, "later", silent)), tmp_path / "out", silent, keys
        )

    def test_neither_folder_nor_zip_tells_a_word_before_or_after_it_is_opened_by_another_program(
        self, locked: FinishedShare, memory: Callable[..., FileCache], tmp_path: Path
    ) -> None:
        told = (b"B-031", b"PP-26A", b"pulmonarius", b"Woods", *SECRETS)
        with zipfile.ZipFile(locked.archive) as packed:
            packed.extractall(tmp_path / "unpacked")
        for folder in (locked.pages_folder, tmp_path / "unpacked"):
            files = bytes_in(folder)
            assert [] == [name for name, data in files.items() for word in told if word in name.encode() + data]
            opened = unlocked(folder, self.PASSPHRASE).contents()
            assert b"pulmonarius" in opened["batches/b-031/index.html"]
            assert [] == [name for name, data in opened.items() for word in SECRETS if word in data]
        plain = tmp_path / "opened"
        for name, data in opened.items():
            (plain / name).parent.mkdir(parents=True, exist_ok=True)
            (plain / name).write_bytes(data)
        search = share_pipeline._search_of(known := memory(), prepare(known, "later", silent))
        assert [] == list(search.leaks_in(plain))
        (plain / "more.txt").write_text("at Zzyzx Bank", "utf-8")
        assert search.leaks_in(plain)

    def test_its_key_is_its_own_and_the_plain_pages_are_gone(self, locked: FinishedShare, tmp_path: Path) -> None:
        assert ["later.zip", "pages"] == sorted(set(names_in(tmp_path / "out/later")) - {".journal-site"})
        assert "share" == json.loads((locked.pages_folder / "lock.json").read_bytes())["kind"]
        assert "READ-ME.txt" in names_in(locked.pages_folder)

    def test_what_would_tell_something_once_locked_is_not_put_into_place(
        self, memory: Callable[..., FileCache], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        def lock_in_name_only(plain: Path, tree: Path, *words: object) -> None:
            plain.rename(tree)
            plain.mkdir()
            (tree / "note.txt").write_text("at Zzyzx Bank", "utf-8")

        monkeypatch.setattr(share_pipeline, "lock_folder", lock_in_name_only)
        known = memory()
        seen = seen_whole(known, prepare(known, "later", silent))
        with pytest.raises(LeaksFound):
            make_share_files(known, seen, tmp_path / "out", silent, KeyFile(tmp_path / "keys.json"))
        assert [] == names_in(tmp_path / "out")


class TestRefusals:
    @pytest.mark.parametrize(
        ("name", "words"),
        [
            ("mentr", "no share mentr.*did you mean mentor"),
            ("xylophone", "no share xylophone; the shares are .*mentor"),
            ("later", "the share later is to be locked, and there is no key for it"),
            ("nothing", "has no IDs"),
            ("unknown", "names B-13, which is not in this journal"),
            ("../elsewhere", "its folder and its zip get its name"),
            ("con", "its folder and its zip get its name"),
        ],
    )
    def test_it_is_said_in_a_sentence_and_nothing_is_written(
        self, share: Callable[..., FinishedShare], tmp_path: Path, name: str, words: str
    ) -> None:
        with pytest.raises(Refusal, match=words):
            share(name=name)
        assert [] == names_in(tmp_path / "out")
        assert not (tmp_path / "elsewhere").exists()

    @pytest.mark.parametrize("name", ["xylophone", "mentr"])
    def test_no_photo_is_looked_at_before_the_settings_are_known_to_be_right(
        self, share: Callable[..., FinishedShare], worked: list[str], name: str
    ) -> None:
        with pytest.raises(Refusal):
            share(name=name)
        assert [] == worked

    def test_a_folder_of_others_is_not_replaced(self, share: Callable[..., FinishedShare], tmp_path: Path) -> None:
        letter = tmp_path / "out/mentor/letter.txt"
        letter.parent.mkdir(parents=True)
        letter.write_text("Dear", encoding="utf-8")
        with pytest.raises(Refusal, match="would be replaced"):
            share()
        assert ["letter.txt"] == names_in(letter.parent)

    def test_a_link_to_a_folder_is_followed_and_stays(
        self, share: Callable[..., FinishedShare], tmp_path: Path
    ) -> None:
        (tmp_path / "stick").mkdir()
        (tmp_path / "out").mkdir()
        (tmp_path / "out/mentor").symlink_to(tmp_path / "stick", target_is_directory=True)
        for _ in range(2):
            share()
            assert ["mentor"] == names_in(tmp_path / "out")
            assert [".journal-site", "mentor.zip", "pages"] == names_in(tmp_path / "stick")
            assert (tmp_path / "out/mentor").is_symlink()

    def test_neither_takes_the_place_of_the_whole_site_nor_the_site_that_of_a_share(
        self, share: Callable[..., FinishedShare], memory: Callable[..., FileCache], tmp_path: Path
    ) -> None:
        build_site(memory(), tmp_path / "out/mentor", silent)
        with pytest.raises(Refusal, match="is the site of a journal"):
            share()
        made = share("other")
        with pytest.raises(Refusal, match="is a share"):
            build_site(memory(), made.pages_folder, silent)

    def test_a_share_that_is_in_the_journal_is_not_a_part_of_it(
        self, share: Callable[..., FinishedShare], root: Path
    ) -> None:
        share("my-journal/out")
        assert bytes_in(share("my-journal/out").pages_folder) == bytes_in(share("elsewhere").pages_folder)
        assert root.is_dir()


class TestTheSearchAtTheEnd:
    LEAK = Leak("index.html", "a place", "index.html", "Zzyzx")

    def test_what_is_found_stops_it_and_an_older_share_is_shown_as_it_was(
        self, share: Callable[..., FinishedShare], root: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        made = share()
        before, packed = bytes_in(made.pages_folder), made.archive.read_bytes()
        (root / "batches/B-031/pins.md").unlink()
        monkeypatch.setattr(share_pipeline.Search, "leaks_in", lambda *_: (self.LEAK,))
        with pytest.raises(LeaksFound, match="no share was made") as stopped:
            share()
        assert (self.LEAK,) == stopped.value.leaks
        assert (before, packed) == (bytes_in(made.pages_folder), made.archive.read_bytes())
        assert ["mentor"] == names_in(tmp_path / "out")

    def test_a_page_that_reveals_a_place_after_all_is_found(
        self, share: Callable[..., FinishedShare], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        """The search trusts no redaction: here the model is left as it was, and only the photos are chosen."""
        real = share_pipeline.redaction_of

        def redact_nothing(journal: Any, *granted: Any) -> Any:
            found = real(journal, *granted)
            paths = {entry.path: entry.path for entry in journal.entries()}
            return type(found)(found.grant, journal, {path: path for path in found.photos}, found.left_out, paths)

        monkeypatch.setattr(share_pipeline, "redaction_of", redact_nothing)
        with pytest.raises(LeaksFound) as stopped:
            share()
        told = {leak.what for leak in stopped.value.leaks}
        assert {"a position", "an ID"} <= told
        assert any(leak.file == "finds/f26-001/index.html" for leak in stopped.value.leaks)
        assert [] == names_in(tmp_path / "out")

    def test_the_zip_is_searched_too(
        self, share: Callable[..., FinishedShare], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        real = share_pipeline.zip_folder

        def pack_one_more(folder: Path, file: Path) -> None:
            real(folder, file)
            with zipfile.ZipFile(file, "a") as packed:
                packed.writestr("more.txt", "found at Zzyzx Bank")

        monkeypatch.setattr(share_pipeline, "zip_folder", pack_one_more)
        with pytest.raises(LeaksFound) as stopped:
            share()
        assert {True} == {"more.txt" in leak.where for leak in stopped.value.leaks}
        assert [] == names_in(tmp_path / "out")

    def test_what_a_killed_run_left_is_cleared_away(self, share: Callable[..., FinishedShare], tmp_path: Path) -> None:
        for left in (".mentor.new-0a1b2c3d", ".mentor.ready-0a1b2c3d", ".mentor.old-0a1b2c3d"):
            (tmp_path / "out" / left).mkdir(parents=True)
            (tmp_path / "out" / left / "mentor.zip").write_bytes(b"half")
        share()
        assert ["mentor"] == names_in(tmp_path / "out")
