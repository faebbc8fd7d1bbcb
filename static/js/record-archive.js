/* Records as archives: zips with a list of contents, of which each part is a file to save or share. Needs
   record-digests.js before it, whose global `journalArchive` gets

     for await (const part of journalArchive.build(records, store, {limit, passphrase, onProgress, signal})) …
       records: as store.latest() gives them; store: journalRecords(root); limit: bytes of a part;
       onProgress({done, total}): bytes; signal: of an AbortController
       part: {name, blob, part, parts, manifest, code, export}. manifest: SHA-256 of the list of contents. code: the
       receipt code that says this part is in the journal. export: the same in each part, for store.markSent when the
       last one is saved; `export.missing` names photos that this device no longer has, and that are left out

     code(manifest, part)   "XXXX-XXXX-XXXX-X"
     typedCode(text)        a code as typed or scanned, written like that; a fault of kind "code" where it cannot be one
     sending(store)         what a store made after this file was loaded has besides:
       markSent(export), exports()   export: as build gives it
       takeCode(code)       of a receipt code: {here, waiting, changed, gone}, how many records of its part are in the
                            journal, wait for another part's code, were changed since, or were removed from it; a fault of
                            kind "code" where it is of no export from here
       clear(record)        removes a record that is in the journal and has no draft, with its photos' bytes; else it
                            changes nothing

   Only the outbox fetches it. Source of the zip: PKWARE, APPNOTE.TXT 6.3.10, 4.3.7, 4.3.12 and 4.3.16; members are
   stored. */
"use strict";

Object.assign(globalThis.journalArchive, (() => {
  const { crc32, sha256, stateOf } = globalThis.journalArchive;
  const LIMIT_BYTES = 200_000_000;
  const MOST_RECORDS = 1000;
  const LARGEST_LIST_BYTES = 4 << 20;
  const CHUNK_BYTES = 1 << 20;
  const ROUNDS = 1_000_000;
  const utf8 = (text) => new TextEncoder().encode(text);
  const fault = (kind, says) => Object.assign(new Error(says), { kind });
  const hex = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  const digest = (bytes) => crypto.subtle.digest("SHA-256", bytes);
  const random = (count) => crypto.getRandomValues(new Uint8Array(count));

  // -- receipt codes -----------------------------------------------------------------------------------------
  const CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ";

  const checkOf = (values) => values.reduce((sum, value, at) => sum + value * (at + 1), 0) % 31;

  const code = async (manifest, part) => {
    const bits = (await sha256(utf8(`journal receipt\n${manifest}\n${part}`))).slice(0, 15); // 60 of them
    const values = Array.from({ length: 12 }, (_, at) => Number((BigInt(`0x${bits}`) >> BigInt(55 - 5 * at)) & 31n));
    return [...values, checkOf(values)].map((value) => CROCKFORD[value]).join("").replace(/.{4}(?=.)/g, "$&-");
  };

  const typedCode = (text) => {
    const plain = text.toUpperCase().replace(/[\s-]/g, "").replace(/O/g, "0").replace(/[IL]/g, "1");
    const values = [...plain].map((letter) => CROCKFORD.indexOf(letter));
    if (values.length !== 13) throw fault("code", `A receipt code has 13 letters and digits; this has ${values.length}.`);
    const isRight = !values.includes(-1) && checkOf(values.slice(0, 12)) === values[12];
    if (!isRight) throw fault("code", "A letter or digit of this code is mistyped; compare it with the one on the computer.");
    return plain.replace(/.{4}(?=.)/g, "$&-");
  };

  // -- the zip -----------------------------------------------------------------------------------------------
  const HEADER_BYTES = 30 + 46; // before a member, and in the directory, without its name twice
  const END_BYTES = 22;

  /** Bytes of little-endian numbers, each a [value, width]. */
  const packed = (numbers) => {
    const bytes = new Uint8Array(numbers.reduce((sum, [, width]) => sum + width, 0));
    const view = new DataView(bytes.buffer);
    let at = 0;
    for (const [value, width] of numbers) {
      if (width === 2) view.setUint16(at, value, true);
      else view.setUint32(at, value, true);
      at += width;
    }
    return bytes;
  };

  const dosTime = (date) => [
    [(date.getHours() << 11) | (date.getMinutes() << 5) | (date.getSeconds() >> 1), 2],
    [((date.getFullYear() - 1980) << 9) | ((date.getMonth() + 1) << 5) | date.getDate(), 2],
  ];

  /** Version needed 2.0, names in UTF-8, stored; time, CRC and both sizes; the lengths of name and extra field. */
  const commonFields = ({ name, bytes, crc }, createdAt) =>
    [[20, 2], [0x0800, 2], [0, 2], ...dosTime(createdAt), [crc, 4], [bytes, 4], [bytes, 4], [utf8(name).length, 2], [0, 2]];

  const localHeader = (file, createdAt) => packed([[0x04034b50, 4], ...commonFields(file, createdAt)]);

  const directoryRow = (file, createdAt, at) => {
    const regularFile = 0o100644 * 0x10000;
    const rest = [[0, 2], [0, 2], [0, 2], [regularFile, 4], [at, 4]];
    return packed([[0x02014b50, 4], [(3 << 8) | 20, 2], ...commonFields(file, createdAt), ...rest]);
  };

  /** A Blob of the files, in order; each file's content is a Blob before the next is asked for, so one is in memory. */
  const zip = async (files, createdAt, contentOf) => {
    const pieces = [];
    const directory = [];
    let at = 0;
    for (const file of files) {
      const name = utf8(file.name);
      const content = new Blob([await contentOf(file)]);
      if (content.size !== file.bytes) throw fault("lost", `${file.name} can no longer be read as it was saved.`);
      pieces.push(localHeader(file, createdAt), name, content);
      directory.push(directoryRow(file, createdAt, at), name);
      at += 30 + name.length + file.bytes;
    }
    const size = directory.reduce((sum, piece) => sum + piece.length, 0);
    const count = [files.length, 2];
    const end = packed([[0x06054b50, 4], [0, 2], [0, 2], count, count, [size, 4], [at, 4], [0, 2]]);
    return new Blob([...pieces, ...directory, end], { type: "application/zip" });
  };

  // -- what goes into which part -----------------------------------------------------------------------------
  const MANIFEST = "manifest.json";
  const ENTRY = "entry.md";
  const sizeInZip = (name, bytes) => HEADER_BYTES + 2 * name.length + bytes;

  /** A record's files, its text first, without photos that are not here. */
  const filesOf = async (record, stored) => {
    const entry = journalEntry.text(record);
    const photos = record.photos.filter((photo) => stored.has(photo.photo));
    return [
      { name: ENTRY, bytes: entry.length, sha256: await sha256(entry), crc: crc32(entry), content: entry, parts: [] },
      ...photos.map(({ name, bytes, sha256, crc32: crc, photo }) => ({ name, bytes, sha256, crc, photo, parts: [] })),
    ];
  };

  const planOf = async (records, stored) => {
    const rows = [];
    for (const record of records) {
      rows.push({ record, folder: journalEntry.folder(record), files: await filesOf(record, stored) });
    }
    return rows;
  };

  /** Gives each file its part, so that no part is over the limit with a list of that size; gives how many parts. */
  const share = (rows, limit, listBytes) => {
    const empty = END_BYTES + sizeInZip(MANIFEST, listBytes);
    let [part, size] = [1, empty];
    for (const { folder, files } of rows) {
      const [entry, ...photos] = files;
      const bytesOf = (file) => sizeInZip(`${folder}/${file.name}`, file.bytes);
      entry.parts = [];
      for (const file of photos.length ? photos : [entry]) {
        const needed = () => (file === entry || entry.parts.includes(part) ? 0 : bytesOf(entry)) + bytesOf(file);
        if (size > empty && size + needed() > limit) [part, size] = [part + 1, empty];
        size += needed();
        if (!entry.parts.includes(part)) entry.parts.push(part);
        if (file !== entry) file.parts = [part];
      }
    }
    return part;
  };

  const listOf = (rows, facts, parts) => {
    const records = rows.map(({ record: { record, revision, kind, id }, folder, files }) => {
      const listed = ({ name, bytes, sha256: sum, parts: where }) => ({ name, bytes, sha256: sum, parts: where });
      return { record, revision, kind, id: id ?? null, folder, files: files.map(listed) };
    });
    return utf8(JSON.stringify({ format: "journal archive", version: 1, ...facts, parts, records }));
  };

  /** The list of contents and how many parts it names; made again while it is larger than was allowed for. */
  const divide = (rows, limit, facts) => {
    let list = new Uint8Array(0);
    for (;;) {
      const allowed = list.length;
      const parts = share(rows, limit, allowed);
      list = listOf(rows, facts, parts);
      if (list.length <= allowed) return { list, parts };
    }
  };

  // -- under a passphrase ------------------------------------------------------------------------------------
  const keyOf = async (passphrase, salt) => {
    const typed = utf8(passphrase.normalize("NFKC"));
    const words = await crypto.subtle.importKey("raw", typed, "PBKDF2", false, ["deriveKey"]);
    const way = { name: "PBKDF2", hash: "SHA-256", salt, iterations: ROUNDS };
    return crypto.subtle.deriveKey(way, words, { name: "AES-GCM", length: 256 }, false, ["encrypt"]);
  };

  const lock = async (blob, key, salt) => {
    const nonce = random(7);
    const header = utf8(`${JSON.stringify({
      format: "journal archive, locked", version: 1, kdf: "PBKDF2-HMAC-SHA-256", rounds: ROUNDS,
      salt: hex(salt), nonce: hex(nonce), chunk: CHUNK_BYTES,
    })}\n`); // prettier-ignore
    const additionalData = await digest(header);
    const pieces = [header];
    const chunks = Math.ceil(blob.size / CHUNK_BYTES);
    for (let at = 0; at < chunks; at += 1) {
      const iv = new Uint8Array(12);
      iv.set(nonce);
      new DataView(iv.buffer).setUint32(7, at);
      iv[11] = at === chunks - 1 ? 1 : 0;
      const chunk = await blob.slice(at * CHUNK_BYTES, (at + 1) * CHUNK_BYTES).arrayBuffer();
      pieces.push(new Blob([await crypto.subtle.encrypt({ name: "AES-GCM", iv, additionalData }, key, chunk)]));
    }
    return new Blob(pieces, { type: "application/octet-stream" });
  };

  // -- building ----------------------------------------------------------------------------------------------
  const membersOf = (rows, part) =>
    rows.flatMap(({ folder, files }) =>
      files.filter(({ parts }) => parts.includes(part)).map((file) => ({ ...file, name: `${folder}/${file.name}` })),
    );

  const checkCounts = (records, list) => {
    if (records.length > MOST_RECORDS || list?.length > LARGEST_LIST_BYTES) {
      throw fault("too many", `One export takes ${MOST_RECORDS} records, fewer with many photos. Choose fewer.`);
    }
  };

  const sentRow = ({ record: { record, revision }, files }) => ({ record, revision, parts: files[0].parts });

  const missingOf = (records, stored) =>
    records.flatMap(({ record, photos }) =>
      photos.filter(({ photo }) => !stored.has(photo)).map(({ name }) => ({ record, name })),
    );

  const bytesIn = (rows) =>
    rows.flatMap(({ files }) => files).reduce((sum, { bytes, parts }) => sum + bytes * parts.length, 0);

  async function* build(records, store, { limit = LIMIT_BYTES, passphrase = "", onProgress, signal } = {}) {
    checkCounts(records);
    const createdAt = new Date();
    const stored = await store.savedPhotos();
    const rows = await planOf(records, stored);
    const facts = { archive: crypto.randomUUID(), device: await store.device(), made: journalEntry.stamp(createdAt) };
    const { list, parts } = divide(rows, limit, facts);
    checkCounts(records, list);
    const manifest = await sha256(list);
    const codes = await Promise.all(Array.from({ length: parts }, (_, at) => code(manifest, at + 1)));
    const sent = { ...facts, manifest, codes, records: rows.map(sentRow), missing: missingOf(records, stored) };
    const salt = random(16);
    const key = passphrase && (await keyOf(passphrase, salt));
    const progress = { done: 0, total: bytesIn(rows) };
    const contentOf = async ({ name, bytes, content, photo }) => {
      signal?.throwIfAborted();
      if (name === MANIFEST) return list;
      onProgress?.({ ...progress, done: (progress.done += bytes) });
      return content ?? store.photoBytes(photo);
    };
    const stem = `journal-${facts.made.slice(0, 10)}-${facts.made.slice(11, 19).replaceAll(":", "")}-${facts.device}`;
    for (let part = 1; part <= parts; part += 1) {
      const members = [{ name: MANIFEST, bytes: list.length, crc: crc32(list) }, ...membersOf(rows, part)];
      const plain = await zip(members, createdAt, contentOf);
      const blob = key ? await lock(plain, key, salt) : plain;
      const name = `${stem}-${part}-of-${parts}.zip${key ? ".locked" : ""}`;
      yield { name, blob, part, parts, manifest, code: codes[part - 1], export: sent };
    }
  }

  // -- what was sent, and what came in by codes ---------------------------------------------------------------
  const sending = ({ change, facts, last, now, read, receive, revisions }) => {
    const exports = async () => (await read(["facts"], (stores) => facts(stores)))[0];

    const markSent = (sent) =>
      change(null, async (stores) => {
        const [before] = await facts(stores);
        const others = before.filter((one) => one.archive !== sent.archive);
        await stores.facts.put([...others, { received: [], ...sent }], "exports");
      });

    const tally = async (stores, rows, isWhole) => {
      const told = { here: 0, waiting: 0, changed: 0, gone: 0 };
      const words = { "in the journal": "here", "no longer in the journal": "gone" };
      const sent = await facts(stores);
      for (const row of rows) {
        const newest = await last(stores.records, row.record);
        if (newest && !newest.removed) told[words[stateOf(newest, ...sent)] ?? (isWhole(row) ? "changed" : "waiting")] += 1;
      }
      return told;
    };

    const takeCode = async (typed) => {
      const wanted = typedCode(typed);
      return change(null, async (stores) => {
        const [sent, receipts] = await facts(stores);
        const whose = sent.find((one) => one.codes.includes(wanted));
        if (!whose) throw fault("code", "This code is not that of an export from this device.");
        const part = whose.codes.indexOf(wanted) + 1;
        whose.received = [...new Set([...whose.received, part])];
        await stores.facts.put(sent, "exports");
        const isWhole = ({ parts }) => parts.every((one) => whose.received.includes(one));
        await receive(stores, receipts, whose.records.filter(isWhole).map(({ record, revision }) => [record, revision, null]));
        return tally(stores, whose.records.filter(({ parts }) => parts.includes(part)), isWhole);
      });
    };

    const clear = (whose) =>
      change(whose, async (stores, record) => {
        const rows = await stores.records.getAll(revisions(record));
        const before = rows.at(-1);
        if (!before || stateOf(before, ...(await facts(stores))) !== "in the journal") return before;
        if (await stores.drafts.get(record)) return before; // what is being changed still shows its photos
        for (const { photo } of rows.flatMap((row) => row.photos)) await stores.photos.delete(photo);
        const when = now();
        const emptied = { ...before, revision: before.revision + 1, ...when, removed: when.saved, photos: [], thumb: null };
        await stores.records.add(emptied);
        return emptied;
      });

    return { markSent, exports, takeCode, clear };
  };

  return { build, code, typedCode, sending };
})());
