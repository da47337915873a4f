// The record's tables: a cell is changed in place, and the page takes in what the change brought, without being
// loaded again.
import { $, $$, ask, make, note, pageNow, reading, watching } from "/assets/bench.js";

export function record() {
  const grid = $("#ledger"), said = $("#ledger-said");
  let editing = null, at = [0, 0];
  const typed = () => editing !== null;
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

  // A line that an address names may stand on a later page of a long table.
  const named = decodeURIComponent(location.hash.slice(1));
  if (named && !document.getElementById(named) && !new URLSearchParams(location.search).has("at")) {
    location.replace(`${location.pathname}?at=${encodeURIComponent(named)}#${encodeURIComponent(named)}`);
    return;
  }

  // What was last taken in, by line: only lines that differ are set anew.
  const written = new Map(rows().map((row) => [row.dataset.subject, row.outerHTML]));
  const heads = () => $("thead", grid);
  let head = heads().outerHTML;

  async function renew(version) {
    const page = await pageNow(), found = $("#ledger", page);
    reading.version = version ?? Number(page.body.dataset.version);
    const focused = document.activeElement?.closest?.("#ledger td[data-key]") ? [document.activeElement.parentElement.dataset.subject, document.activeElement.dataset.key] : null;
    const other = $("thead", found).outerHTML !== head;
    if (other) { head = $("thead", found).outerHTML; heads().replaceWith(document.importNode($("thead", found), true)); }
    const wanted = $$("tbody tr", found), here = new Map(rows().map((row) => [row.dataset.subject, row])), tbody = $("tbody", grid);
    let before = null;
    for (const row of wanted) {
      const subject = row.dataset.subject, text = row.outerHTML;
      let mine = here.get(subject);
      here.delete(subject);
      if (!mine || ((other || written.get(subject) !== text) && !mine.contains(editing))) {
        const fresh = document.importNode(row, true);
        if (mine) { mine.replaceWith(fresh); fresh.classList.add("is-fresh"); }
        mine = fresh;
      }
      written.set(subject, text);
      const next = before ? before.nextElementSibling : tbody.firstElementChild;
      if (next !== mine) tbody.insertBefore(mine, next);
      before = mine;
    }
    for (const [subject, row] of here) { if (!row.contains(editing)) row.remove(); written.delete(subject); }
    for (const where of [".top nav", ".rows"]) {
      const old = $(where), now = $(where, page);
      if (old && now && old.outerHTML !== now.outerHTML) old.replaceWith(document.importNode(now, true));
    }
    if (focused) {
      const row = rows().find((one) => one.dataset.subject === focused[0]);
      const cell = row && cells(row).find((one) => one.dataset.key === focused[1]);
      if (cell && cell !== document.activeElement && !editing) { at = [rows().indexOf(row), cells(row).indexOf(cell)]; }
    }
    go(...at, !!focused && !editing);
  }
  watching(typed, async (version) => { try { await renew(version); said.textContent = "The text was changed outside; this is how it stands now."; note(""); } catch (error) { note(error.message); } });
  const after = async (data, words) => {
    said.textContent = words;
    $("#ledger-undo").disabled = !data.can_undo;
    $("#ledger-redo").disabled = !data.can_redo;
    try { await renew(data.version); } catch (error) { note(error.message); }
    document.body.dataset.kept = String(Number(document.body.dataset.kept || 0) + 1);
  };

  function edit(cell) {
    if (editing) return;
    const value = $(".value", cell), old = value.textContent, subject = cell.closest("tr").dataset.subject, key = cell.dataset.key;
    const long = old.length > 40;
    const field = make(long ? "textarea" : "input", { "aria-label": `${key} of ${subject}`, autocomplete: "off" });
    const names = make("datalist", { id: "names" });
    field.value = old;
    const beside = make("span", { class: "pencil beside", role: "status" });
    let timer = 0, tried = 0, left = false;
    editing = cell;
    value.hidden = true;
    cell.append(field, names, beside);
    field.focus();
    field.select();
    const look = () => {
      clearTimeout(timer);
      timer = setTimeout(async () => {
        const mine = tried += 1;
        let words;
        try {
          const found = await ask("/try", { subject, key, text: field.value });
          if (mine === tried && found.choices.length && !long) {
            names.replaceChildren(...found.choices.map((name) => make("option", { value: name })));
            field.setAttribute("list", "names");
          }
          words = found.wrong ? `${found.wrong} ${found.hint}` : "";
        } catch (error) { words = error.message; }
        if (mine === tried) beside.textContent = words;
      }, 120);
    };
    field.addEventListener("input", look);
    look();
    const leave = () => { left = true; clearTimeout(timer); field.remove(); names.remove(); beside.remove(); value.hidden = false; editing = null; };
    const keep = async () => {
      if (left) return;
      clearTimeout(timer);
      tried += 1;
      if (field.value === old) { leave(); cell.focus(); return; }
      try {
        const data = await ask("/edit", { do: "set", subject, key, text: field.value, version: reading.version });
        leave();
        value.textContent = field.value;
        cell.focus();
        await after(data, `Kept: ${data.said}.`);
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
      try { const data = await ask("/edit", { do: "remove", subject, version: reading.version }); await after(data, `Kept: ${data.said}.`); } catch (error) { said.textContent = error.message; }
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
    try { const data = await ask("/edit", { do: what }); await after(data, `${data.said}.`); } catch (error) { said.textContent = error.message; }
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
      try { const data = await ask("/edit", asked); event.target.reset(); await after(data, `Kept: ${data.said}.`); }
      catch (error) { $("[role=status]", event.target).textContent = error.message; }
    });
  }
  let start = [0, 0], focus = false;
  const aimed = location.hash && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (aimed && aimed.matches("tr")) { start = [rows().indexOf(aimed), 0]; focus = true; }
  go(...start, focus);
}
