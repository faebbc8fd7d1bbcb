"""`journal share`: nothing goes out that its author has not looked at."""

from __future__ import annotations

import io
import json
import os
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from journal.commands.prompts import today_in
from tests.commands.test_share import root, seen, share
from tests.importing.shore import Ended

__all__ = ["root", "seen", "share"]


class TestReview:
    """Nothing goes out that its author has not looked at."""

    NEW = "7 texts with 2 flags and 1 photo are new."

    @pytest.fixture
    def root(self, root: Path) -> Path:
        """With two texts that have a flag each."""
        note = "---\nkind: note\nabout: B-031\ndate: 2026-11-0{}\n---\n{}\n"
        (root / "b/a.md").write_text(note.format(3, "Two doors past the bakery."), "utf-8")
        (root / "b/z.md").write_text(note.format(4, "250 m NE of the pier."), "utf-8")
        return root

    @pytest.fixture
    def at_terminal(self, monkeypatch: pytest.MonkeyPatch) -> Callable[..., None]:
        def answer(*lines: str) -> None:
            monkeypatch.setattr("journal.commands.share.can_ask", lambda: True)
            monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))

        return answer

    def test_in_a_script_it_is_refused_with_what_is_new_and_nothing_is_written(
        self, share: Callable[..., Ended], root: Path
    ) -> None:
        ended = share("mentor")
        assert (2, "") == (ended.status, ended.out)
        assert self.NEW in ended.err
        assert "What the share allows is new: B-031, hut, since 2026-09-01; positions area" in ended.err
        for line in ("b/a.md, text: 1 flag", "b/pins.md, title", "b/pins.jpg, photo", "f.md, where"):
            assert line in ended.err.split("\n")
        assert "no share was made. Look at the page of `journal share mentor --preview`" in ended.err
        assert not (root.parent / "shares").exists()
        assert not (root / "shares").exists()

    def test_reviewed_without_a_preview_is_refused(self, share: Callable[..., Ended], root: Path) -> None:
        ended = share("mentor", "--reviewed")
        assert (2, True) == (ended.status, "no preview of the share mentor was made" in ended.err)
        assert not (root.parent / "shares").exists()

    def test_what_the_preview_showed_counts_as_looked_at_and_the_next_run_asks_nothing(
        self, share: Callable[..., Ended], seen: Callable[..., Ended], root: Path
    ) -> None:
        ended = seen("mentor")
        assert 0 == ended.status
        today = today_in("UTC")
        words = "What the texts and photos reveal is for you to judge: you looked at"
        said = f"No position, ID or name that must not be shared was found. {words}"
        assert f"{said} 7 texts and 1 photo on {today.day} {today:%B} {today.year}." in ended.err
        assert said in (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
        assert 0 == share("mentor").status
        assert "clean" not in ended.err
        assert {"key", "mentor.reviewed"} == set(os.listdir(root / "shares"))

    @pytest.mark.parametrize(
        ("path", "change", "line"),
        [
            ("b/a.md", ("bakery", "brewery"), "b/a.md, text: 1 flag"),
            ("journal.toml", ('"hut"]', '"hut", "loft"]'), "journal.toml, tents.loft.name"),
            ("b/pins.md", ("First", "Second"), "b/pins.md, title"),
        ],
    )
    def test_what_changed_since_the_preview_is_refused_with_the_list(
        self, share: Callable[..., Ended], root: Path, path: str, change: tuple[str, str], line: str
    ) -> None:
        share("mentor", "--preview")
        text = (root / path).read_text("utf-8").replace(*change)
        (root / path).write_text(text, "utf-8")
        ended = share("mentor", "--reviewed")
        assert (2, True) == (ended.status, line in ended.err.split("\n"))
        allows = [] if path != "journal.toml" else ["journal.toml, what it allows"]
        assert [*allows, line] == [row for row in ended.err.split("\n") if row.startswith(("b/", "f.md", "journal.t"))]
        assert not (root.parent / "shares").exists()

    def test_a_photo_of_the_same_name_with_other_bytes_is_asked_again(
        self, share: Callable[..., Ended], seen: Callable[..., Ended], root: Path, picture_bytes: Callable[..., bytes]
    ) -> None:
        seen("mentor")
        (root / "b/pins.jpg").write_bytes(picture_bytes("JPEG", image=Image.new("RGB", (64, 48), "teal")))
        ended = share("mentor")
        assert (2, True) == (ended.status, "1 photo is new.\n" in ended.err)

    def test_its_flags_are_stepped_through_one_by_one(
        self, share: Callable[..., Ended], at_terminal: Callable[..., None], root: Path
    ) -> None:
        at_terminal("1", "leave out this text", "1")
        ended = share("mentor")
        assert 0 == ended.status
        for words in (
            self.NEW, "1 of 2  b/a.md, text: direction", "[Two doors past the bakery].",
            "2 of 2  b/z.md, text: direction",
            "1 share · 2 leave out this text · 3 stop", "5 texts and 1 photo without a flag: look at them on the page ",
            "you looked at 6 texts and 1 photo on ", "1 text is left out.",
        ):  # fmt: skip
            assert words in ended.err
        pages = "".join(file.read_text("utf-8") for file in (root.parent / "shares/mentor/pages").rglob("*.html"))
        assert ("doors past" in pages, "of the pier" in pages) == (True, False)
        at_terminal()
        assert 0 == share("mentor").status  # what was left out stays so, and nothing is asked
        pages = "".join(file.read_text("utf-8") for file in (root.parent / "shares/mentor/pages").rglob("*.html"))
        assert "of the pier" not in pages

    def test_an_answer_that_is_none_is_asked_again(
        self, share: Callable[..., Ended], at_terminal: Callable[..., None]
    ) -> None:
        at_terminal("perhaps", "share", "share", "share")
        ended = share("mentor")
        assert (0, True) == (ended.status, "type one of these numbers" in ended.err)

    def test_what_was_looked_at_before_a_stop_is_remembered(
        self, share: Callable[..., Ended], at_terminal: Callable[..., None], root: Path
    ) -> None:
        at_terminal("1", "3")
        ended = share("mentor")
        assert (2, True) == (ended.status, "was not made; what you looked at so far is remembered" in ended.err)
        assert not (root.parent / "shares/mentor").exists()
        at_terminal("3")
        assert "1 of 1  b/z.md, text" in share("mentor").err

    def test_no_byte_of_a_share_holds_the_key_or_a_digest(self, seen: Callable[..., Ended], root: Path) -> None:
        seen("mentor")
        record = json.loads((root / "shares/mentor.reviewed").read_bytes())
        secret = [*record["looked at"], (root / "shares/key").read_text("ascii").strip()]
        files = [file.read_bytes() for file in (root.parent / "shares/mentor").rglob("*") if file.is_file()]
        assert len(secret) > 8
        assert [] == [one for one in secret for data in files if one.encode() in data or bytes.fromhex(one) in data]

    def test_the_json_has_every_piece_with_what_is_new_first(
        self, share: Callable[..., Ended], seen: Callable[..., Ended], root: Path
    ) -> None:
        rows = json.loads(share("mentor", "--preview", "--json").out)
        assert {"path", "field", "text", "flags", "new"} == set(rows[0])
        (row,) = (row for row in rows if (row["path"], row["field"]) == ("b/a.md", "text"))
        assert ("Two doors past the bakery.", ["Two doors past the bakery"], True) == (
            row["text"].strip(), row["flags"], row["new"],
        )  # fmt: skip
        assert {"path": "b/pins.jpg", "field": "photo", "text": "", "flags": [], "new": True} in rows
        assert not (root / "shares").exists()  # nobody has looked at a page
        seen("mentor")
        (root / "b/z.md").write_text((root / "b/z.md").read_text("utf-8").replace("pier", "quay"), "utf-8")
        rows = json.loads(share("mentor", "--preview", "--json").out)
        assert ("b/z.md", [True, False]) == (rows[0]["path"], [row["new"] for row in rows[:2]])

    @pytest.mark.parametrize("words", [("--json",), ("--preview", "--reviewed")])
    def test_options_that_do_not_go_together_are_refused(self, share: Callable[..., Ended], words: tuple[str]) -> None:
        assert 2 == share("mentor", *words).status
