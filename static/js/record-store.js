/* Records on this device, until and after they are imported: drafts, saved revisions, photos, and what was sent.
   Needs record-database.js, record-entry.js and record-digests.js before it. One global, `journalRecords(root)`, with
   root the site's URL:

     selfTest()                 {persisted, says}: why records cannot be kept here, null if they can
     device(known)              this device's suffix for new IDs ("K7Q4"); known: IDs whose suffixes are taken
     drafts(), saveDraft(draft), dropDraft(record)
     addPhoto(draft or record ID, blob, {source, name})   stores the photo and lists it in the draft (of a saved record:
                                a draft of its next revision) in one transaction; gives {photo, draft}
     dropPhoto(record, photo)   takes it out of the draft, which it gives
     save(draft, {over})        the record: a new revision, and the draft is gone, in one transaction. An ID that is
                                used already becomes the next free one. The same saved again is no new revision. A fault
                                of kind "changed", with `now`, where the draft was begun on an earlier revision than the
                                latest, `now`; over: true takes its place
     saveBeside(draft)          what was begun on an earlier revision, as a record of its own beside the latest
     remove(record), restore(record)   the new revision
     latest(), history(record), usedIds(), photoBytes(photo), savedPhotos()
     states()                   "only on this device" | "exported" | "in the journal" | "no longer in the journal", of the
                                latest revision of each record, as a Map by record
     summary()                  {count, oldest, bytes, asks}: of records that never came into the journal as they are
     takeReceipts(records, gone)   of record/receipts.json; gives how many records are in the journal by them now
     on(listener)               called with {record} after each change in any tab; gives a function that ends it
     markSent, exports, takeCode, clear   only where record-archive.js was loaded before; see there

   A record or its UUID may be given wherever `record` stands. Photos are listed and taken out by addPhoto and dropPhoto
   alone: what saveDraft and save are given says nothing of them, so that no page that is behind can lose one.
   What fails rejects with an error that has plain words and a `kind`: "full", "refused", "lost", "photo", "code",
   "changed"; then nothing has changed. Each transaction is on disk when its promise is fulfilled. */
"use strict";

globalThis.journalRecords = (root) => {
  const NAME = `journal records ${root.pathname}`;
  const STORES = { records: ["record", "revision"], photos: null, drafts: "record", facts: null };
  const MOST_PHOTOS = 200;
  const LARGEST_THUMB_BYTES = 20 << 10;
  const ASK_AFTER_MS = 24 * 3600 * 1000;
  const ASK_AFTER_COUNT = 20;
  const { fault } = journalDatabase;
  const database = journalDatabase(NAME, STORES);
  const uuidOf = (record) => record?.record ?? record;
  const keyOf = (photo) => photo.photo ?? photo;

  const read = (names, work) => database.run("readonly", names, work);
  const write = (names, work) => database.run("readwrite", names, work);
  const listeners = new Set();
  const channel = new BroadcastChannel(NAME);
  const tell = (change) => listeners.forEach((listener) => listener(change));
  channel.onmessage = ({ data }) => tell(data);

  const change = async (whose, work) => {
    const record = uuidOf(whose);
    const result = await write(Object.keys(STORES), (stores) => work(stores, record));
    channel.postMessage({ record });
    tell({ record });
    return result;
  };

  const on = (listener) => {
    listeners.add(listener);
    return () => listeners.delete(listener);
  };

  // -- this device -------------------------------------------------------------------------------------------
  const LETTERS = "ABCDEFGHJKMNPQRSTVWXYZ"; // Crockford's, with no I, L, O and U
  const DIGITS = "0123456789";

  const newSuffix = () => {
    const [one, two, three, four] = crypto.getRandomValues(new Uint32Array(4));
    return LETTERS[one % 22] + DIGITS[two % 10] + LETTERS[three % 22] + DIGITS[four % 10];
  };

  const device = (known = []) =>
    write(["facts"], async ({ facts }) => {
      const there = await facts.get("device");
      if (there) return there;
      const taken = new Set(known.map((id) => id.slice(-5).toUpperCase()));
      let suffix = newSuffix();
      while (taken.has(`-${suffix}`)) suffix = newSuffix();
      await facts.put(suffix, "device");
      return suffix;
    });

  /** Asks the browser, once something was recorded, not to delete it; most decide by themselves. */
  const persist = () => navigator.storage?.persist?.().catch(() => false);

  const ANSWERS_WITHIN_MS = 10000;
  const SILENT = "The browser’s storage does not answer. Close every page of the journal, then open it again.";

  const selfTest = async () => {
    const persisted = (await navigator.storage?.persisted?.().catch(() => false)) ?? false;
    const silent = new Promise((_, failed) => setTimeout(() => failed(new Error(SILENT)), ANSWERS_WITHIN_MS));
    try {
      const token = crypto.randomUUID();
      const tried = write(["facts"], ({ facts }) => facts.put(token, "tried")).then(() => read(["facts"], ({ facts }) => facts.get("tried")));
      const kept = (await Promise.race([tried, silent])) === token;
      return { persisted, says: kept ? null : "This browser does not keep what the journal stores." };
    } catch (error) {
      return { persisted, says: error.message };
    }
  };

  // -- drafts and photos -------------------------------------------------------------------------------------
  const revisions = (record) => IDBKeyRange.bound([record, 0], [record, Infinity]);

  const last = async (records, record) => (await records.getAll(revisions(record))).at(-1);

  /** The draft that is stored, else one of the record's next revision. */
  const begun = async ({ drafts, records }, record) => {
    const stored = await drafts.get(record);
    const saved = stored ? null : await last(records, record);
    return stored ?? (saved && { ...saved, draft: true });
  };

  /** What was typed, with the photos that this device knows of. */
  const joined = async (stores, given) => {
    const there = await begun(stores, given.record);
    const { photos = [], named = 0, thumb = null } = there ?? {};
    return { about: [], values: {}, text: "", ...there, ...given, photos, named, thumb, draft: true };
  };

  const drafts = () => read(["drafts"], (stores) => stores.drafts.getAll());

  const saveDraft = (draft) =>
    change(draft, async (stores) => {
      const whole = await joined(stores, draft);
      await stores.drafts.put(whole);
      return whole;
    });

  /** Deletes the bytes of photos that no saved revision of the record has. */
  const forget = async ({ records, photos }, record, dropped) => {
    const rows = await records.getAll(revisions(record));
    const kept = new Set(rows.flatMap((row) => row.photos.map(({ photo }) => photo)));
    for (const { photo } of dropped) if (!kept.has(photo)) await photos.delete(photo);
  };

  const dropDraft = (whose) =>
    change(whose, async (stores, record) => {
      const draft = await stores.drafts.get(record);
      await stores.drafts.delete(record);
      await forget(stores, record, draft?.photos ?? []);
    });

  /** A small picture of a photo for lists, as JPEG; null where the browser cannot draw it (a HEIC). */
  const thumbOf = async (blob) => {
    try {
      const picture = await createImageBitmap(blob, { resizeWidth: 160, resizeQuality: "medium" });
      const canvas = new OffscreenCanvas(picture.width, picture.height);
      canvas.getContext("2d").drawImage(picture, 0, 0);
      picture.close();
      const thumb = await (await canvas.convertToBlob({ type: "image/jpeg", quality: 0.7 })).arrayBuffer();
      return thumb.byteLength <= LARGEST_THUMB_BYTES ? thumb : null;
    } catch {
      return null;
    }
  };

  const addPhoto = async (whose, blob, { source = "camera", name = blob.name ?? "" } = {}) => {
    const ending = journalArchive.photoEnding(blob, name);
    const bytes = await blob.arrayBuffer();
    const facts = {
      type: blob.type,
      bytes: bytes.byteLength,
      sha256: await journalArchive.sha256(bytes),
      crc32: journalArchive.crc32(bytes),
    };
    const thumb = await thumbOf(blob);
    const photo = crypto.randomUUID();
    return change(whose, async (stores, record) => {
      const draft = await joined(stores, whose.record ? whose : { record });
      if (!draft.kind) throw fault("lost", "The record that this photo is for is no longer on this device.");
      if (draft.photos.length === MOST_PHOTOS) throw fault("photo", `A record takes ${MOST_PHOTOS} photos at most.`);
      draft.named += 1; // a name is never used again within a record
      const fileName = `photo-${String(draft.named).padStart(2, "0")}.${ending}`;
      const row = { photo, name: fileName, ...facts, source, added: journalEntry.stamp(new Date()) };
      draft.photos = [...draft.photos, row];
      draft.thumb ??= thumb;
      await stores.photos.put({ bytes, type: blob.type }, photo);
      await stores.drafts.put(draft);
      return { photo: row, draft };
    });
  };

  const photoBytes = (photo) =>
    read(["photos"], async ({ photos }) => {
      const stored = await photos.get(keyOf(photo));
      if (!stored) throw fault("lost", "This photo is no longer on this device.");
      return stored.bytes;
    });

  const savedPhotos = async () => new Set(await read(["photos"], ({ photos }) => photos.getAllKeys()));

  const dropPhoto = async (whose, photo) => {
    const draft = await read(["drafts", "records"], (stores) => begun(stores, uuidOf(whose)));
    const left = (draft?.photos ?? []).filter((row) => row.photo !== keyOf(photo));
    const first = left.length ? new Blob([await photoBytes(left[0])], { type: left[0].type }) : null;
    const thumb = first && (await thumbOf(first));
    return change(whose, async (stores, record) => {
      const whole = await begun(stores, record);
      const dropped = whole.photos.filter((row) => row.photo === keyOf(photo));
      const kept = { ...whole, photos: whole.photos.filter((row) => !dropped.includes(row)), thumb };
      await stores.drafts.put(kept);
      await forget(stores, record, dropped);
      return kept;
    });
  };

  /** When a revision is saved: as it is told, and to the millisecond, by which those of one second are put in order. */
  const now = () => ({ saved: journalEntry.stamp(new Date()), at: Date.now() });

  // -- records -----------------------------------------------------------------------------------------------
  const idsIn = (rows) => rows.map((row) => row.id).filter(Boolean);

  const usedIds = () =>
    read(["records", "drafts"], async (stores) => [
      ...new Set(idsIn([...(await stores.records.getAll()), ...(await stores.drafts.getAll())])),
    ]);

  const contentOf = ({ draft, revision, saved, at, ...content }) =>
    JSON.stringify(Object.entries(content).sort()); // by name: no two are the same

  /** Two tabs may have begun on the same revision: what the later one saves never takes the place of the other unasked. */
  const checkBase = (row, before) => {
    const isBehind = before && !before.removed && row.revision < before.revision;
    if (isBehind) throw Object.assign(fault("changed", "This record was changed in another tab."), { now: before });
  };

  const save = async (given, { over = false } = {}) => {
    const when = now();
    const record = await change(given.record, async (stores) => {
      const { draft, fix, ...row } = await joined(stores, given);
      const rows = await stores.records.getAll();
      const before = rows.filter((other) => other.record === row.record).at(-1);
      const used = idsIn(rows.filter((other) => other.record !== row.record));
      const id = before?.id ?? (row.id ? journalEntry.after(row.id, used) : null);
      const next = { ...row, id, revision: (before?.revision ?? 0) + 1, ...when, removed: null };
      await stores.drafts.delete(row.record);
      if (before && contentOf(before) === contentOf(next)) return before;
      if (!over) checkBase(row, before);
      await stores.records.add(next);
      return next;
    });
    persist();
    return record;
  };

  const saveBeside = (given) =>
    change(given.record, async (stores) => {
      const { draft, ...mine } = await joined(stores, given);
      const before = await last(stores.records, given.record);
      const there = new Set(before.photos.map(({ photo }) => photo));
      const photos = mine.photos.filter(({ photo }) => !there.has(photo));
      const own = { record: crypto.randomUUID(), revision: 1, ...now(), removed: null, photos };
      const row = { ...mine, ...journalEntry.beside(mine, before), ...own };
      await stores.drafts.delete(given.record);
      await stores.records.add(row);
      return row;
    });

  const revise = (whose, removed) =>
    change(whose, async ({ records }, record) => {
      const before = await last(records, record);
      if (Boolean(before.removed) === Boolean(removed)) return before;
      const next = { ...before, revision: before.revision + 1, ...now(), removed };
      await records.add(next);
      return next;
    });

  const remove = (record) => revise(record, journalEntry.stamp(new Date()));
  const restore = (record) => revise(record, null);

  const history = (record) => read(["records"], ({ records }) => records.getAll(revisions(uuidOf(record))));

  /** When a revision was saved: to the millisecond, where it is not of before that was kept. */
  const timeOf = ({ at, saved }) => at ?? Date.parse(saved);

  /** Rows of each record, in the order of revisions; the records by when they were first saved. */
  const grouped = (rows) => {
    const groups = new Map(rows.map((row) => [row.record, []]));
    for (const row of rows) groups.get(row.record).push(row);
    return [...groups.values()].sort(([one], [other]) => timeOf(one) - timeOf(other) || (one.record < other.record ? -1 : 1));
  };

  const latest = async () =>
    grouped(await read(["records"], ({ records }) => records.getAll()))
      .map((group) => group.at(-1))
      .filter((row) => !row.removed);

  // -- what was sent, and what has come in -------------------------------------------------------------------
  const { receivedRevision, stateOf } = journalArchive;

  const facts = async ({ facts: store }) =>
    [(await store.get("exports")) ?? [], (await store.get("receipts")) ?? {}, (await store.get("gone")) ?? {}];

  const everything = () =>
    read(["records", "facts"], async (stores) => [grouped(await stores.records.getAll()), ...(await facts(stores))]);

  const states = async () => {
    const [groups, ...told] = await everything();
    return new Map(groups.map((group) => [group[0].record, stateOf(group.at(-1), ...told)]));
  };

  const summary = async () => {
    const [groups, sent, receipts, gone] = await everything();
    const there = groups.filter((group) => !group.at(-1).removed);
    const inState = (state) => there.filter((group) => stateOf(group.at(-1), sent, receipts, gone) === state);
    const unsent = inState("only on this device");
    const waiting = [...unsent, ...inState("exported")];
    const since = (group) => group.find((row) => row.revision > receivedRevision(receipts, row.record)).saved;
    const oldestOf = (some) => some.map(since).sort((one, other) => new Date(one) - new Date(other))[0] ?? null;
    const isOld = unsent.length > 0 && Date.now() - new Date(oldestOf(unsent)) >= ASK_AFTER_MS;
    return {
      count: waiting.length,
      oldest: oldestOf(waiting),
      bytes: waiting.flatMap((group) => group.at(-1).photos).reduce((sum, photo) => sum + photo.bytes, 0),
      asks: isOld || unsent.length >= ASK_AFTER_COUNT,
    };
  };

  /** Adds [record, revision, new ID or null] to the receipts; gives how many records are now in the journal by them. */
  const receive = async (stores, receipts, rows) => {
    const before = structuredClone(receipts);
    for (const [record, revision, id] of rows) receipts[record] = { ...receipts[record], [revision]: id };
    await stores.facts.put(receipts, "receipts");
    const newer = (record) => receivedRevision(receipts, record) > receivedRevision(before, record);
    return new Set(rows.map(([record]) => record).filter(newer)).size;
  };

  /** A receipt counts where it names the text that this device wrote. */
  const takeReceipts = async (records, gone = {}) => {
    const [groups, , , goneBefore] = await everything();
    const [kept, goneNow] = [[], {}];
    for (const row of groups.flat()) {
      const named = (records[row.record] ?? []).filter(([revision]) => revision === row.revision);
      if (!named.length && !gone[row.record]) continue;
      const digest = await journalArchive.sha256(journalEntry.text(row));
      for (const [revision, its, id] of named) if (its === digest) kept.push([row.record, revision, id ?? null]);
      if (gone[row.record]?.includes(digest)) goneNow[row.record] = row.revision;
    }
    if (kept.length === 0 && JSON.stringify(goneNow) === JSON.stringify(goneBefore)) return 0;
    return change(null, async (stores) => {
      await stores.facts.put(goneNow, "gone");
      return receive(stores, (await facts(stores))[1], kept);
    });
  };

  return {
    selfTest, device, drafts, saveDraft, addPhoto, dropPhoto, dropDraft, save, saveBeside, remove, restore,
    latest, history, usedIds, photoBytes, savedPhotos, states, summary, takeReceipts, on,
    ...journalArchive.sending?.({ change, facts, last, now, read, receive, revisions }),
  }; // prettier-ignore
};
