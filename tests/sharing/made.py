"""What a share comes to: its site, file by file."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

from journal.cache.file_cache import FileCache
from journal.cache.resources import find_resources
from journal.model import Journal
from journal.share_pipeline import Prepared, remember
from journal.sharing.redact import Redaction
from journal.site.app import create_app
from journal.site.pages import plan_site
from journal.site.plan import Published, PublishedSize

SIZES = (PublishedSize(320, 240, 9000, "0a"), PublishedSize(960, 720, 50000, "0a"))


def published_of(journal: Journal) -> dict[str, Published]:
    """Every photo published under a name of its own."""
    return {
        photo.path: Published(f"pub{number:04d}lished", SIZES, "data:image/webp;base64,AAAA")
        for number, photo in enumerate(journal.photos)
    }


def files_of(redaction: Redaction, published: Mapping[str, Published], share: str | None = None) -> dict[str, bytes]:
    """Every page and generated text of a share's site, by path; of its pictures the names alone. share: as `plan_site`
    takes it. The page Format is left out: it is the same for every journal, its examples included, and in no share."""
    site = plan_site(redaction.journal, redaction.published(published), share)
    client = create_app(site.pages, find_resources() / "templates").test_client()
    files: dict[str, bytes] = {}
    for page in site.pages:
        if page.endpoint == "format":
            continue
        answer = client.get("/" + page.path.removesuffix("index.html"))
        assert answer.status_code == 200, page.path
        files[page.path] = answer.data
    files |= {path: text.encode() for path, text in site.texts}
    return files | {path: b"" for path, _ in site.pictures}


def write(files: Mapping[str, bytes], folder: Path) -> Path:
    for path, content in files.items():
        file = folder / path
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(content)
    return folder


def seen_whole(file_cache: FileCache, prepared: Prepared) -> Prepared:
    """The share, of which its author has looked at everything."""
    return remember(file_cache, prepared, date(2026, 11, 25), prepared.review.new)
