// Fault finding: the chart folds open as what is seen and read is entered. What is worked out comes from the server.
import { $, $$, ask, make, note, pause, sitting, standard } from "/assets/bench.js";

const WELL = "as it should be";
const SHORT = 5;  // settings that are shown without being folded
const LIKELY = 0.8;  // from here on looking at the suspect may be quicker than a further check
const percent = (share) => share >= 0.995 ? "sure" : share < 0.01 ? "under 1 %" : `${Math.round(100 * share)} %`;
const minutes = (time) => `about ${time < 9.5 ? Math.max(1, Math.round(time)) : 5 * Math.round(time / 5)} min`;

// One order: asked after until it is done; says how far it is, and can be given up.
async function ordered(order, words) {
  const place = $("#under-way");
  let given = false, bar = null, said = null, asking = null;
  const stop = make("button", { type: "button", onclick: async () => {
    given = true;
    place.replaceChildren("Given up.");
    await asking?.catch(() => {});  // asked after it was given up, it would be begun again
    try { await ask("/hunt", { ...order, cancel: true }); } catch (error) { note(error.message); }
  } }, "Stop");
  try {
    for (;;) {
      asking = ask("/hunt", order);
      const data = await asking;
      if (given) return null;
      if (data.state === "refused") throw new Error(data.refused_because);
      if (data.state !== "working") { place.replaceChildren(); return data; }
      if (!bar) {
        bar = make("progress", { "aria-label": words });
        said = make("span", { class: "soft" });
        place.replaceChildren(make("p", {}, `${words} … `, bar, " ", said, " ", stop));
      }
      if (data.of) { bar.max = data.of; bar.value = data.done; }
      said.textContent = data.waits ? "waiting its turn" : `${data.of ? `${data.done} of ${data.of}, ` : ""}${Math.round(data.seconds)} s`;
      await pause(data.seconds < 2 ? 120 : 400);
    }
  } catch (error) {
    place.replaceChildren(make("p", { class: "wrong" }, error.message));
    return null;
  }
}

// --- what is reported

function report(form) {
  const place = $("#seeable");
  let service = "";
  async function choose() {
    const chosen = form.elements.service.value;
    if (chosen === service) return;
    service = chosen;
    place.replaceChildren();
    if (!service) return;
    const data = await ordered({ do: "seeable", service, standard }, "Working out what can be seen of it");
    if (!data || service !== chosen) return;
    place.replaceChildren(...(data.things.length ? [make("fieldset", { class: "things" }, make("legend", {}, "What is seen or heard? What is as it should be tells as much."),
      ...data.things.map((thing, n) => make("p", {}, make("label", { for: `thing-${n}` }, thing.title),
        make("select", { id: `thing-${n}`, "data-thing": thing.name }, make("option", { value: "" }, "not looked at"), make("option", {}, WELL),
          ...thing.words.map((word) => make("option", {}, word))))))] : [make("p", {}, "Nothing of this service is seen or heard, whatever breaks. Choose the service that shows it.")]));
    $("select", place)?.focus();
  }
  form.elements.service.addEventListener("change", choose);
  form.addEventListener("submit", async (event) => {
    event.preventDefault();
    const seen = $$("[data-thing]", form).filter((one) => one.value).map((one) => `${one.dataset.thing}=${one.value}`);
    if (!seen.some((one) => !one.endsWith(`=${WELL}`))) { $("#under-way").replaceChildren(make("p", { class: "wrong" }, "Say of at least one thing what is wrong with it.")); return; }
    const button = $("[type=submit]", form);
    button.disabled = true;
    const data = await ordered({ do: "begin", sitting, standard, service, seen, rebuilt: form.elements.rebuilt.value === "yes", as_set: form.elements.as_set.checked }, "Working out what every suspect would show");
    button.disabled = false;
    if (data) location.assign(`/faults/${data.name}${standard ? `?standard=${encodeURIComponent(standard)}` : ""}`);
  });
  ask("/hunt", { do: "set", sitting, standard }).then((data) => {
    $("#as-set-said").textContent = ` (${data.set.length ? data.set.join(", ") : "everything at rest"})`;
  }, () => {});
  choose();
}

// --- the chart

function chart(hunt) {
  const name = hunt.dataset.hunt, place = $("#chart");
  let answers = 0, service = "", first = true;

  const work = async (order, words) => {
    for (const button of $$("button", place)) button.disabled = true;
    const data = await ordered({ ...order, hunt: name, answers: first ? undefined : answers }, words);
    if (data) show(data);
    else for (const button of $$("button", place)) button.disabled = false;
  };
  const found = (said) => work({ do: "found", said }, "Weighing it");

  function show(data) {
    answers = data.steps.length;
    service = data.services[0]?.id || "";
    $("#as-was").textContent = `${data.set.length ? `Seen with ${data.set.join(", ")}. ` : ""}${data.after_rebuild ? "Suspects weighed for an installation just worked on." : "Suspects weighed for an installation in service."}`;
    place.replaceChildren(...data.steps.map(made));
    if (data.trouble) place.append(make("li", { class: "trouble" }, make("p", { class: "wrong" }, data.trouble)));
    const lead = data.suspects[0];
    if (data.next) {
      if (lead?.probability >= LIKELY) place.append(make("li", { class: "trouble" }, make("p", {}, make("b", {}, `Likeliest by far (${percent(lead.probability)}): `), `${lead.faults[0].words}. To look there now may be quicker than the next check.`)));
      place.append(now(data.next, data.steps.length + 1, data.steps.some((step) => step.check === data.next.check)));
    }
    else if (data.proofs.length) place.append(proofs(data.proofs));
    suspects(data);
    if (!first) {
      const last = place.lastElementChild;
      $("h3", last)?.focus({ preventScroll: true });
      last.scrollIntoView({ block: "nearest", behavior: matchMedia("(prefers-reduced-motion: reduce)").matches ? "auto" : "smooth" });
    }
    first = false;
  }

  const likely = (one) => one.left > 0 || one.probability >= 0.01;
  const where = (step) => make("p", { class: "where soft" }, [step.place, minutes(step.minutes)].filter(Boolean).join(" · "));
  const leaves = (one) => !one.left ? "would stand against an answer before" : one.left === 1 ? `leaves one: ${one.likeliest[0]}` : `leaves ${one.left}; likeliest: ${one.likeliest[0]}`;

  function setting(step) {
    if (!step.settings.length) return "";
    const words = make("p", { class: "soft" }, `The whole setting: ${step.settings.join("; ")}.`);
    const plate = service ? make("p", {}, make("button", { type: "button", onclick: () => onPlate(step.moves) }, "Set the plate so")) : "";
    if (step.settings.length <= SHORT) return make("div", { class: "setting" }, words, plate);
    return make("details", { class: "setting" }, make("summary", {}, `The whole setting (${step.settings.length})`), words, plate);
  }
  async function onPlate(moves, on = service, address = "") {
    try {
      await ask("/operate", { sitting, standard, service: on, action: { do: "moves", moves } });
      location.assign(address || `/service/${on}${standard ? `?standard=${encodeURIComponent(standard)}` : ""}`);
    } catch (error) { note(error.message); }
  }

  function made(step) {
    const taken = (one) => one.outcome === step.found;
    const others = step.outcomes.filter((one) => !taken(one)), one = step.outcomes.find(taken);
    const right = make("select", { "aria-label": `What check ${step.number} gave` }, ...step.outcomes.map((o) => {
      const option = make("option", { value: o.outcome }, o.words); option.selected = taken(o); return option; }));
    return make("li", { class: `step made${step.wrong ? " is-wrong" : ""}` },
      make("p", { class: "found" }, make("b", {}, one?.words ?? step.found), step.wrong ? make("span", { class: "tone-bad" }, " stands against the rest") : ""),
      make("h3", { tabindex: -1 }, `${step.number}. ${step.words}`), where(step),
      one ? make("p", { class: "pencil" }, leaves(one)) : "",
      make("details", {}, make("summary", {}, "Put this right"),
        make("p", { class: "buttons" }, step.volts ? "" : right,
          step.volts ? volts((said) => work({ do: "correct", number: step.number, said }, "Weighing it again"), step.found) : "",
          step.volts ? "" : make("button", { type: "button", onclick: () => work({ do: "correct", number: step.number, said: right.value }, "Weighing it again") }, "It was that"),
          make("button", { type: "button", onclick: () => work({ do: "correct", number: step.number, said: "" }, "Weighing it again") }, "Take this answer back")),
        ...others.map((o) => make("p", { class: "soft" }, `${o.words}: would have left ${o.left}`))));
  }

  function volts(take, old = "") {
    const field = make("input", { inputmode: "decimal", size: 6, "aria-label": "Reading in volts", value: old.replace(/ V$/, "") === old ? null : old.replace(/ V$/, ""), autocomplete: "off" });
    const go = () => { if (/^-?[\d.,]+$/.test(field.value.trim())) take(`${field.value.trim().replace(",", ".")} V`); else field.focus(); };
    field.addEventListener("keydown", (event) => { if (event.key === "Enter") { event.preventDefault(); go(); } });
    return make("label", { class: "reading-in" }, "Reading ", field, " V ", make("button", { type: "button", onclick: go }, "Enter the reading"));
  }

  function now(step, number, again) {
    return make("li", { class: "step now" },
      make("h3", { tabindex: -1 }, `${number}. ${again ? "Once more: " : ""}${step.words}`), where(step),
      ...step.cautions.map((words) => make("p", { class: "hazards" }, words)),
      setting(step),
      step.volts ? make("p", { class: "buttons" }, volts(found)) : "",
      make("ul", { class: "outcomes", "aria-label": "What is found" }, ...step.outcomes.filter(likely).map(outcome)),
      step.outcomes.every(likely) ? "" : make("details", {}, make("summary", {}, "Something else, against what was found before"),
        make("ul", { class: "outcomes", "aria-label": "What else may be found" }, ...step.outcomes.filter((one) => !likely(one)).map(outcome))));

    function outcome(one) {
      return make("li", {}, make("button", { type: "button", onclick: () => found(`${step.check}=${one.outcome}`) }, one.words),
        make("span", { class: "chance" }, percent(one.probability)), make("span", { class: "pencil" }, leaves(one)));
    }
  }

  function proofs(all) {
    return make("li", { class: "step end" }, make("h3", { tabindex: -1 }, all.length > 1 ? "Prove it, in this order" : "Prove it"),
      make("ol", {}, ...all.map((one) => make("li", {}, make("b", {}, one.look),
        make("p", {}, `${percent(one.probability)}: ${one.words.join("; or ")}. ${minutes(one.minutes)}.`),
        ...one.cautions.map((words) => make("p", { class: "hazards" }, words))))));
  }

  function suspects(data) {
    const moves = (data.next || data.steps.at(-1))?.moves || [];
    const most = Math.max(...data.suspects.map((one) => one.probability), 1e-9);
    $("#suspects").replaceChildren(
      make("ol", { class: "suspects" }, ...data.suspects.map((one) => {
        const bar = make("span", { class: "bar", "aria-hidden": "true" });
        bar.style.width = `${Math.max(2, 100 * one.probability / most)}%`;
        const [lead, ...rest] = one.faults;
        const tried = lead.service || service;
        return make("li", {}, make("span", { class: "chance" }, percent(one.probability)), bar, make("p", {}, lead.words,
          tried ? tryIt(lead, tried, moves) : ""),
          rest.length ? make("details", {}, make("summary", {}, `or ${rest.length} more that no check tells apart`), ...rest.map((fault) => make("p", {}, fault.words))) : "");
      })),
      data.less_likely ? make("p", { class: "soft" }, `And ${data.less_likely} less likely.`) : "");
  }

  // At rest most faults show nothing: the plate is first set as the check wants it.
  function tryIt(fault, on, moves) {
    const href = `/service/${on}?strike=${encodeURIComponent(fault.id)}${standard ? `&standard=${encodeURIComponent(standard)}` : ""}`;
    return make("a", { class: "try", href, "aria-label": `Try on the plate: ${fault.words}`, onclick: (event) => {
      if (!moves.length || event.ctrlKey || event.metaKey || event.shiftKey) return;
      event.preventDefault();
      onPlate(moves, on, href);
    } }, "try it on the plate");
  }

  $("#drop").addEventListener("click", async (event) => {
    if (event.target.dataset.sure !== "yes") { event.target.dataset.sure = "yes"; event.target.textContent = "Press again to throw it away for good"; return; }
    try { await ask("/hunt", { do: "drop", hunt: name }); location.assign("/faults"); } catch (error) { note(error.message); }
  });
  work({ do: "stands" }, "Working out what every suspect would show");
}

export function hunting() {
  if ($("#report")) report($("#report"));
  if ($(".hunt")) chart($(".hunt"));
}
