"""Records on the device: drafts, revisions, photos, and what is known of them at home."""

from __future__ import annotations

from typing import Any

import pytest

from tests.browser.recording import EXPORT, run

pytestmark = pytest.mark.browser


def test_a_draft_and_its_photos_become_a_record_in_one_step(page: Any) -> None:
    found = run(
        page,
        """const draft = await store.saveDraft(find("F26-015-K7Q4"));
        const { photo: row } = await store.addPhoto(draft, photo(4096, 1), { source: "camera" });
        const record = await store.save({ ...draft, values: { species: "Pleurotus pulmonarius" } });
        const bytes = new Uint8Array(await store.photoBytes(record.photos[0]));
        return { record, row, drafts: await store.drafts(), latest: await store.latest(), first: [...bytes.slice(0, 4)],
                 state: await stateOf(record) };""",
    )
    record = found["record"]
    assert (1, "find", "F26-015-K7Q4", None) == tuple(record[key] for key in ("revision", "kind", "id", "removed"))
    assert {"species": "Pleurotus pulmonarius"} == record["values"]
    assert [found["row"]] == record["photos"]
    assert ("photo-01.jpg", 4096, "image/jpeg") == tuple(found["row"][key] for key in ("name", "bytes", "type"))
    assert [] == found["drafts"]
    assert [record["record"]] == [row["record"] for row in found["latest"]]
    assert "only on this device" == found["state"]


def test_what_is_photographed_is_in_the_draft_before_anything_is_saved(page: Any) -> None:
    drafts, latest = run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        return [await store.drafts(), await store.latest()];""",
    )
    assert [["photo-01.jpg"]] == [[row["name"] for row in draft["photos"]] for draft in drafts]
    assert (True, "find", "F26-015-K7Q4") == tuple(drafts[0][key] for key in ("draft", "kind", "id"))
    assert [] == latest


def test_a_page_that_is_behind_cannot_lose_a_photo(page: Any) -> None:
    record = run(
        page,
        """const draft = await store.saveDraft(find("F26-015-K7Q4"));
        await store.addPhoto(draft.record, photo(4096, 1));
        await store.saveDraft({ ...draft, text: "typed before the photo was there" });
        return store.save({ ...draft, text: "and saved by the same page" });""",
    )
    assert ["photo-01.jpg"] == [row["name"] for row in record["photos"]]
    assert "and saved by the same page" == record["text"]


def test_records_of_one_second_are_in_the_order_they_were_saved_in(page: Any) -> None:
    ids, same = run(
        page,
        """const RealDate = Date;
        let ms = 1795615402000;
        globalThis.Date = class extends RealDate {
          constructor(...given) { super(...(given.length ? given : [ms])); }
          static now = () => ms;
        };
        const named = (letter) => letter.repeat(8) + crypto.randomUUID().slice(8);
        const of = (letter) => ({ ...find(null), record: named(letter), kind: "note" });
        for (const letter of ["c", "a", "b"]) { await store.save(of(letter)); ms += 1; }
        await store.save({ ...(await store.latest())[0], text: "edited last" });
        const ids = (await store.latest()).map((row) => row.record[0]).join("");
        for (const letter of ["f", "e", "d"]) await store.save(of(letter));
        const same = (await store.latest()).map((row) => row.record[0]).join("");
        globalThis.Date = RealDate;
        return [ids, same];""",
    )
    assert "cab" == ids
    assert "cabdef" == same  # of one millisecond, by their names


def test_an_edit_is_a_new_revision_and_the_earlier_ones_stay(page: Any) -> None:
    history = run(
        page,
        """const first = await store.save(find("F26-015-K7Q4", { text: "one" }));
        await store.addPhoto(first, photo(4096, 1));
        await store.save({ ...first, text: "two" });
        await store.remove(first);
        const gone = await store.latest();
        await store.remove(first);
        await store.restore(first.record);
        return [gone, await store.latest(), await store.history(first)];""",
    )
    gone, latest, rows = history
    assert [] == gone
    assert [(1, "one", 0), (2, "two", 1), (3, "two", 1), (4, "two", 1)] == [
        (row["revision"], row["text"], len(row["photos"])) for row in rows
    ]
    assert [False, False, True, False] == [bool(row["removed"]) for row in rows]
    assert [rows[-1]] == latest


def test_the_same_saved_twice_is_one_revision(page: Any) -> None:
    rows = run(
        page,
        """const draft = await store.saveDraft(find("F26-015-K7Q4", { text: "one" }));
        await Promise.all([store.save(draft), store.save(draft)]);
        return store.history(draft.record);""",
    )
    assert [1] == [row["revision"] for row in rows]


def test_a_photo_s_name_is_never_used_again_and_saved_bytes_are_kept(page: Any) -> None:
    names, held, records = run(
        page,
        """const { photo: first, draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        const { photo: second } = await store.addPhoto(draft, photo(4096, 2));
        await store.dropPhoto(draft, second);
        const { photo: third } = await store.addPhoto(draft, photo(4096, 3, "image/png"));
        const saved = await store.save(draft);
        await store.dropPhoto(saved, first);
        const { photo: fourth } = await store.addPhoto(saved, photo(4096, 4));
        await store.save(saved);
        const held = await store.savedPhotos();
        return [[first, second, third, fourth].map((row) => row.name),
                [first, second, third, fourth].map((row) => held.has(row.photo)), await store.history(saved)];""",
    )
    assert ["photo-01.jpg", "photo-02.jpg", "photo-03.png", "photo-04.jpg"] == names
    assert [True, False, True, True] == held  # the first is in revision 1; the second was in none
    assert [["photo-01.jpg", "photo-03.png"], ["photo-03.png", "photo-04.jpg"]] == [
        [row["name"] for row in record["photos"]] for record in records
    ]


def test_a_dropped_draft_takes_its_new_photos_along_and_no_saved_one(page: Any) -> None:
    found = run(
        page,
        """const { draft, photo: kept } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        const saved = await store.save(draft);
        const { photo: gone } = await store.addPhoto(saved, photo(4096, 2));
        await store.dropDraft(saved);
        const held = await store.savedPhotos();
        return [await store.drafts(), held.has(kept.photo), held.has(gone.photo),
                (await fault(store.photoBytes(gone))).kind];""",
    )
    assert [[], True, False, "lost"] == found


def test_a_photo_gives_a_small_picture_where_the_browser_can_draw_it(page: Any) -> None:
    sizes = run(
        page,
        """const canvas = new OffscreenCanvas(4000, 3000);
        const pen = canvas.getContext("2d");
        for (let at = 0; at < 4000; at += 8) {
          pen.fillStyle = `hsl(${(at * 7) % 360} 90% 50%)`;
          pen.fillRect(at, 0, 8, 3000);
        }
        const drawn = await canvas.convertToBlob({ type: "image/jpeg" });
        const { draft } = await store.addPhoto(find("F26-015-K7Q4"), drawn);
        const small = await createImageBitmap(new Blob([draft.thumb]));
        const { draft: other } = await store.addPhoto(find("F26-016-K7Q4"), photo(4096, 1, "image/heic"));
        return [draft.thumb.byteLength, small.width, small.height, other.thumb];""",
    )
    assert [160, 120, None] == sizes[1:]
    assert 0 < sizes[0] <= 20 * 1024


@pytest.mark.parametrize(
    ("blob", "name", "says"),
    [
        ("new Blob(['GIF89a'], { type: 'image/gif' })", "a.gif", "a.gif is not a photo that the journal takes"),
        ("new Blob(['x'])", "", "This file is not a photo that the journal takes"),
        ("new Blob([new Uint8Array(64 << 20), 'x'], { type: 'image/jpeg' })", "b.jpg", "b.jpg is larger than 64 MB."),
    ],
)
def test_what_no_archive_takes_is_refused_in_plain_words(page: Any, blob: str, name: str, says: str) -> None:
    fault, drafts = run(
        page,
        f"""return [await fault(store.addPhoto(find("F26-015-K7Q4"), {blob}, {{ name: given }})),
                    await store.drafts()];""",
        name,
    )
    assert "photo" == fault["kind"]
    assert fault["message"].startswith(says)
    assert [] == drafts


def test_a_type_that_the_browser_does_not_know_is_read_off_the_name(page: Any) -> None:
    script = "return (await store.addPhoto(find('F26-015-K7Q4'), new Blob(['x']), { name: 'IMG_1.HEIC' })).photo.name;"
    assert "photo-01.heic" == run(page, script)


def test_a_record_takes_200_photos(page: Any) -> None:
    fault = run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        const put = IDBObjectStore.prototype.put;
        IDBObjectStore.prototype.put = function (value, ...key) {
          return put.call(this, value.draft ? { ...value, photos: Array(200).fill(value.photos[0]) } : value, ...key);
        };
        await store.saveDraft(draft);
        IDBObjectStore.prototype.put = put;
        return fault(store.addPhoto(draft, photo(4096, 2)));""",
    )
    assert {"kind": "photo", "message": "A record takes 200 photos at most."} == fault


# -- what was sent, and what has come in ---------------------------------------------------------------------


def test_a_record_is_exported_and_in_the_journal_by_its_code(page: Any) -> None:
    page.evaluate(EXPORT)
    states = run(
        page,
        """const first = await store.save(find("F26-015-K7Q4"));
        const states = [await stateNow()];
        const { codes } = await exported();
        await store.save(find("F26-016-K7Q4"));
        states.push(await stateNow());
        const taken = [await store.takeCode(codes[0].toLowerCase()), await store.takeCode(codes[0])];
        states.push(await stateNow());
        await store.save({ ...first, text: "more" });
        states.push(await stateNow());
        return [states, taken, (await store.exports()).length];""",
    )
    assert [
        [
            ["F26-015-K7Q4 1 only on this device"],
            ["F26-015-K7Q4 1 exported", "F26-016-K7Q4 1 only on this device"],
            ["F26-015-K7Q4 1 in the journal", "F26-016-K7Q4 1 only on this device"],
            ["F26-015-K7Q4 2 only on this device", "F26-016-K7Q4 1 only on this device"],
        ],
        [told(here=1), told(here=1)],
        1,
    ] == states


def told(**counts: int) -> dict[str, int]:
    return {"here": 0, "waiting": 0, "changed": 0, "gone": 0, **counts}


def test_a_code_of_what_was_changed_since_says_so_and_one_of_what_is_no_longer_here_nothing(page: Any) -> None:
    page.evaluate(EXPORT)
    found = run(
        page,
        """const first = await store.save(find("F26-015-K7Q4"));
        const { codes: [code] } = await exported();
        await store.save({ ...first, text: "more" });
        const told = [await store.takeCode(code)];
        const { codes: [later] } = await exported();
        told.push(await store.takeCode(code), await store.takeCode(later));
        await store.remove(first);
        return [...told, await store.takeCode(later)];""",
    )
    assert [told(changed=1), told(changed=1), told(here=1), told()] == found


def test_what_the_site_says_is_gone_is_not_in_the_journal_until_it_says_otherwise(page: Any) -> None:
    page.evaluate(EXPORT)
    found = run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        const one = await store.save(draft);
        const { codes: [code] } = await exported();
        await store.takeCode(code);
        const digest = await journalArchive.sha256(journalEntry.text(one));
        const states = [await stateOf(one)];
        const gone = { [one.record]: [digest], [crypto.randomUUID()]: [digest] };
        const summaries = [];
        const now = async () => {
          states.push(await stateOf(one));
          summaries.push((await store.summary()).count);
        };
        await store.takeReceipts({}, gone);
        await now();
        const told = await store.takeCode(code);
        await store.clear(one);
        await now();
        await store.takeReceipts({}, { [one.record]: ["0".repeat(64)] }); // of another text
        await now();
        await store.takeReceipts({}, gone);
        await store.takeReceipts({ [one.record]: [[1, digest, null]] }, {});
        await now();
        await store.takeReceipts({}, gone);
        await store.remove(one);
        const back = await store.restore(one); // the same text, as a later revision
        await store.takeReceipts({}, gone);
        await now();
        await store.save({ ...back, text: "more" });
        await now();
        return [states, summaries, told, (await store.savedPhotos()).size];""",
    )
    states, summaries, of_code, photos = found
    gone, here = "no longer in the journal", "in the journal"
    assert [here, gone, gone, here, here, gone, "only on this device"] == states
    assert [0, 0, 0, 0, 0, 1] == summaries
    assert (told(gone=1), 1) == (of_code, photos)


def test_a_record_that_is_being_changed_is_not_cleared(page: Any) -> None:
    """Its draft shows the photos, and is saved with them."""
    page.evaluate(EXPORT)
    found = run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        const record = await store.save(draft);
        const { codes } = await exported();
        await store.takeCode(codes[0]);
        const changed = await store.saveDraft({ ...record, text: "more" });
        await store.clear(record);
        const saved = await store.save({ ...record, ...changed });
        return [saved.photos.length, (await store.savedPhotos()).size, saved.text];""",
    )
    assert [1, 1, "more"] == found


def test_only_what_is_in_the_journal_is_cleared_and_its_photos_with_it(page: Any) -> None:
    page.evaluate(EXPORT)
    found = run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        const record = await store.save(draft);
        const { codes } = await exported();
        const before = await store.clear(record);
        const held = [(await store.savedPhotos()).size];
        await store.takeCode(codes[0]);
        await store.clear(record);
        held.push((await store.savedPhotos()).size);
        return [before.removed, held, (await store.latest()).length, (await store.usedIds())];""",
    )
    assert [None, [1, 0], 0, ["F26-015-K7Q4"]] == found


def test_a_record_in_two_parts_is_in_the_journal_once_both_codes_came(page: Any) -> None:
    page.evaluate(EXPORT)
    found = run(
        page,
        """const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(40_000, 1));
        await store.addPhoto(draft, photo(40_000, 2));
        await store.save(draft);
        const { codes } = await exported({ limit: 60_000 });
        const found = [codes.length, await store.takeCode(codes[1]), await stateNow()];
        return [...found, await store.takeCode(codes[0]), await stateNow()];""",
    )
    exported, here = ["F26-015-K7Q4 1 exported"], ["F26-015-K7Q4 1 in the journal"]
    assert [2, told(waiting=1), exported, told(here=1), here] == found


@pytest.mark.parametrize(
    ("code", "says"),
    [
        (
            "6GKN-NSQ2-SDGZ-S",
            "A letter or digit of this code is mistyped; compare it with the one on the computer.",
        ),
        ("6GKN-NSQ2-SDGZ-T", "This code is not that of an export from this device."),
    ],
)
def test_a_code_that_is_none_of_this_device_is_refused(page: Any, code: str, says: str) -> None:
    assert {"kind": "code", "message": says} == run(page, "return fault(store.takeCode(given));", code)


def test_receipts_count_for_the_text_that_this_device_wrote(page: Any) -> None:
    page.evaluate(EXPORT)
    found = run(
        page,
        """const one = await store.save(find("F26-015-K7Q4"));
        const two = await store.save(find("F26-016-K7Q4"));
        const digest = await journalArchive.sha256(journalEntry.text(one));
        const other = crypto.randomUUID();
        const wrong = [[1, digest, null]];
        const receipts = { [one.record]: [[1, digest, "F26-020-K7Q4"]], [two.record]: wrong, [other]: wrong };
        return [await store.takeReceipts(receipts), await store.takeReceipts(receipts), await stateNow()];""",
    )
    assert [1, 0, ["F26-015-K7Q4 1 in the journal", "F26-016-K7Q4 1 only on this device"]] == found


def test_the_summary_counts_what_is_not_in_the_journal(page: Any) -> None:
    page.evaluate(EXPORT)
    empty, two, sent, none = run(
        page,
        """const empty = await store.summary();
        const { draft } = await store.addPhoto(find("F26-015-K7Q4"), photo(4096, 1));
        const { saved } = await store.save(draft);
        const gone = await store.save(find("F26-016-K7Q4"));
        await store.remove(gone);
        await store.save(find("F26-017-K7Q4"));
        const two = { ...(await store.summary()), first: saved };
        const { codes } = await exported();
        const sent = await store.summary();
        await store.takeCode(codes[0]);
        return [empty, two, sent, await store.summary()];""",
    )
    assert {"count": 0, "oldest": None, "bytes": 0, "asks": False} == empty == none
    assert {"count": 2, "oldest": two["first"], "bytes": 4096, "asks": False, "first": two["first"]} == two
    assert (2, False) == (sent["count"], sent["asks"])


def test_it_asks_to_be_exported_after_a_day_or_twenty_records(page: Any) -> None:
    page.evaluate(EXPORT)
    asks = run(
        page,
        """const asks = [];
        const now = Date.now;
        await store.save(find("F26-015-K7Q4"));
        for (const hours of [23, 25]) {
          Date.now = () => now() + hours * 3600_000;
          asks.push((await store.summary()).asks);
        }
        await exported();
        asks.push((await store.summary()).asks); // sent, and only not heard of yet
        Date.now = now;
        for (let at = 0; at < 19; at += 1) await store.save(find("F26-016-K7Q4"));
        asks.push((await store.summary()).asks);
        await store.save(find("F26-016-K7Q4"));
        asks.push((await store.summary()).asks);
        return asks;""",
    )
    assert [False, True, False, False, True] == asks
