// The clock of a session, by the server's events and this page's own time; its sounds, and
// the screen off. All but these works without this script.
const id = n => document.getElementById(n), now = id('now'), kept = sessionStorage;
id('start')?.addEventListener('submit', () => { kept.sound = 'on'; });
if (now) {
  const at = now.dataset.address, night = id('night'), mono = () => performance.now();
  const slept = () => Date.now() - mono(), parse = text => new DOMParser().parseFromString(text, 'text/html');
  let state, born, cur, e, wall = slept(), drawn; // born: when the step that runs began
  let queue = [], busy = false, lost = false; // acts that were not sent yet
  let ctx, beeps = [], on = kept.sound === 'on';
  let lock, held, asleep = false;

  const clock = ms => {
    const s = Math.round(Math.abs(ms) / 1000), two = n => String(n % 60).padStart(2, '0'), m = Math.floor(s / 60);
    return (m < 60 ? m : Math.floor(m / 60) + ':' + two(m)) + ':' + two(s);
  };
  const set = (n, text) => { if (id(n).textContent !== text) id(n).textContent = text; };
  const waits = () => queue.filter(a => a.act === 'next');

  // What an answer says is put into the page; what is being typed in stays.
  function take(page, trip) {
    const next = page.getElementById('now');
    if (!next) { location.reload(); return; }
    for (const n of ['told', 'bath', 'list', 'clearing']) {
      const had = id(n).querySelector('input:focus'), made = page.getElementById(n);
      if (!had || !made.children.length) id(n).replaceChildren(...made.childNodes);
    }
    id('measured').value = page.getElementById('measured').value;
    state = JSON.parse(next.dataset.state);
    born = mono() - state.elapsed - trip / 2;
    document.querySelectorAll('.after').forEach(i => { i.value = state.number; });
    drawn = '';
    draw();
  }

  function draw() {
    if (Math.abs(slept() - wall) > 1000) { wall = slept(); drawn = ''; look(); }
    const gone = waits(), last = state.steps.length - 1;
    cur = state.steps[Math.min(gone.length, last)];
    e = mono() - (gone.length ? gone.at(-1).when : born);
    const left = cur.lasts - e, known = cur.lasts > 0;
    set('step', cur.label);
    set('light', cur.light);
    set('means', cur.means);
    set('left', clock(known ? left : e));
    set('over', !known ? 'so far' : Math.round(left / 1000) < 0 ? 'over' : '');
    id('left').classList.toggle('long', id('left').textContent.length > 5);
    id('gone').setAttribute('width', known ? Math.min(1000, Math.round(1000 * e / cur.lasts)) : 0);
    const said = cur.says.findLast(s => s[0] <= e + 50) || cur.says[0];
    set('says', said[1].replace('{}', clock(said[2] - e)));
    set('minute', cur.lasts > 90000 && left <= 60000 && left > 50000 ? 'One minute left' : '');
    const key = state.number + ' ' + gone.length;
    if (key !== drawn) { drawn = key; sounds(); }
    id('left').toggleAttribute('data-cue', !heard() && cur.cues.some(c => c[0] <= e && e < c[0] + 2000));
    if (asleep && !cur.dark) wake();
  }

  // Asks the server; nothing is returned where it is not reached.
  async function get(url, options) {
    const since = mono();
    try {
      const answer = await fetch(url, options), text = await answer.text();
      lost = false;
      set('line', '');
      return { answer, text, trip: mono() - since };
    } catch {
      lost = true;
      set('line', 'sensito is not running. The clock runs on here' + (queue.length ? ', and what you did waits until it is back.' : '.'));
    }
  }

  // Acts are sent in order, each with how long ago it was done.
  async function send() {
    if (busy) return;
    busy = true;
    while (queue.length) {
      const a = queue[0];
      a.body.set('after', state.number);
      a.body.set('ago', Math.round(mono() - a.when));
      const got = await get(a.to, { method: 'POST', body: a.body });
      if (!got) break;
      const ok = got.answer.ok, page = parse(got.text);
      queue = ok ? queue.slice(1) : [];
      if (ok && a.field && a.field.value === a.typed) a.field.value = '';
      if (ok || page.getElementById('now')) take(page, got.trip);
      else set('line', 'Not done: ' + (page.querySelector('h1') || page.body).textContent);
    }
    busy = false;
  }

  // Whether something was done elsewhere, and the time.
  async function look() {
    if (queue.length) { send(); return; }
    if (busy) return;
    const got = await get(at + '/state');
    if (!got || !got.answer.ok || busy) return;
    const beat = JSON.parse(got.text), began = mono() - got.trip / 2 - beat.elapsed;
    if (beat.over || beat.number !== state.number) {
      const all = await get(at);
      if (all && !busy) take(parse(all.text), all.trip);
    } else if (Math.abs(began - born) > 250) { born = began; drawn = ''; }
  }

  document.addEventListener('submit', ev => {
    const form = ev.target, act = ev.submitter?.value || 'temperature', when = mono();
    if (!form.action.includes(at) || form.dataset.load) return;
    ev.preventDefault();
    if (act === 'next' && (e < 1000 || waits().length === state.steps.length)) return; // hit twice
    if (act === 'undo' && lost && queue.length) queue.pop();
    else {
      const body = new URLSearchParams(new FormData(form)), field = form.querySelector('input:not([type=hidden])');
      body.set('do', act);
      queue.push({ act, when, body, to: form.action, field, typed: field?.value });
    }
    draw();
    send();
  });

  // Sounds are set ahead on the audio clock, which a hidden page does not slow.
  const heard = () => on && ctx?.state === 'running';
  function sounds() {
    if (on && !ctx) { ctx = new AudioContext(); ctx.onstatechange = sounds; }
    beeps.forEach(b => b.stop());
    beeps = [];
    set('sound', heard() ? 'Sound on' : 'Sound off');
    id('sound').setAttribute('aria-pressed', heard());
    if (!heard()) return;
    for (const [ms, kind] of cur.cues) for (const [start, length, hz] of ms < e ? [] : state.tones[kind]) {
      const o = ctx.createOscillator(), t = ctx.currentTime + (ms - e) / 1000 + start;
      o.frequency.value = hz;
      o.connect(ctx.destination);
      o.start(t);
      o.stop(t + length);
      beeps.push(o);
    }
  }
  id('sound').onclick = () => {
    on = !heard();
    kept.sound = on ? 'on' : '';
    draw();
    sounds();
    if (on) ctx.resume();
  };

  // The screen off.
  function wake() {
    asleep = false;
    night.hidden = true;
    lock?.release();
    if (document.fullscreenElement) document.exitFullscreen();
  }
  const tell = show => { id('glows').hidden = !show; id('dark').setAttribute('aria-expanded', show); };
  id('dark').onclick = () => tell(id('glows').hidden);
  id('black').onclick = () => {
    tell(false);
    night.hidden = false;
    asleep = cur.dark;
    night.requestFullscreen?.().catch(() => {});
    navigator.wakeLock?.request('screen').then(l => { lock = l; }, () => {});
  };
  if (!navigator.wakeLock) set('awake', 'This device may go to sleep: switch that off in its settings.');
  for (const n of ['pointerdown', 'keydown', 'pointerup', 'pointercancel', 'keyup']) addEventListener(n, ev => {
    if (on && ctx?.state === 'suspended' && ev.target !== id('sound')) ctx.resume(); // which a page may not of itself
    if (night.hidden) return;
    ev.preventDefault();
    if (ev.repeat) return;
    clearTimeout(held);
    if (n.endsWith('down')) held = setTimeout(wake, 2000);
  }, true);

  id('sound').hidden = id('dark').hidden = false;
  state = JSON.parse(now.dataset.state);
  born = performance.getEntriesByType('navigation')[0].responseStart - state.elapsed;
  draw();
  setInterval(draw, 200);
  setInterval(look, 2000);
  for (const n of ['focus', 'pageshow', 'visibilitychange']) addEventListener(n, look);
}
