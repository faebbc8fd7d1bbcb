/* The lock of a site: keys out of a passphrase, and sealed files opened. Shared by the unlock page, by every page of a
   locked site, and by the worker, which is written with this text at its head. One global, `journalLock(root)`:

     readHeader(text)        `lock.json`, checked; a fault of kind "header" or "rounds"
     unlock(header, passphrase)   the keys, kept in memory from then on; a fault of kind "passphrase"
     remember(keys)          keeps them on this device, where no script can read them out
     isOpen(), holds(id)     whether any key, or that one, is here, with another page, by the worker, or remembered
     dropIfAlone()           for the worker: drops the keys that are not remembered, if no page is open
     lockUp(how)             drops every key, here and everywhere on this device; "forgotten" empties the other pages too,
                             which otherwise lead to the unlock page
     isForgotten()           whether another page has done that: then this one stores nothing more
     open(path, bytes)       a sealed file's content; a fault of kind "locked" (no key is here), "key" (another one is),
                             or "damaged"
     openList(kind, bytes)   a list, with the `key` it is under
     hostPath({path, key})   where the file of a path is on the host
     verdict(file, bytes)    a fault about bytes that are not the ones expected

   Keys that are not remembered live in the memory of pages and worker alone: whichever of them is there gives them to
   the others, so a worker that was stopped asks the pages. With the last page they are gone: a browser lets a worker live
   on for a while, which then gives them up before it answers with a page.
   Format: DEVELOPERS.md, Locked sites; `journal/locking/cipher.py` writes it. */
"use strict";

globalThis.journalLockPrimitives = (() => {
  const bits = (size) => 8 * size;

  /** PBKDF2-HMAC-SHA-256. Source: RFC 8018, 5.2; vectors: RFC 7914, 11. */
  const pbkdf2 = async (passphrase, salt, iterations, size = 32) => {
    const key = await crypto.subtle.importKey("raw", passphrase, "PBKDF2", false, ["deriveBits"]);
    const way = { name: "PBKDF2", hash: "SHA-256", salt, iterations };
    return new Uint8Array(await crypto.subtle.deriveBits(way, key, bits(size)));
  };

  /** HKDF-SHA-256. Source: RFC 5869, 2. */
  const hkdf = async (material, info, size = 32, salt = new Uint8Array(0)) => {
    const key = await crypto.subtle.importKey("raw", material, "HKDF", false, ["deriveBits"]);
    return new Uint8Array(await crypto.subtle.deriveBits({ name: "HKDF", hash: "SHA-256", salt, info }, key, bits(size)));
  };

  /** A key for `opened`; no script can read it out again. */
  const openingKey = (raw) => crypto.subtle.importKey("raw", raw, "AES-GCM", false, ["decrypt"]);

  /** AES-256-GCM, with a tag of 16 bytes at the end; rejects where anything was altered. Source: NIST SP 800-38D. */
  const opened = async (key, iv, sealed, additionalData) =>
    new Uint8Array(await crypto.subtle.decrypt({ name: "AES-GCM", iv, additionalData }, key, sealed));

  return { pbkdf2, hkdf, openingKey, opened };
})();

globalThis.journalLock = (root) => (globalThis.journalLocks ??= new Map()).get(root.href) ?? globalThis.journalNewLock(root);

globalThis.journalNewLock = (root) => {
  const { pbkdf2, hkdf, openingKey, opened } = globalThis.journalLockPrimitives;
  const [FORMAT, VERSION, KDF] = ["journal locked site", 1, "PBKDF2-HMAC-SHA-256"];
  const LABEL = `${FORMAT} ${VERSION}`;
  const FILE_LABELS = ["journal locked file 2", LABEL]; // the later one is of files that a device may have saved before
  const [FEWEST_ROUNDS, MOST_ROUNDS] = [600_000, 10_000_000];
  const [ID_BYTES, NONCE_BYTES, LENGTH_BYTES, TAG_BYTES] = [8, 12, 8, 16];
  const ANSWER_MS = 1500;
  const NAME = `journal key ${root.pathname}`;
  const isWorker = typeof document === "undefined";
  const openKeys = new Map(); // ID in hex -> {id, content, names}

  const utf8 = (text) => new TextEncoder().encode(text);
  const hex = (bytes) => Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  const unhex = (text) => Uint8Array.from(text.match(/../g) ?? [], (pair) => parseInt(pair, 16));
  const fault = (kind, message) => Object.assign(new Error(message), { kind });

  // -- the header ----------------------------------------------------------------------------------------------
  const isHex = (text, bytes) => typeof text === "string" && text.length === 2 * bytes && /^[0-9a-f]*$/.test(text);

  const hasForm = (header) =>
    header.format === FORMAT && header.version === VERSION && header.kdf === KDF && ["journal", "share"].includes(header.kind) &&
    isHex(header.key, ID_BYTES) && isHex(header.salt, 16) && Number.isSafeInteger(header.rounds) && Array.isArray(header.readers) &&
    header.readers.every(([nonce, wrapped]) => isHex(nonce, NONCE_BYTES) && isHex(wrapped, 32 + TAG_BYTES)); // prettier-ignore

  const readHeader = async (text) => {
    const bad = (reason) => fault("header", `The file lock.json on the server ${reason}, so no passphrase can be tried. Upload the site again.`);
    let header = null;
    try {
      header = JSON.parse(text);
      if (header.format === FORMAT && header.version !== VERSION) throw bad("is of another version");
      if (!hasForm(header)) throw bad("is damaged");
    } catch (error) {
      throw error.kind ? error : bad("is damaged");
    }
    const { format, version, kind, key, kdf, rounds, salt, readers } = header;
    const all = [format, version, kind, key, kdf, rounds, salt, ...readers.flat()].join("\n");
    const sum = hex(new Uint8Array(await crypto.subtle.digest("SHA-256", utf8(all)))).slice(0, 32);
    if (sum !== header.check) throw bad("is damaged");
    if (rounds < FEWEST_ROUNDS || rounds > MOST_ROUNDS) {
      throw fault("rounds", `The server asks for a key of ${rounds} rounds, where ${FEWEST_ROUNDS} to ${MOST_ROUNDS} are accepted. Somebody may have changed it: do not type your passphrase here, and ask the author.`);
    }
    return header;
  };

  // -- keys ----------------------------------------------------------------------------------------------------
  const normal = (passphrase) => utf8(passphrase.normalize("NFKC").replace(/[\t-\r ]+/g, " ").replace(/^ | $/g, ""));

  const keysOf = async (dataKey) => {
    const use = (name, size) => hkdf(dataKey, utf8(`${LABEL} ${name}`), size);
    const names = await crypto.subtle.importKey("raw", await use("names"), { name: "HMAC", hash: "SHA-256" }, false, ["sign"]);
    return { id: hex(await use("id", ID_BYTES)), content: await openingKey(await use("content")), names };
  };

  const unlock = async (header, passphrase) => {
    const key = await openingKey(await pbkdf2(normal(passphrase), unhex(header.salt), header.rounds));
    const prefix = utf8(`${LABEL}\0passphrase\0`);
    const bound = new Uint8Array([...prefix, ...unhex(header.key)]);
    for (const [nonce, wrapped] of header.readers) {
      const dataKey = await opened(key, unhex(nonce), unhex(wrapped), bound).catch(() => null);
      if (dataKey === null) continue;
      const keys = await keysOf(dataKey);
      dataKey.fill(0);
      if (keys.id !== header.key) break;
      openKeys.set(keys.id, keys);
      return keys;
    }
    throw fault("passphrase", "This is not the passphrase of this journal. Nothing was opened.");
  };

  // -- keys on this device -------------------------------------------------------------------------------------
  const database = () =>
    new Promise((done, failed) => {
      const request = indexedDB.open(NAME, 1);
      request.onupgradeneeded = () => request.result.createObjectStore("keys", { keyPath: "id" });
      request.onsuccess = () => done(request.result);
      request.onerror = () => failed(request.error);
    });

  const inDatabase = async (mode, work) => {
    const opening = await database();
    try {
      return await new Promise((done, failed) => {
        const transaction = opening.transaction("keys", mode, { durability: "strict" });
        const request = work(transaction.objectStore("keys"));
        transaction.oncomplete = () => done(request.result);
        transaction.onabort = () => failed(transaction.error);
      });
    } finally {
      opening.close();
    }
  };

  /** Whether there is a database at all: to open one makes it. */
  const hasDatabase = async () => {
    const all = await indexedDB.databases?.().catch(() => null);
    return !all || all.some(({ name }) => name === NAME);
  };

  const remembered = async () => {
    if (!(await hasDatabase())) return [];
    return inDatabase("readonly", (store) => store.getAll()).catch(() => []);
  };
  const remember = (keys) => inDatabase("readwrite", (store) => store.put(keys));

  /** Whom to ask for keys: the worker asks pages, a page asks the worker. */
  const others = async () => {
    if (!isWorker) {
      const registration = await navigator.serviceWorker?.getRegistration(root);
      return [registration?.active].filter(Boolean);
    }
    const pages = await clients.matchAll({ type: "window", includeUncontrolled: true });
    return pages.filter(({ url }) => url.startsWith(root.href));
  };

  const waiting = new Set();

  /** Asks the others, until one has answered with a key, or all have answered, or for a moment. */
  const ask = async () => {
    const contexts = await others();
    if (contexts.length === 0) return;
    await new Promise((done) => {
      let answers = 0;
      waiting.add((keys) => (keys.length || (answers += 1) === contexts.length) && done());
      setTimeout(done, ANSWER_MS);
      for (const one of contexts) one.postMessage({ kind: "journal keys wanted" });
    });
    waiting.clear();
  };

  const hear = ({ data, source }) => {
    if (data?.kind === "journal keys wanted") source.postMessage({ kind: "journal keys", keys: [...openKeys.values()] });
    if (data?.kind !== "journal keys") return;
    for (const keys of data.keys) openKeys.set(keys.id, keys);
    for (const answered of waiting) answered(data.keys);
  };
  (isWorker ? globalThis : navigator.serviceWorker)?.addEventListener("message", hear);
  if (!isWorker) navigator.serviceWorker?.startMessages();

  let reading = null;
  let asking = null;

  /** Keys from storage, then from the others, until there are enough. */
  const gather = async (isEnough = () => openKeys.size > 0) => {
    if (isEnough()) return;
    reading ??= remembered().finally(() => (reading = null));
    for (const keys of await reading) openKeys.set(keys.id, keys);
    if (isEnough()) return;
    asking ??= ask().finally(() => (asking = null));
    await asking;
  };

  const keysFor = async (id) => {
    await gather(() => openKeys.has(id));
    return openKeys.get(id);
  };

  const isOpen = async () => {
    await gather();
    return openKeys.size > 0;
  };

  const dropIfAlone = async () => {
    if ((await others()).length === 0) openKeys.clear();
  };

  const holds = async (id) => Boolean(await keysFor(id));

  let isOver = false;
  const news = new BroadcastChannel(NAME);
  news.addEventListener("message", ({ data }) => {
    openKeys.clear();
    if (isWorker) return;
    isOver = data === "forgotten";
    if (!isOver) location.replace(new URL("unlock.html", root));
    else document.body.textContent = "This journal was forgotten on this device."; // nothing can be loaded with no signal
  });

  const lockUp = async (how = "locked") => {
    openKeys.clear();
    await inDatabase("readwrite", (store) => store.clear()).catch(() => {});
    news.postMessage(how);
  };

  // -- sealed files --------------------------------------------------------------------------------------------
  const idOf = (bytes) => hex(bytes.subarray(0, ID_BYTES));

  /** What was packed: a byte that says how (0 as it is, 1 deflated), 7 bytes with its length, itself, and padding. */
  const unpacked = async (plain) => {
    const [, ...length] = plain.subarray(0, LENGTH_BYTES);
    const body = plain.subarray(LENGTH_BYTES, LENGTH_BYTES + length.reduce((sum, byte) => 256 * sum + byte, 0));
    if (plain[0] === 0) return body;
    const stream = new Blob([body]).stream().pipeThrough(new DecompressionStream("deflate"));
    return new Uint8Array(await new Response(stream).arrayBuffer());
  };

  const openAs = async (path, sealed) => {
    const bytes = new Uint8Array(sealed);
    const id = idOf(bytes);
    const keys = await keysFor(id);
    if (!keys) throw (await isOpen()) ? fault("key", "it is under another key") : fault("locked", "the journal is locked");
    const nonce = bytes.subarray(ID_BYTES, ID_BYTES + NONCE_BYTES);
    for (const label of FILE_LABELS) {
      const bound = new Uint8Array([...utf8(`${label}\0`), ...bytes.subarray(0, ID_BYTES), 0, ...utf8(path)]);
      const plain = await opened(keys.content, nonce, bytes.subarray(ID_BYTES + NONCE_BYTES), bound).catch(() => null);
      if (plain) return { id, content: await unpacked(plain) };
    }
    throw fault("damaged", "a file is damaged");
  };

  const open = async (path, sealed) => (await openAs(path, sealed)).content;

  const openList = async (kind, sealed) => {
    const { id, content } = await openAs(`offline/${kind}`, sealed);
    return { ...JSON.parse(new TextDecoder().decode(content)), key: id };
  };

  const hostPath = async ({ path, key }) => {
    const { names } = (await keysFor(key)) ?? {};
    if (!names) throw fault("locked", "the journal is locked");
    const name = new Uint8Array(await crypto.subtle.sign("HMAC", names, utf8(path)));
    return `locked/${hex(name.subarray(0, 16))}.bin`;
  };

  const verdict = async ({ path, key }, sealed, at) => {
    if (idOf(new Uint8Array(sealed)) !== key) return fault("key", `${at} on the server is under another key`);
    const isWhole = await open(path, sealed).then(() => true).catch(() => false);
    if (isWhole) return fault("other build", `${at} on the server belongs to another version`);
    return fault("damaged", `${at} on the server is damaged`);
  };

  const lock = { NAME, readHeader, unlock, remember, isOpen, holds, gather, dropIfAlone, lockUp, isForgotten: () => isOver, open, openList, hostPath, verdict };
  globalThis.journalLocks.set(root.href, lock);
  return lock;
};
