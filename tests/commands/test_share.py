"""`journal share`, as an author types it."""

from __future__ import annotations

import os
import stat
import sys
import tempfile
from collections.abc import Callable
from pathlib import Path

import pytest

from journal import share_pipeline
from journal.sharing.detectors import Leak
from tests.importing.shore import Ended

FILES = {
    "journal.toml": '[journal]\ntitle = "Woods"\nauthor = "Porter"\npoison_centre = "+00 000 000"\n'
    '[tents.hut]\nname = "Hut"\n'
    '[tents.loft]\nname = "Loft"\n'
    '[shares.mentor]\nabout = ["B-031", "hut"]\nsince = 2026-09-01\npositions = "area"\narea = "0.01°"\n'
    '[shares.later]\nabout = ["B-031"]\nlocked = true\n',
    "f.md": "---\nkind: find\nid: F26-001\ndate: 2026-09-12\nwhere: 58.30412, -8.90177\nplace: Zzyzx Bank\n"
    "permission: the crofter\nlocality: area\n---\n",
    "other.md": "---\nkind: find\nid: F26-777\ndate: 2026-09-13\ntitle: Hen\n---\n",
    "c.md": "---\nkind: culture\nid: PP-26A\ndate: 2026-09-12\nfrom: F26-001\n---\n",
    "b/batch.md": "---\nkind: batch\nid: B-031\ndate: 2026-10-06\nculture: PP-26A\ntent: hut\n---\n",
    "b/pins.md": "---\nkind: note\nabout: B-031\ndate: 2026-11-01\ntitle: First pins\nphotos: pins.jpg\n---\n",
    "b/secret.md": "---\nkind: note\nabout: B-031\ndate: 2026-11-02\nprivate: yes\ntitle: Who knows\n---\n",
}


@pytest.fixture
def root(tmp_path: Path, picture_bytes: Callable[..., bytes], monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    for path, text in FILES.items():
        (tmp_path / "my" / path).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "my" / path).write_text(text, encoding="utf-8")
    (tmp_path / "my/b/pins.jpg").write_bytes(picture_bytes("JPEG"))
    monkeypatch.chdir(tmp_path / "my")
    return tmp_path / "my"


@pytest.fixture
def share(root: Path, capsys: pytest.CaptureFixture[str]) -> Callable[..., Ended]:
    from journal.cli import cli
    from journal.commands.console import run

    def typed(*words: str | Path) -> Ended:
        capsys.readouterr()
        status = run(cli, ["share", *map(str, words)])
        said = capsys.readouterr()
        return Ended(status, said.out, said.err)

    return typed


@pytest.fixture
def seen(share: Callable[..., Ended]) -> Callable[..., Ended]:
    """The same, by an author who looks at the preview first."""

    def typed(*words: str | Path) -> Ended:
        assert 0 == share("mentor", "--preview").status
        return share(*words, "--reviewed")

    return typed


def test_it_prints_where_folder_and_zip_are_and_says_what_they_hold(seen: Callable[..., Ended], root: Path) -> None:
    ended = seen("mentor")
    out = root.parent / "shares"
    assert (0, [str(out / "mentor/pages"), str(out / "mentor/mentor.zip")]) == (ended.status, ended.paths)
    assert ["mentor"] == os.listdir(out)
    for words in ("4 entries and 1 photo shared", str(out / "mentor/pages/index.html")):
        assert words in ended.err


def test_it_goes_where_it_is_asked_to(seen: Callable[..., Ended], root: Path) -> None:
    (root.parent / "desk").mkdir()
    (root.parent / "desk/letter.txt").write_text("Dear", encoding="utf-8")
    assert 0 == seen("mentor", root, "--to", root.parent / "desk").status
    assert ["letter.txt", "mentor"] == sorted(os.listdir(root.parent / "desk"))


def test_a_preview_is_for_its_author_alone(
    share: Callable[..., Ended], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What is left out is on it too. POSIX modes; elsewhere the user's own temporary folder sees to it."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path))
    share("mentor", "--preview")
    (folder,) = tmp_path.glob("journal-preview-*")
    assert ["preview.html"] == [page.name for page in folder.rglob("*.html")]
    assert os.name != "posix" or stat.S_IMODE(folder.stat().st_mode) == 0o700


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only where there is a device that is always full")
def test_a_share_that_was_made_is_not_said_to_have_changed_nothing(
    share: Callable[..., Ended], root: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is printed after it may fail; the pair is in its place by then."""
    from journal.cli import cli
    from journal.commands.console import run

    share("mentor", "--preview")
    with open("/dev/full", "w", encoding="utf-8") as full, monkeypatch.context() as printing:
        printing.setattr(sys, "stdout", full)
        status = run(cli, ["share", "mentor", "--reviewed"])
    said = capsys.readouterr().err
    assert [".journal-site", "mentor.zip", "pages"] == sorted(os.listdir(root.parent / "shares/mentor"))
    assert (2, False) == (status, "othing was changed" in said)
    assert "the share was made, but its paths could not be printed (no space left on device)" in said


def test_its_name_is_known_in_any_case_and_spelled_as_in_the_settings(seen: Callable[..., Ended], root: Path) -> None:
    folder = root.parent / "shares/mentor"
    assert [str(folder / "pages"), str(folder / "mentor.zip")] == seen("Mentor").paths


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("mentr",), "did you mean mentor?"),
        (("later",), "a locked site needs a passphrase, and there is no terminal to ask on"),
    ],
)
def test_what_cannot_be_made_is_refused_in_one_sentence(
    share: Callable[..., Ended], root: Path, words: tuple[str, ...], said: str
) -> None:
    ended = share(*words)
    assert (2, "", 1) == (ended.status, ended.out, len(ended.err.strip().split("\n")))
    assert said in ended.err
    assert not (root.parent / "shares").exists()


def test_a_share_that_is_to_be_locked_needs_a_passphrase_once_and_says_what_to_do(
    share: Callable[..., Ended], root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_CONFIG_HOME", str(root.parent / "config"))
    monkeypatch.setenv("JOURNAL_PASSPHRASE", "walnut drizzle kettle marina stubborn")
    share("later", "--preview")
    first = share("later", "--reviewed")
    assert 0 == first.status
    pages = root.parent / "shares/later/pages"
    assert (
        "It is locked: put the folder on any static HTTPS host, send the address, and send the passphrase another way "
        f"({pages} does not open by double click)"
    ) in first.err
    monkeypatch.delenv("JOURNAL_PASSPHRASE")
    assert 0 == share("later").status
    assert (root.parent / "shares/later/pages/lock.json").is_file()


def test_a_share_that_is_not_there_is_refused_with_the_lines_that_make_it(
    share: Callable[..., Ended], root: Path
) -> None:
    ended = share("zine")
    assert 2 == ended.status
    first, blank, *lines = ended.err.rstrip("\n").split("\n")
    says = "there is no share zine; the shares are later, mentor; to make it one, add these lines to journal.toml:"
    assert (says, "", "[shares.zine]") == (first, blank, lines[0])
    (root / "journal.toml").write_text(FILES["journal.toml"] + "\n".join(lines) + "\n", encoding="utf-8")
    assert 0 == share("zine", "--preview").status


def test_a_find_that_hides_itself_from_a_share_of_areas_says_what_shows_it(
    share: Callable[..., Ended], root: Path
) -> None:
    hides = "hidden by its own `locality`; to show it, write `locality: area` in: F26-001"
    assert hides not in " ".join(share("mentor", "--preview").out.split())
    (root / "f.md").write_text(FILES["f.md"].replace("locality: area\n", ""), encoding="utf-8")
    assert hides in " ".join(share("mentor", "--preview").out.split())


def test_the_cache_is_not_a_place_for_it(share: Callable[..., Ended], root: Path) -> None:
    ended = share("mentor", "--to", root.parent / "kept", "--cache", root.parent / "kept")
    assert (2, True) == (ended.status, "is in the cache folder" in ended.err)


def test_what_the_search_finds_is_reported_line_by_line_and_nothing_goes_out(
    seen: Callable[..., Ended], root: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    leaks = (
        Leak("index.html", "a place", "index.html", "at Zzyzx Bank, by"),
        Leak("a.html", "an ID", "a.html, an attribute", "F26-777"),
    )
    monkeypatch.setattr(share_pipeline.Search, "leaks_in", lambda *_: leaks)
    ended = seen("mentor")
    assert (2, "") == (ended.status, ended.out)
    for words in (
        "index.html reveals a place: “at Zzyzx Bank, by”",
        "a.html, an attribute reveals an ID: “F26-777”",
        "Fix: reword that in its entry, or put it between a line `::: private` and a line `:::`; then share again.",
    ):
        assert words in ended.err.split("\n")
    assert "in 2 of its files; no share was made" in ended.err
    assert not (root.parent / "shares").exists()


class TestPreview:
    def rows(self, table: str) -> dict[str, str]:
        """What a table says of each kind; a wrapped row is one, rows of one kind are joined."""
        found: dict[str, str] = {}
        last = ""
        for line in table.split("\n"):
            name, _, rest = line.partition("  ")
            last = name or last
            found[last] = " ".join(f"{found.get(last, '')} {rest}".split())
        return found

    def test_it_lists_what_would_be_shared_and_what_would_be_left_out_and_why(
        self, share: Callable[..., Ended]
    ) -> None:
        ended = share("mentor", "--preview")
        assert 0 == ended.status
        out, left_out = map(self.rows, ended.out.split("\n\n")[:2])
        assert "1 F26-001" == out["finds"]
        assert "1 PP-26A" == out["cultures"]
        assert "1 B-031" == out["batches"]
        assert "1 hut" == out["tents"]
        assert "1 First pins" == out["notes and tent entries"]
        assert out["photos"].startswith("1 ")
        assert "1 F26-001 as a square of 0.01°" == out["positions"]
        assert "none, only dates" == out["times of day"]
        assert "its telephone number, +00 000 000" == out["poison centre"]
        assert "Woods" == out["title"]
        assert "1 not included in this share: Hen 1 marked as private: Who knows" == left_out["entries"]
        assert "1 never shared: F26-001" == left_out["places"]
        assert "1 never shared: F26-001" == left_out["permissions"]
        assert "1 shown as a square of 0.01°: F26-001" == left_out["positions"]
        assert "1 not included in this share: Loft" == left_out["tents"]
        assert "home positions, file names" in ended.out

    def test_it_says_what_errors_may_do_to_a_share_and_that_they_do_not_stop_it(
        self, share: Callable[..., Ended], root: Path
    ) -> None:
        assert "has errors" not in share("mentor", "--preview").err
        (root / "b/wrong.md").write_text("---\nkind: note\nabout: B-031\ndate: soon\n---\n", encoding="utf-8")
        for ended in (share("mentor", "--preview"), share("mentor", "--reviewed")):
            assert 0 == ended.status
            assert "1 entry has errors (`journal check` lists them). That stops no share, but a private" in ended.err

    def test_it_says_what_was_taken_for_private_and_what_is_no_utf_8(
        self, share: Callable[..., Ended], root: Path
    ) -> None:
        note = "---\nkind: note\nabout: B-031\ndate: 2026-10-09\nprivat: yes\n---\nZyzzogeton.\n"
        (root / "b/mine.md").write_text(note, encoding="utf-8")
        (root / "b/old.md").write_bytes("---\nkind: find\nid: F-77\nplace: Bl\u00e5skjell\n---\n".encode("cp1252"))
        for ended in (share("mentor", "--preview"), share("mentor", "--reviewed")):
            assert 0 == ended.status
            assert "b/mine.md:5: error: this line looks like private: yes" in ended.err
            assert "b/old.md:4: error: the byte 0xe5 is not UTF-8; fix: save the file as UTF-8" in ended.err

    def test_a_private_note_that_names_another_species_is_told_to_the_author_with_how_to_fix_it(
        self, share: Callable[..., Ended], root: Path
    ) -> None:
        named = "species: Flammulina velutipes\ncertainty: confirmed\nidentified by: spores\n---\n"
        (root / "f.md").write_text(FILES["f.md"].removesuffix("---\n") + named, "utf-8")
        other = "species: {}\ncertainty: confirmed\nidentified by: Hans\nprivate: {}\n---\n"
        words = (
            "b/hans.md: this private note identifies F26-001 as Galerina marginata, another species than the share "
            "shows: Flammulina velutipes. The share calls F26-001 unsure and says nothing of the note. Share the note "
            "(take `private` out of it), or leave the find out (write `private: yes` in f.md)"
        )
        for species, private, is_told in (
            ("Galerina marginata", "yes", True), ("Galerina marginata", "no", False), ("velvet foot", "yes", False),
        ):  # fmt: skip
            note = "---\nkind: note\nabout: F26-001\ndate: 2026-10-09\n" + other.format(species, private)
            (root / "b/hans.md").write_text(note, "utf-8")
            for ended in (share("mentor", "--preview"), share("mentor", "--reviewed")):
                assert 0 == ended.status
                assert is_told == (words in " ".join(ended.err.split()))
                assert ("private note" in ended.err) == is_told

    def test_a_place_that_is_a_mere_number_stops_no_share_and_is_mentioned(
        self, share: Callable[..., Ended], root: Path
    ) -> None:
        (root / "b/f.md").write_text('---\nkind: find\nid: F-47\ndate: 2026-10-09\nplace: "47"\n---\n', "utf-8")
        for ended in (share("mentor", "--preview"), share("mentor", "--reviewed")):
            assert 0 == ended.status
            assert "b/f.md: the place 47 is taken out of texts only after a word such as place" in ended.err

    def test_no_share_is_made_and_the_photos_can_be_looked_over(self, share: Callable[..., Ended], root: Path) -> None:
        ended = share("mentor", "--preview")
        assert "No share was made" in ended.err
        sheet = Path(ended.err.split(": open ")[1].split("; then run")[0])
        assert ("preview.html", True) == (sheet.name, sheet.is_file())
        assert 1 == sheet.read_text("utf-8").count("<img")
        assert not sheet.is_relative_to(root)
        assert not (root.parent / "shares").exists()

    def test_the_sheet_goes_where_it_is_asked_to_beside_the_share(
        self, share: Callable[..., Ended], seen: Callable[..., Ended], root: Path
    ) -> None:
        to = root.parent / "out"
        seen("mentor", "--to", to)
        before = {path: path.stat().st_mtime_ns for path in (to / "mentor").rglob("*")}
        ended = share("mentor", "--preview", "--to", to)
        assert str(to / "mentor-preview/preview.html") in ended.err
        assert before == {path: path.stat().st_mtime_ns for path in (to / "mentor").rglob("*")}
        assert ["mentor", "mentor-preview"] == sorted(os.listdir(to))

    def test_the_tables_stay_narrow_enough_to_read(self, share: Callable[..., Ended], root: Path) -> None:
        for day in range(1, 29):
            keys = f"kind: note\nabout: F26-777\ndate: 2026-10-{day:02}\ntitle: A long look at the hen of day {day}"
            text = f"---\n{keys}\n---\n"
            (root / f"hen-{day}.md").write_text(text, encoding="utf-8")
        ended = share("mentor", "--preview")
        assert 100 >= max(map(len, ended.out.split("\n")))
        assert "and 23 more" in " ".join(ended.out.split())
