// Keying in without loading the page anew.
const form = $('desk'), desk = form.dataset, field = $('d'), pad = $('pad');
let sending, held, dirty;

const still = ({ text }) => text && ` Your reading ${text} is still here.`;
const say = why => set('line', ($('line').dataset[why] ?? why) + waiting.map(still).join(''));

function number() { // of the step that comes once all that waits is saved
  const step = waiting.reduce((n, { act }) => n + (act === 'back' ? -1 : act !== 'again'), +desk.step);
  set('stepno', step > desk.steps ? desk.after : `Step ${Math.max(1, step)} of ${desk.steps}`);
}

function key(act) {
  const reads = ['save', 'again'].includes(act), text = reads ? field.value.trim() : '';
  if (reads && !(dirty && text)) return; // no new digit
  waiting[held ? 'unshift' : 'push']({ act, text });
  keep();
  held = dirty = false;
  field.value = '';
  send();
}

async function send() {
  if (sending || waiting[1]) number();
  if (sending || held || !waiting[0]) return;
  sending = true;
  const { act, text } = waiting[0];
  const { status, url, page } = await ask(form.action, { ...Object.fromEntries(new FormData(form)), do: act, density: text });
  sending = false;
  if (!page) {
    number();
    return say('gone');
  }
  const next = page.getElementById('desk');
  if (!next && status !== 409 && !page.getElementById('all')) return say(`Not saved: ${page.querySelector('h1')?.textContent}.`);
  keep(waiting.slice(1));
  set('line', '');
  if (status === 409) { // sent once more, for the page with the choices
    form.onsubmit = null;
    field.value = text;
    return form.querySelector(`[value=${act}]`).click();
  }
  if (!next) {
    if (!waiting[0]) return location = url;
    say('full');
    return keep([]);
  }
  const had = document.activeElement;
  replace(page);
  form.action = next.action;
  desk.step = next.dataset.step;
  history.replaceState(null, '', url);
  field.ariaInvalid = next.density.ariaInvalid;
  if (field.ariaInvalid && !dirty) {
    field.value = text;
    field.select();
  }
  if (!had.isConnected) field.focus();
  held = field.ariaInvalid && waiting[0];
  if (held) say('first');
  send();
}

form.onsubmit = e => {
  e.preventDefault();
  key(e.submitter.value);
};
field.oninput = () => dirty = true;
field.onkeydown = e => {
  const act = { '+': 'again', '-': 'back', '*': 'skip' }[e.key];
  if (!act || e.key === desk.sign && e.code !== 'NumpadSubtract') return;
  e.preventDefault();
  key(act);
};

pad.hidden = false;
pad.open = matchMedia('(pointer: coarse) and (min-width: 40rem)').matches;
if (pad.open) pad.ontoggle = () => field.inputMode = pad.open ? 'none' : 'decimal';
pad.onmousedown = e => e.target.matches('button') && e.preventDefault(); // focus stays
pad.onclick = ({ target: { type, textContent: digit } }) => {
  if (type !== 'button') return;
  field.value = digit === '⌫' ? field.value.slice(0, -1) : (dirty ? field.value : '') + digit;
  dirty = true;
};

// What others do to the file, after what is done here.
const hear = hash => setTimeout(() => $('elsewhere').hidden = waiting[0] || hash === form.file.value, 1500);
const events = new EventSource('/events?file=' + desk.file);
events.onmessage = e => hear(e.data);
onfocus = () => events.readyState === events.CLOSED &&
  fetch(location, { method: 'HEAD' }).then(head => hear(head.headers.get('ETag').slice(1, -1)), () => {});

dirty = field.value !== field.defaultValue; // typed before this script was there
if (!dirty) {
  field.value ||= form.asked.value;
  field.focus();
  field.select();
}
send();
setInterval(send, 2000); // while sensito is not running
