// A step page: own number keys, what is understood of what is typed, and word of what somebody else signed. Works without, too.
const page = document.querySelector("main.glance");
const form = document.getElementById("reading");
document.body.classList.remove("nojs");

const numbers = form ? [...form.querySelectorAll(".display input")] : [];
let box = numbers.find((each) => !each.value) || numbers[0];
for (const each of numbers) {
  // With our own keys on screen the tablet's keyboard stays away; a real keyboard still types.
  if (form.querySelector(".keys") && each.inputMode !== "text") each.setAttribute("inputmode", "none");
  each.addEventListener("focus", () => { box = each; });
  each.addEventListener("input", () => label());
}

const note = document.getElementById("note");
const plain = note ? note.textContent : "";
function label() {
  if (!note || numbers.length !== 1 || document.querySelector(".ask")) return;
  const unit = numbers[0].nextElementSibling;
  const typed = numbers[0].value.trim();
  note.textContent = typed ? `Note ${typed}${unit && /^[-+\d.]+$/.test(typed) ? "\u00a0" + unit.textContent : ""}` : plain;
}
label();

for (const key of form ? form.querySelectorAll(".keys button") : []) {
  key.addEventListener("click", () => {
    if (!box) return;
    if (key.classList.contains("wipe")) box.value = box.value.slice(0, -1);
    else if (!(key.textContent === "." && box.value.includes("."))) box.value += key.textContent.trim();
    box.dispatchEvent(new Event("input", { bubbles: true }));
  });
}

// What the server understood of the boxes, and whether the number lies in its band. Nothing of it is saved.
function understood(now) {
  for (const line of document.querySelectorAll("[data-echo]")) line.textContent = now.echo[line.dataset.echo] || "";
  const verdict = document.getElementById("verdict");
  if (!verdict || numbers.length !== 1) return;
  verdict.querySelector("b").textContent = now.verdict;
  verdict.querySelector("span").textContent = now.verdict ? "Not signed yet." : "";
}

// draft.js keeps what is typed; its answer says what is understood of it.
form?.addEventListener("kept", (event) => understood(event.detail));
let gone = false;
form?.addEventListener("submit", () => { gone = true; });

// Two people on one job: each sees that the other one signed.
const other = document.getElementById("other");
async function look() {
  if (document.hidden || gone) return;
  try {
    const answer = await fetch(page.dataset.standing, { headers: { Accept: "application/json" } });
    document.documentElement.classList.remove("lost");
    if (!answer.ok) return;
    const now = await answer.json();
    if (String(now.seen) === page.dataset.seen || !other.hidden) return;
    const link = document.createElement("a");
    link.href = now.place;
    link.textContent = "Show it";
    other.replaceChildren(`${now.says} `, link);
    other.hidden = false;
  } catch {
    document.documentElement.classList.add("lost");
  }
}
if (page?.dataset.standing) setInterval(look, 4000);
