// The clock of a session, its sounds, and the screen on or off.

// The time of this page, which only a sleep sets anew.
let zero = Date.now() - performance.now();
const time = () => zero + performance.now();

let state, born, sure, step, e; // born: when the step began, sure within so much; e: how long ago
let busy, beeps = [], on = true, blank, held;
const ctx = new AudioContext(), heard = () => on && ctx.state === 'running';

function clock(ms) {
  const s = Math.round(Math.abs(ms) / 1000), [m, h] = [s / 60, s / 3600].map(Math.floor), two = n => String(n % 60).padStart(2, '0');
  return (h ? h + ':' + two(m) : m) + ':' + two(s);
}

function draw() {
  const slept = Date.now() - time(), nexts = waiting.filter(a => a.do === 'next');
  if (slept > 1000) {
    zero += slept;
    look();
    return renew();
  }
  step = state.steps[nexts.length] ?? state.steps.at(-1);
  e = time() - (nexts.at(-1)?.when ?? born);
  const left = step.lasts - e, figures = clock(left);
  for (const id of ['step', 'light', 'means']) set(id, step[id]);
  set('left', figures);
  set('over', step.lasts ? left < -500 ? 'over' : '' : 'so far');
  $('left').classList.toggle('long', figures.length > 5);
  $('gone').setAttribute('width', step.lasts && 1000 * e / step.lasts);
  const [, says, until] = step.says.findLast(s => s[0] <= e + 50) || step.says[0];
  set('says', says.replace('{}', clock(until - e)));
  set('minute', step.lasts > 90000 && left <= 60000 && left > 50000 ? 'One minute left' : '');
  $('left').toggleAttribute('data-cue', !heard() && step.cues.some(c => c[0] <= e && e < c[0] + 2000));
  if (blank && !step.dark) wake();
}

// Sounds are set ahead, on a clock that a hidden page does not slow.
function renew() {
  draw();
  beeps.forEach(b => b.from > ctx.currentTime && b.stop());
  beeps = [];
  set('sound', 'Sound ' + (heard() ? 'on' : 'off'));
  for (const [start, length, frequency] of heard() ? step.sounds : []) {
    const o = new OscillatorNode(ctx, { frequency }), from = ctx.currentTime - e / 1000 + start;
    if (start < e / 1000) continue;
    o.connect(ctx.destination);
    o.start(from);
    o.stop(from + length);
    o.from = from;
    beeps.push(o);
  }
}

// An answer's time is off by at most half of the way there and back.
async function answered(asked) {
  const since = time(), got = await asked;
  got.by = (time() - since) / 2;
  $('lost').hidden = [200, 409, 422].includes(got.status);
  return $('lost').hidden && got;
}

function take({ page, by }) {
  const now = page.getElementById('now');
  if (!now) return location.reload();
  replace(page);
  state = JSON.parse(now.dataset.state);
  sure = by;
  born = time() - by - state.elapsed;
  renew();
}

// A faulty act is refused alone, one that is stale with all after it.
async function send() {
  if (busy) return;
  busy = true;
  while (waiting[0]) {
    const act = { ...waiting[0], token: document.forms[0].token.value, ago: time() - waiting[0].when };
    const got = await answered(ask(place + '/event', act));
    if (!got) break;
    if (got.status === 200) waiting.shift();
    else if (!got.page.getElementById('now')) return location.reload(); // which tells
    else refuse(waiting.splice(0, got.status === 409 ? waiting.length : 1));
    take(got);
    if (waiting[0]) waiting[0].after = state.number;
    keep();
  }
  busy = false;
}

// The answer is the time, or what was done elsewhere.
async function look() {
  if (waiting[0]) return send();
  const got = await answered(ask(`${place}/state?number=${state.number}`));
  if (!got || busy) return;
  if (got.redirected) return take(got);
  const began = time() - got.by - JSON.parse(got.page.body.textContent).elapsed;
  if (got.by >= sure && Math.abs(began - born) <= 50 + got.by) return;
  [born, sure] = [began, got.by];
  renew();
}

addEventListener('submit', ev => {
  const { target: form, submitter } = ev, what = submitter.value, field = form.querySelector('.short');
  if (!form.dataset.waits) return;
  ev.preventDefault();
  draw();
  if (what === 'next' && e < 1000) return; // hit twice
  set('refused', '');
  if (what === 'undo' && !$('lost').hidden && waiting[0]) waiting.pop();
  else {
    const name = submitter.textContent + (field ? ' ' + field.value : '');
    waiting.push({ ...Object.fromEntries(new FormData(form)), do: what, after: state.number, when: time(), name });
    if (field) field.value = '';
  }
  keep();
  renew();
  send();
});

const stayOn = async () => { $('awake').hidden = !!await navigator.wakeLock?.request('screen').catch(() => {}); };

function wake() {
  blank = false;
  $('night').hidden = true;
  document.exitFullscreen?.().catch(() => {});
}

ctx.onstatechange = renew;
$('sound').onclick = () => {
  on = !heard();
  ctx.resume();
  renew();
};
$('dark').onclick = () => { $('dark').ariaExpanded = !$('glows').toggleAttribute('hidden'); };
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
addEventListener('visibilitychange', () => document.hidden || stayOn());
$('sound').hidden = $('dark').hidden = false;
take({ page: document, by: 0 });
look();
stayOn();
new EventSource(place + '/events').onmessage = look;
setInterval(look, 2000);
setInterval(draw, 200);
