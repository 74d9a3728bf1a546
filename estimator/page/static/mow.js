"use strict";
if (document.querySelector("[data-again]")) { setTimeout(() => location.reload(), 700); }
// Only improves what works without it: drop files onto the box, see their names and sizes, send a form once.
for (const box of document.querySelectorAll("[data-drop]")) {
  const input = box.querySelector("input[type=file]");
  const said = box.querySelector("[data-said]");
  const tell = () => {
    const files = Array.from(input.files);
    const total = files.reduce((sum, file) => sum + file.size, 0);
    const names = files.map((file) => `${file.name} (${Math.max(1, Math.round(file.size / 1024))} kB)`);
    said.textContent = total > Number(input.dataset.most)
      ? `${names.join(" and ")}: too large; send a shorter log, or thin it out to one reading a second`
      : names.join(" and ");
    const most = Number(input.dataset.count);
    input.setCustomValidity(total > Number(input.dataset.most) ? "These files are too large." : files.length > most ? `Choose ${most} files at most.` : "");
    date(files);
    if (files.length && input.form.hasAttribute("data-at-once")) { input.form.requestSubmit(); }
  };
  // Where a log has no date, the file's own says when the mow ended, in local time, as the meter would write it.
  const date = (files) => {
    for (const old of box.querySelectorAll("input[name=modified]")) { old.remove(); }
    for (const file of files) {
      const local = new Date(file.lastModified - 60000 * new Date(file.lastModified).getTimezoneOffset());
      const field = document.createElement("input");
      Object.assign(field, {type: "hidden", name: "modified", value: local.toISOString().slice(0, 19)});
      box.append(field);
    }
  };
  input.addEventListener("change", tell);
  for (const kind of ["dragenter", "dragover"]) {
    box.addEventListener(kind, (event) => { event.preventDefault(); box.classList.add("over"); });
  }
  for (const kind of ["dragleave", "drop"]) {
    box.addEventListener(kind, () => box.classList.remove("over"));
  }
  box.addEventListener("drop", (event) => {
    event.preventDefault();
    if (event.dataTransfer.files.length) { input.files = event.dataTransfer.files; tell(); }
  });
}
// While something is being sent: a stripe along the top until the next page is there.
addEventListener("submit", () => document.body.classList.add("busy"));
addEventListener("click", (event) => {
  const link = event.target.closest("a[href^='/']:not([download])");
  if (link && !event.ctrlKey && !event.metaKey && !event.shiftKey) { document.body.classList.add("busy"); }
});
addEventListener("pageshow", () => document.body.classList.remove("busy"));
for (const form of document.querySelectorAll("form[data-once]")) {
  const wait = form.querySelector("[data-wait]");
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
    if (wait) { wait.textContent = wait.dataset.wait || "Reading\u2026"; }
  });
  window.addEventListener("pageshow", () => {
    delete form.dataset.sent;
    if (wait) { wait.textContent = ""; }
  });
}
// A touch on the log's picture chooses where to split; without a script the field does.
for (const form of document.querySelectorAll("form[data-split]")) {
  const until = form.querySelector("[name=until]");
  for (const svg of form.closest("section").querySelectorAll("svg[data-x]")) {
    svg.addEventListener("click", (event) => {
      if (!form.closest("details").open) { return; }
      const box = svg.getBoundingClientRect(), view = svg.querySelector(".curves").viewBox.baseVal;
      const [from, to] = svg.dataset.x.split(" ").map(Number);
      const along = (view.x + view.width * (event.clientX - box.left) / box.width) / 10000;
      until.value = (from + (to - from) * along).toFixed(1);
    });
  }
}
