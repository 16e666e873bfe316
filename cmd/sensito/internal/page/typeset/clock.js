// The clock of a session, by the server's events and this page's own time; its sounds, and
// the screen on or off. All but these works without this script.
const id = n => document.getElementById(n), at = location.pathname.split('/', 3).join('/'), kept = sessionStorage;
const set = (n, text) => { if (id(n).textContent !== text) id(n).textContent = text; };

// The time is that of the wall at first; then a sleep alone sets it anew.
let zero = Date.now() - performance.now();
const time = () => zero + performance.now();

let state, born, sure, step, e; // what the server said; when the step that runs began, as sure as this, and how long ago
let busy, ctx, beeps = [], on = kept.sound !== 'off', blank, held;

// Acts that the server has not taken yet. The first has the event that it was made after.
let queue = JSON.parse(kept[at] || '[]');
function keep(acts) {
  if (acts.length) acts[0].after ??= state.number;
  kept[at] = JSON.stringify(queue = acts);
}
const refuse = acts => set('refused', acts.length ? 'Not done: ' + acts.map(a => a.name).join(', ') + '.' : '');

function clock(ms) {
  const s = Math.round(Math.abs(ms) / 1000), m = Math.floor(s / 60), two = n => String(n % 60).padStart(2, '0');
  return (m < 60 ? m : Math.floor(m / 60) + ':' + two(m)) + ':' + two(s);
}

// What an answer says is put into the page; what is being typed in stays.
function take({ page, trip }) {
  const now = page.getElementById('now');
  if (!now) return location.reload();
  for (const n of ['told', 'bath', 'list', 'clearing', 'end']) {
    const made = page.getElementById(n);
    if (!id(n).querySelector('input:focus') || !made.children.length) id(n).replaceChildren(...made.childNodes);
  }
  state = JSON.parse(now.dataset.state);
  sure = trip / 2;
  born = time() - sure - state.elapsed;
}

function draw() {
  const slept = Date.now() - time(), nexts = queue.filter(a => a.body.do === 'next');
  if (slept > 1000) {
    zero += slept;
    look();
    return renew();
  }
  step = state.steps[Math.min(nexts.length, state.steps.length - 1)];
  e = time() - (nexts.at(-1)?.when ?? born);
  const left = step.lasts - e, known = step.lasts > 0, figures = clock(known ? left : e);
  for (const n of ['step', 'light', 'means']) set(n, step[n]);
  set('left', figures);
  set('over', !known ? 'so far' : Math.round(left / 1000) < 0 ? 'over' : '');
  id('left').classList.toggle('long', figures.length > 5);
  id('gone').setAttribute('width', known ? Math.min(1000, 1000 * e / step.lasts) : 0);
  const [, says, until] = step.says.findLast(s => s[0] <= e + 50) || step.says[0];
  set('says', says.replace('{}', clock(until - e)));
  set('minute', step.lasts > 90000 && left <= 60000 && left > 50000 ? 'One minute left' : '');
  id('left').toggleAttribute('data-cue', !heard() && step.cues.some(c => c[0] <= e && e < c[0] + 2000));
  if (blank && !step.dark) wake();
}

// Draws, and sets the sounds ahead on the audio clock, which a hidden page does not slow.
const heard = () => on && ctx.state === 'running';
function renew() {
  draw();
  beeps.forEach(b => b.from > ctx.currentTime && b.stop());
  beeps = [];
  set('sound', heard() ? 'Sound on' : 'Sound off');
  const began = ctx.currentTime - e / 1000;
  for (const [ms, kind] of step.cues) for (const [start, length, frequency] of heard() ? state.tones[kind] : []) {
    const o = new OscillatorNode(ctx, { frequency }), from = began + ms / 1000 + start;
    if (from < ctx.currentTime) continue;
    o.connect(ctx.destination);
    o.start(from);
    o.stop(from + length);
    o.from = from;
    beeps.push(o);
  }
}

// Asks the server, and says where that does not answer.
async function ask(url, options) {
  const since = time();
  try {
    const answer = await fetch(url, options), { status } = answer, text = await answer.text();
    if (![200, 409, 422].includes(status)) throw status;
    id('lost').hidden = true;
    return { status, text, trip: time() - since, page: new DOMParser().parseFromString(text, 'text/html') };
  } catch {
    id('lost').hidden = false;
    return {};
  }
}

// Acts are sent in order. What is refused is told: one that is faulty alone, or all where
// something else was done before.
async function send() {
  if (busy) return;
  busy = true;
  while (queue.length) {
    const [{ body, after, when }] = queue, token = document.querySelector('[name=token]').value, ago = Math.round(time() - when);
    const got = await ask(at + '/event', { method: 'POST', body: new URLSearchParams({ ...body, token, after, ago }) });
    if (!got.status) break;
    const done = got.status === 409 ? queue.length : 1;
    if (got.status !== 200) {
      if (!got.page.getElementById('now')) return location.reload(); // it is over, and told there
      refuse(queue.slice(0, done));
    }
    take(got);
    keep(queue.slice(done));
    renew();
  }
  busy = false;
}

// Whether something was done elsewhere, and the time.
async function look() {
  if (queue.length) return send();
  const got = await ask(at + '/state');
  if (!got.status || busy) return;
  const beat = JSON.parse(got.text), by = got.trip / 2, began = time() - by - beat.elapsed;
  if (beat.number !== state.number) {
    const all = await ask(at);
    if (all.status && !busy) take(all);
  } else if (by < sure || Math.abs(began - born) > 50 + by) [born, sure] = [began, by];
  else return;
  renew();
}

function act(ev) {
  const form = ev.target, what = ev.submitter.value, field = form.querySelector('input:not([type=hidden])');
  if (!form.dataset.waits) return;
  ev.preventDefault();
  draw();
  if (what === 'next' && e < 1000) return; // hit twice
  refuse([]);
  if (what === 'undo' && !id('lost').hidden && queue.length) keep(queue.slice(0, -1));
  else {
    const name = `${ev.submitter.textContent} ${field?.value ?? ''} (${new Date(time()).toTimeString().slice(0, 8)})`.replace('  ', ' ');
    keep([...queue, { when: time(), name, body: { ...Object.fromEntries(new FormData(form)), do: what } }]);
    if (field) field.value = '';
  }
  renew();
  send();
}

// The screen is kept on where that can be had, as after each time the page was hidden.
const stayOn = async () => { id('awake').hidden = !!await navigator.wakeLock?.request('screen').catch(() => {}); };

function wake() {
  blank = false;
  id('night').hidden = true;
  document.exitFullscreen().catch(() => {});
}

if (id('now')) {
  ctx = new AudioContext();
  ctx.onstatechange = renew;
  id('sound').onclick = () => {
    on = !heard();
    kept.sound = on ? 'on' : 'off';
    ctx[on ? 'resume' : 'suspend']();
  };
  id('dark').onclick = () => { id('dark').ariaExpanded = !(id('glows').hidden = !id('glows').hidden); };
  id('black').onclick = () => {
    id('dark').click();
    id('night').hidden = false;
    blank = step.dark;
    id('night').requestFullscreen?.().catch(() => {});
  };
  for (const n of ['pointerdown', 'keydown', 'pointerup', 'pointercancel', 'keyup']) addEventListener(n, ev => {
    if (ev.target !== id('sound')) ctx.resume();
    if (id('night').hidden) return;
    ev.preventDefault();
    if (ev.repeat) return;
    clearTimeout(held);
    if (n.endsWith('down')) held = setTimeout(wake, 2000);
  }, true);
  addEventListener('submit', act);
  addEventListener('visibilitychange', () => document.hidden || stayOn());
  id('sound').hidden = id('dark').hidden = false;
  state = JSON.parse(id('now').dataset.state);
  born = time() - state.elapsed;
  renew();
  look();
  stayOn();
  new EventSource(at + '/events').addEventListener('changed', look);
  setInterval(look, 2000);
  setInterval(draw, 200);
} else if (queue.length) {
  refuse(queue);
  keep([]);
}
