"use strict";
// The keys of the player. They can be switched off, and never take a letter from a text field.
(() => {
  const speeds = [1, 0.5, 0.25];
  const slower = () => {
    const at = speeds.indexOf(Number(document.getElementById("speed").value));
    player.setSpeed(speeds[(at + 1) % speeds.length]);
  };
  const actions = {
    " ": player.togglePlay,
    p: player.togglePlay,
    arrowleft: (shift) => player.step(shift ? "turn" : "picture", -1),
    arrowright: (shift) => player.step(shift ? "turn" : "picture", 1),
    b: () => player.step("stroke", -1),
    n: () => player.step("stroke", 1),
    s: slower,
    l: player.toggleLoop,
    d: player.toggleDrawing,
  };
  const findings = [...document.querySelectorAll("[data-finding]")];

  const writesThere = (target) =>
    target.isContentEditable ||
    target.matches("textarea, select, input:not([type=range]):not([type=checkbox])");
  const pressesThere = (target) => target.matches("button, a, summary, input[type=checkbox]");

  document.addEventListener("keydown", (event) => {
    if (event.ctrlKey || event.altKey || event.metaKey || event.isComposing) return;
    if (!document.getElementById("keys-on").checked) return;
    const { target, key } = event;
    if (!(target instanceof Element) || writesThere(target)) return;
    if (key === " " && pressesThere(target)) return;
    // A region that scrolls sideways keeps its arrows.
    if (key.startsWith("Arrow") && target.closest(".scroll")) return;
    const finding = /^[1-9]$/.test(key) ? findings[Number(key) - 1] : undefined;
    const action = finding ? () => finding.click() : actions[key.toLowerCase()];
    if (!action) return;
    event.preventDefault();
    action(event.shiftKey);
  });
})();
