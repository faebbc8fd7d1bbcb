/* Fetches packs into the pool: what is missing, verified, from bundles where much is missing, and on from where it
   was cut off. Runs in the page, since a browser stops a worker's event after a few minutes. */

const BUNDLE_FROM = 50; // fewer missing files than this are fetched one by one
const AWAKE_FROM_BYTES = 5e6;

/** Keeps the screen on while a long fetch runs; gives the function that lets it go. */
const keepAwake = async () => {
  let lock = await navigator.wakeLock?.request("screen").catch(() => null);
  const again = async () => {
    if (document.visibilityState === "visible") lock = await navigator.wakeLock?.request("screen").catch(() => null);
  };
  document.addEventListener("visibilitychange", again);
  return () => {
    document.removeEventListener("visibilitychange", again);
    lock?.release();
  };
};

const canUnpack = (packed) => packed === undefined || typeof DecompressionStream === "function";

/** Bundles worth fetching whole: those of which more than half the bytes are missing. */
const bundlesOf = (lists, missing) => {
  const worthwhile = [];
  for (const { base, files, bundles } of lists) {
    let first = 0;
    for (const [name, count, packed] of bundles) {
      const rows = files.slice(first, first + count).map(([path, digest, bytes]) => ({ path: base + path, digest, bytes }));
      const sum = (some) => some.reduce((total, row) => total + row.bytes, 0);
      const lacking = sum(rows.filter((row) => missing.has(row.digest)));
      if (name && canUnpack(packed) && lacking * 2 > sum(rows)) worthwhile.push({ name, rows, packed });
      first += count;
    }
  }
  return worthwhile;
};

/** Cuts a stream into pieces of the given sizes, as they arrive. */
async function* pieces(stream, sizes, heard) {
  const reader = stream.getReader();
  let store = new Uint8Array(1 << 16);
  let filled = 0;
  const append = (bytes) => {
    if (filled + bytes.length > store.length) {
      const larger = new Uint8Array(2 * (filled + bytes.length));
      larger.set(store.subarray(0, filled));
      store = larger;
    }
    store.set(bytes, filled);
    filled += bytes.length;
  };
  for (const size of sizes) {
    while (filled < size) {
      const { done, value } = await reader.read();
      if (done) return;
      heard();
      append(value);
    }
    yield store.slice(0, size).buffer;
    store.copyWithin(0, size, filled);
    filled -= size;
  }
}

/** Keeps every file of a bundle that is missing. What comes cut off or altered is left for the single fetches. */
const fetchBundle = async (pool, { name, rows, packed }, missing, signal, kept) => {
  const wait = pool.patience(signal);
  try {
    const answer = await pool.fetchAnswer(`offline/${name}.bundle`, wait.signal);
    let at = 0;
    const body = packed === undefined ? answer.body : answer.body.pipeThrough(new DecompressionStream("gzip"));
    for await (const bytes of pieces(body, rows.map((row) => row.bytes), wait.heard)) {
      const row = rows[at++];
      if (missing.has(row.digest) && (await pool.keep(row.digest, bytes))) kept(row);
    }
  } catch (error) {
    if (error.kind === "full" || signal.aborted) throw error;
  } finally {
    wait.over();
  }
};

const fetchMissing = async (pool, lists, missing, signal, kept) => {
  if (missing.size > BUNDLE_FROM) {
    const faults = await pool.each(bundlesOf(lists, missing), (bundle) => fetchBundle(pool, bundle, missing, signal, kept));
    if (faults.length) throw faults[0];
  }
  const single = async (row) => {
    if (signal.aborted) return;
    await pool.fetchFile(row, signal);
    kept(row);
  };
  return pool.each(missing.values(), single);
};

const sizeOf = (rows) => rows.reduce((total, row) => total + row.bytes, 0);

/** Makes a pack of a build whole, as far as the host lets it.

    progress: called with {files, ofFiles, bytes, ofBytes} as it goes. Gives the faults; none means whole. */
export const fetchPack = async (pool, build, name, signal, progress) => {
  const listFaults = await pool.saveLists(build, name);
  const files = await pool.filesOf(build, name);
  const here = await pool.savedAmong(files.map((row) => row.digest));
  const missing = new Map(files.filter((row) => !here.has(row.digest)).map((row) => [row.digest, row]));
  const missingBytes = sizeOf([...missing.values()]);
  const state = { ofFiles: files.length, ofBytes: sizeOf(files) };
  Object.assign(state, { files: state.ofFiles - missing.size, bytes: state.ofBytes - missingBytes });
  progress(state);
  const kept = (row) => {
    if (!missing.delete(row.digest)) return;
    state.files += 1;
    state.bytes += row.bytes;
    progress(state);
  };
  if (missing.size === 0) return listFaults;
  const sleep = missingBytes > AWAKE_FROM_BYTES ? await keepAwake() : () => {};
  try {
    return [...listFaults, ...(await fetchMissing(pool, await pool.listsOf(build, name), missing, signal, kept))];
  } catch (error) {
    return [error];
  } finally {
    sleep();
  }
};

/** {files, ofFiles, bytes, ofBytes} of a pack as it is saved now. */
export const packState = async (pool, build, name) => {
  const files = await pool.filesOf(build, name);
  const here = await pool.savedAmong(files.map((row) => row.digest));
  const saved = files.filter((row) => here.has(row.digest));
  return { files: saved.length, ofFiles: files.length, bytes: sizeOf(saved), ofBytes: sizeOf(files) };
};
