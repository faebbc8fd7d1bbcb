"""`journal build --locked` and `journal readers`, as an author types them."""

from __future__ import annotations

import contextlib
import os
import stat
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from journal.cli import main
from journal.locking import key_file, passphrases
from journal.locking.key_file import KeyFile, SiteKey, read_keys
from journal.reading.folder import scan
from tests.locking.opening import unlocked

STRONG = "kestrel amber walnut gravel lintel osprey"
OTHER = "walnut drizzle kettle marina stubborn"


class Author:
    """Runs commands on a small journal, its keys in a configuration folder of the test's own."""

    def __init__(self, room: Path, monkeypatch: pytest.MonkeyPatch, capfd: Any) -> None:
        self.room, self._patch, self._capfd = room, monkeypatch, capfd
        self.journal = room / "shore"
        self.journal.mkdir()
        (self.journal / "journal.toml").write_text('[journal]\ntitle = "Shore"\nauthor = "Porter"\n', "utf-8")
        self.writes("Under alders.")

    def writes(self, text: str) -> None:
        (self.journal / "F-1.md").write_text(f"---\nkind: find\nid: F-1\ndate: 2026-09-12\n---\n{text}\n", "utf-8")

    def __call__(self, *words: str, asks: bool = False, passphrase: str = "") -> tuple[int, str]:
        """The exit code, and what was printed."""
        with self._patch.context() as patched:
            patched.chdir(self.journal)
            patched.setattr(sys, "argv", ["journal", *map(str, words)])
            patched.setattr("journal.commands.readers.can_ask", lambda: asks)
            if passphrase:
                patched.setenv("JOURNAL_PASSPHRASE", passphrase)
            self._capfd.readouterr()
            with pytest.raises(SystemExit) as ended:
                main()
        said = self._capfd.readouterr()
        return int(ended.value.code or 0), said.out + said.err

    @property
    def key_path(self) -> Path:
        (path,) = (self.room / "config").rglob("*.json")
        return path

    @property
    def key(self) -> SiteKey:
        return read_keys(self.key_path).sites[""]


@pytest.fixture
def author(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> Author:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "config"))
    monkeypatch.setattr(key_file, "ROUNDS", 600_000)
    monkeypatch.setattr(key_file.SiteKey.new.__func__, "__defaults__", (0, 600_000))
    return Author(tmp_path, monkeypatch, capfd)


def test_a_locked_build_from_the_first_one_to_one_that_is_no_longer_locked(author: Author) -> None:
    site = author.room / "site"
    status, said = author("build", "--locked", passphrase=STRONG)
    assert (0, True) == (status, f"A new key is in {author.key_path}" in said)
    assert f"The locked site is in {site}" in said
    size_mb = sum(size for _, size in unlocked(site, STRONG).rows().values()) / 1e6
    assert f"{size_mb:.1f} MB for offline use" in said
    assert 0o600 == stat.S_IMODE(author.key_path.stat().st_mode)
    assert b"Under alders." in unlocked(site, STRONG).contents()["finds/f-1/index.html"]
    first, counter = (site / "sw.js").read_bytes(), author.key.counter
    status, said = author("build", "--locked")  # with a key there, nothing is asked for
    assert (0, True, first) == (status, "nothing had changed" in said, (site / "sw.js").read_bytes())
    author.writes("Under a willow.")
    (author.journal / "journal.toml").write_text('[journal]\ntitle = "Shore"\nlocked = true\n', "utf-8")
    assert 0 == author("build")[0]
    assert b"Under a willow." in unlocked(site, STRONG).contents()["finds/f-1/index.html"]
    assert counter + 1 == author.key.counter == unlocked(site, STRONG).root["counter"]
    (author.journal / "journal.toml").write_text('[journal]\ntitle = "Shore"\n', "utf-8")
    status, said = author("build")
    assert (2, True) == (status, "is a locked site (`journal build --locked`)" in said)
    assert unlocked(site, STRONG).contents()


def test_five_words_are_made_and_shown_once_where_nothing_is_typed(
    author: Author, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("click.prompt", lambda *words, **more: "")
    status, said = author("build", "--locked", asks=True)
    words = said.split("The passphrase is: ")[1].splitlines()[0]
    assert (0, 5) == (status, len(words.split()))
    assert set(words.split()) <= set(passphrases.word_list())
    assert unlocked(author.room / "site", words).contents()
    assert words not in author.key_path.read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("build", "--locked"), "there is no terminal to ask on; use --passphrase-file, or set JOURNAL_PASSPHRASE"),
        (("build", "--locked", "--passphrase-file", "weak.txt"), "at least 2^64 are needed"),
        (("build", "--locked", "--passphrase-file", "empty.txt"), "its first line is empty"),
        (("build", "--locked", "--passphrase-file", "none.txt"), "cannot be read as text"),
        (("build", "--locked", "--keys", "keys.json"), "is in the journal; name one elsewhere with --keys"),
        (("build", "--passphrase-file", "strong.txt"), "go with --locked"),
        (("readers", "remove", "mentor"), "the journal has no reader mentor"),
        (("readers", "add"), "write add NAME"),
        (("readers", "add", "mentor", "--new-key"), "write add NAME"),
    ],
)
def test_what_cannot_be_done_is_said_and_nothing_is_written(author: Author, words: tuple[str, ...], says: str) -> None:
    for name, text in {"weak.txt": "correct horse\n", "empty.txt": "\n", "strong.txt": f"{STRONG}\n"}.items():
        (author.journal / name).write_text(text, "utf-8")
    status, said = author(*words)
    assert (2, True) == (status, says in said), said
    assert not (author.room / "site").exists()
    assert not (author.room / "config").exists()


def test_the_only_reader_is_removed_on_purpose_alone_and_the_key_stays(
    author: Author, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert 0 == author("build", "--locked", passphrase=STRONG)[0]
    before = author.key.cipher.id
    status, said = author("readers", "remove", "author")
    assert (2, True, before) == (status, "is the only reader of the journal" in said, author.key.cipher.id)
    monkeypatch.setattr("click.confirm", lambda *words, **more: False)
    status, said = author("readers", "remove", "author", asks=True)
    assert (2, True, 1) == (status, "author was not removed" in said, len(author.key.readers))
    status, said = author("readers", "remove", "author", "--yes")
    assert (0, True, True) == (status, "author --new-key`" in said, "Nobody can open the journal now" in said)
    author.writes("Under a willow.")
    status, said = author("build", "--locked", passphrase=STRONG)
    assert (0, False, True) == (status, "A new key" in said, "is the one from before" in said)
    assert before == author.key.cipher.id


def test_readers_are_added_removed_and_shut_out_by_a_new_key(author: Author) -> None:
    site = author.room / "site"
    author("build", "--locked", passphrase=STRONG)
    sealed = {path.name: path.read_bytes() for path in (site / "locked").iterdir()}
    author("readers", "add", "mentor", passphrase=OTHER)
    assert "the journal: author\nthe journal: mentor\n2 readers" in author("readers", "list")[1]
    assert "author has this passphrase already" in author("readers", "add", "walker", passphrase=STRONG)[1]
    author("build", "--locked")
    assert unlocked(site, OTHER).data_key == unlocked(site, STRONG).data_key
    assert sealed == {path.name: path.read_bytes() for path in (site / "locked").iterdir()}
    said = author("readers", "remove", "mentor")[1]
    assert "Nothing was encrypted again. A device that mentor has unlocked keeps the key" in said
    author("build", "--locked")
    with pytest.raises(ValueError, match="nobody"):
        unlocked(site, OTHER)
    assert sealed == {path.name: path.read_bytes() for path in (site / "locked").iterdir()}
    before = (
        author.key
    )  # who was removed before is shut out by the same command, and a slip of the name shuts out nobody
    assert "did you mean author?" in author("readers", "remove", "authr", "--new-key", passphrase=STRONG)[1]
    assert before == author.key
    said = author("readers", "remove", "mentor", "--new-key", passphrase="tunnel sprig mosaic aloft crayon")[1]
    assert "What mentor saved until then stays readable to them" in said
    author("build", "--locked")
    assert unlocked(site, "tunnel sprig mosaic aloft crayon").data_key.hex() != before.data_key
    assert author.key.counter > before.counter
    assert not sealed.keys() & {path.name for path in (site / "locked").iterdir()}


def test_settings_that_cannot_be_read_build_no_open_site_where_a_locked_one_is_wanted(author: Author) -> None:
    (author.journal / "journal.toml").write_text('[journal]\nlocked = true\ntitle = "a"\ntitle = "b"\n', "utf-8")
    status, told = author("build", "--to", author.room / "open")
    assert 0 != status
    assert "this file cannot be read, and has the word locked in it (line 2)" in told
    assert "Correct line 4 (" in told
    assert "the site might have to be locked" in told
    assert not (author.room / "open").exists()


def test_a_passphrase_that_opens_nothing_is_not_taken_for_a_new_one(author: Author) -> None:
    author("build", "--locked", passphrase=STRONG)
    status, said = author("build", "--locked", passphrase=OTHER)
    assert (2, True) == (status, "no reader of the journal has this passphrase" in said)
    assert 0 == author("build", "--locked", passphrase=STRONG)[0]


def test_a_lost_key_file_means_a_new_key_and_says_so(author: Author, monkeypatch: pytest.MonkeyPatch) -> None:
    author("build", "--locked", passphrase=STRONG)
    old = author.key
    author.key_path.unlink()
    monkeypatch.setattr(key_file, "time", SimpleNamespace(time=lambda: old.counter + 60.0))
    status, said = author("build", "--locked", passphrase=STRONG)
    assert (0, True) == (status, "was locked with another key, which is not in" in said)
    assert author.key.data_key != old.data_key
    assert author.key.counter > old.counter


def test_a_journal_that_was_moved_finds_its_keys_where_the_command_says(author: Author) -> None:
    author("build", "--locked", passphrase=STRONG)
    old = author.key_path
    author.journal = author.journal.rename(author.room / "dunes")
    said = author("readers", "list")[1]
    old.rename(said.split("the key file would be ")[1].strip())
    assert "the journal: author\n1 reader; the keys are in" in author("readers", "list")[1]


def test_a_lost_key_file_is_asked_about_before_any_passphrase(author: Author, monkeypatch: pytest.MonkeyPatch) -> None:
    author("build", "--locked", passphrase=STRONG)
    site = (author.room / "site/sw.js").read_bytes()
    author.key_path.unlink()
    monkeypatch.setattr("journal.commands.readers.ask_yes", lambda question: False)
    monkeypatch.setattr("click.prompt", lambda *words, **more: pytest.fail("a passphrase was asked for"))
    status, said = author("build", "--locked", asks=True)
    assert (2, True) == (status, "no new key was made, and nothing was changed" in said)
    assert "put it at that path, or name it with --keys" in said
    assert ([], site) == ([*(author.room / "config").rglob("*.json")], (author.room / "site/sw.js").read_bytes())


def test_a_key_file_that_others_can_read_or_that_is_damaged_is_not_used(author: Author) -> None:
    author("build", "--locked", passphrase=STRONG)
    author.key_path.chmod(0o640)
    status, said = author("build", "--locked")
    assert (2, True) == (status, "can be read or changed by other users of this computer (mode 640)" in said)
    author.key_path.chmod(0o600)
    whole = author.key_path.read_text("utf-8")
    for harmed in (whole[:-30], "{}", whole.replace('"data_key": "', '"data_key": "00'), "[]"):
        author.key_path.write_text(harmed, "utf-8")
        status, said = author("build", "--locked")
        assert (2, True) == (status, "or it is damaged; restore it from a copy" in said)
        assert harmed == author.key_path.read_text("utf-8")


def test_keys_are_whole_and_the_authors_alone_at_any_moment(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    os.umask(os.umask(0o077))
    keys = KeyFile(tmp_path / "keys.json").keep("", SiteKey.new())

    def refuse(*words: object) -> None:
        raise OSError(28, "no space")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(OSError, match="no space"):
        keys.keep("", SiteKey.new())
    assert ["keys.json"] == [path.name for path in tmp_path.iterdir()]
    assert keys.sites == read_keys(tmp_path / "keys.json").sites
    assert "data_key" not in repr(keys)


def test_show_of_a_journal_that_is_to_be_locked_leaves_the_locked_site_alone(
    author: Author, monkeypatch: pytest.MonkeyPatch
) -> None:
    author("build", "--locked", passphrase=STRONG)
    (author.journal / "journal.toml").write_text('[journal]\ntitle = "Shore"\nlocked = true\n', "utf-8")
    shown: list[tuple[bool, str]] = []

    def watch(root: Path, before: object, rebuild: object, wait: object) -> None:
        raise KeyboardInterrupt

    def served(site: Path, port: int | None) -> Any:
        shown.append(((site / "locked").is_dir(), (site / "index.html").read_text("utf-8")))
        return contextlib.nullcontext("http://127.0.0.1:8460/")

    monkeypatch.setattr("journal.commands.show.watch", watch)
    monkeypatch.setattr("journal.commands.show.served", served)
    author.writes("Under a willow.")
    before = (author.room / "site/sw.js").read_bytes()
    assert "The journal is locked: what is shown here is not" in author("show")[1]
    assert before == (author.room / "site/sw.js").read_bytes()
    author("show", "--locked")
    assert before != (author.room / "site/sw.js").read_bytes()
    assert [(False, True), (True, False)] == [(locked, "Shore" in page) for locked, page in shown]


def test_a_journal_that_is_locked_while_it_is_shown_is_not_built_plain_again(
    author: Author, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings, built = author.journal / "journal.toml", []

    def watch(root: Path, before: object, rebuild: Callable[[object], object], wait: object) -> None:
        for written in ("locked = true", "locked true", 'title = "Dunes"'):
            settings.write_text(f"[journal]\n{written}\n", "utf-8")
            author.writes(f"With {written}.")
            rebuild(scan(root))
            pages = (author.room / "site").rglob("*.html")
            built.append(any(f"With {written.split()[0]}" in page.read_text("utf-8") for page in pages))
        raise KeyboardInterrupt

    monkeypatch.setattr("journal.commands.show.watch", watch)
    monkeypatch.setattr(
        "journal.commands.show.served", lambda site, port: contextlib.nullcontext("http://127.0.0.1:8460/")
    )
    said = author("show")[1]
    assert [False, False, True] == built
    assert "a fault in the program" not in said
    assert "The journal is to be locked now, and what is shown is not: nothing is built again" in said
    assert "has the word locked in it (line 2): nothing is built" in said


def test_keys_that_a_killed_run_left_beside_the_file_are_gone_after_the_next(tmp_path: Path) -> None:
    keys = KeyFile(tmp_path / "my.json").keep("", SiteKey.new())
    for name in (".my.json.4711.part", ".my.json.bak", ".mine.json.4711.part"):
        (tmp_path / name).write_text("keys")
    keys.keep("", SiteKey.new())
    assert [".mine.json.4711.part", ".my.json.bak", "my.json"] == sorted(one.name for one in tmp_path.iterdir())
