from __future__ import annotations

import json

import click
import pytest

from journal.commands.console import Output, plain, plain_json, problem_lines, run, sentence_of, time_left
from journal.problems import Problem, Refusal


@pytest.mark.parametrize(
    ("expected", "text"),
    [
        ("plain — 菌 é", "plain — 菌 é"),
        ("\\x1b[31mred", "\x1b[31mred"),  # ECMA-48: ESC [ begins a control sequence
        ("a\\x0ab\\x0d\\x09", "a\nb\r\t"),
        ("\\x9b31m", "\x9b31m"),  # ECMA-48: CSI as one character of C1
        ("\\u202egpj", "\u202egpj"),  # Unicode: RIGHT-TO-LEFT OVERRIDE
        ("\\udc80", "\udc80"),
        ("\\x7f", "\x7f"),
    ],
)
def test_nothing_that_steers_a_terminal_is_printed(expected: str, text: str) -> None:
    assert expected == plain(text)


@pytest.mark.parametrize("text", ["é 菌 \U0001f344", "\x1b[31m\x9b\x7f", "\u202e\udc80", "a\nb", "\U000e0001"])
def test_json_says_the_same_with_its_own_escapes(text: str) -> None:
    """Source: RFC 8259, 7: any character may be written \\uXXXX, beyond U+FFFF as a surrogate pair."""
    shown = plain_json(json.dumps([text], ensure_ascii=False, indent=1))
    assert [text] == json.loads(shown)
    assert plain(shown.replace("\n", "")) == shown.replace("\n", "")


def test_a_problem_is_one_line_and_what_fixes_it_is_below_ready_to_paste() -> None:
    problem = Problem(
        "journal.toml", 3, "error", "no \x1b tent", "add the lines below", '[tents.hut]\n\nname = "\x07"\n'
    )
    first = "journal.toml:3: error: no \\x1b tent; fix: add the lines below"
    other = Problem("b.md", 1, "error", "no tent", "", problem.paste)
    assert [first, "    [tents.hut]", "", '    name = "\\x07"', "b.md:1: error: no tent"] == [
        *problem_lines([problem, other])
    ]


def test_a_refusal_with_lines_to_paste_has_them_below_with_nothing_behind() -> None:
    assert "there is no hut; add these:\n\n[tents.hut]" == sentence_of(
        Refusal("there is no hut; add these", "[tents.hut]")
    )
    assert "there is no hut." == sentence_of(Refusal("there is no hut"))


@pytest.mark.parametrize(("asked", "is_advised"), [(None, True), ("", True), ("0", True), ("1", False)])
def test_who_has_asked_for_a_traceback_is_not_told_to_ask_for_it(
    monkeypatch: pytest.MonkeyPatch, asked: str | None, is_advised: bool
) -> None:
    monkeypatch.delenv("JOURNAL_TRACEBACK", raising=False)
    if asked is not None:
        monkeypatch.setenv("JOURNAL_TRACEBACK", asked)
    said = sentence_of(IndexError("tuple index out of range"))
    assert is_advised == ("JOURNAL_TRACEBACK" in said)
    assert is_advised != said.endswith("Report it, with its traceback.")


def test_a_notice_goes_to_stderr_and_keeps_its_brackets(capsys: pytest.CaptureFixture[str]) -> None:
    Output().notice("3 to fix [bold]in[/bold] \x1b[2J")
    assert capsys.readouterr() == ("", "3 to fix [bold]in[/bold] \\x1b[2J\n")


def test_quick_work_shows_no_bar(capsys: pytest.CaptureFixture[str]) -> None:
    with Output() as teller:
        teller.progress("pages", 1, 1)
    assert capsys.readouterr() == ("", "")


def test_long_work_shows_how_far_it_is(capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("journal.commands.console.FIRST_SHOWN_AFTER_S", -1.0)
    with Output() as teller:
        teller.progress("pages", 3, 7)
    out, err = capsys.readouterr()
    assert out == ""
    assert "Building pages" in err
    assert "3/7" in err


@pytest.mark.parametrize(
    ("expected", "done", "total", "seconds"),
    [
        ("about 75 s left", 25, 100, 25),
        ("about 4 min left", 1_000, 5_000, 60),
        ("about 3 h left", 50, 5_000, 120),
        ("", 0, 5_000, 60),
        ("", 1, 5_000, 1.9),
        ("", 99, 100, 99),
        ("", 100, 100, 99),
    ],
)
def test_the_time_left_is_what_the_rest_takes_at_the_same_rate(
    expected: str, done: int, total: int, seconds: float
) -> None:
    assert expected == time_left(done, total, seconds)


def test_a_long_step_says_how_long_its_rest_takes(capsys, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("journal.commands.console.FIRST_SHOWN_AFTER_S", -1.0)
    now_s = iter([0.0, 0.0, 5.0, 15.0, 25.0])
    monkeypatch.setattr("journal.commands.console.time.monotonic", lambda: next(now_s, 25.0))
    with Output() as output:
        for what, done in (("entries", 9), ("photos", 1), ("photos", 11)):
            output.progress(what, done, 401)
    assert "Reading photos" in (told := capsys.readouterr().err)
    assert "11/401 about 6 min left" in told, "of ten in the ten seconds since the first"


def test_a_stopped_command_says_what_of_its_work_is_done(capsys) -> None:
    @click.command()
    def stopped() -> None:
        error = KeyboardInterrupt()
        error.add_note("12 of 30 photos are done; the next run goes on from there.")
        raise error

    assert 130 == run(stopped, [])
    assert "Stopped. 12 of 30 photos are done; the next run goes on from there." in capsys.readouterr().err
