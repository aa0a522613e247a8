// Photos go up one after the other as they are chosen, while one goes on writing: the server holds each, and the form carries its
// name. What did not get through stays in the box and goes with the form. Without script all of them go with the form.
for (const boxes of document.querySelectorAll("[data-photos]")) {
  const form = boxes.closest("form");
  const says = boxes.querySelector("[data-photos-says]");
  let going = 0;
  let waiting = false;  // the form was sent while photos were on their way
  let line = Promise.resolve();
  const left = new Map();  // by box, what did not get through: a browser drops it from the box when more is chosen

  const tell = (words) => { says.textContent = words; };
  const show = (name, photo) => {
    const shown = document.createElement("span");
    shown.className = "held-photo";
    const picture = document.createElement("img");
    picture.className = "photo-thumb";
    picture.src = photo.src;
    picture.alt = "Photo that is not saved yet";
    const held = document.createElement("input");
    held.type = "hidden";
    held.name = `held-${name}`;
    held.value = photo.token;
    shown.append(picture, held);
    let place = boxes.querySelector(".held-photos");
    if (!place) {
      place = document.createElement("span");
      place.className = "held-photos";
      boxes.prepend(place);
    }
    place.append(shown);
  };

  async function send(box, file) {
    const body = new FormData();
    body.append("csrfmiddlewaretoken", form.querySelector("[name=csrfmiddlewaretoken]").value);
    body.append("photo", file);
    let words = "";
    try {
      const answer = await fetch(boxes.dataset.photos, { method: "POST", body });
      const photo = answer.ok ? (await answer.json()).photos[0] : null;
      if (photo && photo.token) show(box.name, photo);
      else if (photo) words = `${file.name}: ${photo.wrong}`;
      else throw new Error(String(answer.status));
    } catch {
      const stands = new DataTransfer();
      left.set(box, [...(left.get(box) ?? []), file]);
      for (const each of left.get(box)) stands.items.add(each);
      box.files = stands.files;
      words = "A photo did not get through yet. It goes with the form.";
    }
    going -= 1;
    tell(words || (going ? `${going} on the way.` : "The photos are here. They are saved with the form."));
  }

  boxes.addEventListener("change", (event) => {
    const box = event.target;
    if (box.type !== "file") return;
    const files = [...(left.get(box) ?? []), ...box.files];
    left.delete(box);
    box.value = "";
    going += files.length;
    tell(`${going} on the way. Go on writing.`);
    for (const file of files) line = line.then(() => send(box, file));
    line = line.then(() => { if (waiting && !going) { waiting = false; form.requestSubmit(); } });
  });
  form.addEventListener("submit", (event) => {
    if (!going) return;
    event.preventDefault();
    event.stopImmediatePropagation();  // it is not sent yet, so its draft stays
    waiting = true;
    tell(`${going} on the way. The form is saved once they are here.`);
  }, true);
}
