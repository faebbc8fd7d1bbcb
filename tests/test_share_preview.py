"""What is looked at before a share is made: the page of it, what is kept of that, and what stays out."""

from __future__ import annotations

import base64
import hashlib
import io
import shutil
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from bs4 import BeautifulSoup
from PIL import Image

from journal.cache.file_cache import FileCache
from journal.problems import Refusal
from journal.share_pipeline import (
    FinishedShare,
    NotReviewed,
    Prepared,
    make_share_files,
    prepare,
    preview_page,
    remember,
)
from journal.sharing.review_record import read_record
from tests.sharing.made import seen_whole
from tests.test_pipeline import bytes_in, write_entry
from tests.test_share_pipeline import memory, names_in, photo, root, share, silent, worked

__all__ = ["memory", "photo", "root", "share", "worked"]

DAY = date(2026, 11, 25)


class TestWhatIsLookedAt:
    def test_what_nobody_has_looked_at_makes_no_share(
        self, memory: Callable[..., FileCache], root: Path, tmp_path: Path
    ) -> None:
        known = memory()
        prepared = prepare(known, "mentor", silent)
        with pytest.raises(NotReviewed, match="you have not looked at") as refused:
            make_share_files(known, prepared, tmp_path / "out", silent)
        assert {"photo", "share", "text"} == {piece.kind for piece in refused.value.pieces}
        assert not (tmp_path / "out").exists()
        assert not (root / "shares").exists()

    def test_a_text_that_is_left_out_is_in_no_file(
        self, memory: Callable[..., FileCache], root: Path, tmp_path: Path
    ) -> None:
        note = "kind: note\nabout: B-031\ndate: 2026-11-02\ntitle: Two doors past\ncause: mites\n"
        write_entry(root / "batches/B-031/n.md", note)
        known = memory()
        prepared = prepare(known, "mentor", silent)
        (title,) = (piece for piece in prepared.review.new if piece.field == "title")
        prepared = remember(known, prepared, DAY, prepared.review.new, [title])
        made = make_share_files(known, prepared, tmp_path / "out", silent)
        files = bytes_in(made.pages_folder).values()
        assert (False, True) == tuple(any(words in data for data in files) for words in (b"doors past", b"mites"))
        assert (title,) == prepare(memory(), "mentor", silent).review.left_out

    def test_names_of_photos_are_those_of_the_share_alone_and_stay_from_one_to_the_next(
        self, share: Callable[..., FinishedShare], root: Path, photo: Callable[..., bytes]
    ) -> None:
        def pictures() -> set[str]:
            return {file.name for file in share().pages_folder.rglob("*.webp")}

        first = pictures()
        (root / "batches/B-031/more.jpg").write_bytes(photo(9, (58, 1, 1), "2026:11:02 08:30:00"))
        keys = "kind: note\nabout: B-031\ndate: 2026-11-02\nphotos: more.jpg\n"
        write_entry(root / "batches/B-031/more.md", keys)
        assert first < pictures()
        (root / "shares/key").unlink()  # as in another journal of the same photos
        assert first.isdisjoint(pictures())


class TestThePreviewPage:
    @pytest.fixture
    def prepared(self, memory: Callable[..., FileCache]) -> tuple[FileCache, Prepared]:
        known = memory()
        return known, prepare(known, "mentor", silent)

    def soup(self, page: Path) -> Any:
        return BeautifulSoup(page.read_text("utf-8"), "html.parser")

    def test_it_is_one_file_with_every_photo_as_large_as_it_goes(
        self, prepared: tuple[FileCache, Prepared], tmp_path: Path
    ) -> None:
        page = preview_page(*prepared, tmp_path / "page", silent)
        assert [".journal-site", "preview.html"] == names_in(page.parent)
        soup = self.soup(page)
        assert ["batches/B-031/pins.jpg", "finds/zzyzx-bank/log.jpg"] == [one["alt"] for one in soup.select("img")]
        for image in soup.select("img"):
            kind, _, data = image["src"].partition(",")
            assert "data:image/webp;base64" == kind
            with Image.open(io.BytesIO(base64.b64decode(data))) as picture:
                assert (400, 300) == picture.size
        assert [] == soup.select("link, script, a[href], [src^=http]")
        policy = soup.select_one("meta[http-equiv]")["content"]
        digest = base64.b64encode(hashlib.sha256(soup.style.string.encode()).digest()).decode("ascii")
        assert f"default-src 'none'; img-src data:; style-src 'sha256-{digest}'" == policy
        for words in ("a sign", "a hilltop", "a window"):
            assert words in soup.get_text()

    def test_flags_are_marked_with_their_kind_and_what_was_looked_at_is_folded(
        self, memory: Callable[..., FileCache], root: Path, tmp_path: Path
    ) -> None:
        known = memory()
        seen_whole(known, prepare(known, "mentor", silent))
        keys = 'kind: note\nabout: B-031\ndate: 2026-11-02\ntitle: "<b>two doors past the bakery"\n'
        write_entry(root / "batches/B-031/n.md", keys)
        known = memory()
        soup = self.soup(preview_page(known, prepare(known, "mentor", silent), tmp_path / "page", silent))
        (mark,) = soup.select("section mark")
        assert ("direction", True) == (mark.small.string, mark.get_text().startswith("two doors past the bakery"))
        assert ["batches/B-031/n.md"] == [one.string for one in soup.select("main > section code")]
        assert "2 texts with 1 flag are new." in soup.select_one(".lede").get_text()
        folded = soup.select_one("details")
        assert "Looked at before: 7 texts and 2 photos" == folded.summary.string
        assert len(soup.select("img")) == len(folded.select("img"))
        assert "finds/zzyzx-bank/find.md" in folded.get_text()

    def test_it_keeps_what_it_showed(self, prepared: tuple[FileCache, Prepared], root: Path, tmp_path: Path) -> None:
        preview_page(*prepared, tmp_path / "page", silent)
        shown = read_record(root, "mentor").shown
        assert {piece.digest for piece in prepared[1].review.pieces} == shown

    def test_a_photo_that_cannot_be_decoded_is_said_to_stay(
        self, root: Path, memory: Callable[..., FileCache], tmp_path: Path
    ) -> None:
        (root / "batches/B-031/pins.jpg").write_bytes(b"\xff\xd8\xff\xe0 no picture")
        known = memory()
        page = preview_page(known, prepare(known, "mentor", silent), tmp_path / "page", silent)
        assert 1 == page.read_text("utf-8").count("cannot be decoded")

    def test_it_replaces_an_earlier_one_and_nothing_else(
        self, prepared: tuple[FileCache, Prepared], share: Callable[..., FinishedShare], tmp_path: Path
    ) -> None:
        preview_page(*prepared, tmp_path / "page", silent)
        preview_page(*prepared, tmp_path / "page", silent)
        made = share()
        with pytest.raises(Refusal, match="is a share"):
            preview_page(*prepared, made.pages_folder, silent)
        shutil.rmtree(tmp_path / "page")
        (tmp_path / "page").mkdir()
        (tmp_path / "page/letter.txt").write_text("Dear", encoding="utf-8")
        with pytest.raises(Refusal, match="would be replaced"):
            preview_page(*prepared, tmp_path / "page", silent)
