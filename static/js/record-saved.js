/* What is shown once a record is saved: its ID for the label, what it holds, what a find still lacks. One global,
   `journalSaved(page, {records, known, root, say})`:

     show(record, waits)   waits: whether a position may still come
     improve(where)         adds the position that has come, once, as a further revision of the find, also in place of that
                            of its place; null: none has */
"use strict";

globalThis.journalSaved = (page, { records, known, root, say }) => {
  const $ = (selector) => page.querySelector(selector);
  const { withoutPart } = globalThis.journalFields;
  let saved = null;

  const showFacts = ({ kind, photos, values, placed }) => {
    const counted = photos.length ? [photos.length === 1 ? "1 photo" : `${photos.length} photos`] : [];
    const note = (key) => (key === "where" && placed ? `, the position of the place${saved.waits ? " until one is measured" : ""}` : "");
    const facts = Object.entries(values).map(([key, value]) => `${key}: ${[value].flat().join(", ")}${note(key)}`);
    $("[data-saved-facts]").textContent = [...counted, ...facts].join(" · ");
    const found = { photo: photos.length, position: values.where, species: values.species };
    const absent = Object.keys(found).filter((name) => !found[name]);
    $("[data-saved-lacks]").hidden = kind !== "find" || absent.length === 0;
    $("[data-saved-lacks]").textContent = `It has no ${absent.join(" and no ")} yet.${saved.waits ? " The position is added when it comes, while this page is open." : ""}`;
  };

  const show = (record, waits) => {
    saved = { record, waits };
    $("[data-record-title]").textContent = "Saved";
    $("[data-saved-panel]").hidden = false;
    $("[data-saved-edit]").href = `index.html?edit=${record.record}`;
    const words = $("[data-saved-words]");
    words.textContent = record.id ? `Write ${record.id} on its label` : record.about.join(", ") || "A note";
    showFacts(record);
    const back = known.ids[withoutPart(record.about[0])];
    $("[data-saved-page]").hidden = !back?.address;
    if (back?.address) Object.assign($("[data-saved-page]"), { textContent: `Back to ${withoutPart(record.about[0])}`, href: new URL(back.address, root).href });
    navigator.storage?.persisted?.().then((lasting) => ($("[data-saved-risk]").hidden = lasting));
    words.focus();
    scrollTo(0, 0);
  };

  const improve = async (where) => {
    if (!saved?.waits || !where) return;
    saved.waits = false;
    const { record } = saved.record;
    try {
      const [latest, drafts] = [await records.latest(), await records.drafts()];
      const now = latest.find((row) => row.record === record); // it may have been changed or deleted meanwhile
      const isOpen = drafts.some((row) => row.record === record);
      const isPlaced = now?.placed && now.revision === saved.record.revision; // nobody has chosen that since
      if (now && (isPlaced || !now.values.where) && !isOpen) showFacts(await records.save({ ...now, placed: null, values: { ...now.values, where } }));
    } catch (fault) {
      say(fault.message);
    }
  };

  return { show, improve };
};
