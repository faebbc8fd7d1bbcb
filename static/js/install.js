/* Putting the journal among the phone's apps.

   Hooks
     [data-install]           button, shown where the browser offers an install
     [data-install-by-hand]   words for the browsers that have no such offer (Share, then Add to Home Screen)
     [data-installed]         words, shown where the journal runs as an app */

const setHidden = (selector, hidden) => {
  for (const element of document.querySelectorAll(selector)) element.hidden = hidden;
};

const showOffer = () => setHidden("[data-install]", !globalThis.journalInstallOffer);

const press = async () => {
  const offer = globalThis.journalInstallOffer;
  globalThis.journalInstallOffer = null; // an offer can be used once
  showOffer();
  await offer?.prompt();
};

export const start = () => {
  const installed = matchMedia("(display-mode: standalone)").matches || navigator.standalone === true;
  setHidden("[data-installed]", !installed);
  setHidden("[data-install-by-hand]", installed || !("standalone" in navigator));
  addEventListener("journalinstalloffer", showOffer);
  for (const button of document.querySelectorAll("[data-install]")) button.addEventListener("click", press);
  showOffer();
};
