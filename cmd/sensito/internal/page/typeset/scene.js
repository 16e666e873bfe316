// The fields of a question answer by themselves.
const form = document.querySelector('form.ask'), unanswered = $('unanswered');
let timer, asking;

async function show(keep) { // its address in the history
  clearTimeout(timer);
  asking?.abort();
  const { signal } = asking = new AbortController(), to = form.action + '?' + new URLSearchParams(new FormData(form));
  const { url, page } = await ask(to, null, signal);
  if (signal.aborted) return;
  if (!page) {
    unanswered.hidden = false;
    unanswered.role = 'alert';
    return $('answer').replaceChildren(unanswered);
  }
  if (!page.getElementById('answer')) return location = to;
  replace(page);
  page.querySelectorAll('.step').forEach((step, i) => form.querySelectorAll('.step')[i].value = step.value);
  if (keep && url !== location.href) history.pushState(null, '', url);
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
onpopstate = () => location.reload();
