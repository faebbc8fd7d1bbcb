/* The page at the address of an earlier ID: goes on to the page that the thing has now, with the part that a label
   names behind `#`. Without scripts the page's own refresh does it, without the part.

   [data-moved]   where to, relative to this page

   And on a page that gave a part of itself to another page, for links and labels that still name it here:
   a[data-goes-on]   leads to the part that its own `id` names
   a[data-dated]     leads to the page with the entries that a date names, `#2026-11-02` */
"use strict";

{
  const moved = document.querySelector("[data-moved]");
  if (moved) location.replace(new URL(moved.dataset.moved + location.hash, location.href));
  const goOn = () => {
    const part = location.hash.slice(1);
    const there = part && document.getElementById(part);
    const dated = !there && /^\d{4}(-\d\d)*/.test(part) && document.querySelector("a[data-dated]");
    if (there && "goesOn" in there.dataset) location.replace(there.href);
    else if (dated) location.replace(dated.href + location.hash);
  };
  goOn();
  addEventListener("hashchange", goOn);
}
