// What the other scripts share.
const $ = id => document.getElementById(id);
const set = (id, text) => { if ($(id).textContent !== text) $(id).textContent = text; };

// Acts wait for an answer, also if the page is loaded anew.
const { place } = document.body.dataset;
let waiting = JSON.parse(sessionStorage[place] ?? '[]');
const keep = (acts = waiting) => sessionStorage[place] = JSON.stringify(waiting = acts);
const refuse = acts => set('refused', acts.length ? `Not done: ${acts.map(a => a.name).join(', ')}.` : '');

// Returns an answer with its page, or neither.
async function ask(address, values, signal) {
  try {
    const body = values && new URLSearchParams(values);
    const answer = await fetch(address, { method: body ? 'POST' : 'GET', body, signal });
    answer.page = new DOMParser().parseFromString(await answer.text(), 'text/html');
    return answer;
  } catch {
    return {};
  }
}

// Puts an answer into the page; what is being typed in stays.
function replace(page) {
  const made = page.querySelectorAll('[data-made]');
  document.querySelectorAll('[data-made]').forEach((part, i) => {
    if (!part.querySelector('input:focus') || !made[i].children.length) part.replaceChildren(...made[i].childNodes);
  });
  document.title = page.title;
}
