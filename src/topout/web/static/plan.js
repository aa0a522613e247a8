// The plan page: − and + move a box at once, the answer follows; Enter asks, "Set 73" fills the box; pictures fit the width.
// Without this file the page is a plain form with the button "Work it out".
document.documentElement.classList.add("js");
const form = document.getElementById("set");
const rest = document.getElementById("rest");
const room = document.getElementById("width");
const ask = () => form.dispatchEvent(new Event("step"));

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
  ask();
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
  document.getElementById("pressure").value = link.dataset.set;
  ask();
});
// What is not a box of the plan stays out of the address and of the request.
form.addEventListener("htmx:configRequest", (event) => {
  for (const name of ["csrfmiddlewaretoken", "change_key"]) event.detail.parameters.delete(name);
});
document.addEventListener("htmx:afterSwap", () => {
  for (const fault of form.querySelectorAll(".fault")) {
    const box = document.getElementById(fault.id.replace(/-fault$/, ""));
    if (box && box.tagName === "INPUT") box.toggleAttribute("aria-invalid", fault.textContent !== "");
  }
});

let wait = 0;
measure();
new ResizeObserver(() => {
  clearTimeout(wait);
  wait = setTimeout(() => { if (measure()) ask(); }, 200);
}).observe(rest);
