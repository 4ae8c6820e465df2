"use strict";
// The frames of the clip: when each is shown, its own time in what was filmed, its stroke and phase.
const clipPage = (() => {
  const data = JSON.parse(document.getElementById("page-data").textContent);
  const shown = data.frames_s;
  const own = data.clip_s;

  // The last of `times` that has begun; half a millisecond forgives rounding.
  const begun = (times, time) => {
    let low = 0;
    let high = times.length - 1;
    while (low < high) {
      const middle = (low + high + 1) >> 1;
      if (times[middle] <= time + 5e-4) low = middle;
      else high = middle - 1;
    }
    return low;
  };
  const nearest = (times, time) => {
    const at = begun(times, time);
    const after = Math.min(at + 1, times.length - 1);
    return times[after] - time < time - times[at] ? after : at;
  };
  // The middle of a frame, so that rounding cannot show its neighbour.
  const middleOf = (index) => {
    const end = index + 1 < shown.length ? shown[index + 1] : data.duration_s;
    return (shown[index] + end) / 2;
  };
  const strokeAt = (index) =>
    data.strokes.findIndex(({ frames: [first, end] }) => index >= first && index < end);
  const firstOf = (stroke) => stroke.frames[0];
  // How far a stroke has come, 0 (catch) to 1 (next catch), with its release where all have it.
  const alongOf = (stroke, time) => {
    const { catch_s: from, release_s: turn, next_s: to } = stroke;
    // The frame of a catch may lie a little before it.
    if (time <= turn) return (data.turn * Math.max(time - from, 0)) / (turn - from);
    return data.turn + ((1 - data.turn) * (time - turn)) / (to - turn);
  };
  const timeAlong = (stroke, along) => {
    const { catch_s: from, release_s: turn, next_s: to } = stroke;
    if (along <= data.turn) return from + (along / data.turn) * (turn - from);
    return turn + ((along - data.turn) / (1 - data.turn)) * (to - turn);
  };
  const fill = (words, blanks) =>
    words.replace(/\{(\w+)\}/g, (_, name) => String(blanks[name]));
  const seconds = (time) => time.toFixed(2).replace(".", data.point);

  // A page that was packed into one file carries its clips as text.
  for (const video of document.querySelectorAll("video[data-packed]")) {
    const packed = document.getElementById(video.dataset.packed);
    if (!packed) continue;
    const letters = atob(packed.textContent.trim());
    const bytes = new Uint8Array(letters.length);
    for (let i = 0; i < letters.length; i += 1) bytes[i] = letters.charCodeAt(i);
    video.src = URL.createObjectURL(new Blob([bytes], { type: "video/mp4" }));
  }

  return {
    data,
    count: shown.length,
    frameShownAt: (time) => begun(shown, time),
    nearestShown: (time) => nearest(shown, time),
    nearestOwn: (time) => nearest(own, time),
    ownTime: (index) => own[index],
    middleOf,
    strokeAt,
    firstOf,
    alongOf,
    timeAlong,
    fill,
    seconds,
  };
})();
