/* The page Record: what is in front of the author, then a form that is stored as it is filled in, then a record.

   The address may say what it is about: ?kind=batch&about=B-031, ?edit=<record>, ?draft=<record>.
   A control's name is a key of the entry. These are read here: `part` (which unit), `<key> other` (typed beside a pick
   list), `about`. data-unit: the unit put behind a bare number. data-choices: what fills a pick list. */
"use strict";

(() => {
  const page = document.querySelector("[data-record-page]");
  const root = new URL(document.documentElement.dataset.root || "./", location.href);
  const entries = globalThis.journalEntry;
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
  let kept = {}; // values of an edited record that its form has no control for
  let storing = Promise.resolve();
  let thumbs = [];

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

  const isMeant = (control) => control.name && (control.type !== "radio" || control.checked) && control.value.trim() !== "";

  const withUnit = (control) => {
    const typed = control.value.trim();
    return control.dataset.unit ? (entries.quantity(typed, control.dataset.unit) ?? typed) : typed;
  };

  /** What the form says, in the draft. */
  const collect = () => {
    const values = { ...kept };
    for (const control of form.elements) {
      if (isMeant(control) && !control.dataset.add) values[control.name.replace(/ other$/, "")] = withUnit(control);
    }
    const { text = "", about, part, ...rest } = values;
    if (about) draft.about = [about];
    if (part && draft.about.length) draft.about = [`${draft.about[0].replace(/\.\d+$/, "")}.${part}`];
    if (draft.kind === "find" && !rest.where && fix && $("[data-position-use]", form).checked) {
      rest.where = entries.position({ latitude: fix.lat, longitude: fix.lon, accuracy: fix.accuracy });
    }
    draft.text = text;
    draft.values = rest;
    const when = $("[data-when]", form).value;
    if (when) draft.date = entries.moment(new Date(when));
  };

  /** Stores the draft, one storing after the other. */
  const store = () => {
    if (!draft) return storing;
    collect();
    const held = draft;
    storing = storing.then(() => records.saveDraft(held)).catch((fault) => say(fault.message));
    return storing;
  };

  let waiting = null;
  const storeSoon = () => {
    clearTimeout(waiting);
    waiting = setTimeout(store, 250);
  };

  // -- photos ------------------------------------------------------------------------------------------------
  const showPhotos = async () => {
    for (const url of thumbs) URL.revokeObjectURL(url);
    thumbs = [];
    const list = $("[data-taken]", form);
    list.replaceChildren();
    for (const photo of draft.photos) {
      const item = document.createElement("li");
      const picture = document.createElement("img");
      const bytes = await records.photoBytes(photo.photo);
      thumbs.push(URL.createObjectURL(new Blob([bytes], { type: photo.type })));
      Object.assign(picture, { src: thumbs.at(-1), alt: `Photo ${draft.photos.indexOf(photo) + 1}`, width: 96, height: 96 });
      const remove = document.createElement("button");
      Object.assign(remove, { type: "button", textContent: "Remove" });
      remove.setAttribute("aria-label", `Remove photo ${draft.photos.indexOf(photo) + 1}`);
      remove.addEventListener("click", () => {
        store()
          .then(() => records.dropPhoto(draft.record, photo))
          .then((held) => (draft.photos = held.photos))
          .then(showPhotos);
      });
      item.append(picture, remove);
      list.append(item);
    }
  };

  const addPhotos = async (input) => {
    const status = $("[data-photo-status]", form);
    const files = [...input.files];
    input.value = "";
    const held = draft;
    for (const [at, file] of files.entries()) {
      status.hidden = false;
      status.textContent = `Storing photo ${at + 1} of ${files.length} …`;
      try {
        await store();
        held.photos = (await records.addPhoto(held, file, { source: input.dataset.add, name: file.name })).draft.photos;
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

  /** A photo from the gallery may be from another place, so the present position is then only taken on a tap. */
  const askAboutPosition = () => {
    const use = $("[data-position-use]", form);
    if (!use || use.dataset.touched) return;
    use.checked = !fromElsewhere();
    $("span", use.parentElement).textContent = use.checked ? "Use this position" : "The photo was taken here: use this position";
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
    $("[data-position-again]").hidden = state.waiting || Boolean(fix && accuracy <= 50);
    if (draft) storeSoon();
    else if (fix && saved?.awaits && !state.waiting) improveSaved();
  };

  const askPosition = () => {
    position?.stop();
    position = globalThis.journalPosition.watch(showPosition);
  };

  // -- forms -------------------------------------------------------------------------------------------------
  const chip = (key, value, words) => {
    const label = document.createElement("label");
    label.className = "chip";
    const input = document.createElement("input");
    Object.assign(input, { type: "radio", name: key, value });
    const span = document.createElement("span");
    span.textContent = words ?? value;
    label.append(input, span);
    return label;
  };

  const idsOf = (...kinds) => Object.entries(known.ids).filter(([, row]) => kinds.includes(row.kind) && !row.over);

  const named = ([id, row]) => [id, row.species && row.kind !== "tent" ? `${id} ${row.species}` : (row.title ?? id)];

  const choicesOf = (what, about) => {
    const own = known.ids[about] ?? {};
    const parts = Array.from({ length: Math.min(own.units ?? 0, 24) }, (_, at) => [String(at + 1), `${own.unit ?? "unit"} ${at + 1}`]);
    const lists = {
      batches: () => idsOf("batch").map(named),
      cultures: () => idsOf("culture").map(named),
      parents: () => idsOf("culture", "find", "batch").map(named),
      tents: () => idsOf("tent").map(named),
      places: () => known.places.map((place) => [place.name]),
      species: () => known.species.map((name) => [name]),
      media: () => known.media.slice(0, 8).map((name) => [name]),
      causes: () => known.causes.map((name) => [name]),
      parts: () => (parts.length > 1 ? [["", `all ${own.unit ?? "unit"}s`], ...parts] : []),
      services: () => (own.services ?? []).map((name) => [name]),
      "stages.batch": () => (known.stages.batch ?? []).map((name) => [name, name === "resting" ? "between flushes" : name]),
    };
    return lists[what]();
  };

  const FEW = 6;

  const fillChoices = (about) => {
    for (const group of $$("[data-choices]", form)) {
      const chips = $(".chips", group);
      const picked = $("input:checked", group)?.value;
      const choices = choicesOf(group.dataset.choices, about);
      const isAbout = group.dataset.key === "about" && choices.some(([value]) => value === about);
      const few = isAbout ? 1 : FEW; // what it is about is known: the others are a tap away
      if (isAbout) choices.sort(([one], [other]) => (other === about) - (one === about));
      const rows = choices.map(([value, words]) => chip(group.dataset.key, value, words));
      chips.replaceChildren(...rows.slice(0, few));
      if (rows.length > few) {
        const more = document.createElement("details");
        const summary = document.createElement("summary");
        summary.textContent = `${rows.length - few} ${isAbout ? "others" : "more"}`;
        more.append(summary, ...rows.slice(few));
        chips.append(more);
      }
      group.hidden = rows.length === 0;
      for (const input of $$("input", group)) input.checked = input.value === picked;
    }
  };

  const suggestFlush = (about) => {
    const own = known.ids[about] ?? {};
    const input = $("[name=flush]", form);
    if (!input) return;
    const days = own.flush_date ? (Date.now() - Date.parse(own.flush_date)) / 86400000 : 0;
    input.placeholder = String(own.flush ? own.flush + (days > 5 ? 1 : 0) : 1);
    input.dataset.suggested = input.placeholder;
  };

  const fill = (record) => {
    form.reset();
    const values = { ...record.values, text: record.text, about: record.about[0]?.replace(/\.\d+$/, ""), part: record.about[0]?.split(".")[1] };
    const names = new Set([...form.elements].map((control) => control.name));
    kept = Object.fromEntries(Object.entries(record.values).filter(([key]) => !names.has(key)));
    for (const control of form.elements) {
      const value = values[control.name];
      if (value === undefined || control.dataset.add) continue;
      if (control.type === "radio") control.checked = control.value === value;
      else control.value = Array.isArray(value) ? value.join(", ") : value;
    }
    for (const [key, value] of Object.entries(record.values)) {
      const other = $(`[name="${CSS.escape(`${key} other`)}"]`, form);
      if (other && !$(`[name="${CSS.escape(key)}"]:checked`, form)) other.value = value;
    }
    const when = /^(\d{4}-\d{2}-\d{2}) (\d{2}:\d{2})/.exec(record.date);
    if (when) $("[data-when]", form).value = `${when[1]}T${when[2]}`;
    for (const details of $$("details", form)) {
      details.open = $$("input", details).some((input) => (input.type === "radio" ? input.checked : input.value !== ""));
    }
  };

  const TITLES = { find: "A find", batch: "A batch", "new batch": "A new batch", culture: "A culture", "new culture": "A new culture", tent: "The tent", note: "A note" };

  const showUnits = () => {
    if (known.units !== "us") return;
    const us = { g: "oz", kg: "lb", "°C": "°F" };
    for (const input of $$("[data-unit]", form)) {
      const unit = us[input.dataset.unit];
      if (!unit) continue;
      input.dataset.unit = unit;
      $(`[data-unit-of="${CSS.escape(input.name)}"]`, form).textContent = unit;
    }
  };

  const open = async (held) => {
    draft = held;
    form = $(`[data-form="${CSS.escape(held.form)}"]`);
    const about = held.about[0]?.replace(/\.\d+$/, "");
    $("[data-choose]").hidden = true;
    for (const other of $$("[data-form]")) other.hidden = other !== form;
    $("[data-savebar]").hidden = false;
    page.dataset.unsaved = "";
    $("[data-record-title]").textContent = TITLES[held.form] + (about ? `: ${about}` : "");
    showUnits();
    fillChoices(about);
    fill(held);
    suggestFlush(about);
    const words = $("[data-about-words]", form);
    if (words) words.textContent = about ? `About ${about}` : "About nothing in particular; it stands in the diary.";
    await showPhotos();
    if (held.form === "find" && !held.values.where) {
      askAboutPosition();
      askPosition();
    }
    form.scrollIntoView({ block: "nearest" });
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
    if (draft.form === "new culture") draft.values.method ??= known.ids[draft.values.from]?.kind === "culture" ? "transfer" : undefined;
  };

  const lacks = () => {
    const { values, photos, text, about, form: name } = draft;
    if (["batch", "culture", "tent"].includes(name) && !about.length) return `Choose the ${name} first.`;
    if (name === "new batch" && !values.culture) return "Choose the culture it was inoculated with.";
    if (name === "new culture" && !values.from && !values["received from"]) return "Choose what it was taken from, or say from whom it was received.";
    const said = Object.keys(values).some((key) => key !== "flush");
    return said || photos.length || text ? null : "There is nothing to save yet: add a photo, a choice or a few words.";
  };

  const badNumber = () =>
    $$("[data-unit]", form).find((input) => input.value.trim() && entries.quantity(input.value, input.dataset.unit) === null);

  const save = async () => {
    clearTimeout(waiting);
    const wrong = badNumber();
    if (wrong) {
      wrong.focus();
      say(`“${wrong.value}” is not a number with a unit; write it as 412 or 1.2 ${wrong.dataset.unit}.`);
      return;
    }
    await store();
    const missing = lacks();
    if (missing) {
      say(missing);
      return;
    }
    suggested();
    try {
      await giveId();
      const awaits = draft.kind === "find" && !draft.values.where && position !== null && $("[data-position-use]", form).checked;
      const record = await records.save(draft);
      saved = { record, awaits };
      showSaved(record);
    } catch (fault) {
      say(`Not saved: ${fault.message} What you entered stays here.`);
    }
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
    words.textContent = record.id ? `Write ${record.id} on its label` : `Saved: ${record.about.join(", ") || "a note"}`;
    words.focus();
  };

  /** A position that came after Save is a further revision of the find. */
  const improveSaved = async () => {
    const { record } = saved;
    saved.awaits = false;
    const where = entries.position({ latitude: fix.lat, longitude: fix.lon, accuracy: fix.accuracy });
    await records.save({ ...record, values: { ...record.values, where } }).catch((fault) => say(fault.message));
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
      link.textContent = `Continue: ${TITLES[row.form] ?? "Shared photos"}, ${row.date.slice(0, 16)}`;
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
    if (kind) return kind;
    return { find: "note", batch: "batch", culture: "culture", tent: "tent", device: "note" }[known.ids[about]?.kind] ?? null;
  };

  const formOf = (record) => {
    if (record.form) return record.form;
    if (record.kind !== "note") return record.id && record.kind !== "find" ? `new ${record.kind}` : record.kind;
    return { batch: "batch", culture: "culture" }[known.ids[record.about[0]?.replace(/\.\d+$/, "")]?.kind] ?? "note";
  };

  const begin = async () => {
    const drafts = await listDrafts();
    const edited = asked.get("edit");
    if (edited) {
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
    if (name) return start(name, about ? [about] : []);
    if (drafts.length === 1 && drafts[0].form && !asked.size) {
      say("This was not saved yet, and is open again.");
      return open(drafts[0]);
    }
    $("[data-choose]").hidden = false;
    return null;
  };

  const listen = () => {
    page.addEventListener("click", (event) => {
      const button = event.target.closest("button");
      if (!button) return;
      if (button.dataset.kind) start(button.dataset.kind);
      if (button.dataset.new) startNew(button.dataset.new);
      if (button.dataset.step) step(button);
      if ("save" in button.dataset) save();
      if ("cancel" in button.dataset) cancel();
      if ("positionAgain" in button.dataset) askPosition();
    });
    page.addEventListener("input", (event) => {
      if (event.target.matches("[data-position-use]")) event.target.dataset.touched = "";
      if (event.target.dataset.add) return;
      if (event.target.name === "about") {
        $("[data-record-title]").textContent = `${TITLES[draft.form]}: ${event.target.value}`;
        fillChoices(event.target.value);
        suggestFlush(event.target.value);
      }
      storeSoon();
    });
    page.addEventListener("change", (event) => {
      if (event.target.dataset.add && event.target.files.length) addPhotos(event.target);
    });
    page.addEventListener("click", (event) => event.target.dataset?.add && store()); // before the camera opens
    page.addEventListener("submit", (event) => event.preventDefault());
    document.addEventListener("visibilitychange", () => document.visibilityState === "hidden" && draft && store());
  };

  const startNew = async (what) => {
    const about = draft.about[0];
    await storing;
    await records.dropDraft(draft.record);
    const next = newDraft(what === "batch" ? "new batch" : "new culture", []);
    if (what === "culture" && about) next.values.from = about;
    if (what === "received") next.values.method = "received";
    next.photos = [];
    await open(next);
  };

  const step = (button) => {
    const input = $("input", button.parentElement);
    const now = input.value === "" ? Number(input.dataset.suggested ?? 0) - Number(input.dataset.suggested ? button.dataset.step : 0) : Number(input.value);
    input.value = String(Math.max(1, now + Number(button.dataset.step)));
    storeSoon();
  };

  const cancel = async () => {
    clearTimeout(waiting);
    position?.stop();
    const { record } = draft;
    draft = null;
    await storing;
    await records.dropDraft(record).catch(() => null);
    location.assign("index.html");
  };

  const knownHere = () => fetch(new URL("record/data.json", root)).then((answer) => (answer.ok ? answer.json() : known)).catch(() => known);

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
    listen();
    await begin();
  };

  main();
})();
