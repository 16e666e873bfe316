// Keying in without loading the page anew, and readings that wait while nobody takes them.
// All of it works without this script.
const form = document.querySelector('form.desk');
if (form) {
  const field = document.getElementById('d'), pad = form.querySelector('details'), line = document.getElementById('line');
  const elsewhere = document.getElementById('elsewhere'), store = 'keyed ' + form.dataset.strip;
  const parts = ['stepno', 'told', 'asked', 'keep', 'saved', 'drawn', 'listed'];
  let waiting = JSON.parse(sessionStorage.getItem(store) || '[]'); // acts that are not saved, in order
  let sending = false, held = false, dirty = false, heard = '', timer, look;

  const say = text => { line.textContent = text; };
  const hash = () => form.querySelector('[name=file]').value;
  const remember = () => waiting.length ? sessionStorage.setItem(store, JSON.stringify(waiting)) : sessionStorage.removeItem(store);
  const readings = () => waiting.filter(w => w.text).map(w => w.text);
  const are = (list, rest) => (list.length > 1 ? 'Your readings ' : 'Your reading ') + list.join(', ') + (list.length > 1 ? ' are ' : ' is ') + rest;

  // The step that comes next once all that waits is saved.
  function number() {
    const move = { save: 1, skip: 1, keep: 1, back: -1, again: 0 };
    let step = +form.dataset.step;
    for (const w of waiting) step += move[w.act];
    step = Math.max(1, step);
    document.getElementById('stepno').textContent = step > +form.dataset.steps ? 'After the last step' : 'Step ' + step + ' of ' + form.dataset.steps;
  }

  function ask(act) {
    const text = act === 'save' || act === 'again' ? field.value.trim() : '';
    if ((act === 'save' || act === 'again') && (!dirty || !text)) return; // no new digit
    const item = { act, text };
    if (held) waiting.unshift(item); else waiting.push(item);
    held = false;
    remember();
    field.value = '';
    dirty = false;
    if (sending || waiting.length > 1) number();
    send();
  }

  async function send() {
    if (sending || held || !waiting.length) return;
    clearTimeout(timer);
    sending = true;
    const item = waiting[0], body = new URLSearchParams(new FormData(form));
    body.set('do', item.act);
    body.set('density', item.text);
    let answer, page;
    try {
      answer = await fetch(form.getAttribute('action'), { method: 'POST', body });
      page = new DOMParser().parseFromString(await answer.text(), 'text/html');
    } catch {
      sending = false;
      number();
      const list = readings();
      say('Not saved: sensito is not running.' + (list.length ? ' ' + are(list, 'still here.') : ''));
      timer = setTimeout(send, 2000);
      return;
    }
    sending = false;
    const next = page.querySelector('form.desk');
    if (answer.status === 409) { // a page of its own, with the choices
      waiting.shift();
      remember();
      field.value = item.text;
      form.append(Object.assign(document.createElement('input'), { type: 'hidden', name: 'do', value: item.act }));
      form.submit();
      return;
    }
    const done = answer.ok && page.getElementById('all');
    if (!next && !done) {
      const list = readings();
      say('Not saved: ' + (page.querySelector('h1')?.textContent || answer.status) + '. ' + (list.length ? are(list, 'still here.') : ''));
      return;
    }
    waiting.shift();
    remember();
    say('');
    if (done) {
      const list = readings();
      if (!waiting.length) { location.assign(answer.url); return; }
      say('All steps are read. ' + are(list, 'of no step, and not saved.'));
      waiting = [];
      remember();
      return;
    }
    take(next, answer.url, item);
    if (!held) send();
  }

  // Puts what the answer says into the page; the field stays as it is being typed in.
  function take(next, url, item) {
    const had = document.activeElement;
    for (const id of parts) document.getElementById(id).replaceChildren(...next.ownerDocument.getElementById(id).childNodes);
    const made = next.ownerDocument.querySelectorAll('[data-made]');
    document.querySelectorAll('[data-made]').forEach((old, i) => { if (made[i]) old.replaceWith(made[i]); });
    form.setAttribute('action', next.getAttribute('action'));
    form.dataset.step = next.dataset.step;
    history.replaceState(null, '', url);
    const typed = next.querySelector('#d');
    const refused = form.elements.asked.value !== '' || typed.value !== '';
    field.setAttribute('aria-invalid', refused);
    if (refused && !dirty) {
      field.value = item.text;
      field.select();
    }
    held = refused && waiting.length > 0;
    if (held) say(are(readings(), 'waiting until this is answered.'));
    else if (waiting.length) number();
    if (had && !had.isConnected) field.focus();
    notice();
  }

  form.addEventListener('submit', e => { e.preventDefault(); ask(e.submitter ? e.submitter.value : 'save'); });
  field.addEventListener('input', () => { dirty = true; });
  field.addEventListener('keydown', e => {
    const act = { '+': 'again', '-': 'back', '*': 'skip' }[e.key];
    if (!act || e.key === '-' && form.dataset.signed && e.code !== 'NumpadSubtract') return;
    e.preventDefault();
    ask(act);
  });

  // Keys on the page.
  pad.hidden = false;
  const coarse = matchMedia('(pointer: coarse) and (min-width: 40rem)');
  pad.open = coarse.matches;
  const mode = () => { field.inputMode = pad.open && coarse.matches ? 'none' : 'decimal'; };
  pad.addEventListener('toggle', mode);
  mode();
  pad.addEventListener('mousedown', e => { if (e.target.closest('button')) e.preventDefault(); }); // focus stays in the field
  pad.addEventListener('click', e => {
    const key = e.target.closest('button[type=button]');
    if (!key) return;
    const text = dirty || key.dataset.erase ? field.value : '';
    field.value = key.dataset.erase ? text.slice(0, -1) : text + key.textContent;
    dirty = true;
  });

  // What others do to the file.
  function notice() {
    clearTimeout(look);
    look = setTimeout(() => { elsewhere.hidden = !heard || sending || waiting.length > 0 || heard === hash(); }, 1500);
  }
  const events = new EventSource('/events?file=' + form.dataset.file);
  events.addEventListener('changed', e => { heard = e.data; notice(); });
  addEventListener('focus', async () => {
    if (events.readyState !== EventSource.CLOSED) return;
    try {
      heard = ((await fetch(location.href, { method: 'HEAD' })).headers.get('ETag') || '').replaceAll('"', '');
      notice();
    } catch { /* told when the next reading is sent */ }
  });

  dirty = field.value !== field.defaultValue; // typed before this script was there
  if (!dirty) {
    field.value ||= form.elements.asked.value;
    field.focus();
    field.select();
  }
  if (waiting.length) { number(); send(); }
}
