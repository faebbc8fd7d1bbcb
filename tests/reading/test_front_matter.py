"""An entry file into keys and text."""

from __future__ import annotations

from collections.abc import Callable

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from journal.reading import front_matter
from journal.reading.folder import LARGEST_BYTES
from journal.reading.front_matter import FrontMatter, read_front_matter
from tests.growth import TIMES, filled, grows_faster_than_a_scan


def front(text: str | bytes) -> FrontMatter:
    data = text if isinstance(text, bytes) else text.encode()
    found = read_front_matter("entry.md", data)
    assert found is not None
    return found


def values(text: str) -> dict[str, list[str]]:
    """Each key's values, of front matter given without its --- lines."""
    return {field.name: [item.text for item in field.items] for field in front(f"---\n{text}\n---\n").fields}


@pytest.fixture(params=["C", "pure"])
def _both_readers(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """The C reader of YAML where there is one, and the pure one that stands in for it."""
    if request.param == "pure":
        monkeypatch.setattr(front_matter, "_TEXT_ONLY", yaml.BaseLoader)


@pytest.mark.usefixtures("_both_readers")
@pytest.mark.parametrize(
    ("line", "text"),
    [
        ("light: 12:12", "12:12"),
        ("by: No", "No"),
        ("date: 2026-10-03", "2026-10-03"),
        ("flush: 010", "010"),
        ("price: 1_000", "1_000"),
        ("species: null", "null"),
        ("species: ~", "~"),
        ("title: Oyster #3", "Oyster #3"),
        ("title: #3", "#3"),
        ("title: Block 3: first pins", "Block 3: first pins"),
        ("title: ends with a colon:", "ends with a colon:"),
        ("species: *Pleurotus*", "*Pleurotus*"),
        ("why: % humidity", "% humidity"),
        ("by: @ferry", "@ferry"),
        ("title: [draft] pins", "[draft] pins"),
        ("title: [draft", "[draft"),
        ("title: [", "["),
        ("title: {a: b}", "{a: b}"),
        ("title: & more", "& more"),
        ("title: !important", "!important"),
        ("title: `code`", "`code`"),
        ("title: >90 %", ">90 %"),
        ("title: | dry", "| dry"),
        ("title: - dash", "- dash"),
        ("title: ? why", "? why"),
        ("title: 'twas dry", "'twas dry"),
        ('title: "Velvet" foot', '"Velvet" foot'),
        ('title: "quoted: #1"', "quoted: #1"),
        ("title: 'it''s'", "it's"),
        (r'title: "caf\u00e9"', "café"),
        ('title: "quoted"  # aside', "quoted"),
        ("title:   spaces around   ", "spaces around"),
        ("title:\ttab", "tab"),
        ('"title": x', "x"),
        ("title: a:b", "a:b"),
        ("title: 日本 ✓", "日本 ✓"),
    ],
)
def test_a_plain_value_on_one_line_is_text_to_its_end(line: str, text: str) -> None:
    (read,) = values(line).values()
    assert [text] == read


@pytest.mark.usefixtures("_both_readers")
@pytest.mark.parametrize(
    ("text", "items"),
    [
        ("about: [B-031, B-032]", ["B-031", "B-032"]),
        ("about: [B-031, B-032]  # both", ["B-031", "B-032"]),
        ("about: [B-031,\n  B-032]", ["B-031", "B-032"]),
        ("about: [\n  B-031,\n]", ["B-031"]),
        ("about:\n  - B-031\n  - B-032", ["B-031", "B-032"]),
        ("about:\n- B-031\n- B-032", ["B-031", "B-032"]),
        ("about:\n# aside\n  - B-031\n\n  # aside\n  - B-032", ["B-031", "B-032"]),
        ("done: [shaken, 'soaked, twice']", ["shaken", "soaked, twice"]),
        ("done: [Oyster #3, *b*]", ["Oyster #3", "*b*"]),
        ("done:\n  - soaked: cold\n  - % humidity\n  - *cut* #2", ["soaked: cold", "% humidity", "*cut* #2"]),
        ("done:\n  - 'it''s'\n  - |\n    two\n    lines", ["it's", "two\nlines"]),
        ("done:\n  - one that goes\n    on: here\n  - two", ["one that goes on: here", "two"]),
        ('photos:\n  - IMG_1.jpg: pins: first\n  - "b c.jpg": x', ["IMG_1.jpg: pins: first", "b c.jpg: x"]),
        ("photos: [IMG_1.jpg: pins, b.jpg]", ["IMG_1.jpg: pins", "b.jpg"]),
        ("photos:\n  IMG_1.jpg: pins\n  b.jpg:", ["IMG_1.jpg: pins", "b.jpg:"]),
        ("done: []", []),
        ("done:\n  -\n  - cut", ["cut"]),
    ],
)
def test_a_list_is_read_in_every_way_yaml_has(text: str, items: list[str]) -> None:
    (read,) = values(text).values()
    assert items == read


@pytest.mark.usefixtures("_both_readers")
@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("why: |\n  two\n  lines # kept", "two\nlines # kept"),
        ("why: |-\n  two\n\n  lines", "two\n\nlines"),
        ("why: >\n  two\n  lines", "two lines"),
        ("why: dried out: below\n  the duct", "dried out: below the duct"),
        ("why:\n  dried out\n  below", "dried out below"),
        ('why: "two\n  lines"', "two lines"),
    ],
)
def test_a_value_of_several_lines_is_read(text: str, value: str) -> None:
    assert {"why": [value]} == values(text)


def test_an_empty_value_is_none_at_all() -> None:
    assert {"species": [], "by": [], "why": []} == values('species:\nby: ""\nwhy: |')


def test_lines_and_lists_are_given() -> None:
    read = front("---\nkind: note\n\n# aside\ndone:\n  - a\n\n  - b\nabout: [x, y]\n---\ntext\n")
    rows = [(field.name, field.line, field.listed, [item.line for item in field.items]) for field in read.fields]
    assert [("kind", 2, False, [2]), ("done", 5, True, [6, 8]), ("about", 9, True, [9, 9])] == rows
    assert ("text\n", 11) == (read.text, read.text_line)


@pytest.mark.parametrize(
    "data",
    [
        b"---\nkind: find\nid: F-1\n---\none\ntwo\n",
        b"---\r\nkind: find\r\nid: F-1\r\n---\r\none\r\ntwo\r\n",
        b"---\rkind: find\rid: F-1\r---\rone\rtwo\r",
        b"\xef\xbb\xbf---\nkind: find\nid: F-1\n---\none\ntwo\n",
        b"\xef\xbb\xbf---  \r\nkind: find\r\nid: F-1\r\n--- \r\none\r\ntwo\r\n",
    ],
    ids=["LF", "CRLF", "CR", "BOM", "BOM and CRLF"],
)
def test_line_ends_and_a_byte_order_mark_make_no_difference(data: bytes) -> None:
    read = front(data)
    assert [("kind", 2, "find"), ("id", 3, "F-1")] == [(f.name, f.line, f.items[0].text) for f in read.fields]
    assert ("one\ntwo\n", 5, ()) == (read.text, read.text_line, read.problems)


@pytest.mark.parametrize(
    "data", [b"", b"# Notes\n", b"\n---\nkind: find\n---\n", b"----\n", b"\xef\xbb\xbf", b"\xff", b"--"]
)
def test_a_file_that_does_not_begin_with_front_matter_is_not_an_entry(data: bytes) -> None:
    assert read_front_matter("entry.md", data) is None


def test_a_key_written_twice_is_wrong_and_the_first_is_used() -> None:
    read = front("---\ngrowing on: oak\nspecies: a\nGrowing-on: birch\n---\n")
    assert [("growing on", "oak"), ("species", "a")] == [(f.name, f.items[0].text) for f in read.fields]
    (problem,) = read.problems
    assert (4, "error") == (problem.line, problem.severity)
    assert "written twice; the one on line 2 is used" in problem.message


def test_a_line_that_cannot_be_read_costs_no_other() -> None:
    read = front("---\nkind: find\nthis is not a key\nnor is this\nid: F-1\nspecies:x\n  - stray\n---\ntext")
    assert ["kind", "id"] == [field.name for field in read.fields]
    assert [(3, "error"), (6, "error")] == [(problem.line, problem.severity) for problem in read.problems]


def test_a_line_that_cannot_be_read_is_not_repeated_since_it_may_hold_a_place() -> None:
    read = front("---\nwhere 58.30412, -8.90177\n58.30412, -8.90177\n---\n")
    assert ['"where" does not start a key with a value'] == [problem.message for problem in read.problems]


@pytest.mark.usefixtures("_both_readers")
@pytest.mark.parametrize(
    "value", ['"never\n  closed', "[a,\n  b", "[a,\n  [b, c]]", "|\n  a\x00b", "[\n  " + "[" * 5000 + "\n  ]"]
)
def test_a_value_that_yaml_cannot_read_costs_its_key_alone(value: str) -> None:
    read = front(f"---\nkind: find\nwhy: {value}\nid: F-1\n---\n")
    assert [("kind", False), ("why", True), ("id", False)] == [(field.name, field.broken) for field in read.fields]
    assert [(3, "error")] == [(problem.line, problem.severity) for problem in read.problems]


def test_front_matter_never_closed_is_wrong_and_its_keys_are_read() -> None:
    read = front("---\nkind: find\nid: F-1\nphotos:\n  - a.jpg\n\nUnder the alders: wet.\n")
    assert ["kind", "id", "photos"] == [field.name for field in read.fields]
    assert ("\nUnder the alders: wet.\n", 6) == (read.text, read.text_line)
    (problem,) = read.problems
    assert (1, "error") == (problem.line, problem.severity)
    assert "never ends; keys were read down to line 5" in problem.message


def test_front_matter_never_closed_ends_before_a_line_that_is_not_a_key() -> None:
    read = front("---\nkind: find\nUnder the alders\nid: F-1\n")
    assert (["kind"], "Under the alders\nid: F-1\n", 3) == ([f.name for f in read.fields], read.text, read.text_line)


@pytest.mark.parametrize("data", [b"---", b"---\n", b"---\n---", b"---\n---\n"])
def test_front_matter_without_a_key_is_still_front_matter(data: bytes) -> None:
    assert () == front(data).fields


@pytest.mark.parametrize(
    ("data", "line", "says"),
    [
        (b"---\nkind: find\nplace: caf\xe9\n---\n", 3, "the byte 0xe9 is not UTF-8"),
        ("---\nkind: find\n---\n".encode("utf-16"), 0, "this file is saved as UTF-16"),
    ],
)
def test_a_file_that_is_not_utf8_is_wrong(data: bytes, line: int, says: str) -> None:
    read = front(data)
    assert (False, (), line) == (read.legible, read.fields, read.problems[0].line)
    assert says == read.problems[0].message


@pytest.mark.parametrize(
    "shape",
    [
        filled("---\nkind: note\n---\n", "word "),
        filled("---\nkind: note\n", "x", "\n---\n"),
        filled("---\nkind: note\nwhy: ", " ", "\n---\n"),
        filled("---\nkind: note\n", " "),
        filled("---\nkind: note\nwhy: ", "[", "\n---\n"),
        filled("---\nkind: note\nwhy: '", "'", "\n---\n"),
        filled("---\nkind: note\nwhy: |\n", "  line\n", "---\n"),
        filled("---\nkind: note\n", "junk\n", "---\n"),
    ],
    ids=["text", "line", "spaces", "blanks", "brackets", "quotes", "block", "junk"],
)
def test_an_entry_as_large_as_one_may_be_is_read_in_one_go(shape: Callable[[int], str]) -> None:
    def read(text: str) -> None:
        assert "kind" == front(text).fields[0].name

    read(shape(LARGEST_BYTES["entry"]))
    assert not grows_faster_than_a_scan(read, shape, LARGEST_BYTES["entry"] // (4 * TIMES))


@given(st.binary(max_size=300))
def test_no_bytes_make_the_reader_stumble(data: bytes) -> None:
    read_front_matter("entry.md", b"---\n" + data)


LINE = st.sampled_from(
    [
        "kind: find",
        "a: b",
        "a:",
        "- x",
        "  - y: z",
        "  t",
        "[",
        "]",
        "a: [",
        'b: "',
        "c: |",
        "d: >-",
        "",
        "#",
        "---",
        "\t",
        "e: - x",
    ]
)


@given(st.lists(LINE, max_size=12))
def test_no_order_of_lines_makes_the_reader_stumble(lines: list[str]) -> None:
    read = front("\n".join(["---", *lines]))
    assert len({field.name for field in read.fields}) == len(read.fields)
    assert all(1 <= problem.line <= len(lines) + 1 for problem in read.problems)


PRINTABLE = st.text(st.characters(exclude_categories=["Cc", "Cs", "Zl", "Zp", "Zs"]), min_size=1, max_size=40)


@given(PRINTABLE.filter(lambda text: text[0] not in "\"'[|>"))
def test_what_is_on_a_keys_line_is_its_value(text: str) -> None:
    assert {"title": [text]} == values(f"title: {text}")


@pytest.mark.usefixtures("_both_readers")
@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("photos: [&pins IMG_1.jpg, *pins]", 2, "anchors and aliases, like &pins"),
        ("photos: [&pins IMG_1.jpg]", 2, "anchors and aliases, like &pins"),
        ("photos: [IMG_1.jpg,\n  *pins]", 3, "anchors and aliases, like *pins"),
        ("next:\n  - water\n  - [&a x, *a]", 4, "anchors and aliases, like &a"),
        ("photos: [{<<: &a {b: c}}]", 2, "anchors and aliases, like &a"),
        ("photos: [!!python/name:os.system x]", 2, "YAML tag"),
        ("photos: [!important, x]", 2, "YAML tag"),
        ("photos: [x,\n  !!str y]", 3, "YAML tag"),
        ("photos: [[[[[[[[[[\n  x]]]]]]]]]]", 2, "lists are nested too deeply"),
        ("photos: [\n" + "  [\n" * 5000 + "  ]\n" * 5001, 2, ""),
    ],
)
def test_yaml_that_is_more_than_text_is_refused_where_it_stands(text: str, line: int, says: str) -> None:
    found = front(f"---\n{text}\nflush: 2\n---\n")
    assert [("error", line)] == [(problem.severity, problem.line) for problem in found.problems]
    assert says in found.problems[0].message
    assert found.problems[0].fix
    assert [("flush", ["2"])] == [(f.name, [i.text for i in f.items]) for f in found.fields if not f.broken]


@pytest.mark.usefixtures("_both_readers")
def test_aliases_are_refused_before_a_word_is_repeated(monkeypatch: pytest.MonkeyPatch) -> None:
    made: list[str] = []
    monkeypatch.setattr(yaml, "load", lambda text, **_: made.append(text))
    found = front("---\nnext: [&a " + "water " * 3000 + ", *a" * 5000 + "]\n---\n")
    assert ["error"] == [problem.severity for problem in found.problems]
    assert [] == made


@pytest.mark.parametrize(
    ("line", "texts"),
    [
        ("species: *Pleurotus*", ["*Pleurotus*"]),
        ("species: *Pleurotus", ["*Pleurotus"]),
        ("species: &c", ["&c"]),
        ("next: [*Pleurotus*, birch]", ["*Pleurotus*", "birch"]),
        ("next: [*Pleurotus, birch]", ["*Pleurotus", "birch"]),
        ("next:\n  - *Pleurotus*\n  - &c", ["*Pleurotus*", "&c"]),
        ("<<: *a", []),
    ],
)
def test_stars_and_ampersands_in_plain_text_are_text(line: str, texts: list[str]) -> None:
    assert texts in list(values(line).values()) or line.startswith("<<")
    assert not [problem for problem in front(f"---\n{line}\n---\n").problems if "anchor" in problem.message]
