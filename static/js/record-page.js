/* The page Record: what is in front of the author, then a form that is stored as it is filled in, then a record.

   The address may say what it is about: ?kind=batch&about=B-031, ?edit=<record>, ?draft=<record>; and which ID a new
   thing has by its label: ?kind=new batch&id=B-034.
   What the controls of a form mean is in record-fields.js, what is asked before it is saved in record-doubts.js, its photos
   are in record-photos.js, its position in record-position.js, and what is shown once it is saved in record-saved.js. */
"use strict";

(() => {
  const page = document.querySelector("[data-record-page]");
  const root = new URL(document.documentElement.dataset.root || "./", location.href);
  const entries = globalThis.journalEntry;
  const fields = globalThis.journalFields;
  const { withoutPart } = fields;
  const query = new URLSearchParams(location.search);
  const $ = (selector, within = page) => within.querySelector(selector);
  const $$ = (selector, within = page) => [...within.querySelectorAll(selector)];

  let records = null;
  let known = { ids: {}, series: {}, species: [], places: [], media: [], causes: [], stages: {} };
  let form = null;
  let draft = null;
  let drafts = null;
  let photos = null;
  let position = null;
  let saved = null;
  let isTouched = false; // something was entered since the form was opened
  let isRefused = false; // what is said is why nothing was saved
  let kept = {}; // values of an edited record that its form has no control for
  let shownWhen = "";
  let saving = false;

  const WITH_ID = ["find", "culture", "batch"];

  const say = (words, refuses = false) => {
    isRefused = refuses;
    const place = $("[data-record-status]");
    place.textContent = words ?? "";
    place.hidden = !words;
  };

  const touch = () => {
    isTouched = true;
    if (isRefused) say(null);
  };

  // -- the form that is open ---------------------------------------------------------------------------------
  /** A place that the journal knows the position of. */
  const placeNamed = (name) => known.places.find((place) => place.where && place.name.toLowerCase() === name?.toLowerCase()) ?? null;

  /** What the form says, in the draft. */
  const collect = () => {
    const { text = "", about, part, ...rest } = fields.values(form, kept);
    const [first, ...others] = draft.about;
    const named = about || (part && withoutPart(first));
    if (named) draft.about = [part ? `${named}.${part}` : named, ...(named === withoutPart(first) ? others : [])];
    draft.text = text;
    draft.values = rest;
    const when = $("[data-when]", form).value;
    const isChanged = when && when !== shownWhen; // else its offset stays the one that it was written with
    if (isChanged && /^\d{4}-/.test(when)) draft.date = entries.moment(new Date(when));
    if (draft.kind === "find") position.locate(draft, placeNamed(rest.place), known.units === "us");
  };

  /** What is being saved would come back as a draft. */
  const current = () => {
    if (!draft || saving) return null;
    collect();
    return draft;
  };

  // -- forms -------------------------------------------------------------------------------------------------
  /** What the form is about, in its title, its pick lists and its buttons. */
  const showAbout = (about) => {
    $("[data-record-title]").textContent = drafts.TITLES[draft.form] + (about || draft.id ? `: ${about || draft.id}` : "");
    fields.fillChoices(form, known, about, draft.values);
    for (const choice of $$("[data-about-choice]", form)) {
      const summary = $("summary[data-none]", choice);
      summary.dataset.another ??= summary.textContent;
      summary.textContent = about ? summary.dataset.another : summary.dataset.none;
      choice.open = !about;
    }
    fields.suggestFlush(form, known, about);
    for (const button of $$("[data-new]", form)) {
      const from = button.dataset.new === "clone" ? known.ids[about]?.kind : about;
      button.hidden = draft.revision > 0 || (button.dataset.new === "clone" && !["find", "batch"].includes(from));
      if (button.dataset.new === "culture") button.textContent = about ? "A new culture from it" : "A new culture";
    }
  };

  const open = async (shownDraft) => {
    draft = shownDraft;
    form = $(`[data-form="${CSS.escape(shownDraft.form)}"]`);
    const about = withoutPart(shownDraft.about[0]);
    isTouched = false;
    drafts.lock(shownDraft.record);
    $("[data-choose]").hidden = true;
    for (const other of $$("[data-form]")) other.hidden = other !== form;
    $("[data-savebar]").hidden = false;
    page.dataset.unsaved = "";
    journalScript("static/js/record-doubts.js").then(() => journalDoubts.checkClock(page, known.parts), () => null);
    fields.showUnits(form, known);
    showAbout(about);
    const { where, ...others } = shownDraft.values;
    const isPlaced = shownDraft.placed && where;
    const isFound = isPlaced || position.resume(shownDraft);
    if (isPlaced) known.places.unshift({ name: shownDraft.placed, where }); // as it was known then
    kept = fields.fill(form, isFound ? { ...shownDraft, values: others } : shownDraft);
    shownWhen = /^\d{4}-\d{2}-\d{2} \d{2}:\d{2}/.exec(shownDraft.date)?.[0].replace(" ", "T") ?? "";
    $("[data-when]", form).value = shownWhen;
    fields.showMethod(form);
    const words = $("[data-about-words]", form);
    if (words) words.hidden = Boolean(about);
    await photos.open(form, shownDraft);
    if (shownDraft.form === "find") collect(); // which asks for the position, if none is typed
    scrollTo(0, 0);
  };

  let shared = null; // a draft with photos from another app, of which nobody has said yet what they show

  const start = async (name, about = []) => {
    const newDraft = drafts.newDraft(name, about);
    newDraft.id = WITH_ID.includes(newDraft.kind) ? await idOfLabel() : null;
    return open(shared ? { ...shared, form: newDraft.form, kind: newDraft.kind, id: newDraft.id, about } : newDraft);
  };

  // -- saving ------------------------------------------------------------------------------------------------
  const labelled = () => (query.get("id") ? globalThis.journalLabel.read(query.get("id"), []) : null);

  /** The ID of a label that led here (`?id=B-034`), where nothing bears it yet. */
  const idOfLabel = async () => {
    const named = labelled();
    const taken = [...Object.keys(known.ids), ...(await records.usedIds())].map((id) => id.toLowerCase());
    if (!named || named.part || taken.includes(named.id.toLowerCase())) return null;
    return Object.keys(known.reserved ?? {}).find((id) => id.toLowerCase() === named.id.toLowerCase()) ?? named.id;
  };

  const assignId = async () => {
    if (draft.id || !WITH_ID.includes(draft.kind)) return;
    const { from, method } = draft.values;
    const parent = [from].flat()[0]?.split(",")[0];
    const outbox = [...(await records.usedIds()), ...Object.keys(known.reserved ?? {})];
    const suffix = await records.device(Object.keys(known.ids));
    draft.id = entries.nextId(draft.kind, { series: known.series, known: known.ids, outbox, today: new Date(), suffix, parent, method });
  };

  const suggested = () => {
    const flush = $("[name=flush]", form);
    if (flush && draft.values.harvest && !draft.values.flush) draft.values.flush = flush.dataset.suggested;
    if (draft.form === "new culture" && known.ids[withoutPart(draft.values.from)]?.kind === "culture") draft.values.method ??= "transfer";
  };

  /** Saves by what `work` does, which gives the record and whether its position is still awaited; the form rests. */
  const saveWith = async (work) => {
    saving = form.inert = true;
    try {
      const [record, waitsForPosition] = await work();
      close();
      saved.show(record, waitsForPosition);
    } catch (fault) {
      if (fault.kind === "changed") askWhich(fault.now);
      else say(`Not saved: ${fault.message} What you entered stays here.`);
    } finally {
      saving = form.inert = false;
    }
  };

  const save = async () => {
    if (saving || !draft) return;
    const tapped = performance.now();
    drafts.finishStoring();
    const wrong = fields.fault(form);
    if (wrong) {
      wrong.control.focus();
      return say(wrong.says, true);
    }
    const before = (await records.history(draft.record).catch(() => [])).at(-1);
    await photos.settled();
    await drafts.store();
    if (saving || !draft) return;
    const missing = fields.lacks(draft);
    if (missing) return say(missing, true);
    if (globalThis.journalDoubts?.asks(form, draft, known, { before, tapped })) return say(null);
    await saveWith(async () => {
      collect();
      suggested();
      await drafts.finishStoring();
      await assignId();
      const waitsForPosition = draft.kind === "find" && (!draft.values.where || draft.placed) && position.isAsked();
      return [await records.save(draft), waitsForPosition];
    });
  };

  /** Another tab has saved this record since its form was opened here: which of both is to be kept, or both. */
  const askWhich = (now) => {
    const whose = now.id ? `Keep both saves yours as a note about ${now.id}.` : "Keep both saves yours as a record of its own.";
    $("[data-changed-words]").textContent = `This record was changed in another tab at ${now.saved.slice(11, 16)}. ${whose}`;
    $("[data-savebar]").hidden = true;
    $("[data-changedbar]").hidden = false;
    $("[data-keep-both]").focus();
  };

  const resolveConflict = async (how) => {
    if (saving || !draft) return;
    await saveWith(async () => [how === "both" ? await records.saveBeside(draft) : await records.save(draft, { over: true }), false]);
  };

  const close = () => {
    say(null);
    draft = null;
    photos.close();
    form.hidden = true;
    form.reset();
    delete page.dataset.unsaved;
    dispatchEvent(new Event("journalsaved")); // an update that has come meanwhile is offered now
    $("[data-savebar]").hidden = $("[data-changedbar]").hidden = true;
  };

  // -- beginning ---------------------------------------------------------------------------------------------
  const openAgain = (shownDraft) => {
    say("This was not saved yet, and is open again.");
    return open(shownDraft);
  };

  const begin = async () => {
    await drafts.restoreUnsaved().catch(() => undefined);
    const unsaved = await drafts.list($("[data-unfinished]"));
    const edited = query.get("edit");
    if (edited) {
      const changed = unsaved.find((row) => row.record === edited); // before, and not saved yet
      if (changed?.form) return openAgain(changed);
      const row = changed?.kind ? changed : (await records.latest()).find(({ record }) => record === edited);
      if (row) return open({ ...row, form: drafts.formOf(row, known.ids) });
    }
    const storedDraft = unsaved.find((row) => row.record === query.get("draft"));
    const about = query.get("about");
    const name = drafts.formFor(query.get("kind"), about, known.ids);
    if (storedDraft?.form) return open(storedDraft);
    if (storedDraft) {
      shared = storedDraft;
      const sentence = storedDraft.photos.length === 1 ? "A photo is stored here, shared" : `${storedDraft.photos.length} photos are stored here, shared`;
      say(`${sentence} from another app. What is in front of you? If you did not share it, delete it.`);
      $("[data-choose]").prepend($("[data-unfinished]"));
    }
    const isLocked = await drafts.lockedElsewhere();
    const free = unsaved.filter((row) => row.form && !row.revision && !isLocked(row.record));
    const ofLabel = labelled() && free.find((row) => row.id?.toLowerCase() === labelled().id.toLowerCase());
    if (ofLabel) return openAgain(ofLabel);
    const same = !labelled() && free.find((row) => row.form === name && withoutPart(row.about[0]) === (about ?? ""));
    if (same && !shared) return openAgain(same);
    if (name) return start(name, about ? [about] : []);
    if (unsaved.length === 1 && unsaved[0].form && !query.size) return openAgain(unsaved[0]);
    if (labelled()) say(`What is ${labelled().id}?`);
    $("[data-choose]").hidden = false;
    return null;
  };

  const moved = (isSettled) => {
    if (draft && (isTouched || draft.draft)) drafts.storeSoon();
    else if (!draft && isSettled) saved.improve(position.later());
  };

  const listen = () => {
    page.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (!button) return;
      if (button.dataset.kind) start(button.dataset.kind);
      if (button.dataset.new) startNew(button.dataset.new);
      if (button.dataset.step) stepped(button);
      if ("save" in button.dataset) save();
      if ("cancel" in button.dataset) cancel();
      if ("keep" in button.dataset) showCancelling(false);
      if ("drop" in button.dataset) drop();
      if ("keepBoth" in button.dataset) resolveConflict("both");
      if ("useMine" in button.dataset) resolveConflict("mine");
    });
    page.addEventListener("input", (event) => {
      if (event.target.dataset.add || !draft) return;
      touch();
      if (event.target.name === "about") showAbout(event.target.value);
      if (draft.kind === "find") collect(); // which says whose position is used
      if (event.target.name === "method") fields.showMethod(form);
      drafts.storeSoon();
    });
    page.addEventListener("change", (event) => {
      const { dataset, files } = event.target;
      if (!dataset.add || !files.length) return;
      const chosen = [...files];
      event.target.value = "";
      touch();
      photos.add(chosen, dataset.add);
    });
    page.addEventListener("click", (event) => event.target.dataset?.add && drafts.store()); // before the camera opens
    page.addEventListener("submit", (event) => event.preventDefault());
    document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && drafts.store());
    addEventListener("pagehide", drafts.storeOnLeaving);
  };

  /** Another form for what was begun: its photos and words come along. */
  const startNew = async (what) => {
    drafts.finishStoring();
    await photos.settled();
    await drafts.store();
    const { record, photos: taken, thumb, text, revision, about: [about] } = draft; // prettier-ignore
    const next = drafts.newDraft(what === "batch" ? "new batch" : "new culture", []);
    if (["culture", "clone"].includes(what) && about) next.values.from = about;
    const method = { culture: about && "transfer", clone: "tissue", received: "received" }[what];
    if (method) next.values.method = method;
    const isNew = revision === 0; // a saved record that is being edited stays what it is
    if (isNew) Object.assign(next, { record, photos: taken, thumb, text });
    await open(next);
    isTouched = isNew && text !== "";
    if (isNew && (taken.length || text)) await drafts.store();
    else if (isNew) await records.dropDraft(record);
  };

  const stepped = (button) => {
    touch();
    fields.step(button);
    drafts.storeSoon();
  };

  const showCancelling = (asks) => {
    $("[data-savebar]").hidden = asks;
    $("[data-cancelbar]").hidden = !asks;
    const count = draft.photos.length;
    const andPhotos = count > 1 ? `, and its ${count} photos` : count ? ", and its photo" : "";
    $("[data-cancel-words]").textContent = draft.revision > 0 ? "Discard these changes? The record stays as it was saved." : `Delete what you entered${andPhotos}?`;
    $(asks ? "[data-keep]" : "[data-cancel]").focus();
  };

  const cancel = () => (isTouched || (draft.photos.length && !draft.revision) || draft.draft ? showCancelling(true) : drop());

  const drop = async () => {
    drafts.finishStoring();
    position.stop();
    if (!draft || saving) return;
    const { record, revision, about } = draft;
    draft = null;
    photos.close();
    await photos.settled(); // a photo that is still being stored would bring the draft back
    await drafts.finishStoring();
    await records.dropDraft(record).catch(() => null);
    const back = known.ids[withoutPart(about[0])]?.address;
    location.assign(revision > 0 ? "outbox/index.html" : back ? new URL(back, root).href : "index.html");
  };

  const readJson = async (path) => {
    const answer = await fetch(new URL(path, root), { cache: "no-cache" });
    if (!answer.ok) throw new Error(`${path} could not be read`);
    return answer.json();
  };

  const readKnown = () => readJson("record/data.json").then((data) => entries.known(data, readJson)).catch(() => known);

  const main = async () => {
    const why = $("[data-record-why]");
    try {
      if (!location.protocol.startsWith("http")) throw new Error("This copy is opened from a folder. Records are made in the journal opened from its web address.");
      const refusal = globalThis.journalDatabase.refusal();
      if (refusal) throw new Error(refusal);
      records = globalThis.journalRecords(root);
      if (query.get("id")) await journalScript("static/js/label-code.js");
      known = { ...known, ...(await readKnown()) };
      const { says, persisted } = await records.selfTest();
      if (says) throw new Error(says);
      $("[data-record-private]").hidden = persisted || (await records.latest()).length > 0; // no browser tells whether it is one
    } catch (fault) {
      why.textContent = fault.message;
      return;
    }
    why.hidden = true;
    fields.suggestNames(page, known);
    fields.learn(known, await records.latest());
    drafts = globalThis.journalDrafts(records, { root, say, current });
    photos = globalThis.journalPhotos(records, { say, store: drafts.store, added: () => draft.form === "find" && position.consider(draft) });
    position = globalThis.journalPosition.panel(page, moved);
    saved = globalThis.journalSaved(page, { records, known, root, say });
    fields.listen(page);
    listen();
    await begin();
  };

  const started = main();
  globalThis.journalWait?.(started);
})();
