"""Which photos belong to which entry, and what is said of those that cannot be found."""

from __future__ import annotations

import unicodedata
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt

from journal.reading.pictures_in_text import shown_in, with_slips_mended
from tests.builders import entry, noted
from tests.growth import filled, grows_faster_than_a_scan

Make = Callable[..., Any]


def found(text: str = "", more: str = "") -> str:
    return entry("find", f"id: F1\ndate: 2026-09-12\n{more}", text=text)


def photos_of(journal: Any, path: str) -> list[tuple[str, str | None, bool]]:
    found = next(row for row in journal.entries() if row.path == path)
    return [(use.path, use.caption, use.in_text) for use in found.photos]


def faults(journal: Any) -> list[tuple[str, int, str]]:
    return [(problem.path, problem.line, problem.severity) for problem in journal.problems]


def test_listed_then_shown_then_lying_beside(make_journal: Make) -> None:
    text = found("See ![the *lower* side](c.jpg).", "photos:\n  - d.jpg: gills\n  - b.jpg\n")
    journal = make_journal({"f/find.md": text}, {f"f/{name}.jpg": {} for name in "abcd"})
    assert [
        ("f/d.jpg", "gills", False),
        ("f/b.jpg", None, False),
        ("f/c.jpg", "the *lower* side", True),
        ("f/a.jpg", None, False),
    ] == photos_of(journal, "f/find.md")
    assert [] == faults(journal)


def test_a_photo_listed_and_shown_is_one_use_with_the_listed_caption(make_journal: Make) -> None:
    text = found("![alt](a.jpg)", "photos: 'a.jpg: caption'\n")
    assert [("f/a.jpg", "caption", True)] == photos_of(make_journal({"f/x.md": text}, {"f/a.jpg": {}}), "f/x.md")


def test_beside_two_entries_a_photo_is_nobodys_until_named(make_journal: Make) -> None:
    journal = make_journal(
        {"f/find.md": found(), "f/note.md": noted("2026-09-12", about="F1", text="![](b.jpg)")},
        {"f/a.jpg": {}, "f/b.jpg": {}, "a.jpg": {}},
    )
    assert ([], [("f/b.jpg", None, True)]) == (photos_of(journal, "f/find.md"), photos_of(journal, "f/note.md"))
    assert [("a.jpg", 0, "warning"), ("f/a.jpg", 0, "warning")] == faults(journal)


def test_a_markdown_file_that_is_not_an_entry_leaves_the_other_alone_in_its_folder(make_journal: Make) -> None:
    journal = make_journal({"f/find.md": found(), "f/README.md": "# Notes\n"}, {"f/a.jpg": {}})
    assert [("f/a.jpg", None, False)] == photos_of(journal, "f/find.md")
    assert [("f/README.md", 0, "warning")] == faults(journal)


def test_a_photo_may_belong_to_several_entries(make_journal: Make) -> None:
    files = {"f/find.md": found(), "n/note.md": noted("2026-09-12", about="F1", text="![](../f/a.jpg)")}
    journal = make_journal(files, {"f/a.jpg": {}})
    assert ("f/find.md", "n/note.md") == journal.photo_by_path["f/a.jpg"].entries


def test_photos_are_beside_an_entry_only_in_its_own_folder(make_journal: Make) -> None:
    journal = make_journal({"f/find.md": found()}, {"f/more/a.jpg": {}})
    assert [] == photos_of(journal, "f/find.md")


@pytest.mark.parametrize(
    ("on_disk", "named"),
    [
        ("IMG_1.JPG", "img_1.jpg"),
        (unicodedata.normalize("NFD", "Größe.jpg"), "Größe.jpg"),
        ("Größe.jpg", unicodedata.normalize("NFD", "Größe.jpg")),
        ("two words.jpg", "two words.jpg"),
        ("sub/a.jpg", "sub/a.jpg"),
        ("sub/a.jpg", "./sub/../sub/a.jpg"),
    ],
)
def test_a_listed_name_is_found_kindly_and_kept_as_on_disk(make_journal: Make, on_disk: str, named: str) -> None:
    journal = make_journal({"f/find.md": found(more=f"photos: {named}\n")}, {f"f/{on_disk}": {}})
    assert ([(f"f/{on_disk}", None, False)], []) == (photos_of(journal, "f/find.md"), faults(journal))


def test_of_two_names_that_differ_by_case_the_exact_one_is_meant(make_journal: Make) -> None:
    files = {"f/find.md": found(more="photos: a.jpg\n"), "f/n.md": noted("2026-09-12", "photos: A.JPG\n", about="F1")}
    journal = make_journal(files, {"f/a.jpg": {}, "f/A.JPG": {}})
    assert [[("f/a.jpg", None, False)], [("f/A.JPG", None, False)]] == [photos_of(journal, path) for path in files]


@pytest.mark.parametrize(
    ("near", "named"),
    [
        (None, "nope.jpg"),  # but for the ending nothing is alike
        ("pins-1.jpg", "pins1.jpg"),
        ("pins-1.webp", "pins1.webp"),
        ("caps.heic", "caps.jpg"),
    ],
)
def test_a_photo_that_is_not_there_is_taken_for_one_only_where_their_names_are_alike(
    make_journal: Make, near: str | None, named: str
) -> None:
    photos = ("n3.jpg", "pins-1.jpg", "pins-1.webp", "caps.heic")
    journal = make_journal({"f/find.md": found(more=f"photos: {named}\n")}, {f"f/{name}": {} for name in photos})
    (problem,) = journal.problems
    assert (f"write {near}, if you mean that" if near else "put the file next to the entry, or remove its name") == (
        problem.fix
    )


@pytest.mark.parametrize(
    ("named", "says", "fix"),
    [
        ("IMG_0413.jpg", 'there is no photo "IMG_0413.jpg"', "IMG_0412.jpg"),
        ("far.jpg", 'there is no photo "far.jpg"', "elsewhere/far.jpg"),
        ("clip.mov", '"clip.mov" is not a JPEG, HEIC, PNG, WebP, TIFF or AVIF file', "name a photo"),
        ("../../a.jpg", '"../../a.jpg" is not in the journal folder', "next to"),
        ("/etc/a.jpg", '"/etc/a.jpg" is not in the journal folder', "next to"),
        ("C:\\pictures\\a.jpg", '"C:\\pictures\\a.jpg" is not in the journal folder', "next to"),
        ("https://example.org/a.jpg", '"https://example.org/a.jpg" is not in the journal folder', "next to"),
    ],
)
@pytest.mark.parametrize("shown", [False, True])
def test_a_picture_that_cannot_be_shown_is_wrong_at_its_line(
    make_journal: Make, named: str, says: str, fix: str, shown: bool
) -> None:
    if shown:
        text, line = found(f"First line.\n\n![x](<{named}>)"), 8
    else:
        text, line = found(more=f"photos: {named}\n"), 5
    journal = make_journal({"f/find.md": text}, {"f/IMG_0412.jpg": {}, "f/elsewhere/far.jpg": {}})
    (wrong,) = [problem for problem in journal.problems if problem.severity == "error"]
    assert ("f/find.md", line, says) == (wrong.path, wrong.line, wrong.message)
    assert fix in wrong.fix


def test_photos_of_an_entry_left_out_are_not_said_to_be_nobodys(make_journal: Make) -> None:
    files = {"a/find.md": found(), "b/find.md": found()}
    journal = make_journal(files, {"b/a.jpg": {}})
    assert [("b/find.md", 3, "error")] == faults(journal)
    assert () == journal.photo_by_path["b/a.jpg"].entries


@pytest.mark.parametrize(
    ("expected", "text"),
    [
        ([(0, "alt", "a.jpg")], "![alt](a.jpg)"),
        ([(0, "", "two words.jpg")], "![](two%20words.jpg)"),
        ([(0, "", "two words.jpg")], "![](<two words.jpg>)"),
        ([(0, "", "a(1).jpg")], "![](a(1).jpg)"),
        ([(0, "a [b] c", "x.jpg")], "![a [b] c](x.jpg)"),
        ([(0, "", "a.jpg")], '![](a.jpg "a title")'),
        ([(2, "", "a.jpg"), (2, "", "b.jpg")], "one\n\n![](a.jpg) and ![](b.jpg)"),
        ([(0, "alt", "a.jpg")], "[![alt](a.jpg)](elsewhere)"),
        ([], "`![](a.jpg)`"),
        ([], "``a ` ![](a.jpg)``"),
        ([(0, "", "a.jpg")], "`code` ![](a.jpg) `code`"),
        ([(0, "", "a.jpg")], "a ` alone ![](a.jpg)"),
        ([], "```\n![](a.jpg)\n```"),
        ([(3, "", "b.jpg")], "~~~ text\n![](a.jpg)\n~~~\n![](b.jpg)"),
        ([(4, "", "b.jpg")], "````\n```\n![](a.jpg)\n````\n![](b.jpg)"),
        ([], "```\nnever closed\n![](a.jpg)"),
        ([], "\\![](a.jpg)"),
        ([], "!(a.jpg) [no](a.jpg)"),
    ],
)
def test_pictures_in_a_text_are_those_that_commonmark_shows(expected: list[Any], text: str) -> None:
    """CommonMark 0.31.2, sections 4.5, 6.1, 6.4."""
    assert expected == [(shown.line, shown.alt, shown.target) for shown in shown_in(text)]


@pytest.mark.parametrize(
    ("expected", "text"),
    [
        ([(0, "the cluster", "IMG 1.JPG")], "![the cluster](IMG 1.JPG)"),
        ([(0, "", "IMG 1 (2).jpeg")], "before ![](IMG 1 (2).jpeg) behind"),
        ([(0, "a", "IMG 1.JPG"), (0, "b", "b.jpg"), (0, "c", "c 2.heic")],
         "![a](IMG 1.JPG) ![b](b.jpg) ![c]( c 2.heic )"),
        ([(1, "a", "more photos/IMG 1.JPG")], 'one\n![a](more photos/IMG 1.JPG "a title")'),
        ([(0, "the cluster [left]", "IMG_1.jpg")], "![the cluster [left]](IMG_1.jpg)"),
        ([(0, "the cluster [left", "IMG_1.jpg")], "![the cluster [left](IMG_1.jpg)"),
        ([(0, "the cluster] left", "IMG 1.jpg")], "![the cluster] left](IMG 1.jpg)"),
        ([(0, "[[two] deep]", "IMG_1.jpg")], "![[[two] deep]](IMG_1.jpg)"),
        ([(0, "see [this](a.html)", "IMG 1.jpg")], "![see [this](a.html)](IMG 1.jpg)"),
        ([(0, "", "my plan.pdf")], "![](my plan.pdf)"),  # no photo, which is then said
        ([], "`![the cluster](IMG 1.JPG)`"),
        ([], "```\n![the cluster](IMG 1.JPG)\n```"),
        ([], "\\![the cluster](IMG 1.JPG)"),
        ([], "[the cluster](IMG 1.JPG)"),
        ([], "wow![1] (see the photo.)"),
    ],
)  # fmt: skip
def test_a_picture_written_with_a_slip_is_shown_as_meant(expected: list[Any], text: str) -> None:
    mended = with_slips_mended(text)
    assert expected == [(shown.line, shown.alt, shown.target) for shown in shown_in(mended)]
    children = [child for token in MarkdownIt("commonmark").parse(mended) for child in token.children or ()]
    assert len(expected) == len([child for child in children if child.type == "image"])
    assert mended == with_slips_mended(mended)


@pytest.mark.parametrize("text", ["![alt](a.jpg)", "![a [b] c](x.jpg)", "![](<two words.jpg>)", '![](a.jpg "t")'])
def test_a_picture_that_commonmark_shows_stays_as_it_is_written(text: str) -> None:
    assert text == with_slips_mended(text)


def test_a_picture_with_a_space_in_its_name_belongs_to_the_entry_or_is_reported(make_journal: Make) -> None:
    journal = make_journal({"f/find.md": found("![the cluster](IMG 1.JPG)\n\n![](IMG 2.JPG)")}, {"f/IMG 1.JPG": {}})
    assert [("f/IMG 1.JPG", "the cluster", True)] == photos_of(journal, "f/find.md")
    assert [("f/find.md", 8, "error")] == faults(journal)


@given(st.text("![](<>)`~\\ \na.jpg"))
def test_pictures_agree_with_a_commonmark_reader_on_what_it_shows(text: str) -> None:
    """markdown-it-py is the reference for what we find outside blocks it treats as code by indentation."""
    tokens = MarkdownIt("commonmark").parse(text)
    children = [child for token in tokens for child in token.children or ()]
    reference = {str(child.attrs["src"]) for child in children if child.type == "image"}
    found = {shown.target for shown in shown_in(text)}
    simple = {target for target in reference if target.replace(".", "").isalpha()}
    if not any(mark in text for mark in "\\`~<>") and "    " not in text and "\n" not in text:
        assert simple <= found


@pytest.mark.parametrize("piece", ["![", "![[", "`", "![](", "![](<", "`` ` ", '![](a "', "![](a("])
def test_a_text_made_to_be_slow_is_read_in_good_time(piece: str) -> None:
    def read(text: str) -> None:
        assert [] == list(shown_in(text))
        with_slips_mended(text)

    assert not grows_faster_than_a_scan(read, filled("![", piece), 10_000)
