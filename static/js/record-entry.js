/* A record as the journal writes it: its entry file, its folder in an archive, and new IDs. Touches no page and no
   storage. One global, `journalEntry`:

     text(record)                   the bytes of entry.md; of a find whose position is that of its place, `placed`, it
                                    says so
     beside(mine, theirs)           what `mine` says and another revision of the same record does not, as a record of its
                                    own: of a find, culture or batch a note about it
     folder(record)                 its folder in an archive: "2026-11-25-find-f26-015-k7q4-0f3c9a12"
     nextId(kind, {series, known, outbox, today, suffix, parent, method})
                                    the next free ID. series, known: `series` and `ids` of record/data.json; outbox:
                                    records or IDs on this device; today: a Date; suffix: the device's; parent: what a
                                    culture is taken from, and by which method
     after(id, used)                the ID itself, or the next of its series that none of `used` is
     known(data, read)              what record/data.json says, with the IDs of all its parts; read(path): gives a file's JSON
     number(text)                   412, or 1.2 for "1,2"; null where it is no number, or "1,200" could be two
     quantity(text, unit)           "1.2 kg" for ("1,2", "kg"); a typed unit stays; null where no number begins it
     position({lat, lon, accuracy}, us)   "58.30412, -8.90177 ±8 m", as `where` takes it; us: "… ±27 ft"
     moment(date)                   "2026-11-25 14:03+00:00", as `date` takes it
     stamp(date)                    "2026-11-25T14:03:22+00:00", as `saved` and `made` take it
     KEYS                           the keys of each kind, in the order they are written */
"use strict";

globalThis.journalEntry = (() => {
  const FIRST_KEYS = ["title", "by", "private", "next", "done"];
  const FIND = ["species", "certainty", "identified by", "where", "place", "habitat", "growing on", "host", "growth",
    "smell", "weather", "elevation", "spore print", "specimen", "permission", "permit", "picked mass",
    "locality", "patch"]; // prettier-ignore
  const CULTURE = ["from", "received from", "species", "method", "form", "medium", "treatment", "core log", "vessels",
    "transfers before", "master", "kept"]; // prettier-ignore
  const BATCH = ["culture", "substrate", "container", "units", "mix", "wet mass", "moisture", "dry mass", "treatment", "core log",
    "spawn mass", "spawn volume", "cost", "tent", "wants humidity", "wants temperature",
    "wants humidity while colonising", "wants temperature while colonising"]; // prettier-ignore
  const NOTE = ["stage", "harvest", "dried", "dried from", "flush", "lost", "cause", "moved to", "colony",
    "minutes", "cost", "sold", "species", "certainty", "identified by"]; // prettier-ignore
  const TENT = ["humidity set point", "humidity differential", "temperature set point", "light", "light colour",
    "exhaust", "air movement", "humidity reading", "temperature reading", "co2 reading", "meter", "light level",
    "door", "why", "serviced", "tank fill", "cost"]; // prettier-ignore
  const KEYS = Object.fromEntries(
    Object.entries({ find: FIND, culture: CULTURE, batch: BATCH, note: NOTE, tent: TENT })
      .map(([kind, own]) => [kind, [...FIRST_KEYS, ...own]]),
  ); // prettier-ignore
  const ID_LISTS = new Set(["from", "culture"]); // several IDs of these are on one line

  // -- the entry ---------------------------------------------------------------------------------------------
  const UNSEEN = /\s*[\p{Cc}\u2028\u2029\uFFFE\uFFFF]+\s*/gu;

  /** One line, without what no line of front matter can hold. */
  const line = (value) => String(value).replace(UNSEEN, " ").trim();

  const DAY = /^\d{4}-\d{2}-\d{2}/;
  const OPENING_QUOTE = /^["'[]/;
  const OPENING_BLOCK = /^[|>](?:[+-]?[1-9]?|[1-9][+-])[ \t]*(?:#.*)?$/;

  /** As the reader reads it back: what begins like YAML that it heeds is in quotation marks. */
  const written = (value) =>
    OPENING_QUOTE.test(value) || OPENING_BLOCK.test(value)
      ? `'${value.replaceAll("'", "''")}'`
      : value;

  const linesOf = (key, value) => {
    const values = [value ?? ""].flat().map(line).filter(Boolean);
    if (values.length < 2) return values.map((one) => `${key}: ${written(one)}`);
    if (ID_LISTS.has(key)) return [`${key}: ${values.join(", ")}`];
    return [`${key}:`, ...values.map((one) => `  - ${written(one)}`)];
  };

  const PLACED = "The position is that of the place, as recorded before.";

  const place = (keys, key) => (keys.includes(key) ? keys.indexOf(key) : keys.length);

  /** Free text with its lines, without blank ones around it. */
  const prose = (text) => {
    const lines = text.replace(/\r\n?|[\u0085\u2028\u2029]/g, "\n").replace(/(?![\t\n])\p{Cc}/gu, " ");
    return lines.replace(/^(?:[ \t]*\n)+/, "").trimEnd();
  };

  const text = (record) => {
    const keys = KEYS[record.kind];
    const values = Object.entries(record.values ?? {}).sort(([one], [other]) => place(keys, one) - place(keys, other));
    const photos = (record.photos ?? []).map((photo) => `  - ${photo.name}`);
    const placed = record.placed && record.values?.where ? PLACED : "";
    const body = [prose(record.text ?? ""), placed].filter(Boolean).join("\n\n");
    const front = [
      `kind: ${record.kind}`,
      ...linesOf("id", record.id),
      ...linesOf("about", (record.about ?? []).join(", ")),
      ...linesOf("date", record.date),
      ...values.flatMap(([key, value]) => linesOf(key, value)),
      ...(photos.length ? ["photos:", ...photos] : []),
    ];
    const whole = ["---", ...front, "---", ...(body ? ["", body] : []), ""].join("\n");
    return new TextEncoder().encode(whole.normalize("NFC"));
  };

  const IN_A_NOTE = ["species", "certainty", "identified by"]; // of a find, as a later identification

  const beside = (mine, theirs) => {
    if (!theirs.id) return {};
    const isOther = ([key, value]) => JSON.stringify(value) !== JSON.stringify(theirs.values[key]);
    const others = Object.entries(mine.values).filter(isOther);
    const isNamed = ([key]) => theirs.kind === "find" && IN_A_NOTE.includes(key);
    const named = others.some(isNamed) ? Object.entries(mine.values).filter(isNamed) : [];
    const lines = others.filter((row) => !isNamed(row)).map(([key, value]) => `${key}: ${[value].flat().join(", ")}`);
    const hidden = lines.length ? ["::: private", ...lines, ":::"].join("\n") : ""; // a position may be among them
    const text = [mine.text === theirs.text ? "" : mine.text, hidden].filter(Boolean).join("\n\n");
    return { kind: "note", form: "note", id: null, about: [theirs.id], values: Object.fromEntries(named), text };
  };

  const folder = (record) => {
    const day = [record.date, record.saved].map((date) => DAY.exec(date)?.[0]).find(Boolean);
    const whose = (record.id ?? record.about?.[0] ?? "").toLowerCase().replace(/[^a-z0-9]+/g, "-").slice(0, 40);
    return `${day}-${record.kind}-${whose.replace(/^-|-$/g, "") || "entry"}-${record.record.slice(0, 8)}`;
  };

  // -- IDs ---------------------------------------------------------------------------------------------------
  const LONGEST_ID = 32;
  const SUFFIX = /-[A-HJKMNP-TV-Z][0-9][A-HJKMNP-TV-Z][0-9]$/i;
  const FIRST_SERIES = {
    find: { stem: "F", year: 2, rest: "-", width: 3, last: 0 },
    culture: { stem: "C-", year: 2, rest: "-", width: 2, last: 0 },
    batch: { stem: "B-", year: 0, rest: "", width: 3, last: 0 },
  };

  const lower = (ids) => new Set(ids.map((id) => id.toLowerCase()));

  // A culture is named as `journal new` names it: see next_id in journal/writing/new_entry.py, and tests/record_cases.json.

  /** The part of an ID that stays, and the number or letter that goes on: ["PP-26", "A"]; null where it ends in neither. */
  const split = (id) => (/^(.*?[^0-9]|)([0-9]+)$/.exec(id) ?? /^(.*[0-9-])([A-Z]{1,2}|[a-z]{1,2})$/.exec(id))?.slice(1) ?? null;

  const bare = (id) => (split(id.replace(SUFFIX, "")) ? id.replace(SUFFIX, "") : id);

  const DIGIT_FIRST = /^\d/;
  const isNumber = (ending) => DIGIT_FIRST.test(ending);

  /** The number or letter that follows: 009 -> 010, A -> B, Z -> AA. */
  const following = (ending, width) => {
    if (isNumber(ending)) return String(Number(ending) + 1).padStart(width, "0");
    const [head, last] = [ending.slice(0, -1), ending.at(-1)];
    if (!/z/i.test(last)) return head + String.fromCharCode(last.charCodeAt(0) + 1);
    const first = last === "Z" ? "A" : "a";
    return (head ? following(head, width) : first) + first;
  };

  const isLater = (one, other) => {
    if (isNumber(one)) return Number(one) > Number(other);
    return one.length === other.length ? one.toUpperCase() > other.toUpperCase() : one.length > other.length;
  };

  const BINOMIAL = /^([A-Z])[a-z]+ ([a-z])[a-z-]+/;
  const initials = (species) => BINOMIAL.exec(species ?? "")?.slice(1).join("").toUpperCase();

  const isFrom = (row, ids) => (row.from ?? []).some((source) => ids.has(source.toLowerCase()));

  /** The stem with this year in the place of the year its entry is from, written with two digits or four. */
  const inYear = (stem, then, now) => {
    if (!then) return stem;
    for (const digits of [4, 2]) {
      const [before, after] = [then, now].map((year) => String(year).slice(-digits).padStart(digits, "0"));
      const changed = stem.replace(new RegExp(`(^|\\D)${before}(?!\\d)`, "g"), `$1${after}`);
      if (changed !== stem) return changed;
    }
    return stem;
  };

  /** The cultures as [ID, facts], and whether an ID is that of one of them with something behind it (`PP-26A-2`). */
  const culturesIn = (known) => {
    const cultures = Object.entries(known).filter(([, row]) => row.kind === "culture");
    const lines = lower(cultures.map(([id]) => bare(id)));
    const isInLine = (id) => [...bare(id).toLowerCase().matchAll(/-/g)].some(({ index, input }) => lines.has(input.slice(0, index)));
    return { cultures, isInLine };
  };

  /** How transfers of a culture are named, and the first of them: ["PP-26A-", "1"]. */
  const lineOf = (parent, known) => {
    const { cultures, isInLine } = culturesIn(known);
    const own = cultures.filter(([, row]) => isFrom(row, lower([parent]))).map(([id]) => id);
    const isNumbered = (id) => isInLine(id) && isNumber(split(bare(id))?.[1]);
    const like = [parent, ...own.reverse()].find(isNumbered);
    const [stem, ending] = (like && split(bare(like))) ?? [`${bare(parent)}-`, "1"];
    return [stem, "1".padStart(ending.length, "0")];
  };

  /** How those are named that begin a line, as clones of a find or batch, and the first of them: ["PP-26", "A"]. */
  const clonesOf = (parent, known, now) => {
    const yy = String(now % 100).padStart(2, "0");
    const { cultures: all, isInLine } = culturesIn(known);
    const cultures = all.filter(([id]) => !isInLine(id));
    const own = cultures.filter(([, row]) => isFrom(row, lower([parent])));
    const latin = initials(known[parent]?.species);
    if (own.length === 0 && latin) return [`${latin}-${yy}`, "A"];
    const names = lower(all.map(([id]) => id));
    const isStart = ([id, row]) => !isFrom(row, names) && !(initials(row.species) && id.startsWith(`${initials(row.species)}-`));
    const [id, row] = (own.length ? own : cultures.filter(isStart)).at(-1) ?? [];
    const [stem, ending] = (id && split(bare(id))) || [`C-${yy}`, "A"];
    return [inYear(stem, row?.year, now), isNumber(ending) ? "1".padStart(ending.length, "0") : /[A-Z]/.test(ending) ? "A" : "a"];
  };

  /** The stem with what follows the highest ending that is used with it, or the first, with the device's suffix. */
  const nextIn = (stem, first, used, suffix) => {
    const taken = lower([...used, ...used.map(bare)]);
    const cased = (id) => (/[A-Z]/.test(first) ? id.toUpperCase() : id);
    const inSeries = (found) => found?.[0].toLowerCase() === stem.toLowerCase() && isNumber(found[1]) === isNumber(first);
    const endings = [...taken].map((id) => split(cased(id))).filter(inSeries).map(([, ending]) => following(ending, first.length));
    let ending = endings.reduce((most, one) => (isLater(one, most) ? one : most), first);
    while (taken.has(`${stem}${ending}`.toLowerCase())) ending = following(ending, first.length);
    return [stem + ending, suffix].filter(Boolean).join("-");
  };

  const after = (id, used) => {
    if (!lower(used).has(id.toLowerCase())) return id;
    const [stem, ending] = split(bare(id)) ?? [`${id}-`, "1"];
    return nextIn(stem, ending, used, id.slice(bare(id).length + 1));
  };

  const nextId = (kind, { series = {}, known = {}, outbox = [], today, suffix, parent = null, method }) => {
    const here = outbox.map((row) => (typeof row === "string" ? { id: row } : row)).filter((row) => row.id);
    const used = [...Object.keys(known), ...here.map((row) => row.id)];
    if (kind === "culture" && parent) {
      const whole = parent.replace(/\.\d+$/, "");
      const all = { ...known, ...Object.fromEntries(here.filter((row) => row.kind).map((row) => [row.id, { ...row, ...known[row.id] }])) };
      const isStart = ["find", "batch"].includes(all[whole]?.kind) || ["tissue", "spores"].includes(method);
      const [stem, first] = isStart ? clonesOf(whole, all, today.getFullYear()) : lineOf(whole, all);
      const name = nextIn(stem, first, used, suffix);
      if (name.length <= LONGEST_ID) return name;
    }
    const { stem, year, rest, width, last } = series[kind] ?? FIRST_SERIES[kind];
    const years = year ? String(today.getFullYear()).slice(-year) : "";
    const first = (year && used.length ? 0 : last) + 1; // in a new year the numbers begin anew
    return nextIn(stem + years + rest, String(first).padStart(width, "0"), used, suffix);
  };

  // -- numbers, positions, times -----------------------------------------------------------------------------
  const pointed = (typed) => typed.trim().replace(/(\d),(?=\d)/g, "$1.").replace(/^−/, "-");

  const number = (typed) => {
    const isNumber = /^[+-]?\d+(\.\d+)?$/.test(pointed(typed));
    const couldBeTwo = /^\D?[1-9]\d{0,2},\d{3}$/.test(typed.trim());
    return isNumber && !couldBeTwo ? Number(pointed(typed)) : null;
  };

  const quantity = (typed, unit) => {
    if (number(typed) !== null) return `${pointed(typed)} ${unit}`.trim();
    const found = /^([+-]?\d+(?:\.\d+)?)\s*([^\d\s.,]+(?:\s+\d+(?:\.\d+)?\s*[^\d\s.,]+)?)$/.exec(pointed(typed));
    return found && number(/^\S?[\d.,]*/.exec(typed.trim())[0]) !== null ? `${found[1]} ${found[2]}` : null;
  };

  const position = ({ lat, lon, accuracy }, us) => {
    const decimals = accuracy && accuracy < 2 ? 6 : 5;
    const degrees = (value) => (Math.abs(value) < 0.5 / 10 ** decimals ? 0 : value).toFixed(decimals);
    const at = `${degrees(lat)}, ${degrees(lon)}`;
    const radius = us ? `${Math.ceil(accuracy / 0.3048)} ft` : `${Math.ceil(accuracy)} m`;
    return accuracy ? `${at} ±${radius}` : at;
  };

  /** Its parts by the device's clock: the day, the time of day with seconds, and the offset. */
  const clock = (date) => {
    const east = -date.getTimezoneOffset();
    const two = (value) => String(value).padStart(2, "0");
    const wall = new Date(date.getTime() + east * 60000).toISOString();
    const offset = `${east < 0 ? "-" : "+"}${two(Math.floor(Math.abs(east) / 60))}:${two(Math.abs(east) % 60)}`;
    return { day: wall.slice(0, 10), time: wall.slice(11, 19), offset };
  };

  const moment = (date) => {
    const { day, time, offset } = clock(date);
    return `${day} ${time.slice(0, 5)}${offset}`;
  };

  const stamp = (date) => {
    const { day, time, offset } = clock(date);
    return `${day}T${time}${offset}`;
  };

  const known = async (data, read) => {
    const parts = await Promise.all((data.parts ?? []).map((key) => read(`record/ids-${key}.json`)));
    return { ...data, ids: Object.assign({}, data.ids, ...parts) };
  };

  return { known, text, beside, folder, nextId, after, number, quantity, position, moment, stamp, KEYS };
})();
