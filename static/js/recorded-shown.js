/* Shows what was recorded on this device. Fetched by recorded.js once something was, or something is due.

   Hooks
     [data-waiting]          made here, under the head, while records or drafts are on this device only; in it
       [data-waiting-words]    a link to the outbox, or to the drafts where there is nothing else, and [data-waiting-export], one that is shown when it is time
     html[data-about]        the ID that the page is of; html[data-place] the list it belongs to
     [data-set-aside]        the ID of a label that was printed ahead, on its page
     tr[data-tick-kind][data-tick-about][data-tick-key][data-tick-value]   something due, and the entry that closes it */
const root = new URL(document.documentElement.dataset.root || "./", location.href);
const { about: aboutPage, place } = document.documentElement.dataset;
const LIST_OF = { Finds: ["find"], Cultures: ["culture"], Batches: ["batch"], Tent: ["tent"] };
let records = null; // journalRecords(root), once it is needed
let loadRecords = null;

const element = (name, words, more = {}) => Object.assign(document.createElement(name), { textContent: words ?? "", ...more });

const bare = (id) => id.replace(/\.\d+$/, "").toLowerCase();

/** Every ID that a record is of, about, or taken from. */
const idsOf = (record) =>
  [record.id, ...record.about, ...[record.values.from ?? [], record.values.culture ?? []].flat().flatMap((ids) => ids.split(","))]
    .filter(Boolean)
    .map((id) => bare(id.trim()));

const siteReceipts = async () => {
  const answer = await fetch(new URL("record/receipts.json", root), { cache: "no-cache" }).catch(() => null);
  return answer?.ok ? await answer.json().catch(() => null) : null;
};

// -- in words ------------------------------------------------------------------------------------------------
const PARTS = { day: "numeric", month: "short", hour: "2-digit", minute: "2-digit" };
const ofThisYear = new Intl.DateTimeFormat("en-GB", PARTS);
const ofAnother = new Intl.DateTimeFormat("en-GB", { ...PARTS, year: "numeric" });

export const whenOf = (record) => {
  const stamp = new Date((record.date || record.saved).replace(" ", "T"));
  if (Number.isNaN(stamp.getTime())) return record.date;
  return (stamp.getFullYear() === new Date().getFullYear() ? ofThisYear : ofAnother).format(stamp);
};

const PART_OF_ID = /\.\d+$/;
/** A mass in kg from 1000 g on, as pages have it; what was typed in another unit stays. */
const massWords = (text) => {
  const [, grams] = /^(\d+(?:\.\d+)?) g$/.exec(text) ?? [];
  return Number(grams) >= 1000 ? `${Math.round(grams / 10) / 100} kg` : text;
};

const SETTINGS = ["humidity set point", "humidity differential", "temperature set point", "light", "exhaust"];

export const headlineOf = (record) => {
  const { values } = record;
  const part = record.about.find((id, at) => at > 0 && PART_OF_ID.test(id)); // the first is in the tag before this
  const facts = [
    values.species,
    values.stage === "resting" ? "between flushes" : values.stage,
    values.harvest && [`${massWords(values.harvest)} harvested`, values.flush && `flush ${values.flush}`, part && `from ${part}`].filter(Boolean).join(", "),
    values.lost && [`${values.lost} lost`, values.cause === "unknown" ? "cause unknown" : values.cause].filter(Boolean).join(": "),
    values["moved to"] && `moved to ${values["moved to"]}`,
    values.culture && `inoculated with ${[values.culture].flat().join(", ")}`,
    values.units && `${values.units} ${values.units === "1" ? "unit" : "units"}`,
    values["humidity reading"],
    values["temperature reading"],
    values.door && `door ${values.door}`,
    values.serviced && `serviced: ${[values.serviced].flat().join(", ")}`,
    values.done && `done: ${[values.done].flat().join(", ")}`,
    ...SETTINGS.map((key) => values[key] && `${key} ${values[key]}`),
    values.why,
    values.method,
    values.from && `from ${[values.from].flat().join(", ")}`,
    values["received from"] && `from ${values["received from"]}`,
    values.form,
    values.next && `next: ${[values.next].flat().join(", ")}`,
  ].filter(Boolean);
  const text = record.text.split("\n").find((line) => line.trim()) ?? "";
  return facts.join(" · ") || text.slice(0, 80) || (record.photos.length ? "Photo" : record.kind);
};

export const thumbOf = (record) => {
  if (!record.thumb) return element("span", "", { className: "thumb blank" });
  const picture = element("img", "", { className: "thumb", alt: "", width: 74, height: 74 });
  picture.src = URL.createObjectURL(new Blob([record.thumb], { type: "image/jpeg" }));
  picture.addEventListener("load", () => URL.revokeObjectURL(picture.src));
  return picture;
};

export const tagOf = (record) => {
  const id = record.id ?? record.about[0];
  return id ? element("span", id, { className: "id" }) : element("span", "Note");
};

const counted = (number, word) => `${number} ${word}${number === 1 ? "" : "s"}`;

const ageWords = (iso) => {
  const hours = Math.max(0, Date.now() - Date.parse(iso)) / 3600000;
  if (hours < 1) return "under 1 hour";
  return hours < 48 ? counted(Math.floor(hours), "hour") : counted(Math.floor(hours / 24), "day");
};

// -- the bar -------------------------------------------------------------------------------------------------
const waitingBar = () => {
  const existing = document.querySelector("[data-waiting]");
  if (existing) return existing;
  const href = new URL("record/outbox/index.html", root).href;
  const bar = element("aside", "", { className: "waiting-bar", hidden: true });
  const words = element("p");
  words.append(element("a", "", { href }));
  bar.append(words, element("a", "Export", { href, className: "button" }));
  bar.dataset.waiting = "";
  bar.setAttribute("role", "status");
  bar.querySelector("a").dataset.waitingWords = "";
  bar.lastChild.dataset.waitingExport = "";
  document.querySelector("body > header").after(bar);
  return bar;
};

/** In two lines that each stand whole on a narrow screen: what waits, and since when. */
const waitingWords = async ({ count, oldest }, drafts) => {
  const unsaved = drafts ? counted(drafts, "draft") : "";
  if (count === 0) return [`${unsaved} not saved`];
  const states = await records.states();
  const unsent = (await records.latest()).some(({ record }) => states.get(record) === "only on this device");
  const where = unsent ? "On this device only" : "Not in the journal yet";
  return [`${where}: ${counted(count, "record")}`, [`oldest ${ageWords(oldest)}`, unsaved].filter(Boolean).join(" · ")];
};

const showWaiting = async () => {
  const summary = await records.summary();
  const isRecording = document.querySelector("[data-record-page]") !== null; // its draft is in sight
  const drafts = isRecording ? 0 : (await records.drafts()).length;
  const isEmpty = summary.count + drafts === 0;
  if (isEmpty && !document.querySelector("[data-waiting]")) return;
  const bar = waitingBar();
  bar.hidden = isEmpty;
  bar.classList.toggle("overdue", summary.asks);
  if (isEmpty) return;
  const words = bar.querySelector("[data-waiting-words]");
  words.replaceChildren(...(await waitingWords(summary, drafts)).map((line) => element("span", line)));
  words.href = new URL(summary.count ? "record/outbox/index.html" : "record/index.html", root).href;
  bar.querySelector("[data-waiting-export]").hidden = !summary.asks;
};

// -- records on the pages they are about -----------------------------------------------------------------------
const belongs = (record) => {
  const id = aboutPage ?? document.querySelector("[data-set-aside]")?.dataset.setAside;
  if (id) return idsOf(record).includes(id.toLowerCase());
  if (place === "Now" || location.pathname.includes("/diary/")) return true;
  return (LIST_OF[place] ?? []).includes(record.kind);
};

const rowOf = (record, state) => {
  const row = element("li", "", { className: "row" });
  const words = element("div", "", { className: "words" });
  const first = element("p");
  const link = element("a", headlineOf(record), { href: new URL(`record/outbox/index.html#${record.record}`, root).href });
  first.append(tagOf(record), " ", link);
  words.append(first, element("p", `${whenOf(record)} · ${state}`, { className: "soft" }));
  row.append(thumbOf(record), words);
  return row;
};

const section = () => {
  const existing = document.querySelector("[data-recorded]");
  if (existing) return existing;
  const created = element("section", "", { className: "recorded" });
  created.dataset.recorded = "";
  created.setAttribute("aria-label", "Recorded on this device");
  const before = aboutPage ? document.querySelector("main > .asof") : document.querySelector("main > :has(h1), main > h1");
  if (before) before.after(created);
  else document.querySelector("main").prepend(created);
  return created;
};

const showRecords = async (site) => {
  if (document.querySelector("[data-outbox], [data-record-page]") || location.pathname.endsWith("/door/index.html")) return;
  const states = await records.states();
  const isNew = (record) =>
    states.get(record.record) !== "no longer in the journal" &&
    !(site[record.record] ?? []).some(([revision]) => revision >= record.revision);
  const rows = (await records.latest()).filter((record) => isNew(record) && belongs(record)).reverse();
  const shown = rows.length ? section() : document.querySelector("[data-recorded]");
  shown?.replaceChildren();
  if (rows.length === 0) return;
  const list = element("ul", "", { className: "rows" });
  list.append(...rows.map((record) => rowOf(record, states.get(record.record))));
  shown.append(element("h2", "Recorded on this device"), list);
};

// -- what is due, ticked off -----------------------------------------------------------------------------------
const closes = (record, { tickAbout, tickKey, tickValue }) => {
  const ticked = [record.values[tickKey] ?? []].flat();
  const meant = tickAbout.split(", ").map(bare);
  return ticked.includes(tickValue) && record.about.map(bare).some((id) => meant.includes(id));
};

const tickOff = async ({ tickKind: kind, tickAbout, tickKey, tickValue }) => {
  records = await loadRecords();
  return records.save({
    record: crypto.randomUUID(), kind, form: kind, id: null, about: tickAbout.split(", "), date: globalThis.journalEntry.moment(new Date()),
    values: { [tickKey]: tickValue }, text: "", photos: [], thumb: null, removed: null,
  }); // prettier-ignore
};

const showTick = (row, done) => {
  let cell = row.querySelector("[data-tick]");
  if (!cell) {
    cell = element("td");
    cell.dataset.tick = "";
    row.append(cell);
  }
  const button = (words, act) => {
    const created = element("button", words, { type: "button" });
    created.addEventListener("click", () => Promise.resolve(act()).catch((fault) => cell.replaceChildren(fault.message)));
    return created;
  };
  row.classList.toggle("ticked", Boolean(done));
  if (done) {
    cell.replaceChildren("Done ", button("Undo", () => records.remove(done)));
    return;
  }
  const ask = () => {
    const sure = button("Save as done", () => tickOff(row.dataset));
    cell.replaceChildren(sure, button("Not yet", () => showTick(row, null)));
    sure.focus();
  };
  cell.replaceChildren(button("Done …", ask));
};

const showTicks = async () => {
  const rows = [...document.querySelectorAll("[data-tick-key]")];
  if (rows.length === 0) return;
  const latest = records ? (await records.latest()).reverse() : [];
  for (const row of rows) {
    const head = row.closest("table").querySelector("thead tr");
    if (head && !head.querySelector("[data-tick-head]")) {
      const cell = element("th", "Done");
      cell.dataset.tickHead = "";
      head.append(cell);
    }
    showTick(row, latest.find((record) => closes(record, row.dataset)) ?? null);
  }
};

let site = null; // what has come in, by the site; asked for once there are records it could tell of

/** stored: journalRecords(root), or null while there is nothing in it; load: gives it even so. */
export const show = async (stored, load) => {
  [records, loadRecords] = [stored, load];
  if (!records) return showTicks();
  if (site === null && (await records.latest()).length) {
    const told = await siteReceipts();
    site = told?.records ?? {};
    if (told) await records.takeReceipts(site, told.gone).catch(() => 0);
  }
  await showWaiting();
  await showRecords(site ?? {});
  return showTicks();
};
