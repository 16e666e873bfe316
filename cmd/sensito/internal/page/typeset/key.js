// Keying in without loading the page anew, and readings that wait while nobody takes them.
const $ = id => document.getElementById(id);
const form = document.querySelector('form.desk'), desk = form.dataset;
const field = $('d'), pad = form.querySelector('details');
let waiting = JSON.parse(sessionStorage[desk.strip] ?? '[]'); // acts that are not saved
let sending, held, dirty;

const remember = () => sessionStorage[desk.strip] = JSON.stringify(waiting);
const say = why => $('line').textContent = why + waiting.map(w => w.text && ` Your reading ${w.text} is still here.`).join('');

function number() { // of the step that comes once all that waits is saved
  let step = +desk.step;
  for (const { act } of waiting) step += act === 'back' ? -1 : act !== 'again';
  $('stepno').textContent = step > desk.steps ? 'After the last step' : `Step ${Math.max(1, step)} of ${desk.steps}`;
}

function ask(act) {
  const reads = act === 'save' || act === 'again', text = reads ? field.value.trim() : '';
  if (reads && !(dirty && text)) return; // no new digit
  waiting[held ? 'unshift' : 'push']({ act, text });
  held = dirty = false;
  field.value = '';
  remember();
  send();
}

async function send() {
  if (sending || waiting[1]) number();
  if (sending || held || !waiting[0]) return;
  sending = true;
  const { act, text } = waiting[0], body = new URLSearchParams(new FormData(form));
  body.set('do', act);
  body.set('density', text);
  let answer, page;
  try {
    answer = await fetch(form.action, { method: 'POST', body });
    page = new DOMParser().parseFromString(await answer.text(), 'text/html');
  } catch {
    number();
    return say('Not saved: sensito is not running.');
  } finally {
    sending = false;
  }
  const next = page.querySelector('form.desk'), clash = answer.status === 409;
  if (!next && !clash && !page.querySelector('#all')) return say(`Not saved: ${page.querySelector('h1')?.textContent}.`);
  waiting.shift();
  $('line').textContent = '';
  if (next) take(next, answer.url, text);
  else if (clash) { // sent once more, for the page with the choices
    form.onsubmit = null;
    field.value = text;
    form.querySelector(`[value=${act}]`).click();
  } else if (waiting[0]) {
    say('All steps are read, and no step is left.');
    waiting = [];
  } else location = answer.url;
  remember();
}

// Puts what the answer says into the page; the field stays as it is being typed in.
function take(next, url, text) {
  const had = document.activeElement, made = document.querySelectorAll('[data-made]');
  next.ownerDocument.querySelectorAll('[data-made]').forEach((part, i) => made[i].replaceChildren(...part.childNodes));
  form.action = next.action;
  desk.step = next.dataset.step;
  history.replaceState(null, '', url);
  field.ariaInvalid = next.elements.density.ariaInvalid;
  if (field.ariaInvalid && !dirty) {
    field.value = text;
    field.select();
  }
  if (!had.isConnected) field.focus();
  held = field.ariaInvalid && waiting[0];
  if (held) say('Answer this first.');
  send();
}

form.onsubmit = e => {
  e.preventDefault();
  ask(e.submitter.value);
};
field.oninput = () => dirty = true;
field.onkeydown = e => {
  const act = { '+': 'again', '-': 'back', '*': 'skip' }[e.key];
  if (!act || act === 'back' && desk.signed && e.code !== 'NumpadSubtract') return;
  e.preventDefault();
  ask(act);
};

// Keys on the page.
pad.hidden = false;
pad.open = matchMedia('(pointer: coarse) and (min-width: 40rem)').matches;
if (pad.open) pad.ontoggle = () => field.inputMode = pad.open ? 'none' : 'decimal';
pad.onmousedown = e => e.target.matches('button') && e.preventDefault(); // focus stays
pad.onclick = ({ target: { type, textContent: key } }) => {
  if (type !== 'button') return;
  const text = dirty || key === '⌫' ? field.value : '';
  field.value = key === '⌫' ? text.slice(0, -1) : text + key;
  dirty = true;
};

// What others do to the file, once what is done here is known.
const hear = hash => setTimeout(() => $('elsewhere').hidden = waiting.length || hash === form.elements.file.value, 1500);
const events = new EventSource('/events?file=' + desk.file);
events.addEventListener('changed', e => hear(e.data));
window.onfocus = () => events.readyState === EventSource.CLOSED &&
  fetch(location, { method: 'HEAD' }).then(head => hear(head.headers.get('ETag').slice(1, -1)), () => {});

dirty = field.value !== field.defaultValue; // typed before this script was there
if (!dirty) {
  field.value ||= form.elements.asked.value;
  field.focus();
  field.select();
}
send();
setInterval(send, 2000); // while sensito is not running
