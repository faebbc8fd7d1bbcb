/* Drafts of the page Record: stored as they are filled in, found again after the page ended, listed. One global,
   `journalDrafts(records, {root, say, current})`; current: gives the draft with what its form says now, or null where
   nothing is to be stored:

     TITLES, made(form, about)   what each form is called; a new draft of a form
     formFor(kind, about, ids), formOf(record, ids)   the form for what the address asks for; that of a record
     store(), storeSoon()        stores the current draft, one storing after the other; a moment after the last change
     settled()                   fulfilled when nothing is being stored; what was to be stored soon no longer is
     leave(), takeLeft()         keeps what was typed last when the page ends; puts it into its draft
     hold(record), isHeld()      no other tab opens this draft by itself; isHeld: gives a test for those that others hold
     list(section)               shows the drafts that there are, to go on with or to delete; gives them */
"use strict";

globalThis.journalDrafts = (records, { root, say, current }) => {
  const TITLES = { find: "A find", batch: "A batch", "new batch": "A new batch", culture: "A culture", "new culture": "A new culture", tent: "The tent", note: "A note" };
  const KIND_OF_FORM = { "new batch": "batch", "new culture": "culture", batch: "note", culture: "note" };
  const LEFT = `journal typed ${root.pathname} `;
  const SOON_MS = 250;
  let storing = Promise.resolve();
  let waiting = null;
  let changes = 0;
  let storedChanges = 0;

  const made = (form, about) => ({
    record: crypto.randomUUID(),
    revision: 0,
    form,
    kind: KIND_OF_FORM[form] ?? form,
    id: null,
    about,
    date: globalThis.journalEntry.moment(new Date()),
    values: {},
    text: "",
    photos: [],
    thumb: null,
    removed: null,
  });

  const formFor = (kind, about, ids) => {
    if (kind && Object.hasOwn(TITLES, kind)) return kind;
    return { find: "note", batch: "batch", culture: "culture", tent: "tent", device: "note" }[ids[about]?.kind] ?? null;
  };

  const formOf = (record, ids) => {
    if (record.form) return record.form;
    if (record.kind !== "note") return record.id && record.kind !== "find" ? `new ${record.kind}` : record.kind;
    return { batch: "batch", culture: "culture" }[ids[record.about[0]?.split(".")[0]]?.kind] ?? "note";
  };

  const store = () => {
    const held = current();
    if (!held) return storing;
    const upTo = changes;
    const work = () => records.saveDraft(held).then(() => (storedChanges = upTo));
    storing = storing.then(work).catch((fault) => say(fault.message));
    return storing;
  };

  const storeSoon = () => {
    changes += 1;
    clearTimeout(waiting);
    waiting = setTimeout(store, SOON_MS);
  };

  const settled = () => {
    clearTimeout(waiting);
    return storing;
  };

  /** A transaction that is begun when the page ends no longer comes to its end. */
  const leave = () => {
    const held = changes === storedChanges ? null : current();
    if (!held) return;
    const { photos, thumb, ...typed } = held;
    try {
      localStorage.setItem(LEFT + held.record, JSON.stringify(typed));
    } catch {
      // blocked or full: what was typed in the last quarter of a second is lost
    }
  };

  const isSaved = ({ text, values }, row) => JSON.stringify([text, values]) === JSON.stringify([row?.text, row?.values]);

  /** Leaves out what was saved meanwhile, as in another tab. */
  const takeLeft = async () => {
    for (const key of Object.keys(localStorage).filter((name) => name.startsWith(LEFT))) {
      const typed = JSON.parse(localStorage.getItem(key));
      if (!isSaved(typed, (await records.history(typed.record)).at(-1))) await records.saveDraft(typed);
      localStorage.removeItem(key);
    }
  };

  const lockOf = (record) => `record ${root.pathname} ${record}`;
  const hold = (record) => navigator.locks?.request(lockOf(record), { ifAvailable: true }, () => new Promise(() => {}));
  const isHeld = async () => {
    const held = new Set(((await navigator.locks?.query())?.held ?? []).map((lock) => lock.name));
    return (record) => held.has(lockOf(record));
  };

  const list = async (section) => {
    const drafts = await records.drafts();
    section.hidden = drafts.length === 0;
    const rows = drafts.map((row) => {
      const item = document.createElement("li");
      item.className = "row";
      const link = document.createElement("a");
      link.className = "button";
      link.href = `index.html?draft=${row.record}`;
      const photos = row.photos.length ? `, ${row.photos.length} photo${row.photos.length === 1 ? "" : "s"}` : "";
      link.textContent = `Continue: ${TITLES[row.form] ?? "Shared from another app"}, ${(row.date ?? "").slice(0, 16)}${photos}`;
      const drop = document.createElement("button");
      Object.assign(drop, { type: "button", textContent: "Delete" });
      drop.addEventListener("click", () => records.dropDraft(row.record).then(() => list(section)));
      item.append(link, drop);
      return item;
    });
    section.querySelector("[data-drafts]").replaceChildren(...rows);
    return drafts;
  };

  return { TITLES, made, formFor, formOf, store, storeSoon, settled, leave, takeLeft, hold, isHeld, list };
};
