// Tells on a page of the queue, or where one of its submissions is judged, what others move meanwhile. Nothing is moved under
// the reader's hands: lines are marked, new ones are counted. The words stand in the page. Without it pages work as they are.
(() => {
  "use strict";

  const place = document.querySelector("[data-live]");
  if (!place || !window.EventSource) return;

  const words = place.dataset;
  const fresh = new Set();
  let source, broken = false, later;

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

  const tell = (event) => {
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
  };

  // What moved while the line was down is not told again: the page says so when it is back.
  const opened = () => {
    words.heard = "yes";
    if (!broken) return;
    broken = false;
    fresh.clear();
    place.querySelector("span").textContent = words.lost;
    place.hidden = false;
  };
  // A browser tries again by itself after a broken line, but not after an answer that is no stream, as of a server that starts anew.
  const failed = () => {
    words.heard = "no";
    broken = true;
    if (source.readyState === EventSource.CLOSED) later = setTimeout(listen, 30000);
  };
  const listen = () => {
    source = new EventSource(words.live);
    source.addEventListener("open", opened);
    source.addEventListener("error", failed);
    source.addEventListener("moved", tell);
  };
  listen();
  window.addEventListener("pagehide", () => {
    clearTimeout(later);
    source.close();
  });
  // A page that comes back whole, by the way back, listens again.
  window.addEventListener("pageshow", (event) => {
    if (!event.persisted) return;
    broken = true;
    listen();
  });
})();
