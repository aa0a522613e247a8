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
const lost = (is) => document.documentElement.classList.toggle("lost", is);
addEventListener("offline", () => lost(true));
addEventListener("online", () => lost(false));
document.addEventListener("htmx:sendError", () => lost(true));
document.addEventListener("htmx:afterRequest", (event) => { if (event.detail.successful) lost(false); });
lost(!navigator.onLine);
