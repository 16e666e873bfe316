// The fields of a question answer by themselves: what was found replaces the answer and the
// tones, and focus stays where it is. Without this the button Answer does the same.
const form = document.querySelector("form.ask");
const parts = ["answer", "tones", "terminal"];
let timer = 0, asking = new AbortController();

// show asks, and shows what is answered; keep puts the address in the history.
async function show(keep) {
  clearTimeout(timer);
  asking.abort();
  asking = new AbortController();
  const to = form.action + "?" + new URLSearchParams(new FormData(form));
  let url, page;
  try {
    const answer = await fetch(to, { signal: asking.signal });
    url = answer.url;
    page = new DOMParser().parseFromString(await answer.text(), "text/html");
  } catch (e) {
    if (e.name !== "AbortError") tell("Not answered: sensito is not running. What you asked is still here.");
    return;
  }
  if (!page.getElementById("answer")) return location.assign(to);
  for (const id of parts) document.getElementById(id)?.replaceWith(document.importNode(page.getElementById(id), true));
  document.title = page.title;
  document.querySelector("h1").textContent = page.querySelector("h1").textContent;
  page.querySelectorAll("form.ask .step").forEach((step, i) => form.querySelectorAll(".step")[i].value = step.value);
  if (keep && url !== location.href) history.pushState(null, "", url);
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
  timer = setTimeout(show, 250);
});
// Another trial, paper or light brings other fields, which come with a page of their own.
form.addEventListener("change", (e) =>
  ["trial", "aim", "enlarger", "control"].includes(e.target.name) ? form.requestSubmit() : show(true));
form.addEventListener("click", (e) => {
  const step = e.target.closest(".step");
  if (!step) return;
  e.preventDefault();
  form.querySelector("input[name=range]").value = step.value;
  show(true);
});
addEventListener("popstate", () => location.reload());
