"""Prose into HTML."""

import re

import pytest
from bs4 import BeautifulSoup
from hypothesis import given
from hypothesis import strategies as st

from journal.site import markdown
from journal.site.images import Picture
from journal.site.markdown import Prose, links_of, photo_path, render

ADDRESSES = {"b-031": "batches/b-031/index.html", "pp-26a": "cultures/pp-26a/index.html"}
PINS = Picture((("photos/2026-10/x-320.webp", 320),), 320, 240, "data:", "pins")


def html_of(text: str, pictures: tuple[tuple[str, Picture], ...] = ()) -> BeautifulSoup:
    prose = Prose(text, links_of(ADDRESSES)(text), pictures)
    return BeautifulSoup(render(prose, "../../", lambda p: f'<figure><img alt="{p.alt}"></figure>'), "html.parser")


@pytest.mark.parametrize(
    ("expected", "text"),
    [
        (["B-031"], "Block B-031 pins."),
        (["b-031"], "so b-031's shelf"),
        (["B-031.2"], "unit B-031.2 is green"),
        (["B-031"], "the end is B-031."),
        (["B-031", "PP-26A"], "*B-031* from **PP-26A**"),
        ([], "B-0311, XB-031, B-031-4 and B-031x are other words"),
        ([], "in code `B-031` it stays"),
        ([], "[a link on B-031](https://example.org/)"),
        ([], "B-999 does not exist"),
    ],
)
def test_ids_in_text_are_links_wherever_they_stand_as_a_whole_word(expected: list[str], text: str) -> None:
    assert expected == [a.text for a in html_of(text).select("a.id")]


WORDS = st.text(st.sampled_from("aZж 1.2,;:-+=#>~|!?()]{}\"'/@$%^\t\x0b\x1f\x85\xa0\u2028\U0001f344"), max_size=9)
NAMES = st.sampled_from(["", "B-031", "b-031.2,", " PP-26A ", "4 kg", "http://x.example"])
SIGNS = ["*a*", "_a_", "`a`", "[a](b)", "![a](b)", "<b>", "<http://x.example>", "&copy;", "\\.", "\0", "\r"]
FIRST = st.sampled_from(
    ["a", "a", "a", "Z", "ж", "B-031", "", " ", "1. ", "2) ", "- ", "# ", "> ", "===", "---", "    "]
)
ENDS = st.sampled_from(["", "\n", "\n", "\n\n", "\n\n\n", " \n", "  \n", "\r\n", " "])
TEXTS = st.lists(st.tuples(FIRST, WORDS, NAMES, st.sampled_from(["", "", *SIGNS]), ENDS).map("".join), max_size=4)


def as_parsed(text: str) -> str:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(markdown, "_PLAIN", re.compile("(?!)"))
        return str(html_of(text))


@given(TEXTS.map("".join))
def test_a_text_of_plain_words_reads_as_the_parser_reads_it(text: str) -> None:
    """*Source:* markdown-it-py, which reads CommonMark."""
    assert as_parsed(text) == str(html_of(text))


BEGUN = ["1. a", "2) a", "- a", "# a", "> a", "    a", "a\n===", "a\n- b", "a  \nb", "a\n\n\nb", "a\n\n    b"]


@pytest.mark.parametrize("text", [*(f"a {sign} b" for sign in SIGNS), *BEGUN])
def test_a_text_with_a_sign_of_markdown_is_parsed(text: str) -> None:
    assert as_parsed(text) == str(html_of(text))


@pytest.mark.parametrize("text", ["Wet.", "Ж, then 4 kg:\nmore of it!\n", "One (B-031).\n\nTwo,\nthree"])
def test_a_text_of_plain_words_needs_no_parser(monkeypatch: pytest.MonkeyPatch, text: str) -> None:
    monkeypatch.setattr(markdown, "markdown_reader", lambda: pytest.fail("it was asked"))
    assert text.count("\n\n") + 1 == len(html_of(text).select("p"))


def test_a_linked_id_leads_to_its_page_from_where_the_text_stands() -> None:
    assert "../../batches/b-031/index.html" == html_of("B-031").select_one("a.id")["href"]


def test_no_line_breaks_between_a_number_and_its_unit_but_what_is_code_stays_as_written() -> None:
    soup = html_of("At 18 °C, *4 kg* of it; `mix: rye 4 kg`, by B-031 5 g.")
    held = "At 18~°C, 4~kg of it; mix: rye 4 kg, by B-031 5~g."
    assert held.replace("~", "\N{NO-BREAK SPACE}") == soup.text.strip()


def test_no_line_breaks_between_an_id_and_the_punctuation_behind_it() -> None:
    soup = html_of("From B-031, then PP-26A (as B-031).")
    assert ["B-031,", "B-031)."] == [span.text for span in soup.select("span.nowrap")]
    assert ["B-031", "PP-26A", "B-031"] == [a.text for a in soup.select("a.id")]


@pytest.mark.parametrize(
    "text",
    [
        "<script>alert(1)</script>",
        "<img src=x onerror=alert(1)>",
        "[x](javascript:alert(1))",
        "![x](https://elsewhere.example/a.png)",
        "![x](../../../etc/passwd)",
        "<style>p{}</style><iframe src='//elsewhere.example'></iframe>",
        '<a href="x" style="position:fixed" onclick="x()">x</a>',
    ],
)
def test_nothing_that_runs_or_leads_elsewhere_comes_through(text: str) -> None:
    soup = html_of(text)
    assert [] == soup.select("script, img, style, iframe, form, object, svg, [style], [onclick], [onerror]")
    assert not any(a["href"].startswith("javascript:") for a in soup.select("a[href]"))


def test_what_looks_like_the_builds_own_html_is_shown_as_written() -> None:
    soup = html_of('<figure data-picture="0"></figure> here')
    assert soup.figure is None
    assert '<figure data-picture="0"></figure> here' == soup.text.strip()


def test_a_link_to_a_file_of_the_folder_keeps_its_words_only() -> None:
    soup = html_of("[see the other](../other.md)")
    assert ([], "see the other") == (soup.select("a"), soup.text.strip())


@pytest.mark.parametrize(
    ("words", "text"),
    [
        ("the second flush", "As in [the second flush](B-031)."),
        ("the second flush", "As in [the\nsecond flush](<b-031> 'a title')."),
        ("its second unit", "As in [its second unit](B-031.2)."),
        ("like PP-26A", "Not [like PP-26A](B-031)."),
        ("those", "As in [those].\n\n[those]: B-031"),
    ],
)
def test_a_link_to_an_id_leads_to_its_page_with_the_words_as_they_are(words: str, text: str) -> None:
    soup = html_of(text)
    assert [(words, "../../batches/b-031/index.html")] == [
        (" ".join(a.text.split()), a["href"]) for a in soup.select("a")
    ]


@pytest.mark.parametrize("target", ["B-999", "B-031.x", "B-031/", "B-031.md", "#B-031", "xB-031"])
def test_a_link_to_no_id_keeps_its_words_only(target: str) -> None:
    soup = html_of(f"As in [the *second* flush]({target}).")
    assert ([], "As in the second flush.") == (soup.select("a"), soup.text.strip())


@pytest.mark.parametrize(
    ("words", "href", "text"),
    [
        ("https://example.org/a b", "https://example.org/a%20b", "[![pins](IMG_0533.jpg)](https://example.org/a%20b)"),
        ("https://example.org", "https://example.org", "Pins: [ *![pins](IMG_0533.jpg)* ](https://example.org)"),
        ("https://example.org", "https://example.org", "Pins ![pins](IMG_0533.jpg) [](https://example.org)"),
        ("https://example.org", "https://example.org", "[&nbsp;&#8203;](https://example.org) ![](IMG_0533.jpg)"),
        ("B-031", "../../batches/b-031/index.html", "[![pins](IMG_0533.jpg)](B-031)"),
        ("pins", "https://example.org", "[![pins](IMG_0533.jpg) pins](https://example.org)"),
    ],
)
@pytest.mark.parametrize("is_shown", [True, False])
def test_a_link_of_which_the_picture_was_all_has_its_address_as_words(
    words: str, href: str, text: str, is_shown: bool
) -> None:
    soup = html_of(text, (("IMG_0533.jpg", PINS),) if is_shown else ())
    assert [(words, href)] == [(a.text.strip("\u200b \N{NO-BREAK SPACE}"), a["href"]) for a in soup.select("a")]
    assert is_shown == bool(soup.select("figure"))


@pytest.mark.parametrize("text", ["[![pins](IMG_0533.jpg)](other.md)", "**![pins](IMG_0533.jpg)**", "[](other.md)"])
def test_nothing_is_left_of_a_picture_whose_link_leads_nowhere(text: str) -> None:
    soup = html_of(text, (("IMG_0533.jpg", PINS),))
    assert [] == soup.select("p, a, em, strong")
    assert text.count("![") == len(soup.select("figure"))


def test_a_picture_in_the_text_becomes_a_figure_behind_its_paragraph() -> None:
    soup = html_of("Pins ![pins](IMG_0533.jpg) everywhere.\n\nNext.", (("IMG_0533.jpg", PINS),))
    assert ["p", "figure", "p"] == [child.name for child in soup.find_all(recursive=False)]
    assert "pins" == soup.figure.img["alt"]


@pytest.mark.parametrize(
    ("expected", "text", "is_shown"),
    [
        (["figure"], "![pins](IMG_0533.jpg)", True),
        ([], "![pins](IMG_0533.jpg)", False),  # the page shows it elsewhere
        (["p"], "![pins](IMG_0533.jpg)\n\nOn B-031.", False),
        (["figure", "figure"], "![pins](IMG_0533.jpg)  \n![pins](IMG_0533.jpg)", True),
        (["p", "figure"], "**Pins** ![pins](IMG_0533.jpg)", True),
        (["figure", "p"], "# ![pins](IMG_0533.jpg)\nOn B-031.", True),
        (["h3", "figure"], "# Pins ![pins](IMG_0533.jpg)", True),
        (["ul"], "- ![pins](IMG_0533.jpg)\n- pins", True),
        (["blockquote"], "> ![pins](IMG_0533.jpg)", True),
    ],
)
def test_no_empty_paragraph_is_left_of_a_picture(expected: list[str], text: str, is_shown: bool) -> None:
    soup = html_of(text, (("IMG_0533.jpg", PINS),) if is_shown else ())
    assert expected == [child.name for child in soup.find_all(recursive=False)]
    assert [] == [one for one in soup.select("p, h3") if not one.get_text(strip=True)]
    assert (text.count("![") if is_shown else 0) == len(soup.select("figure"))


def test_what_is_for_the_author_alone_stands_apart() -> None:
    soup = html_of("Open.\n\n::: private\nHidden B-031.\n:::\n\nOpen again.")
    assert ["Hidden B-031."] == [div.text.strip() for div in soup.select("div.private")]
    assert "Hidden" not in "".join(p.text for p in soup.find_all("p", recursive=False))


def test_headings_of_an_entry_stand_below_those_of_the_page() -> None:
    assert ["h3", "h4"] == [h.name for h in html_of("# One\n\n## Two").find_all(["h1", "h2", "h3", "h4"])]


def test_words_that_are_ids_are_found_once_each_in_order() -> None:
    links = links_of({**ADDRESSES, "fan": "tents/fan/index.html"})("a (B-031/PP-26A.3) and B-032,fan-\u00a0B-031\tfan")
    assert ["B-031", "PP-26A.3", "fan"] == [word for word, _ in links]
    assert ("PP-26A.3", ADDRESSES["pp-26a"]) in links


@pytest.mark.parametrize(
    ("expected", "target"),
    [
        ("batches/B-031/IMG_1.jpg", "IMG_1.jpg"),
        ("batches/B-031/two words.jpg", "two%20words.jpg"),
        ("batches/IMG_1.jpg", "../IMG_1.jpg"),
    ],
)
def test_a_picture_is_looked_for_beside_its_entry(expected: str, target: str) -> None:
    assert expected == photo_path("batches/B-031/pins.md", target)
