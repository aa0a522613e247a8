// The find box: htmx brings the list while one types; here are its keys (combobox with a list, WAI-ARIA Authoring Practices)
// and the line that says how many. Without script Enter leads to the page with the same list.
for (const form of document.querySelectorAll("form[data-find]")) {
  const box = form.querySelector("[role=combobox]");
  const place = document.getElementById(box.getAttribute("aria-controls"));
  const under = place.parentElement;
  const says = form.querySelector("[data-find-says]");
  let at = -1;
  let entered = false;  // Enter was pressed before the list came: it is meant for that list

  // A list of what was typed last is on its way: said of the place, for whoever has it read aloud.
  const coming = () => place.getAttribute("aria-busy") === "true";
  const waits = (is) => place.setAttribute("aria-busy", String(is));

  const options = () => [...place.querySelectorAll("[role=option]")];
  function choose(next) {
    const all = options();
    if (all[at]) all[at].setAttribute("aria-selected", "false");
    at = next;
    if (all[at]) {
      all[at].setAttribute("aria-selected", "true");
      box.setAttribute("aria-activedescendant", all[at].id);
      all[at].scrollIntoView({ block: "nearest" });
    } else box.removeAttribute("aria-activedescendant");
  }
  function open(is) {
    under.hidden = !is;
    box.setAttribute("aria-expanded", String(is && options().length > 0));
    if (!is) choose(-1);
  }

  // The only line there is; where there are others, the page with all of them.
  function takeOnly() {
    const all = options();
    entered = false;
    if (all.length === 1) all[0].click();
    else form.requestSubmit();
  }

  box.addEventListener("input", () => { waits(window.htmx !== undefined); entered = false; });
  place.addEventListener("htmx:afterSwap", (event) => {
    const told = place.querySelector("[data-says]");
    choose(-1);
    open(told !== null && box.value.trim() !== "");
    says.textContent = told ? told.dataset.says : "";
    if (new URL(event.detail.xhr.responseURL).searchParams.get("q") === box.value) waits(false);
    if (entered && !coming()) takeOnly();
  });
  for (const lost of ["htmx:sendError", "htmx:responseError", "htmx:timeout"]) {
    box.addEventListener(lost, () => { waits(false); if (entered) form.requestSubmit(); });
  }
  box.addEventListener("keydown", (event) => {
    const all = options();
    if (event.key === "Escape" && form.closest("[popover]")) return;  // closes all of it
    if (event.key === "Escape") {
      if (under.hidden) box.value = "";
      open(false);
      event.preventDefault();
    } else if (event.key === "Enter") {
      if (under.hidden && !coming()) return;
      event.preventDefault();
      if (all[at]) all[at].click();
      else if (coming() && box.value.trim()) entered = true;
      else takeOnly();
    } else if ((event.key === "ArrowDown" || event.key === "ArrowUp") && all.length) {
      event.preventDefault();
      if (under.hidden) open(true);
      const step = event.key === "ArrowDown" ? 1 : -1;
      choose(at < 0 && step < 0 ? all.length - 1 : (at + step + all.length) % all.length);
    }
  });
  form.addEventListener("focusout", (event) => { if (!form.contains(event.relatedTarget)) open(false); });
  box.addEventListener("focus", () => { if (box.value.trim() && options().length) open(true); });
  place.addEventListener("mousedown", (event) => event.preventDefault());  // the box keeps the focus until the click
}
