// A step page: own number keys, what is understood of what is typed, and word of what somebody else signed. Works without, too.
const page = document.querySelector("main.glance");
const form = document.getElementById("reading");
document.body.classList.remove("nojs");

const numbers = form ? [...form.querySelectorAll(".display input")] : [];
let box = numbers.find((each) => !each.value) || numbers[0];
// Without keys of our own the first number that is needed has the cursor: it is typed without a tap.
if (form && !form.querySelector(".keys") && !document.querySelector(".ask, .fault")) numbers.find((each) => each.required && !each.value)?.focus();
for (const each of numbers) {
  // With our own keys on screen the tablet's keyboard stays away; a real keyboard still types.
  if (form.querySelector(".keys") && each.inputMode !== "text") each.setAttribute("inputmode", "none");
  each.addEventListener("focus", () => { box = each; });
  each.addEventListener("keydown", (event) => {  // Enter goes to the next empty box; from the last one it saves
    const empty = numbers.find((other) => other !== each && !other.value && other.required);
    if (event.key !== "Enter" || !each.value || !empty) return;
    event.preventDefault();
    empty.focus();
  });
  each.addEventListener("input", () => label());
}

const note = document.getElementById("note");
const plain = note ? note.textContent : "";
function label() {
  if (!note || numbers.length !== 1 || document.querySelector(".ask")) return;
  const unit = numbers[0].nextElementSibling;
  const typed = numbers[0].value.trim();
  note.textContent = typed ? `Save ${typed}${unit && /^[-+\d.]+$/.test(typed) ? "\u00a0" + unit.textContent : ""}` : plain;
}
label();

// A fault is said once, at its box, and the box has the focus.
form?.querySelector(".fault ~ .display input, .fault ~ .pick input, .fault + input, .fault + select, fieldset:has(.fault) input, .fault + .pick input")?.focus();

for (const key of form ? form.querySelectorAll(".keys button") : []) {
  key.addEventListener("click", () => {
    if (!box || gone) return;
    if (key.classList.contains("wipe")) box.value = box.value.slice(0, -1);
    else if (!(key.textContent === "." && box.value.includes("."))) box.value += key.textContent.trim();
    box.dispatchEvent(new Event("input", { bubbles: true }));
  });
}

// A page that a tick leads to takes no second tap of the same double tap: nothing acts under a finger that has just acted.
const SAME_TAP_MS = 500;
const SAME_TAP_PX = 48;
const ticked = JSON.parse(sessionStorage.getItem("ticked") || "null");
sessionStorage.removeItem("ticked");
if (ticked) {
  const [x, y] = ticked;
  const came = performance.now();
  addEventListener("click", (event) => {
    if (event.detail === 0 || performance.now() - came > SAME_TAP_MS) return;
    if (Math.hypot(event.clientX - x, event.clientY - y) > SAME_TAP_PX) return;
    event.preventDefault();
    event.stopImmediatePropagation();
  }, { capture: true });
}

// One decision a tap: where a choice or a photo is all that is asked and can be taken back, a finger's choice signs it. Keys
// that move through the choices do not.
const movesOn = () => form.dataset.movesOn !== undefined;
form?.addEventListener("click", (event) => {
  if (movesOn() && event.target.matches("input[type=radio]") && event.detail > 0) form.requestSubmit(note);
});
form?.addEventListener("change", (event) => {
  if (movesOn() && event.target.matches("input[type=file]") && event.target.files.length) form.requestSubmit(note);
});

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

// Signing while the server can't be reached: the page holds what was given, says so, and sends it when the server is back.
// The form's key makes it happen once, however often it is sent. Where nothing was recorded the browser sends it once more
// itself, so that the page that answers is shown as it came.
let gone = false;
const RETRY_MS = 3000;
// Without its fragment: an address that differs from this page's by that alone would not be loaded again.
const leadsTo = (answer) => answer.headers.get("X-Onward")?.split("#")[0];
const held = () => document.getElementById("held-back");
async function reached(action, body) {
  for (;;) {
    let says = "Not saved yet: no connection. This page holds it and sends it when the server is back.", there = false;
    try {
      const answer = await fetch(action, { method: "POST", body, headers: { "X-Onward": "say" } });
      if (answer.status < 500) {
        document.documentElement.classList.remove("lost", "unstored");
        held().hidden = true;
        return answer;
      }
      const why = decodeURIComponent(answer.headers.get("X-Not-Stored") ?? "The workshop\u2019s server can\u2019t save now.");
      says = `Not saved yet. ${why} This page holds it and sends it again.`;
      there = true;
    } catch { /* no connection */ }
    document.documentElement.classList.toggle("lost", !there);
    document.documentElement.classList.toggle("unstored", there);
    held().textContent = says;
    held().hidden = false;
    await new Promise((again) => { setTimeout(again, RETRY_MS); addEventListener("online", again, { once: true }); });
  }
}
// What was sent stands there as it was sent until it is answered: what a quick hand types or taps meanwhile is of the next page.
for (const kind of ["beforeinput", "click"]) {
  form?.addEventListener(kind, (event) => {
    if (gone && event.target.closest("input, textarea, label")) event.preventDefault();
  }, { capture: true });
}
addEventListener("submit", (event) => {
  const sent = event.target;
  if (!(sent instanceof HTMLFormElement) || sent.method !== "post" || !held()) return;
  event.preventDefault();
  if (gone) return;
  gone = true;
  const by = event.submitter;
  const action = by?.hasAttribute("formaction") ? by.formAction : sent.action;
  const body = new FormData(sent, by);
  for (const button of document.querySelectorAll("button.go")) button.setAttribute("aria-busy", "true");
  reached(action, body).then(async (answer) => {
    const onward = leadsTo(answer);
    const saved = onward && !onward.startsWith("/sign-in/");
    if (saved && note && by === note) note.textContent = "Saved";  // the next page may take its time
    await findShut();
    if (saved) {
      location.assign(onward);
      return;
    }
    if (by?.name) {
      const said = document.createElement("input");
      Object.assign(said, { type: "hidden", name: by.name, value: by.value });
      sent.append(said);
    }
    sent.action = action;
    sent.submit();
  });
});
addEventListener("beforeunload", (event) => { if (held()?.hidden === false) event.preventDefault(); });

// Two people on one job: each sees that the other one signed.
async function look() {
  const other = document.getElementById("other");
  if (document.hidden || gone) return;
  try {
    const answer = await fetch(page.dataset.standing, { headers: { Accept: "application/json" } });
    if (held()?.hidden !== false) document.documentElement.classList.remove("lost");
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
