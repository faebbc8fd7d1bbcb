"""`journal labels`, and `journal new` beside the IDs that it sets aside."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from journal.cli import cli
from journal.commands.console import run
from journal.reading.label_codes import check_character
from tests.builders import entry

Labels = Callable[..., tuple[int, str, str]]


@pytest.fixture
def labels(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> Labels:
    """Runs `journal` in a small journal of one batch of three; gives exit status, output and messages."""
    monkeypatch.chdir(tmp_path)
    Path("journal.toml").write_text('[journal]\ntitle = "Woods"\nas_of = 2026-11-25\n', encoding="utf-8")
    Path("b.md").write_text(entry("batch", "id: B-031\ndate: 2026-10-27\nunits: 3\nformerly: B-013"), encoding="utf-8")
    cache = ("--cache", str(tmp_path.parent / f"{tmp_path.name}-cache"))

    def ended(*words: str) -> tuple[int, str, str]:
        status = run(cli, [*words, *(cache if words[0] == "labels" else ())])
        said = capsys.readouterr()
        return status, said.out, said.err

    return ended


def test_a_sheet_is_written_and_one_of_labels_is_replaced(labels: Labels, tmp_path: Path) -> None:
    assert 0 == labels("labels", "--of", "B-031")[0]
    status, said, told = labels(
        "labels", f"B-013.2+{check_character('B-013.2')}", "--size", "dish", "--sheet", "Letter", "--first", "4"
    )
    page = (tmp_path / "labels.html").read_text(encoding="utf-8")
    assert (0, str(tmp_path / "labels.html")) == (status, said.strip())
    assert "1 label of 30 x 15 mm (dish) on 1 sheet of Letter; the next free place is 5." in told
    assert (3, 1) == (page.count("<li></li>"), page.count('class="jar-label"'))
    assert "B-031.2" in page
    assert "script" not in page


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((), "name what to label"),
        (("B-9",), "there is no B-9 in this journal"),
        (("B-310",), "did you mean B-031?"),
        (("B-031.4",), "B-031 has no part 4"),
        (("B-031+A",), 'the check character of "B-031" is not "A"'),
        (("B-031", "--size", "lid"), "is not a size of labels"),
        (("B-031", "--first", "28"), "places 1 to 27"),
        (("B-031", "--to", "b.md"), "is not a sheet of labels"),
    ],
)
def test_what_cannot_be_labelled_is_refused_and_changes_nothing(
    labels: Labels, tmp_path: Path, words: tuple[str, ...], says: str
) -> None:
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    status, _, told = labels("labels", *words)
    assert 2 == status
    assert says in told
    assert before == {path: path.read_bytes() for path in tmp_path.iterdir()}


def test_a_label_on_which_not_everything_fits_is_pointed_at(labels: Labels, tmp_path: Path) -> None:
    long = entry("batch", "id: B-031-K7Q4-12-K7Q4-13-K7Q4\ndate: 2026-10-27\nunits: 3\nsubstrate: straw")
    (tmp_path / "long.md").write_text(long.replace("---\n", "---\nculture: PP-26A-7-K7Q4\n", 1), encoding="utf-8")
    (tmp_path / "c.md").write_text(
        entry("culture", "id: PP-26A-7-K7Q4\ndate: 2026-10-01\nform: grain\nspecies: oyster"), encoding="utf-8"
    )
    told = labels("labels", "B-031-K7Q4-12-K7Q4-13-K7Q4.3", "--size", "dish")[2]
    assert (
        "Not everything fits on 1 label of this size, and the last lines are left out: B-031-K7Q4-12-K7Q4-13-" in told
    )
    assert "Not everything" not in labels("labels", "B-031.2", "--size", "dish")[2]


def test_ids_printed_ahead_are_given_to_no_other_entry_and_taken_up_when_asked_for(
    labels: Labels, tmp_path: Path
) -> None:
    status, _, told = labels("labels", "--new", "batch", "2")
    assert 0 == status
    assert "B-032 to B-033 are set aside" in told
    assert (
        (tmp_path / "journal.toml")
        .read_text("utf-8")
        .endswith('[[reserved]]\nkind = "batch"\nids = ["B-032", "B-033"]\n')
    )
    assert 0 == labels("labels", "b-033")[0]  # a label set aside is printed once more
    assert "B-033" in (tmp_path / "labels.html").read_text("utf-8")
    assert "B-034 is set aside" in labels("labels", "--new", "batch", "1")[2]
    assert labels("new", "batch")[1].strip().endswith("B-035/batch.md")
    assert labels("new", "batch", "--id", "b-032")[1].strip().endswith("B-032/batch.md")
    assert "id: B-032\n" in (tmp_path / "batches/B-032/batch.md").read_text("utf-8")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("batch", "--id", "B-031"), "--id: B-031 is taken"),
        (("batch", "--id", "B-013"), "--id: B-013 is taken"),
        (("find", "--id", "B-032"), "the label B-032 was printed for a batch"),
        (("batch", "--id", "B-032+A"), "check character"),
        (("batch", "--id", "7"), "cannot be an ID"),
        (("note", "--id", "N-1"), "a note has no ID"),
    ],
)
def test_an_id_that_is_not_free_is_refused(labels: Labels, words: tuple[str, ...], says: str) -> None:
    labels("labels", "--new", "batch", "1")
    status, _, told = labels("new", *words)
    assert 2 == status
    assert says in told
