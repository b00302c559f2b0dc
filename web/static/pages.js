// Enhances forms; every page works without it. Three things: uploading photos as soon as they are chosen, drawing a
// rectangle on a photo in place of typing it, and choosing among radio buttons of a row by digit.
(() => {
  "use strict";

  const announce = (text) => {
    const live = document.getElementById("live");
    if (live) live.textContent = text;
  };

  // --- photos ---
  const photoList = () => document.querySelector("[data-photo-list]");

  const refreshPhotoChoices = () => {
    const list = photoList();
    if (!list) return;
    const photos = [...list.querySelectorAll("[data-photo]")].map((item) => [item.dataset.photo, item.dataset.name]);
    for (const select of document.querySelectorAll("select[data-photo-choice]")) {
      for (const [id, name] of photos) {
        if ([...select.options].some((option) => option.value === id)) continue;
        select.add(new Option(name, id));
      }
    }
  };

  // One request a photo, so that a slow line loses one photo at most.
  const upload = async (input) => {
    const list = photoList();
    const files = [...input.files];
    for (const [i, file] of files.entries()) {
      announce(`Uploading photo ${i + 1} of ${files.length}…`);
      const form = new FormData();
      form.append("start", String(list.querySelectorAll("[data-photo]").length));
      form.append("files", file);
      const answer = await fetch(input.dataset.upload, { method: "POST", body: form });
      if (!answer.ok) throw new Error(String(answer.status));
      list.insertAdjacentHTML("beforeend", await answer.text());
      const rest = new DataTransfer();
      for (const left of files.slice(i + 1)) rest.items.add(left);
      input.files = rest.files;
      refreshPhotoChoices();
    }
    announce("Photos uploaded. Choose what each one shows.");
  };

  for (const input of document.querySelectorAll("input[data-upload]")) {
    input.addEventListener("change", () => {
      if (input.files.length === 0) return;
      upload(input).catch(() => announce("The photos could not be uploaded now. They stay chosen and are sent with the form."));
    });
  }

  // --- rectangle ---
  const clamp = (x) => Math.min(1, Math.max(0, x));
  const percent = (x) => String(Math.round(x * 1000) / 10);

  const fieldsOf = (group) => ["left", "top", "width", "height"].map((name) => group.querySelector(`[data-side=${name}]`));

  const openDrawing = (group) => {
    const photo = group.querySelector("select[data-photo-choice]").value;
    if (!photo) {
      announce("First choose on which photo it can be seen.");
      group.querySelector("select[data-photo-choice]").focus();
      return;
    }
    const fields = fieldsOf(group);
    const typed = fields.map((field) => Number(field.value.replace(",", ".")) / 100);
    let box = fields.every((field) => field.value !== "") && typed.every(Number.isFinite) ? typed : [0.35, 0.35, 0.3, 0.3];

    const dialog = document.createElement("dialog");
    dialog.setAttribute("aria-labelledby", "draw-title");
    dialog.innerHTML = `<h2 id="draw-title">Mark the place</h2>
      <p>Drag over the photo. With the keyboard: arrows move the rectangle, Shift and arrows change its size.</p>
      <div class="draw" tabindex="0" role="application" aria-label="Rectangle on the photo">
        <img alt="" draggable="false"><svg viewBox="0 0 1 1" preserveAspectRatio="none" aria-hidden="true"><g class="mark"><rect/><rect/></g></svg>
      </div>
      <div class="buttons"><button type="button" class="primary" data-take>Use this rectangle</button><button type="button" data-leave>Cancel</button></div>`;
    const area = dialog.querySelector(".draw");
    const paint = () => {
      for (const rect of dialog.querySelectorAll("rect")) {
        ["x", "y", "width", "height"].forEach((name, i) => rect.setAttribute(name, String(box[i])));
      }
    };
    dialog.querySelector("img").src = `/photos/${encodeURIComponent(photo)}/display`;

    let start = null;
    const at = (event) => {
      const frame = area.getBoundingClientRect();
      return [clamp((event.clientX - frame.left) / frame.width), clamp((event.clientY - frame.top) / frame.height)];
    };
    area.addEventListener("pointerdown", (event) => {
      start = at(event);
      area.setPointerCapture(event.pointerId);
      event.preventDefault();
      area.focus();
    });
    area.addEventListener("pointermove", (event) => {
      if (!start) return;
      const [x, y] = at(event);
      box = [Math.min(x, start[0]), Math.min(y, start[1]), Math.abs(x - start[0]), Math.abs(y - start[1])];
      paint();
    });
    area.addEventListener("pointerup", () => { start = null; });
    area.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: [-0.01, 0], ArrowRight: [0.01, 0], ArrowUp: [0, -0.01], ArrowDown: [0, 0.01] }[event.key];
      if (!step) return;
      event.preventDefault();
      const [x, y, w, h] = box;
      box = event.shiftKey
        ? [x, y, Math.min(1 - x, Math.max(0.01, w + step[0])), Math.min(1 - y, Math.max(0.01, h + step[1]))]
        : [Math.min(1 - w, Math.max(0, x + step[0])), Math.min(1 - h, Math.max(0, y + step[1])), w, h];
      paint();
    });
    dialog.querySelector("[data-leave]").addEventListener("click", () => dialog.close());
    dialog.querySelector("[data-take]").addEventListener("click", () => {
      const [x, y] = [Math.floor(box[0] * 1000) / 1000, Math.floor(box[1] * 1000) / 1000];
      const kept = [x, y, Math.min(1 - x, Math.max(0.001, box[2])), Math.min(1 - y, Math.max(0.001, box[3]))];
      kept.forEach((value, i) => { fields[i].value = percent(i < 2 ? value : Math.floor(value * 1000) / 1000); });
      dialog.close();
    });
    dialog.addEventListener("close", () => {
      dialog.remove();
      group.querySelector("[data-draw]").focus();
    });
    document.body.append(dialog);
    paint();
    dialog.showModal();
    area.focus();
  };

  for (const group of document.querySelectorAll("[data-region]")) {
    const button = group.querySelector("[data-draw]");
    button.hidden = false;
    button.addEventListener("click", () => openDrawing(group));
  }

  // --- digits choose a verdict in the row that has the focus ---
  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.metaKey || event.altKey || !/^[0-9]$/.test(event.key)) return;
    if (!event.target.matches("input[type=radio]")) return;
    const row = event.target.closest("[data-digits]");
    const radio = row && row.querySelectorAll("input[type=radio]")[Number(event.key)];
    if (!radio) return;
    event.preventDefault();
    radio.checked = true;
    radio.focus();
  });

  // --- an error summary takes the focus, so that it is read first ---
  const summary = document.getElementById("problems");
  if (summary) summary.focus();
})();
