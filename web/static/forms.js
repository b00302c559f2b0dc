// Enhances long forms; they work without it. Photos are uploaded one by one as soon as they are there, and what is typed into the
// form of a draft is saved by itself.
(() => {
  "use strict";

  const announce = (text) => {
    const live = document.getElementById("live");
    if (live) live.textContent = text;
  };
  const made = (name, text, kind) => {
    const element = document.createElement(name);
    if (text) element.textContent = text;
    if (kind) element.className = kind;
    return element;
  };

  // --- a draft saves itself ---
  const draft = document.querySelector("form[data-autosave]");
  const pause = 1200; // milliseconds after the last key
  const again = 5000; // after a connection was lost
  let timer = 0;
  let saving = null;
  let changed = false;

  const say = (words, link) => {
    const place = draft.querySelector("[data-saved]");
    place.replaceChildren(words);
    if (!link) return;
    const anchor = made("a", phrase("log-in"));
    anchor.href = link;
    place.append(" ", anchor);
  };
  const put = (name, value) => {
    let field = draft.querySelector(`input[type=hidden][name="${name}"]`);
    if (!field) {
      field = made("input");
      field.type = "hidden";
      field.name = name;
      draft.append(field);
    }
    field.value = value;
  };
  const took = (said) => {
    put("version", said.version);
    if (draft.querySelector("input[type=hidden][name=draft]")) {
      put("draft", said.draft);
      history.replaceState(null, "", `/submissions/begin?draft=${encodeURIComponent(said.draft)}`);
    } else if (!draft.action.endsWith("/edit")) {
      draft.action = said.action;
      history.replaceState(null, "", said.action);
    }
    say(said.words);
    const stands = document.querySelector("[data-stands]");
    if (stands) stands.textContent = said.stands;
  };
  const send = async (leaving) => {
    const body = new FormData(draft);
    body.delete("files");
    body.set("do", "save");
    changed = false;
    try {
      const answer = await fetch(draft.action, { method: "POST", body, headers: { Accept: "application/json" }, keepalive: leaving });
      const said = await answer.json();
      if (answer.ok) took(said);
      else say(said.words, answer.status === 401 ? said.action : "");
    } catch {
      changed = true;
      say(phrase("no-connection"));
      timer = setTimeout(save, again);
    }
  };
  const save = async (leaving) => {
    clearTimeout(timer);
    if (saving) return saving;
    saving = send(leaving === true);
    await saving;
    saving = null;
  };
  const soon = () => {
    if (!draft) return;
    changed = true;
    clearTimeout(timer);
    timer = setTimeout(save, pause);
  };
  if (draft) {
    draft.addEventListener("input", soon);
    draft.addEventListener("change", soon);
    window.addEventListener("online", () => { if (changed) save(); });
    document.addEventListener("visibilitychange", () => { if (changed && document.visibilityState === "hidden") save(true); });
    // A form that is sent while it saves itself waits: else it would be of a version that is past.
    draft.addEventListener("submit", (event) => {
      clearTimeout(timer);
      changed = false;
      if (!saving) return;
      event.preventDefault();
      const button = event.submitter;
      saving.then(() => draft.requestSubmit(button));
    });
  }

  // --- photos ---
  const list = document.querySelector("[data-photo-list]");

  const refreshPhotoChoices = () => {
    const photos = [...list.querySelectorAll("[data-photo]")].map((item) => [item.dataset.photo, item.dataset.name]);
    for (const select of document.querySelectorAll("select[data-photo-choice]")) {
      for (const [id, name] of photos) {
        if ([...select.options].some((option) => option.value === id)) continue;
        select.add(new Option(name, id));
      }
    }
  };

  // The picture is there at once, with how far it has come.
  const waiting = (file) => {
    const item = made("li", "", "uploading");
    const image = made("img");
    image.alt = file.name;
    image.src = URL.createObjectURL(file);
    const bar = made("progress");
    bar.max = 1;
    bar.value = 0;
    bar.setAttribute("aria-label", file.name);
    const words = made("p", phrase("waits"), "small");
    item.append(image, bar, words);
    list.append(item);
    return { file, item, bar, words };
  };
  const post = (address, one) => new Promise((resolve, reject) => {
    const form = new FormData();
    form.append("start", String(list.querySelectorAll("[data-photo]").length));
    form.append("files", one.file);
    const request = new XMLHttpRequest();
    request.open("POST", address);
    request.upload.onprogress = (event) => { if (event.lengthComputable) one.bar.value = event.loaded / event.total; };
    request.onload = () => (request.status === 200 && !request.responseURL.includes("/login") ? resolve(request.responseText) : reject(new Error(String(request.status))));
    request.onerror = () => reject(new Error("no connection"));
    request.send(form);
  });
  // One request a photo, so that a slow line loses one photo at most.
  const uploadOne = async (address, one) => {
    one.words.textContent = phrase("uploading");
    try {
      one.item.insertAdjacentHTML("beforebegin", await post(address, one));
      URL.revokeObjectURL(one.item.querySelector("img").src);
      one.item.remove();
      refreshPhotoChoices();
      soon();
    } catch {
      const retry = made("button", phrase("try-again"));
      retry.type = "button";
      one.words.replaceChildren(`${phrase("not-uploaded")} `, retry);
      retry.addEventListener("click", () => uploadOne(address, one));
      announce(phrase("stays-here", { Name: one.file.name }));
    }
  };
  const upload = async (address, files) => {
    const all = files.filter((file) => file.type.startsWith("image/")).map(waiting);
    for (const [i, one] of all.entries()) {
      announce(phrase("uploading-one", { Number: i + 1, Count: all.length }));
      await uploadOne(address, one);
    }
    if (all.length > 0) announce(phrase("uploaded"));
  };

  // A form with photos that have not arrived is not sent by accident.
  if (list) {
    list.closest("form").addEventListener("submit", (event) => {
      const left = list.querySelector(".uploading");
      if (!left || left.dataset.told) return;
      event.preventDefault();
      event.stopImmediatePropagation();
      left.dataset.told = "yes";
      left.scrollIntoView({ block: "center" });
      announce(phrase("not-yet"));
    }, true);
  }

  const inputs = [...document.querySelectorAll("input[data-upload]")];
  for (const input of inputs) {
    input.addEventListener("change", () => {
      const files = [...input.files];
      input.value = "";
      upload(input.dataset.upload, files);
    });
  }
  if (inputs.length > 0 && list) {
    const address = inputs[0].dataset.upload;
    const field = inputs[0].closest(".field");
    document.addEventListener("dragover", (event) => {
      if (![...event.dataTransfer.types].includes("Files")) return;
      event.preventDefault();
      field.classList.add("over-files");
    });
    document.addEventListener("dragleave", (event) => { if (!event.relatedTarget) field.classList.remove("over-files"); });
    document.addEventListener("drop", (event) => {
      if (event.dataTransfer.files.length === 0) return;
      event.preventDefault();
      field.classList.remove("over-files");
      upload(address, [...event.dataTransfer.files]);
    });
    document.addEventListener("paste", (event) => {
      if (event.clipboardData.files.length === 0) return;
      event.preventDefault();
      upload(address, [...event.clipboardData.files]);
    });
  }
})();
