// The bench of a reviewer: a photo to zoom, turn and measure, and keys that go from line to line. The page works without it.
(() => {
  "use strict";
  // --- the question before something is stored ---
  const question = document.querySelector("[data-question]");
  if (question) {
    question.close();
    question.showModal();
    question.querySelector("button").focus();
    question.querySelector("[data-leave]").addEventListener("click", (event) => {
      event.preventDefault();
      question.close();
    });
  }

  const form = document.querySelector("[data-bench]");
  if (!form) return;
  const live = document.getElementById("live");
  const say = (text) => { if (live) live.textContent = text; };
  const make = (name, attributes = {}, ...inside) => {
    const made = document.createElement(name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    made.append(...inside);
    return made;
  };
  const drawn = (name, attributes) => {
    const made = document.createElementNS("http://www.w3.org/2000/svg", name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  };
  const stops = [...form.querySelectorAll("[data-line], [data-name]")];
  const nameLine = form.querySelector("[data-name]");

  // --- the photo ---
  const regionOf = (line) => line.dataset.region ? line.dataset.region.split(",").map(Number) : null;
  const photos = [...form.querySelectorAll("[data-plate]")].map((item) => ({
    id: item.dataset.plate, width: Number(item.dataset.width) || 1, height: Number(item.dataset.height) || 1, view: item.dataset.view,
    marks: stops.filter((line) => line.dataset.photo === item.dataset.plate && line.dataset.region),
  }));

  const viewerOf = (column) => {
    const stage = make("div", { class: "stage", tabindex: "0", role: "application", "aria-label": phrase("stage") });
    const sheet = make("div");
    const image = make("img", { alt: "", draggable: "false" });
    const marks = drawn("svg", { "aria-hidden": "true" });
    const cross = make("span", { class: "cross" });
    cross.hidden = true;
    sheet.append(image, marks);
    stage.append(sheet, cross);
    const tools = make("div", { class: "tools", role: "group", "aria-label": phrase("tools") });
    const found = make("output");
    const strip = make("ul", { class: "strip" });
    const at = { photo: 0, x: 0, y: 0, scale: 1, turn: 0, used: false };
    let pieces = { step: "", points: [], scales: new Map() }; // what is being measured, and millimetres for a pixel by photo

    const size = () => [stage.clientWidth || 1, stage.clientHeight || 1];
    const shown = () => photos[at.photo];
    const whole = () => {
      const [w, h] = size();
      const [pw, ph] = at.turn % 180 ? [shown().height, shown().width] : [shown().width, shown().height];
      return Math.min(w / pw, h / ph);
    };
    const sharpen = () => { // the whole photo is fetched when it is first looked at closely
      const photo = shown();
      if (!at.used || photo.sharp || at.scale * photo.width * devicePixelRatio <= image.naturalWidth * 1.1) return;
      photo.sharp = true;
      const large = new Image();
      large.onload = () => { if (shown() === photo) image.src = large.src; };
      large.src = `/photos/${photo.id}/original`;
    };
    const paint = () => {
      const [w, h] = size();
      const photo = shown();
      at.scale = Math.min(Math.max(at.scale, whole() * 0.9), Math.max(12, whole()));
      at.x = Math.min(Math.max(at.x, 0), photo.width);
      at.y = Math.min(Math.max(at.y, 0), photo.height);
      sheet.style.width = `${photo.width}px`;
      sheet.style.height = `${photo.height}px`;
      sheet.style.transform = `translate(${w / 2}px, ${h / 2}px) rotate(${at.turn}deg) scale(${at.scale}) translate(${-at.x}px, ${-at.y}px)`;
      sharpen();
    };
    const place = (event) => { // from the screen to the photo
      const frame = stage.getBoundingClientRect();
      const [w, h] = size();
      const [x, y] = [event.clientX - frame.left - w / 2, event.clientY - frame.top - h / 2];
      const angle = -at.turn * Math.PI / 180;
      return [at.x + (x * Math.cos(angle) - y * Math.sin(angle)) / at.scale, at.y + (x * Math.sin(angle) + y * Math.cos(angle)) / at.scale];
    };
    const move = (dx, dy) => {
      const angle = -at.turn * Math.PI / 180;
      at.x -= (dx * Math.cos(angle) - dy * Math.sin(angle)) / at.scale;
      at.y -= (dx * Math.sin(angle) + dy * Math.cos(angle)) / at.scale;
      paint();
    };
    const zoom = (factor, point = [at.x, at.y]) => {
      at.used = true;
      const before = at.scale;
      at.scale = Math.min(Math.max(at.scale * factor, whole() * 0.9), Math.max(12, whole()));
      const kept = before / at.scale;
      at.x = point[0] + (at.x - point[0]) * kept;
      at.y = point[1] + (at.y - point[1]) * kept;
      paint();
    };
    const fit = () => {
      at.x = shown().width / 2;
      at.y = shown().height / 2;
      at.scale = whole();
      paint();
    };
    const drawMarks = (now) => {
      const photo = shown();
      marks.setAttribute("viewBox", `0 0 ${photo.width} ${photo.height}`);
      marks.replaceChildren(...photo.marks.map((line) => {
        const [x, y, w, h] = regionOf(line);
        const box = { x: x * photo.width, y: y * photo.height, width: w * photo.width, height: h * photo.height };
        const mark = drawn("g", { class: line === now ? "mark now" : "mark" });
        mark.append(drawn("rect", box), drawn("rect", box));
        return mark;
      }));
      for (let i = 0; i + 1 < pieces.points.length; i += 2) {
        const [[x1, y1], [x2, y2]] = [pieces.points[i], pieces.points[i + 1]];
        marks.append(drawn("line", { class: "ruler", x1, y1, x2, y2 }), drawn("line", { class: "ruler", x1, y1, x2, y2 }));
      }
    };
    const open = (index, line) => {
      if (index !== at.photo || !image.src) {
        at.photo = index;
        image.src = shown().sharp ? `/photos/${shown().id}/original` : `/photos/${shown().id}/display`;
        image.alt = shown().view;
        pieces.points = [];
        fit();
      }
      [...strip.querySelectorAll("button")].forEach((button, i) => button.setAttribute("aria-current", String(i === index)));
      drawMarks(line);
    };
    const follow = (line) => {
      at.used = true;
      const index = photos.findIndex((photo) => photo.id === line.dataset.photo);
      if (index < 0) return drawMarks(line);
      open(index, line);
      const region = regionOf(line);
      if (!region) return;
      const [w, h] = size();
      const photo = shown();
      const [rw, rh] = at.turn % 180 ? [region[3] * photo.height, region[2] * photo.width] : [region[2] * photo.width, region[3] * photo.height];
      at.x = (region[0] + region[2] / 2) * photo.width;
      at.y = (region[1] + region[3] / 2) * photo.height;
      at.scale = Math.max(whole(), Math.min(w / rw, h / rh) * 0.6);
      paint();
    };

    // Measuring: two points on the bar of the photo and its length, then two points of what is to be measured.
    const length = ([a, b]) => Math.hypot(a[0] - b[0], a[1] - b[1]);
    const tell = (...inside) => { found.replaceChildren(...inside); };
    const measureNext = () => {
      pieces.points = [];
      pieces.step = pieces.scales.has(shown().id) ? "thing" : "bar";
      tell(pieces.step === "bar" ? phrase("set-bar") : phrase("set-thing"));
    };
    const measuring = (on) => {
      pieces.step = "";
      stage.classList.toggle("measuring", on);
      cross.hidden = !on;
      tools.querySelector("[data-do=measure]").setAttribute("aria-pressed", String(on));
      if (on) { measureNext(); stage.focus(); } else { pieces.points = []; tell(); drawMarks(); }
    };
    const askBar = () => {
      const field = make("input", { inputmode: "decimal", "aria-label": phrase("bar-length"), value: "1" });
      const take = make("button", { type: "button" }, phrase("take"));
      take.addEventListener("click", () => {
        const mm = Number(field.value.replace(",", "."));
        if (!(mm > 0)) return field.focus();
        pieces.scales.set(shown().id, mm / length(pieces.points));
        measureNext();
        stage.focus();
      });
      field.addEventListener("keydown", (event) => { if (event.key === "Enter") { event.preventDefault(); event.stopPropagation(); take.click(); } });
      tell(`${phrase("bar-is")} `, field, " mm ", take);
      field.select();
    };
    const showLength = () => {
      const mm = (length(pieces.points) * pieces.scales.get(shown().id)).toLocaleString(document.documentElement.lang, { maximumSignificantDigits: 3, useGrouping: false });
      tell(`${mm} mm `);
      say(phrase("millimetres", { Length: mm }));
      for (const line of stops.filter((stop) => stop.hasAttribute("data-measured"))) {
        const take = make("button", { type: "button" }, phrase("take-for", { Character: line.dataset.line }));
        take.addEventListener("click", () => {
          choose(line, "2");
          line.querySelector(".better input").value = mm;
          const note = line.querySelector(".more input");
          if (note.value === "") note.value = phrase("measured");
          go(line);
        });
        found.append(take);
      }
    };
    const put = (point) => {
      if (!pieces.step) measureNext();
      pieces.points.push(point);
      if (pieces.points.length === 2) {
        const step = pieces.step;
        pieces.step = "";
        step === "bar" ? askBar() : showLength();
      } else if (pieces.points.length > 2) {
        measureNext();
        pieces.points = [point];
      }
      drawMarks();
    };

    const fingers = new Map();
    let moved = 0;
    stage.addEventListener("pointerdown", (event) => {
      fingers.set(event.pointerId, [event.clientX, event.clientY]);
      stage.setPointerCapture(event.pointerId);
      if (fingers.size === 1) moved = 0;
    });
    stage.addEventListener("pointermove", (event) => {
      const before = fingers.get(event.pointerId);
      if (!before) return;
      const spread = () => { const [a, b] = [...fingers.values()]; return Math.hypot(a[0] - b[0], a[1] - b[1]); };
      const was = fingers.size === 2 ? spread() : 0;
      fingers.set(event.pointerId, [event.clientX, event.clientY]);
      moved += Math.abs(event.clientX - before[0]) + Math.abs(event.clientY - before[1]);
      move((event.clientX - before[0]) / fingers.size, (event.clientY - before[1]) / fingers.size);
      if (was) {
        const [a, b] = [...fingers.values()];
        zoom(spread() / was, place({ clientX: (a[0] + b[0]) / 2, clientY: (a[1] + b[1]) / 2 }));
      }
    });
    const lift = (event) => { fingers.delete(event.pointerId); };
    stage.addEventListener("pointerup", (event) => {
      lift(event);
      if (moved < 5 && fingers.size === 0 && stage.classList.contains("measuring")) put(place(event));
    });
    stage.addEventListener("pointercancel", lift);
    stage.addEventListener("wheel", (event) => {
      event.preventDefault();
      zoom(Math.exp(-event.deltaY / 400), place(event));
    }, { passive: false });
    stage.addEventListener("keydown", (event) => {
      const step = { ArrowLeft: [40, 0], ArrowRight: [-40, 0], ArrowUp: [0, 40], ArrowDown: [0, -40] }[event.key];
      if (step) move(...step);
      else if (stage.classList.contains("measuring") && (event.key === "Enter" || event.key === " ")) put([at.x, at.y]);
      else return;
      event.preventDefault();
      event.stopPropagation();
    });

    const acts = {
      nearer: () => zoom(1.4), farther: () => zoom(1 / 1.4), whole: fit,
      turn: () => { at.turn = (at.turn + 90) % 360; fit(); },
      marks: () => {
        const bare = stage.classList.toggle("bare");
        tools.querySelector("[data-do=marks]").setAttribute("aria-pressed", String(!bare));
      },
      measure: () => measuring(!stage.classList.contains("measuring")),
      before: () => open((at.photo + photos.length - 1) % photos.length), next: () => open((at.photo + 1) % photos.length),
    };
    for (const [act, words, more] of [["nearer", "+", { "aria-label": phrase("nearer") }], ["farther", "−", { "aria-label": phrase("farther") }], ["whole", phrase("whole")], ["turn", phrase("turn")],
      ["marks", phrase("marks"), { "aria-pressed": "true" }], ["measure", phrase("measure"), { "aria-pressed": "false" }]]) {
      const button = make("button", { type: "button", "data-do": act, ...more }, words);
      button.addEventListener("click", acts[act]);
      tools.append(button);
    }
    tools.append(found);
    photos.forEach((photo, i) => {
      const button = make("button", { type: "button" }, make("img", { src: `/photos/${photo.id}/thumb`, alt: phrase("photo", { Number: i + 1, View: photo.view }) }));
      button.addEventListener("click", () => open(i));
      strip.append(make("li", {}, button));
    });
    const viewer = make("div", { class: "viewer" }, stage, tools);
    if (photos.length > 1) viewer.append(strip);
    column.classList.add("viewing");
    column.querySelector("section").append(viewer);
    open(0);
    fit();
    addEventListener("resize", () => (at.used ? paint() : fit()));
    return { follow, acts };
  };
  const viewer = photos.length > 0 ? viewerOf(form.querySelector("[data-photos]")) : null;

  // --- lines ---
  const typing = (target) => target.matches("textarea, select, input:not([type=radio], [type=checkbox], [type=hidden])");
  const current = () => document.activeElement && document.activeElement.closest("[data-line], [data-name]");
  const judged = (line) => Boolean(line.querySelector(".verdict:not(.back) input:checked"));
  // Keys are for the line that was last looked at, the first one to begin with, unless something else has the focus.
  let last = stops.find((line) => !judged(line)) || stops[0];
  if (last) last.classList.add("at");
  const standing = () => current() || (document.activeElement.matches("body, main, .stage") ? last : null);
  const saveButton = form.querySelector("[data-save]");

  function go(line) {
    const target = line || saveButton;
    target.focus({ preventScroll: true });
    target.scrollIntoView({ block: "nearest" });
  }
  const beside = (line, step) => stops[stops.indexOf(line) + step];
  function choose(line, key) {
    const radio = line.querySelector(`.verdict input[data-key="${key}"]`);
    if (!radio) return null;
    radio.checked = true;
    radio.dispatchEvent(new Event("change", { bubbles: true }));
    return radio;
  }
  form.addEventListener("focusin", (event) => {
    const line = event.target.closest("[data-line], [data-name]");
    if (!line) return;
    last = line;
    for (const stop of stops) stop.classList.toggle("at", stop === line);
    // The verdict is painted first, then the photo moves.
    if (viewer && line.hasAttribute("data-line") && !line.contains(event.relatedTarget)) {
      requestAnimationFrame(() => setTimeout(() => { if (last === line) viewer.follow(line); }));
    }
  });
  form.addEventListener("click", (event) => {
    const look = event.target.closest("[data-look]");
    if (!look || !viewer) return;
    event.preventDefault();
    viewer.follow(look.closest(".line"));
  });
  // What somebody sees instead is a dispute, however it was chosen.
  form.addEventListener("input", (event) => {
    const better = event.target.closest(".better");
    if (better && event.target.value !== "") choose(better.closest("[data-line]"), "2");
  });

  const verdictKey = (line, key) => {
    const radio = choose(line, key);
    if (!radio) return false;
    if (radio.value === "another") line.querySelector("[name='opinion.family']").focus();
    else if (radio.value === "dispute") go(line.querySelector(".better input:not([type=radio])") || line);
    else if (radio.value !== "" && line !== nameLine) go(beside(line, 1));
    return true;
  };
  // After a dispute the letters choose what is seen instead; in the line of the name, rank and basis.
  const letterKey = (line, key) => {
    if (line !== nameLine && !line.querySelector(".verdict input[value=dispute]:checked")) return false;
    const radio = line.querySelector(`[data-letter="${CSS.escape(key)}"]`);
    if (!radio) return false;
    radio.checked = true;
    if (line !== nameLine) go(beside(line, 1));
    return true;
  };
  const pages = { "+": "nearer", "=": "nearer", "-": "farther", 0: "whole", r: "turn", m: "marks", ",": "before", ".": "next" };

  const keyDown = (event, line) => {
    if (line && /^([1-5]|Backspace|Delete)$/.test(event.key) && verdictKey(line, event.key === "Delete" ? "Backspace" : event.key)) return true;
    if (line && /^[a-z]$/.test(event.key) && letterKey(line, event.key)) return true;
    if (line && (event.key === "ArrowDown" || event.key === "j" || event.key === "Enter")) { go(beside(line, 1)); return true; }
    if (line && (event.key === "ArrowUp" || event.key === "k")) { go(beside(line, -1) || line); return true; }
    if (event.key === "n" && nameLine) { go(nameLine); return true; }
    if (event.key === "?") { keys.open = !keys.open; return true; }
    if (viewer && pages[event.key]) { viewer.acts[pages[event.key]](); return true; }
    return false;
  };
  const keys = document.querySelector("[data-keys]");
  keys.hidden = false;
  document.addEventListener("keydown", (event) => {
    if (document.querySelector("dialog[open]") || event.defaultPrevented || event.altKey) return;
    if (event.key === "Enter" && (event.ctrlKey || event.metaKey)) {
      event.preventDefault();
      form.requestSubmit(saveButton);
      return;
    }
    if (event.ctrlKey || event.metaKey) return;
    const line = standing();
    if (typing(event.target)) {
      if (event.key !== "Enter" || !line || event.target.matches("textarea")) return;
      event.preventDefault(); // else the first button would be pressed
      go(line === nameLine ? line : beside(line, 1));
      return;
    }
    if (event.key === "Enter" && event.target.closest("a, button, summary")) return;
    if (keyDown(event, line)) event.preventDefault();
  });

})();
