// Keeps the regions marked [data-live] true, and says in words when they may not be.
// The desk listens to the stream named on <body data-stream>: event "look" = look again, any event (also "heard") = the board lives.
// Other rooms ask every data-poll seconds. The stream carries no facts: the page is fetched again with its own permissions.
const LATE = 45_000;
const body = document.body;
const clock = new Intl.DateTimeFormat("en-GB", {hour: "2-digit", minute: "2-digit", timeZone: body.dataset.zone || undefined});
let heard = Date.now();
let fetching = false;
let again = false;
let place = null;
let unfolded = [];

// What is going to say something else at a known moment is looked at again then: data-again has the seconds.
let due = 0;

function later() {
  clearTimeout(due);
  const waits = [...document.querySelectorAll("[data-again]")].map((one) => Number(one.dataset.again));
  if (waits.length) due = setTimeout(look, 1000 * Math.min(...waits));
}

function lives() {
  heard = Date.now();
  say();
}

function say() {
  const line = document.getElementById("stale");
  if (!line) return;
  const late = Date.now() - heard > LATE;
  if (late && line.hidden) line.firstElementChild.textContent = `This page has not heard from the board since ${clock.format(heard)}.`;
  line.hidden = !late;
}

function typing(region) {
  return region.querySelector("form[data-typed]") || (region.contains(document.activeElement) && document.activeElement.matches("input, select, textarea"));
}

async function look() {
  document.dispatchEvent(new Event("board:look"));  // what is drawn by a script of its own renews itself
  if (fetching) { again = true; return; }
  const regions = [...document.querySelectorAll("[data-live][id]")].filter((region) => !typing(region));
  if (!regions.length) return;
  fetching = true;
  try {
    await window.htmx.ajax("GET", location.href, {swap: "none", selectOOB: regions.map((region) => `#${region.id}`).join(",")});
  } catch {
    // Not reached: say() tells how old the page is.
  } finally {
    fetching = false;
    if (again) { again = false; look(); }
  }
}

// A link that is replaced under a finger, or while what it asked for is on its way, loses the press: such a region waits its turn.
let pressed = false;
let missed = false;

function freed() {
  if (missed && !pressed) { missed = false; setTimeout(look); }
}

document.addEventListener("pointerdown", () => { pressed = true; });
for (const end of ["pointerup", "pointercancel", "dragend"]) document.addEventListener(end, () => { pressed = false; freed(); });
document.addEventListener("htmx:afterRequest", ({detail}) => { if (detail.elt.matches("a")) freed(); });

// A replaced link takes the keyboard's place with it: give it back.
document.addEventListener("htmx:oobBeforeSwap", (event) => {
  const {target} = event;
  if (pressed || target.querySelector("a.htmx-request")) { missed = true; event.preventDefault(); return; }
  unfolded = [...target.querySelectorAll("details[id][open]")].map((one) => one.id);
  const held = document.activeElement;
  const href = held.getAttribute("href");  // the property of a link in a drawing is no text
  place = target.contains(held) && href ? {region: target.id, href} : null;
});
document.addEventListener("htmx:oobAfterSwap", () => {
  // What somebody has unfolded stays so, and what the address points at stays marked (no class: htmx puts those back).
  for (const id of unfolded) { const one = document.getElementById(id); if (one) one.open = true; }
  if (location.hash) document.getElementById(decodeURIComponent(location.hash.slice(1)))?.setAttribute("data-found", "");
  later();
  if (!place || document.activeElement !== body) return;
  const links = document.getElementById(place.region)?.querySelectorAll("a") || [];
  [...links].find((link) => link.getAttribute("href") === place.href)?.focus({preventScroll: true});
});

function listen() {
  const stream = new EventSource(body.dataset.stream);
  stream.addEventListener("open", () => { lives(); look(); });
  stream.addEventListener("look", () => { lives(); look(); });
  stream.addEventListener("heard", lives);
  stream.addEventListener("error", () => { if (stream.readyState === EventSource.CLOSED) setTimeout(listen, 10_000); });
}

// A sign-in page that answers in place of what was asked is a page of its own, never a piece of this one.
document.addEventListener("htmx:beforeSwap", (event) => {
  const {xhr, pathInfo} = event.detail;
  if (xhr.responseURL && body.dataset.signIn && new URL(xhr.responseURL).pathname === body.dataset.signIn) {
    event.preventDefault();
    location.assign(`${body.dataset.signIn}?next=${encodeURIComponent(location.pathname + location.search)}`);
  } else if (xhr.status === 200 && pathInfo.requestPath === location.href) lives();
});

// A page on which nothing renews itself keeps its hour: a fresh one over old facts would lie.
if (document.querySelector("[data-live]:not(#as-of)")) {
  if (body.dataset.stream) listen();
  else setInterval(() => { if (document.visibilityState === "visible") look(); }, 1000 * Number(body.dataset.poll || 20));
  document.addEventListener("visibilitychange", () => { if (document.visibilityState === "visible") { say(); look(); } });
  setInterval(say, 5_000);
  later();
}
