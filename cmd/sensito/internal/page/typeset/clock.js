// The clock of a session; its sounds, and the screen on or off, which need this script.
const $ = n => document.getElementById(n), at = location.pathname.split('/', 3).join('/');
const set = (n, text) => { if ($(n).textContent !== text) $(n).textContent = text; };

// The time of this page, which only a sleep sets anew.
let zero = Date.now() - performance.now();
const time = () => zero + performance.now();

let state, born, sure, step, e; // what the server said; when the step began, as sure as this, and how long ago
let busy, ctx, beeps = [], on = true, blank, held;

// Acts that wait, the first with the event that it was made after.
let queue = JSON.parse(sessionStorage[at] || '[]');
function keep(acts) {
  if (acts.length) acts[0].after ??= state.number;
  sessionStorage[at] = JSON.stringify(queue = acts);
}
const refuse = acts => set('refused', acts.length ? 'Not done: ' + acts.map(a => a.name).join(', ') + '.' : '');

function clock(ms) {
  const s = Math.round(Math.abs(ms) / 1000), m = Math.floor(s / 60), two = n => String(n % 60).padStart(2, '0');
  return (m < 60 ? m : Math.floor(m / 60) + ':' + two(m)) + ':' + two(s);
}

// Puts what an answer says into the page; what is being typed in stays.
function take({ page, trip }) {
  const now = page.getElementById('now');
  if (!now) return location.reload();
  for (const n of ['told', 'bath', 'list', 'clearing', 'end']) {
    const made = page.getElementById(n);
    if (!$(n).querySelector('input:focus') || !made.children.length) $(n).replaceChildren(...made.childNodes);
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
  $('left').classList.toggle('long', figures.length > 5);
  $('gone').setAttribute('width', known ? Math.min(1000, 1000 * e / step.lasts) : 0);
  const [, says, until] = step.says.findLast(s => s[0] <= e + 50) || step.says[0];
  set('says', says.replace('{}', clock(until - e)));
  set('minute', step.lasts > 90000 && left <= 60000 && left > 50000 ? 'One minute left' : '');
  $('left').toggleAttribute('data-cue', !heard() && step.cues.some(c => c[0] <= e && e < c[0] + 2000));
  if (blank && !step.dark) wake();
}

// Draws, and sets sounds ahead, on a clock that a hidden page does not slow.
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

async function ask(url, options) {
  const since = time();
  try {
    const answer = await fetch(url, options), { status } = answer, text = await answer.text();
    if (![200, 409, 422].includes(status)) throw status;
    $('lost').hidden = true;
    return { status, text, trip: time() - since, page: new DOMParser().parseFromString(text, 'text/html') };
  } catch {
    $('lost').hidden = false;
    return {};
  }
}

// Sends acts in order. A faulty one is refused alone, one that is stale with all after it.
async function send() {
  if (busy) return;
  busy = true;
  while (queue.length) {
    const [{ body, after, when }] = queue, token = document.querySelector('[name=token]').value, ago = Math.round(time() - when);
    const got = await ask(at + '/event', { method: 'POST', body: new URLSearchParams({ ...body, token, after, ago }) });
    if (!got.status) break;
    const done = got.status === 409 ? queue.length : 1;
    if (got.status !== 200) {
      if (!got.page.getElementById('now')) return location.reload(); // told there
      refuse(queue.slice(0, done));
    }
    take(got);
    keep(queue.slice(done));
    renew();
  }
  busy = false;
}

// Asks for the time, and whether something was done elsewhere.
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
  if (what === 'undo' && !$('lost').hidden && queue.length) keep(queue.slice(0, -1));
  else {
    const name = ev.submitter.textContent + (field ? ' ' + field.value : '');
    keep([...queue, { when: time(), name, body: { ...Object.fromEntries(new FormData(form)), do: what } }]);
    if (field) field.value = '';
  }
  renew();
  send();
}

const stayOn = async () => { $('awake').hidden = !!await navigator.wakeLock?.request('screen').catch(() => {}); };

function wake() {
  blank = false;
  $('night').hidden = true;
  document.exitFullscreen?.().catch(() => {});
}

if ($('now')) {
  ctx = new AudioContext();
  ctx.onstatechange = renew;
  $('sound').onclick = () => {
    on = !heard();
    ctx[on ? 'resume' : 'suspend']();
  };
  $('dark').onclick = () => { $('dark').ariaExpanded = !($('glows').hidden = !$('glows').hidden); };
  $('black').onclick = () => {
    $('dark').click();
    $('night').hidden = false;
    blank = step.dark;
    $('night').requestFullscreen?.().catch(() => {});
  };
  for (const n of ['pointerdown', 'keydown', 'pointerup', 'pointercancel', 'keyup']) addEventListener(n, ev => {
    if (ev.target !== $('sound')) ctx.resume();
    if ($('night').hidden) return;
    ev.preventDefault();
    if (ev.repeat) return;
    clearTimeout(held);
    if (n.endsWith('down')) held = setTimeout(wake, 2000);
  }, true);
  addEventListener('submit', act);
  addEventListener('visibilitychange', () => document.hidden || stayOn());
  $('sound').hidden = $('dark').hidden = false;
  state = JSON.parse($('now').dataset.state);
  born = time() - state.elapsed;
  renew();
  look();
  stayOn();
  new EventSource(at + '/events').addEventListener('changed', look);
  setInterval(look, 2000);
  setInterval(draw, 200);
} else {
  refuse(queue);
  keep([]);
}
