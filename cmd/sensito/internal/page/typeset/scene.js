// The fields of a question answer by themselves: what was found replaces the answer and the
// tones, and focus stays where it is. Without this the button Answer does the same.
const form = document.querySelector("form.ask");
const parts = ["answer", "tones"];
let timer = 0, asking = new AbortController();

function address(extra) {
  const values = new FormData(form);
  if (extra) values.append(extra.name, extra.value);
  return form.action + "?" + new URLSearchParams(values);
}

// show asks, and shows what is answered; keep puts the address in the history.
async function show(to, keep) {
  clearTimeout(timer);
  asking.abort();
  asking = new AbortController();
  let answer, text;
  try {
    answer = await fetch(to, { signal: asking.signal });
    text = await answer.text();
  } catch (e) {
    if (e.name !== "AbortError") tell("Not answered: sensito is not running. What you asked is still here.");
    return;
  }
  const page = new DOMParser().parseFromString(text, "text/html");
  if (!page.getElementById("answer")) return location.assign(to);
  for (const id of [...parts, "terminal"]) {
    const now = document.getElementById(id), then = page.getElementById(id);
    if (now && then) now.replaceWith(document.importNode(then, true));
  }
  document.title = page.title;
  document.querySelector("h1").textContent = page.querySelector("h1").textContent;
  for (const step of page.querySelectorAll("form.ask .step")) {
    const same = form.querySelector(`.step[aria-label="${step.ariaLabel ?? step.getAttribute("aria-label")}"]`);
    if (same) same.value = step.value;
  }
  if (keep && answer.url !== location.href) history.pushState(null, "", answer.url);
}

function tell(words) {
  const p = document.createElement("p");
  p.className = "says mark";
  p.setAttribute("role", "alert");
  p.textContent = words;
  document.getElementById("answer").replaceChildren(p);
}

form.addEventListener("input", () => {
  clearTimeout(timer);
  timer = setTimeout(() => show(address(), false), 250);
});
// Another trial, aim or light brings other fields, which come with a page of its own.
form.addEventListener("change", (e) => {
  if (["trial", "aim", "enlarger", "control"].includes(e.target.name)) return form.requestSubmit();
  show(address(), true);
});
form.addEventListener("click", (e) => {
  const step = e.target.closest(".step");
  if (!step) return;
  e.preventDefault();
  form.querySelector('input[name="range"]').value = step.value;
  show(address(), true);
});
addEventListener("popstate", () => location.reload());
