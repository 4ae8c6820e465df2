"use strict";
// The clip as it was filmed beside the drawn one, picture for picture.
(() => {
  const drawn = document.getElementById("clip");
  const plain = document.getElementById("plain");
  const key = document.getElementById("beside");
  const drawing = document.getElementById("drawing");
  const screen = drawn.parentElement;
  const shape = screen.style.aspectRatio;
  let on = false;

  const follow = () => {
    if (!on) return;
    if (drawn.paused) plain.currentTime = clipPage.middleOf(player.frame);
    // While both run, only what has drifted further than a picture or two is put right.
    else if (Math.abs(plain.currentTime - drawn.currentTime) > 0.06) {
      plain.currentTime = drawn.currentTime;
    }
  };
  const toggle = () => {
    on = !on;
    if (on && drawing.getAttribute("aria-pressed") !== "true") player.toggleDrawing();
    key.setAttribute("aria-pressed", String(on));
    drawing.disabled = on;
    screen.classList.toggle("both", on);
    // On a narrow screen one above the other.
    const above = on && window.matchMedia("(max-width: 40rem)").matches;
    screen.classList.toggle("above", above);
    const [width, height] = shape.split("/").map(Number);
    const both = above ? `${width} / ${2 * height}` : `${2 * width} / ${height}`;
    screen.style.aspectRatio = on ? both : shape;
    plain.preload = "auto";
    plain.hidden = !on;
    drawn.hidden = false;
    if (on && !drawn.paused) plain.play().catch(() => {});
    else plain.pause();
    follow();
  };

  player.onFrame(follow);
  drawn.addEventListener("play", () => on && plain.play().catch(() => {}));
  drawn.addEventListener("pause", () => {
    if (!on) return;
    plain.pause();
    follow();
  });
  key.addEventListener("click", toggle);
  key.hidden = drawing.hidden;
  plain.addEventListener("error", () => {
    if (on) toggle();
    key.hidden = true;
  });
})();
