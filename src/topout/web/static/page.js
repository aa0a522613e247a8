// Every page: the error summary takes the focus, its links go into the box; the state line says when the connection is gone.
const summary = document.getElementById("faults");
if (summary) {
  summary.focus();
  for (const link of summary.querySelectorAll("a[href^='#']")) {
    link.addEventListener("click", (event) => {
      const place = document.getElementById(link.hash.slice(1));
      if (!place) return;
      const box = place.matches("input, select, textarea") ? place : place.querySelector("input, select, textarea") || place;
      event.preventDefault();
      box.focus();
    });
  }
}
// A word that is tapped stands in its box as if it had been typed.
for (const pick of document.querySelectorAll("button[data-put]")) {
  pick.addEventListener("click", () => {
    const box = document.getElementById(pick.dataset.put);
    box.value = pick.textContent;
    for (const kind of ["input", "change"]) box.dispatchEvent(new Event(kind, { bubbles: true }));
  });
}
const lost = (is) => document.documentElement.classList.toggle("lost", is);
addEventListener("offline", () => lost(true));
addEventListener("online", () => lost(false));
document.addEventListener("htmx:sendError", () => lost(true));
document.addEventListener("htmx:afterRequest", (event) => { if (event.detail.successful) lost(false); });
lost(!navigator.onLine);
