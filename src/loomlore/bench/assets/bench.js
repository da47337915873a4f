// The bench's one script. It sends what is done to the server and changes classes and words; it never draws.
export const body = document.body, standard = body.dataset.standard || "", kind = body.dataset.kind;
export const $ = (where, of = document) => of.querySelector(where);
export const $$ = (where, of = document) => [...of.querySelectorAll(where)];

// A name that nobody else has; other machines are served without encryption, where there is no randomUUID.
const freshName = () => Array.from(crypto.getRandomValues(new Uint32Array(4)), (part) => part.toString(36)).join("-");
export const sitting = (() => {
  try {
    let name = sessionStorage.getItem("sitting");
    if (!name) sessionStorage.setItem("sitting", name = freshName());
    return name;
  } catch { return "one"; }
})();

export async function ask(path, asked) {
  let answer;
  try {
    answer = await fetch(path, { method: "POST", headers: { "Content-Type": "application/json" }, body: JSON.stringify(asked) });
  } catch { throw new Error("The bench does not answer. Is `loomlore open` still running? What you typed is kept here."); }
  const text = await answer.text();
  let data;
  try { data = JSON.parse(text); } catch { throw new Error(text.trim() || `The bench answers ${answer.status}.`); }
  if (data.refused) throw new Error(data.refused);
  return data;
}

export function make(name, attributes = {}, ...inside) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key === "class") element.className = value;
    else if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (value !== false && value != null) element.setAttribute(key, value);
  }
  element.append(...inside.filter((part) => part != null && part !== ""));
  return element;
}

export const note = (words) => { const place = $("#note"); if (place && place.textContent !== words) place.textContent = words; };
export const pause = (ms) => new Promise((done) => setTimeout(done, ms));

// The page as the server now writes it. A document that is fetched runs nothing and is never made from words.
export function pageNow() {
  return new Promise((done, fail) => {
    const request = new XMLHttpRequest();
    request.open("GET", location.pathname + location.search);
    request.responseType = "document";
    request.onload = () => request.status === 200 && request.response ? done(request.response) : fail(new Error($("p", request.response)?.textContent || "The page cannot be shown as it is now."));
    request.onerror = () => fail(new Error("The bench does not answer. Is `loomlore open` still running?"));
    request.send();
  });
}

// --- every page

$("#standard")?.addEventListener("change", (event) => {
  const address = new URL(location);
  address.searchParams.set("standard", event.target.value);
  location.assign(address);
});

$("#another")?.addEventListener("click", async () => {
  const { token } = await ask("/another", {});
  $("#another-said").textContent = `${location.origin}/?token=${token} (works once)`;
});

// A change made outside appears by itself; while something is being typed it waits and says so.
let version = Number(body.dataset.version), typing = () => false, renew = null;
export const reading = { get version() { return version; }, set version(now) { version = now; } };
export const watching = (isTyping, renewed) => { typing = isTyping; renew = renewed; };
async function watch() {
  for (;;) {
    await pause(document.hidden ? 5000 : 1500);
    let now;
    try { now = await ask("/version", {}); } catch (error) { note(error.message); continue; }
    if (now.version === version) { if ($("#note")?.textContent.startsWith("The bench does not answer")) note(""); continue; }
    if (typing()) { note("The text has been changed outside. Finish this cell; the page then shows the change."); continue; }
    if (renew) { await renew(now.version); continue; }
    try { sessionStorage.setItem("scroll", `${location.pathname} ${scrollX} ${scrollY}`); } catch { /* not kept */ }
    location.reload();
    return;
  }
}
if (body.dataset.version) watch();
try {
  const [path, x, y] = (sessionStorage.getItem("scroll") || "").split(" ");
  if (path === location.pathname) scrollTo(+x, +y);
  sessionStorage.removeItem("scroll");
} catch { /* nothing kept */ }

// --- a service's page

function service() {
  const name = $(".stage").dataset.service, asked = { sitting, standard, service: name };
  const page = freshName(), levers = {}, amounts = {}, controls = $$("[data-lever]"), outputs = $$("[data-amount]");
  const pushes = $$("[data-push]").map((push) => ({ push, hold: $(`[data-hold="${CSS.escape(push.dataset.push)}"]`) }));
  let has = 0; // the number of the answer taken in last: what has changed since is all that comes with the next
  const groups = { cable: new Map(), contact: new Map(), part: new Map() };
  for (const role of Object.keys(groups)) {
    for (const group of $$(`.drawings [data-${role}]`)) {
      const base = group.getAttribute("class").split(" ").filter((c) => !c.startsWith("state-")).join(" ");
      const key = group.getAttribute(`data-${role}`), found = groups[role].get(key) || [];
      found.push({ group, base, last: null, rest: group.getAttribute("class") });
      groups[role].set(key, found);
    }
  }
  let inHand = "", waiting = null, busy = false, ohms = null;
  const taken_back = [];

  // An ohmmeter is no part of the circuit: it is read again after each move, with the battery taken to be off.
  async function readOhms() {
    if (!ohms) return;
    let words;
    try {
      const data = await ask("/ohms", { ...asked, ...ohms });
      words = [`ohmmeter: ${data.said}`, ...data.notes].join("; ");
    } catch (error) { words = error.message; }
    if (!ohms) return;
    $("#meter-said").textContent = words;
    $("#meter-off").disabled = false;
    body.dataset.measured = String(Number(body.dataset.measured || 0) + 1);
  }

  function restyle(classes) {
    for (const role of Object.keys(groups)) {
      for (const [key, more] of Object.entries(classes[role] || {})) {
        for (const one of groups[role].get(key) || []) {
          if (one.last === more) continue;
          one.last = more;
          const picked = one.group.classList.contains("is-picked") ? " is-picked" : "";
          one.group.setAttribute("class", (more ? `${one.base} ${more}` : one.rest) + picked);
        }
      }
    }
  }

  function line(one) {
    return make("p", { class: one.quiet ? "soft" : "" }, `${one.name} `, one.quiet ? one.said : make("b", {}, one.said),
      one.figures && !one.quiet ? make("span", { class: "figures" }, `  ${one.figures}`) : null);
  }

  function tell(seen) {
    $("#seen").replaceChildren(
      ...seen.happened.map((words) => make("p", { class: "happened" }, words)),
      ...seen.loads.filter((one) => !one.quiet).map(line),
      ...seen.fuses.map((one) => one.whole ? make("p", {}, make("b", {}, one.said), ` through ${one.name.charAt(0).toLowerCase()}${one.name.slice(1)}`)
        : make("p", { class: "happened" }, `Fuse of ${one.name.charAt(0).toLowerCase()}${one.name.slice(1)}: `, make("b", {}, one.said))),
      ...seen.sources.map(line),
      ...seen.loads.filter((one) => one.quiet).map(line),
    );
    $("#steps").replaceChildren(...seen.steps.map((step, n) => {
      const item = make("li", { class: step.what_if ? "what-if" : "" }, step.done);
      if (step.verdict) item.append(make("span", { class: `mark tone-${step.verdict === "so" ? "good" : "bad"}` }, ` ${step.verdict}`));
      item.value = seen.count + 2 - seen.steps.length + n;
      return item;
    }));
    $("#undo").disabled = !seen.count;
    for (const back of taken_back) back(seen.count);
    $("#fault-said").replaceChildren(...(seen.fault
      ? [make("p", {}, make("b", {}, "What if: "), seen.fault), make("button", { type: "button", onclick: () => work({ do: "mend" }) }, "Put it right")] : []));
    if (!ohms) {
      $("#meter-off").disabled = !seen.meter;
      $("#meter-said").textContent = seen.meter ? `${seen.meter.with}: ${seen.meter.said}, from ${seen.meter.from} to ${seen.meter.to}` : "";
    }
    Object.assign(levers, seen.levers);
    Object.assign(amounts, seen.amounts);
    for (const input of controls) {
      const value = levers[input.dataset.lever];
      if (input.type === "radio") { if (input.checked !== (input.value === value)) input.checked = input.value === value; }
      else if (input !== document.activeElement || input.type !== "range") input.value = value;
    }
    for (const output of outputs) if (output.textContent !== amounts[output.dataset.amount]) output.textContent = amounts[output.dataset.amount];
    for (const { push, hold } of pushes) {
      push.setAttribute("aria-pressed", String(levers[push.dataset.push] === push.dataset.to));
      if (levers[push.dataset.push] === push.dataset.back) hold.checked = false;
    }
  }

  // Sliders send many moves: the latest waits while one is under way, and none is sent twice.
  async function work(action) {
    if (busy && action?.do === "move" && waiting?.do === "move" && waiting.lever === action.lever) { waiting = action; return null; }
    while (busy) { if (action?.do === "move") waiting = action; await pause(2); if (action?.do === "move" && waiting !== action && waiting?.lever === action.lever) return null; }
    busy = true; waiting = null;
    let data = null;
    try {
      data = await ask("/operate", { ...asked, action, page, has });
      has = data.number;
      restyle(data.classes);
      tell(data.seen);
      note("");
    } catch (error) { note(error.message); }
    busy = false;
    if (data) body.dataset.worked = String(Number(body.dataset.worked || 0) + 1);
    if (data && inHand) showCard();
    if (data) readOhms();
    return data;
  }

  async function showCard() {
    for (const group of $$(".is-picked")) group.classList.remove("is-picked");
    $("#hand").value = inHand;
    if (!inHand) { $("#card").replaceChildren(); return; }
    for (const group of $$(`[data-item="${CSS.escape(inHand)}"],[data-cable="${CSS.escape(inHand)}"]`)) group.classList.add("is-picked");
    let card;
    try { card = await ask("/card", { ...asked, name: inHand }); } catch (error) { note(error.message); return; }
    const open = $("#card details")?.open && $("#card").dataset.name === inHand;
    $("#card").dataset.name = inHand;
    $("#card").replaceChildren(
      make("h3", {}, card.title), ...card.lines.map((words) => make("p", {}, words)),
      ...card.now.map((words) => make("p", { class: "now" }, words)),
      card.hazard ? make("p", { class: "hazard" }, card.hazard) : "",
      make("p", { class: "standing" }, card.standing),
      card.fuse ? make("p", {}, make("button", { type: "button", onclick: () => work({ do: "set", name: card.fuse.name, to: card.fuse.to }) }, card.fuse.order)) : "",
      make("p", {}, make("a", { href: card.page }, "its page")),
      card.faults.length ? make("details", open ? { open: "" } : {}, make("summary", {}, "What if this broke?"),
        make("ul", {}, ...card.faults.map((fault) => make("li", {}, make("button", { type: "button", onclick: () => work({ do: "fault", id: fault.id }) }, fault.words))))) : "",
    );
    const [first, second] = card.terminals;
    if (!ohms && first && $(`#meter [name=from] option[value="${CSS.escape(first)}"]`)) $("#meter [name=from]").value = first;
    if (!ohms) $("#meter [name=to]").value = second && $(`#meter [name=to] option[value="${CSS.escape(second)}"]`) ? second : "earth";
  }

  // controls, from the list along the foot
  document.addEventListener("input", (event) => {
    const input = event.target;
    if (!input.dataset?.lever) return;
    work({ do: "move", lever: input.dataset.lever, to: input.type === "range" ? Number(input.value) : input.value });
  });
  for (const push of $$("[data-push]")) {
    const lever = push.dataset.push, hold = $(`[data-hold="${CSS.escape(lever)}"]`);
    const move = (to) => work({ do: "move", lever, to });
    let down = false;
    const press = () => { if (!down) { down = true; move(push.dataset.to); } };
    const release = () => { if (down) { down = false; if (!hold.checked) move(push.dataset.back); } };
    push.addEventListener("pointerdown", (event) => { push.setPointerCapture(event.pointerId); press(); });
    push.addEventListener("pointerup", release);
    push.addEventListener("pointercancel", release);
    push.addEventListener("blur", release);
    push.addEventListener("keydown", (event) => { if (event.key === " " || event.key === "Enter") { event.preventDefault(); press(); } });
    push.addEventListener("keyup", (event) => { if (event.key === " " || event.key === "Enter") release(); });
    hold.addEventListener("change", () => move(hold.checked ? push.dataset.to : push.dataset.back));
  }

  // the plate itself: a control on it goes to its next position, anything is taken in hand
  $("#drawings")?.addEventListener("click", (event) => {
    const group = event.target.closest("[data-item],[data-cable]");
    if (!group) { inHand = ""; showCard(); return; }
    inHand = group.getAttribute("data-item") || group.getAttribute("data-cable").replace(/~.*/, "");
    const inputs = $$("[data-lever]").filter((input) => input.dataset.lever.startsWith(`${inHand}.`));
    const levers = new Set(inputs.map((input) => input.dataset.lever));
    if (group.hasAttribute("data-item") && levers.size === 1 && inputs[0].type !== "range") {
      const all = inputs[0].type === "radio" ? inputs.map((input) => input.value) : [...inputs[0].options].map((o) => o.value);
      const at = inputs[0].type === "radio" ? inputs.findIndex((input) => input.checked) : inputs[0].selectedIndex;
      work({ do: "move", lever: inputs[0].dataset.lever, to: all[(at + 1) % all.length] });
    } else if (group.hasAttribute("data-item") && !levers.size) {
      const push = $$("[data-push]").find((one) => one.dataset.push.startsWith(`${inHand}.`));
      if (push) work({ do: "move", lever: push.dataset.push, to: push.getAttribute("aria-pressed") === "true" ? push.dataset.back : push.dataset.to });
      else showCard();
    } else showCard();
  });

  for (const drawn of $$("#drawings svg")) {
    drawn.style.setProperty("--plate-wide", drawn.viewBox.baseVal.width);
    drawn.style.setProperty("--plate-high", drawn.viewBox.baseVal.height);
  }
  const frame = $("#drawings"), goesOn = $("#sideways");
  const sideways = () => { if (frame) goesOn.hidden = frame.scrollWidth <= frame.clientWidth + 4; };
  $("#closer").addEventListener("click", (event) => {
    event.target.setAttribute("aria-pressed", String(frame?.classList.toggle("closer") ?? false));
    sideways();
  });
  addEventListener("resize", sideways);
  sideways();
  $("#hand").addEventListener("change", (event) => { inHand = event.target.value; showCard(); });
  $("#undo").addEventListener("click", () => work({ do: "undo" }));
  $("#rest").addEventListener("click", () => work({ do: "rest" }));
  $("#wait").addEventListener("click", () => work({ do: "wait", seconds: Number($("#seconds").value) }));
  $("#meter").addEventListener("submit", (event) => {
    event.preventDefault();
    const form = new FormData(event.target);
    const ends = { from: form.get("from"), to: form.get("to") };
    if (form.get("with").startsWith("ohmmeter")) { ohms = ends; readOhms(); return; }
    ohms = null;
    work({ do: "measure", ...ends, with: form.get("with") });
  });
  $("#meter-off").addEventListener("click", () => {
    if (ohms) { ohms = null; work(null); } else work({ do: "unmeasure" });
  });

  // A procedure knows at how many steps it did what, so that undoing a step takes it back too.
  for (const procedure of $$(".procedure")) {
    const id = procedure.dataset.procedure, steps = $$("li", procedure), next = $(".next", procedure);
    let played = [];
    const show = () => {
      const now = played.at(-1);
      steps.forEach((step, n) => {
        step.classList.toggle("is-now", !!now && n === now.at - 1);
        if (!now || n >= now.at) $(".mark", step)?.remove();
      });
      next.disabled = !now || now.at >= steps.length;
    };
    taken_back.push((count) => {
      if (!played.length || played.at(-1).count <= count) return;
      played = played.filter((one) => one.count <= count);
      show();
    });
    $(".begin", procedure).addEventListener("click", async () => {
      const data = await work({ do: "begin", procedure: id });
      if (!data) return;
      played = [{ count: data.seen.count, at: 0 }];
      show();
    });
    next.addEventListener("click", async () => {
      const { at } = played.at(-1), data = await work({ do: "step", procedure: id, number: at });
      if (!data) return;
      played.push({ count: data.seen.count, at: at + 1 });
      show();
      const verdict = data.seen.steps.at(-1).verdict;
      if (verdict) steps[at].append(make("span", { class: `mark tone-${verdict === "so" ? "good" : verdict === "not so" ? "bad" : "doubt"}` }, verdict));
    });
  }

  const query = new URLSearchParams(location.search), wanted = query.get("play"), struck = query.get("strike");
  work(wanted ? { do: "moves", statement: wanted } : struck ? { do: "fault", id: struck } : null);
  if (wanted || struck) history.replaceState(null, "", location.pathname + (standard ? `?standard=${encodeURIComponent(standard)}` : ""));
  if ($("#being-drawn")) awaitPlate(asked);
  functions(asked);
  verdicts(asked, (id) => work({ do: "moves", statement: id })); // those of before are seen at once, as stale
}

// A plate that is still being drawn: the page says for how long, and is loaded again with it.
async function awaitPlate(asked) {
  const place = $("#being-drawn"), began = Date.now();
  for (;;) {
    let data;
    try { data = await ask("/drawn", asked); } catch (error) { place.textContent = error.message; return; }
    if (data.drawn) {
      try { sessionStorage.setItem("scroll", `${location.pathname} ${scrollX} ${scrollY}`); } catch { /* not kept */ }
      location.reload();
      return;
    }
    place.textContent = `The plate is being drawn: ${Math.round((Date.now() - began) / 1000)} s so far …`;
    await pause(100);
  }
}

async function functions(asked) {
  const place = $("#functions");
  for (;;) {
    let data;
    try { data = await ask("/functions", asked); } catch (error) { place.textContent = error.message; return; }
    if (data.failed) { place.textContent = data.failed; return; }
    if (data.finished) { place.replaceChildren(...tables(data.result)); return; }
    await pause(300);
  }
}

function tables(found) {
  const made = found.supplies.length > 1 ? [make("p", { class: "soft" }, `Supply: ${found.supplies.map((s) => `${s.name} (${s.reached_by})`).join("; ")}.`)] : [];
  for (const words of found.warnings) made.push(make("p", { class: "tone-bad" }, words));
  if (!found.tables.length) made.push(make("p", { class: "soft" }, "Nothing of it is seen or heard in this standard of fit."));
  if (found.tables.some((one) => one.wants_live_supply)) made.push(make("p", { class: "soft" }, "With the supply live:"));
  for (const one of found.tables) {
    if (!one.rows.length) { made.push(...one.things.map((thing, n) => make("p", {}, `${thing}: ${one.otherwise[n]}, whatever is done.`))); continue; }
    const cells = (row) => [...row.done.map((w) => make("td", {}, w)), ...row.seen.map((w) => make("td", { class: "strong" }, w))];
    const last = make("tr", {}, make("td", { colspan: one.columns.length, class: "soft" }, "otherwise"), ...one.otherwise.map((w) => make("td", {}, w)));
    made.push(make("div", { class: "wide", tabindex: "0", role: "region", "aria-label": `What you do, what you see: ${one.things.join(", ")}` }, make("table", {},
      make("thead", {}, make("tr", {}, ...[...one.columns, ...one.things].map((w) => make("th", { scope: "col" }, w)))),
      make("tbody", {}, ...one.rows.map((row) => make("tr", {}, ...cells(row))), last))));
    for (const words of one.sayings) made.push(make("p", {}, words));
  }
  return made;
}

async function verdicts(asked, play) {
  const said = $("#proofs-said"), stop = $("#stop");
  if (!said) return;
  let stopped = false;
  if (stop) stop.addEventListener("click", async () => { stopped = true; stop.hidden = true; await ask("/stop", asked); said.textContent = "Stopped. Load the page again to go on."; });
  const shown = new Map();
  while (!stopped) {
    let data;
    try { data = await ask("/verdicts", asked); } catch (error) { said.textContent = error.message; return; }
    for (const [id, verdict] of Object.entries(data.verdicts)) {
      if (shown.get(id) === Boolean(verdict.stale)) continue;
      shown.set(id, Boolean(verdict.stale));
      const place = $(`[data-statement="${CSS.escape(id)}"]`);
      if (!place) continue;
      const mark = $(".mark", place);
      mark.textContent = verdict.mark;
      mark.className = `mark tone-${verdict.tone}${verdict.stale ? " is-stale" : ""}`;
      const notes = verdict.notes.map((words) => make("p", {}, words));
      if (verdict.stale) notes.unshift(make("p", { class: "stale" }, "as proved before the record was changed; being proved again"));
      if (verdict.moves.length) {
        const words = verdict.moves.length === 1 ? "Play this move" : `Play these ${verdict.moves.length} moves`;
        const where = place.dataset.plate;
        notes.push(play ? make("button", { type: "button", onclick: () => play(id) }, words)
          : where ? make("a", { href: `/service/${where}?play=${encodeURIComponent(id)}${standard ? `&standard=${encodeURIComponent(standard)}` : ""}` }, `${words} on the plate`) : "");
      }
      $(".notes", place).replaceChildren(...notes.filter(Boolean));
    }
    if (data.failed) { said.textContent = data.failed; return; }
    if (data.finished) { said.textContent = ""; if (stop) stop.hidden = true; return; }
    said.textContent = data.of ? `Proving: ${data.done} of ${data.of} …` : "Waiting to be proved …";
    if (stop) stop.hidden = false;
    await pause(400);
  }
}

// --- what is worked out when it is opened: blocks of an answer

export function set(block, number = 0) {
  if (block.kind === "heading") return make(kind === "sheet" ? "h2" : block.level > 2 ? "h4" : "h3", {}, block.text);
  if (block.kind === "paragraph") return make("p", { class: block.quiet ? "soft" : "" }, block.text);
  if (block.kind === "fold") return make("details", { class: "fold" }, make("summary", {}, block.text), make("ul", {}, ...block.lines.map((words) => make("li", {}, words))));
  if (block.kind === "entry") {
    return make("div", { class: "entry" }, make("p", {}, block.mark ? make("span", { class: `mark tone-${block.tone}` }, block.mark) : "", block.text),
      make("div", { class: "notes" }, ...block.notes.map((words) => make("p", {}, words))));
  }
  const cell = (name) => (words, n) => make(name, { class: block.right.includes(n) ? "right" : "", scope: name === "th" ? "col" : null }, words);
  return make("div", { class: "wide", tabindex: "0", role: "region", "aria-label": `Table ${number + 1}: ${block.columns.filter(Boolean).join(", ")}` }, make("table", {},
    make("thead", {}, make("tr", {}, ...block.columns.map((words, n) => words ? cell("th")(words, n) : make("td", {})))),
    make("tbody", {}, ...block.rows.map((row) => make("tr", {}, ...row.map(cell("td")))))));
}

async function work_out(place) {
  if (place.dataset.begun) return;
  place.dataset.begun = "yes";
  const { what, service: of, item, card, about, fit } = place.dataset, asked = { what, service: of, item, card, about, fit, standard };
  let given = false;
  const begun = performance.now(), said = make("span", { class: "soft", role: "status" });
  const stop = make("button", { type: "button", onclick: async () => {
    given = true;
    delete place.dataset.begun;
    place.replaceChildren(make("p", {}, "Given up. ", make("button", { type: "button", onclick: () => work_out(place) }, "Work it out")));
    try { await ask("/worked", { ...asked, cancel: true }); } catch (error) { note(error.message); }
  } }, "Stop");
  place.replaceChildren(make("p", {}, said, " ", stop));
  while (!given) {
    let data;
    try { data = await ask("/worked", asked); } catch (error) { delete place.dataset.begun; place.replaceChildren(make("p", { class: "wrong" }, error.message)); return; }
    if (given) return;
    if (data.failed) { place.replaceChildren(make("p", { class: "wrong" }, data.failed)); return; }
    if (data.finished) { place.replaceChildren(...data.blocks.map((block, n) => set(block, n))); place.dataset.worked = "yes"; return; }
    said.textContent = `Being worked out … ${data.of > 1 ? `${data.done} of ${data.of}, ` : ""}${Math.round((performance.now() - begun) / 1000)} s`;
    await pause(300);
  }
}
// What was open is opened again when the page is loaded anew: the record may have changed under it.
const opened = `open ${location.pathname}`;
const shelf = { get() { try { return (sessionStorage.getItem(opened) || "").split("|"); } catch { return []; } },
  put(names) { try { sessionStorage.setItem(opened, names.join("|")); } catch { /* not kept */ } } };
for (const details of $$("details.changing")) details.addEventListener("toggle", () => { if (details.open) for (const place of $$(".worked", details)) work_out(place); });
for (const details of $$("details.working")) {
  const name = $("summary", details).textContent;
  details.addEventListener("toggle", () => {
    shelf.put($$("details.working[open] > summary").map((one) => one.textContent));
    if (details.open) for (const place of $$(".worked", details)) work_out(place);
  });
  if (shelf.get().includes(name)) details.open = true;
}
for (const place of $$(".worked[data-now]")) work_out(place);
$("#print")?.addEventListener("click", () => print());
// Paper does not fold open: what is folded on the page is printed whole.
const unfolded = [];
addEventListener("beforeprint", () => {
  for (const fold of $$("details.fold:not([open]),.suspects details:not([open])")) { fold.open = true; unfolded.push(fold); }
});
addEventListener("afterprint", () => { for (const fold of unfolded.splice(0)) fold.open = false; });

// --- plans: closer, and what was found marked; they may come after the page

function plans() {
  for (const button of $$(".plans .closer")) {
    const plan = $(".drawings", button.parentElement);
    button.addEventListener("click", () => button.setAttribute("aria-pressed", String(plan.classList.toggle("closer"))));
  }
  for (const plan of $$("[data-marked]")) {
    const wanted = new Set(plan.dataset.marked.split(" "));
    for (const words of $$("text", plan)) if (words.textContent.split(", ").some((one) => wanted.has(one))) words.classList.add("is-found");
  }
  for (const plan of $$("[data-named]")) {
    const names = plan.dataset.named.split("|");
    for (const words of $$("text", plan)) if (names.some((name) => words.textContent.toLowerCase().includes(name))) words.classList.add("is-found");
  }
}

async function awaitPlans() {
  const began = performance.now();
  while ($("#plans-awaited")) {
    $("#plans-awaited").textContent = `The plans are being drawn: ${Math.round((performance.now() - began) / 1000)} s so far …`;
    try {
      const page = await pageNow();
      if (!$("#plans-awaited", page)) {
        $(".plans").replaceWith(...$$(".plans", page).map((one) => document.importNode(one, true)));
        plans();
      }
    } catch (error) { $("#plans-awaited").textContent = error.message; return; }
  }
}
plans();
awaitPlans();

// --- decisions, written beside what is disputed

for (const form of $$("form.decision")) {
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const said = $("[role=status]", form), cells = Object.fromEntries(new FormData(form));
    const { about, fit, subject, weighed } = form.dataset;
    try {
      if (subject) {
        for (const [key, text] of Object.entries(cells)) {
          const field = form.elements[key], old = field.options ? [...field.options].find((one) => one.defaultSelected)?.value ?? "" : field.defaultValue;
          if (text === old) continue;
          version = (await ask("/edit", { do: "set", subject, key, text, version })).version;
        }
      } else {
        const others = weighed.split("\n").filter((one) => one && one !== cells.adopts).join(", ");
        version = (await ask("/edit", { do: "add", table: "decision", cells: { about, ...cells, weighed: others, ...(fit ? { fit } : {}) } })).version;
      }
      location.hash = form.closest(".dispute").id;
      location.reload();
    } catch (error) { said.textContent = error.message; }
  });
}

if (kind === "service") service();
if (kind === "record") import("/assets/ledger.js").then(({ record }) => record());
if (kind === "hunting") import("/assets/hunting.js").then(({ hunting }) => hunting());
if (kind === "sources") verdicts({ sitting, standard, service: "" }, null);
