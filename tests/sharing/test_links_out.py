"""Links and pictures set aside and put back."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from journal.sharing.clean_text import Placeholders


def through(text: str, change: Callable[[str], str] = lambda text: text, shown: dict[str, str] | None = None) -> str:
    aside = Placeholders(
        text, (shown or {}).get, str.upper, lambda words: "secret" not in words, {"B-004"}.__contains__
    )
    return aside.put_back(change(aside.text), "GONE")


@pytest.mark.parametrize(
    ("left", "text"),
    [
        ("see [it](https://a.example/b)", "see [it](https://a.example/b)"),
        ("see [it](https://a.example/b)", "see [it](<https://a.example/b> 'a title')"),
        ("see it", "see [it](https://a.example/secret)"),
        ("see [it](http://a.example/b?c)", "see [it](http://a.example/b?c)"),
        ("see [it](http://a.example/blocks)", "see [it](http://a.example/blocks)"),
        ("see it", "see [it](mailto:x@a.example)"),
        ("see it", "see [it](javascript:x)"),
        ("see it", "see [it](other.md)"),
        ("see [it](B-004)", "see [it](B-004)"),
        ("see [it](B-004.2)", "see [it](<B-004.2> 'secret')"),
        ("see it", "see [it](B-005)"),
        ("see it", "see [it](B-004.md)"),
        ("see it", "see [it](B-004.secret)"),
        ("see it", "see [it](https://[broken)"),
        ("see ", "see ![it](a.jpg)"),
        ("see https://a.example/b", "see https://a.example/b"),
        ("see (not shared)", "see geo:1,2"),
        ("see (not shared).", "see www.a.example/secret."),
        ("", "[it]: https://a.example/b\n"),
        ("see it\n", "see [it][1]\n[1]: https://a.example/b\n"),
        ("see it\n", "see [it][]\n[IT]: https://a.example/b\n"),
        ("see \n", "see ![it][1]\n[1]: a.jpg 'secret'\n"),
        ("see [it][1]", "see [it][1]"),
        ("see it", "see [it](https://w3w.example/filled.count.soap)"),
        ("see it", "see [it](https://a.example/filled.count.soap)"),
        ("see it", "see [it](https://bit.ly/3abcDEF)"),
        ("see it", "see [it](https://osm.example/go/0EEQjE)"),
    ],
)
def test_a_link_stays_where_its_target_may(left: str, text: str) -> None:
    assert left == through(text)


def test_a_picture_has_the_name_that_it_has_in_the_share() -> None:
    assert "see ![PINS (TWO)](new.jpg)" == through("see ![pins [two]](a%20b.jpg)", shown={"a b.jpg": "new.jpg"})


def test_a_picture_within_a_link_stays_without_it() -> None:
    assert "![PINS](new.jpg)" == through("[![pins](a.jpg)](b.jpg)", shown={"a.jpg": "new.jpg"})


def test_a_link_of_which_something_was_cleaned_away_is_not_a_link() -> None:
    assert "see GONE" == through("see [it](https://a.example/b)", lambda text: text.replace("it", "GONE"))


def test_a_link_that_lost_its_end_is_not_a_link() -> None:
    assert "see it" == through("see [it](https://a.example/b)", lambda text: text[:-1])


def test_signs_of_private_use_in_the_text_itself_are_dropped() -> None:
    assert "see [it](https://a.example/b)" == through("s\ue000ee [it](https://a.example/b)\ue001")
