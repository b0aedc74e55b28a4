"use strict";
// The page shows the view that the server sends, counts its clocks on, and sends what is tapped. It decides nothing.
(() => {
  const $ = (id) => document.getElementById(id);
  const OLD_MS = 9000, DRAWN_MS = 1000, NARROW_PX = 600, LONG = 18, WIDE = 10, FEW = 3;
  const LOGS = ["do", "beside", "seen", "looks", "temperature", "undo"];
  let view = null, heardAt = 0, drawn = "", drawnAt = 0, stream = null, aloud = false, audio = null, lock = null;
  let rung = "", rungAt = 0, saidTimer = 0, busy = false;

  // -- which device this is ------------------------------------------------------------------------------------------

  const narrow = Math.min(screen.width, screen.height) < NARROW_PX;
  const surface = narrow ? "phone" : matchMedia("(pointer: coarse)").matches ? "tablet" : "browser";
  let device = [...crypto.getRandomValues(new Uint32Array(2))].join("-");
  try {
    device = localStorage.device ??= device;
  } catch { /* nothing is kept here: the device is another one after a reload */ }

  // -- times ---------------------------------------------------------------------------------------------------------

  const nowS = () => view.at_s + (performance.now() - heardAt) / 1000;
  const pad = (number) => String(number).padStart(2, "0");
  const left = (leftS) => {
    const s = Math.floor(Math.abs(leftS)), over = leftS < 0 && s > 0 ? "+" : "";
    if (s < 600) return `${over}${Math.floor(s / 60)}:${pad(s % 60)}`;
    if (s < 6000) return `${over}${Math.floor(s / 60)} min`;
    return `${over}${Math.floor(s / 3600)} h ${pad(Math.floor(s / 60) % 60)}`;
  };

  // -- drawing -------------------------------------------------------------------------------------------------------

  const put = (id, text) => { const at = $(id); if (at.textContent !== text) at.textContent = text; };
  const by = (batch) => ("empty_by_s" in batch ? batch.empty_by_s : batch.open_until_s);
  const fan = (at, batch) => {
    const end = batch.mixed_s + 1.15 * (batch.high_s - batch.mixed_s);
    const share = (s) => `${Math.min(Math.max((s - batch.mixed_s) / (end - batch.mixed_s), 0), 1) * 100}%`;
    at.querySelector(".gone").style.width = share(nowS());
    const band = at.querySelector(".band");
    band.style.left = share(batch.low_s);
    band.style.right = `calc(100% - ${share(batch.high_s)})`;
    at.querySelector(".by").style.left = share(by(batch));
  };
  const parts = (id, ...texts) => {
    const at = $(id), text = texts.join("\n");
    if (at.dataset.text === text) return;
    at.dataset.text = text;
    at.replaceChildren(...texts.map((each, place) => {
      if (place === 1 || !each) return each;
      const small = document.createElement("small");
      small.textContent = each;
      return small;
    }));
  };
  const digits = (text) => parts("cup-digits", "", ...(/^(.*\d)( min)$/.exec(text)?.slice(1) ?? [text, ""]));

  function draw() {
    if (!view) return;
    const old = performance.now() - heardAt > OLD_MS;
    $("old").hidden = !old && !view.fault;
    if (old) put("old", `OLD: last seen ${new Date(view.heard_ms).toTimeString().slice(0, 5)}. Look at the bench computer.`);
    else if (view.fault) put("old", view.fault);
    if (view.day === null) {
      for (const id of ["cup", "daybar"]) $(id).hidden = true;
      for (const id of ["mode", "act-for", "act-number", "act-how", "act-by", "then", "press"]) put(id, "");
      $("others").replaceChildren();
      put("act-words", view.says.act);
      put("act-foot", view.says.foot);
      for (const id of LOGS) $(id).hidden = true;
      return;
    }
    const says = view.says, batches = [...view.cups, ...view.parts], worst = batches[0];
    document.title = says.act;
    put("mode", says.mode);
    $("cup").hidden = !worst;
    if (worst) {
      $("cup").dataset.urgency = worst.urgency;
      put("cup-name", says.batches[0][0]);
      digits(by(worst) === null ? "?" : left(by(worst) - nowS()));
      put("cup-foot", says.batches[0][1]);
      $("cup-fan").hidden = by(worst) === null;
      if (by(worst) !== null) fan($("cup-fan"), worst);
    }
    drawAct();
    put("then", says.then);
    drawOthers(batches.slice(1));
    $("daybar").hidden = !view.steps;
    $("daybar").firstElementChild.style.width = `${view.steps ? (100 * view.steps_done) / view.steps : 0}%`;
    put("press", says.press);
  }

  function drawAct() {
    const one = view.act, says = view.says, late = one.deadline_s === null ? null : one.deadline_s - nowS();
    $("act").dataset.urgency = one.urgency;
    put("act-for", says.for);
    put("act-words", says.act);
    parts("act-number", says.of_number, one.number);
    put("act-how", says.how);
    const due = late === null ? "" : late < 0 ? `${left(late)} ${says.late}` : `${says.by} ${left(late)}`;
    const step = says.step ? `${says.step[0]} ${left(view.step.spent_s + nowS() - view.at_s)} ${says.step[1]}` : "";
    put("act-by", due);
    put("act-foot", [step, says.foot].filter(Boolean).join(" · "));
    const key = JSON.stringify([one.kind, one.words, one.batch, one.step]);
    if (key !== drawn) { drawn = key; drawnAt = performance.now(); }
    const can = view.writer && !busy && !view.ended;
    put("do", says.button);
    $("do").disabled = !can || performance.now() - drawnAt < DRAWN_MS;
    put("beside", says.beside);
    for (const id of LOGS) $(id).hidden = !view.writer;
    for (const id of LOGS.slice(1)) $(id).disabled = !can;
    $("do").hidden ||= !says.button;
    $("beside").hidden ||= !says.beside;
    $("seen").hidden ||= !view.to_see;
    $("looks").disabled ||= !(view.cups.length + view.parts.length);
  }

  function drawOthers(batches) {
    const box = $("others");
    while (box.children.length > batches.length) box.lastChild.remove();
    batches.forEach((batch, place) => {
      let card = box.children[place];
      if (!card) {
        card = document.createElement("button");
        card.className = "card";
        card.append(document.createElement("span"), document.createElement("b"), document.createElement("p"));
        box.append(card);
      }
      card.dataset.urgency = batch.urgency;
      card.disabled = !view.writer;
      card.onclick = () => looks(batch);
      const [title, foot] = view.says.batches[place + 1];
      const words = [title, by(batch) === null ? "?" : left(by(batch) - nowS()), foot];
      words.forEach((text, at) => { if (card.children[at].textContent !== text) card.children[at].textContent = text; });
    });
  }

  // -- taps ----------------------------------------------------------------------------------------------------------

  function say(words, unsent = false) {
    put("said", words);
    $("said").classList.toggle("unsent", unsent);
    clearTimeout(saidTimer);
    if (!unsent) saidTimer = setTimeout(() => put("said", ""), 12000);
  }

  async function send(path, fields) {
    const asked = await fetch(path, {
      method: "POST", headers: { "Content-Type": "application/json" },
      body: JSON.stringify({ ...fields, surface, device }), cache: "no-store",
    });
    if (asked.status === 401) { leave(); return null; }
    const kind = asked.headers.get("Content-Type") || "";
    return kind.startsWith("application/json") ? asked.json() : { said: await asked.text() };
  }

  async function tap(which, fields) {
    if (busy) return;
    busy = true;
    try {
      const answer = await send("/tap/" + which, fields);
      if (!answer) return;
      say(answer.said || "");
      if (answer.question) ask(answer.question, which, fields);
    } catch {
      say("▲ NOT SENT: no connection to the bench computer. Tap again", true);
    } finally {
      busy = false;
      draw();
    }
  }

  const tapAct = (one, more = {}) =>
    tap("act", { kind: one.kind, words: one.words, batch: one.batch, step: one.step, ...more });

  function choose(title, choices, { entry = null, go = null, number = "", words = false } = {}) {
    put("ask-title", title);
    put("ask-number", number);
    const box = $("ask-choices"), field = $("ask-entry");
    box.replaceChildren();
    const said = choices.map(([label]) => label);
    box.classList.toggle("long", said.some((label) => label.length > LONG));
    box.classList.toggle("wide", said.some((label) => label.split(" ").some((word) => word.length > WIDE)));
    field.hidden = entry === null;
    field.value = entry ?? "";
    field.inputMode = words ? "text" : "decimal";
    field.maxLength = words ? 400 : 20;
    for (const [label, then] of choices) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = label;
      button.onclick = () => { $("ask").close(); then?.(field.value); };
      box.append(button);
    }
    $("ask").querySelector("form").onsubmit = (event) => {
      event.preventDefault();
      if (go) { $("ask").close(); go(field.value); }
    };
    $("ask").showModal();
    if (entry === null) return;
    if (choices.length <= FEW) { field.focus(); field.select(); }  // else what is offered comes first
  }

  function ask(question, which, fields) {
    const again = (answer, more) =>
      tap(question.tap || which, { ...fields, question: question.kind, about: question.about, answer, ...more });
    const asTyped = (answer) => again(answer, { typed: true });
    const typed = (answer) => answer?.typed === true;
    const entry = question.choices.some(([, answer]) => typed(answer)) ? question.usual : null;
    choose(question.title, question.choices.map(([words, answer]) =>
      [words, answer === null ? null : typed(answer) ? asTyped : () => again(answer)]),
    { entry, go: entry === null ? null : asTyped, number: question.number, words: question.typed_words });
  }

  const looks = (batch) => choose(`Batch ${batch.batch} looks`,
    [...view.words.map((word) => [word, () => tap("looks", { batch: batch.batch, word })]), [view.back, null]]);
  const air = (value) => tap("temperature", { value });
  const warm = () => choose("Air in the shop",
    [...view.temperatures.map((t) => [t, () => air(t)]), ["AS TYPED", air], [view.back, null]], { entry: "", go: air });
  const more = () => choose("", [
    ...(view.writer ? view.more ?? [] : []).map(([words, which, fields]) => [words, () => tap(which, fields)]),
    [aloud ? "TURN SOUND OFF" : "TURN SOUND ON", sound], [view.back, null],
  ]);

  $("do").onclick = () => tapAct(view.act);
  $("beside").onclick = () => tapAct(view.beside);
  $("seen").onclick = () => tap("seen", {});
  $("undo").onclick = () => tap("undo", {});
  $("looks").onclick = () => looks([...view.cups, ...view.parts][0]);
  $("cup").onclick = () => view.writer && looks([...view.cups, ...view.parts][0]);
  $("temperature").onclick = warm;
  $("more").onclick = () => view && more();

  // -- sound, speech, a screen that stays on -------------------------------------------------------------------------

  const STROKES = [[], [0], [0, 0.25, 0.5], [0, 0.2, 0.4, 0.8, 1], [0, 0.2, 0.4, 0.8, 1]];

  function ring() {
    if (!view || !view.act || !aloud) return;
    const one = view.act, level = view.says.rings, key = `${one.kind} ${one.words} ${level}`;
    const again = level > 1 && performance.now() - rungAt > 60000;
    if ((key === rung && !again) || one.seen) return;
    const news = key !== rung;
    rung = key;
    rungAt = performance.now();
    for (const after of STROKES[level]) {
      const tone = audio.createOscillator(), loud = audio.createGain(), at = audio.currentTime + after;
      tone.frequency.value = level === 1 ? 660 : 880;
      loud.gain.setValueAtTime(0.4, at);
      loud.gain.exponentialRampToValueAtTime(0.001, at + 0.18);
      tone.connect(loud).connect(audio.destination);
      tone.start(at);
      tone.stop(at + 0.2);
    }
    if (news && "speechSynthesis" in window) {
      speechSynthesis.cancel();
      speechSynthesis.speak(new SpeechSynthesisUtterance(view.says.aloud));
    }
  }

  async function stayOn() {
    if (!("wakeLock" in navigator)) return "this screen may sleep: the browser keeps it on only over a secure address";
    try {
      lock = await navigator.wakeLock.request("screen");
      return "the screen stays on";
    } catch {
      return "this screen may sleep: the browser refused to keep it on";
    }
  }

  async function sound() {
    aloud = !aloud;
    if (!aloud) { await lock?.release(); lock = null; say("sound off"); return; }
    audio ??= new AudioContext();
    await audio.resume();
    say(`sound on; ${await stayOn()}`);
    rung = "";
    ring();
  }
  document.addEventListener("visibilitychange", () => { if (aloud && !document.hidden) stayOn(); });

  // -- the connection ------------------------------------------------------------------------------------------------

  function leave() {
    stream?.close();
    stream = null;
    $("bench").hidden = true;
    $("door").hidden = false;
    $("word").focus();
  }

  function listen() {
    stream?.close();
    stream = new EventSource("/stream");
    stream.onmessage = (event) => {
      const first = !view;
      view = JSON.parse(event.data);
      heardAt = performance.now();
      view.heard_ms = Date.now();
      if (first) { $("door").hidden = true; $("bench").hidden = false; }
      draw();
      ring();
    };
    stream.onerror = async () => {
      if (stream?.readyState !== EventSource.CLOSED) return;
      try {
        const asked = await fetch("/stream", { headers: { Accept: "text/plain" }, cache: "no-store", signal: AbortSignal.timeout(3000) });
        asked.body?.cancel();
        if (asked.status === 401) { leave(); return; }
      } catch { /* the bench computer is away: tried again below */ }
      setTimeout(listen, 2000);
    };
  }

  $("door").onsubmit = async (event) => {
    event.preventDefault();
    await enter($("word").value);
  };

  async function enter(word) {
    try {
      const answer = await send("/enter", { word });
      if (answer?.said === "in") { $("door").hidden = true; $("bench").hidden = false; view = null; listen(); return; }
      put("door-said", answer ? `${answer.said} Wait ${Math.ceil(answer.wait_s || 1)} s.` : "");
    } catch {
      put("door-said", "No connection to the bench computer.");
    }
  }

  const word = location.hash.slice(1);
  if (word) {
    history.replaceState(null, "", location.pathname);  // the word stays in no history
    enter(decodeURIComponent(word));
  }
  setInterval(draw, 250);
  setInterval(ring, 1000);
  listen();
})();
