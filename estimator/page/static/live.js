"use strict";
// The mow that runs: what the page sends replaces what is shown; the screen stays on where the browser allows it.
const place = document.querySelector("[data-live]");
const line = document.querySelector("[data-line]");
const turn = document.querySelector("[data-turn]");
const awake = document.querySelector("[data-awake]");
const idle = place.dataset.live === "idle";  // no mow ran when the page was opened
let last = place.dataset.last, heard = Date.now(), lost = false;

function follow() {
  const events = new EventSource(`/live/events?last=${last}`);
  events.addEventListener("now", (event) => {
    if (idle) { location.reload(); return; }
    place.innerHTML = event.data;
    [last, heard] = [event.lastEventId, Date.now()];
    const said = place.querySelector(".amber") ? "The lawn may not be finished." : "";
    if (turn.textContent !== said) { turn.textContent = said; }
  });
  events.addEventListener("open", () => { lost = false; });
  events.addEventListener("error", () => {
    lost = true;
    if (events.readyState === EventSource.CLOSED) { setTimeout(follow, 4000); }
  });
}
follow();

function sayQuiet() {
  const quiet = Math.floor((Date.now() - heard) / 60000);
  const said = lost ? "No connection just now; trying again." : quiet ? `Nothing new for ${quiet} min.` : "";
  if (line.textContent !== said) { line.textContent = said; }
}

async function stayAwake() {
  if (document.visibilityState !== "visible") { return; }
  try {
    await navigator.wakeLock.request("screen");
    awake.textContent = "The screen stays on.";
  } catch {
    awake.textContent = "The screen may go dark: browsers keep it on over a connection whose certificate they trust.";
  }
}
if (!idle) {
  setInterval(sayQuiet, 2000);
  document.addEventListener("visibilitychange", stayAwake);
  stayAwake();
}
