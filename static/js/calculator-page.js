/* The page of calculators: its rows of ingredients, what fills in its fields, and its results as one types.

   Hooks, in a [data-calculators] (data-us: the journal is kept in US units)
     form[data-calculator]                  run by the function of that name in calculator-results.js; fields as in calculator-fields.js
     [data-rows], [data-add-row], template[data-row-of-mix]   the mix: [data-row] with [data-part="name|mass|share"],
                                     [data-drop-row], [data-whose] (where its dry share comes from)
     tr[data-ingredient][data-dry-pct]   what is known of ingredients; data-own: the author measured it
     select[data-from-tent]          fills its form in from the data-… of the tent chosen; [data-read-when] says when
                                     its air was read
     [data-filled], [data-filled-from]   names the batch whose values were filled in
     [data-empty]                    button that clears all fields
     [data-needs-scripts]            shown, and [data-without-scripts] hidden, where this runs
   Values come behind `#?` in the address (as journal/site/pages/calculators.py writes them), which goes to no host. What is
   typed is kept in this entry of the browser's history alone, for a reload and the way back. */
"use strict";

(() => {
  const page = document.querySelector("[data-calculators]");
  if (!page) return;
  const { reading, write, put, unitOf } = globalThis.journalCalculatorFields;
  const { dryShareOf } = globalThis.journalCalculators;
  const { number } = globalThis.journalAmounts;
  const us = "us" in page.dataset;
  const forms = new Map([...page.querySelectorAll("form[data-calculator]")].map((form) => [form.dataset.calculator, form]));
  const rows = page.querySelector("[data-rows]");
  let filledFrom = ""; // the part of an address that filled the fields in last

  // -- the rows of a mix -------------------------------------------------------------------------------------

  const known = [...page.querySelectorAll("[data-ingredient]")].map(({ dataset }) => ({
    pair: [dataset.ingredient, Number(dataset.dryPct) / 100],
    own: "own" in dataset,
  }));
  const [ownShares, commonShares] = [true, false].map((own) => known.filter((row) => row.own === own).map((row) => row.pair));

  const part = (row, name) => row.querySelector(`[data-part="${name}"]`);
  const everyRow = () => [...rows.querySelectorAll("[data-row]")];

  /** Puts in what is known of an ingredient's dry share, unless the author typed one, and says whose it is. */
  const suggestShare = (row) => {
    const [name, share] = [part(row, "name").value.trim(), part(row, "share")];
    const found = name ? dryShareOf(name, ownShares, commonShares) : null;
    if (row.dataset.by !== "hand") share.value = found ? number(found.share * 100, 4) : "";
    const origin = found ? (found.own ? "yours, from the settings" : "common practice") : "";
    const unknown = name ? `none known for ${name}; dry a weighed sample and write the share that is left` : "";
    const source = row.dataset.by === "hand" ? "as typed" : origin || unknown;
    row.querySelector("[data-whose]").textContent = source && `Dry share: ${source}.`;
  };

  const numberRows = () => {
    for (const [at, row] of everyRow().entries()) {
      row.setAttribute("aria-label", `Ingredient ${at + 1}`);
      part(row, "name").labels[0].querySelector("span").textContent = `Ingredient ${at + 1}`;
    }
  };

  const addRow = (name = "", grams = null) => {
    const row = page.querySelector("[data-row-of-mix]").content.firstElementChild.cloneNode(true);
    rows.append(row);
    part(row, "name").value = name;
    if (grams !== null) put(part(row, "mass"), grams, us);
    suggestShare(row);
    numberRows();
    return row;
  };

  const setRows = (parts) => {
    rows.replaceChildren();
    for (const [name, grams] of parts) addRow(name, grams);
    while (everyRow().length < 2) addRow();
  };

  const dropRow = (row) => {
    const after = row.nextElementSibling ?? row.previousElementSibling;
    row.remove();
    if (!everyRow().length) addRow();
    numberRows();
    (after ? part(after, "name") : page.querySelector("[data-add-row]")).focus();
  };

  /** One row as read, or null where it is blank; what it lacks goes into `missing`. */
  const readRow = (inputs, row, at) => {
    const [mass, share] = [part(row, "mass"), part(row, "share")];
    const name = part(row, "name").value.trim() || `ingredient ${at + 1}`;
    if ([part(row, "name"), mass, share].every((input) => !input.value.trim())) return null;
    const [weighed, dry] = [inputs.take(mass, `Mass of ${name}`), inputs.take(share, `Dry share of ${name}`)];
    if (weighed.blank) inputs.missing.push(`the mass of ${name}`);
    if (dry.blank) inputs.missing.push(`the dry share of ${name}`);
    const dryShare = dry.value === null ? null : dry.value / 100;
    const typed = `${mass.value.trim()} ${unitOf(mass)}`;
    return { name, massG: weighed.value, dryShare, typed, unit: unitOf(mass) };
  };

  const readMix = (inputs) => {
    const parts = everyRow().map((row, at) => readRow(inputs, row, at)).filter((row) => row !== null);
    if (!parts.length) inputs.missing.push("the ingredients");
    const isWhole = parts.length > 0 && parts.every((row) => row.massG !== null && row.dryShare !== null);
    return { ...inputs, parts, isWhole };
  };

  const showReadingTime = (form) => {
    const read = form.querySelector("[data-from-tent]")?.selectedOptions[0].dataset.read;
    const place = form.querySelector("[data-read-when]");
    if (!place) return;
    place.hidden = !read;
    place.textContent = read ? `Last read ${read}.` : "";
  };

  // -- calculating -----------------------------------------------------------------------------------------------

  const calculate = (form) => {
    const name = form.dataset.calculator;
    const values = reading(form);
    const inputs = name === "mix" ? readMix(values) : values;
    if (name === "changes") {
      const onCycle = inputs.choice("runs") === "cycle";
      for (const field of ["on", "every"]) form.querySelector(`[data-field="${field}"]`).closest(".input-row").hidden = !onCycle;
    }
    if (name === "air") showReadingTime(form);
    write(form, globalThis.journalCalculatorResults[name](inputs), inputs);
  };

  const calculateAll = () => forms.forEach(calculate);

  // -- filling in --------------------------------------------------------------------------------------------

  const fillFields = (name, values) => {
    const form = forms.get(name);
    for (const [field, value] of Object.entries(values)) {
      const input = form.querySelector(`[data-field="${field}"]`);
      if (input.dataset.kind === "choice") input.value = value || input.options[0].value;
      else put(input, Number.isFinite(value) ? value : null, us);
    }
  };

  const numbersOf = (source, names) =>
    Object.fromEntries(names.map((name) => [name, source(name) ? Number(source(name)) : null]));

  const fillFromTent = (select) => {
    const { dataset } = select.selectedOptions[0];
    const tentValue = (name) => dataset[name];
    const name = select.form.dataset.calculator;
    if (!select.value) return;
    if (name === "air") fillFields("air", numbersOf(tentValue, ["temperature", "humidity"]));
    else {
      fillFields("changes", { flow_is: dataset.flow_is, runs: dataset.runs });
      fillFields("changes", numbersOf(tentValue, ["width", "depth", "height", "flow", "on", "every"]));
    }
  };

  const chooseTent = (id) => {
    for (const select of page.querySelectorAll("[data-from-tent]")) {
      const option = [...select.options].find(({ value }) => value && value.toLowerCase() === id.toLowerCase());
      select.value = option?.value ?? "";
      fillFromTent(select);
    }
  };

  const showBatch = (id) => {
    const isId = /^[A-Za-z][A-Za-z0-9-]{0,31}$/.test(id);
    const link = page.querySelector("[data-filled-from]");
    page.querySelector("[data-filled]").hidden = !isId;
    link.textContent = isId ? id : "";
    if (isId) link.href = `${document.documentElement.dataset.root}batches/${id.toLowerCase()}/index.html`;
  };

  /** The parts of a mix as they are in an address: "3200 oak pellets". */
  const PART_OF_MIX = /^([\d.]+) (.+)$/;

  const partsOf = (values) =>
    values.getAll("part").map((text) => PART_OF_MIX.exec(text)).filter(Boolean).map(([, grams, name]) => [name, Number(grams)]);

  const fill = (hash) => {
    const values = new URLSearchParams(hash.slice(2));
    const addressValue = (name) => values.get(name);
    emptyFields();
    filledFrom = hash;
    showBatch(addressValue("batch") ?? "");
    setRows(partsOf(values));
    fillFields("mix", { wanted: numbersOf(addressValue, ["moisture"]).moisture, ...numbersOf(addressValue, ["units"]) });
    fillFields("dry", numbersOf(addressValue, ["wet", "moisture", "units"]));
    fillFields("be", numbersOf(addressValue, ["fresh", "dry", "units", "lost"]));
    fillFields("spawn", numbersOf(addressValue, ["spawn", "wet", "dry"]));
    chooseTent(addressValue("tent") ?? "");
    calculateAll();
  };

  const emptyFields = () => {
    for (const form of forms.values()) form.reset();
    setRows([]);
    showBatch("");
    filledFrom = "";
  };

  // -- keeping what is typed ---------------------------------------------------------------------------------

  const boxes = (form) => [...form.elements].filter((element) => element.matches("input, select"));

  const remember = () => {
    const typed = Object.fromEntries([...forms].map(([name, form]) => [name, boxes(form).map((box) => box.value)]));
    const by = everyRow().map((row) => row.dataset.by ?? "");
    const batch = page.querySelector("[data-filled-from]").textContent;
    history.replaceState({ ...history.state, calculators: { begun: filledFrom, typed, by, batch } }, "");
  };

  const restore = ({ typed, by, batch, ...kept }) => {
    filledFrom = kept.begun;
    rows.replaceChildren();
    for (const hand of by) addRow().dataset.by = hand;
    for (const [name, values] of Object.entries(typed)) {
      boxes(forms.get(name)).forEach((box, at) => (box.value = values[at] ?? ""));
    }
    everyRow().forEach(suggestShare);
    showBatch(batch);
    calculateAll();
  };

  /** As this entry of the history has it, else as its address does; a place on the page changes nothing. */
  const fillIn = (isFirst) => {
    const kept = history.state?.calculators;
    if (kept && (isFirst || kept.begun !== filledFrom)) restore(kept);
    else if (!kept && location.hash.startsWith("#?")) fill(location.hash);
    remember();
  };

  // -- events -----------------------------------------------------------------------------------------

  const recalculate = (box) => {
    const row = box.closest("[data-row]");
    if (box.dataset.part === "share") row.dataset.by = box.value.trim() ? "hand" : "";
    if (row) suggestShare(row);
    if (box.matches("[data-from-tent]")) fillFromTent(box);
    else if (box.form.querySelector("[data-from-tent]")) box.form.querySelector("[data-from-tent]").value = "";
    calculate(box.form);
  };

  page.addEventListener("input", (event) => event.target.form && recalculate(event.target));
  page.addEventListener("change", remember);
  page.addEventListener("submit", (event) => event.preventDefault());
  page.addEventListener("click", (event) => {
    const again = event.target.closest('a[href^="#?"]');
    if (again) return again.hash === location.hash ? fill(again.hash) : undefined; // else the address changes by itself
    if (event.target.closest("[data-add-row]")) part(addRow(), "name").focus();
    else if (event.target.closest("[data-drop-row]")) dropRow(event.target.closest("[data-row]"));
    else if (event.target.closest("[data-empty]")) emptyFields();
    else return undefined;
    calculateAll();
    return remember();
  });
  addEventListener("hashchange", () => fillIn(false));

  for (const element of document.querySelectorAll("[data-without-scripts]")) element.hidden = true;
  for (const element of page.querySelectorAll("[data-needs-scripts], [data-number]")) element.hidden = false;
  for (const details of page.querySelectorAll("details")) details.open = false;
  emptyFields();
  calculateAll();
  fillIn(true);
})();
