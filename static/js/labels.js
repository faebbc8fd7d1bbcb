/* The page Labels: the labels that are chosen, laid out on sheets as they are printed, and large to write by hand.

   Hooks
     form[data-labels]        in it, per thing, input[type=checkbox] for the whole and input[data-each] for its parts, and
       template[data-label]     the words of one label; data-letters: of its ID; data-codes: [[modules, base64], …];
                                data-sizes: {size: [which code, its width in mm with the quiet zone, whether it holds
                                the ID alone]}
       [data-size] option       data-layouts: {sheet: {…}}, in millimetres, as journal/site/pages/labels.py gives them
       [data-sheet], [data-first], [data-labels-print], [data-labels-words]
     [data-preview], [data-hand]   where the sheets stand, and the labels to write by hand

   `#B-031` in the address chooses that thing. Measures go into custom properties by script: the page has no styles of
   its own, as its policy wants. */
"use strict";

(() => {
  const form = document.querySelector("[data-labels]");
  if (!form) return;
  const $ = (selector, within = form) => within.querySelector(selector);
  const $$ = (selector, within = form) => [...within.querySelectorAll(selector)];
  const [preview, hand] = [document.querySelector("[data-preview]"), document.querySelector("[data-hand]")];
  const SVG = "http://www.w3.org/2000/svg";
  const QUIET = 4;

  const element = (name, className, ...children) => {
    const made = document.createElement(name);
    made.className = className;
    made.append(...children);
    return made;
  };

  const drawing = (className, width, height, path, words) => {
    const svg = document.createElementNS(SVG, "svg");
    const drawn = document.createElementNS(SVG, "path");
    const given = { class: className, viewBox: `0 0 ${width} ${height}`, ...(words ? { role: "img", "aria-label": words } : { "aria-hidden": "true" }) };
    for (const [name, value] of Object.entries(given)) svg.setAttribute(name, value);
    drawn.setAttribute("d", path);
    svg.append(drawn);
    return svg;
  };

  /** The dark modules of a packed code as one path, a run of them a rectangle. */
  const pathOf = (modules, packed) => {
    const bytes = Uint8Array.from(atob(packed), (letter) => letter.charCodeAt(0));
    const isDark = (x, y) => x < modules && (bytes[(y * modules + x) >> 3] >> (7 - ((y * modules + x) & 7))) & 1;
    let path = "";
    for (let y = 0; y < modules; y += 1) {
      for (let x = 0, run = 0; x <= modules; x += 1) {
        if (isDark(x, y)) run += 1;
        else if (run) {
          path += `M${x - run + QUIET} ${y + QUIET}h${run}v1h-${run}z`;
          run = 0;
        }
      }
    }
    return path;
  };

  const measured = (node, measures) => {
    for (const [name, value] of Object.entries(measures)) node.style.setProperty(`--${name}`, value);
    return node;
  };

  const labelOf = (template, size) => {
    const { label, letters, codes, sizes } = template.dataset;
    const [which, side] = JSON.parse(sizes)[size] ?? [];
    const row = measured(element("li", "jar-label", template.content.cloneNode(true)), { n: letters, code: `${side ?? 0}mm` });
    if (which === undefined) return row;
    const [modules, packed] = JSON.parse(codes)[which];
    const across = modules + 2 * QUIET;
    const svg = drawing("jar-code", across, across, pathOf(modules, packed), `Code of ${label}`);
    svg.setAttribute("shape-rendering", "crispEdges");
    row.append(svg);
    return row;
  };

  const sheetOf = (rows, name, layout) => {
    const { width, height } = layout;
    const sheet = element("section", `labelsheet on-${name.toLowerCase()}${layout.small ? " jar-small" : ""}`);
    sheet.append(drawing("cuts", width, height, layout.marks), element("ol", "jar-places", ...rows));
    return measured(sheet, {
      "sheet-w": `${width}mm`, "sheet-h": `${height}mm`, left: `${layout.left}mm`, top: `${layout.top}mm`,
      cols: layout.cols, w: `${layout.w}mm`, h: `${layout.h}mm`, "gap-x": `${layout.gaps[0]}mm`, "gap-y": `${layout.gaps[1]}mm`,
      text: `${layout.text}mm`, most: `${layout.most}mm`,
    }); // prettier-ignore
  };

  const chosen = () =>
    $$("[data-thing]").flatMap((thing) => {
      const [whole, ...parts] = $$("template", thing);
      const [one, each] = $$("input", thing);
      return [...(one.checked ? [whole] : []), ...(each?.checked ? parts : [])];
    });

  const counted = (number, word) => `${number} ${word}${number === 1 ? "" : "s"}`;

  /** Whether some of a label's words have found no room: they are in a second column, beside what is seen. */
  const isCrowded = (label) => {
    const room = $(".jar-words", label).getBoundingClientRect();
    return $$("p", label).some((line) => [...line.getClientRects()].some(({ left, bottom }) => left >= room.right - 1 || bottom > room.bottom + 1));
  };

  /** What is to be known of the labels as they are there. */
  const cautions = (templates, size) => {
    const short = templates.filter(({ dataset }) => JSON.parse(dataset.sizes)[size]?.[2]).length;
    for (const label of $$(".jar-label", preview).filter(isCrowded)) label.classList.add("jar-one");
    const crowded = $$(".jar-label", preview).filter(isCrowded).map((label) => $(".jar-id", label).firstChild.textContent);
    return [
      short ? `The address is too long for a code on labels of this size: ${counted(short, "label")} ${short === 1 ? "holds" : "hold"} the ID alone, which Scan reads, and a phone’s camera app only shows.` : "",
      crowded.length ? `Not everything fits on ${counted(crowded.length, "label")} of this size, and the last lines are left out: ${crowded.slice(0, 5).join(", ")}. Choose a larger one.` : "",
    ].filter(Boolean); // prettier-ignore
  };

  const wanted = decodeURIComponent(location.hash.slice(1));
  const isListed = $$("[data-thing]").some(({ dataset }) => dataset.thing.toLowerCase() === wanted.toLowerCase());
  const missing = /^[\w-]+$/.test(wanted) && !isListed ? `${wanted} is not listed here, where the cultures and batches that are growing or kept are. On the computer, journal labels ${wanted} makes its label.` : ""; // prettier-ignore

  const show = () => {
    const [size, name] = [$("[data-size]"), $("[data-sheet]").value];
    const layout = JSON.parse(size.selectedOptions[0].dataset.layouts)[name];
    const first = $("[data-first]");
    const templates = chosen();
    const isPlace = layout && Number.isInteger(Number(first.value)) && first.value >= 1 && first.value <= layout.places;
    first.max = layout?.places ?? 1;
    const rows = isPlace && templates.length ? [...Array.from({ length: first.value - 1 }, () => element("li", "")), ...templates.map((template) => labelOf(template, size.value))] : []; // prettier-ignore
    const sheets = [];
    for (let at = 0; at < rows.length; at += layout.places) sheets.push(sheetOf(rows.slice(at, at + layout.places), name, layout));
    preview.replaceChildren(...sheets);
    hand.querySelector("[data-hand-list]").replaceChildren(...templates.map((template) => element("li", "", template.content.cloneNode(true))));
    preview.hidden = sheets.length === 0;
    hand.hidden = templates.length === 0;
    $("[data-labels-print]").disabled = sheets.length === 0;
    $("[data-labels-words]").textContent = !layout
      ? `Labels of this size do not fit ${name}.`
      : !isPlace
        ? `A sheet has places 1 to ${layout.places} at this size.`
        : templates.length
          ? [`${counted(templates.length, "label")} on ${counted(sheets.length, "sheet")} of ${name}, ${layout.places} places each. Print at full size (100 %), with no margins added.`, ...cautions(templates, size.value)].join(" ")
          : missing || "Choose what to label.";
  };

  $("[data-labels-why]").hidden = true;
  for (const input of $$("input[type=checkbox]:not([data-each])")) if (input.value.toLowerCase() === wanted.toLowerCase()) input.checked = true;
  form.addEventListener("input", show);
  form.addEventListener("submit", (event) => event.preventDefault());
  $("[data-labels-print]").addEventListener("click", () => print());
  show();
})();
