// Tells on a page of the queue, or where one of its submissions is judged, what others move meanwhile. Nothing is moved under
// the reader's hands: lines are marked, new ones are counted. The words stand in the page. Without it pages work as they are.
(() => {
  "use strict";

  const place = document.querySelector("[data-live]");
  if (!place || !window.EventSource) return;

  const words = place.dataset;
  const fresh = new Set();
  const source = new EventSource(words.live);

  const note = (submission, text) => {
    const line = document.querySelector(`[data-submission="${CSS.escape(submission)}"]`);
    if (!line) return false;
    let said = line.querySelector("[data-moved]");
    if (!said) {
      said = document.createElement("p");
      said.className = "small red";
      said.dataset.moved = "";
      said.setAttribute("role", "status");
      (line.querySelector("[data-notes]") || line).append(said);
    }
    said.textContent = text;
    return true;
  };

  const count = (submission) => {
    if (!words.fresh || document.querySelector(`[data-submission="${CSS.escape(submission)}"]`)) return;
    fresh.add(submission);
    const said = place.querySelector("span");
    said.textContent = words.fresh.replace("{n}", String(fresh.size));
    place.hidden = false;
  };

  source.addEventListener("moved", (event) => {
    for (const moved of JSON.parse(event.data)) {
      if (moved.move === "opened") {
        count(moved.submission);
        note(moved.submission, words.opened);
        continue;
      }
      if (moved.move === "gone" && fresh.delete(moved.submission)) {
        place.querySelector("span").textContent = words.fresh.replace("{n}", String(fresh.size));
        place.hidden = fresh.size === 0;
      }
      note(moved.submission, words[moved.move]);
    }
  });
  window.addEventListener("pagehide", () => source.close());
})();
