/* The fields of a sum read, and what it gives written. `journalSumFields` on the global object.

   Hooks, in a form[data-sum="dry"]
     input[data-field="wet"]        a value; data-kind is what it is of ("mass", "%", "count", …); data-least, -above,
                                    -most, -below its limits in the kind's own unit, data-why why none beyond them;
                                    its name is the first text of its label's span
     select[data-unit]              in the same .asked: the unit it is typed in
     [data-says]                    the one line that says what to mend, or what is still wanted
   Hooks, in a [data-results="dry"]
     [data-result="unit"]           one number: [data-number], [data-words="what it is"], [data-beside], and for each
     [data-working="unit"]          of its formulas the place for the same with the numbers put in */
"use strict";

(() => {
  const { readNumber, toSi, fromSi, isUs, usualUnit, typed, number } = globalThis.journalAmounts;

  const LIMITS = [
    ["least", (value, limit) => value >= limit, "at least"],
    ["above", (value, limit) => value > limit, "more than"],
    ["most", (value, limit) => value <= limit, "at most"],
    ["below", (value, limit) => value < limit, "less than"],
  ];

  const unitOf = (input) => {
    const chosen = input.closest(".asked").querySelector("[data-unit]")?.value;
    if (chosen) return chosen;
    return input.dataset.kind === "count" ? "" : input.dataset.kind;
  };

  const nameOf = (input) => input.labels[0].querySelector("span").firstChild.textContent.trim();

  const beyond = (input, value, unit) => {
    const { kind, why } = input.dataset;
    for (const [limit, holds, words] of LIMITS) {
      if (!(limit in input.dataset) || holds(value, Number(input.dataset[limit]))) continue;
      const shown = number(fromSi(Number(input.dataset[limit]), kind, unit), 2);
      return `write ${words} ${shown}${unit && ` ${unit}`}, since ${why}`;
    }
    return kind === "count" && !Number.isInteger(value) ? "write a whole number" : null;
  };

  /** What stands in a field: {value} in the kind's own unit, null where it is blank or has a fault. */
  const readField = (input) => {
    if (!input.value.trim()) return { value: null, blank: true };
    const read = readNumber(input.value);
    if (read.fault) return { value: null, fault: read.fault };
    const unit = unitOf(input);
    const value = toSi(read.value, input.dataset.kind, unit);
    const fault = beyond(input, value, unit);
    return fault ? { value: null, fault } : { value, odd: read.odd };
  };

  /** A form while one sum is worked from it: what it gives, and what there is to say of it. */
  const reading = (form) => {
    const [faults, wanted, odds] = [[], [], []];
    const field = (name) => form.querySelector(`[data-field="${name}"]`);

    const mend = (input, name, says) => {
      input.setAttribute("aria-invalid", "true");
      faults.push(`${name}: ${says}.`);
    };

    const take = (input, name = nameOf(input)) => {
      const read = readField(input);
      if (read.fault) mend(input, name, read.fault);
      if (read.odd) odds.push(`${name}: ${read.odd}.`);
      return read;
    };

    for (const input of form.querySelectorAll("[aria-invalid]")) input.removeAttribute("aria-invalid");
    return {
      faults, wanted, odds, take, form,
      /** A value the sum may do without; null where it is blank. */
      may: (name) => take(field(name)).value,
      /** A value the sum cannot do without. */
      need: (name) => {
        const read = take(field(name));
        if (read.blank) wanted.push(nameOf(field(name)).toLowerCase());
        return read.value;
      },
      choice: (name) => field(name).value,
      us: (name) => isUs(unitOf(field(name))),
      /** The value as it was typed, with its unit. */
      said: (name) => `${field(name).value.trim()} ${unitOf(field(name))}`.trim(),
      mend: (name, says) => mend(field(name), nameOf(field(name)), says),
    };
  };

  // -- writing -----------------------------------------------------------------------------------------------

  const setText = (element, text) => {
    element.textContent = text ?? "";
    element.hidden = !text;
  };

  const writeResult = (item, result) => {
    const words = item.querySelector("[data-words]");
    item.classList.toggle("unknown", !result);
    item.querySelector("[data-number]").textContent = result?.number ?? "–";
    words.textContent = result?.words ?? words.dataset.words;
    setText(item.querySelector("[data-beside]"), result?.beside);
    for (const place of item.querySelectorAll("[data-working]")) setText(place, result?.workings?.[place.dataset.working]);
  };

  const isBlank = (form) => [...form.querySelectorAll("input")].every((input) => !input.value.trim());

  /** What to say of a form: the first thing to mend, else what is still wanted, else what deserves another look. */
  const saysOf = (form, { faults, wanted, odds }) => {
    if (faults.length) return faults[0];
    if (wanted.length && !isBlank(form)) return `Still wanted: ${wanted.join(", ")}.`;
    return odds[0] ?? "";
  };

  /** results: {key: {number, words, beside, workings}}; what is not in it is not known. */
  const write = (form, results, told) => {
    for (const item of document.querySelectorAll(`[data-results="${form.dataset.sum}"] [data-result]`)) {
      writeResult(item, results[item.dataset.result]);
    }
    const says = form.querySelector("[data-says]");
    const text = saysOf(form, told);
    if (says.textContent !== text) says.textContent = text; // a reader of the page aloud hears it once
    says.classList.toggle("need", told.faults.length > 0);
  };

  /** Puts a value (in the kind's own unit, or null) into a field, in the unit it is best typed in. */
  const put = (input, value, us) => {
    const { kind } = input.dataset;
    const choice = input.closest(".asked").querySelector("[data-unit]");
    if (choice && value !== null) choice.value = usualUnit(value, kind, us);
    input.value = value === null ? "" : typed(fromSi(value, kind, choice?.value));
  };

  globalThis.journalSumFields = { reading, write, put, unitOf };
})();
