"""Whether a site is built plain or locked, by settings of every sort that an author may have written."""

from __future__ import annotations

from pathlib import Path

import pytest

from journal.commands.plain_or_locked import is_to_be_locked
from journal.problems import Refusal

SHARE = '[shares.mentor]\nabout = ["B-031"]\nlocked = true\n'
FAULT = '[shares.friend]\nabout = ["B-031"\nby = true\n'


@pytest.mark.parametrize(
    "settings",
    [
        '[journal]\ntitle = "a"\n' + SHARE + FAULT,
        "[journal]\nlocked = false\n[tents.hut]\n" + SHARE.replace("\n", "\r\n") + FAULT,
        '[journal]\ntitle = "a"\n' + SHARE + SHARE.replace("mentor", "baker") + "[shares.mentor]\n",
        '[journal]\ntitle = "a"\n' + SHARE + "# locked = true\nwhat is this",
        '[journal]\nlocked = false\ntitle = "a',
        "[journal]\n# locked = true, some day\ntitle = a\n",
        "[journal]\n# lock = true, some day\nlock = false\nas_of = 1 2\n",
        '[journal]\ntitle = "Lock"\n[ingredients]\nblocks = "40 %"\nx\n',
    ],
)
def test_settings_that_cannot_be_read_and_lock_no_more_than_shares_are_built(tmp_path: Path, settings: str) -> None:
    (tmp_path / "journal.toml").write_text(settings, "utf-8", newline="")
    assert not is_to_be_locked(tmp_path)


@pytest.mark.parametrize(
    "settings",
    [
        "[journal]\nlocked = yes\n",
        "[journal]\nlocked: true\n",
        "[journal]\nlocked = tru\n",
        '[journal]\n"locked" = true\nx\n',
        "journal.locked = true\nx\n",
        "journal = {title = 'a', locked = true}\nx\n",
        "[journal]\nlocked = 1\n",
        "[journal]\nlocked true\n",
        "[journal]\nlocked\n",
        "[journal]\nlocked -> true\n",
        "[journal]\nLOCKED true\n",
        "[journal]\nis_locked true\n",
        '[journal]\n"lock\\u0065d" = true\nx\n',
        '[journal]\n"\\U0000006Cocked" = true\nx\n',
        '[journal]\n"lock\\x65d" = true\nx\n',
        "[journal]\nlocked = false true\n",
        '[journal]\ntitle = "Locked garden"\n' + SHARE + FAULT,
        "[journal]\nLocked = true\n" + SHARE + FAULT,
        "[journal]\nlock = true\n" + SHARE + FAULT,
        # a share is locked too
        SHARE + "[journal\nlocked = true\n",
        SHARE + "[journal]\nlocked = true\nx\n",
        "[journal]\nlocked = true\n" + SHARE + FAULT,
        '[journal]\ntitle = "a"\n' + SHARE + "[journal]\nlocked = true\n",  # [journal] twice
        '[journal]\ntitle = """a\n' + SHARE + 'x = """b"""\n' + FAULT,
        '[jurnal]\nlocked = true\n[journal]\ntitle = "a"\n' + SHARE + FAULT,
        "[[journal]]\nlocked = true\n" + SHARE + FAULT,
        # [journal] may not be over, or be the line at fault
        SHARE + "[journal]\nlo cked = true\n",
        SHARE + "journal]\nloc ked = true\n",
        SHARE + FAULT,
        "lo cked = true\n" + SHARE,
        '[journal]\ntitle = "a"\n[tents.hut]\nx = 1\n[journal.more]\n'
        + SHARE.replace("shares", "journal.shares")
        + "x",
    ],
)
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le"])
def test_settings_that_may_lock_the_site_and_cannot_be_read_are_refused(
    tmp_path: Path, settings: str, encoding: str
) -> None:
    (tmp_path / "journal.toml").write_bytes(settings.encode(encoding))
    with pytest.raises(Refusal, match=r"has the word lock(ed)? in it \(line \d+\)|: locked: 1 is a number"):
        is_to_be_locked(tmp_path)


@pytest.mark.parametrize(
    ("settings", "said"),
    [
        (SHARE + FAULT, "(line 3): nothing is built, since the site might have to be locked. Correct line 6 ("),
        ("lock = true\nx\n", "has the word lock in it (line 1): nothing is built, since the site might"),
        ("[journal]\n'Loked' : yes\n", "has the word Loked in it (line 2): nothing is built, since the site might"),
        ("[labels]\n[Journal\nlock = true\n", "has the word lock in it (line 3): nothing is built, since the site"),
        ("[[journal]]\nlockt = true\n" + SHARE + FAULT, "(line 2): nothing is built, since the site might"),
        ('[journal]\ntitle = "The locked garden"\nx\n', "(line 2): nothing is built, since the site might"),
        ('[journal]\r\nx\r\n"lock\\u0065d" = true\r\n', "(line 3): nothing is built, since the site might"),
        (
            '[journal]\ntitle = "a"\n' + SHARE + "[tents.hut]\nname = 'locked'\nx",
            "(line 7): nothing is built, since the site might",
        ),
    ],
)
def test_the_refusal_of_a_broken_file_names_the_line_to_look_at_and_the_one_to_correct(
    tmp_path: Path, settings: str, said: str
) -> None:
    (tmp_path / "journal.toml").write_text(settings, "utf-8", newline="")
    with pytest.raises(Refusal) as refused:
        is_to_be_locked(tmp_path)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize(
    ("settings", "line", "under"),
    [
        ('[Journal]\ntitle = "a"\nlocked = true\n', 3, "[Journal]"),
        ("[jurnal]\nlocked = true\n", 2, "[jurnal]"),
        ('[journal]\ntitle = "a"\n\nLocked = true\n', 4, "[journal]"),
        ("[journal]\nloked = true\n", 2, "[journal]"),
        ("[journal]\nlock = 'maybe'\n", 2, "[journal]"),
        ("[journal]\nlocked = false\nLocked = true\n", 3, "[journal]"),
        ('locked = true\n[journal]\ntitle = "a"\n', 1, ""),
        ("Lock = 1\n", 1, ""),
        ("[locked]\nsite = true\n", 1, ""),
        ("[[journal]]\nlocked = true\n", 2, "[[journal]]"),
        ('[[journal]]\ntitle = "a"\n[[journal]]\nlocked = true\n', 4, "[[journal]]"),
        ('[journal]\ntitle = "a"\n[tents.hut]\nlocked = true\n', 4, "[tents.hut]"),
        ("[journal]\nsite = {locked = true}\n", 2, "[journal.site]"),
        ('[[climate]]\nfiles = "a.csv"\nlocked = "yes"\n', 3, "[[climate]]"),
        ("[shares]\nlocked = true\n", 2, "[shares]"),
    ],
)
def test_a_lock_written_where_it_locks_nothing_is_refused_with_its_line_and_what_to_write(
    tmp_path: Path, settings: str, line: int, under: str
) -> None:
    (tmp_path / "journal.toml").write_text(settings, "utf-8")
    with pytest.raises(Refusal) as refused:
        is_to_be_locked(tmp_path)
    said = str(refused.value)
    assert said.startswith(f"journal.toml:{line}: ")
    where = f"under {under}" if under else "outside any table"
    assert f" {where} locks nothing: write `locked = true` under [journal], or delete it" in said
    assert "\n" not in said


@pytest.mark.parametrize(
    ("settings", "is_locked"),
    [
        ('[journal]\ntitle = "a"\n' + SHARE, False),
        (SHARE.replace("locked", "Locked"), False),
        ('[shares.locked]\nabout = ["B-031"]\n', False),
        ('[journal]\ntitle = "locked"\n[names]\nlocked = "Pleurotus ostreatus"\n[tents.locked]\n', False),
        ("Locked = false\n[Journal]\nlocked = 'no'\n", False),
        ("[journal]\nlocked = false\n", False),
        ("[journal]\nlocked = true\n[tents.hut]\nlocked = true\n", True),
        ('[journal]\n"lock\\u0065d" = true\n' + SHARE, True),
        ("journal = {locked = 'yes'}\n", True),
    ],
)
def test_whole_settings_say_themselves_whether_the_site_is_locked(
    tmp_path: Path, settings: str, is_locked: bool
) -> None:
    (tmp_path / "journal.toml").write_text(settings, "utf-8")
    assert is_locked == is_to_be_locked(tmp_path)


def test_settings_that_are_there_and_are_no_file_are_refused_and_none_at_all_are_plain(tmp_path: Path) -> None:
    settings = tmp_path / "journal.toml"
    assert not is_to_be_locked(tmp_path)
    settings.mkdir()
    with pytest.raises(Refusal, match=r"^journal.toml: this is not a file: .* Put the file there, or remove it$"):
        is_to_be_locked(tmp_path)
    settings.rmdir()
    settings.symlink_to(tmp_path / "gone.toml")
    with pytest.raises(Refusal, match=r"^journal.toml: this link is broken: nothing is built, since the site might"):
        is_to_be_locked(tmp_path)


def test_settings_that_may_not_be_read_are_refused(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def refuse(path: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    (tmp_path / "journal.toml").write_text("[journal]\n", "utf-8")
    monkeypatch.setattr(Path, "read_bytes", refuse)
    with pytest.raises(Refusal, match=r"^journal.toml: this file cannot be read \(permission denied\): nothing is"):
        is_to_be_locked(tmp_path)
