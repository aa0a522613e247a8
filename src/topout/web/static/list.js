// The list of a group: a tick is posted alone and at once; the server's page says time and name, and takes the list's place.
// Ticks given while one is on its way wait their turn; each is sent with what the page knows then. Works without, too.
const waiting = [];
let sending = false;
// A list that is drawn anew under a button or a key that is down takes its tap away: it waits until the hand is off.
let handOff = Promise.resolve();
for (const down of ["pointerdown", "keydown"]) {
  addEventListener(down, () => {
    handOff = new Promise((off) => {  // after the tap that an end brings
      for (const end of ["pointerup", "pointercancel", "keyup", "blur"]) addEventListener(end, () => setTimeout(off), { once: true });
    });
  });
}

function mark() {
  for (const [row, value] of waiting) {
    const form = document.querySelector(`.tickform[data-row="${row}"]`);
    const button = form && [...form.querySelectorAll(".tick")].find((each) => each.value === value);
    button?.setAttribute("aria-busy", "true");
  }
}

async function next() {
  if (sending) return;
  sending = true;
  while (waiting.length) {
    mark();
    const [row, value] = waiting[0];
    const form = document.querySelector(`.tickform[data-row="${row}"]`);
    if (form) await sent(form, [...form.querySelectorAll(".tick")].find((each) => each.value === value));
    waiting.shift();
  }
  sending = false;
}

async function sent(form, button) {
  const body = new FormData(form, button);
  let answer = await reached(form.action, body);
  await findShut();
  const onward = leadsTo(answer);
  if (onward?.startsWith("/sign-in/")) { location.assign(onward); return; }
  const leads = onward && onward !== location.pathname;
  if (onward && (!leads || waiting.length > 1)) answer = await fetch(location.pathname);  // where more was ticked meanwhile, that comes first
  else if (leads) {
    const box = button.getBoundingClientRect();
    sessionStorage.setItem("ticked", JSON.stringify([box.left + box.width / 2, box.top + box.height / 2]));
    location.assign(onward);
    return;
  }
  const fresh = new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("main.glance");
  const here = document.querySelector("main.glance");
  if (!fresh?.querySelector(".acts") || !here) { location.reload(); return; }
  await handOff;
  const hand = document.activeElement;
  const row = hand.closest(".act")?.id ?? (hand === document.body || here.contains(hand) ? `row-${form.dataset.row}` : "");
  here.replaceChildren(...fresh.childNodes);
  here.dataset.seen = fresh.dataset.seen;
  const there = [...document.querySelectorAll(`.act[id="${row}"] :is(.tick, .put)`)];  // where the hand has come to meanwhile
  (there.find((each) => hand.value && each.value === hand.value) ?? there[0])?.focus({ preventScroll: true });
}

// A photo that is taken signs its row.
addEventListener("change", (event) => {
  if (event.target.matches(".photoform input[type=file]") && event.target.files.length) event.target.form.requestSubmit();
});

addEventListener("submit", (event) => {
  if (!event.target.matches(".tickform")) return;
  event.preventDefault();
  event.stopImmediatePropagation();
  waiting.push([event.target.dataset.row, event.submitter?.value ?? ""]);
  mark();
  next();
}, { capture: true });
