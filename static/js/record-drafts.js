/* Drafts of the page Record: stored as they are filled in, found again after the page ended, listed. One global,
   `journalDrafts(records, {root, say, current})`; current: gives the draft with what its form says now, or null where
   nothing is to be stored:

     TITLES, newDraft(form, about)   what each form is called; a new draft of a form
     formFor(kind, about, ids), formOf(record, ids)   the form for what the address asks for; that of a record
     store(), storeSoon()        stores the current draft, one storing after the other; a moment after the last change
     finishStoring()             fulfilled when nothing is being stored; what was to be stored soon no longer is
     storeOnLeaving(), restoreUnsaved()   keeps what was typed last when the page ends; puts it into its draft
     lock(record), lockedElsewhere()   no other tab opens this draft by itself; gives a test for those locked by others
     list(section)               shows the drafts that there are, to go on with or to delete; gives them */
"use strict";

globalThis.journalDrafts = (records, { root, say, current }) => {
  const TITLES = { find: "A find", batch: "A batch", "new batch": "A new batch", culture: "A culture", "new culture": "A new culture", tent: "The tent", note: "A note" };
  const KIND_OF_FORM = { "new batch": "batch", "new culture": "culture", batch: "note", culture: "note" };
  const UNSAVED_KEY = `journal typed ${root.pathname} `;
  const SOON_MS = 250;
  let storing = Promise.resolve();
  let waiting = null;
  let changes = 0;
  let storedChanges = 0;

  const newDraft = (form, about) => ({
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
    const draft = current();
    if (!draft) return storing;
    const changesStored = changes;
    const work = () => records.saveDraft(draft).then(() => (storedChanges = changesStored));
    storing = storing.then(work).catch((fault) => say(fault.message));
    return storing;
  };

  const storeSoon = () => {
    changes += 1;
    clearTimeout(waiting);
    waiting = setTimeout(store, SOON_MS);
  };

  const finishStoring = () => {
    clearTimeout(waiting);
    return storing;
  };

  /** A transaction that is begun when the page ends no longer comes to its end. */
  const storeOnLeaving = () => {
    const draft = changes === storedChanges ? null : current();
    if (!draft) return;
    const { photos, thumb, ...typed } = draft;
    try {
      localStorage.setItem(UNSAVED_KEY + draft.record, JSON.stringify(typed));
    } catch {
      // blocked or full: what was typed in the last quarter of a second is lost
    }
  };

  const isSaved = ({ text, values }, row) => JSON.stringify([text, values]) === JSON.stringify([row?.text, row?.values]);

  /** Leaves out what was saved meanwhile, as in another tab. */
  const restoreUnsaved = async () => {
    for (const key of Object.keys(localStorage).filter((name) => name.startsWith(UNSAVED_KEY))) {
      const typed = JSON.parse(localStorage.getItem(key));
      if (!isSaved(typed, (await records.history(typed.record)).at(-1))) await records.saveDraft(typed);
      localStorage.removeItem(key);
    }
  };

  const lockOf = (record) => `record ${root.pathname} ${record}`;
  const lock = (record) => navigator.locks?.request(lockOf(record), { ifAvailable: true }, () => new Promise(() => {}));
  const lockedElsewhere = async () => {
    const names = new Set(((await navigator.locks?.query())?.held ?? []).map((lock) => lock.name));
    return (record) => names.has(lockOf(record));
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

  return { TITLES, newDraft, formFor, formOf, store, storeSoon, finishStoring, storeOnLeaving, restoreUnsaved, lock, lockedElsewhere, list };
};
