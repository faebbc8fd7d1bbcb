/* What can hardly be so in a form of Record: asked about once, all of it at the same time, each under its field, before it
   is saved. Nothing is refused; a second tap on Save keeps it. The limits are those of `journal check`. One global,
   `journalDoubts`:

     of(record, known, bare, now)   [[key, words]]: each doubt, and the key it is under ("part" and "when" too); known: what
                                    record/data.json says; bare: keys with a number that has no unit; now: a Date
     checkClock(page, parts)        warns where the device's clock is years behind
     asks(form, record, known, {before, tapped})   whether there is something to ask first: it then stands in the form;
                                    before: the record as saved before, whose values are not asked about again; tapped:
                                    when Save was (ms, performance.now()); a tap before the question can be read asks on

   The page fetches it when a form is opened; where it cannot be had, nothing is asked. */
"use strict";

globalThis.journalDoubts = (() => {
  const GRAMS = { g: 1, kg: 1000, oz: 28.349523125, lb: 453.59237 }; // as in amounts.js
  const HEAVIER = { g: "kg", oz: "lb" };
  const LIGHTER = { kg: "g", lb: "oz" };
  const AMOUNT = /^([+-]?[\d.]+) ?(%|°?[CF]|g|kg|oz|lb)$/;
  const AIR = /^(humidity|temperature) (reading|set point)$/;
  const READ_MS = 700; // nobody reads a question sooner: a tap until then is the second of a double tap
  const LIMIT = { humidity: "humidity_pct", temperature: "temperature_c" };

  const amount = (text) => {
    const [, number, unit] = AMOUNT.exec(text ?? "") ?? [];
    return unit ? { value: Number(number), unit } : null;
  };

  const grams = (text) => {
    const { value, unit } = amount(text) ?? {};
    return GRAMS[unit] ? value * GRAMS[unit] : null;
  };

  const massWords = (g, units) => {
    const unit = units === "us" ? "lb" : g < 1000 ? "g" : "kg";
    return `${Math.round(Number(((g / GRAMS[unit]) * 100).toPrecision(12))) / 100} ${unit}`; // a half up, as on pages
  };

  const DAY = /^\d{4}-\d{2}-\d{2}/;
  const dayOf = (date) => DAY.exec(date ?? "")?.[0] ?? "";

  const dayWords = (day, now) =>
    new Date(day).toLocaleDateString("en-GB", { day: "numeric", month: "short", year: day.startsWith(now.getFullYear()) ? undefined : "numeric", timeZone: "UTC" });

  /** low, high: null where there is no such limit. */
  const isOutside = (value, [low, high]) => (low !== null && value < low) || (high !== null && value > high);

  const outOfRange = ([key, text], { limits = {} }) => {
    const limit = limits[LIMIT[AIR.exec(key)?.[1]]];
    const { value, unit } = amount(text) ?? {};
    if (!limit || !unit) return null;
    const isF = unit.endsWith("F");
    if (!isOutside(isF ? (value - 32) / 1.8 : value, limit)) return null;
    const [low, high] = limit.map((edge) => Number((isF ? edge * 1.8 + 32 : edge).toFixed(1)));
    return [key, `${text} is outside ${low} to ${high} ${unit}.`.replaceAll("-", "−")];
  };

  const guessed = ([key, text], { limits = {} }, bare) => {
    const [mass, limit] = [grams(text), limits.mass_without_unit_g];
    if (!bare.includes(key) || !mass || !limit || !isOutside(mass, limit)) return null;
    const { value, unit } = amount(text);
    const other = (mass < limit[0] ? HEAVIER : LIGHTER)[unit];
    const offered = other ? ` Or is it ${value} ${other}?` : "";
    return [key, `Read as ${text}, since no unit was typed.${offered}`];
  };

  /** A harvest above the wet mass of all that it can be from. */
  const tooHeavy = ({ about, values }, { ids, limits = {}, units }) => {
    const [id, part] = (about[0] ?? "").split(".");
    const { wet_g: wet, unit = "unit", units: all } = ids[id] ?? {};
    const count = part ? about.length : all;
    const most = wet * count;
    if (!(grams(values.harvest) > most * limits.flush_over_wet_mass?.[1])) return [];
    const weighed = count > 1 ? `${count} ${unit}s` : unit;
    return [["harvest", `${values.harvest} is more than the ${weighed} weighed wet (${massWords(most, units)}).`]];
  };

  /** What only the living can do, told of what was lost before. */
  const afterItsEnd = ({ about, date, values }, { ids, growing = [] }, now) => {
    const key = ["harvest", "moved to", "stage"].find((name) => values[name] && (name !== "stage" || growing.includes(values.stage)));
    for (const named of about) {
      const [id, part] = named.split(".");
      const gone = ids[id]?.gone ?? {};
      const [of, day] = part && gone[part] ? [named, gone[part]] : [id, key && gone[""]];
      if (day && (key || values.lost) && dayOf(date) > day) return [[part ? "part" : key, `${of} was lost on ${dayWords(day, now)}, before this.`]];
    }
    return [];
  };

  /** date: with the time and its offset, or only a day; what is less or none is not judged. */
  const inTheFuture = ({ date }, now) => {
    if (!dayOf(date)) return [];
    const isLater = date.length > 10 ? Date.parse(date.replace(" ", "T")) > now : date > journalEntry.moment(now).slice(0, 10);
    return isLater ? [["when", `${date.slice(0, 16)} is in the future by this device’s clock.`]] : [];
  };

  const found = (record, known, bare, now) => {
    const rows = Object.entries(record.values);
    const all = {
      range: rows.map((row) => outOfRange(row, known)),
      unit: rows.map((row) => guessed(row, known, bare)),
      mass: tooHeavy(record, known),
      end: afterItsEnd(record, known, now),
      time: inTheFuture(record, now),
    };
    return Object.entries(all).flatMap(([why, doubts]) => doubts.filter(Boolean).map(([key, words]) => ({ key, words, why })));
  };

  const of = (...given) => found(...given).map(({ key, words }) => [key, words]);

  /** A clock that is years behind, as after the battery was empty, would date records wrongly. parts: of the journal, by
      time (`2025`, `2026-q3`, `2026-11`). */
  const checkClock = (page, parts = []) => {
    const today = new Date();
    const newest = Math.max(...parts.map((part) => Number.parseInt(part, 10)));
    const place = page.querySelector("[data-record-clock]");
    place.hidden = !(newest > today.getFullYear());
    place.textContent = `This device’s clock says that today is ${today.toLocaleDateString("en-GB", { dateStyle: "long" })}, but the journal has entries from ${newest}. Set the clock before you record, or correct When in the form: records are dated by it.`;
  };

  // -- in the form -------------------------------------------------------------------------------------------
  let asked = new Set();
  let askedOf = null;
  let askedAt = -Infinity;

  /** What is asked once: of one value of one field, why it is doubted. */
  const asking = ({ key, why }, { about, date, values }) => JSON.stringify([key, why, { when: date, part: about }[key] ?? values[key]]);

  const show = ({ key, words }, form) => {
    const control = form.querySelector(key === "when" ? "[data-when]" : `[name="${CSS.escape(key)}"]`);
    const place = control?.closest(".field, fieldset") ?? form;
    const line = document.createElement("span");
    Object.assign(line, { className: "need", role: "alert", textContent: `${words} Save again to keep it.` });
    line.dataset.doubt = key;
    place.append(line);
    place.addEventListener("input", () => line.remove(), { once: true });
    place.closest("details")?.setAttribute("open", "");
  };

  const showAll = (doubts, form) => {
    for (const doubt of doubts) show(doubt, form);
    const lines = [...form.querySelectorAll("[data-doubt]")]; // in the order of the form
    if (lines.length > 1) lines.forEach((line, at) => line.prepend(`${at + 1} of ${lines.length}: `));
    lines[0].scrollIntoView({ block: "center" });
    askedAt = performance.now();
  };

  const asks = (form, record, known, { before, tapped }) => {
    if (askedOf !== record.record) [asked, askedOf, askedAt] = [new Set(), record.record, -Infinity];
    if (tapped < askedAt + READ_MS) return true;
    const isBare = ({ value, dataset }) => dataset.unit && journalEntry.number(value) !== null;
    const bare = [...form.elements].filter(isBare).map((control) => control.name);
    const now = new Date();
    const kept = new Set(before ? found(before, known, bare, now).map((doubt) => asking(doubt, before)) : []);
    const isNew = (doubt) => ![asked, kept].some((told) => told.has(asking(doubt, record)));
    const doubts = found(record, known, bare, now).filter(isNew);
    for (const line of form.querySelectorAll("[data-doubt]")) line.remove();
    for (const doubt of doubts) asked.add(asking(doubt, record));
    if (doubts.length) showAll(doubts, form);
    return doubts.length > 0;
  };

  return { of, asks, checkClock };
})();
