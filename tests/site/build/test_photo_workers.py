"""All photos through worker processes, and what becomes of one that breaks a limit."""

from __future__ import annotations

import gc
import hashlib
import json
import multiprocessing
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from pebble import ProcessExpired
from pebble.pool.base_pool import PoolStatus
from pebble.pool.channel import WorkerChannel
from pebble.pool.process import Acknowledgement
from PIL import Image

from journal.reading.photos import PhotoFacts
from journal.reading.picture_files import Limits
from journal.site.build.photo_workers import LimitedPool, cores, make_photo, photo_work, run_on_files
from journal.site.plan import Published
from tests.builders import Inline, some

Answer = tuple[PhotoFacts, Published | None]


@pytest.fixture(scope="module")
def folder_of_photos(
    tmp_path_factory: pytest.TempPathFactory, exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]
) -> Path:
    """Four photos of one day, a.jpg to d.jpg, each of another size."""
    folder = tmp_path_factory.mktemp("photos")
    block = exif_block(DateTimeOriginal="2026:09:12 14:05:11", OffsetTimeOriginal="+01:00")
    for place, name in enumerate("abcd"):
        (folder / f"{name}.jpg").write_bytes(picture_bytes("JPEG", block, (400 + 8 * place, 300)))
    return folder


@pytest.fixture
def rows(folder_of_photos: Path) -> list[tuple[str, Path]]:
    return [(f"finds/{name}.jpg", folder_of_photos / f"{name}.jpg") for name in "abcd"]


def answers(*args: Any, **options: Any) -> dict[str, Answer]:
    return {path: (facts, published) for path, facts, published in photo_work(*args, **options)}


LONG = Limits(seconds=300)
"""For what has to end well."""


class Saboteur:
    """Real workers, of which those that get a file of that name do something else. seconds: how long that may take; the
    others may take longer, since another program may have the processors."""

    workers = 2

    def __init__(
        self, name: str, function: Callable[..., Any], *args: Any, seconds: float = 60, tries: int = 99
    ) -> None:
        self.pool = LimitedPool(2, LONG)
        self._name, self._function, self._args = name, function, args
        self._limits = Limits(seconds=seconds)
        self._tries = tries

    def submit(self, function: Callable[..., Any], /, *args: Any) -> Future[Any]:
        file = next(value for value in args if isinstance(value, Path))
        if file.name == self._name and self._tries:
            self._tries -= 1
            self.pool._limits = self._limits
            try:
                return self.pool.submit(self._function, *self._args)
            finally:
                self.pool._limits = LONG
        return self.pool.submit(function, *args)


@pytest.fixture
def sabotage() -> Iterator[Callable[..., Saboteur]]:
    made: list[Saboteur] = []

    def make(*args: Any, **options: Any) -> Saboteur:
        made.append(Saboteur(*args, **options))
        return made[-1]

    yield make
    for saboteur in made:
        saboteur.pool.end(at_once=True)


def test_every_photo_is_answered_and_published(rows: list[tuple[str, Path]], tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    found = answers(rows, tmp_path / "new" / "pictures", progress=lambda done, of: told.append((done, of)))
    assert [path for path, _ in rows] == sorted(found)
    assert [(1, 4), (2, 4), (3, 4), (4, 4)] == told
    for place, (path, file) in enumerate(rows):
        facts, published = found[path]
        assert hashlib.sha256(file.read_bytes()).hexdigest() == facts.digest
        assert (datetime(2026, 9, 12, 14, 5, 11), 60, 400 + 8 * place, ()) == (
            facts.local, facts.offset_min, facts.width, facts.faults,
        )  # fmt: skip
        assert published is not None
        assert [320, 400 + 8 * place] == [size.width for size in published.sizes]
        for size in published.sizes:
            content = tmp_path / "new" / "pictures" / f"{published.name}-{size.width}.webp"
            assert size.bytes == content.stat().st_size


def test_published_names_reveal_nothing_of_the_original(rows: list[tuple[str, Path]], tmp_path: Path) -> None:
    answers(rows, tmp_path)
    for file in some(tmp_path.glob("*.webp"), 4):
        assert set(file.name) <= set("0123456789abcdef-.webpjson")
        assert b"finds" not in file.read_bytes()


def test_without_a_folder_there_are_facts_and_no_files(rows: list[tuple[str, Path]]) -> None:
    before = set(rows[0][1].parent.iterdir())
    found = answers(rows, None)
    assert {None} == {published for _, published in found.values()}
    assert [400, 408, 416, 424] == [found[path][0].width for path, _ in rows]
    assert before == set(rows[0][1].parent.iterdir())


def test_quickly_every_row_is_answered_for_itself_and_no_pixel_asked_for(rows: list[tuple[str, Path]]) -> None:
    doubled = [*rows, ("finds/again.jpg", rows[0][1])]
    inline = Inline()
    found = answers(doubled, None, executor=inline, quickly=True)
    assert ({path for path, _ in doubled}, 5) == (set(found), len(inline.files))
    assert {(datetime(2026, 9, 12, 14, 5, 11), "JPEG", "", None)} == {
        (facts.local, facts.kind, facts.digest, facts.width) for facts, _ in found.values()
    }


def test_quickly_too_no_photo_takes_the_others_down(
    rows: list[tuple[str, Path]], sabotage: Callable[..., Saboteur]
) -> None:
    found = answers(rows, None, executor=sabotage("b.jpg", os._exit, 3), quickly=True)
    assert ["finds/b.jpg"] == [path for path, (facts, _) in found.items() if facts.faults]
    assert 4 == len(found)


def test_no_photos_need_no_workers() -> None:
    assert {} == answers([], None)
    assert [] == multiprocessing.active_children()


def test_one_worker_and_two_give_the_same_bytes(rows: list[tuple[str, Path]], tmp_path: Path) -> None:
    assert answers(rows, tmp_path / "1", workers=1) == answers(rows, tmp_path / "2", workers=2)
    one, two = ({file.name: file.read_bytes() for file in (tmp_path / name).iterdir()} for name in "12")
    assert one == two


def test_an_executor_may_be_handed_in(rows: list[tuple[str, Path]], tmp_path: Path) -> None:
    inline = Inline()
    assert answers(rows, tmp_path / "1") == answers(rows, tmp_path / "2", executor=inline)
    assert ["a.jpg", "b.jpg", "c.jpg", "d.jpg"] == sorted(inline.files)


def test_a_photo_used_twice_is_made_once(rows: list[tuple[str, Path]], tmp_path: Path) -> None:
    twin = tmp_path / "twin.jpg"
    twin.write_bytes(rows[1][1].read_bytes())
    other = tmp_path / "other.jpg"  # of the twins' size, but another photo
    other.write_bytes(rows[1][1].read_bytes()[:-2] + b"\xff\xd8")
    inline = Inline()
    told: list[int] = []
    found = answers(
        [*rows, ("batches/twin.jpg", twin), ("batches/other.jpg", other)], tmp_path / "out",
        executor=inline, progress=lambda done, _: told.append(done),
    )  # fmt: skip
    assert found["finds/b.jpg"] == found["batches/twin.jpg"]
    assert found["finds/b.jpg"][0].digest != found["batches/other.jpg"][0].digest
    assert ["a.jpg", "b.jpg", "c.jpg", "d.jpg", "other.jpg"] == sorted(inline.files)
    assert [1, 2, 3, 4, 5, 6] == told


def test_what_was_published_is_not_made_again(rows: list[tuple[str, Path]], tmp_path: Path) -> None:
    first = answers(rows, tmp_path)
    stamps = {file: file.stat().st_mtime_ns for file in tmp_path.iterdir()}
    assert first == answers(rows, tmp_path)
    assert stamps == {file: file.stat().st_mtime_ns for file in tmp_path.iterdir()}


def test_a_damaged_photo_is_a_fault_of_its_own(rows: list[tuple[str, Path]], tmp_path: Path) -> None:
    damaged = tmp_path / "cut.jpg"
    damaged.write_bytes(rows[0][1].read_bytes()[:-400])
    found = answers([("cut.jpg", damaged), ("gone.jpg", tmp_path / "gone.jpg"), *rows], tmp_path / "out")
    facts, published = found["cut.jpg"]
    assert (None, None, datetime(2026, 9, 12, 14, 5, 11)) == (published, facts.width, facts.local)
    assert "cannot be decoded" in facts.faults[0][1]
    assert ["error"] == [weight for weight, _, _ in found["gone.jpg"][0].faults]
    assert 4 == sum(published is not None for _, published in found.values())


def only_fault(found: dict[str, Answer], path: str) -> str:
    """What is said of that photo, when the three others are whole and it still says when it was taken."""
    facts, published = found[path]
    assert (None, None, datetime(2026, 9, 12, 14, 5, 11)) == (published, facts.width, facts.local)
    assert 3 == sum(other[1] is not None and other[0].faults == () for other in found.values())
    assert ["warning"] == [weight for weight, _, _ in facts.faults]
    return facts.faults[0][1]


def test_a_worker_that_dies_costs_its_picture_only(
    rows: list[tuple[str, Path]], tmp_path: Path, sabotage: Callable[..., Saboteur]
) -> None:
    found = answers(rows, tmp_path, executor=sabotage("b.jpg", os._exit, 3, tries=1))
    assert "crashed its decoder" in only_fault(found, "finds/b.jpg")
    assert not found["finds/b.jpg"][0].passing


def kill_itself() -> None:
    os.kill(os.getpid(), signal.SIGKILL)


@pytest.mark.skipif(sys.platform == "win32", reason="there is no such signal")
@pytest.mark.parametrize("tries", [1, 2])
def test_a_worker_that_somebody_killed_tells_nothing_lasting_of_its_picture(
    tries: int, rows: list[tuple[str, Path]], tmp_path: Path, sabotage: Callable[..., Saboteur]
) -> None:
    """As a system does that runs out of memory, and no decoder; nor need it happen again."""
    found = answers(rows, tmp_path, executor=sabotage("b.jpg", kill_itself, tries=tries))
    facts, _ = found["finds/b.jpg"]
    assert (1, True) == (len(facts.faults), facts.passing)
    assert 3 == sum(published is not None for _, published in found.values())


@pytest.mark.parametrize("others", [0, 1], ids=["alone", "beside another task"])
def test_a_worker_that_ended_is_known_also_where_what_it_sent_is_read_later(
    others: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its task is not waited for until its time is up, nor counted as one that no worker took."""
    pool = LimitedPool(2, Limits(seconds=20))
    try:
        busy = [pool.submit(time.sleep, 2) for _ in range(others)]
        pool.submit(os.getpid).result(timeout=60)
        reads = pool._pool._pool_manager.worker_manager.receive
        began = threading.Event()

        def read_late(timeout: float) -> Any:
            began.set()
            message = reads(timeout)
            if isinstance(message, Acknowledgement):
                time.sleep(0.5)
            return message

        monkeypatch.setattr(pool._pool._pool_manager.worker_manager, "receive", read_late)
        assert began.wait(timeout=60)
        with pytest.raises(ProcessExpired):
            pool.submit(os._exit, 3).result(timeout=60)
        assert [None] * others == [future.result(timeout=60) for future in busy]
    finally:
        pool.end(at_once=True)


@pytest.fixture
def pool_of_one() -> Iterator[LimitedPool]:
    """Its only worker has done a task."""
    pool = LimitedPool(1, Limits())
    pool.submit(os.getpid).result(timeout=60)
    yield pool
    pool.end(at_once=True)


def test_tasks_that_no_worker_took_are_answered_when_the_only_one_dies(pool_of_one: LimitedPool) -> None:
    (worker,) = pool_of_one._pool._pool_manager.worker_manager.workers
    os.kill(worker, signal.SIGSTOP)
    waiting = [pool_of_one.submit(os.getpid) for _ in range(3)]
    os.kill(worker, signal.SIGKILL)
    for future in waiting:
        with suppress(BrokenProcessPool):  # or by the worker that follows
            assert worker != future.result(timeout=60)
    assert worker != pool_of_one.submit(os.getpid).result(timeout=60)


@pytest.mark.parametrize("late", ["handed out", "in the queue", "before the queue", "refused"])
def test_a_task_that_comes_as_the_pool_is_lost_is_answered(
    late: str, pool_of_one: LimitedPool, monkeypatch: pytest.MonkeyPatch
) -> None:
    manager, lost = pool_of_one._pool._pool_manager, BrokenProcessPool("lost")
    register, put = manager.task_manager.register, manager.context.task_queue.put

    def hand_out_late(task: Any) -> None:
        manager.handle_broken_pool(lost)
        register(task)

    def put_early(task: Any) -> None:
        monkeypatch.undo()
        pool_of_one._pool._task_scheduler_loop.is_alive = lambda: True
        manager.context.status = PoolStatus.ERROR
        put(None)  # ends the thread that hands out tasks
        pool_of_one._pool._task_scheduler_loop.join()
        put(task)
        manager.handle_broken_pool(lost)

    def put_late(task: Any) -> None:
        monkeypatch.undo()
        manager.handle_broken_pool(lost)
        pool_of_one._pool._task_scheduler_loop.join()
        put(task)

    def schedule_late(*args: Any, **options: Any) -> Future[Any]:
        manager.handle_broken_pool(lost)
        return schedule(*args, **options)

    schedule = pool_of_one._pool.schedule
    where, name, instead = {
        "handed out": (manager.task_manager, "register", hand_out_late),
        "in the queue": (manager.context.task_queue, "put", put_early),
        "before the queue": (manager.context.task_queue, "put", put_late),
        "refused": (pool_of_one._pool, "schedule", schedule_late),
    }[late]
    monkeypatch.setattr(where, name, instead)
    with pytest.raises(BrokenProcessPool):
        pool_of_one.submit(os.getpid).result(timeout=60)


def die_with_the_lock() -> None:
    channels = [found for found in gc.get_objects() if isinstance(found, WorkerChannel)]
    assert all(channel.mutex.acquire() for channel in channels)
    os._exit(3)


def test_a_worker_that_dies_with_the_lock_of_all_does_not_hold_up_the_others() -> None:
    pool = LimitedPool(2, Limits())
    try:
        with pytest.raises((ProcessExpired, BrokenProcessPool)):
            pool.submit(die_with_the_lock).result(timeout=30)
        next_one = pool.submit(os.getpid)
        with suppress(BrokenProcessPool):
            assert next_one.result(timeout=30)
        assert pool.submit(os.getpid).result(timeout=30)
    finally:
        pool.end(at_once=True)


def test_a_picture_that_takes_too_long_is_given_up(
    rows: list[tuple[str, Path]], tmp_path: Path, sabotage: Callable[..., Saboteur]
) -> None:
    hang = sabotage("c.jpg", time.sleep, 600, seconds=2, tries=1)
    found = answers(rows, tmp_path, executor=hang, limits=Limits(seconds=2))
    assert "this photo takes over 2 s to be decoded" == only_fault(found, "finds/c.jpg")
    assert [True] == [facts.passing for facts, _ in found.values() if facts.faults]


@pytest.mark.parametrize("harm", [(os._exit, 3), (time.sleep, 600)], ids=["dies", "hangs"])
def test_a_file_whose_header_does_harm_too_still_has_its_digest(
    harm: tuple[Any, ...], rows: list[tuple[str, Path]], tmp_path: Path, sabotage: Callable[..., Saboteur]
) -> None:
    found = answers(rows, tmp_path, executor=sabotage("a.jpg", *harm, seconds=2))
    facts, published = found["finds/a.jpg"]
    assert hashlib.sha256(rows[0][1].read_bytes()).hexdigest() == facts.digest
    assert (None, 1, None) == (published, len(facts.faults), facts.local)
    assert 3 == sum(published is not None for _, published in found.values())


def test_too_much_memory_is_refused(
    rows: list[tuple[str, Path]], tmp_path: Path, exif_block: Callable[..., bytes], picture_bytes: Callable[..., bytes]
) -> None:
    if not Path("/proc/self/statm").exists():
        pytest.skip("this system does not tell a process its address space")
    large = tmp_path / "large.png"
    large.write_bytes(picture_bytes("PNG", exif_block(DateTimeOriginal="2026:09:12 14:05:11"), (6000, 6000)))
    found = answers([("large.png", large), *rows[:3]], tmp_path / "out", workers=1, limits=replace(LONG, memory_mib=64))
    assert "this photo needs over 64 MiB of memory to be decoded" == only_fault(found, "large.png")
    assert 6000 == answers([("large.png", large)], None, limits=LONG)["large.png"][0].width


def test_too_many_pixels_are_refused(rows: list[tuple[str, Path]], tmp_path: Path) -> None:
    found = answers(rows, tmp_path, limits=replace(LONG, megapixels=0.1265))
    assert "megapixels, over the limit of 0.1265" in only_fault(found, "finds/d.jpg")


def test_a_lost_pool_is_made_anew(rows: list[tuple[str, Path]], tmp_path: Path) -> None:
    class Losing(Inline):
        def submit(self, function: Callable[..., Any], /, *args: Any) -> Future[Any]:
            if len(self.files) < 3:
                self.files.append(args[0].name)
                future: Future[Any] = Future()
                future.set_exception(BrokenProcessPool("lost"))
                return future
            return super().submit(function, *args)

    found = answers(rows, tmp_path, executor=Losing())
    assert 4 == sum(published is not None for _, published in found.values())


def test_a_pool_that_lost_its_workers_takes_work_again() -> None:
    pool = LimitedPool(1, Limits())
    try:
        pool.submit(os.getpid).result(timeout=60)
        pool._pool._context.status = type(pool._pool._context.status).ERROR
        assert os.getpid() != pool.submit(os.getpid).result(timeout=60)
    finally:
        pool.end(at_once=True)


def test_a_disk_that_refuses_is_no_fault_of_the_picture(rows: list[tuple[str, Path]], tmp_path: Path) -> None:
    blocked = tmp_path / "blocked"
    blocked.write_text("a file, not a folder")
    with pytest.raises(OSError, match="blocked"):
        answers(rows, blocked)
    with pytest.raises(OSError, match="missing"):
        make_photo(rows[0][1], tmp_path / "missing", Limits())


def test_work_that_is_broken_off_leaves_no_worker(rows: list[tuple[str, Path]], tmp_path: Path) -> None:
    work = photo_work(rows, tmp_path)
    next(work)
    work.close()
    assert [] == [child for child in multiprocessing.active_children() if "pebble" in child.name]


def test_all_cores_are_used() -> None:
    assert cores() == len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()


PEAK_OF = """
import json, sys
from pathlib import Path
from journal.site.build.photo_workers import photo_work, run_on_files

def peak_kib(pid):
    lines = Path(f"/proc/{pid}/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith("VmHWM"))

def children(pid):
    tasks = Path(f"/proc/{pid}/task").iterdir()
    own = [int(child) for task in tasks for child in (task / "children").read_text().split()]
    return own + [below for child in own for below in children(child)]

if __name__ == "__main__":
    rows = [(file.name, file) for file in sorted(Path(sys.argv[1]).iterdir())]
    for done, _ in enumerate(photo_work(rows, Path(sys.argv[2]), workers=2), 1):
        if done in (len(rows) // 4, len(rows)):
            print(json.dumps([peak_kib(pid) for pid in ["self", *children("self")]]))
"""


def test_four_times_the_photos_take_no_more_memory(tmp_path: Path, picture_bytes: Callable[..., bytes]) -> None:
    """Of one run, the peaks of all processes after a quarter of the photos and at the end. One picture kept of each
    photo, decoded (1.4 MB), would add 65 MB to some 200."""
    if not Path("/proc/self/task").exists():
        pytest.skip("this system has no /proc to read peak memory from")
    script = tmp_path / "peak.py"
    script.write_text(PEAK_OF)
    (tmp_path / "photos").mkdir()
    content = picture_bytes("JPEG", image=Image.new("RGB", (800, 600), "olive"))  # of one colour, which is soon written
    for number in range(60):
        (tmp_path / "photos" / f"{number:03}.jpg").write_bytes(content + number.to_bytes(2, "big") * (number + 1))
    run = subprocess.run(
        [sys.executable, str(script), str(tmp_path / "photos"), str(tmp_path / "out")],
        capture_output=True, check=True, text=True, env={**os.environ, "PYTHONPATH": os.getcwd()},
    )  # fmt: skip
    early, late = map(json.loads, run.stdout.splitlines())
    assert 4 <= len(late), "this process, the one that workers are forked off, and two workers"
    print(f"peak at 60 photos / peak at 15: {sum(late) / sum(early):.3f}")
    assert 1.15 * sum(early) >= sum(late)


def ran(script: str, *args: object, tmp_path: Path, elsewhere: str = "pass") -> tuple[int, str, str]:
    """What a script ends with and prints. elsewhere: what the process that workers are forked off does as it begins."""
    (tmp_path / "sitecustomize.py").write_text(
        f"import os, signal, sys, time\nif 'multiprocessing.forkserver' in ' '.join(sys.orig_argv):\n    {elsewhere}\n"
    )
    (tmp_path / "script.py").write_text(script)
    command = [sys.executable, str(tmp_path / "script.py"), *map(str, args)]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([str(tmp_path), os.getcwd()])}
    ended = subprocess.run(command, env=environment, capture_output=True, text=True, timeout=120, check=False)
    return ended.returncode, ended.stdout, ended.stderr


INTERRUPTED = """
import signal, sys
from pathlib import Path
from journal.site.build.photo_workers import photo_work
signal.signal(signal.SIGINT, signal.default_int_handler)  # ignored, if the tests run in the background
if __name__ == "__main__":
    try:
        print(len(list(photo_work([("a.jpg", Path(sys.argv[1]))], None))))
    except KeyboardInterrupt:
        print("stopped")
"""


@pytest.mark.skipif("forkserver" not in multiprocessing.get_all_start_methods(), reason="workers are spawned here")
@pytest.mark.parametrize(
    ("expected", "elsewhere"),
    [
        ("1\n", "os.kill(os.getpid(), signal.SIGINT)"),
        ("stopped\n", "time.sleep(1); os.kill(os.getppid(), signal.SIGINT); time.sleep(1)"),
    ],
    ids=["sent to the process that workers are forked off", "sent to this one, which awaits a worker"],
)
def test_ctrl_c_while_the_workers_begin_prints_no_traceback(
    rows: list[tuple[str, Path]], tmp_path: Path, expected: str, elsewhere: str
) -> None:
    """A terminal sends it to every process; acted out by the process that workers are forked off, before it forks."""
    assert (0, expected, "") == ran(INTERRUPTED, rows[0][1], tmp_path=tmp_path, elsewhere=elsewhere)


ENDING = """
import os, time
from journal.reading.picture_files import Limits
from journal.site.build.photo_workers import LimitedPool

def stop_later():
    time.sleep(1)
    stop()

if __name__ != "__main__":
    time.sleep(0.5)  # in the worker, before it has what it was given
else:
    pool = LimitedPool(1, Limits())
    workers = pool._pool._pool_manager.worker_manager
    stop, workers.force_stop_workers = workers.force_stop_workers, stop_later
    pool.submit(os.getpid)
    pool.end(at_once=True)
"""


def test_a_worker_that_is_stopped_while_it_begins_prints_no_traceback(tmp_path: Path) -> None:
    assert (0, "", "") == ran(ENDING, tmp_path=tmp_path)


def test_looking_at_files_loses_only_what_breaks_its_worker(
    rows: list[tuple[str, Path]], sabotage: Callable[..., Saboteur]
) -> None:
    files = [file for _, file in rows]
    found = dict(run_on_files(_name_of, files, sabotage("b.jpg", os._exit, 3)))
    assert {file: None if file.name == "b.jpg" else file.name for file in files} == found


def _name_of(file: Path, limits: Limits) -> str:
    return file.name


NO_LIMIT = """
import resource, sys, time
from journal.site.build import photo_workers

def refused(*_):
    raise ValueError("current limit exceeds maximum limit")

resource.setrlimit = refused
photo_workers._limit_memory(64)
more = int(sys.argv[1]) * 2**20
is_over = more > 64 * 2**20
taken = bytearray(more + photo_workers._peak_bytes() if is_over else more)  # Linux begins with the peak of its parent
time.sleep(30 if is_over else 0.5)
print("alive")
"""


NO_RESOURCE = NO_LIMIT.replace(
    "import resource, sys, time", "import psutil, sys, time\nsys.modules['resource'] = None"
).replace("resource.setrlimit = refused\n", "")
LACKS = {
    "the limit is refused, as on macOS": NO_LIMIT,
    "there is none, as on Windows": NO_RESOURCE,
    "there is none, and nothing to measure by": NO_RESOURCE.replace("= None", "= sys.modules['psutil'] = None"),
}


@pytest.mark.parametrize(
    ("expected", "mib", "lacks"),
    [
        *(
            (expected, mib, lacks)
            for lacks in list(LACKS)[:2]
            for expected, mib in (((0, "alive\n"), 1), ((1, ""), 200))
        ),
        ((0, "alive\n"), 1, "there is none, and nothing to measure by"),
    ],
)
def test_a_process_that_cannot_be_limited_is_ended_when_it_takes_more(
    expected: tuple[int, str], mib: int, lacks: str
) -> None:
    pytest.importorskip("resource" if "refused" in lacks else "psutil")
    command = [sys.executable, "-c", LACKS[lacks], str(mib)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=60, check=False)
    assert (*expected, "") == (done.returncode, done.stdout, done.stderr)
