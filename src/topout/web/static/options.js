// What to fit: a tap on a row or a dot picks it, order and choice change without a reload. Works without, by the address.
const table = document.getElementById("ways");
const ask = document.getElementById("ask");

function pick(number) {
  for (const body of table.tBodies) body.classList.toggle("taken", body.dataset.way === number);
  for (const link of document.querySelectorAll("[data-pick]")) {
    if (link.dataset.pick === number && !link.closest("[aria-hidden]")) link.setAttribute("aria-current", "true");
    else link.removeAttribute("aria-current");
  }
  for (const then of document.querySelectorAll(".picked")) then.hidden = then.id !== `picked-${number}`;
}

function laidOut() {
  const chosen = new FormData(ask);
  const [by, only] = [chosen.get("sort"), chosen.get("only")];
  const rows = [...table.tBodies];
  rows.sort((a, b) => a.dataset[by] - b.dataset[by] || a.dataset.way - b.dataset.way);
  for (const row of rows) {
    const here = row.dataset.here === "1";
    row.hidden = only === "here" ? !here : only === "none" ? !here || row.dataset.parts !== "0" : false;
    table.append(row);
    for (const dot of document.querySelectorAll(`svg [data-pick="${row.dataset.way}"]`)) dot.toggleAttribute("hidden", row.hidden);
  }
  const left = rows.filter((row) => !row.hidden);
  document.getElementById("none-left").hidden = left.length > 0;
  if (left.length && !left.some((row) => row.classList.contains("taken"))) pick(left[0].dataset.way);
}

if (table) {
  document.addEventListener("click", (event) => {
    const link = event.target.closest("[data-pick]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey) return;
    event.preventDefault();
    pick(link.dataset.pick);
    if (link.closest("svg")) document.getElementById(`way-${link.dataset.pick}`).scrollIntoView({ block: "nearest" });
  });
  ask.addEventListener("change", (event) => {
    if (event.target.name === "sort" || event.target.name === "only") laidOut();
  });
}
