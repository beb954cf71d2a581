// On the phone, one question a screen: the fields of form[data-ask] are shown one after the other, then all answers with the button.
// Without this module they stand under each other, which works too.
function ask(form) {
  const questions = [...form.querySelectorAll(".asked")];
  if (questions.length < 2) return;
  const last = form.querySelector("[data-last]");
  const answers = document.createElement("dl");
  answers.className = "facts";
  last.prepend(answers);
  const steps = document.createElement("div");
  steps.className = "asking";
  const count = document.createElement("p");
  count.className = "muted";
  const [back, next] = ["Back", "Next"].map((word) => {
    const button = document.createElement("button");
    button.type = "button";
    button.textContent = word;
    steps.append(button);
    return button;
  });
  back.className = "quiet";
  const leave = last.querySelector("a").cloneNode(true);  // the way out stands on the first question too
  steps.prepend(leave);
  questions[0].before(count);
  form.append(steps);
  let at = Math.max(0, questions.findIndex((question) => question.classList.contains("wrong")));

  function answer(question) {
    const only = question.querySelector("input[type=checkbox]:only-of-type");
    if (only && !question.querySelector("fieldset")) return only.checked ? "yes" : "no";
    return [...question.querySelectorAll("input, select, textarea")].filter((control) => !/radio|checkbox/.test(control.type) || control.checked)
      .map((control) => control.labels?.[0] && /radio|checkbox/.test(control.type) ? control.labels[0].textContent.trim()
        : control.selectedOptions ? control.selectedOptions[0]?.textContent.trim() : control.value).filter(Boolean).join(", ");
  }

  function show(focus) {
    questions.forEach((question, i) => { question.hidden = i !== at; });
    const end = at === questions.length;
    last.hidden = !end;
    next.hidden = end;
    back.hidden = at === 0;
    leave.hidden = at !== 0;
    count.textContent = end ? "Read it once more, then send it." : `Question ${at + 1} of ${questions.length}`;
    if (end) {
      answers.replaceChildren(...questions.flatMap((question) => {
        const [term, words] = [document.createElement("dt"), document.createElement("dd")];
        term.textContent = (question.querySelector("legend") || question.querySelector("label")).textContent.replace(/\s+/g, " ").trim();
        words.textContent = answer(question) || "not given";
        return [term, words];
      }));
    }
    if (focus) (end ? last.querySelector("button") : questions[at].querySelector("input, select, textarea"))?.focus();
  }

  function on() {
    const wrong = [...questions[at].querySelectorAll("input, select, textarea")].find((control) => !control.checkValidity());
    if (wrong) { wrong.reportValidity(); return; }
    at += 1;
    show(true);
  }

  next.addEventListener("click", on);
  back.addEventListener("click", () => { at -= 1; show(true); });
  form.addEventListener("keydown", (event) => {
    if (event.key !== "Enter" || at === questions.length || event.target.matches("textarea, button, a")) return;
    event.preventDefault();
    on();
  });
  show(false);
}

if (document.body.classList.contains("field")) document.querySelectorAll("form[data-ask]").forEach(ask);
