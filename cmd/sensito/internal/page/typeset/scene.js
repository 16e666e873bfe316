// The fields of a question answer by themselves; without this the button Answer does.
const form = document.querySelector('form.ask'), unanswered = document.getElementById('unanswered');
let timer, asking;

async function show(keep) { // its address in the history
  clearTimeout(timer);
  asking?.abort();
  asking = new AbortController();
  const to = form.action + '?' + new URLSearchParams(new FormData(form));
  let answer, page;
  try {
    answer = await fetch(to, asking);
    page = new DOMParser().parseFromString(await answer.text(), 'text/html');
  } catch (e) {
    if (e.name === 'AbortError') return;
    unanswered.hidden = false;
    unanswered.role = 'alert';
    return document.querySelector('#answer').replaceChildren(unanswered);
  }
  if (!page.querySelector('#answer')) return location = to;
  for (const part of ['title', 'h1', '#answer', '#tones', '#terminal']) document.querySelector(part)?.replaceWith(page.querySelector(part) ?? '');
  page.querySelectorAll('.step').forEach((step, i) => form.querySelectorAll('.step')[i].value = step.value);
  if (keep && answer.url !== location.href) history.pushState(null, '', answer.url);
}

form.oninput = () => {
  clearTimeout(timer);
  timer = setTimeout(show, 250);
};
// Another trial, paper or light brings other fields.
form.onchange = e => ['trial', 'aim', 'enlarger', 'control'].includes(e.target.name) ? form.requestSubmit() : show(true);
form.onclick = e => {
  if (!e.target.matches('.step')) return;
  e.preventDefault();
  form.querySelector('input[name=range]').value = e.target.value;
  show(true);
};
window.onpopstate = () => location.reload();
