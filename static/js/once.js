// One press, one act: a form that is on its way can't be sent again. If no answer comes it may be, with the same idempotency key,
// which the board counts once.
const WAIT = 20_000;

function wait(form) {
  form.dataset.sent = "";
  const buttons = [...form.querySelectorAll("button[type=submit]")];
  const line = form.querySelector("[data-sending]");
  // After the browser has collected the form: a disabled button would not be in it.
  setTimeout(() => buttons.forEach((button) => { button.disabled = true; }));
  if (line) { line.textContent = "Sent. Not confirmed by the board yet."; line.hidden = false; }
  form.dataset.timer = String(setTimeout(() => {
    free(form);
    if (line) { line.textContent = "No answer from the board: not confirmed. Press again; it counts once."; line.hidden = false; }
  }, WAIT));
}

function free(form) {
  clearTimeout(Number(form.dataset.timer));
  delete form.dataset.sent;
  form.querySelectorAll("button[type=submit]").forEach((button) => { button.disabled = false; });
  const line = form.querySelector("[data-sending]");
  if (line) line.hidden = true;
}

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post") return;
  if ("sent" in form.dataset) { event.preventDefault(); event.stopImmediatePropagation(); } else wait(form);
}, true);
document.addEventListener("htmx:afterRequest", (event) => {
  const form = event.target.closest?.("form");
  if (!form) return;
  free(form);
  const line = form.querySelector("[data-sending]");
  if (line && event.detail.failed && event.detail.xhr.status !== 422) {
    line.textContent = "The board did not confirm this. Press again; it counts once. Or call the desk.";
    line.hidden = false;
  }
});
window.addEventListener("pageshow", (event) => { if (event.persisted) document.querySelectorAll("form[data-sent]").forEach(free); });
