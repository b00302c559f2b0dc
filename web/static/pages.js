// Enhances pages; every page works without it. Drawing a rectangle on a photo in place of typing it, choosing among radio buttons
// of a row by digit, and a press that is meant for one page and does not land on the next. Saving and photos: forms.js. It also holds
// what all scripts use: the words of the page.
(() => {
  "use strict";

  const announce = (text) => {
    const live = document.getElementById("live");
    if (live) live.textContent = text;
  };

  // --- what scripts say, in the language of the page (web/words/script.*.yaml) ---
  const texts = JSON.parse(document.getElementById("words").textContent);
  window.phrase = (key, values = {}) => texts[key].replace(/\{\{\.(\w+)\}\}/g, (_, name) => values[name]);

  // --- by whose clock pages tell times; the next page knows. A browser takes a tenth of a second to find it out: not while a page
  // loads, but at the first press or key, before what follows from it, or else when the page is left ---
  let told = false;
  const tellZone = () => {
    if (told) return;
    told = true;
    const zone = Intl.DateTimeFormat().resolvedOptions().timeZone;
    if (zone && zone !== document.body.dataset.zone) document.cookie = `revidit-zone=${encodeURIComponent(zone)}; path=/; max-age=31536000; samesite=lax`;
  };
  for (const kind of ["pointerdown", "keydown", "focusin", "pagehide"]) window.addEventListener(kind, tellZone);

  // --- names to choose from are laid out when somebody goes to an input that offers them, not while the page loads ---
  const layOutNames = (event) => {
    const kept = event.target.matches?.("input[list=families]") && document.querySelector("noscript[data-names]");
    if (!kept) return;
    const read = new DOMParser().parseFromString(kept.textContent, "text/html");
    kept.replaceWith(...read.body.children);
  };
  for (const kind of ["pointerdown", "focusin"]) document.addEventListener(kind, layOutNames);

  // --- a second press of a double click, or one that was meant for the page before, answers nothing ---
  document.addEventListener("click", (event) => {
    if (event.isTrusted && event.target.closest("[data-guide] button") && (event.detail > 1 || performance.now() < 250)) event.preventDefault();
  });

  // --- rectangle ---
  const clamp = (x) => Math.min(1, Math.max(0, x));
  const percent = (x) => String(Math.round(x * 1000) / 10);
  const middle = [0.35, 0.35, 0.3, 0.3]; // where a rectangle is begun by keys
  // Rectangles are [left, top, width, height] in parts of the photo.
  const pointIn = (element, event) => {
    const frame = element.getBoundingClientRect();
    return [clamp((event.clientX - frame.left) / frame.width), clamp((event.clientY - frame.top) / frame.height)];
  };
  const spanned = ([x1, y1], [x2, y2]) => [Math.min(x1, x2), Math.min(y1, y2), Math.abs(x1 - x2), Math.abs(y1 - y2)];
  // The rectangle after an arrow key, or null after any other one.
  const stepped = ([x, y, w, h], event) => {
    const step = { ArrowLeft: [-0.01, 0], ArrowRight: [0.01, 0], ArrowUp: [0, -0.01], ArrowDown: [0, 0.01] }[event.key];
    if (!step) return null;
    event.preventDefault();
    return event.shiftKey
      ? [x, y, Math.min(1 - x, Math.max(0.01, w + step[0])), Math.min(1 - y, Math.max(0.01, h + step[1]))]
      : [Math.min(1 - w, Math.max(0, x + step[0])), Math.min(1 - h, Math.max(0, y + step[1])), w, h];
  };
  const paintBox = (element, box) => {
    for (const rect of element.querySelectorAll("rect")) {
      ["x", "y", "width", "height"].forEach((name, i) => rect.setAttribute(name, String(box ? box[i] : 0)));
    }
  };

  const fieldsOf = (group) => ["left", "top", "width", "height"].map((name) => group.querySelector(`[data-side=${name}]`));

  const openDrawing = (group) => {
    const photo = group.querySelector("select[data-photo-choice]").value;
    if (!photo) {
      announce(phrase("choose-photo"));
      group.querySelector("select[data-photo-choice]").focus();
      return;
    }
    const fields = fieldsOf(group);
    const typed = fields.map((field) => Number(field.value.replace(",", ".")) / 100);
    let box = fields.every((field) => field.value !== "") && typed.every(Number.isFinite) ? typed : middle;

    const dialog = document.createElement("dialog");
    dialog.setAttribute("aria-labelledby", "draw-title");
    dialog.innerHTML = `<h2 id="draw-title">${phrase("mark")}</h2>
      <p>${phrase("mark-how")}</p>
      <div class="draw" tabindex="0" role="application" aria-label="${phrase("rectangle")}">
        <img alt="" draggable="false"><svg viewBox="0 0 1 1" preserveAspectRatio="none" aria-hidden="true"><g class="mark"><rect/><rect/></g></svg>
      </div>
      <div class="buttons"><button type="button" class="primary" data-take>${phrase("take-rectangle")}</button><button type="button" data-leave>${phrase("cancel")}</button></div>`;
    const area = dialog.querySelector(".draw");
    const paint = () => paintBox(dialog, box);
    dialog.querySelector("img").src = `/photos/${encodeURIComponent(photo)}/display`;

    let start = null;
    const at = (event) => pointIn(area, event);
    area.addEventListener("pointerdown", (event) => {
      start = at(event);
      area.setPointerCapture(event.pointerId);
      event.preventDefault();
      area.focus();
    });
    area.addEventListener("pointermove", (event) => {
      if (!start) return;
      box = spanned(at(event), start);
      paint();
    });
    area.addEventListener("pointerup", () => { start = null; });
    area.addEventListener("keydown", (event) => {
      box = stepped(box, event) || box;
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

  // A photo that stands in the page takes the rectangle at once: a drag draws it, a press takes it away, arrows move it.
  const drawHere = (figure) => {
    const group = figure.closest("[data-region]");
    const fields = fieldsOf(group);
    const seenOn = group.querySelector("select[data-photo-choice]");
    let start = null;
    let box = fields.every((field) => field.value !== "") ? fields.map((field) => Number(field.value.replace(",", ".")) / 100) : null;
    const paint = () => paintBox(figure, box);
    const preview = group.querySelector("[data-preview]");
    const close = () => {
      preview.classList.toggle("shown", Boolean(box));
      if (!box) return;
      const image = preview.firstElementChild;
      const [w, h] = [Number(image.getAttribute("width")), Number(image.getAttribute("height"))];
      image.setAttribute("href", figure.querySelector("img").src);
      preview.setAttribute("viewBox", [box[0] * w, box[1] * h, Math.max(1, box[2] * w), Math.max(1, box[3] * h)].join(" "));
    };
    const keep = () => {
      fields.forEach((field, i) => { field.value = box ? percent(Math.floor(box[i] * 1000) / 1000) : ""; });
      if (box) seenOn.value = figure.dataset.drawOn;
      paint();
      close();
    };
    const at = (event) => pointIn(figure.querySelector("img"), event);
    // A finger scrolls the page unless it is told to draw.
    const finger = group.querySelector("[data-draw-finger]");
    finger.addEventListener("click", () => {
      finger.setAttribute("aria-pressed", String(figure.classList.toggle("drawing")));
    });
    figure.addEventListener("pointerdown", (event) => {
      if (event.pointerType === "touch" && !figure.classList.contains("drawing")) return;
      start = at(event);
      figure.setPointerCapture(event.pointerId);
    });
    figure.addEventListener("pointermove", (event) => {
      if (!start) return;
      box = spanned(at(event), start);
      paint();
    });
    figure.addEventListener("pointerup", () => {
      if (start && box && (box[2] < 0.01 || box[3] < 0.01)) box = null;
      start = null;
      keep();
    });
    figure.addEventListener("keydown", (event) => {
      const next = stepped(box || middle, event);
      if (!next) return;
      box = next;
      keep();
    });
    seenOn.addEventListener("change", () => {
      box = null;
      keep();
      if (!seenOn.value) return;
      figure.dataset.drawOn = seenOn.value;
      figure.querySelector("img").src = `/photos/${encodeURIComponent(seenOn.value)}/display`;
    });
    figure.tabIndex = 0;
    figure.setAttribute("role", "application");
    figure.setAttribute("aria-label", phrase("place-how"));
    paint();
    close();
    group.querySelector("[data-draw-hint]").hidden = false;
  };
  for (const figure of document.querySelectorAll("[data-draw-on]")) drawHere(figure);

  for (const group of document.querySelectorAll("[data-region]:has([data-draw])")) {
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
