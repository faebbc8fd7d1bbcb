/* What is new in a share since its reader last visited: kept on the reader's device, and shown on the first page.

   The device keeps the entries of the copy that is shown (address -> fingerprint) and those of the copy that was looked
   at before it. New is what the one has and the other has not, so that it stays in sight until a newer copy comes, or
   until it is called seen.

   Hooks
     [data-since="key"]           the section; key: by what this device remembers the share
       [data-since-status]            what there is to say
       [data-since-list]            a list; gets li.row with p > a.id, a, and p.soft; hidden where nothing is new
       [data-since-more]            how many more there are than the list shows
       [data-since-acts]            hidden where nothing is new; holds
       button[data-since-seen]      calls all of it seen
     button[data-since-forget="key"]   forgets; then [data-since-forgot] is shown
   journalEntries(rows), called by since/entries.js, hands in the entries, newest first:
     [address, fingerprint, ID, the ID's page, ISO date, date in words, what it is, small photo or null]

   Storage may be shut, above all for pages from a folder: then that is said, and nothing is kept. */
"use strict";

(() => {
  const SHOWN = 30;
  const root = document.documentElement.dataset.root || "./";
  const section = document.querySelector("[data-since]");
  const forgetting = document.querySelector("[data-since-forget]");
  const keyOf = (name) => `journal looked ${name}`;

  const today = () => {
    const now = new Date();
    const two = (n) => String(n).padStart(2, "0");
    return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`;
  };

  const words = new Intl.DateTimeFormat("en-GB", { day: "numeric", month: "long", year: "numeric", timeZone: "UTC" });
  const dayWords = (iso) => words.format(Date.parse(iso));

  // -- what this device keeps ----------------------------------------------------------------------------------

  /** What is kept under a name, or null; throws where the storage is shut. */
  const read = (name) => {
    try {
      const kept = JSON.parse(localStorage.getItem(keyOf(name)));
      return kept && typeof kept.now === "object" && typeof kept.on === "string" ? kept : null;
    } catch (error) {
      if (error instanceof SyntaxError) return null;
      throw error;
    }
  };

  const same = (one, other) => {
    const names = Object.keys(one);
    return names.length === Object.keys(other).length && names.every((name) => one[name] === other[name]);
  };

  /** What to keep after a look at a copy: {now: its entries, on: the day of the look, before, beforeOn: the copy
      before it, and when that was looked at last; null where there was none}. */
  const nextState = (kept, now, on) => {
    if (kept === null) return { now, on, before: null, beforeOn: null };
    if (same(kept.now, now)) return { ...kept, on };
    return { now, on, before: kept.now, beforeOn: kept.on };
  };

  /** Whether an entry was not in a copy, was otherwise in it, or was the same. */
  const change = (before, [address, print]) => {
    if (!(address in before)) return "new";
    return before[address] === print ? null : "changed";
  };

  // -- what is shown -------------------------------------------------------------------------------------------

  const part = (name) => section.querySelector(`[data-since-${name}]`);
  const setStatus = (text) => (part("status").textContent = text);

  const newElement = (tag, name, text = "") => {
    const element = document.createElement(tag);
    if (name) element.className = name;
    element.textContent = text;
    return element;
  };

  const link = (address, name, text) => Object.assign(newElement("a", name, text), { href: root + address });

  const thumb = (photo) => {
    const holder = newElement("span", "thumb");
    const frame = newElement("span", "pic");
    frame.append(Object.assign(document.createElement("img"), { src: root + photo, alt: "", loading: "lazy" }));
    holder.append(frame);
    return holder;
  };

  const rowOf = ([row, how]) => {
    const [address, , id, page, , when, what, photo] = row;
    const first = newElement("p", "");
    if (id) first.append(link(page, "id", id), " ");
    first.append(link(address, "", what));
    const texts = newElement("div", "words");
    texts.append(first, newElement("p", "soft", how === "new" ? when : `${when} · changed since`));
    const item = newElement("li", "row");
    if (photo) item.append(thumb(photo));
    item.append(texts);
    return item;
  };

  const counted = (n, one, several) => (n === 1 ? `1 ${one}` : `${n} ${several}`);

  const sentence = (found, since) => {
    const added = found.filter(([, how]) => how === "new").length;
    const parts = [];
    if (added) parts.push(`${counted(added, "entry is", "entries are")} new`);
    if (found.length > added) parts.push(`${counted(found.length - added, "has", "have")} changed`);
    return `${parts.join(" and ")} since your visit on ${dayWords(since)}.`;
  };

  const show = (rows, kept) => {
    const found = kept.before === null ? [] : rows.map((row) => [row, change(kept.before, row)]).filter(([, how]) => how);
    const list = part("list");
    list.replaceChildren(...found.slice(0, SHOWN).map(rowOf));
    list.hidden = part("acts").hidden = found.length === 0;
    part("more").hidden = found.length <= SHOWN;
    part("more").textContent = `${counted(found.length - SHOWN, "more entry is", "more entries are")} in the diary.`;
    if (found.length) setStatus(sentence(found, kept.beforeOn));
    return found.length;
  };

  const sayNothingNew = (kept, isFirst) => {
    if (isFirst) return setStatus("This is your first visit on this device, so everything is new to you. With the next copy, new and changed entries are listed here.");
    const since = kept.beforeOn ?? kept.on;
    return setStatus(`There are no new entries since your visit on ${dayWords(since)}.`);
  };

  const showSinceVisit = (rows) => {
    const name = section.dataset.since;
    const now = Object.fromEntries(rows.map(([address, print]) => [address, print]));
    try {
      const before = read(name);
      let kept = nextState(before, now, today());
      localStorage.setItem(keyOf(name), JSON.stringify(kept));
      if (show(rows, kept) === 0) sayNothingNew({ ...kept, on: before?.on ?? kept.on }, before === null);
      part("seen").addEventListener("click", () => {
        kept = { ...kept, before: now, beforeOn: today() };
        localStorage.setItem(keyOf(name), JSON.stringify(kept));
        show(rows, kept);
        sayNothingNew(kept, false);
      });
    } catch {
      setStatus("This browser does not store anything for these pages, so new entries cannot be marked. The latest entries are below.");
    }
  };

  globalThis.journalEntries = (rows) => section && showSinceVisit(rows);

  if (forgetting) {
    forgetting.hidden = false;
    forgetting.addEventListener("click", () => {
      try {
        localStorage.removeItem(keyOf(forgetting.dataset.sinceForget));
      } catch {
        // then nothing was kept
      }
      for (const place of document.querySelectorAll("[data-since-forgot]")) place.hidden = false;
    });
  }
})();
