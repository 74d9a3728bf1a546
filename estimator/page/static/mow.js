"use strict";
// Only betters what works without it: drop files onto the box, see their names and sizes, send a form once.
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
    input.setCustomValidity(total > Number(input.dataset.most) ? "These files are too large." : files.length > 2 ? "Choose one or two files." : "");
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
for (const form of document.querySelectorAll("form[data-once]")) {
  const wait = form.querySelector("[data-wait]");
  form.addEventListener("submit", (event) => {
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "yes";
    if (wait) { wait.textContent = "Reading\u2026"; }
  });
  window.addEventListener("pageshow", () => {
    delete form.dataset.sent;
    if (wait) { wait.textContent = ""; }
  });
}
