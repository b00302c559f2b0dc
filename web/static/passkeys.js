// Passkeys (W3C Web Authentication): a form that has one asks the server what to ask for, has the browser make or find a passkey, and is
// sent with the answer. Without this script, or where the browser knows none, such forms stay hidden; other ways in work without it.
(() => {
  "use strict";

  const known = window.PublicKeyCredential && PublicKeyCredential.parseRequestOptionsFromJSON && PublicKeyCredential.parseCreationOptionsFromJSON;
  if (!known) return;

  const ask = async (form) => {
    const begun = await fetch(form.dataset.begin, {
      method: "POST",
      headers: { Accept: "application/json" },
      body: new URLSearchParams(new FormData(form)),
    });
    const said = await begun.json();
    if (!begun.ok) throw new Error(said.words);
    const credential = form.dataset.passkey === "make"
      ? await navigator.credentials.create({ publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(said.publicKey) })
      : await navigator.credentials.get({ publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(said.publicKey) });
    return JSON.stringify(credential.toJSON());
  };

  for (const form of document.querySelectorAll("form[data-passkey]")) {
    const words = form.querySelector("[data-words]");
    if (form.dataset.origin !== location.origin) {
      const elsewhere = form.parentElement.querySelector("[data-elsewhere]");
      if (elsewhere) elsewhere.hidden = false;
      continue;
    }
    form.hidden = false;
    form.addEventListener("submit", async (event) => {
      event.preventDefault();
      words.textContent = "";
      try {
        form.elements.answer.value = await ask(form);
        const present = form.elements.present;
        if (present) present.disabled = true; // the answer is enough: the password does not go twice
        form.submit();
      } catch (fault) {
        // What a browser says of a passkey tells nobody anything (NotAllowedError stands for all of it).
        words.textContent = fault instanceof DOMException ? phrase("no-passkey") : fault.message;
      }
    });
  }
})();
