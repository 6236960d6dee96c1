"use strict";
// Shows what the server sends: every event is a whole <main>, whose parts replace those here where they differ.

const part = (id) => document.getElementById(id);
const link = part("link");

// The largest size at which the words of the call fit their box.
function fit() {
  const call = part("call");
  let low = 16, high = 600;
  while (high - low > 1) {
    const size = (low + high) / 2;
    call.style.fontSize = `${size}px`;
    if (call.scrollHeight <= call.clientHeight && call.scrollWidth <= call.clientWidth)
      low = size;
    else
      high = size;
  }
  call.style.fontSize = `${low}px`;
}

function show(html) {
  const sent = document.createElement("template");
  sent.innerHTML = html;
  const board = sent.content.firstElementChild;
  part("board").dataset.state = board.dataset.state;
  for (const fresh of board.children) {
    const old = part(fresh.id);
    if (old.innerHTML !== fresh.innerHTML) old.replaceChildren(...fresh.childNodes);
  }
  fit();
}

function follow() {
  const source = new EventSource("/events");
  source.onmessage = (event) => {
    link.textContent = "";
    show(event.data);
  };
  source.onerror = () => {
    link.textContent = link.dataset.lost;
    // The browser tries again by itself, unless it was refused.
    if (source.readyState === EventSource.CLOSED) setTimeout(followAgain, 1000);
  };
}

async function followAgain() {
  try {
    if ((await fetch("/")).status === 401) location.reload();  // the token is another
    else follow();
  } catch {
    setTimeout(followAgain, 1000);
  }
}

async function steer(event) {
  event.preventDefault();
  const body = new URLSearchParams(new FormData(event.target));
  try {
    const answer = await fetch(event.submitter.formAction, {method: "POST", body, redirect: "manual"});
    link.textContent = answer.type === "opaqueredirect" ? "" : await answer.text();
  } catch {
    link.textContent = link.dataset.silent;
  }
}

if (part("board")) {
  new ResizeObserver(fit).observe(part("call"));
  part("steer")?.addEventListener("submit", steer);
  follow();
}
