/* What a label's code says, read back. One global, `journalLabel`:

     check(id)             the check character of an ID: ISO/IEC 7064, MOD 37-2
     read(text, sites)     {id, part} that a scanned or typed text names, part a number or null; null where it names
                           nothing. sites: addresses of this journal; what lies below any of them is its own

   It gives what `read_label` of journal/reading/label_codes.py gives (tests/label_cases.json). No text is taken for an
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

  const read = (text, sites) => {
    if (text.length > LONGEST || /[^ -~]/.test(text)) return null;
    const found = text.replace(/^ +| +$/g, "");
    if (found.includes("/")) return sites.map((site) => below(found, site)).find(Boolean) ?? null;
    const [, bare, mark, typed] = /^([^+]*)(\+?)(.*)$/.exec(found);
    return mark && typed.toUpperCase() !== check(bare) ? null : refOf(bare);
  };

  return { check, read };
})();
