// What a telephone says of its own time, with each report: when it was pressed, when it is sent, and its number. What is kept
// unsent (keep.js) comes back with the minute at which it was first pressed, so the board sees that it is late.
const NUMBER = "phone:number";

function stamp(form) {
  const [said, sent, number] = ["said_at", "sent_at", "sequence"].map((name) => form.elements[`phone_${name}`]);
  if (!said || !sent || !number) return;
  const now = new Date().toISOString();
  if (!said.value) {
    const last = Number(localStorage.getItem(NUMBER)) + 1;
    localStorage.setItem(NUMBER, String(last));
    said.value = now;
    number.value = String(last);
  }
  sent.value = now;
}

// What is typed now is said now.
document.addEventListener("input", (event) => {
  const said = event.target.form?.elements.phone_said_at;
  if (said) said.value = "";
}, true);

// Before keep.js keeps it and htmx sends it.
document.addEventListener("submit", (event) => stamp(event.target), true);
