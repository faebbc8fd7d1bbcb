/* The controls of the forms of Record: pick lists filled from the journal, steppers, units. One global, `journalFields`:

     learn(known, rows)                what is on this device only is known too: its IDs can be chosen, its harvests and losses count
     suggestNames(page, known)         the names that text fields offer
     fillChoices(form, known, about, values)
                                       every [data-choices] list of the form; about: the ID it is about, or undefined;
                                       values: what is chosen already, which is first
     suggestFlush(form, known, about)  the flush that a harvest of today belongs to, and from what
     showUnits(form, known)            the author's units beside the numbers
     step(button)                      one more or one fewer in the stepper of that button
     showMethod(form)                  a culture that was received is taken from nothing here, and the other way round
     listen(page)                      a second tap on a choice takes it back; a choice and the text field beside it
                                       (`species`, `species other`) never both hold something
     isPicked(control)
     withoutPart(id)                   an ID without the number of its part
     fill(form, record)                shows a record; gives those of its values that the form has no control for
     values(form, kept)                what the form says: key -> text or texts, `text`, `about` and `part` among them;
                                       kept: what fill gave
     fault(form)                       {says, control} where a number cannot be read, else undefined
     lacks(draft)                      what must still be said before it can be saved, in words, or null

   data-unit: the unit put behind a bare number. data-choices: what fills a list; data-many: several may be chosen. */
"use strict";

globalThis.journalFields = (() => {
  const $ = (selector, within) => within.querySelector(selector);
  const $$ = (selector, within) => [...within.querySelectorAll(selector)];
  const FEW = 6;
  const MOST_PARTS = 24;
  const DAYS_WITHIN_FLUSH = 5;

  const day = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "short", year: "numeric", timeZone: "UTC" });

  const isPick = (control) => control.type === "radio" || control.type === "checkbox";
  const isPicked = (control) => !isPick(control) || control.checked;
  const isList = (control) => Boolean(control.closest("[data-many]"));

  const withoutPart = (id = "") => id.replace(/\.\d+$/, "");
  const controlsNamed = (name, form) => $$(`[name="${CSS.escape(name)}"]`, form);

  // -- pick lists --------------------------------------------------------------------------------------------
  const chip = (type, name, value, words) => {
    const label = document.createElement("label");
    label.className = "chip";
    const span = document.createElement("span");
    span.textContent = words ?? value;
    label.append(Object.assign(document.createElement("input"), { type, name, value }), span);
    return label;
  };

  const rowNamed = ([id, row]) => [id, row.species && row.kind !== "tent" ? `${id} ${row.species}` : (row.title ?? id)];

  /** IDs of a kind that are not over, the latest first. */
  const latestOf = (known, kind) =>
    Object.entries(known.ids)
      .filter(([, row]) => row.kind === kind && !row.over)
      .map(rowNamed)
      .reverse();

  /** The first of each list, then the second of each, and so on. */
  const interleave = (...lists) =>
    Array.from({ length: Math.max(...lists.map((list) => list.length)) }, (_, at) => lists.map((list) => list[at]))
      .flat()
      .filter(Boolean);

  const VESSELS = ["plate", "slant", "syringe"]; // what a vessel of that form is called

  /** What the author calls one unit of a batch or one vessel of a culture. */
  const unitOf = ({ kind, unit, form }) => (kind === "culture" ? (VESSELS.includes(form) ? form : "vessel") : (unit ?? "unit"));

  const partsOf = (own) => {
    const unit = unitOf(own);
    const lost = (part) => (own.gone?.[part] ? `, lost ${day.format(new Date(own.gone[part]))}` : "");
    const count = (own.kind === "culture" ? own.vessels : own.units) ?? 0;
    const parts = Array.from({ length: Math.min(count, MOST_PARTS) }, (_, at) => [String(at + 1), `${unit} ${at + 1}${lost(at + 1)}`]);
    return parts.length > 1 ? parts : [];
  };

  const choicesOf = (known, what, about) => {
    const own = known.ids[about] ?? {};
    const plain = (names = []) => names.map((name) => [name]);
    const lists = {
      batches: () => latestOf(known, "batch"),
      cultures: () => latestOf(known, "culture"),
      parents: () => interleave(latestOf(known, "culture"), latestOf(known, "find"), latestOf(known, "batch")),
      tents: () => latestOf(known, "tent").reverse(),
      places: () => plain(known.places.map((place) => place.name)),
      species: () => plain(known.species),
      media: () => plain(known.media.slice(0, 8)),
      causes: () => plain(known.causes),
      parts: () => partsOf(own),
      services: () => plain(own.services),
      "stages.batch": () => (known.stages.batch ?? []).map((name) => [name, name === "resting" ? "between flushes" : name]),
      "stages.find": () => (own.kind === "find" ? plain(known.stages.find) : []),
    };
    return lists[what]();
  };

  const learn = (known, rows) => {
    for (const { id, kind, values, about, date } of rows) {
      const from = [values.from ?? []].flat().flatMap((ids) => ids.split(",")).map((one) => withoutPart(one.trim())); // prettier-ignore
      const year = Number(date?.slice(0, 4)) || undefined;
      const [units, vessels] = [values.units, values.vessels].map((count) => Number(count) || undefined);
      if (id && !known.ids[id]) known.ids[id] = { kind, species: values.species, form: values.form, from, year, units, vessels, unit: values.container };
      const own = known.ids[withoutPart(about[0])];
      const day = (date ?? "").slice(0, 10);
      const part = about.length === 1 && about[0].split(".")[1];
      if (own && part && values.lost) own.gone = { [part]: day, ...own.gone };
      if (own && values.flush && day >= (own.flush_date ?? "")) Object.assign(own, { flush: Number(values.flush), flush_date: day });
    }
  };

  const ONE_OF_MANY = ["from", "culture"]; // lists of everything in the journal

  const fillChoices = (form, known, about, values = {}) => {
    for (const group of $$("[data-choices]", form)) {
      const { key, choices: what } = group.dataset;
      const chips = $(".chips", group);
      const picked = new Set($$("input:checked", group).map((input) => input.value));
      const choices = choicesOf(known, what, about);
      const chosen = key === "about" ? about : values[key];
      const hasValue = typeof chosen === "string" && chosen !== "" && !("many" in group.dataset);
      if (hasValue && ONE_OF_MANY.includes(key) && !choices.some(([value]) => value === chosen)) choices.push([chosen]);
      if (hasValue) choices.sort(([one], [other]) => (other === chosen) - (one === chosen));
      const few = hasValue && ONE_OF_MANY.includes(key) && choices[0]?.[0] === chosen ? 1 : FEW;
      const rows = choices.map(([value, words]) => chip("many" in group.dataset ? "checkbox" : "radio", key, value, words));
      chips.replaceChildren(...rows.slice(0, few));
      if (rows.length > few) {
        const more = document.createElement("details");
        const summary = document.createElement("summary");
        summary.textContent = `${rows.length - few} more`;
        more.append(summary, ...rows.slice(few));
        chips.append(more);
      }
      group.hidden = rows.length === 0;
      for (const input of $$("input", group)) input.checked = picked.has(input.value);
    }
    const part = $("[data-choices=parts] legend", form);
    if (part) part.textContent = `Which ${unitOf(known.ids[about] ?? {})}, if not all?`;
  };

  const showMethod = (form) => {
    const method = $("[name=method]:checked", form)?.value;
    const giver = $("[name='received from']", form);
    if (!giver) return;
    const parents = $("[data-key=from]", form);
    parents.hidden = method === "received" || $$("input", parents).length === 0;
    giver.closest("label").hidden = Boolean(method) && method !== "received";
  };

  // -- numbers -----------------------------------------------------------------------------------------------
  const suggestFlush = (form, known, about) => {
    const input = $("[name=flush]", form);
    if (!input) return;
    const { flush, flush_date: date } = known.ids[about] ?? {};
    const days = date ? (Date.now() - Date.parse(date)) / 86400000 : 0;
    input.dataset.suggested = input.placeholder = String(flush ? flush + (days > DAYS_WITHIN_FLUSH ? 1 : 0) : 1);
    const last = flush ? `the last harvest was of flush ${flush}, on ${day.format(new Date(date))}` : "nothing was harvested before";
    $("[data-flush-words]", form).textContent = about ? `Suggested: ${input.placeholder}; ${last}.` : "";
  };

  const step = (button) => {
    const input = $("input", button.parentElement);
    const now = Number(input.value || input.dataset.suggested || 0) + Number(button.dataset.step);
    input.value = now < 1 ? "" : String(now);
  };

  const US_UNITS = { g: "oz", kg: "lb", "°C": "°F" };

  const US_HINTS = { mix: "oak pellets 11 lb, wheat bran 2.6 lb, water 18 lb", treatment: "15 psi 2.5 h" };

  const showUnits = (form, known) => {
    if (known.units !== "us") return;
    for (const [name, hint] of Object.entries(US_HINTS)) {
      const input = $(`[name="${name}"]`, form);
      if (input) input.placeholder = hint;
    }
    for (const input of $$("[data-unit]", form)) {
      const unit = US_UNITS[input.dataset.unit];
      if (!unit) continue;
      input.dataset.unit = unit;
      $("small span", input.parentElement).textContent = unit;
    }
  };

  // -- taking back -------------------------------------------------------------------------------------------
  const isToUncheck = (input) => input.type === "radio" && input.name !== "about" && input.checked;

  const uncheck = (input) => {
    input.checked = false;
    input.dispatchEvent(new Event("input", { bubbles: true }));
  };

  const keepOneOfBoth = ({ target }) => {
    if (!target.name || !target.form || isList(target)) return;
    const within = (name) => controlsNamed(name, target.form);
    if (target.name.endsWith(" other") && target.value.trim()) {
      for (const pick of within(target.name.replace(/ other$/, ""))) if (!isList(pick)) pick.checked = false;
    }
    if (target.type === "radio" && target.checked) for (const typed of within(`${target.name} other`)) typed.value = "";
  };

  const listen = (page) => {
    let pressed = null;
    page.addEventListener("pointerdown", ({ target }) => (pressed = isToUncheck(target) ? target : null));
    page.addEventListener("click", ({ target, detail }) => {
      if (detail && target === pressed) uncheck(target);
    });
    page.addEventListener("keydown", (event) => {
      if (event.key !== " " || !isToUncheck(event.target)) return;
      event.preventDefault();
      uncheck(event.target);
    });
    page.addEventListener("input", keepOneOfBoth, true); // before the form is stored
  };

  // -- a record in a form ------------------------------------------------------------------------------------
  /** A value that is no longer offered, as of a batch that is over by now, is offered on this record still. */
  const offer = (form, key, value) => {
    const there = controlsNamed(key, form);
    if (!value || there[0]?.type !== "radio" || controlsNamed(`${key} other`, form).length) return;
    if (!there.some((input) => input.value === String(value))) there[0].closest(".chips").append(chip("radio", key, String(value)));
  };

  const fill = (form, record) => {
    form.reset();
    const values = { ...record.values, text: record.text, about: withoutPart(record.about[0]), part: record.about[0]?.split(".")[1] };
    for (const [key, value] of Object.entries(values)) offer(form, key, value);
    const names = new Set([...form.elements].map((control) => control.name));
    for (const control of form.elements) {
      const value = values[control.name];
      if (value === undefined || control.dataset.add) continue;
      if (control.type === "radio") control.checked = control.value === String(value);
      else if (control.type === "checkbox") control.checked = [value].flat().includes(control.value);
      else control.value = Array.isArray(value) ? value.join(", ") : value;
    }
    for (const [key, value] of Object.entries(record.values)) {
      const [other] = controlsNamed(`${key} other`, form);
      const picked = $$(`[name="${CSS.escape(key)}"]:checked`, form).map((input) => input.value);
      if (other) other.value = [value].flat().filter((one) => !picked.includes(one)).join(", "); // prettier-ignore
    }
    for (const details of $$("details:not([data-about-choice])", form)) {
      details.open = $$("input", details).some((input) => isPicked(input) && input.value !== "");
    }
    return Object.fromEntries(Object.entries(record.values).filter(([key]) => !names.has(key)));
  };

  const isMeant = (control) => control.name && isPicked(control) && control.value.trim() !== "";

  /** "34 × 36 mm" for "34 x 36". */
  const diameters = (typed) => typed.replace(/(\d) *[ x*] *(?=\d)/i, "$1 × ").replace(/\d$/, "$& mm");

  const withUnit = ({ name, value, dataset: { unit } }) => {
    const typed = value.trim();
    return name === "colony" ? diameters(typed) : (unit && journalEntry.quantity(typed, unit)) || typed;
  };

  const values = (form, kept) => {
    const entered = { ...kept };
    const lists = new Set([...form.elements].filter(isList).map((control) => control.name));
    for (const control of form.elements) {
      if (!isMeant(control) || control.dataset.add || control.closest("[hidden]")) continue;
      const key = control.name.replace(/ other$/, "");
      entered[key] = lists.has(key) ? [...(entered[key] ?? []), withUnit(control)] : withUnit(control);
    }
    return entered;
  };

  const EXAMPLES = { moisture: 62, "%": 92, "°C": 18, "°F": 64, g: 412 };

  const fault = (form) => {
    const isWrong = (input) => input.value.trim() && journalEntry.quantity(input.value, input.dataset.unit) === null;
    const control = $$("[data-unit]", form).find(isWrong);
    if (!control) return undefined;
    const { name, value, parentElement: label, dataset: { unit } } = control; // prettier-ignore
    const what = $("span", label).firstChild.textContent.trim();
    return { control, says: `${what}: “${value}” is not a number; write it as ${EXAMPLES[name] ?? EXAMPLES[unit] ?? 5} ${unit}.` };
  };

  const lacks = ({ values, photos, text, about, form }) => {
    if (["batch", "culture", "tent"].includes(form) && !about.length) return `Choose the ${form} first.`;
    if (form === "new batch" && !values.culture) return "Choose the culture it was inoculated with.";
    if (form === "new culture" && !values.from && !values["received from"]) return "Choose what it was taken from, or say from whom it was received.";
    if (values.certainty === "confirmed" && !values["identified by"]) return "Say who identified it and how, or choose likely: “confirmed” needs that.";
    if (values.where && !/\d\D+\d/.test(values.where)) return `“${values.where}” is not a position: write 58.30412, -8.90177 or a grid reference, or name the spot under Place.`;
    const entered = Object.keys(values).some((key) => key !== "flush");
    return entered || photos.length || text ? null : "There is nothing to save yet: add a photo, a choice or a few words.";
  };

  const suggestNames = (page, { species, places, media, causes }) => {
    const lists = { species, places: places.map((place) => place.name), media, causes };
    for (const [list, names] of Object.entries(lists)) {
      $(`#known-${list}`, page).replaceChildren(...names.map((name) => Object.assign(document.createElement("option"), { value: name })));
    }
  };

  return { chip, learn, suggestNames, fillChoices, suggestFlush, showUnits, showMethod, step, listen, isPicked, withoutPart, fill, values, fault, lacks };
})();
