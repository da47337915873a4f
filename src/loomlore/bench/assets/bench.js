// The bench's one script. It sends what is done to the server and changes classes and words; it never draws.
const body = document.body, standard = body.dataset.standard || "", kind = body.dataset.kind;
const $ = (where, of = document) => of.querySelector(where);
const $$ = (where, of = document) => [...of.querySelectorAll(where)];

const sitting = (() => {
  try {
    let name = sessionStorage.getItem("sitting");
    if (!name) sessionStorage.setItem("sitting", name = crypto.randomUUID());
    return name;
  } catch { return "one"; }
})();

async function ask(path, asked) {
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

function make(name, attributes = {}, ...inside) {
  const element = document.createElement(name);
  for (const [key, value] of Object.entries(attributes)) {
    if (key === "class") element.className = value;
    else if (key.startsWith("on")) element.addEventListener(key.slice(2), value);
    else if (value !== false && value != null) element.setAttribute(key, value);
  }
  element.append(...inside.filter((part) => part != null && part !== ""));
  return element;
}

const note = (words) => { const place = $("#note"); if (place && place.textContent !== words) place.textContent = words; };
const pause = (ms) => new Promise((done) => setTimeout(done, ms));

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
let version = Number(body.dataset.version), typing = () => false;
async function watch() {
  for (;;) {
    await pause(document.hidden ? 5000 : 1500);
    let now;
    try { now = await ask("/version", {}); } catch (error) { note(error.message); continue; }
    if (now.version === version) { if ($("#note")?.textContent.startsWith("The bench does not answer")) note(""); continue; }
    if (typing()) { note("The text has been changed outside. Finish this cell; the page then shows the change."); continue; }
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
  const groups = { cable: new Map(), contact: new Map(), part: new Map() };
  for (const role of Object.keys(groups)) {
    for (const group of $$(`.drawings [data-${role}]`)) {
      const base = group.getAttribute("class").split(" ").filter((c) => !c.startsWith("state-")).join(" ");
      const key = group.getAttribute(`data-${role}`), found = groups[role].get(key) || [];
      found.push({ group, base, last: null, rest: group.getAttribute("class") });
      groups[role].set(key, found);
    }
  }
  let inHand = "", waiting = null, busy = false;

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
      ...seen.fuses.map((one) => make("p", {}, make("b", {}, one.said), ` through ${one.name.charAt(0).toLowerCase()}${one.name.slice(1)}`)),
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
    $("#fault-said").replaceChildren(...(seen.fault
      ? [make("p", {}, make("b", {}, "What if: "), seen.fault), make("button", { type: "button", onclick: () => work({ do: "mend" }) }, "Put it right")] : []));
    $("#meter-off").disabled = !seen.meter;
    $("#meter-said").textContent = seen.meter ? `${seen.meter.with}: ${seen.meter.said}` : "";
    for (const input of $$("[data-lever]")) {
      const value = seen.levers[input.dataset.lever];
      if (input.type === "radio") input.checked = input.value === value;
      else if (input !== document.activeElement || input.type !== "range") input.value = value;
    }
    for (const output of $$("[data-amount]")) output.textContent = seen.amounts[output.dataset.amount];
    for (const push of $$("[data-push]")) push.setAttribute("aria-pressed", String(seen.levers[push.dataset.push] === push.dataset.to));
    for (const hold of $$("[data-hold]")) {
      const push = $(`[data-push="${CSS.escape(hold.dataset.hold)}"]`);
      if (seen.levers[hold.dataset.hold] === push.dataset.back) hold.checked = false;
    }
  }

  // Sliders send many moves: the latest waits while one is under way, and none is sent twice.
  async function work(action) {
    if (busy && action?.do === "move" && waiting?.do === "move" && waiting.lever === action.lever) { waiting = action; return null; }
    while (busy) { if (action?.do === "move") waiting = action; await pause(2); if (action?.do === "move" && waiting !== action && waiting?.lever === action.lever) return null; }
    busy = true; waiting = null;
    let data = null;
    try {
      data = await ask("/operate", { ...asked, action });
      restyle(data.classes);
      tell(data.seen);
      note("");
    } catch (error) { note(error.message); }
    busy = false;
    if (data) body.dataset.worked = String(Number(body.dataset.worked || 0) + 1);
    if (data && inHand) showCard();
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
    if (first && $(`#meter [name=from] option[value="${CSS.escape(first)}"]`)) $("#meter [name=from]").value = first;
    $("#meter [name=to]").value = second && $(`#meter [name=to] option[value="${CSS.escape(second)}"]`) ? second : "earth";
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

  $("#closer").addEventListener("click", (event) => {
    event.target.setAttribute("aria-pressed", String($("#drawings")?.classList.toggle("closer") ?? false));
  });
  $("#hand").addEventListener("change", (event) => { inHand = event.target.value; showCard(); });
  $("#undo").addEventListener("click", () => work({ do: "undo" }));
  $("#rest").addEventListener("click", () => work({ do: "rest" }));
  $("#wait").addEventListener("click", () => work({ do: "wait", seconds: Number($("#seconds").value) }));
  $("#meter").addEventListener("submit", (event) => {
    event.preventDefault();
    const form = new FormData(event.target);
    work({ do: "measure", from: form.get("from"), to: form.get("to"), with: form.get("with") });
  });
  $("#meter-off").addEventListener("click", () => work({ do: "unmeasure" }));

  for (const procedure of $$(".procedure")) {
    const id = procedure.dataset.procedure, steps = $$("li", procedure), next = $(".next", procedure);
    let at = -1;
    $(".begin", procedure).addEventListener("click", async () => {
      for (const step of steps) { step.classList.remove("is-now"); $(".mark", step)?.remove(); }
      at = 0;
      if (await work({ do: "begin", procedure: id })) next.disabled = false;
    });
    next.addEventListener("click", async () => {
      const data = await work({ do: "step", procedure: id, number: at });
      if (!data) return;
      for (const step of steps) step.classList.remove("is-now");
      steps[at].classList.add("is-now");
      const verdict = data.seen.steps.at(-1).verdict;
      $(".mark", steps[at])?.remove();
      if (verdict) steps[at].append(make("span", { class: `mark tone-${verdict === "so" ? "good" : verdict === "not so" ? "bad" : "doubt"}` }, verdict));
      at += 1;
      next.disabled = at >= steps.length;
    });
  }

  const wanted = new URLSearchParams(location.search).get("play");
  work(wanted ? { do: "moves", statement: wanted } : null);
  if (wanted) history.replaceState(null, "", location.pathname + (standard ? `?standard=${encodeURIComponent(standard)}` : ""));
  functions(asked).then(() => verdicts(asked, (id) => work({ do: "moves", statement: id })));
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
    made.push(make("div", { class: "wide", tabindex: "0", role: "region", "aria-label": "What you do, what you see" }, make("table", {},
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
  const shown = new Set();
  while (!stopped) {
    let data;
    try { data = await ask("/verdicts", asked); } catch (error) { said.textContent = error.message; return; }
    for (const [id, verdict] of Object.entries(data.verdicts)) {
      if (shown.has(id)) continue;
      shown.add(id);
      const place = $(`[data-statement="${CSS.escape(id)}"]`);
      if (!place) continue;
      const mark = $(".mark", place);
      mark.textContent = verdict.mark;
      mark.className = `mark tone-${verdict.tone}`;
      const notes = verdict.notes.map((words) => make("p", {}, words));
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

// --- the record

function record() {
  const grid = $("#ledger"), said = $("#ledger-said");
  let editing = null, at = [0, 0];
  typing = () => editing !== null || $$("#add-form input, #paste-form textarea").some((field) => field === document.activeElement && field.value);
  const rows = () => $$("tbody tr", grid), cells = (row) => $$("td[data-key]", row);
  function go(row, column, focus = true) {
    const all = rows();
    if (!all.length) return;
    at = [Math.max(0, Math.min(all.length - 1, row)), column];
    const inside = cells(all[at[0]]);
    at[1] = Math.max(0, Math.min(inside.length - 1, column));
    for (const cell of $$('td[tabindex="0"]', grid)) cell.tabIndex = -1;
    if (!inside.length) return;
    inside[at[1]].tabIndex = 0;
    if (focus) inside[at[1]].focus();
  }
  const after = (data, words) => {
    try { sessionStorage.setItem("ledger", JSON.stringify({ path: location.pathname + location.search, at, said: words })); } catch { /* not kept */ }
    version = data.version;
    location.reload();
  };

  function edit(cell) {
    if (editing) return;
    const value = $(".value", cell), old = value.textContent, subject = cell.closest("tr").dataset.subject, key = cell.dataset.key;
    const long = old.length > 40;
    const field = make(long ? "textarea" : "input", { "aria-label": `${key} of ${subject}`, autocomplete: "off" });
    field.value = old;
    const beside = make("span", { class: "pencil beside", role: "status" });
    let timer = 0, tried = 0, left = false;
    editing = cell;
    value.hidden = true;
    cell.append(field, beside);
    field.focus();
    field.select();
    field.addEventListener("input", () => {
      clearTimeout(timer);
      timer = setTimeout(async () => {
        const mine = tried += 1;
        let words;
        try {
          const found = await ask("/try", { subject, key, text: field.value });
          words = found.wrong ? `${found.wrong} ${found.hint}` : "";
        } catch (error) { words = error.message; }
        if (mine === tried) beside.textContent = words;
      }, 120);
    });
    const leave = () => { left = true; clearTimeout(timer); field.remove(); beside.remove(); value.hidden = false; editing = null; };
    const keep = async () => {
      if (left) return;
      clearTimeout(timer);
      tried += 1;
      if (field.value === old) { leave(); cell.focus(); return; }
      try {
        const data = await ask("/edit", { do: "set", subject, key, text: field.value, version });
        leave();
        value.textContent = field.value;
        after(data, `Kept: ${data.said}.`);
      } catch (error) { beside.textContent = error.message; field.focus(); }
    };
    field.addEventListener("keydown", (event) => {
      event.stopPropagation();
      if (event.key === "Enter" && !event.shiftKey) { event.preventDefault(); keep(); }
      if (event.key === "Escape") { leave(); cell.focus(); }
    });
  }

  grid.addEventListener("click", async (event) => {
    const out = event.target.closest(".out");
    if (out) {
      const subject = out.closest("tr").dataset.subject;
      try { const data = await ask("/edit", { do: "remove", subject, version }); after(data, `Kept: ${data.said}.`); } catch (error) { said.textContent = error.message; }
      return;
    }
    const cell = event.target.closest("td[data-key]");
    if (!cell || cell === editing) return;
    go(rows().indexOf(cell.parentElement), cells(cell.parentElement).indexOf(cell), false);
    edit(cell);
  });
  grid.addEventListener("keydown", (event) => {
    if (editing || !event.target.matches("td[data-key]")) return;
    const steps = { ArrowUp: [-1, 0], ArrowDown: [1, 0], ArrowLeft: [0, -1], ArrowRight: [0, 1] }[event.key];
    if (steps) { event.preventDefault(); go(at[0] + steps[0], at[1] + steps[1]); }
    else if (event.key === "Home") { event.preventDefault(); go(at[0], 0); }
    else if (event.key === "End") { event.preventDefault(); go(at[0], 99); }
    else if (event.key === "Enter" || event.key === "F2") { event.preventDefault(); edit(event.target); }
  });
  const back = (what) => async () => {
    try { const data = await ask("/edit", { do: what }); after(data, `${data.said}.`); } catch (error) { said.textContent = error.message; }
  };
  $("#ledger-undo").addEventListener("click", back("undo"));
  $("#ledger-redo").addEventListener("click", back("redo"));
  document.addEventListener("keydown", (event) => {
    if (editing || event.target.matches("input,textarea") || !(event.ctrlKey || event.metaKey)) return;
    if (event.key === "z") { event.preventDefault(); back(event.shiftKey ? "redo" : "undo")(); }
    if (event.key === "y") { event.preventDefault(); back("redo")(); }
  });
  for (const [name, what] of [["add-form", "add"], ["paste-form", "paste"]]) {
    $(`#${name}`).addEventListener("submit", async (event) => {
      event.preventDefault();
      const form = new FormData(event.target), asked = { do: what, table: event.target.dataset.table, cells: {} };
      for (const [key, value] of form) { if (key.startsWith("key-")) asked.cells[key.slice(4)] = value; else asked[key] = value; }
      try { const data = await ask("/edit", asked); event.target.reset(); after(data, `Kept: ${data.said}.`); }
      catch (error) { $("[role=status]", event.target).textContent = error.message; }
    });
  }
  let start = [0, 0], focus = false;
  try {
    const kept = JSON.parse(sessionStorage.getItem("ledger") || "null");
    if (kept?.path === location.pathname + location.search) { start = kept.at; said.textContent = kept.said; focus = true; }
    sessionStorage.removeItem("ledger");
  } catch { /* nothing kept */ }
  const aimed = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (aimed && aimed.matches("tr")) { start = [rows().indexOf(aimed), 0]; focus = true; }
  go(...start, focus);
}

if (kind === "service") service();
if (kind === "record") record();
if (kind === "sources") verdicts({ sitting, standard, service: "" }, null);
