/* Finds entries as one types, from index parts that are classic scripts, so that it works from a folder too.

   Hooks
     input[data-search]     one field, a combobox (late.js); the script puts the list of hits after it:
       div.search-hits        the list; holds
       a.search-hit           one hit: img.search-photo (or span.search-photo), span.search-id, span.search-title,
                              span.search-kind, time.search-date; `aria-selected="true"` on the one the keys are at
       p.search-says          how many there are
   When nothing is found, p.search-says says what to try, and leads to the page Record where there is one.
   An ID is matched first, by its beginning, without regard to case and hyphens (a leading zero may be left out);
   then entries that have every word as a whole, of which one may be an ID ("B-031, 20 November"); then those that have
   every word by its beginning; without regard to case, accents and, where nothing is found so, a plural's s, then one
   letter. "2026-11-20" is that day. Until all of the index is read, nothing is said to be not found.
   An ID with its check character, "B-031+X", is that ID; with a wrong one nothing is found, and that is said.
   Fetched by late.js at the first touch of the field. `journalLacks`, which shell.js sets, says why a thing has no part of
   a number. */
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
  const rowsByTerm = new Map(); // a word -> the numbers of the rows that have it
  const titled = new Map(); // the same of titles alone
  const identified = new Map(); // a spelling of an ID -> the numbers of its rows
  let newestFirst = null; // the rows' numbers by date; made again after more came in
  let missing = 0; // parts that could not be read

  const read = (name) => journalScript(`search/${name}.js`).catch(() => (missing += 1));

  const addTerm = (index, word, at) => {
    const numbers = index.get(word);
    if (!numbers) index.set(word, [at]);
    else if (numbers[numbers.length - 1] !== at) numbers.push(at);
  };

  let partNames = [];
  /** First word of a name -> all of its words, and those of the other names: pleurotus -> pulmonarius, and phoenix oyster. */
  const alsoCalled = new Map();

  /** The words of other names for what a row tells. */
  const otherNames = (words) => {
    const terms = new Set(words);
    const names = [...terms].flatMap((word) => alsoCalled.get(word) ?? []);
    return names.filter(({ of }) => of.every((word) => terms.has(word))).flatMap(({ others }) => others);
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
      newestFirst = null;
      for (const [title, path, kind, id, date, words, photo] of part) {
        const at = rows.push({ title, path, kind, id, date, photo, isNote: path.includes("#") }) - 1;
        const inTitle = wordsOf(title);
        const terms = [...inTitle, kind, ...words.split(" ")];
        for (const word of inTitle) addTerm(titled, word, at);
        for (const word of [...terms, ...otherNames(terms)]) addTerm(rowsByTerm, word, at);
        if (id) for (const form of idForms(id)) addTerm(identified, form, at);
      }
    },
  };

  let isRead = false;
  const readAll = async () => {
    missing = 0;
    await read("parts");
    await Promise.all(partNames.map(read));
    isRead = missing === 0;
  };

  // -- finding -----------------------------------------------------------------------------------------------
  const BEGINS = 1; // some word of the row begins with it
  const WHOLE = 2; // some word, or an ID, is it
  const TITLE = 4; // some word of the title begins with it
  const DAY = /^\d{4}-\d{1,2}(-\d{0,2})?$/;

  const mark = (marks, numbers, bits) => {
    for (const at of numbers) marks[at] |= bits;
  };

  /** Whether a word is the typed one but for one letter: another, one more, one less, or two turned round. Of a long word
      its beginning is enough. */
  const isNear = (typed, word) => {
    if (word.length < typed.length - 1 || (typed.length < 6 && word.length > typed.length + 1)) return false;
    const fits = (rest, end) => (typed.length < 6 ? rest === end : rest.startsWith(end));
    let at = 0;
    while (at < typed.length && typed[at] === word[at]) at += 1;
    return (
      fits(word.slice(at + 1), typed.slice(at + 1)) ||
      fits(word.slice(at + 1), typed.slice(at)) ||
      fits(word.slice(at), typed.slice(at + 1)) ||
      (typed[at] === word[at + 1] && typed[at + 1] === word[at] && fits(word.slice(at + 2), typed.slice(at + 2)))
    );
  };

  /** Each row's bits for one typed word. nearly: words that differ in one letter count too. */
  const marksOf = (typed, nearly) => {
    const marks = new Uint8Array(rows.length);
    if (DAY.test(typed)) {
      rows.forEach(({ date }, at) => date.startsWith(typed) && (marks[at] = BEGINS | WHOLE));
      return marks;
    }
    const answers = (word) => word.startsWith(typed) || (nearly && typed.length > 2 && isNear(typed, word));
    for (const [word, numbers] of rowsByTerm) if (answers(word)) mark(marks, numbers, word === typed ? BEGINS | WHOLE : BEGINS);
    for (const [word, numbers] of titled) if (answers(word)) mark(marks, numbers, TITLE);
    for (const [form, numbers] of identified) if (form.startsWith(typed)) mark(marks, numbers, BEGINS);
    return marks;
  };

  /** The pieces that were typed: each an ISO day, or the words in it; and the IDs that it may be. */
  const piecesOf = (text) => {
    const pieces = text.split(/[\s,;]+/).map((piece) => ({ words: DAY.test(piece) ? [piece] : wordsOf(piece), ids: idForms(piece) }));
    return pieces.filter(({ words }) => words.length);
  };

  /** Each row's 2 where its ID is as typed, 1 where it starts so. */
  const identifiedBy = (forms) => {
    const marks = new Uint8Array(rows.length);
    for (const [form, numbers] of identified) {
      if (forms.includes(form)) mark(marks, numbers, 2);
      else if (forms.some((start) => form.startsWith(start))) mark(marks, numbers, 1);
    }
    return marks;
  };

  const byDate = () => {
    const compare = (a, b) => (rows[a].date < rows[b].date) - (rows[a].date > rows[b].date) || a - b;
    newestFirst ??= rows.map((_, at) => at).sort(compare);
    return newestFirst;
  };

  /** The rows that answer, the best first: the ID itself, IDs that begin so, all words whole, all in the title, all
      somewhere; the site's own pages last. Of equals the newest first. */
  const foundBy = (text, nearly = false) => {
    const pieces = piecesOf(text);
    const cut = (word) => word.slice(0, LETTERS_KEPT);
    const words = [...new Set(pieces.flatMap((piece) => piece.words.map(cut)))];
    if (words.length === 0) return [];
    const forms = [...new Set([...idForms(text), ...idForms(text.replace(/\.\d+$/, ""))])].filter(Boolean);
    const ids = identifiedBy(DAY.test(text.trim()) ? [] : forms);
    const marks = new Map(words.map((word) => [word, marksOf(word, nearly)]));
    const terms = [...marks.values()];
    const whole = pieces.map((piece) => ({ rows: new Set(piece.ids.flatMap((id) => identified.get(id) ?? [])), words: piece.words.map((word) => marks.get(cut(word))) }));
    const rankOf = (at) => {
      const { isNote, kind } = rows[at];
      if (ids[at] >= 2) return isNote ? 1 : 0; // the ID's own page comes before what was noted about it
      if (ids[at] === 1) return isNote ? 3 : 2;
      if (pieces.length > 1 && whole.every((piece) => piece.rows.has(at) || piece.words.every((one) => one[at] & WHOLE))) return 4;
      if (terms.every((one) => one[at] & TITLE)) return 5;
      return terms.every((one) => one[at] & BEGINS) ? (kind === "page" ? 7 : 6) : -1;
    };
    const ranked = Array.from({ length: 8 }, () => []);
    for (const at of byDate()) {
      const rank = rankOf(at);
      if (rank >= 0) ranked[rank].push(rows[at]);
    }
    return ranked.flat();
  };

  /** By what was typed; where nothing has that, by its words without a plural's s (oysters, plates), then by words that
      differ in one letter. */
  const find = (text) => {
    let found = foundBy(text);
    if (found.length === 0) found = foundBy(text.replace(/(\p{L}{3})s(?!\p{L})/gu, "$1"));
    return found.length > 0 ? found : foundBy(text, true);
  };
  Object.assign(globalThis.journalSearch, { find, rows, readAll });

  const NOT_HERE = "Nothing found in the part of the index that is saved on this device.";
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
  field.setAttribute("aria-controls", list.id);

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

  const DATES = { 4: { year: "numeric" }, 7: { year: "numeric", month: "long" }, 10: { year: "numeric", month: "long", day: "numeric" } };
  const spoken = new Map(Object.entries(DATES).map(([length, parts]) => [Number(length), new Intl.DateTimeFormat("en-GB", { ...parts, timeZone: "UTC" })]));

  /** `20 November 2026`, or as much of it as is known. */
  const dateOf = (iso) => {
    const day = iso.slice(0, 10);
    const date = piece("time", "date", spoken.get(day.length)?.format(new Date(day)) ?? day);
    date.dateTime = day;
    return date;
  };

  const hitOf = (row, index) => {
    const hit = piece("a", "hit", "");
    hit.id = `search-hit-${index}`;
    hit.href = root + row.path;
    hit.tabIndex = -1;
    hit.setAttribute("role", "option");
    hit.setAttribute("aria-selected", "false");
    const id = row.id ? [piece("span", "id", row.id)] : [];
    const date = row.date ? [dateOf(row.date)] : [];
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
    if (count === 0 && !isRead) return missing ? NOT_HERE : "Reading the index …";
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

  const showHits = (hits, ...sentence) => {
    list.replaceChildren(...hits.slice(0, SHOWN).map(hitOf));
    list.hidden = hits.length === 0;
    field.setAttribute("aria-expanded", String(hits.length > 0));
    field.removeAttribute("aria-activedescendant");
    says.replaceChildren(...sentence);
  };

  // -- an ID as it is on a label: B-031.2, B-031+X -------------------------------------------------------
  const ON_LABEL = /^(([a-z][\w-]*)(?:\.0*([1-9]\d{0,5}))?)(?:\+(.?))?$/i;
  const WRONG = "The check character does not fit this ID: type it once more.";

  const isRight = async (text) => {
    await journalScript("static/js/label-code.js").catch(() => {});
    return globalThis.journalLabel?.read(text, [], new Set(rows.map(({ id }) => id.toLowerCase()))) ?? null;
  };

  const showLabel = async (text, [, id, whole, part, typed]) => {
    const thing = (identified.get(idForms(whole)[0]) ?? []).map((at) => rows[at]).find((row) => !row.isNote);
    const isWrong = thing && typed && !(await isRight(text));
    const lacks = thing && part && !isWrong && (await globalThis.journalLacks?.(thing.id, Number(part)));
    if (field.value.trim() !== text) return;
    if (isWrong) showHits([], WRONG);
    else if (lacks) showHits([], lacks, " ", Object.assign(document.createElement("a"), { href: root + thing.path, textContent: thing.id }));
    else {
      const hits = find(thing ? id : text);
      showHits(hits.map((hit) => (hit === thing && part ? { ...hit, path: `${hit.path}#${part}` } : hit)), countWords(hits.length));
    }
  };

  const show = () => {
    const text = field.value.trim();
    if (text === "") return close();
    const label = ON_LABEL.exec(text);
    if (label && (label[3] || label[4] !== undefined)) {
      showHits([]); // until its check character and number are looked at, no key opens what was found before
      return showLabel(text, label);
    }
    const hits = find(text);
    showHits(hits, countWords(hits.length), ...(hits.length || !isRead ? [] : newEntry()));
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
  if (document.activeElement === field) {
    show(); // what was typed while this was on its way
    begin();
  }
})();
