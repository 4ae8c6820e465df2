"use strict";
// What the coach puts right by hand, saved as a small file that a new review takes up.
(() => {
  const box = document.getElementById("marks");
  if (!box) return;
  const { data } = clipPage;
  const before = data.marks || { moved: [], left_out: [], note: "" };
  const said = document.getElementById("mark-said");
  const who = document.getElementById("mark-who");
  const note = document.getElementById("mark-note");
  const same = (a, b) => Math.abs(a - b) < 2e-3;
  note.value = before.note;

  // Events as they stand, with where they were first found; earlier corrections are carried on.
  const strokes = data.strokes.map((stroke) => {
    const event = (name, time) => {
      const earlier = before.moved.find((m) => m.event === name && same(m.at_s, time));
      return { name, found: earlier ? earlier.was_s : time, began: time, at: time };
    };
    return {
      catch: event("catch", stroke.catch_s),
      release: event("release", stroke.release_s),
      next_s: stroke.next_s,
      out: false,
    };
  });
  const earlierOut = before.left_out.map((row) => ({ catch_s: row.catch_s, out: true }));

  const content = () => {
    const other = who.value !== data.who;
    const events = strokes.flatMap((s) => [s.catch, s.release]);
    const moved = events
      .filter((e) => !same(e.at, e.found))
      .map((e) => ({ event: e.name, was_s: e.found, at_s: e.at }));
    const out = strokes.filter((s) => s.out).map((s) => ({ catch_s: s.catch.found }));
    const kept = earlierOut.filter((row) => row.out).map((row) => ({ catch_s: row.catch_s }));
    return {
      sideon_corrections: 1,
      clip: data.clip,
      who: /^\d+$/.test(who.value) ? Number(who.value) : who.value,
      note: note.value.trim(),
      moved: other ? [] : moved,
      left_out: other ? [] : [...kept, ...out],
    };
  };
  const changes = () => {
    const now = content();
    const others = Number(who.value !== data.who) + Number(note.value.trim() !== "");
    return now.moved.length + now.left_out.length + others;
  };
  // Of many strokes only the one on show can be seen, and those that were touched.
  const list = box.querySelector(".mark-list");
  if (list.classList.contains("one")) {
    const rows = [...list.querySelectorAll("li[data-stroke]")];
    rows[0].classList.add("here");
    player.onFrame((_, stroke) => {
      if (stroke < 0 || rows[stroke].classList.contains("here")) return;
      list.querySelector(".here").classList.remove("here");
      rows[stroke].classList.add("here");
    });
  }
  const tell = () => {
    const count = changes();
    const { nothing, now, now_one: one } = data.text;
    said.textContent = count === 0 ? nothing : clipPage.fill(count === 1 ? one : now, { count });
  };

  const allowed = (number, name, time) => {
    const { catch: begin, release, next_s: next } = strokes[number];
    const earlier = strokes[number - 1];
    if (name === "release") return time > begin.at && time < next;
    return time < release.at && (!earlier || time > earlier.release.at);
  };

  for (const row of box.querySelectorAll("li[data-stroke]")) {
    const number = Number(row.dataset.stroke);
    for (const mark of row.querySelectorAll(".mark")) {
      const event = strokes[number][mark.dataset.event];
      const undo = mark.querySelector(".undo");
      const show = () => {
        mark.querySelector("output").textContent = `${clipPage.seconds(event.at)} s`;
        mark.classList.toggle("changed", !same(event.at, event.found));
        undo.hidden = same(event.at, event.found);
        row.classList.toggle("touched", row.querySelector(".changed") !== null);
      };
      mark.querySelector(".move").addEventListener("click", () => {
        const time = clipPage.ownTime(player.frame);
        if (!allowed(number, event.name, time)) {
          said.textContent = data.text.bad_order;
          return;
        }
        event.at = time;
        show();
        tell();
      });
      undo.addEventListener("click", () => {
        event.at = event.found;
        show();
        tell();
        mark.querySelector(".move").focus();
      });
      show();
    }
    row.querySelector(".out").addEventListener("change", (event) => {
      strokes[number].out = event.target.checked;
      row.classList.toggle("gone", event.target.checked);
      tell();
    });
  }

  for (const row of earlierOut) {
    const label = document.createElement("label");
    label.className = "tick";
    const tick = document.createElement("input");
    tick.type = "checkbox";
    tick.checked = true;
    tick.addEventListener("change", () => {
      row.out = tick.checked;
      tell();
    });
    const at = `${clipPage.seconds(row.catch_s)} s`;
    label.append(tick, ` ${clipPage.fill(data.text.dropped, { at })}`);
    const item = document.createElement("li");
    item.append(label);
    box.querySelector(".mark-list").append(item);
  }

  who.addEventListener("change", tell);
  note.addEventListener("input", tell);
  document.getElementById("mark-save").addEventListener("click", () => {
    const stem = data.clip.file.replace(/\.[^.]*$/, "");
    const file = `${stem}.corrections.json`;
    const link = document.createElement("a");
    const text = `${JSON.stringify(content(), null, 1)}\n`;
    link.href = URL.createObjectURL(new Blob([text], { type: "application/json" }));
    link.download = file;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 10000);
    said.textContent = clipPage.fill(data.text.saved, { file });
  });
  if (data.marks) tell();
})();
