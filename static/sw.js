/* The worker: answers for the build this device holds. The build tool writes it as `sw.js` at the site's root, after
   everything else, with `journalBuild` (the digest of the root list) and the texts of js/pool.js and
   js/refusals.js before it.

   A locked site's has `journalLocked` ({key, kind, shell: digests of what anyone may read}) and templates/locked/lock.js
   before that: then what is stored is sealed, and is opened as it is answered with.

   Which build is shown is what `builds` in storage says, whichever script runs: installing a script fetches that
   script's build beside the current one and records it as next; only the reader's tap makes it current. */
"use strict";

const BUILD = globalThis.journalBuild;
const LOCKED = globalThis.journalLocked ?? null;
const ROOT = new URL("./", self.location);
const SHELL = `journal shell ${ROOT.pathname}`;
const pool = globalThis.journalPool(ROOT);
const refusals = globalThis.journalRefusals;
const channel = new BroadcastChannel(pool.STATE);

const POLICY = [
  "default-src 'none'", "img-src 'self' blob: data:", "style-src 'self'", "script-src 'self'", "connect-src 'self'",
  "manifest-src 'self'", "worker-src 'self'", "base-uri 'none'", "form-action 'self'", "object-src 'none'",
  "frame-ancestors 'none'",
].join("; "); // prettier-ignore

const TYPES = {
  html: "text/html; charset=utf-8",
  css: "text/css; charset=utf-8",
  js: "text/javascript; charset=utf-8",
  json: "application/json",
  webmanifest: "application/manifest+json",
  txt: "text/plain; charset=utf-8",
  svg: "image/svg+xml",
  webp: "image/webp",
  png: "image/png",
  jpg: "image/jpeg",
  ico: "image/x-icon",
  woff2: "font/woff2",
  pdf: "application/pdf",
  gpx: "application/gpx+xml",
  csv: "text/csv; charset=utf-8",
};

// -- taking builds in ----------------------------------------------------------------------------------------

/** Throws where the host has put an older build back: a locked build's root list counts the builds. */
const refuseOlder = async () => {
  const { counter } = await pool.list(BUILD, "root");
  if (counter < (await pool.readState("counter", 0))) {
    throw Object.assign(new Error("the server has an older version than this device has seen, which is not used"), { kind: "older" });
  }
};

/** Keeps the unlock page and what it needs, which are in no list. */
const keepShell = async () => {
  const cache = await caches.open(SHELL);
  const rows = Object.entries(LOCKED.shell).map(([path, digest]) => ({ path, at: path, digest }));
  const keep = async (row) => cache.put(pool.urlOf(row.path), new Response(await pool.fetchBytes(row)));
  const faults = await pool.each(rows, keep);
  if (faults.length) throw faults[0];
  const { counter } = await pool.list(BUILD, "root");
  await pool.changeState("counter", 0, (seen) => Math.max(seen, counter));
};

/** The core of a locked build by its bundles, where most of it is missing: nothing can be shown before it is here. What
    comes cut off or altered is left for the single fetches, which say what is wrong with it. */
const fetchCoreBundles = async (core) => {
  const here = await pool.savedAmong(core.map((file) => file.digest));
  if (2 * here.size > core.length) return;
  for (const { files, bundles } of await pool.listsOf(BUILD, "core")) {
    let first = 0;
    for (const [name, count] of bundles) {
      const rows = files.slice(first, first + count);
      first += count;
      const bytes = name && (await pool.fetchAnswer(`offline/${name}.bundle`).then((answer) => answer.arrayBuffer()).catch(() => null));
      let end = 0;
      const pieces = rows.map(([, digest, size]) => ({ digest, from: end, to: (end += size) }));
      if (bytes) await pool.each(pieces, ({ digest, from, to }) => pool.keep(digest, bytes.slice(from, to)));
    }
  }
};

/** Fetches the lists and the core of this script's build into the pool; throws where anything is missing. */
const fetchCore = async () => {
  if (LOCKED) await refuseOlder();
  const parts = (await pool.partsOf(BUILD)).filter((part) => part.pack !== "larger");
  const listFaults = await pool.each(parts, (part) => pool.list(part.list));
  if (listFaults.length) throw listFaults[0];
  const core = await pool.filesOf(BUILD, "core");
  if (LOCKED) await fetchCoreBundles(core);
  const here = await pool.savedAmong(core.map((file) => file.digest));
  const missing = core.filter((file) => !here.has(file.digest));
  let done = core.length - missing.length;
  const keep = async (file) => {
    await pool.fetchFile(file);
    channel.postMessage({ kind: "core", done: (done += 1), of: core.length });
  };
  const faults = await pool.each(missing, keep);
  if (faults.length) throw faults[0];
  if (LOCKED) await keepShell();
};

/** A first build is current at once; a later one waits as next; the current one come back is no news. So is a locked
    share's, and one that comes when the current one is under a key that is not here. */
const recording = async () => {
  const before = await pool.builds();
  const isStuck = Boolean(LOCKED && before.current && !(await pool.lock.holds(before.currentKey)));
  const key = LOCKED?.key ?? null;
  return ({ current, next, currentKey }) => {
    if (current === null || isStuck || LOCKED?.kind === "share") return { current: BUILD, next: null, currentKey: key };
    return { current, currentKey, ...(current === BUILD ? { next: null } : { next: BUILD, nextKey: key }) };
  };
};

const takeIn = async () => {
  try {
    await fetchCore();
    await pool.changeState("builds", { current: null, next: null }, await recording());
    await pool.writeState("fault", null);
    if (LOCKED?.kind === "share") {
      await pool.saveLists(BUILD, "larger"); // so that photos that are still shared stay
      await pool.sweep(); // nothing of what is shared no more does
    }
  } catch (error) {
    if (error.kind === "locked") throw error; // no page is open that has the key; the next check tries again
    await pool.writeState("fault", { at: new Date().toISOString(), kind: error.kind, message: error.message });
    throw error;
  } finally {
    channel.postMessage({ kind: "builds" });
  }
};

/** Makes the next build the current one, if it is the one the reader was offered. */
const take = async (offered) => {
  if (self.registration.waiting) await self.skipWaiting();
  const change = (builds) =>
    builds.next === offered ? { current: builds.next, next: null, currentKey: builds.nextKey ?? null } : builds;
  const { current } = await pool.changeState("builds", { current: null, next: null }, change);
  channel.postMessage({ kind: "taken", build: current });
  await pool.sweep().catch(() => {}); // with the next one, where a list cannot be had
};

/** Every photo of a locked share that is not here, once at a time: its pages fetch none by themselves. */
const fetchPhotos = () =>
  navigator.locks.request(`${pool.STATE} photos`, { ifAvailable: true }, async (isFree) => {
    const { current } = await pool.builds();
    for (const pack of isFree && current ? ["small", "larger"] : []) {
      const files = await pool.filesOf(current, pack);
      const here = await pool.savedAmong(files.map((file) => file.digest));
      await pool.each(files.filter((file) => !here.has(file.digest)), (file) => pool.fetchFile(file));
    }
  });

addEventListener("install", (event) => event.waitUntil(takeIn()));
addEventListener("activate", (event) => event.waitUntil(self.clients.claim()));
addEventListener("message", (event) => {
  if (event.data?.kind === "take") event.waitUntil(take(event.data.build));
  if (event.data?.kind === "take in") event.waitUntil(takeIn().catch(() => {}));
});

// -- answering -----------------------------------------------------------------------------------------------

const headersFor = (path, build) => {
  const type = TYPES[path.slice(path.lastIndexOf(".") + 1)] ?? "application/octet-stream";
  const headers = new Headers({ "Content-Type": type, "X-Content-Type-Options": "nosniff" });
  headers.set("Accept-Ranges", "bytes");
  headers.set("Cross-Origin-Resource-Policy", "same-origin");
  if (LOCKED) headers.set("Cache-Control", "no-store");
  headers.set("X-Frame-Options", "DENY"); // pages of other sites show nothing of it, whatever kind of file it is
  if (type.startsWith("text/html")) {
    headers.set("Content-Security-Policy", POLICY);
    headers.set("Cross-Origin-Opener-Policy", "same-origin");
    headers.set("Referrer-Policy", "no-referrer");
    headers.set("Server-Timing", `build;desc="${build}"`); // how a page learns which build it is of
  }
  return headers;
};

/** Whether a Range header asks for one span of bytes that can be meant. */
const isSpan = (range) => {
  const [whole, first, last] = /^bytes=(\d*)-(\d*)$/.exec(range ?? "") ?? [];
  if (whole === undefined || (first === "" && last === "")) return false;
  return first === "" || last === "" || Number(first) <= Number(last);
};

/** First and last byte a Range header asks for (RFC 9110, 14.1.2), clamped; null where it asks for none there is. */
const spanOf = (range, size) => {
  const [, first, last] = /^bytes=(\d*)-(\d*)$/.exec(range);
  const start = first === "" ? Math.max(0, size - Number(last)) : Number(first);
  const end = first === "" || last === "" ? size - 1 : Math.min(Number(last), size - 1);
  return start > end ? null : [start, end];
};

/** The whole body, or the part a Range header asks for. A header of another form is passed over, as the RFC says. */
const answerWith = async (body, range, headers, size) => {
  if (!isSpan(range)) {
    headers.set("Content-Length", String(size));
    return new Response(body, { headers });
  }
  const span = spanOf(range, size);
  if (span === null) {
    return new Response(null, { status: 416, headers: { "Content-Range": `bytes */${size}` } });
  }
  const [start, end] = span;
  headers.set("Content-Range", `bytes ${start}-${end}/${size}`);
  headers.set("Content-Length", String(end - start + 1));
  const bytes = await new Response(body).arrayBuffer();
  return new Response(bytes.slice(start, end + 1), { status: 206, headers });
};

const plainPage = (status, title, sentences, link = ["Go to the first page of the journal", "index.html"]) =>
  new Response(journalPlainPage(ROOT, title, sentences, link), { status, headers: headersFor("page.html", "none") });

const KINDS = { finds: "find", cultures: "new culture", batches: "new batch" };

/** At the address of an ID that this device has no page of, as on a label that was printed ahead: the way to record it. */
const offerRecord = (path) => {
  const [, folder, id] = /^(finds|cultures|batches)\/([a-z][a-z0-9-]{0,31})(?:\/index\.html)?$/i.exec(path) ?? [];
  if (!folder) return null;
  const name = id.toUpperCase();
  const sentences = [
    `There is no ${name} in the journal on this device.`,
    "If its label was printed ahead, record it now. If it is in the journal already, update this device when it is online.",
  ];
  const query = new URLSearchParams({ kind: KINDS[folder.toLowerCase()], id: name });
  return plainPage(404, `No page of ${name} yet`, sentences, [`Record ${name}`, `record/index.html?${query}`]);
};

const refuse = (request, kind) => {
  const [status, title, sentences] = refusals[kind] ?? refusals.unreachable;
  if (request.mode === "navigate" && LOCKED && (kind === "locked" || kind === "key")) {
    const to = request.url.slice(ROOT.href.length);
    return Response.redirect(`${new URL("unlock.html", ROOT)}#to=${encodeURIComponent(to)}`);
  }
  if (request.mode === "navigate") return plainPage(status, title, sentences);
  return new Response(title, { status, headers: headersFor("answer.txt", "none") });
};

/** Where a reader meant to go: a folder without its slash, or an ID as it is written on a label. */
const elsewhere = async (build, path) => {
  for (const guess of [`${path}/index.html`, path.toLowerCase(), `${path.toLowerCase()}/index.html`]) {
    if (guess !== path && (await pool.find(build, guess))) return pool.urlOf(guess);
  }
  return null;
};

/** A file of this build that was not saved: fetched, verified, and kept if there is room. */
const adopt = async (file) => {
  const bytes = await pool.fetchBytes(file);
  await pool.store(file.digest, bytes).catch(() => {});
  return bytes;
};

/** A file that was damaged on this device is fetched anew: at once where there is a signal, else with the next check. */
const adoptAnew = async (file) => {
  const message = `${file.path} was damaged on this device; it was removed and is downloaded again`;
  await pool.writeState("fault", { at: new Date().toISOString(), kind: "harmed", message }).catch(() => {});
  channel.postMessage({ kind: "builds" });
  return adopt(file).catch((error) => {
    throw error.kind === "unreachable" ? pool.fault("harmed", message) : error;
  });
};

const answerFile = async (request, build, file) => {
  const load = async () => {
    const { bytes, wasDamaged } = await pool.savedBytes(file.digest);
    return new Response(bytes ?? (await (wasDamaged ? adoptAnew : adopt)(file)));
  };
  const { body, size } = await pool.contentOf(file, load);
  return answerWith(body, request.headers.get("Range"), headersFor(file.path, build), size);
};

/** A file of the shell, as it was kept when this build was taken in. */
const answerShell = async (request, path) => {
  const stored = await (await caches.open(SHELL)).match(pool.urlOf(path));
  if (!stored) return fetch(request);
  const body = await stored.arrayBuffer();
  return new Response(body, { headers: { "Content-Type": TYPES[path.slice(path.lastIndexOf(".") + 1)] } });
};

/** Every size of the photo at a path, the largest first, as far as its lists can be had. */
const sizesOf = async (build, path) => {
  const [, stem, month] = /^(photos\/([^/]+)\/.+-)\d+\.\w+$/.exec(path) ?? [];
  if (stem === undefined) return [];
  const packs = await Promise.all(["larger", "small"].map((pack) => pool.rowsUnder(build, pack, month).catch(() => [])));
  return packs.flat().filter((row) => row.path.startsWith(stem)).sort((a, b) => b.bytes - a.bytes);
};

/** The same photo in another size that is saved, for a page that would show it; null where there is none. */
const standIn = async (request, build, path) => {
  if (request.destination !== "image") return null;
  for (const row of await sizesOf(build, path)) {
    const { bytes } = await pool.savedBytes(row.digest);
    if (bytes) {
      const { body, size } = await pool.contentOf(row, async () => new Response(bytes));
      return answerWith(body, null, headersFor(row.path, build), size);
    }
  }
  return null;
};

/** What the host has now, while the journal is shown as it is written (`journal show`); null where it does not answer. */
const answerAsShown = async (request, current, path) => {
  const fresh = await fetch(request).catch(() => null);
  if (fresh?.status !== 404 || request.mode !== "navigate") return fresh;
  const there = await elsewhere(current, path.replace(/\/index\.html$/, "")).catch(() => null);
  return there && there.href !== pool.urlOf(path).href ? Response.redirect(there) : offerRecord(path) ?? fresh;
};

/** The build to answer from. A note on it that was damaged is made again, where this script's own build is here. */
const shownBuild = async () => {
  const { current } = await pool.builds();
  if (current !== null || !(await pool.savedAmong([BUILD])).has(BUILD)) return current;
  const own = { current: BUILD, next: null, currentKey: LOCKED?.key ?? null };
  return (await pool.changeState("builds", own, (held) => (held.current === null ? own : held))).current;
};

/** What the host has in a folder that no file of this build is in, as another site's; null where it has nothing. */
const answerOfOther = async (request, build, path) => {
  if (LOCKED || (await pool.hasFolderOf(build, path))) return null;
  const found = await fetch(request).catch(() => null);
  return found?.ok || found?.type === "opaqueredirect" ? found : null;
};

const answer = async (request, requested) => {
  const current = await shownBuild();
  if (LOCKED && Object.hasOwn(LOCKED.shell, requested)) return answerShell(request, requested);
  if (current === null) return fetch(request);
  const path = requested === "" || requested.endsWith("/") ? `${requested}index.html` : requested;
  const fresh = globalThis.journalIsShown ? await answerAsShown(request, current, path) : null;
  if (fresh) return fresh;
  try {
    if (LOCKED && request.mode === "navigate") await pool.lock.dropIfAlone();
    if (LOCKED && !(await pool.lock.isOpen())) return refuse(request, "locked");
    const file = await pool.find(current, path);
    if (file) return await answerFile(request, current, file);
    const there = request.mode === "navigate" && (await elsewhere(current, path.replace(/\/index\.html$/, "")));
    if (there) return Response.redirect(there);
    const offered = request.mode === "navigate" ? offerRecord(path) : null;
    return offered ?? (await answerOfOther(request, current, path)) ?? refuse(request, "unknown");
  } catch (error) {
    return (await standIn(request, current, path).catch(() => null)) ?? refuse(request, error.kind);
  }
};

// -- photos shared to the installed app --------------------------------------------------------------------------

/** Whether a page of another site sent them, as far as can be told: a browser says "null" for an app, and for a page that
    hides where it is. Sec-Fetch-Site does not reach a worker (Chromium 156). */
const isOfAnotherSite = ({ headers, referrer }) =>
  [headers.get("Origin"), referrer && new URL(referrer).origin].some((origin) => origin && origin !== "null" && origin !== ROOT.origin);

/** Photos from another app into a draft, which the page Record then opens; with no network, all or none. */
const takeShared = async (request) => {
  if (isOfAnotherSite(request)) {
    return plainPage(403, "Photos not stored", ["A page of another site cannot put photos into this journal."]);
  }
  const records = journalRecords(ROOT);
  const draft = {
    record: crypto.randomUUID(), revision: 0, kind: "note", form: "", id: null, about: [], values: {}, text: "",
    date: journalEntry.moment(new Date()),
  }; // prettier-ignore
  try {
    const photos = (await request.formData()).getAll("photos").filter((photo) => photo instanceof File);
    for (const photo of photos) await records.addPhoto(draft, photo, { source: "shared", name: photo.name });
    return Response.redirect(new URL(photos.length ? `record/index.html?draft=${draft.record}` : "record/index.html", ROOT), 303);
  } catch (error) {
    await records.dropDraft(draft).catch(() => {});
    return plainPage(507, "Photos not stored", [error.message, "The photos are still where they were shared from."]);
  }
};

const isShared = (request) =>
  LOCKED?.kind !== "share" && request.method === "POST" && new URL(request.url).href === new URL("record/shared", ROOT).href;

/** The path below the root that a request asks for, or null where the worker keeps out of it. */
const pathOf = (request) => {
  const url = new URL(request.url);
  const ours = url.origin === ROOT.origin && url.pathname.startsWith(ROOT.pathname);
  if (!ours || request.method !== "GET" || request.headers.has(pool.OWN_HEADER)) return null;
  const path = url.pathname.slice(ROOT.pathname.length);
  if (path === "sw.js" || path.startsWith("offline/")) return null;
  try {
    return decodeURIComponent(path);
  } catch {
    return path; // no percent-encoding of UTF-8: some path that the build does not have
  }
};

addEventListener("fetch", (event) => {
  if (isShared(event.request)) {
    event.respondWith(takeShared(event.request));
    return;
  }
  const path = pathOf(event.request);
  if (path === null) return;
  event.respondWith(answer(event.request, path));
  if (LOCKED?.kind === "share" && event.request.mode === "navigate") event.waitUntil(fetchPhotos().catch(() => {}));
});
