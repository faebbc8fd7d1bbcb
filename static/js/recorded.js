/* What was recorded on this device, on every page: how much waits to be exported and since when, the records about what
   a page shows, and what is due, to be ticked off (recorded-shown.js). Imported by shell.js. The scripts that keep
   records, and those that show them, are fetched once there is a record or a draft, or one is made: most pages do
   without.

   On the page of an ID it puts a button for a photo, which is stored in a draft about that ID before Record opens on it.

   Hooks
     [data-photo-place]      on pages of an ID; where things can be recorded it gets [data-camera], the button for a photo
     html[data-about]        the ID that the page is of; html[data-place] the list it belongs to
     [data-tick-key]         something due, to be ticked off */
import "./record-database.js";

const root = new URL(document.documentElement.dataset.root || "./", location.href);
const NAME = `journal records ${root.pathname}`; // of the database and the channel of record-store.js
let records = null; // journalRecords(root), once it is needed
let loading = null;

const fetchRecords = async () => {
  await import("./records.js").catch((cause) => {
    throw new Error("What this needs is not on this device yet. Connect it to the internet, then try again.", { cause });
  });
  return globalThis.journalRecords(root);
};

/** journalRecords(root), of which journalEntry is a part; after a failure it is fetched again. */
export const loadRecords = async () => {
  loading ??= fetchRecords();
  try {
    return (records = await loading);
  } catch (error) {
    loading = null;
    throw error;
  }
};

const { about: aboutPage, place } = document.documentElement.dataset;
const FORM_OF = { Finds: "note", Cultures: "culture", Batches: "batch", Tent: "tent" };

const element = (name, words, more = {}) => Object.assign(document.createElement(name), { textContent: words ?? "", ...more });

// -- a photo of what a page is about --------------------------------------------------------------------------
/** The page changes only once the photo is on disk; Record then asks for the rest. */
const takePhoto = async (file, form, says) => {
  says.textContent = "Storing the photo …";
  try {
    await loadRecords();
    const draft = {
      record: crypto.randomUUID(), revision: 0, kind: form === "tent" ? "tent" : "note", form, id: null, about: [aboutPage],
      values: {}, text: "", date: globalThis.journalEntry.moment(new Date()),
    }; // prettier-ignore
    await records.addPhoto(draft, file, { source: "camera", name: file.name });
    location.assign(new URL(`record/index.html?draft=${draft.record}`, root));
  } catch (fault) {
    says.textContent = `The photo was not stored: ${fault.message}`;
  }
};

const showCamera = () => {
  const photoPlace = document.querySelector("[data-photo-place]");
  if (!photoPlace) return;
  if (!aboutPage || !FORM_OF[place] || globalThis.journalDatabase.refusal()) {
    photoPlace.remove();
    return;
  }
  const camera = element("aside", "", { className: "camera" });
  camera.dataset.camera = "";
  camera.setAttribute("aria-label", `A photo of ${aboutPage}`);
  const label = element("label", "", { className: "button tall" });
  const input = element("input", "", { type: "file", className: "file", accept: "image/jpeg,image/png,image/webp" });
  input.setAttribute("capture", "environment");
  label.append(input, element("span", "Photo"));
  const says = element("p");
  says.setAttribute("role", "status");
  camera.append(label, says);
  input.addEventListener("click", () => loadRecords().catch(() => undefined)); // while the camera opens
  input.addEventListener("change", () => input.files.length && takePhoto(input.files[0], FORM_OF[place], says));
  addEventListener("pageshow", () => {
    input.value = ""; // a page that comes back from memory takes the next photo
    says.textContent = "";
  });
  photoPlace.replaceWith(camera);
};

// -- beginning -----------------------------------------------------------------------------------------------
const show = async () => {
  const hasRecords = records || (await journalDatabase.holds(NAME, ["records", "drafts"]).catch(() => true));
  if (!hasRecords && !document.querySelector("[data-tick-key]")) return;
  const { show: showOn } = await import("./recorded-shown.js");
  await showOn(hasRecords ? await loadRecords() : null, loadRecords);
};

/** One showing after the other, so that what was read first is never shown last. */
let showing = Promise.resolve();
const refresh = () => (showing = showing.then(show).catch(() => undefined));

const begin = async () => {
  if (!globalThis.indexedDB) return;
  showCamera();
  new BroadcastChannel(NAME).onmessage = refresh; // of this page's own records too
  addEventListener("pageshow", refresh);
  document.addEventListener("visibilitychange", () => document.visibilityState === "visible" && refresh());
  await refresh();
};

let begun = null;
export const start = () => (begun ??= begin());
