/* What is saved of the site on this device, by content: shared by the worker (which is written with this text at its
   head) and by the page (which imports it).

   Two caches a site, named by its root so that sites under one host never touch each other:
     pool    <digest> -> bytes, whatever their path; files, and the lists that name them
     state   small JSON values: `builds` {current, next}, `chosen`, `whole`, `drops` (another each time that something
             is dropped), `checked`, `fault`, `persisted`
   A digest is the first 32 hex digits of a file's SHA-256; a build is the digest of its root list. What the
   functions keep in memory are copies of lists in the pool, by digest, so they can never be out of date.

   Of a locked site (where there is a `journalLock`) all of these bytes are sealed, and are opened when they are used;
   digests and sizes are of the sealed files, which are on the host under other names. */
"use strict";

globalThis.journalPool = (root) => {
  const POOL = `journal pool ${root.pathname}`;
  const STATE = `journal state ${root.pathname}`;
  const OWN_HEADER = "Journal-Pool";
  const AT_ONCE = 6;
  const PATIENCE_MS = 60000;
  const lock = globalThis.journalLock?.(root) ?? null;
  const listsRead = new Map();
  const rowsRead = new Map();
  const openedOnce = new Map();

  const urlOf = (path) => new URL(path.split("/").map(encodeURIComponent).join("/"), root);
  const keyOf = (digest) => new URL(`held/${digest}`, root);

  // -- state -------------------------------------------------------------------------------------------------
  const stateUrl = (name) => new URL(`state/${name}`, root);

  /** A cache. Of a journal that was forgotten here there is none, and to open one would make it. */
  const opened = async (name) => {
    if (lock?.isForgotten()) throw fault("locked", "the journal was forgotten on this device");
    return caches.open(name);
  };

  const readState = async (name, absent = null) => {
    const stored = await (await opened(STATE)).match(stateUrl(name));
    return stored ? stored.json().catch(() => absent) : absent; // what is damaged is as if it had not been written
  };

  const fault = (kind, message) => Object.assign(new Error(message), { kind });

  const put = async (cache, url, body) => {
    await (await opened(cache)).put(url, new Response(body)).catch(() => {
      throw fault("full", "the browser gives this journal no more storage");
    });
  };

  const writeState = (name, value) => put(STATE, stateUrl(name), JSON.stringify(value));

  const builds = () => readState("builds", { current: null, next: null });

  /** Changes a state value under a lock, so that worker and pages never lose each other's change. */
  const changeState = (name, absent, change) =>
    navigator.locks.request(`${STATE} ${name}`, async () => {
      const value = change(await readState(name, absent));
      await writeState(name, value);
      return value;
    });

  // -- bytes -------------------------------------------------------------------------------------------------
  const digestOf = async (bytes) => {
    const hash = new Uint8Array(await crypto.subtle.digest("SHA-256", bytes));
    return [...hash.subarray(0, 16)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  };

  const savedAnswer = async (digest) => (await opened(POOL)).match(keyOf(digest));

  const savedDigests = async () => {
    const keys = await (await opened(POOL)).keys();
    return new Set(keys.map((request) => request.url.slice(request.url.lastIndexOf("/") + 1)));
  };

  const store = (digest, bytes) => put(POOL, keyOf(digest), bytes);

  /** Keeps bytes if they are those the digest names; says whether they were. */
  const keep = async (digest, bytes) => {
    if ((await digestOf(bytes)) !== digest) return false;
    await store(digest, bytes);
    return true;
  };

  /** Those of the digests that are saved here. Asking for each is cheaper than listing thousands, where they are few. */
  const savedAmong = async (digests) => {
    if (digests.length > 200) {
      const here = await savedDigests();
      return new Set(digests.filter((digest) => here.has(digest)));
    }
    const answers = await Promise.all(digests.map(savedAnswer));
    return new Set(digests.filter((_, index) => answers[index]));
  };

  /** Drops files. A page that is counting what is here meanwhile cannot note that all of it is (`drops`). */
  const drop = async (digests) => {
    const note = () => changeState("drops", null, () => crypto.randomUUID()).catch(() => {}); // full storage does not take it
    const cache = await opened(POOL);
    if (digests.length) await note();
    for (const digest of digests) await cache.delete(keyOf(digest));
    if (digests.length) await note();
  };

  /** The bytes saved under a digest, and whether they were damaged on this device: then they are dropped, so that they
      are fetched anew, and there are none. A disk that fails alters or loses what a browser has stored. */
  const savedBytes = async (digest) => {
    const stored = await savedAnswer(digest);
    const bytes = await stored?.arrayBuffer().catch(() => null);
    if (!stored || (bytes && (await digestOf(bytes)) === digest)) return { bytes: bytes ?? null, wasDamaged: false };
    await drop([digest]);
    return { bytes: null, wasDamaged: true };
  };

  /** A signal that aborts with the given one, or when nothing has been heard for PATIENCE_MS since `heard`. */
  const patience = (signal) => {
    const control = new AbortController();
    let timer = 0;
    const heard = () => {
      clearTimeout(timer);
      timer = setTimeout(() => control.abort(), PATIENCE_MS);
    };
    signal?.addEventListener("abort", () => control.abort(), { once: true });
    if (signal?.aborted) control.abort();
    heard();
    return { signal: control.signal, heard, over: () => clearTimeout(timer) };
  };

  const ask = (url, signal, cache) =>
    fetch(url, { cache, redirect: "error", headers: { [OWN_HEADER]: "1" }, signal });

  /** A file from the host, past the worker. Throws a fault of kind "unreachable" or "missing".
      Some hosts send `x/index.html` on to `x/`: a redirect is never followed, but the folder is asked for too. */
  const fetchAnswer = async (path, signal, cache = "no-cache") => {
    const url = urlOf(path);
    const folder = path.endsWith("index.html") ? new URL("./", url) : null;
    const answer = await ask(url, signal, cache)
      .catch((error) => (folder && !signal?.aborted ? ask(folder, signal, cache) : Promise.reject(error)))
      .catch(() => {
        throw fault("unreachable", `${path} could not be downloaded (the device is offline, or the server redirects it)`);
      });
    if (!answer.ok) throw fault("missing", `the server does not have ${path} (status ${answer.status})`);
    return answer;
  };

  /** The bytes of an answer. heard: called as they arrive. */
  const bytesOf = async (answer, heard) => {
    const pieces = [];
    const reader = answer.body?.getReader();
    for (let piece = await reader?.read(); piece && !piece.done; piece = await reader.read()) {
      heard();
      pieces.push(piece.value);
    }
    return new Blob(pieces).arrayBuffer();
  };

  /** The bytes at an address, and whether the digest names them. */
  const fetchOnce = async (at, digest, { signal, heard }, cache) => {
    const answer = await fetchAnswer(at, signal, cache);
    const bytes = await bytesOf(answer, heard).catch(() => {
      throw fault("unreachable", `${at} was cut off while downloading`);
    });
    return { bytes, isRight: (await digestOf(bytes)) === digest };
  };

  /** Where a file is on the host. */
  const placeOf = (file) => file.at ?? (lock ? lock.hostPath(file) : file.path);

  /** Why bytes are not a file's own. A locked site's lists are named by their content, so that another is a damaged one. */
  const otherFile = (file, bytes, at) => {
    if (lock && file.key) return lock.verdict(file, bytes, at);
    return lock ? fault("damaged", `${at} on the server is damaged`) : fault("other build", `${at} on the server belongs to another version`);
  };

  /** The bytes of one file, verified. Throws a fault; of kind "other build" where the bytes are not its own.
      A host that goes by age and size may call a changed file unchanged, so it is asked once more past every cache. */
  const fetchBytes = async (file, signal) => {
    const wait = patience(signal);
    try {
      const at = await placeOf(file);
      const first = await fetchOnce(at, file.digest, wait);
      const { bytes, isRight } = first.isRight ? first : await fetchOnce(at, file.digest, wait, "reload");
      if (!isRight) throw await otherFile(file, bytes, at);
      return bytes;
    } finally {
      wait.over();
    }
  };

  /** Fetches, verifies and keeps one file. Throws a fault. */
  const fetchFile = async (file, signal) => {
    const bytes = await fetchBytes(file, signal);
    await store(file.digest, bytes);
    return bytes;
  };

  /** Does the work for every row, a few at a time, to the end; gives the faults. */
  const each = async (rows, work) => {
    const queue = [...rows];
    const faults = [];
    const worker = async () => {
      for (let row = queue.shift(); row !== undefined; row = queue.shift()) {
        await work(row).catch((error) => faults.push(error));
      }
    };
    await Promise.all(Array.from({ length: AT_ONCE }, worker));
    return faults;
  };

  // -- lists -------------------------------------------------------------------------------------------------
  const listFile = (digest) => ({ at: `offline/${digest}.${lock ? "bin" : "json"}`, digest });

  const readList = async (digest, kind) => {
    const { bytes: saved } = await savedBytes(digest);
    const bytes = saved ?? (await fetchFile(listFile(digest)));
    return lock ? lock.openList(kind, bytes) : JSON.parse(new TextDecoder().decode(bytes));
  };

  /** A list by its digest: from memory, the pool, or the host. kind: "list", or "root" for a build's. */
  const list = (digest, kind = "list") => {
    if (!listsRead.has(digest)) {
      const reading = readList(digest, kind);
      listsRead.set(digest, reading);
      reading.catch(() => listsRead.delete(digest));
    }
    return listsRead.get(digest);
  };

  const partsRead = new Map();

  /** The parts of a build; those of a year with many of them are in a list of their own. */
  const partsOf = async (build) => {
    if (!partsRead.has(build)) {
      const { parts, years = [] } = await list(build, "root");
      const apart = await Promise.all(years.map(([, digest]) => list(digest)));
      const rows = [...parts, ...apart.flatMap((year) => year.parts)];
      partsRead.set(build, rows.map(([pack, key, digest, files, bytes]) => ({ pack, key, list: digest, files, bytes })));
    }
    return partsRead.get(build);
  };

  const rowOf = ({ base, key }, [name, digest, bytes, ids = []]) => ({ path: base + name, digest, bytes, ids, key });

  /** What a page gets of a file: the body, and its bytes. load: gives its stored answer. What every page asks for, the
      program's own styles and scripts, is opened once. */
  const contentOf = async (file, load) => {
    if (!lock) return { body: (await load()).body, size: file.bytes };
    const body = openedOnce.get(file.digest) ?? (await lock.open(file.path, await (await load()).arrayBuffer()));
    if (file.path.startsWith("static/")) openedOnce.set(file.digest, body);
    return { body, size: body.length };
  };

  const rowsByPath = async (part) => {
    if (!rowsRead.has(part.list)) {
      const found = await list(part.list);
      rowsRead.set(part.list, new Map(found.files.map((file) => [found.base + file[0], rowOf(found, file)])));
    }
    return rowsRead.get(part.list);
  };

  /** The parts of a build that may name a path, in the order to ask: photos are under their month. */
  const stepsFor = (parts, path) => {
    const of = (pack, key) => parts.filter((part) => part.pack === pack && (key === undefined || part.key === key));
    const month = /^photos\/([^/]+)\//.exec(path)?.[1];
    return month === undefined ? [of("core"), of("pages")] : [of("small", month), of("larger", month)];
  };

  /** {path, digest, bytes} of a path in a build, or null where the build has no such path. A list that cannot be had is
      passed over; where no other has the path, it throws the list's fault. */
  const find = async (build, path) => {
    const faults = [];
    const rowIn = async (part) => (await rowsByPath(part)).get(path);
    for (const step of stepsFor(await partsOf(build), path)) {
      const rows = await Promise.all(step.map((part) => rowIn(part).catch((error) => void faults.push(error))));
      const row = rows.find(Boolean);
      if (row) return row;
    }
    if (faults.length) throw faults[0];
    return null;
  };

  /** Whether anything of a build is in the folder of the root that a path is in. */
  const hasFolderOf = async (build, path) => {
    const folder = `${path.split("/")[0]}/`;
    const maps = await Promise.all((await partsOf(build)).filter(({ pack }) => pack === "core" || pack === "pages").map(rowsByPath));
    return folder === "photos/" || maps.some((map) => [...map.keys()].some((each) => each.startsWith(folder)));
  };

  const yearsOf = async (build) => ((await list(build, "root")).years ?? []).map(([, digest]) => digest);

  /** Saves the lists of a pack that are not saved, though they may be in memory; gives the faults. */
  const saveLists = async (build, name) => {
    const parts = (await partsOf(build)).filter((part) => part.pack === name.split(":")[0]);
    const digests = [build, ...(await yearsOf(build)), ...parts.map((part) => part.list)];
    const here = await savedAmong(digests);
    return each(digests.filter((digest) => !here.has(digest)), (digest) => fetchFile(listFile(digest)));
  };

  /** The part lists of a pack, read: "core", "pages", "small", "larger", or "larger:b-031" for what one ID uses. */
  const listsOf = async (build, name) => {
    const pack = name.split(":")[0];
    const parts = (await partsOf(build)).filter((part) => part.pack === pack);
    await each(parts, (part) => list(part.list));
    return Promise.all(parts.map((part) => list(part.list)));
  };

  /** The rows of one part of a pack, by its key. */
  const rowsUnder = async (build, pack, key) => {
    const parts = (await partsOf(build)).filter((part) => part.pack === pack && part.key === key);
    return (await Promise.all(parts.map(rowsByPath))).flatMap((rows) => [...rows.values()]);
  };

  /** Every file of a pack, each content once. */
  const filesOf = async (build, name) => {
    const id = name.split(":")[1];
    const rows = (await listsOf(build, name)).flatMap((found) => found.files.map((file) => rowOf(found, file)));
    const used = id === undefined ? rows : rows.filter((row) => row.ids.includes(id));
    return [...new Map(used.map((row) => [row.digest, row])).values()];
  };

  /** Digests that builds may need: their lists, and every file that these name, of larger photos those saved here. Throws
      where another list cannot be had. */
  const digestsOf = async (build) => {
    const parts = await partsOf(build);
    const saved = await savedAmong(parts.map((part) => part.list));
    const needed = parts.filter((part) => part.pack !== "larger" || saved.has(part.list));
    const read = await Promise.all(needed.map((part) => list(part.list)));
    const files = read.flatMap((found) => found.files.map(([, digest]) => digest));
    return [build, ...(await yearsOf(build)), ...parts.map((part) => part.list), ...files];
  };

  /** Drops what neither the current nor the next build names; nothing where that is not known. */
  const sweep = async () => {
    const { current, next } = await builds();
    const named = await Promise.all([current, next].filter(Boolean).map(digestsOf));
    const needed = new Set(named.flat());
    await drop([...(await savedDigests())].filter((digest) => !needed.has(digest)));
  };

  return {
    root, lock, fault, POOL, STATE, OWN_HEADER, urlOf, readState, writeState, changeState, builds, savedBytes, savedAmong, store, keep, drop,
    patience, fetchAnswer, fetchBytes, fetchFile, contentOf, each, list, partsOf, find,
    hasFolderOf, saveLists, rowsUnder, listsOf, filesOf, sweep,
  }; // prettier-ignore
};
