// The plan page: − and + move a box at once, the answer follows; Enter asks, "Set 73" fills the box; pictures fit the width.
// Without this file the page is a plain form with the button "Work it out".
document.documentElement.classList.add("js");
const form = document.getElementById("set");
const rest = document.getElementById("rest");
const room = document.getElementById("width");
const ask = () => form.dispatchEvent(new Event("step"));
// A box set by a button: the answer is asked for, and draft.js hears of it as of a box that was typed into. It keeps the
// draft once the moves pause, after their answer.
const set = (box) => { ask(); box.dispatchEvent(new Event("change", { bubbles: true })); };

function measure() {
  const px = String(Math.floor(rest.getBoundingClientRect().width || document.getElementById("main").clientWidth));
  const changed = room.value !== px;
  room.value = px;
  return changed;
}

// Moves the number and leaves the unit that was typed; decimals are counted in whole steps, so 0.1 adds up.
function move(box, sign) {
  const typed = box.value.trim().match(/^([+-]?\d+(?:\.\d*)?|[+-]?\.\d+)\s*(\S*)$/);
  if (!typed) { ask(); box.focus(); return; }
  const steps = Object.fromEntries(box.dataset.steps.split(" ").map((pair) => pair.split("=")));
  const step = steps[typed[2] || box.dataset.unit || "-"];
  if (!step) { ask(); box.focus(); return; }
  const places = Math.max(...[typed[1], step].map((text) => (text.split(".")[1] || "").length));
  const scale = 10 ** places;
  const moved = Math.max(0, Math.round(Number(typed[1]) * scale) + sign * Math.round(Number(step) * scale)) / scale;
  box.value = moved.toFixed(places) + (typed[2] ? " " + typed[2] : "");
  set(box);
}

form.addEventListener("click", (event) => {
  const button = event.target.closest("button[data-box]");
  if (button) move(document.getElementById(button.dataset.box), Number(button.dataset.sign));
});
form.addEventListener("keydown", (event) => {
  if (event.key !== "Enter" || event.target.tagName !== "INPUT" || event.target.type === "radio") return;
  event.preventDefault();
  ask();
});
rest.addEventListener("click", (event) => {
  const link = event.target.closest("a[data-set]");
  if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
  event.preventDefault();
  const box = document.getElementById(link.dataset.box || "pressure");
  box.value = link.dataset.set;
  set(box);
});
// A move only looks. htmx would send it the way of the button that has the focus, and "Use this plan" posts. What is not a
// box of the plan stays out of the address and of the request.
form.addEventListener("htmx:configRequest", (event) => {
  Object.assign(event.detail, { verb: "get", useUrlParams: true });
  event.detail.parameters.parts = wanted().join(" ");
  if (resting) event.detail.parameters.rest = "1";
  resting = false;
  for (const name of ["csrfmiddlewaretoken", "change_key"]) event.detail.parameters.delete(name);
});
// htmx's own swap looks at every element for its attributes, 30 ms of a move; there are none in here. A move asks for the
// parts that the screen shows; the others are asked for when the moves pause, or when one comes into sight.
const parts = [...rest.children].map((part) => part.id.slice("part-".length));
const shown = new Set();
const stale = new Set(); // parts that do not stand for what is in the boxes
let following = false; // the next request is for what is stale, not for a move
let moving = false; // the answer was told from the few draws that a move has time for
let resting = false; // the next request is for all of them
let pause = 0;
function wanted() {
  if (!following) for (const part of parts) if (shown.has(part)) stale.delete(part); else stale.add(part);
  const asked = following ? stale : shown;
  following = false;
  return [...asked];
}
function follow() {
  if (!stale.size || sent || due) return; // a request that is on its way, or about to be, comes first
  following = true;
  resting = moving && pause === 0;
  ask();
}
function paused() {
  pause = 0;
  if (moving) for (const part of parts) stale.add(part);
  follow();
  tell();
}
const inSight = () => [...stale].some((part) => shown.has(part));
const sight = new IntersectionObserver((seen) => {
  for (const { target, isIntersecting } of seen) {
    if (isIntersecting) shown.add(target.id.slice("part-".length)); else shown.delete(target.id.slice("part-".length));
  }
  if (inSight()) follow();
});
for (const part of rest.children) sight.observe(part);
rest.addEventListener("htmx:beforeSwap", (event) => {
  if (event.detail.xhr.status !== 200) return;
  event.detail.shouldSwap = false;
  const answers = event.detail.serverResponse.split("\n<div data-into=").slice(1);
  if (!answers.length) { location.reload(); return; } // signed out meanwhile
  for (const one of answers) {
    const id = one.split('"', 2)[1];
    put(id, `<div data-into=${one}`);
    stale.delete(id.slice("part-".length));
  }
  clearTimeout(pause);
  pause = setTimeout(paused, moving ? 400 : stale.size && !inSight() ? 120 : 0);
  document.dispatchEvent(new Event("topout:answered"));
});

// The focus and what was opened stay; a part that is the same stays untouched, so that nothing is read aloud twice.
function put(id, markup) {
  const place = document.getElementById(id);
  const answer = document.createElement("template");
  answer.innerHTML = markup;
  const part = answer.content.firstElementChild;
  if (!id.startsWith("part-") && place.innerHTML === part.innerHTML) return;
  const focus = place.contains(document.activeElement) ? document.activeElement.id : "";
  const open = [...place.querySelectorAll("details[open]")].map((one) => one.id);
  place.replaceChildren(...part.childNodes);
  for (const one of open) document.getElementById(one)?.setAttribute("open", "");
  if (focus) document.getElementById(focus)?.focus({ preventScroll: true });
}

// The form says data-asking from what changes the answer (a press, typing, another width) until all of the answer stands.
let sent = 0; // requests that are on their way
let due = 0; // the timer of typing or of another width: a request follows
const tell = () => form.toggleAttribute("data-asking", Boolean(sent || due || pause));
form.addEventListener("htmx:beforeSend", () => { sent += 1; clearTimeout(due); due = 0; tell(); });
form.addEventListener("htmx:afterRequest", () => { sent -= 1; tell(); });
document.addEventListener("htmx:responseError", () => {
  document.getElementById("faults-place").textContent = "The server could not answer this move. What stands here is the last answer; load the page again.";
});

// What stands beside the boxes comes in the answer's header: written where it differs, so that nothing loses the focus.
const stands = new Map();
function say(id, text) {
  const another = stands.get(id) !== text;
  stands.set(id, text);
  const place = another && document.getElementById(id);
  if (place && place.textContent !== text) place.textContent = text;
  return another;
}
form.addEventListener("topout:boxes", ({ detail }) => {
  for (const [name, text] of Object.entries(detail.echoes)) say(`${name}-echo`, text);
  for (const [name, text] of Object.entries(detail.faults)) {
    if (!say(`${name}-fault`, text)) continue;
    const box = document.getElementById(name);
    if (text) box.setAttribute("aria-invalid", "true"); else box.removeAttribute("aria-invalid");
  }
  for (const [name, text] of Object.entries(detail.hidden)) document.getElementById(name).value = text;
  moving = detail.moving;
  say("planname", detail.heading);
  if (document.title !== detail.title) document.title = detail.title;
  requestAnimationFrame(() => setTimeout(() => history.replaceState(null, "", detail.address))); // loaded again, the page says the same
});

const redraw = () => { for (const part of parts) stale.add(part); following = true; ask(); };
measure();
if (Number(room.value) < 738) { due = -1; tell(); addEventListener("load", redraw); } // the page came with three drawings; this asks for the one that fits
form.addEventListener("input", () => { due ||= -1; tell(); });
new ResizeObserver(() => {
  if (!measure()) return;
  clearTimeout(due);
  due = setTimeout(redraw, 200);
  tell();
}).observe(rest);
