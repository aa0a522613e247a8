// A step page has no find box in its head: one that has the focus takes what a scanner or a keyboard sends for the reading.
// Its Find key opens the same box over the page, and the focus is there only while it is open: Esc, Close, a tap beside it or
// the Tab key out of it close it, and the focus is where it was. Without script the key is a link to Find's page.
const over = document.getElementById("find-over");
const overOpens = over?.showPopover !== undefined;
const overIsOpen = () => overOpens && over.matches(":popover-open");

// A page that moves on by itself, or draws itself anew, waits until nobody types in the box: the letters would go into a reading.
function findShut() {
  if (!overIsOpen()) return Promise.resolve();
  return new Promise((shut) => {  // word that it opened may still be on its way
    over.addEventListener("toggle", (event) => { if (event.newState === "closed") shut(); });
  });
}

if (overOpens) {
  const box = over.querySelector("[role=combobox]");
  const opens = (event) => event.target.closest("[data-find-over]");
  over.hidden = false;
  document.addEventListener("mousedown", (event) => {  // the focus stays where it is, to be given back
    if (opens(event) || event.target === over) event.preventDefault();
  });
  document.addEventListener("click", (event) => {
    if (event.target === over) over.hidePopover();
    if (!opens(event) || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    over.showPopover();
    box.focus();
  });
  over.addEventListener("keydown", (event) => {  // a search box keeps the first Esc for itself
    if (event.key !== "Escape") return;
    event.preventDefault();
    over.hidePopover();
  });
  over.addEventListener("focusout", (event) => {
    if (event.relatedTarget && !over.contains(event.relatedTarget)) over.hidePopover();
  });
  over.addEventListener("beforetoggle", (event) => {  // at once: what follows a shut box never meets what stood in it
    if (event.newState !== "closed") return;
    box.value = "";
    document.getElementById(box.getAttribute("aria-controls")).replaceChildren();
  });
  addEventListener("pagehide", () => over.hidePopover());
}
