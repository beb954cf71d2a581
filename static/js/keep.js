// Never loses what was typed: a form[data-keep] is kept in this tab, with its idempotency key, until the board's page says
// [data-confirmed="<that key>"]. So it comes back after an expired session, a lost signal or a closed page, and a second sending
// of the same press counts once. Only the same person gets it back.
const PREFIX = "keep:";
const SHIFT = 12 * 3600_000;
const person = document.body.dataset.person || "";
const name = (form) => PREFIX + new URL(form.getAttribute("action") || location.href, location.href).href;
const kept = () => Object.keys(sessionStorage).filter((key) => key.startsWith(PREFIX));
const read = (key) => JSON.parse(sessionStorage.getItem(key));

for (const mark of document.querySelectorAll("[data-confirmed]"))
  for (const key of kept()) if (read(key).values.key?.includes(mark.dataset.confirmed)) sessionStorage.removeItem(key);
if (person) for (const key of kept()) if (read(key).person !== person) sessionStorage.removeItem(key);

function write(form) {
  const values = {};
  for (const [field, value] of new FormData(form))
    if (typeof value === "string" && field !== "csrfmiddlewaretoken") (values[field] ||= []).push(value);
  sessionStorage.setItem(name(form), JSON.stringify({person, at: Date.now(), values}));
  form.dataset.typed = "";
}

function restore(form) {
  const text = sessionStorage.getItem(name(form));
  if (!text) return;
  const {at, values} = JSON.parse(text);
  // An answered form came back with its values; what a whole shift ago was left lying is no help.
  if (form.hasAttribute("data-answered") || Date.now() - at > SHIFT) { sessionStorage.removeItem(name(form)); return; }
  for (const control of form.elements) {
    if (!control.name || control.name === "csrfmiddlewaretoken" || control.type === "file" || control.type === "submit") continue;
    const held = values[control.name] || [];
    if (control.type === "radio" || control.type === "checkbox") control.checked = held.includes(control.value);
    else if (held.length) control.value = held[0];
  }
  const line = form.querySelector("[data-kept]");
  if (line) {
    const clock = new Intl.DateTimeFormat("en-GB", {hour: "2-digit", minute: "2-digit", timeZone: document.body.dataset.zone || undefined});
    line.textContent = `What you entered at ${clock.format(at)} is back. The board has not confirmed it: look at it and send it.`;
    line.hidden = false;
  }
  form.dataset.typed = "";
}

const forms = (root) => root.querySelectorAll("form[data-keep]");
forms(document).forEach(restore);
document.addEventListener("htmx:load", (event) => forms(event.target).forEach(restore));
document.addEventListener("input", (event) => { const form = event.target.closest("form[data-keep]"); if (form) write(form); });
document.addEventListener("submit", (event) => { if (event.target.matches("form[data-keep]")) write(event.target); });
