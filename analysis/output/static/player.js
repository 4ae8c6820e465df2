"use strict";
// Plays the clip and tells everything else on the page which frame is on show.
const player = (() => {
  const $ = (id) => document.getElementById(id);
  const { data } = clipPage;
  const drawn = $("clip");
  const plain = $("plain");
  const place = $("place");
  const stage = $("stage");
  const watchers = [];
  let active = drawn;
  let frame = 0;
  let pending = null; // the frame that a seek is on its way to
  let looped = -1; // the stroke that is repeated

  const tell = (index) => {
    frame = index;
    stage.dataset.frame = String(index);
    place.value = String(index);
    const stroke = clipPage.strokeAt(index);
    const words = clipPage.fill(stroke < 0 ? data.text.outside : data.text.place, {
      stroke: stroke + 1,
      strokes: data.strokes.length,
      phase: data.phase_names[data.phases[index]] || "",
      seconds: clipPage.seconds(clipPage.ownTime(index)),
    });
    $("readout").textContent = words;
    // Read aloud when somebody moves through the clip, not sixty times a second while it plays.
    if (active.paused) place.setAttribute("aria-valuetext", words);
    for (const watcher of watchers) watcher(index, stroke);
  };

  const seek = (index) => {
    pending = index;
    active.currentTime = clipPage.middleOf(index);
    tell(index);
  };
  const goTo = (index) => {
    active.pause();
    const to = Math.min(Math.max(index, 0), clipPage.count - 1);
    if (looped >= 0 && clipPage.strokeAt(to) >= 0) looped = clipPage.strokeAt(to);
    seek(to);
  };
  const saw = (index) => {
    if (pending !== null && index !== pending) return;
    if (looped >= 0 && !active.paused && clipPage.strokeAt(index) !== looped) {
      seek(clipPage.firstOf(data.strokes[looped]));
      return;
    }
    if (index !== frame) tell(index);
  };

  const follow = (video) => {
    if ("requestVideoFrameCallback" in video) {
      const each = (_, facts) => {
        if (video === active) saw(clipPage.frameShownAt(facts.mediaTime));
        video.requestVideoFrameCallback(each);
      };
      video.requestVideoFrameCallback(each);
    } else {
      const each = () => {
        if (video === active && !video.paused) saw(clipPage.frameShownAt(video.currentTime));
        requestAnimationFrame(each);
      };
      requestAnimationFrame(each);
    }
    video.addEventListener("seeked", () => {
      if (video !== active) return;
      pending = null;
      saw(clipPage.frameShownAt(video.currentTime));
    });
    for (const kind of ["play", "pause"]) {
      video.addEventListener(kind, () => {
        if (video === active) nameThePlayKey();
      });
    }
    video.addEventListener("click", () => togglePlay());
  };

  const nameThePlayKey = () => {
    const { play, pause } = data.text;
    $("play").textContent = active.paused ? "▶\uFE0E" : "❚❚";
    $("play").title = active.paused ? play : pause;
    $("play").setAttribute("aria-label", $("play").title);
  };
  const togglePlay = () => {
    if (active.paused) active.play().catch(() => {});
    else active.pause();
  };
  // Catches and releases as frames, in order.
  const turns = data.strokes
    .flatMap((s) => [s.catch_s, s.release_s])
    .concat(data.strokes.length ? [data.strokes[data.strokes.length - 1].next_s] : [])
    .map(clipPage.nearestOwn);
  const catches = data.strokes.map((s) => clipPage.nearestOwn(s.catch_s));
  const step = (by, way) => {
    if (by === "picture") return goTo(frame + way);
    const places = by === "turn" ? turns : catches;
    const next = way > 0 ? places.find((p) => p > frame) : places.filter((p) => p < frame).pop();
    if (next !== undefined) goTo(next);
  };
  const setSpeed = (rate) => {
    for (const video of [drawn, plain]) {
      video.defaultPlaybackRate = rate;
      video.playbackRate = rate;
    }
    $("speed").value = String(rate);
  };
  const toggleLoop = () => {
    const here = clipPage.strokeAt(frame);
    looped = looped >= 0 ? -1 : Math.max(here, 0);
    if (!data.strokes.length) looped = -1;
    $("loop").setAttribute("aria-pressed", String(looped >= 0));
    if (looped >= 0 && here < 0) seek(clipPage.firstOf(data.strokes[looped]));
  };
  const toggleDrawing = () => {
    if ($("drawing").disabled) return;
    const next = active === drawn ? plain : drawn;
    const before = active;
    const plays = !before.paused;
    before.pause();
    next.preload = "auto";
    next.addEventListener(
      "seeked",
      () => {
        next.hidden = false;
        before.hidden = true;
        if (plays) next.play().catch(() => {});
      },
      { once: true },
    );
    active = next;
    seek(frame);
    $("drawing").setAttribute("aria-pressed", String(next === drawn));
  };
  const fullScreen = () => {
    if (active.requestFullscreen) active.requestFullscreen().catch(() => {});
    else if (active.webkitEnterFullscreen) active.webkitEnterFullscreen();
  };
  const show = (time) => {
    goTo(clipPage.nearestShown(time));
    stage.scrollIntoView({ block: "nearest" });
    place.focus({ preventScroll: true });
  };

  const drawStrip = () => {
    const at = (time) => (100 * clipPage.nearestOwn(time)) / Math.max(clipPage.count - 1, 1);
    const strip = $("strokes-strip");
    const many = data.strokes.length > 25;
    strip.classList.toggle("many", many);
    const every = [5, 10, 20, 50, 100, 500].find((n) => data.strokes.length / n <= 8) || 1000;
    data.strokes.forEach((stroke, i) => {
      if (many && (i === 0 || (i + 1) % every === 0)) {
        const number = document.createElement("span");
        number.className = "number";
        number.style.left = `${at(stroke.catch_s)}%`;
        number.textContent = String(i + 1);
        strip.append(number);
      }
      for (const [kind, from, to] of [
        ["drive", stroke.catch_s, stroke.release_s],
        ["recovery", stroke.release_s, stroke.next_s],
      ]) {
        const part = document.createElement("span");
        part.className = kind;
        part.style.left = `${at(from)}%`;
        part.style.width = `${at(to) - at(from)}%`;
        if (kind === "drive" && !many) part.textContent = String(i + 1);
        strip.append(part);
      }
    });
  };

  // A clip may have failed before this script ran: then its event has been.
  const onTrouble = (video, tell) => {
    video.addEventListener("error", tell);
    if (video.error) tell();
  };

  drawn.removeAttribute("controls");
  for (const video of [drawn, plain]) {
    follow(video);
    video.loop = true;
  }
  onTrouble(drawn, () => {
    $("no-clip").hidden = false;
  });
  onTrouble(plain, () => {
    $("drawing").hidden = true;
    if (active === plain) toggleDrawing();
  });
  if (!plain.getAttribute("src")) $("drawing").hidden = true;
  place.max = String(clipPage.count - 1);
  place.addEventListener("input", () => goTo(Number(place.value)));
  $("play").addEventListener("click", togglePlay);
  $("loop").addEventListener("click", toggleLoop);
  $("drawing").addEventListener("click", toggleDrawing);
  $("full").addEventListener("click", fullScreen);
  $("speed").addEventListener("change", () => setSpeed(Number($("speed").value)));
  for (const button of document.querySelectorAll("[data-step]")) {
    button.addEventListener("click", () => step(button.dataset.by, Number(button.dataset.step)));
  }
  for (const button of document.querySelectorAll("[data-seek]")) {
    const time = Number(button.dataset.seek);
    button.addEventListener("click", () => {
      if ("stay" in button.dataset) goTo(clipPage.nearestShown(time));
      else show(time);
    });
  }
  const picker = $("go-stroke");
  if (picker) {
    picker.addEventListener("change", () => goTo(clipPage.firstOf(data.strokes[picker.value - 1])));
    watchers.push((_, stroke) => {
      if (stroke >= 0) picker.value = String(stroke + 1);
    });
  }
  drawStrip();
  // When everything that follows the frames is there.
  document.addEventListener("DOMContentLoaded", () => seek(frame));

  return {
    get frame() {
      return frame;
    },
    onFrame: (watcher) => watchers.push(watcher),
    goTo,
    step,
    togglePlay,
    toggleLoop,
    toggleDrawing,
    setSpeed,
  };
})();
