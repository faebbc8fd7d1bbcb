/* The photos of the form that is open: shown, added and taken out. One global,
   `journalPhotos(records, {say, store, added})`, with say: shows words; store: stores the draft, and gives a promise;
   added: called when photos have come:

     open(form, draft)      shows a draft's photos; those that are added from now on are its own
     close()                no form is open
     add(files, source)     stores each and shows it, one call after the other
     settled()              fulfilled when none is on its way any more */
"use strict";

globalThis.journalPhotos = (records, { say, store, added }) => {
  const shownBy = new Map(); // photo -> the URL it is shown by
  let form = null;
  let draft = null;
  let adding = Promise.resolve();

  /** Reads each photo once; one whose bytes are gone, or that the browser cannot draw, keeps its place in the list. */
  const urlOf = async ({ photo, type }) => {
    if (!shownBy.has(photo)) {
      const bytes = await records.photoBytes(photo).catch(() => null);
      shownBy.set(photo, bytes ? URL.createObjectURL(new Blob([bytes], { type })) : "");
    }
    return shownBy.get(photo);
  };

  const drop = async (photo) => {
    const draftShown = draft;
    await store();
    draftShown.photos = (await records.dropPhoto(draftShown.record, photo)).photos;
    if (draft === draftShown) await show();
  };

  const itemOf = async (photo, at) => {
    const item = document.createElement("li");
    const picture = document.createElement("img");
    Object.assign(picture, { src: await urlOf(photo), alt: `Photo ${at + 1}`, width: 96, height: 96 });
    const remove = document.createElement("button");
    Object.assign(remove, { type: "button", textContent: "Remove" });
    remove.setAttribute("aria-label", `Remove photo ${at + 1}`);
    remove.addEventListener("click", () => drop(photo).catch((fault) => say(fault.message)));
    item.append(picture, remove);
    return item;
  };

  const show = async () => {
    const draftShown = draft;
    const items = [];
    for (const [at, photo] of draftShown.photos.entries()) items.push(await itemOf(photo, at));
    if (draft === draftShown && items.length === draftShown.photos.length) form.querySelector("[data-taken]").replaceChildren(...items);
  };

  const addNow = async (files, source) => {
    const draftShown = draft;
    if (!draftShown) return;
    const status = form.querySelector("[data-photo-status]");
    for (const [at, file] of files.entries()) {
      if (draft !== draftShown) return;
      status.hidden = false;
      status.textContent = `Storing photo ${at + 1} of ${files.length} …`;
      try {
        await store();
        draftShown.photos = (await records.addPhoto(draftShown, file, { source, name: file.name })).draft.photos;
      } catch (fault) {
        say(`${file.name} was not stored: ${fault.message}`);
      }
    }
    status.hidden = true;
    if (draft !== draftShown) return;
    await show();
    added();
  };

  return {
    open: (opened, draftShown) => {
      [form, draft] = [opened, draftShown];
      return show();
    },
    close: () => (draft = null),
    add: (files, source) => (adding = adding.then(() => addNow(files, source)).catch((fault) => say(fault.message))),
    settled: () => adding,
  };
};
