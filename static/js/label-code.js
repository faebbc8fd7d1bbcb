/* What a label's code says, read back. One global, `journalLabel`:

     check(id)             the check character of an ID: ISO/IEC 7064, MOD 37-2
     read(text, sites, known)   {id, part} that a scanned or typed text names, part a number or null; null where it
                           names nothing. sites: addresses of this journal; what is below any of them is its own.
                           known: of a typed text, the journal's IDs in lower case (a Set or Map): an O and a 0 behind
                           `+` are taken for each other where no other of them may have been meant

   It gives what `read_label` and `check_fits` of journal/reading/label_codes.py give (tests/label_cases.json). No text is taken for an
   address to open: only the ID in it is used. */
"use strict";

globalThis.journalLabel = (() => {
  const LONGEST = 400;
  const ALPHABET = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";
  const RESERVED = /^(?:con|prn|aux|nul|(?:com|lpt)[1-9]|compare)$/i;
  const REF = /^([A-Za-z][A-Za-z0-9-]{0,31})(?:\.0*([1-9]\d{0,5}))?$/;
  const ADDRESS = /^https?:\/\/([^/?#\\@\s]+)(\/[^?#\s]*)?/i;
  const BELOW = /^(finds|cultures|batches|tents)\/([A-Za-z0-9-]{1,32})(?:\/(?:index\.html)?)?(?:#([A-Za-z0-9-]+))?$/;

  const check = (id) => {
    let total = 0;
    for (const letter of id.toUpperCase().replace(/[^0-9A-Z]/g, "")) total = ((total + ALPHABET.indexOf(letter)) * 2) % 37;
    return ALPHABET[(38 - total) % 37];
  };

  const refOf = (text) => {
    const [, id, part] = REF.exec(text) ?? [];
    return id && !id.endsWith("-") && !RESERVED.test(id) ? { id, part: part ? Number(part) : null } : null;
  };

  const below = (text, site) => {
    const [own, there] = [ADDRESS.exec(site.replace(/index\.html$/, "").replace(/\/+$/, "")), ADDRESS.exec(text)];
    if (!own || !there || own[1].toLowerCase() !== there[1].toLowerCase()) return null;
    const [above, path] = [`${own[2] ?? ""}/`, text.slice(text.indexOf(there[1]) + there[1].length)];
    const [, folder, id, anchor] = (path.startsWith(above) && BELOW.exec(path.slice(above.length))) || [];
    if (!folder) return null;
    const isPart = /^\d+$/.test(anchor ?? "");
    if (folder === "tents" && anchor && !isPart) return refOf(anchor);
    return refOf(isPart ? `${id}.${anchor}` : id);
  };

  /** What else may be meant by a typed ID: one character is another, or two neighbours changed places. */
  const likelyMistaken = (id) => {
    const at = [...id].flatMap((letter, place) => (/[0-9a-z]/i.test(letter) ? [place] : []));
    const others = at.flatMap((place) =>
      [...ALPHABET.slice(0, -1)].filter((letter) => letter !== id[place].toUpperCase()).map((letter) => id.slice(0, place) + letter + id.slice(place + 1)),
    ); // prettier-ignore
    const swapped = at.slice(1).map((other, index) => {
      const one = at[index];
      return id.slice(0, one) + id[other] + id.slice(one + 1, other) + id[one] + id.slice(other + 1);
    });
    return [...others, ...swapped];
  };

  const fits = (id, typed, known) => {
    const right = check(id);
    if (typed === right || !known || ![`O0`, `0O`].includes(typed + right)) return typed === right;
    const isKnown = (one) => {
      const [, whole, part] = /^([^.]*)(?:\.(.*))?$/.exec(one.toLowerCase());
      return known.has(whole) && (part === undefined || /^\d+$/.test(part));
    };
    return isKnown(id) && !likelyMistaken(id).some((one) => isKnown(one) && check(one) === typed);
  };

  const read = (text, sites, known = null) => {
    if (text.length > LONGEST || /[^ -~]/.test(text)) return null;
    const found = text.replace(/^ +| +$/g, "");
    if (found.includes("/")) return sites.map((site) => below(found, site)).find(Boolean) ?? null;
    const [, bare, mark, typed] = /^([^+]*)(\+?)(.*)$/.exec(found);
    return mark && !fits(bare, typed.toUpperCase(), known) ? null : refOf(bare);
  };

  return { check, read };
})();
