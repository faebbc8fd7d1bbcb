"""Photo work on a cluster: the same bytes as here, whatever becomes of its workers."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import Future
from pathlib import Path
from pkgutil import resolve_name
from types import SimpleNamespace
from typing import Any

import pytest

from journal.problems import Refusal
from journal.reading.photos import read_facts
from journal.reading.picture_files import Limits
from journal.site.build import cluster
from journal.site.build.cluster import Answer, Cluster, Sent, answer, makers
from journal.site.build.photo_workers import photo_work
from tests.builders import Inline

ADDRESS = "tcp://10.0.0.5:8786"


@pytest.fixture
def rows(tmp_path: Path, picture_bytes: Callable[..., bytes]) -> list[tuple[str, Path]]:
    """Eight photos, of which one is cut short."""
    (tmp_path / "photos").mkdir()
    for number in range(8):
        content = picture_bytes("JPEG", size=(400 + 8 * number, 300))
        (tmp_path / "photos" / f"{number}.jpg").write_bytes(content[: -400 if number == 5 else None])
    return [(f"finds/{number}.jpg", tmp_path / "photos" / f"{number}.jpg") for number in range(8)]


def contents(folder: Path) -> Mapping[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir()}


# -- a cluster on this computer ------------------------------------------------------------------------------------


class Running:
    """A scheduler and two workers on loopback, each a process of its own, in a folder of their own."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._processes: dict[str, subprocess.Popen[bytes]] = {}
        self.address = ""

    def begin(self) -> None:
        from distributed import Client

        file = self._folder / "scheduler.json"
        common = ("--host", "127.0.0.1", "--no-dashboard", "--scheduler-file", str(file))
        self._begin("scheduler", "scheduler", *common, "--port", "0")
        for name in ("one", "other"):
            self._begin(name, "worker", *common, "--nthreads", "1", "--no-nanny")
        with Client(scheduler_file=str(file), timeout=60, set_as_default=False) as client:
            client.wait_for_workers(2, timeout=60)
            self.address = client.scheduler.address

    def _begin(self, name: str, role: str, *options: str) -> None:
        command = [sys.executable, "-c", f"from distributed.cli.dask_{role} import main; main()", *options]
        self._processes[name] = subprocess.Popen(
            command,
            cwd=self._folder,
            env={**os.environ, "PYTHONPATH": os.getcwd()},
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )

    def kill(self, *names: str) -> None:
        """At once, as where the power goes; all where none is named."""
        for name in names or tuple(self._processes):
            process = self._processes.pop(name)
            process.kill()
            process.wait()


@pytest.fixture
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    it = Running(tmp_path_factory.mktemp("cluster"))
    try:
        it.begin()
        yield it
    finally:
        it.kill()


@pytest.mark.skipif(not Path("/proc/self/cwd").exists(), reason="no path here means another file to each process")
def test_a_cluster_gives_the_bytes_that_this_computer_gives_also_when_its_workers_are_killed(
    running: Running, rows: list[tuple[str, Path]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its processes share no folder with this one: a path by /proc/self/cwd means another file to each."""
    expected = sorted(photo_work(rows, tmp_path / "here", executor=Inline()))
    monkeypatch.chdir(tmp_path)
    apart = [(path, Path("/proc/self/cwd/photos") / file.name) for path, file in rows]
    notices: list[str] = []

    def work(folder: str, at: int, *names: str) -> None:
        """Kills these when so many photos are done."""
        found = []
        with Cluster(running.address, notices.append) as executor:
            for row in photo_work(apart, tmp_path / folder, executor=executor):
                found.append(row)
                if len(found) == at:
                    running.kill(*names)
        assert expected == sorted(found)
        assert contents(tmp_path / "here") == contents(tmp_path / folder)

    work("one killed", 3, "one")
    assert [] == notices
    work("all killed", 2)
    assert [f"The cluster at {running.address} is gone; the rest of the photos are done on this computer."] == notices


# -- what a cluster lacks ------------------------------------------------------------------------------------------


def test_a_worker_reads_the_file_itself_only_if_it_has_these_very_bytes(
    rows: list[tuple[str, Path]], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(cluster, "_pool", lambda limits, function, file: Inline().submit(function, file, limits))
    (_, file), (_, other), *_ = rows
    digest, content = read_facts(file).digest, file.read_bytes()
    asked = [Sent(str(file), digest, None), Sent(str(other), digest, None), Sent(str(other), digest, content)]
    answers = [answer(makers(), sent, read_facts, Limits()) for sent in asked]
    assert ["done", "lacks", "done"] == [found.status for found in answers]
    assert answers[0] == answers[2]
    assert read_facts(file) == answers[0].value


def test_a_worker_with_another_library_does_nothing_and_says_so() -> None:
    there = {**makers(), "pillow": "9.0.0"}
    assert Answer("differs", f"pillow {makers()['pillow']}, here 9.0.0") == answer(
        there, Sent("a.jpg", "", None), read_facts, Limits()
    )


class Client:
    """Stands for a library's client: workers by address and what each says of its versions."""

    status = "running"

    def __init__(self, says: Mapping[str, Any], answers: Answer | None = None) -> None:
        self._says = says
        self._answers = answers
        self.asked = 0

    def nthreads(self) -> Mapping[str, int]:
        return dict.fromkeys(self._says, 1)

    def run(self, function: Any, *_: Any, workers: list[str], on_error: str) -> Mapping[str, Any]:
        says = {address: self._says[address] for address in workers}
        if function is not resolve_name and any(isinstance(said, Exception) for said in says.values()):
            pytest.fail("a worker ends of a function that it cannot import")
        return says

    def submit(self, *_: Any, workers: list[str], **__: Any) -> Any:
        assert ["tcp://a:1"] == workers
        self.asked += 1
        done = SimpleNamespace(key=str(self.asked), result=lambda: self._answers)
        return SimpleNamespace(key=done.key, add_done_callback=lambda call: call(done))

    def close(self, timeout: float) -> None:
        self._says = {}


def cluster_of(client: Client, monkeypatch: pytest.MonkeyPatch) -> tuple[Cluster, list[str]]:
    notices: list[str] = []
    monkeypatch.setattr(cluster, "_quiet_distributed", lambda: SimpleNamespace(Client=lambda *_, **__: client))
    monkeypatch.setattr(cluster, "find_spec", lambda _: object())
    return Cluster(ADDRESS, notices.append), notices


@pytest.mark.parametrize(
    ("says", "sentence"),
    [
        ({}, "it has no workers; start some (dask worker)"),
        (
            {"tcp://10.0.0.6:1": {**makers(), "pillow": "9.0.0"}},
            f"tcp://10.0.0.6:1 (pillow 9.0.0, here {makers()['pillow']}); install the same versions there",
        ),
        (
            {"tcp://10.0.0.6:1": {**makers(), "this program": "0"}},
            "tcp://10.0.0.6:1 (another version of this program); install the same versions there",
        ),
        (
            {"tcp://10.0.0.6:1": ModuleNotFoundError("No module named 'PIL'", name="PIL")},
            "tcp://10.0.0.6:1 (without PIL); install the same versions there",
        ),
        (
            {f"tcp://10.0.0.{n}:1": ModuleNotFoundError("No module named 'journal'", name="journal") for n in range(5)},
            "tcp://10.0.0.0:1, tcp://10.0.0.1:1, tcp://10.0.0.2:1 and 2 more (without this program); "
            "install the same versions there",
        ),
    ],
    ids=["no workers", "other Pillow", "other program", "no Pillow", "no program"],
)
def test_a_cluster_of_which_no_worker_gives_the_same_bytes_is_refused_in_one_line(
    says: Mapping[str, Any], sentence: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    refused, notices = cluster_of(Client(says), monkeypatch)
    with refused, pytest.raises(Refusal) as told:
        refused.submit(read_facts, Path("a.jpg"), Limits())
    assert (f"the cluster at {ADDRESS} cannot be used: {sentence}", []) == (str(told.value), notices)


def test_a_worker_that_would_give_other_bytes_is_left_out_and_its_answer_not_taken(
    rows: list[tuple[str, Path]], monkeypatch: pytest.MonkeyPatch
) -> None:
    says = {"tcp://a:1": makers(), "tcp://b:1": {**makers(), "webp": "0.1"}}
    client = Client(says, Answer("differs", "webp 0.1"))
    used, notices = cluster_of(client, monkeypatch)
    monkeypatch.setattr(cluster, "LimitedPool", lambda *_: SimpleNamespace(submit=Inline().submit, end=lambda **_: 0))
    with used:
        assert 1 == used.workers
        expected = sorted(photo_work(rows, None, executor=Inline()))
        assert expected == sorted(photo_work(rows, None, executor=used))
    assert [
        f"Left out of the photo work: tcp://b:1 (webp 0.1, here {makers()['webp']}); install the same versions there."
    ] == notices
    assert 3 * len(rows) == client.asked


def test_a_photo_whose_workers_are_all_gone_goes_to_those_that_came(
    rows: list[tuple[str, Path]], monkeypatch: pytest.MonkeyPatch
) -> None:
    class Silent(Client):
        handed: tuple[list[str], ...] = ()

        def submit(self, *_: Any, workers: list[str], **__: Any) -> Any:
            self.handed += (workers,)
            return SimpleNamespace(key=str(len(self.handed)), add_done_callback=lambda _: None)

    client = Silent({"tcp://a:1": makers(), "tcp://b:1": makers(), "tcp://c:1": makers()})
    monkeypatch.setattr(client, "nthreads", lambda: {"tcp://a:1": 1})
    used, _ = cluster_of(client, monkeypatch)
    with used:
        used.submit(read_facts, rows[0][1], Limits())
        used._update_workers({"tcp://a:1": 1, "tcp://b:1": 1})
        used._update_workers({"tcp://c:1": 1})
    assert (["tcp://a:1"], ["tcp://c:1"]) == client.handed


@pytest.mark.parametrize("address", ["10.0.0.5:8786", "tcp://10.0.0.5", "http://10.0.0.5:8786", "tcp://:1", "4"])
def test_what_is_not_an_address_is_refused(address: str) -> None:
    with pytest.raises(Refusal, match=r"is not the address of a cluster; write it like tcp://10\.0\.0\.5:8786"):
        Cluster(address, print)


def test_without_the_extra_it_says_how_to_install_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(cluster, "find_spec", lambda _: None)
    with pytest.raises(Refusal, match=r'python -m pip install "field-fruiting-journal\[distributed\]"'):
        Cluster(ADDRESS, print)


@pytest.mark.parametrize("accepts", [False, True])
def test_an_address_at_which_nothing_answers_is_refused(monkeypatch: pytest.MonkeyPatch, accepts: bool) -> None:
    """Also where a program takes the connection and says nothing."""
    monkeypatch.setattr(cluster, "_CONNECT_TIMEOUT_S", 0.2)
    with socket.create_server(("127.0.0.1", 0)) as silent:
        port = silent.getsockname()[1] if accepts else 1
        with (
            Cluster(f"tcp://127.0.0.1:{port}", print) as nothing,
            pytest.raises(Refusal, match="there is no cluster at tcp://127"),
        ):
            nothing.submit(read_facts, Path("a.jpg"), Limits())


def test_photos_that_no_cluster_should_hold_are_done_here(
    rows: list[tuple[str, Path]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    client = Client({"tcp://a:1": makers()}, Answer("done", read_facts(rows[0][1])))
    used, _ = cluster_of(client, monkeypatch)
    here: list[Path] = []

    def submit(function: Callable[..., Any], /, *args: Any) -> Future[Any]:
        here.append(next(one for one in args if isinstance(one, Path)))
        return Inline().submit(function, *args)

    monkeypatch.setattr(cluster, "LimitedPool", lambda *_: SimpleNamespace(submit=submit, end=lambda **_: 0))
    monkeypatch.setattr(cluster, "_MOST_SENT_BYTES", rows[6][1].stat().st_size - 1)
    with used:
        list(photo_work([rows[0], rows[6], ("gone.jpg", tmp_path / "gone.jpg")], None, executor=used))
    assert ([rows[6][1], tmp_path / "gone.jpg"], 1) == (sorted(here, reverse=True), client.asked)
