/* Finds entries as one types, from index parts that are classic scripts, so that it works from a folder too.

   Hooks
     input[data-search]     one field; the script sets its combobox roles and puts the list of hits after it:
       div.search-hits        the list; holds
       a.search-hit           one hit: img.search-photo (or span.search-photo), span.search-id, span.search-title,
                              span.search-kind, time.search-date; `aria-selected="true"` on the one the keys are at
       p.search-says          how many there are
   When nothing is found, p.search-says says what to try, and leads to the page Record where there is one.
   An ID is matched first, by its beginning, without regard to case and hyphens (a leading zero may be left out);
   then entries that have every word as a whole, of which one may be an ID ("B-031, 20 November"); then those that have
   every word by its beginning; without regard to case, accents and, where nothing is found so, a plural's s. */
"use strict";

(() => {
  const SHOWN = 12;
  const LETTERS_KEPT = 24; // longer words are cut in the index
  const field = document.querySelector("[data-search]");
  if (!field) return;
  const root = document.documentElement.dataset.root || "./";

  // -- the index ---------------------------------------------------------------------------------------------
  const LETTERS = { ß: "ss", æ: "ae", œ: "oe", ø: "o", ł: "l", đ: "d", ð: "d", þ: "th", ı: "i" };

  /** Text without case and accents; the build folds the words of the index in the same way. */
  const fold = (text) =>
    text.toLowerCase().normalize("NFKD").replace(/\p{M}/gu, "").replace(/[ßæœøłđðþı]/g, (letter) => LETTERS[letter]);

  const wordsOf = (text) => fold(text).match(/[\p{L}\p{N}]+/gu) ?? [];

  /** The spellings under which an ID is found: without its marks, with and without leading zeros. */
  const idForms = (id) => {
    const bare = (text) => fold(text).replace(/[^\p{L}\p{N}]/gu, "");
    return [bare(id), bare(id.replace(/(^|\D)0+(?=\d)/g, "$1"))];
  };

  const rows = [];
  const scripts = new Map();

  const read = (name) => {
    if (!scripts.has(name)) {
      const reading = new Promise((done) => {
        const script = document.createElement("script");
        script.src = `${root}search/${name}.js`;
        script.addEventListener("load", done);
        script.addEventListener("error", () => {
          scripts.delete(name); // not here now; asked for again at the next touch of the field
          done();
        });
        document.head.append(script);
      });
      scripts.set(name, reading);
    }
    return scripts.get(name);
  };

  let partNames = [];
  /** First word of a name -> all of its words, and those of the other names: pleurotus -> pulmonarius, and phoenix oyster. */
  const alsoCalled = new Map();

  /** The words of other names for what a row tells. */
  const otherNames = (words) => {
    const told = new Set(words);
    const names = [...told].flatMap((word) => alsoCalled.get(word) ?? []);
    return names.filter(({ of }) => of.every((word) => told.has(word))).flatMap(({ others }) => others);
  };

  /** What the index parts call. */
  globalThis.journalSearch = {
    parts: (names, also = {}) => {
      partNames = names;
      for (const [name, others] of Object.entries(also)) {
        const of = name.split(" ");
        alsoCalled.set(of[0], [...(alsoCalled.get(of[0]) ?? []), { of, others: others.split(" ") }]);
      }
    },
    add: (part) => {
      for (const [title, path, kind, id, date, words, photo] of part) {
        const inTitle = wordsOf(title);
        const told = [...inTitle, kind, ...words.split(" ")];
        rows.push({ title, path, kind, id, date, photo, inTitle, words: [...told, ...otherNames(told)], ids: id ? idForms(id) : [] });
      }
    },
  };

  const readAll = async () => {
    await read("parts");
    await Promise.all(partNames.map(read));
  };

  // -- finding -----------------------------------------------------------------------------------------------
  const begins = (words, start) => words.some((word) => word.startsWith(start));

  /** What was typed, piece by piece: each the words in it, and the ID that it may be. */
  const piecesOf = (text) =>
    text.split(/[\s,;]+/).map((piece) => ({ words: wordsOf(piece), ids: idForms(piece) })).filter(({ words }) => words.length);

  const hasWhole = (row, { words, ids }) => row.ids.some((id) => ids.includes(id)) || words.every((word) => row.words.includes(word));

  /** How well a row answers, 0 best; null where it does not. */
  const rank = (row, ids, words, pieces) => {
    const isNote = row.path.includes("#"); // the ID's own page comes before what was noted about it
    if (row.ids.some((id) => ids.includes(id))) return isNote ? 1 : 0;
    if (row.ids.some((id) => ids.some((start) => id.startsWith(start)))) return isNote ? 3 : 2;
    if (pieces.length > 1 && pieces.every((piece) => hasWhole(row, piece))) return 4;
    if (words.every((word) => begins(row.inTitle, word))) return 5;
    const isPage = row.kind === "page"; // of the site itself: comes after every entry
    return words.every((word) => begins(row.words, word) || row.ids.some((id) => id.startsWith(word))) ? (isPage ? 7 : 6) : null;
  };

  const foundBy = (text) => {
    const words = wordsOf(text).map((word) => word.slice(0, LETTERS_KEPT));
    if (words.length === 0) return [];
    const ids = [...new Set([...idForms(text), ...idForms(text.replace(/\.\d+$/, ""))])].filter(Boolean);
    const pieces = piecesOf(text);
    const ranked = rows.map((row) => ({ row, at: rank(row, ids, words, pieces) })).filter(({ at }) => at !== null);
    ranked.sort((a, b) => a.at - b.at || (a.row.date < b.row.date) - (a.row.date > b.row.date));
    return ranked.map(({ row }) => row);
  };

  /** By what was typed; where nothing has that, by its words without a plural's s: oysters, plates. */
  const find = (text) => {
    const found = foundBy(text);
    return found.length > 0 ? found : foundBy(text.replace(/(\p{L}{3})s(?!\p{L})/gu, "$1"));
  };
  Object.assign(globalThis.journalSearch, { find, rows, readAll });

  const NOTHING =
    "Nothing found. Try fewer letters, a common or a Latin name (oyster, Pleurotus), an ID (B-031), a place, a stage (pinning) or a month (November 2026).";

  // -- the list ----------------------------------------------------------------------------------------------
  const list = document.createElement("div");
  list.id = "search-hits";
  list.className = "search-hits";
  list.setAttribute("role", "listbox");
  list.setAttribute("aria-label", "Entries found");
  list.hidden = true;
  const says = document.createElement("p");
  says.className = "search-says";
  says.setAttribute("role", "status");
  field.after(list, says);
  for (const [name, value] of [
    ["role", "combobox"], ["aria-autocomplete", "list"], ["aria-controls", list.id], ["aria-expanded", "false"],
    ["autocomplete", "off"],
  ]) field.setAttribute(name, value); // prettier-ignore

  const piece = (tag, name, text) => {
    const element = document.createElement(tag);
    element.className = `search-${name}`;
    element.textContent = text;
    return element;
  };

  const photoOf = (row) => {
    const photo = piece(row.photo ? "img" : "span", "photo", "");
    if (row.photo) Object.assign(photo, { src: root + row.photo, alt: "", loading: "lazy", width: 48, height: 48 });
    return photo;
  };

  const hitOf = (row, index) => {
    const hit = piece("a", "hit", "");
    hit.id = `search-hit-${index}`;
    hit.href = root + row.path;
    hit.tabIndex = -1;
    hit.setAttribute("role", "option");
    hit.setAttribute("aria-selected", "false");
    const id = row.id ? [piece("span", "id", row.id)] : [];
    const date = row.date ? [piece("time", "date", row.date.slice(0, 10))] : [];
    hit.append(photoOf(row), ...id, piece("span", "title", row.title), piece("span", "kind", row.kind), ...date);
    return hit;
  };

  const close = () => {
    list.hidden = true;
    says.textContent = "";
    field.setAttribute("aria-expanded", "false");
    field.removeAttribute("aria-activedescendant");
  };

  const countWords = (count) => {
    if (count === 0) return NOTHING;
    return count > SHOWN ? `${SHOWN} of ${count} shown; type more to narrow them.` : `${count} found.`;
  };

  /** The way to a new entry, where this site has one. */
  const newEntry = () => {
    const record = document.querySelector(".to-record");
    if (!record) return [];
    const link = document.createElement("a");
    Object.assign(link, { href: record.getAttribute("href"), textContent: "Record a new entry" });
    return [" ", link];
  };

  const show = () => {
    if (field.value.trim() === "") return close();
    const hits = find(field.value);
    list.replaceChildren(...hits.slice(0, SHOWN).map(hitOf));
    list.hidden = hits.length === 0;
    field.setAttribute("aria-expanded", String(hits.length > 0));
    field.removeAttribute("aria-activedescendant");
    says.replaceChildren(countWords(hits.length), ...(hits.length ? [] : newEntry()));
    return undefined;
  };

  const selected = () => [...list.children].findIndex((hit) => hit.getAttribute("aria-selected") === "true");

  const select = (index) => {
    const hits = [...list.children];
    hits.forEach((hit, at) => hit.setAttribute("aria-selected", String(at === index)));
    if (index < 0) return field.removeAttribute("aria-activedescendant");
    field.setAttribute("aria-activedescendant", hits[index].id);
    return hits[index].scrollIntoView({ block: "nearest" });
  };

  /** Moves by one through the hits and the field itself, round and round. */
  const step = (by) => {
    const places = list.children.length + 1;
    select(((selected() + 1 + by + places) % places) - 1);
  };

  const open = () => (list.children[Math.max(0, selected())] ?? field).click();

  const KEYS = { ArrowDown: () => step(1), ArrowUp: () => step(-1), Enter: open };

  const press = (event) => {
    if (event.key === "Escape" && !list.hidden) {
      event.preventDefault(); // the first press shuts the list, the next empties the field
      close();
    } else if (KEYS[event.key] && !list.hidden) {
      event.preventDefault();
      KEYS[event.key]();
    }
  };

  const isInside = (node) => list.contains(node) || says.contains(node);

  const begin = async () => {
    await readAll();
    if (document.activeElement === field) show();
  };

  field.addEventListener("focus", begin);
  field.addEventListener("input", show);
  field.addEventListener("keydown", press);
  document.addEventListener("pointerdown", (event) => {
    if (!isInside(event.target) && event.target !== field) close();
  });
  field.addEventListener("blur", (event) => {
    if (!isInside(event.relatedTarget)) close();
  });
  if (document.activeElement === field) begin();
})();
