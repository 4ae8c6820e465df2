"use strict";
(() => {
  const clip = document.getElementById("clip");
  if (!clip) return;
  const data = JSON.parse(document.getElementById("page-data").textContent);
  const frames = data.frames_s || [];

  // The frame on show at a time: the last one that has begun.
  const frameAt = (time) => {
    let low = 0;
    let high = frames.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (frames[middle] <= time + 1e-4) low = middle;
      else high = middle - 1;
    }
    return low;
  };
  // Seek into the middle of a frame, so that rounding cannot show its neighbour.
  const showFrame = (index) => {
    const at = Math.min(Math.max(index, 0), frames.length - 1);
    const end = at + 1 < frames.length ? frames[at + 1] : data.duration_s;
    clip.pause();
    clip.currentTime = (frames[at] + end) / 2;
  };
  const nearest = (time) => {
    const at = frameAt(time);
    const after = Math.min(at + 1, frames.length - 1);
    return frames[after] - time < time - frames[at] ? after : at;
  };

  for (const button of document.querySelectorAll("[data-seek]")) {
    button.addEventListener("click", () => {
      showFrame(nearest(Number(button.dataset.seek)));
      clip.scrollIntoView({ block: "center" });
    });
  }
  for (const button of document.querySelectorAll("[data-step]")) {
    button.addEventListener("click", () => {
      showFrame(frameAt(clip.currentTime) + Number(button.dataset.step));
    });
  }
  for (const button of document.querySelectorAll("[data-speed]")) {
    button.addEventListener("click", () => {
      const slow = button.getAttribute("aria-pressed") !== "true";
      button.setAttribute("aria-pressed", String(slow));
      clip.playbackRate = slow ? Number(button.dataset.speed) : 1;
    });
  }
})();
