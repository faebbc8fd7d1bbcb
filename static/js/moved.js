/* The page at the address of an earlier ID: goes on to the page that the thing has now, with the part that a label
   names behind `#`. Without scripts the page's own refresh does it, without the part.

   [data-moved]   where to, relative to this page */
"use strict";

{
  const moved = document.querySelector("[data-moved]");
  if (moved) location.replace(new URL(moved.dataset.moved + location.hash, location.href));
}
