// What is typed into a form and not yet sent is kept on the server, so that it stands there after an interruption, on
// any device. The form says where: data-draft. Its element with data-draft-says shows what the server answered, and
// the form hears a "kept" event with the whole answer. Without script nothing is kept before it is sent.
for (const form of document.querySelectorAll("form[data-draft]")) {
  let timer = 0;
  let busy = false;
  let again = false;
  let sent = false;
  const lost = (is) => document.documentElement.classList.toggle("lost", is);

  async function keep() {
    timer = 0;
    if (sent) return;
    if (busy) { again = true; return; }  // one at a time, so that the last one typed is the last one kept
    busy = true;
    const body = new FormData();
    for (const [name, value] of new FormData(form)) if (typeof value === "string") body.append(name, value);
    try {
      const answer = await fetch(form.dataset.draft, { method: "POST", body, keepalive: true });
      lost(answer.status >= 500);
      if (answer.status === 200 && !sent) {  // 204: its form was saved meanwhile, so there is nothing to keep
        const kept = await answer.json();
        const line = form.querySelector("[data-draft-says]");
        if (line && kept.says !== undefined) line.textContent = kept.says;
        form.dispatchEvent(new CustomEvent("kept", { detail: kept }));
      }
    } catch {
      lost(true);
    }
    busy = false;
    if (again) { again = false; keep(); }
  }

  const soon = (event) => {
    if (event.target.type === "file" || sent) return;
    clearTimeout(timer);
    timer = setTimeout(keep, 300);
  };
  form.addEventListener("input", soon);
  form.addEventListener("change", soon);
  form.addEventListener("submit", () => { sent = true; clearTimeout(timer); timer = 0; });
  addEventListener("pagehide", () => { if (timer) { clearTimeout(timer); busy = false; keep(); } });
}
// Answers that are drawn anew for what was tapped before them (htmx) keep the one that was tapped meanwhile.
let tapped = [];
document.addEventListener("htmx:beforeSwap", (event) => {
  tapped = [...event.detail.target.querySelectorAll("input:checked")].map((box) => [box.name, box.value]);
});
document.addEventListener("htmx:afterSwap", () => {
  for (const box of document.querySelectorAll("form[data-draft] input[type=radio]"))
    if (tapped.some(([name, value]) => box.name === name && box.value === value)) box.checked = true;
  tapped = [];
});
