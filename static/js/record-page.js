/* The page Record: what is in front of the author, then a form that is stored as it is filled in, then a record.

   The address may say what it is about: ?kind=batch&about=B-031, ?edit=<record>, ?draft=<record>.
   A control's name is a key of the entry. These are read here: `part` (which unit), `<key> other` (typed beside a pick
   list), `about`. What the controls do by themselves is in record-fields.js. */
"use strict";

(() => {
  const page = document.querySelector("[data-record-page]");
  const root = new URL(document.documentElement.dataset.root || "./", location.href);
  const entries = globalThis.journalEntry;
  const fields = globalThis.journalFields;
  const asked = new URLSearchParams(location.search);
  const $ = (selector, within = page) => within.querySelector(selector);
  const $$ = (selector, within = page) => [...within.querySelectorAll(selector)];
  const KIND_OF_FORM = { "new batch": "batch", "new culture": "culture", batch: "note", culture: "note" };

  let records = null;
  let known = { ids: {}, series: {}, species: [], places: [], media: [], causes: [], stages: {}, due: [], units: "metric" };
  let form = null;
  let draft = null;
  let position = null; // {stop} while it is asked for
  let fix = null;
  let isTouched = false; // something was entered since the form was opened
  let kept = {}; // values of an edited record that its form has no control for
  let storing = Promise.resolve();
  let shownWhen = "";
  let saving = false;
  let adding = Promise.resolve(); // photos on their way into the draft
  const thumbs = new Map(); // photo -> the URL it is shown by

  const whole = (id = "") => id.replace(/\.\d+$/, "");

  const say = (words) => {
    const place = $("[data-record-status]");
    place.textContent = words ?? "";
    place.hidden = !words;
  };

  // -- drafts ------------------------------------------------------------------------------------------------
  const newDraft = (name, about) => ({
    record: crypto.randomUUID(),
    revision: 0,
    form: name,
    kind: KIND_OF_FORM[name] ?? name,
    id: null,
    about,
    date: entries.moment(new Date()),
    values: {},
    text: "",
    photos: [],
    thumb: null,
    removed: null,
  });


  const isMeant = (control) => control.name && fields.isPicked(control) && control.value.trim() !== "";

  const withUnit = (control) => {
    const typed = control.value.trim();
    return control.dataset.unit ? (entries.quantity(typed, control.dataset.unit) ?? typed) : typed;
  };

  /** What the form says, in the draft. */
  const collect = () => {
    const values = { ...kept };
    const lists = new Set([...form.elements].filter(fields.isList).map((control) => control.name));
    for (const control of form.elements) {
      if (!isMeant(control) || control.dataset.add || control.closest("[hidden]")) continue;
      const key = control.name.replace(/ other$/, "");
      values[key] = lists.has(key) ? [...(values[key] ?? []), withUnit(control)] : withUnit(control);
    }
    const { text = "", about, part, ...rest } = values;
    if (about) {
      const others = about === whole(draft.about[0]) ? draft.about.slice(1) : [];
      draft.about = [part ? `${about}.${part}` : about, ...others];
    } else if (part && draft.about.length) {
      draft.about = [`${whole(draft.about[0])}.${part}`, ...draft.about.slice(1)];
    }
    if (draft.kind === "find" && !rest.where && fix && $("[data-position-use]", form).checked) {
      rest.where = entries.position({ latitude: fix.lat, longitude: fix.lon, accuracy: fix.accuracy });
    }
    draft.text = text;
    draft.values = rest;
    const when = $("[data-when]", form).value;
    const isChanged = when && when !== shownWhen; // else its offset stays the one that it was written with
    if (isChanged && /^\d{4}-/.test(when)) draft.date = entries.moment(new Date(when));
  };

  /** Stores the draft, one storing after the other. */
  const store = () => {
    if (!draft || saving) return storing; // what is being saved would come back as a draft
    collect();
    const held = draft;
    const upTo = changes;
    const work = () => records.saveDraft(held).then(() => (storedChanges = upTo));
    storing = storing.then(work).catch((fault) => say(fault.message));
    return storing;
  };

  let waiting = null;
  let changes = 0;
  let storedChanges = 0;
  const storeSoon = () => {
    changes += 1;
    clearTimeout(waiting);
    waiting = setTimeout(store, 250);
  };

  /** What was typed last when the page ends: a transaction that is begun then no longer comes to its end. */
  const LEFT = `journal typed ${root.pathname} `;

  const leave = () => {
    if (!draft || saving || changes === storedChanges) return;
    collect();
    const { photos, thumb, ...typed } = draft;
    try {
      localStorage.setItem(LEFT + draft.record, JSON.stringify(typed));
    } catch {
      // blocked or full: what the last quarter of a second has brought is lost
    }
  };

  /** Puts that into its draft, unless the record was saved in another tab meanwhile. */
  const takeLeft = async () => {
    for (const key of Object.keys(localStorage).filter((name) => name.startsWith(LEFT))) {
      const typed = JSON.parse(localStorage.getItem(key));
      if ((await records.history(typed.record)).length <= typed.revision) await records.saveDraft(typed);
      localStorage.removeItem(key);
    }
  };

  // -- photos ------------------------------------------------------------------------------------------------
  /** Reads each photo once; one whose bytes are gone, or that the browser cannot draw, keeps its place in the list. */
  const urlOf = async ({ photo, type }) => {
    if (!thumbs.has(photo)) {
      const bytes = await records.photoBytes(photo).catch(() => null);
      thumbs.set(photo, bytes ? URL.createObjectURL(new Blob([bytes], { type })) : "");
    }
    return thumbs.get(photo);
  };

  const dropPhoto = async (photo) => {
    const held = draft;
    await store();
    held.photos = (await records.dropPhoto(held.record, photo)).photos;
    if (draft === held) await showPhotos();
  };

  const showPhotos = async () => {
    const held = draft;
    const items = [];
    for (const [at, photo] of held.photos.entries()) {
      const item = document.createElement("li");
      const picture = document.createElement("img");
      Object.assign(picture, { src: await urlOf(photo), alt: `Photo ${at + 1}`, width: 96, height: 96 });
      const remove = document.createElement("button");
      Object.assign(remove, { type: "button", textContent: "Remove" });
      remove.setAttribute("aria-label", `Remove photo ${at + 1}`);
      remove.addEventListener("click", () => dropPhoto(photo).catch((fault) => say(fault.message)));
      item.append(picture, remove);
      items.push(item);
    }
    if (draft === held && items.length === held.photos.length) $("[data-taken]", form).replaceChildren(...items);
  };

  const addPhotos = async (files, source) => {
    const status = $("[data-photo-status]", form);
    isTouched = true;
    const held = draft;
    for (const [at, file] of files.entries()) {
      if (draft !== held) return;
      status.hidden = false;
      status.textContent = `Storing photo ${at + 1} of ${files.length} …`;
      try {
        await store();
        held.photos = (await records.addPhoto(held, file, { source, name: file.name })).draft.photos;
      } catch (fault) {
        say(`${file.name} was not stored: ${fault.message}`);
      }
    }
    status.hidden = true;
    if (draft !== held) return;
    await showPhotos();
    askAboutPosition();
  };

  // -- position ----------------------------------------------------------------------------------------------
  const fromElsewhere = () => draft.photos.length > 0 && draft.photos.every((photo) => photo.source !== "camera");

  const FRESH_MS = 15 * 60000;

  /** The present position is that of the find only while the find is new. */
  const isFresh = () => Math.abs(Date.now() - Date.parse(draft.date.replace(" ", "T"))) < FRESH_MS;

  /** A photo from the gallery, or a find that was begun some time ago, may be from another place: the present position
      is then only taken on a tap. */
  const askAboutPosition = () => {
    const use = $("[data-position-use]", form);
    if (!use || "touched" in use.dataset) return;
    use.checked = !fromElsewhere() && isFresh();
    const asks = fromElsewhere() ? "The photo was taken here: use this position" : "The find is here: use this position";
    $("span", use.parentElement).textContent = use.checked ? "Use this position" : asks;
  };

  const showPosition = (state) => {
    fix = state.fix ?? fix;
    const words = $("[data-position-words]");
    const accuracy = fix && Math.ceil(fix.accuracy);
    const better = state.waiting ? ", still improving" : "";
    const sort = accuracy > 200 ? "approximate area" : "position";
    words.textContent = fix
      ? `This ${sort}: ±${accuracy} m${better}`
      : (state.fault ?? "Waiting for a position; saving does not wait for it");
    $("[data-position-use]").parentElement.hidden = !fix && Boolean(state.fault);
    $("[data-position-again]").hidden = state.waiting || Boolean(fix && accuracy <= 50);
    if (draft && isTouched) storeSoon();
    else if (fix && saved?.awaits && !state.waiting) improveSaved();
  };

  const askPosition = () => {
    position?.stop();
    position = globalThis.journalPosition.watch(showPosition);
  };

  // -- forms -------------------------------------------------------------------------------------------------
  /** A value that is no longer offered, as of a batch that is over by now, is offered on this record still. */
  const offer = (key, value) => {
    const there = $$(`[name="${CSS.escape(key)}"]`, form);
    if (!value || there[0]?.type !== "radio" || $(`[name="${CSS.escape(`${key} other`)}"]`, form)) return;
    if (!there.some((input) => input.value === String(value))) there[0].closest(".chips").append(fields.chip("radio", key, String(value)));
  };

  const fill = (record) => {
    form.reset();
    const values = { ...record.values, text: record.text, about: whole(record.about[0]), part: record.about[0]?.split(".")[1] };
    for (const [key, value] of Object.entries(values)) offer(key, value);
    const names = new Set([...form.elements].map((control) => control.name));
    kept = Object.fromEntries(Object.entries(record.values).filter(([key]) => !names.has(key)));
    for (const control of form.elements) {
      const value = values[control.name];
      if (value === undefined || control.dataset.add) continue;
      if (control.type === "radio") control.checked = control.value === String(value);
      else if (control.type === "checkbox") control.checked = [value].flat().includes(control.value);
      else control.value = Array.isArray(value) ? value.join(", ") : value;
    }
    for (const [key, value] of Object.entries(record.values)) {
      const other = $(`[name="${CSS.escape(`${key} other`)}"]`, form);
      const picked = $$(`[name="${CSS.escape(key)}"]:checked`, form).map((input) => input.value);
      if (other) other.value = [value].flat().filter((one) => !picked.includes(one)).join(", "); // prettier-ignore
    }
    const when = /^(\d{4}-\d{2}-\d{2}) (\d{2}:\d{2})/.exec(record.date);
    shownWhen = when ? `${when[1]}T${when[2]}` : "";
    $("[data-when]", form).value = shownWhen;
    for (const details of $$("details:not([data-about-choice])", form)) {
      details.open = $$("input", details).some((input) => fields.isPicked(input) && input.value !== "");
    }
  };

  const TITLES = { find: "A find", batch: "A batch", "new batch": "A new batch", culture: "A culture", "new culture": "A new culture", tent: "The tent", note: "A note" };

  /** What the form is about, in its title, its pick lists and its buttons. */
  const showAbout = (about) => {
    $("[data-record-title]").textContent = TITLES[draft.form] + (about ? `: ${about}` : "");
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

  /** While a form is open here, no other tab opens the same draft by itself. */
  const hold = (record) => navigator.locks?.request(lockOf(record), { ifAvailable: true }, () => new Promise(() => {}));
  const lockOf = (record) => `record ${root.pathname} ${record}`;

  const open = async (held) => {
    draft = held;
    form = $(`[data-form="${CSS.escape(held.form)}"]`);
    const about = whole(held.about[0]);
    isTouched = false;
    hold(held.record);
    $("[data-choose]").hidden = true;
    for (const other of $$("[data-form]")) other.hidden = other !== form;
    $("[data-savebar]").hidden = false;
    page.dataset.unsaved = "";
    fields.showUnits(form, known);
    showAbout(about);
    fill(held);
    fields.showMethod(form);
    const words = $("[data-about-words]", form);
    if (words) words.hidden = Boolean(about);
    await showPhotos();
    if (held.form === "find") $("[data-position]").hidden = Boolean(held.values.where);
    if (held.form === "find" && !held.values.where) {
      askAboutPosition();
      askPosition();
    }
    scrollTo(0, 0);
  };

  let shared = null; // a draft with photos from another app, of which nobody has said yet what they show

  const start = (name, about = []) => {
    const { form: named, kind } = newDraft(name, about);
    return open(shared ? { ...shared, form: named, kind, about } : newDraft(name, about));
  };

  // -- saving ------------------------------------------------------------------------------------------------
  let saved = null;

  const suffixed = async () => {
    const outbox = await records.usedIds();
    const suffix = await records.device(Object.keys(known.ids));
    return { series: known.series, known: known.ids, outbox, today: new Date(), suffix };
  };

  const giveId = async () => {
    if (draft.id || !["find", "culture", "batch"].includes(draft.kind)) return;
    const parent = draft.kind === "culture" ? ([draft.values.from].flat()[0]?.split(",")[0] ?? null) : null;
    draft.id = entries.nextId(draft.kind, { ...(await suffixed()), parent });
  };

  const suggested = () => {
    const flush = $("[name=flush]", form);
    if (flush && draft.values.harvest && !draft.values.flush) draft.values.flush = flush.dataset.suggested;
    if (draft.form === "new culture" && known.ids[whole(draft.values.from)]?.kind === "culture") draft.values.method ??= "transfer";
  };

  const lacks = () => {
    const { values, photos, text, about, form: name } = draft;
    if (["batch", "culture", "tent"].includes(name) && !about.length) return `Choose the ${name} first.`;
    if (name === "new batch" && !values.culture) return "Choose the culture it was inoculated with.";
    if (name === "new culture" && !values.from && !values["received from"]) return "Choose what it was taken from, or say from whom it was received.";
    if (values.certainty === "confirmed" && !values["identified by"]) return "Say who identified it and how, or choose likely: “confirmed” needs that.";
    if (values.where && !/\d\D+\d/.test(values.where)) return `“${values.where}” is not a position: write 58.30412, -8.90177 or a grid reference, or name the spot under Place.`;
    const said = Object.keys(values).some((key) => key !== "flush");
    return said || photos.length || text ? null : "There is nothing to save yet: add a photo, a choice or a few words.";
  };

  const badNumber = () =>
    $$("[data-unit]", form).find((input) => input.value.trim() && entries.quantity(input.value, input.dataset.unit) === null);

  const save = async () => {
    if (saving || !draft) return;
    clearTimeout(waiting);
    const wrong = badNumber();
    if (wrong) {
      wrong.focus();
      say(`“${wrong.value}” is not a number with a unit; write it as 412 or 1.2 ${wrong.dataset.unit}.`);
      return;
    }
    await adding;
    await store();
    if (saving || !draft) return;
    const missing = lacks();
    if (missing) {
      say(missing);
      return;
    }
    saving = form.inert = true;
    try {
      collect();
      suggested();
      await storing;
      await giveId();
      const awaits = draft.kind === "find" && !draft.values.where && position !== null && $("[data-position-use]", form).checked;
      const record = await records.save(draft);
      saved = { record, awaits };
      showSaved(record);
    } catch (fault) {
      say(`Not saved: ${fault.message} What you entered stays here.`);
    } finally {
      saving = form.inert = false;
    }
  };

  /** What the record holds now, and what a find still lacks. */
  const showSavedFacts = (record) => {
    const photos = record.photos.length ? [record.photos.length === 1 ? "1 photo" : `${record.photos.length} photos`] : [];
    const facts = Object.entries(record.values).map(([key, value]) => `${key}: ${[value].flat().join(", ")}`);
    $("[data-saved-facts]").textContent = [...photos, ...facts].join(" · ");
    const missing = { "a photo": record.photos.length, "a position": record.values.where, "a species": record.values.species };
    const absent = Object.keys(missing).filter((name) => !missing[name]);
    $("[data-saved-lacks]").hidden = record.kind !== "find" || absent.length === 0;
    $("[data-saved-lacks]").textContent = `It has no ${absent.map((name) => name.slice(2)).join(" and no ")} yet.${saved.awaits ? " The position is added when it comes, while this page is open." : ""}`;
  };

  const showSaved = (record) => {
    say(null);
    draft = null;
    form.hidden = true;
    form.reset();
    delete page.dataset.unsaved;
    $("[data-savebar]").hidden = true;
    $("[data-record-title]").textContent = "Saved";
    $("[data-saved-panel]").hidden = false;
    $("[data-saved-edit]").href = `index.html?edit=${record.record}`;
    const words = $("[data-saved-words]");
    words.textContent = record.id ? `Write ${record.id} on its label` : record.about.join(", ") || "A note";
    showSavedFacts(record);
    const back = known.ids[whole(record.about[0])];
    $("[data-saved-page]").hidden = !back?.address;
    if (back?.address) Object.assign($("[data-saved-page]"), { textContent: `Back to ${whole(record.about[0])}`, href: new URL(back.address, root).href });
    navigator.storage?.persisted?.().then((lasting) => ($("[data-saved-risk]").hidden = lasting));
    words.focus();
    scrollTo(0, 0);
  };

  /** A position that came after Save is a further revision of the find. */
  const improveSaved = async () => {
    const { record } = saved;
    saved.awaits = false;
    const where = entries.position({ latitude: fix.lat, longitude: fix.lon, accuracy: fix.accuracy });
    try {
      const [latest, drafts] = [await records.latest(), await records.drafts()];
      const now = latest.find((row) => row.record === record.record); // it may have been changed or deleted meanwhile
      const isOpen = drafts.some((row) => row.record === record.record);
      if (now && !now.values.where && !isOpen) showSavedFacts(await records.save({ ...now, values: { ...now.values, where } }));
    } catch (fault) {
      say(fault.message);
    }
  };

  // -- beginning ---------------------------------------------------------------------------------------------
  const listDrafts = async () => {
    const drafts = await records.drafts();
    $("[data-unfinished]").hidden = drafts.length === 0;
    const rows = drafts.map((row) => {
      const item = document.createElement("li");
      item.className = "row";
      const link = document.createElement("a");
      link.className = "button";
      link.href = `index.html?draft=${row.record}`;
      link.textContent = `Continue: ${TITLES[row.form] ?? "Shared photos"}, ${(row.date ?? "").slice(0, 16)}`;
      const drop = document.createElement("button");
      Object.assign(drop, { type: "button", textContent: "Delete" });
      drop.addEventListener("click", () => records.dropDraft(row.record).then(listDrafts));
      item.append(link, drop);
      return item;
    });
    $("[data-drafts]").replaceChildren(...rows);
    return drafts;
  };

  const formFor = (kind, about) => {
    if (kind && Object.hasOwn(TITLES, kind)) return kind;
    return { find: "note", batch: "batch", culture: "culture", tent: "tent", device: "note" }[known.ids[about]?.kind] ?? null;
  };

  const formOf = (record) => {
    if (record.form) return record.form;
    if (record.kind !== "note") return record.id && record.kind !== "find" ? `new ${record.kind}` : record.kind;
    return { batch: "batch", culture: "culture" }[known.ids[whole(record.about[0])]?.kind] ?? "note";
  };

  const openAgain = (held) => {
    say("This was not saved yet, and is open again.");
    return open(held);
  };

  const begin = async () => {
    await takeLeft().catch(() => undefined);
    const drafts = await listDrafts();
    const edited = asked.get("edit");
    const opened = drafts.find((row) => row.record === edited && row.form);
    if (opened) return openAgain(opened);
    if (edited) {
      const begun = drafts.find((row) => row.record === edited); // changed before, and not saved yet
      if (begun?.kind) return open({ ...begun, form: formOf(begun) });
      const latest = (await records.latest()).find((record) => record.record === edited);
      if (latest) return open({ ...latest, form: formOf(latest) });
    }
    const wanted = drafts.find((row) => row.record === asked.get("draft"));
    const about = asked.get("about");
    const name = formFor(asked.get("kind"), about);
    if (wanted?.form) return open(wanted);
    if (wanted) {
      shared = wanted;
      say(`${wanted.photos.length === 1 ? "A photo is" : `${wanted.photos.length} photos are`} stored here. What is in front of you?`);
    }
    const elsewhere = new Set(((await navigator.locks?.query())?.held ?? []).map((lock) => lock.name));
    const free = drafts.filter((row) => row.form && !row.revision && !elsewhere.has(lockOf(row.record)));
    const same = free.find((row) => row.form === name && whole(row.about[0]) === (about ?? undefined));
    if (same && !shared) return openAgain(same);
    if (name) return start(name, about ? [about] : []);
    if (drafts.length === 1 && drafts[0].form && !asked.size) return openAgain(drafts[0]);
    $("[data-choose]").hidden = false;
    return null;
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
      if ("positionAgain" in button.dataset) askPosition();
    });
    page.addEventListener("input", (event) => {
      if (event.target.matches("[data-position-use]")) event.target.dataset.touched = "";
      if (event.target.dataset.add || !draft) return;
      isTouched = true;
      if (event.target.name === "about") showAbout(event.target.value);
      if (event.target.name === "method") fields.showMethod(form);
      storeSoon();
    });
    page.addEventListener("change", (event) => {
      const { dataset, files } = event.target;
      if (!dataset.add || !files.length) return;
      const chosen = [...files];
      event.target.value = "";
      adding = adding.then(() => draft && addPhotos(chosen, dataset.add)).catch((fault) => say(fault.message));
    });
    page.addEventListener("click", (event) => event.target.dataset?.add && store()); // before the camera opens
    page.addEventListener("submit", (event) => event.preventDefault());
    document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && draft && store());
    addEventListener("pagehide", leave);
  };

  /** Another form for what was begun: its photos and words come along. */
  const startNew = async (what) => {
    clearTimeout(waiting);
    await adding;
    await store();
    const { record, photos, thumb, text, revision, about: [about] } = draft; // prettier-ignore
    const next = newDraft(what === "batch" ? "new batch" : "new culture", []);
    if (["culture", "clone"].includes(what) && about) next.values.from = about;
    const method = { culture: about && "transfer", clone: "tissue", received: "received" }[what];
    if (method) next.values.method = method;
    const isNew = revision === 0; // a saved record that is being edited stays what it is
    if (isNew) Object.assign(next, { record, photos, thumb, text });
    await open(next);
    isTouched = isNew && text !== "";
    if (isNew && (photos.length || text)) await store();
    else if (isNew) await records.dropDraft(record);
  };

  const stepped = (button) => {
    isTouched = true;
    fields.step(button);
    storeSoon();
  };

  const showCancelling = (asks) => {
    $("[data-savebar]").hidden = asks;
    $("[data-cancelbar]").hidden = !asks;
    const photos = draft.photos.length ? `, and ${draft.photos.length === 1 ? "its photo" : `its ${draft.photos.length} photos`}` : "";
    $("[data-cancel-words]").textContent = draft.revision > 0 ? "Discard these changes? The record stays as it was saved." : `Delete what you entered${photos}?`;
    $(asks ? "[data-keep]" : "[data-cancel]").focus();
  };

  const cancel = () => (isTouched || (draft.photos.length && !draft.revision) || draft.draft ? showCancelling(true) : drop());

  const drop = async () => {
    clearTimeout(waiting);
    position?.stop();
    if (!draft || saving) return;
    const { record, revision, about } = draft;
    draft = null;
    await adding; // a photo that is still being stored would bring the draft back
    await storing;
    await records.dropDraft(record).catch(() => null);
    const back = known.ids[whole(about[0])]?.address;
    location.assign(revision > 0 ? "outbox/index.html" : back ? new URL(back, root).href : "index.html");
  };

  /** What is on this device only is known here too: its IDs can be chosen, and its harvests count. */
  const addRecorded = async () => {
    for (const { id, kind, values, about, date } of await records.latest()) {
      const units = Number(values.units) || undefined;
      if (id && !known.ids[id]) known.ids[id] = { kind, species: values.species, form: values.form, units, unit: values.container };
      const own = known.ids[whole(about[0])];
      const day = (date ?? "").slice(0, 10);
      if (own && values.flush && day >= (own.flush_date ?? "")) Object.assign(own, { flush: Number(values.flush), flush_date: day });
    }
  };

  const knownHere = () => fetch(new URL("record/data.json", root), { cache: "no-cache" }).then((answer) => (answer.ok ? answer.json() : known)).catch(() => known);

  const main = async () => {
    const why = $("[data-record-why]");
    if (!location.protocol.startsWith("http")) {
      why.textContent = "This copy is opened from a folder. Records are made in the journal opened from its web address.";
      return;
    }
    const iOsTab = "standalone" in navigator && !navigator.standalone;
    if (iOsTab) {
      why.textContent = "This browser deletes the data of a tab, so nothing is recorded here. Press Share, then Add to Home Screen, and record in the installed journal.";
      return;
    }
    records = globalThis.journalRecords(root);
    try {
      known = { ...known, ...(await knownHere()) };
      const { says } = await records.selfTest();
      if (says) throw new Error(says);
    } catch (fault) {
      why.textContent = fault.message;
      return;
    }
    why.hidden = true;
    for (const [list, names] of [["species", known.species], ["places", known.places.map((place) => place.name)], ["media", known.media], ["causes", known.causes]]) {
      $(`#known-${list}`).replaceChildren(...names.map((name) => Object.assign(document.createElement("option"), { value: name })));
    }
    await addRecorded();
    fields.listen(page);
    listen();
    await begin();
  };

  main();
})();
